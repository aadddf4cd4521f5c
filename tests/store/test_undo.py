"""Undo: a new change that brings the state before back, or a refusal that leaves no trace."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import Any

import pytest

from tests.store.stores import (
    FINDINGS,
    NOON,
    count,
    everything,
    key,
    made,
    obeys_rules,
    put,
    puts,
    raw,
    removals,
    row,
    take_in,
    write,
)
from wreckwright.errors import ConflictError, NotThere, RecordError, StoreError
from wreckwright.record.upcast import CURRENT_FORMAT
from wreckwright.store.engine import Store
from wreckwright.store.images import in_current_format
from wreckwright.store.types import Fields, Operation, Outcome, Put, Remove, RowImage
from wreckwright.store.undo import undo, undoable, untouched

LATER = NOON + dt.timedelta(hours=1)


def back(store: Store, change_id: str | None, operation: Operation | None = None) -> str:
    assert change_id is not None
    outcome = undo(store, change_id=change_id, who="Bo", at=LATER, check=obeys_rules, operation=operation)
    assert outcome.change_id is not None and outcome.result == {"undoes": change_id}
    return outcome.change_id


def values(store: Store) -> list[tuple[Any, ...]]:
    """The present state without revisions."""
    rows = [(one["machine"], one["kind"], one["handle"], one["place"], one["body"]) for one in raw(store, "record_row")]
    return sorted(one for one in rows if one[4] is not None) + sorted(
        (one["uid"], one["nickname_key"]) for one in raw(store, "machine") if one["nickname_key"]
    )


def refused(store: Store, change_id: str | None) -> ConflictError:
    assert change_id is not None
    before = everything(store)
    with pytest.raises(ConflictError) as caught:
        undo(store, change_id=change_id, who="Bo", at=LATER, check=obeys_rules)
    assert everything(store) == before
    return caught.value


def some_changes(store: Store) -> dict[str, tuple[Put | Remove, ...]]:
    with store.reading() as reader:
        gone = removals(reader)
    return {
        "a field": (put("f1", "findings", 1, severity=3),),
        "a field taken away": (put("f2", "findings", 1, severity=None),),
        "a single row": (put("purchase", "purchase", 1, price_minor=245000, bought=True),),
        "a nickname": (put("machine", "machine", 1, nickname="Teasel"),),
        "a new row": (put("tap1", "taps", 0, what="snag"),),
        "a row removed": (Remove(key=key("f1", "findings"), base_rev=1),),
        "a row moved": (put("f1", "findings", 1, place=4),),
        "several at once": (
            put("f1", "findings", 1, severity=3, what=None, component="front_rim"),
            Remove(key=key("f2", "findings"), base_rev=1),
            put("tap1", "taps", 0, what="snag"),
        ),
        "two machines": (
            put("f1", "findings", 1, severity=3),
            Put(key=key("machine", uid="m2"), fields={"year": 2001}, base_rev=1),
        ),
        "a new machine": puts(made("Magpie", findings=FINDINGS), "m3"),
        "a machine taken away": gone,
    }


CHANGES = (
    "a field",
    "a field taken away",
    "a single row",
    "a nickname",
    "a new row",
    "a row removed",
    "a row moved",
    "several at once",
    "two machines",
    "a new machine",
    "a machine taken away",
)


@pytest.mark.parametrize("name", CHANGES)
def test_undo_is_the_state_before_and_undo_of_undo_the_state_after(store: Store, name: str) -> None:
    take_in(store, made(findings=FINDINGS), "m1")
    take_in(store, made("Bramble"), "m2")
    before = values(store)
    change_id = write(store, *some_changes(store)[name], what="What was done").change_id
    after = values(store)
    assert before != after
    taken_back = back(store, change_id)
    assert values(store) == before
    brought_back = back(store, taken_back)
    assert values(store) == after
    back(store, brought_back)
    assert values(store) == before
    with store.reading() as reader:
        lines = reader.changes(limit=4)
    assert [line.what for line in lines] == [
        "Taken back: What was done",
        "Brought back: What was done",
        "Taken back: What was done",
        "What was done",
    ]
    assert [line.undoes for line in lines] == [brought_back, taken_back, change_id, None]
    # hand-worked: the last undo stands, so what it took back does not, so the first undo stands again.
    assert [line.undone_by for line in lines] == [None, lines[0].id, None, taken_back]
    assert [line.who for line in lines] == ["Bo", "Bo", "Bo", "Ada"] and lines[0].at == LATER


def test_changes_are_taken_back_one_after_the_other(store: Store) -> None:
    take_in(store, made(findings=FINDINGS))
    states = [values(store)]
    for rev, severity in enumerate((3, 1, 3), start=1):
        write(store, put("f1", "findings", rev, severity=severity))
        states.append(values(store))
    for state in reversed(states[:-1]):
        with store.reading() as reader:
            latest = undoable(reader)
        assert latest is not None
        back(store, latest.id)
        assert values(store) == state
    assert row(store, "f1", "findings").rev == 7


def test_after_undo_and_bringing_back_the_change_itself_can_be_undone_again(store: Store) -> None:
    take_in(store, made(findings=FINDINGS))
    before = values(store)
    change_id = write(store, put("f1", "findings", 1, severity=3)).change_id
    for _ in range(3):
        taken_back = back(store, change_id)
        assert values(store) == before
        back(store, taken_back)


def test_what_was_changed_since_is_listed_with_the_later_change(store: Store) -> None:
    take_in(store, made(findings=FINDINGS))
    both = write(store, put("f1", "findings", 1, severity=3), put("f2", "findings", 1, severity=1)).change_id
    write(store, put("f1", "findings", 2, evidence="lamp"), what="With a lamp")
    write(store, put("f1", "findings", 3, sure=0.5), what="Not so sure")
    error = refused(store, both)
    (one,) = error.conflicts
    assert (one.kind, one.handle, one.field, one.since) == ("findings", "f1", "", "Not so sure")
    assert "findings f1 (Not so sure)" in error.what
    assert isinstance(one.base, dict) and isinstance(one.now, dict) and isinstance(one.wanted, dict)
    assert (one.base.get("sure"), one.now.get("sure"), one.wanted.get("severity")) == (None, 0.5, None)


def test_another_row_changed_since_does_not_stand_in_the_way(store: Store) -> None:
    take_in(store, made(findings=FINDINGS))
    change_id = write(store, put("f1", "findings", 1, severity=3)).change_id
    write(store, put("f2", "findings", 1, severity=1))
    back(store, change_id)
    assert "severity" not in row(store, "f1", "findings").fields
    assert row(store, "f2", "findings").fields["severity"] == 1


def test_changed_there_and_back_by_hand_still_counts_as_changed(store: Store) -> None:
    take_in(store, made(findings=FINDINGS))
    change_id = write(store, put("f1", "findings", 1, severity=3)).change_id
    write(store, put("f1", "findings", 2, severity=1))
    write(store, put("f1", "findings", 3, severity=3))
    refused(store, change_id)


def test_what_has_been_taken_back_is_not_taken_back_twice(store: Store) -> None:
    take_in(store, made(findings=FINDINGS))
    change_id = write(store, put("f1", "findings", 1, severity=3), what="Worse").change_id
    back(store, change_id)
    assert "taken back already: Worse" in refused(store, change_id).what


def test_an_undo_with_later_changes_on_top_is_not_brought_back(store: Store) -> None:
    take_in(store, made(findings=FINDINGS))
    change_id = write(store, put("f1", "findings", 1, severity=3)).change_id
    taken_back = back(store, change_id)
    later = write(store, put("f1", "findings", 3, severity=1)).change_id
    refused(store, taken_back)
    back(store, later)
    back(store, taken_back)
    assert row(store, "f1", "findings").fields["severity"] == 3


def test_a_machine_with_later_rows_is_not_untaken(store: Store) -> None:
    taken_in = take_in(store, made(findings=FINDINGS))
    tap = write(store, put("tap1", "taps", 0, what="snag"), what="A snag").change_id
    error = refused(store, taken_in)
    assert [(one.handle, one.since) for one in error.conflicts] == [("tap1", "A snag")]
    back(store, tap)
    back(store, taken_in)
    with store.reading() as reader:
        assert reader.machines() == () and reader.find("Sorrel") is None


def test_an_undo_must_pass_the_check_too(store: Store) -> None:
    take_in(store, made())
    part = write(store, put("p1", "parts", 0, name="rim")).change_id
    write(store, put("j1", "jobs", 0, name="fit it", parts=["p1"]))
    assert part is not None
    before = everything(store)
    with pytest.raises(RecordError, match="no handle of a part line"):
        undo(store, change_id=part, who="Bo", at=LATER, check=obeys_rules)
    assert everything(store) == before


def test_an_undo_is_an_operation_like_any_other(store: Store) -> None:
    take_in(store, made(findings=FINDINGS))
    change_id = write(store, put("f1", "findings", 1, severity=3)).change_id
    operation = Operation(device="phone", op="undo-0000001", body_hash="c" * 64)
    first = back(store, change_id, operation)
    assert change_id is not None
    again = undo(store, change_id=change_id, who="Bo", at=LATER, check=obeys_rules, operation=operation)
    assert again == Outcome(change_id=first, result={"undoes": change_id}, replayed=True)
    assert count(store, "change") == 3


def test_an_unknown_change_is_not_there(store: Store) -> None:
    with pytest.raises(NotThere, match="'no-such'"):
        undo(store, change_id="no-such", who="Bo", at=LATER, check=obeys_rules)


def test_undoable_is_the_latest_change_that_stands_and_takes_nothing_back(store: Store) -> None:
    def latest(uid: str | None = None) -> str | None:
        with store.reading() as reader:
            line = undoable(reader, uid)
        return line and line.id

    assert latest() is None
    first = take_in(store, made(findings=FINDINGS), "m1")
    assert latest() == first
    second = write(store, put("f1", "findings", 1, severity=3)).change_id
    other = take_in(store, made("Bramble"), "m2")
    assert (latest(), latest("m1"), latest("m2"), latest("m3")) == (other, second, other, None)
    taken_back = back(store, second)
    assert (latest(), latest("m1")) == (other, first)
    back(store, taken_back)
    assert latest("m1") == second


def test_undoable_looks_beyond_the_newest_page_of_the_journal(store: Store) -> None:
    first = take_in(store, made())
    for number in range(1, 31):
        back(store, write(store, put(f"tap{number}", "taps", 0, what="snag")).change_id)
    with store.reading() as reader:
        line = undoable(reader)
    assert line is not None and line.id == first


def test_untouched_are_those_changes_that_undo_would_not_refuse(store: Store) -> None:
    take_in(store, made(findings=FINDINGS), "m1")
    for rev, severity in enumerate((3, 1, 3), start=1):
        write(store, put("f1", "findings", rev, severity=severity))
    write(store, put("f2", "findings", 1, place=9))
    take_in(store, made("Bramble"), "m2")
    back(store, back(store, write(store, put("f1", "findings", 4, severity=1)).change_id))
    back(store, write(store, put("f2", "findings", 2, place=10)).change_id)
    with store.reading() as reader:
        lines = reader.changes()
        found = untouched(reader, lines)
        assert untouched(reader, lines[:2]) == found & {line.id for line in lines[:2]}
    undone_anew = set()
    for line in lines:
        try:
            back(store, line.id)
        except ConflictError:
            continue
        undone_anew.add(line.id)
        with store.reading() as reader:
            newest = reader.changes(limit=1)[0].id
        back(store, newest)
    assert found == undone_anew
    assert 0 < len(found) < len(lines)


# --- images of other record formats


def image(before: Fields | None, after: Fields | None, kind: str = "findings", record_format: int = 1) -> RowImage:
    handle = "f1" if kind == "findings" else kind
    return RowImage(key=key(handle, kind), rev=2, place=0, before=before, after=after, record_format=record_format)


def to_2(record: Any) -> dict[str, Any]:
    """An upcaster as a format 2 might need it: `what` of a finding is called `words`, a purchase has no `bought`."""
    out = dict(record)
    if "findings" in out:
        out["findings"] = [
            {("words" if name == "what" else name): value for name, value in one.items()} for one in out["findings"]
        ]
    if "purchase" in out:
        out["purchase"] = {name: value for name, value in out["purchase"].items() if name != "bought"}
    if "year" in out:
        out["model_year"] = out.pop("year")
    return out


@pytest.mark.parametrize(
    ("kind", "before", "after"),
    [
        ("findings", {"id": "f1", "what": "a"}, {"id": "f1", "words": "a"}),
        ("purchase", {"bought": True, "price_minor": 5}, {"price_minor": 5}),
        ("purchase", {}, {}),
        ("machine", {"nickname": "S", "year": 2019}, {"nickname": "S", "model_year": 2019}),
    ],
)
def test_an_image_of_an_older_format_is_brought_up_to_date(kind: str, before: Fields, after: Fields) -> None:
    # hand-worked
    old = image(before, None, kind)
    new = in_current_format(old, upcasters={1: to_2}, current=2)
    assert (new.before, new.after, new.record_format) == (after, None, 2)
    assert new == replace(old, before=after, record_format=2)
    assert in_current_format(image(None, before, kind), upcasters={1: to_2}, current=2).after == after


def split(record: Any) -> dict[str, Any]:
    return {**record, "findings": record["findings"] * 2}


def moved(record: Any) -> dict[str, Any]:
    return {**record, "taps": [], "findings": record["findings"]}


def needs_more(record: Any) -> dict[str, Any]:
    return {**record, "nickname": record["nickname"].strip()}


@pytest.mark.parametrize("upcaster", [split, moved, needs_more])
def test_an_image_that_cannot_be_brought_up_to_date_by_itself_is_refused_in_words(upcaster: Any) -> None:
    with pytest.raises(StoreError) as caught:
        in_current_format(image({"id": "f1", "what": "a"}, None), upcasters={1: upcaster}, current=2)
    assert "record format 1" in caught.value.what and caught.value.allowed and caught.value.do


def test_a_machine_row_that_would_be_split_is_refused() -> None:
    def to_owner(record: Any) -> dict[str, Any]:
        return {**record, "owner": {"aim": "keep"}}

    with pytest.raises(StoreError):
        in_current_format(image({"nickname": "S"}, None, "machine"), upcasters={1: to_owner}, current=2)


def in_format(store: Store, change_id: str | None, record_format: int) -> None:
    """As if that change had been written by a program of another record format."""
    with store.writing() as connection:
        connection.exec_driver_sql(
            f"UPDATE row_image SET record_format = {record_format} WHERE change_id = '{change_id}'"
        )


def test_a_change_of_a_newer_format_is_not_undone(store: Store) -> None:
    take_in(store, made(findings=FINDINGS))
    change_id = write(store, put("f1", "findings", 1, severity=3)).change_id
    assert change_id is not None
    in_format(store, change_id, CURRENT_FORMAT + 1)
    before = everything(store)
    with pytest.raises(StoreError, match="newer than this program"):
        undo(store, change_id=change_id, who="Bo", at=LATER, check=obeys_rules)
    assert everything(store) == before


def test_a_base_that_cannot_be_read_any_more_makes_any_difference_a_conflict(store: Store) -> None:
    first = take_in(store, made(findings=FINDINGS))
    write(store, put("f1", "findings", 1, severity=3))
    write(store, put("f1", "findings", 1, evidence="lamp"))
    in_format(store, first, CURRENT_FORMAT + 1)
    before = everything(store)
    with pytest.raises(ConflictError):
        write(store, put("f1", "findings", 1, sure=0.5))
    assert everything(store) == before
    assert write(store, put("f1", "findings", 1, severity=3)).change_id is None
