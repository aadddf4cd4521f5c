"""The only writer: what it writes, what it refuses, and that a refusal leaves no trace."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest

from tests.store.stores import (
    FINDINGS,
    NOON,
    TAP,
    Odd,
    count,
    everything,
    key,
    made,
    obeys_rules,
    put,
    raises,
    raw,
    refused,
    row,
    take_in,
    write,
)
from wreckwright.errors import (
    ConflictError,
    NotThere,
    OperationError,
    RecordError,
)
from wreckwright.record.types import Machine
from wreckwright.store.apply import apply
from wreckwright.store.engine import Store
from wreckwright.store.read import Reader
from wreckwright.store.types import SINGLE_KINDS, Draft, MachineHead, Operation, Outcome, Put, Remove


def test_a_machine_is_taken_in_as_one_change(store: Store) -> None:
    machine = made(findings=FINDINGS, market={"sound_value_minor": 690000})
    change_id = take_in(store, machine)
    with store.reading() as reader:
        assert reader.machine("m1") == machine
        assert reader.machines() == (MachineHead(uid="m1", nickname="Sorrel", place=0),)
        assert reader.find(" sorrel ") == "m1" and reader.find("Bramble") is None
        assert {one.rev for one in reader.rows("m1")} == {1}
        (line,) = reader.changes()
        assert (line.id, line.who, line.what, line.at) == (change_id, "Ada", "Taken in: Sorrel", NOON)
        assert (line.machines, line.undoes, line.undone_by) == (("m1",), None, None)
        images = reader.images(change_id)
        assert [image.before for image in images] == [None] * 7
        assert [image.key.kind for image in images] == [*SINGLE_KINDS, "findings", "findings"]
        assert all(image.record_format == 1 for image in images)


def test_a_new_machine_gets_all_five_single_rows_even_if_the_draft_names_one(store: Store) -> None:
    write(store, put("machine", "machine", 0, nickname="Sorrel", machine_class="tourer", year=2019))
    with store.reading() as reader:
        assert [one.key.kind for one in reader.rows("m1")] == list(SINGLE_KINDS)
        assert reader.machine("m1") == made()


def test_only_the_row_that_changes_is_written(store: Store) -> None:
    take_in(store, made(findings=FINDINGS))
    outcome = write(store, put("f1", "findings", 1, severity=3, evidence="seen from the left"), what="Worse")
    assert outcome.change_id and not outcome.replayed
    now = row(store, "f1", "findings")
    assert now.rev == 2 and now.place == 0
    assert now.fields == {
        "id": "f1",
        "what": "front rim dinged",
        "severity": 3,
        "evidence": "seen from the left",
    }
    assert row(store, "f2", "findings").rev == 1
    with store.reading() as reader:
        (image,) = reader.images(outcome.change_id)
        assert (image.rev, image.before) == (2, {"id": "f1", "what": "front rim dinged"})
        assert image.after == now.fields


def test_none_takes_a_field_away_and_a_default_is_the_same_as_none(store: Store) -> None:
    take_in(store, made(findings=FINDINGS))
    write(store, put("f2", "findings", 1, severity=None))
    assert "severity" not in row(store, "f2", "findings").fields
    write(store, put("f2", "findings", 2, severity=1))
    write(store, put("f2", "findings", 3, severity=2))
    assert row(store, "f2", "findings").fields == {"id": "f2", "what": "steering stop chipped"}


def test_another_spelling_of_the_same_value_is_kept_in_the_normal_one_and_is_no_change(store: Store) -> None:
    take_in(store, made())
    step = {"name": "weld it", "chance": 1, "price_minor": 500, "wait_days": 2}
    spelt = {"template": "straight", "at": "2026-11-20T19:30:00+00:00", "ways_round": (step,)}
    write(store, put("g1", "gates", 0, **spelt))
    # hand-worked: what is left out inside a step stands at its default, and UTC is called Z.
    assert row(store, "g1", "gates").fields == {
        "id": "g1",
        "template": "straight",
        "at": "2026-11-20T19:30:00Z",
        "ways_round": [{**step, "minutes": 0.0}],
    }
    assert write(store, put("g1", "gates", 1, **spelt)).change_id is None


@pytest.mark.parametrize(
    "fields",
    [{}, {"severity": 2}, {"what": "front rim dinged"}, {"sure": 0.95, "photos": ()}, {"evidence": None, "id": "f1"}],
)
def test_a_draft_that_changes_nothing_writes_nothing_but_its_operation(store: Store, fields: dict[str, Any]) -> None:
    take_in(store, made(findings=FINDINGS))
    rows, journal = raw(store, "record_row"), raw(store, "change")
    outcome = write(store, put("f1", "findings", 1, **fields), operation=TAP, result={"said": "as it was"})
    assert outcome == Outcome(change_id=None, result={"said": "as it was"}, replayed=False)
    assert (raw(store, "record_row"), raw(store, "change")) == (rows, journal)
    again = write(store, put("f1", "findings", 1, **fields), operation=TAP)
    assert again == Outcome(change_id=None, result={"said": "as it was"}, replayed=True)


def test_an_empty_draft_is_no_change(store: Store) -> None:
    assert write(store).change_id is None
    assert count(store, "change") == 0


def test_a_removed_row_stays_as_a_tombstone_and_its_revisions_go_on(store: Store) -> None:
    take_in(store, made(findings=FINDINGS))
    write(store, Remove(key=key("f1", "findings"), base_rev=1))
    with store.reading() as reader:
        assert reader.row(key("f1", "findings")) is None
        assert [one.key.handle for one in reader.rows("m1")][5:] == ["f2"]
        assert reader.kept("m1")[key("f1", "findings")].rev == 2
    write(store, put("f1", "findings", 0, what="mirror gone"))
    assert row(store, "f1", "findings").rev == 3
    assert row(store, "f1", "findings").fields == {"id": "f1", "what": "mirror gone"}


def test_removing_what_is_gone_already_changes_nothing(store: Store) -> None:
    take_in(store, made(findings=FINDINGS))
    write(store, Remove(key=key("f1", "findings"), base_rev=1))
    assert write(store, Remove(key=key("f1", "findings"), base_rev=1)).change_id is None
    assert write(store, Remove(key=key("f1", "findings"), base_rev=2)).change_id is None


def test_one_change_over_several_machines_is_all_or_nothing(store: Store) -> None:
    take_in(store, made(), "m1")
    take_in(store, made("Bramble"), "m2")
    both = [
        Put(key=key("tap1", "taps", uid), fields={"what": "snag", "note": "same bolt"}, base_rev=0)
        for uid in ("m2", "m1")
    ]
    outcome = write(store, *both, what="On both")
    assert outcome.change_id is not None
    with store.reading() as reader:
        line = reader.change(outcome.change_id)
        assert line is not None and line.machines == ("m1", "m2")
        assert [one.id for one in reader.changes("m1")][0] == outcome.change_id == reader.changes("m2")[0].id
        assert len(reader.changes("m1")) == 2 and len(reader.changes()) == 3
    half = [
        Put(key=key("tap2", "taps", "m1"), fields={"what": "snag"}, base_rev=0),
        Put(key=key("tap1", "taps", "m2"), fields={"what": "bag"}, base_rev=0),
    ]
    refused(store, ConflictError, lambda: write(store, *half))


def test_the_check_sees_every_machine_as_it_would_become_and_only_those_that_change(store: Store) -> None:
    take_in(store, made(findings=FINDINGS), "m1")
    take_in(store, made("Bramble"), "m2")
    seen: list[Machine] = []
    write(
        store,
        put("f1", "findings", 1, severity=3),
        Put(key=key("machine", uid="m2"), fields={"year": 2019}, base_rev=1),
        check=seen.append,
    )
    with store.reading() as reader:
        assert seen == [reader.machine("m1")]


# --- place


def test_a_new_row_stands_at_the_end_of_its_list(store: Store) -> None:
    take_in(store, made(findings=FINDINGS))
    write(store, put("a", "findings", 0, what="third"), put("b", "findings", 0, what="fourth"))
    with store.reading() as reader:
        assert [one.id for one in reader.machine("m1").findings] == ["f1", "f2", "a", "b"]
        assert [one.place for one in reader.rows("m1") if one.key.kind == "findings"] == [0, 1, 2, 3]


def test_a_row_keeps_its_place_and_a_place_can_be_given(store: Store) -> None:
    take_in(store, made(findings=FINDINGS))
    write(store, put("f2", "findings", 1, severity=1))
    assert row(store, "f2", "findings").place == 1
    outcome = write(store, put("f1", "findings", 1, place=5))
    assert outcome.change_id is not None
    with store.reading() as reader:
        assert [one.id for one in reader.machine("m1").findings] == ["f2", "f1"]
    assert write(store, put("f1", "findings", 2, place=5)).change_id is None
    write(store, put("g", "findings", 0, what="at the end"))
    assert row(store, "g", "findings").place == 6


def test_two_who_move_the_same_row_apart_are_in_conflict(store: Store) -> None:
    take_in(store, made(findings=FINDINGS))
    write(store, put("f1", "findings", 1, place=5), what="Moved down")
    error = refused(store, ConflictError, lambda: write(store, put("f1", "findings", 1, place=7)))
    (one,) = error.conflicts
    assert (one.field, one.base, one.now, one.wanted, one.since) == ("place", 0, 5, 7, "Moved down")
    assert write(store, put("f1", "findings", 1, place=5)).change_id is None
    write(store, put("f1", "findings", 1, severity=3))
    now = row(store, "f1", "findings")
    assert (now.place, now.fields["severity"]) == (5, 3)


def test_a_place_that_nobody_else_moved_is_taken_over_other_changes(store: Store) -> None:
    take_in(store, made(findings=FINDINGS))
    write(store, put("f1", "findings", 1, severity=3))
    write(store, put("f1", "findings", 1, place=7))
    now = row(store, "f1", "findings")
    assert (now.place, now.fields["severity"]) == (7, 3)


# --- operations


def test_the_same_operation_counts_once_and_gives_its_first_answer(store: Store) -> None:
    take_in(store, made())
    first = write(store, put("tap1", "taps", 0, what="snag"), operation=TAP, result={"handle": "tap1", "many": (1, 2)})
    assert first.result == {"handle": "tap1", "many": [1, 2]} and not first.replayed
    before = everything(store)
    again = write(store, put("tap2", "taps", 0, what="bag"), operation=TAP, result={"handle": "tap2"}, who="Bo")
    assert again == Outcome(change_id=first.change_id, result=first.result, replayed=True)
    assert everything(store) == before


def test_the_draft_of_an_operation_that_came_before_is_not_even_asked(store: Store) -> None:
    take_in(store, made())
    write(store, put("tap1", "taps", 0, what="snag"), operation=TAP)

    def draft(reader: Reader) -> Draft:
        raise AssertionError("asked")

    assert apply(store, who="Ada", at=NOON, draft=draft, check=obeys_rules, operation=TAP).replayed


def test_an_operation_with_another_body_is_refused(store: Store) -> None:
    take_in(store, made())
    write(store, put("tap1", "taps", 0, what="snag"), operation=TAP)
    other = Operation(device=TAP.device, op=TAP.op, body_hash="b" * 64)
    error = refused(store, OperationError, lambda: write(store, put("tap2", "taps", 0, what="bag"), operation=other))
    assert TAP.op in error.what


def test_a_device_that_has_become_another_one_doubles_nothing(store: Store) -> None:
    """A browser that lost its cookie sends once more what it never had an answer to."""
    take_in(store, made())
    first = write(store, put("tap1", "taps", 0, what="snag"), operation=TAP)
    again = write(
        store,
        put("tap2", "taps", 0, what="snag"),
        operation=Operation(device="new", op=TAP.op, body_hash=TAP.body_hash),
    )
    assert again.replayed and again.change_id == first.change_id
    assert count(store, "operation") == 1


def test_the_same_id_of_another_device_is_another_operation(store: Store) -> None:
    take_in(store, made())
    write(store, put("tap1", "taps", 0, what="snag"), operation=TAP)
    other = Operation(device="tablet", op=TAP.op, body_hash="b" * 64)
    assert not write(store, put("tap2", "taps", 0, what="bag"), operation=other).replayed
    assert count(store, "operation") == 2


# --- what is refused, without a trace


def test_a_draft_that_raises_leaves_no_trace(store: Store) -> None:
    take_in(store, made())
    refused(store, Odd, lambda: apply(store, who="Ada", at=NOON, draft=raises, check=obeys_rules, operation=TAP))
    assert not write(store, put("tap1", "taps", 0, what="snag"), operation=TAP).replayed


def test_a_check_that_raises_leaves_no_trace(store: Store) -> None:
    take_in(store, made())
    tap = put("tap1", "taps", 0, what="snag")
    refused(store, Odd, lambda: write(store, tap, check=raises, operation=TAP))
    refused(store, RecordError, lambda: write(store, put("f1", "findings", 0, severity=1), operation=TAP))
    assert not write(store, tap, operation=TAP).replayed


def test_a_check_that_raises_for_the_second_machine_leaves_nothing_of_the_first(store: Store) -> None:
    take_in(store, made(), "m1")
    take_in(store, made("Bramble"), "m2")
    taps = [Put(key=key("tap1", "taps", uid), fields={"what": "snag"}, base_rev=0) for uid in ("m1", "m2")]

    def no_bramble(machine: Machine) -> None:
        if machine.nickname == "Bramble":
            raise Odd

    refused(store, Odd, lambda: write(store, *taps, check=no_bramble))


def test_an_answer_that_is_no_json_leaves_no_trace(store: Store) -> None:
    take_in(store, made())
    tap = put("tap1", "taps", 0, what="snag")
    refused(store, TypeError, lambda: write(store, tap, operation=TAP, result={"a": {1}}))


@pytest.mark.parametrize(
    ("wish", "what"),
    [
        (put("f1", "findings", 1, severity=4), "severity"),
        (put("f1", "findings", 1, wat="x"), "wat"),
        (put("f1", "findings", 1, what="a\x00b"), "U+0000"),
        (put("machine", "machine", 1, nickname="   "), "nickname"),
        (put("machine", "machine", 1, nickname=None), "nickname"),
        (put("purchase", "purchase", 1, price_minor=1.5), "price_minor"),
        (put("h" * 65, "findings", 0, what="x"), "id"),
    ],
)
def test_a_wrong_shape_is_refused_in_words(store: Store, wish: Put, what: str) -> None:
    take_in(store, made(findings=FINDINGS))
    assert what in str(refused(store, RecordError, lambda: write(store, wish)))


@pytest.mark.parametrize(
    "writes",
    [
        (put("f1", "findings", 1, severity=3), put("f1", "findings", 1, severity=3)),
        (put("f1", "findings", 1, severity=3), Remove(key=key("f1", "findings"), base_rev=1)),
        (put("x1", "wheels", 0, what="x"),),
        (put("price", "purchase", 0, price_minor=1),),
        (put("f1", "findings", 1, id="f2"),),
        (put("", "findings", 0, what="x"),),
        (Remove(key=key("purchase"), base_rev=1),),
    ],
)
def test_a_draft_that_makes_no_sense_is_a_fault_of_the_program(store: Store, writes: tuple[Put | Remove, ...]) -> None:
    take_in(store, made(findings=FINDINGS))
    refused(store, ValueError, lambda: write(store, *writes))


def test_a_moment_without_a_zone_is_a_fault_of_the_program(store: Store) -> None:
    take_in(store, made())
    tap = put("tap1", "taps", 0, what="snag")
    refused(store, ValueError, lambda: write(store, tap, at=dt.datetime(2026, 11, 20)))


def test_moments_come_back_in_utc(store: Store) -> None:
    east = dt.timezone(dt.timedelta(hours=5, minutes=45))
    take_in(store, made())
    write(store, put("tap1", "taps", 0, what="snag"), at=dt.datetime(2026, 1, 1, 1, 30, 0, 250, tzinfo=east))
    with store.reading() as reader:
        at = reader.changes()[0].at
    # hand-worked: 01:30 less 5:45 is 19:45 of the day before.
    assert at == dt.datetime(2025, 12, 31, 19, 45, 0, 250, tzinfo=dt.UTC) and at.utcoffset() == dt.timedelta(0)


def test_what_is_not_there_is_told(store: Store) -> None:
    take_in(store, made())
    absent = Put(key=key("tap1", "taps", "m9"), fields={"what": "snag"}, base_rev=0)
    assert "'m9'" in refused(store, NotThere, lambda: write(store, absent)).what
    assert "'f7'" in refused(store, NotThere, lambda: write(store, put("f7", "findings", 2, severity=1))).what
    refused(store, NotThere, lambda: write(store, Remove(key=key("f7", "findings"), base_rev=1)))
    with store.reading() as reader:
        with pytest.raises(NotThere):
            reader.machine("m9")
        assert reader.rows("m9") == ()
        assert reader.change("none") is None
