"""One pair of hands: what is typed goes into the calendars of all machines that are bought, as one change.

Expected rows are hand-worked.
"""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.acts.at_the_bench import BURDOCK, as_one, bench, nothing_written, second
from tests.acts.kept import SENT, machine, rev, row, sending, thistle
from wreckwright.acts.hands import HandsForm, change_hands, days_of, days_text, in_line, shared, take_turn
from wreckwright.acts.place import Place, memory
from wreckwright.errors import ConflictError, EntryError, NotThere
from wreckwright.record.types import ChangedDay

LOT = 'nickname = "Magpie"\nmachine_class = "naked"\nyear = 2015\n'
WEEK = ("90", "", "2 h", "", "", "5 h", "")


def two(folder: Path) -> tuple[Place, str, str]:
    place, uid = bench(folder)
    return place, uid, second(place, folder, BURDOCK)


def revs(place: Place, *uids: str) -> dict[str, int]:
    return {uid: rev(place, uid, "calendar") for uid in uids}


def test_one_form_is_one_change_over_all_machines_that_are_bought(tmp_path: Path) -> None:
    place, thistle_, burdock = two(tmp_path)
    lot = second(place, tmp_path, LOT)
    form = HandsForm(
        week=WEEK, days_off="2026-12-24 to 2026-12-26\n1 Jan 2027", changed=(("2026-12-01", "30"), ("2026-12-02", "")),
        helper_weekdays=("saturday", "monday"), helper_days="2026-12-05")
    told = as_one(place, lambda sent: change_hands(place, form, revs(place, thistle_, burdock), sent))
    assert told.uid == thistle_ and told.said.startswith("Hands: the week, days off, days with a helper, ")
    for uid in (thistle_, burdock):
        calendar = machine(place, uid).calendar
        assert calendar.weekday_minutes == (90, 0, 120, 0, 0, 300, 0)
        assert calendar.days_off == (*(dt.date(2026, 12, day) for day in (24, 25, 26)), dt.date(2027, 1, 1))
        assert calendar.changed == (ChangedDay(date=dt.date(2026, 12, 1), minutes=30),)
        assert (calendar.helper_weekdays, calendar.helper_days) == (("monday", "saturday"), (dt.date(2026, 12, 5),))
    assert row(place, lot, "calendar") == (1, {})


def test_what_nobody_edited_stays_as_it_is_in_each_machine(tmp_path: Path) -> None:
    place, thistle_, burdock = two(tmp_path)
    one = HandsForm(week=WEEK, days_off="2026-12-24")
    change_hands(place, one, revs(place, thistle_), SENT)
    # Burdock alone gets another week, as by its own page.
    from wreckwright.acts.facts import Facts
    from wreckwright.acts.writes import change_facts

    own = Facts(weekday_minutes=("60", "", "", "", "", "", ""))
    change_facts(place, burdock, {"calendar": rev(place, burdock, "calendar")}, own, SENT)
    bases = revs(place, thistle_, burdock)
    # The form shows the week of the first and all days off; sent back as it is, nothing changes.
    assert change_hands(place, one, bases, SENT).change_id is None
    as_one(place, lambda sent: change_hands(place, HandsForm(week=WEEK, helper_days="2026-12-05"), bases, sent))
    assert machine(place, burdock).calendar.weekday_minutes == (60, 0, 0, 0, 0, 0, 0)
    assert machine(place, burdock).calendar.helper_days == (dt.date(2026, 12, 5),)


def test_a_single_evening_leaves_the_others(tmp_path: Path) -> None:
    place, thistle_, burdock = two(tmp_path)
    change_hands(place, HandsForm(changed=(("2026-12-01", "0"), ("2026-12-03", "3 h"))), {}, SENT)
    form = HandsForm(changed=(("2026-12-01", ""), ("2026-12-08", "20")))
    told = as_one(place, lambda sent: change_hands(place, form, {}, sent))
    assert told.said == "Hands: 2026-12-01 as usual, 2026-12-08 20 min"
    for uid in (thistle_, burdock):
        assert [(one.date.day, one.minutes) for one in machine(place, uid).calendar.changed] == [(3, 180), (8, 20)]


