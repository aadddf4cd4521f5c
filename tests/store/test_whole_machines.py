"""Machines taken in and taken away, their order, and their nicknames."""

from __future__ import annotations

import pytest

from tests.store.stores import (
    FINDINGS,
    NOON,
    key,
    made,
    obeys_rules,
    put,
    puts,
    raises,
    refused,
    removals,
    take_in,
    write,
)
from wreckwright.errors import (
    ConflictError,
    NicknameTaken,
    NotThere,
)
from wreckwright.store.engine import Store
from wreckwright.store.types import Put
from wreckwright.store.undo import undo


def test_a_machine_is_taken_away_with_all_its_rows(store: Store) -> None:
    take_in(store, made(findings=FINDINGS))
    with store.reading() as reader:
        gone = removals(reader)
    write(store, *gone, what="Taken away: Sorrel", check=raises)
    with store.reading() as reader:
        assert reader.machines() == () and reader.rows("m1") == () and reader.find("Sorrel") is None
        with pytest.raises(NotThere, match="Sorrel has been taken away"):
            reader.machine("m1")
        assert reader.changes("m1")[0].what == "Taken away: Sorrel"
    error = refused(store, NotThere, lambda: write(store, put("tap1", "taps", 0, what="snag")))
    assert "taken away" in error.what
    refused(store, NotThere, lambda: write(store, put("f1", "findings", 1, severity=3)))


def test_a_machine_is_not_taken_away_over_a_row_written_meanwhile(store: Store) -> None:
    take_in(store, made(findings=FINDINGS))
    with store.reading() as reader:
        gone = removals(reader)
    write(store, put("tap1", "taps", 0, what="snag"), what="A snag")
    error = refused(store, ConflictError, lambda: write(store, *gone))
    (one,) = error.conflicts
    assert (one.kind, one.handle, one.field, one.wanted, one.since) == ("taps", "tap1", "", None, "A snag")


def test_a_machine_can_be_taken_in_again_under_its_identity(store: Store) -> None:
    take_in(store, made(findings=FINDINGS))
    with store.reading() as reader:
        gone = removals(reader)
    write(store, *gone)
    take_in(store, made(findings=FINDINGS[:1]))
    with store.reading() as reader:
        assert reader.machine("m1") == made(findings=FINDINGS[:1])
        assert reader.kept("m1")[key("f1", "findings")].rev == 3


def test_machines_stand_in_the_order_in_which_they_came(store: Store) -> None:
    for number, nickname in enumerate(("Sorrel", "Bramble", "Magpie")):
        take_in(store, made(nickname), f"m{9 - number}")
    with store.reading() as reader:
        assert [head.nickname for head in reader.machines()] == ["Sorrel", "Bramble", "Magpie"]
        gone = removals(reader, "m8")
    write(store, *gone)
    take_in(store, made("Teasel"), "m1")
    with store.reading() as reader:
        assert [(head.nickname, head.place) for head in reader.machines()] == [
            ("Sorrel", 0),
            ("Magpie", 2),
            ("Teasel", 3),
        ]


def test_machines_taken_in_by_one_draft_stand_one_after_the_other(store: Store) -> None:
    write(store, *puts(made("Sorrel"), "m2"), *puts(made("Bramble"), "m1"))
    with store.reading() as reader:
        assert [(head.nickname, head.place) for head in reader.machines()] == [("Sorrel", 0), ("Bramble", 1)]


# --- nicknames


@pytest.mark.parametrize("nickname", ["Sorrel", " sorrel ", "SORREL"])
def test_a_nickname_that_another_machine_has_is_refused(store: Store, nickname: str) -> None:
    take_in(store, made(), "m1")
    take_in(store, made("Bramble"), "m2")
    error = refused(store, NicknameTaken, lambda: take_in(store, made(nickname), "m3"))
    assert error.uid == "m1" and error.nickname == nickname
    rename = Put(key=key("machine", uid="m2"), fields={"nickname": nickname}, base_rev=1)
    refused(store, NicknameTaken, lambda: write(store, rename))


def test_one_draft_cannot_give_two_machines_the_same_nickname(store: Store) -> None:
    refused(store, NicknameTaken, lambda: write(store, *puts(made(), "m1"), *puts(made(" SORREL"), "m2")))


def test_a_machine_may_write_its_own_nickname_otherwise(store: Store) -> None:
    take_in(store, made())
    write(store, put("machine", "machine", 1, nickname="SORREL"))
    with store.reading() as reader:
        assert reader.machines()[0].nickname == "SORREL"


def test_two_machines_can_change_their_nicknames_with_each_other(store: Store) -> None:
    take_in(store, made("Sorrel"), "m1")
    take_in(store, made("Bramble"), "m2")
    write(
        store,
        Put(key=key("machine", uid="m1"), fields={"nickname": "Bramble"}, base_rev=1),
        Put(key=key("machine", uid="m2"), fields={"nickname": "Sorrel"}, base_rev=1),
    )
    with store.reading() as reader:
        assert (reader.find("Bramble"), reader.find("Sorrel")) == ("m1", "m2")


def test_the_nickname_of_a_machine_taken_away_is_free(store: Store) -> None:
    take_in(store, made(), "m1")
    with store.reading() as reader:
        gone = removals(reader)
    away = write(store, *gone).change_id
    assert away is not None
    take_in(store, made(), "m2")
    refused(store, NicknameTaken, lambda: undo(store, change_id=away, who="Ada", at=NOON, check=obeys_rules))