def test_the_same_field_changed_meanwhile_is_a_conflict_and_nothing_is_written(tmp_path: Path) -> None:
    place, thistle_, burdock = two(tmp_path)
    bases = revs(place, thistle_, burdock)
    change_hands(place, HandsForm(days_off="2026-12-24"), bases, SENT)
    other = HandsForm(days_off="2026-12-31")
    nothing_written(place, lambda: change_hands(place, other, bases, sending("operation2")), ConflictError)
    # Another field of the same page is no conflict.
    change_hands(place, HandsForm(helper_weekdays=("sunday",)), bases, sending("operation3"))
    assert machine(place, burdock).calendar.days_off == (dt.date(2026, 12, 24),)
    assert machine(place, burdock).calendar.helper_weekdays == ("sunday",)


@pytest.mark.parametrize(
    ("form", "field"),
    [
        (HandsForm(week=("60",)), "week"),
        (HandsForm(week=("0",) * 7), "week"),
        (HandsForm(week=("often", *("",) * 6)), "Monday"),
        (HandsForm(days_off="christmas"), "days_off"),
        (HandsForm(days_off="2027-01-02 to 2026-12-24"), "days_off"),
        (HandsForm(days_off="2026-01-01 to 2027-12-24"), "days_off"),
        (HandsForm(days_off="2026-01-01 to 2026-01-02 to 2026-01-03"), "days_off"),
        (HandsForm(helper_weekdays=("someday",)), "helper_weekdays"),
        (HandsForm(helper_days="now and then"), "helper_days"),
        (HandsForm(changed=(("", "60"),)), "changed"),
        (HandsForm(changed=(("2026-12-01", "long"),)), "minutes on 2026-12-01"),
    ],
)
def test_what_is_not_understood_names_its_field(tmp_path: Path, form: HandsForm, field: str) -> None:
    place, _ = bench(tmp_path)
    error = nothing_written(place, lambda: change_hands(place, form, {}, SENT), EntryError)
    assert isinstance(error, EntryError) and error.field == field and error.allowed and error.do


def test_without_a_machine_there_is_nothing_to_write_into(tmp_path: Path) -> None:
    place, _ = thistle(tmp_path, LOT)
    nothing_written(place, lambda: change_hands(place, HandsForm(days_off="2026-12-24"), {}, SENT), NotThere)


@given(st.sets(st.dates(dt.date(2026, 1, 1), dt.date(2027, 12, 31)), max_size=40))
def test_days_are_read_back_as_they_are_shown(days: set[dt.date]) -> None:
    iso = sorted(map(str, days))
    assert days_of(days_text(iso), "days_off") == iso
    assert days_of(", ".join(iso), "days_off") == iso


def test_the_fewest_minutes_and_all_days_off_bind() -> None:
    one = {
        "changed": [{"date": "2026-12-01", "minutes": 90}], "days_off": ["2026-12-24"], "helper_weekdays": ["sunday"],
    }
    other = {"changed": [{"date": "2026-12-01", "minutes": 30}], "helper_weekdays": ["monday"]}
    both = shared([one, other])
    assert both["changed"] == {"2026-12-01": 30} and both["days_off"] == ["2026-12-24"]
    assert both["helper_weekdays"] == ["monday", "sunday"] and both["weekday_minutes"] is None
    assert shared([]) == {
        "changed": {}, "days_off": [], "helper_weekdays": [], "helper_days": [], "weekday_minutes": None}


# ---- turns ----


def line(place: Place) -> list[str]:
    with memory(place).reading() as reader:
        return [kept.nickname for _, kept in in_line(reader)]


def test_turns_are_taken_and_given_back_as_one_change(tmp_path: Path) -> None:
    place, _, burdock = two(tmp_path)
    lot = second(place, tmp_path, LOT)
    third = second(place, tmp_path, BURDOCK.replace("Burdock", "Teasel").replace("j7", "j8"))
    assert line(place) == ["Thistle", "Burdock", "Teasel"]
    told = as_one(place, lambda sent: take_turn(place, burdock, 1, sent))
    assert told.said == "Burdock goes first" and line(place) == ["Burdock", "Thistle", "Teasel"]
    as_one(place, lambda sent: take_turn(place, third, 2, sent), "operation2")
    assert line(place) == ["Burdock", "Teasel", "Thistle"]
    assert take_turn(place, third, 2, SENT).change_id is None
    for uid, turn in ((burdock, 0), (burdock, 4), (lot, 1)):
        nothing_written(place, lambda uid=uid, turn=turn: take_turn(place, uid, turn, SENT), EntryError)  # type: ignore[misc]
