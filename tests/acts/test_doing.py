"""Begun, left, done; covers off and on: what stands in the record afterwards, and one undo takes all of it back.

Expected rows are hand-worked from the record in `at_the_bench`, the steps of the trade data and docs/glossary.md.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
from pathlib import Path

import pytest

from tests.acts.at_the_bench import BURDOCK, all_machines, as_one, bench, job_of, nothing_written, second
from tests.acts.kept import AT, SENT, journal, machine, sending
from wreckwright.acts.checks import trade_data
from wreckwright.acts.doing import LONGEST_SITTING_MINUTES, cover, done, elapsed_minutes, start, stop
from wreckwright.acts.place import Place
from wreckwright.acts.sent import Sent
from wreckwright.errors import EntryError, NotThere, WreckwrightError
from wreckwright.record.evidence import gather
from wreckwright.record.types import Machine

TRADE = trade_data()
LEVER = "lever_brake_front"


def later(minutes: float, op: str = "") -> Sent:
    sent = sending(op) if op else SENT
    return dataclasses.replace(sent, at=AT + dt.timedelta(minutes=minutes))


def put_right(kept: Machine) -> frozenset[str]:
    return gather(kept, TRADE).put_right


# ---- begun and left ----


def test_work_of_the_plan_gets_its_row_when_it_is_first_touched(tmp_path: Path) -> None:
    place, uid = bench(tmp_path)
    told = as_one(place, lambda sent: start(place, uid, f"{LEVER}:carry_over", sent))
    job = job_of(machine(place, uid), f"{LEVER}:carry_over")
    assert told.handle == job.id == "j3"
    assert told.said == f"Begun: {job.name}"
    assert job.name == "Move over to front brake lever: pivot bolt, bush, lamp switch and span adjuster"
    assert (job.state, job.kind, job.started_at, job.done_minutes) == ("open", "fit", SENT.moment, None)
    # Only the step that puts a component right may say that it is right.
    assert job.component == "" and put_right(machine(place, uid)) == frozenset()


def test_the_clock_counts_and_a_second_sitting_adds_to_the_first(tmp_path: Path) -> None:
    place, uid = bench(tmp_path)
    start(place, uid, LEVER, SENT)
    told = as_one(place, lambda sent: stop(place, uid, LEVER, None, dataclasses.replace(sent, at=later(25).at)))
    assert told.said == "Left for later: Fit front brake lever, 25 min"
    job = job_of(machine(place, uid), LEVER)
    assert (job.state, job.started_at, job.done_minutes) == ("open", None, 25.0)
    start(place, uid, LEVER, later(30))
    # Minutes that are told go before those of the clock.
    stop(place, uid, LEVER, 10, later(90))
    assert job_of(machine(place, uid), LEVER).done_minutes == 35.0


def test_a_clock_that_was_forgotten_counts_nothing(tmp_path: Path) -> None:
    place, uid = bench(tmp_path)
    start(place, uid, "job:j2", SENT)
    told = stop(place, uid, "job:j2", None, later(LONGEST_SITTING_MINUTES + 1))
    assert told.said == "Left for later: Clean the chain (the clock was forgotten: no minutes counted)"
    assert machine(place, uid).jobs[1].done_minutes is None and machine(place, uid).jobs[1].started_at is None
    start(place, uid, "job:j2", SENT)
    stop(place, uid, "job:j2", None, later(LONGEST_SITTING_MINUTES))
    assert machine(place, uid).jobs[1].done_minutes == 480.0


def test_begun_twice_counts_once_and_left_without_being_begun_writes_nothing(tmp_path: Path) -> None:
    place, uid = bench(tmp_path)
    assert stop(place, uid, LEVER, None, SENT).change_id is None
    start(place, uid, LEVER, SENT)
    again = start(place, uid, LEVER, later(5))
    assert again.change_id is None and again.said == "Fit front brake lever: begun before"
    assert job_of(machine(place, uid), LEVER).started_at == SENT.moment
    # Minutes told afterwards count all the same.
    assert stop(place, uid, "job:j2", 15, SENT).change_id is not None
    assert machine(place, uid).jobs[1].done_minutes == 15.0


def test_there_is_one_pair_of_hands(tmp_path: Path) -> None:
    place, uid = bench(tmp_path)
    other = second(place, tmp_path, BURDOCK)
    start(place, other, "job:j7", SENT)
    told = as_one(place, lambda sent: start(place, uid, LEVER, dataclasses.replace(sent, at=later(40).at)))
    assert told.said == "Begun: Fit front brake lever; left for later: Burdock, Sew the seat, 40 min"
    sewn = machine(place, other).jobs[0]
    assert (sewn.state, sewn.started_at, sewn.done_minutes) == ("open", None, 40.0)
    assert [job.id for one in all_machines(place).values() for job in one.jobs if job.started_at] == [told.handle]


# ---- done ----


def test_done_fits_the_part_closes_the_steps_before_and_remembers_the_covers(tmp_path: Path) -> None:
    place, uid = bench(tmp_path)
    start(place, uid, "fork_tube_l:carry_over", SENT)
    told = as_one(
        place, lambda sent: done(place, uid, "fork_tube_l", 95, dataclasses.replace(sent, at=later(60).at)))
    kept = machine(place, uid)
    main, strip = job_of(kept, "fork_tube_l"), job_of(kept, "fork_tube_l:carry_over")
    assert (main.state, main.done_minutes, main.component) == ("closed_up", 95.0, "fork_tube_l")
    assert (strip.state, strip.started_at) == ("closed_up", None)
    wanted = TRADE.components["fork_tube_l"].covers
    assert set(wanted) <= set(kept.covers_off)
    # Whatever lies over a cover is off as well (law).
    assert all(set(TRADE.covers[one].under) <= set(kept.covers_off) for one in kept.covers_off)
    assert put_right(kept) == {"fork_tube_l"}
    assert told.handle == main.id and told.said.startswith("Done: Fit fork tube, left, 95 min; left off: ")


def test_the_clock_of_a_step_before_counts_for_that_step(tmp_path: Path) -> None:
    place, uid = bench(tmp_path)
    start(place, uid, "fork_tube_l:carry_over", SENT)
    done(place, uid, "fork_tube_l", None, later(30))
    kept = machine(place, uid)
    assert job_of(kept, "fork_tube_l:carry_over").done_minutes == 30.0
    assert job_of(kept, "fork_tube_l").done_minutes is None


def test_the_part_lines_of_the_work_are_fitted_with_its_main_step_only(tmp_path: Path) -> None:
    place, uid = bench(tmp_path)
    as_one(place, lambda sent: done(place, uid, f"{LEVER}:try_on", 5, sent))
    assert machine(place, uid).parts[0].state == "here" and put_right(machine(place, uid)) == frozenset()
    told = as_one(place, lambda sent: done(place, uid, LEVER, None, sent), "operation2")
    assert machine(place, uid).parts[0].state == "fitted"
    assert told.said == "Done: Fit front brake lever; fitted: front brake lever"
    assert put_right(machine(place, uid)) == {LEVER}
    # What comes after it is still to be done, and is.
    as_one(place, lambda sent: done(place, uid, f"{LEVER}:test", None, sent), "operation3")
    assert job_of(machine(place, uid), f"{LEVER}:test").state == "closed_up"


def test_what_was_tried_on_is_here(tmp_path: Path) -> None:
    place, uid = bench(tmp_path)
    as_one(place, lambda sent: done(place, uid, "part:p2:try_on", None, sent))
    assert machine(place, uid).parts[1].state == "here"
    as_one(place, lambda sent: done(place, uid, "part:p2", None, sent), "operation2")
    assert machine(place, uid).parts[1].state == "fitted"
    assert job_of(machine(place, uid), "part:p2").component == ""


def test_own_jobs_are_their_own_rows_and_fit_their_parts_if_they_mend(tmp_path: Path) -> None:
    place, uid = bench(tmp_path)
    told = as_one(place, lambda sent: done(place, uid, "job:j1", 20, sent))
    kept = machine(place, uid)
    assert told.handle == "j1" and len(kept.jobs) == 2
    assert (kept.jobs[0].state, kept.jobs[0].done_minutes, kept.parts[2].state) == ("closed_up", 20.0, "fitted")


def test_done_twice_is_done_once_but_minutes_can_still_be_told(tmp_path: Path) -> None:
    place, uid = bench(tmp_path)
    done(place, uid, LEVER, None, SENT)
    assert done(place, uid, LEVER, None, later(5)).change_id is None
    told = as_one(place, lambda sent: done(place, uid, LEVER, 30, sent))
    assert told.said == "Done before: Fit front brake lever, 30 min"
    assert job_of(machine(place, uid), LEVER).done_minutes == 30.0
    with pytest.raises(EntryError, match="closed up already"):
        start(place, uid, LEVER, SENT)


@pytest.mark.parametrize("key", ["standard:document_build", "errand:e1:rolls", "after:first_service"])
def test_other_work_at_the_bench(tmp_path: Path, key: str) -> None:
    place, uid = bench(tmp_path)
    as_one(place, lambda sent: done(place, uid, key, 10, sent))
    job = job_of(machine(place, uid), key)
    assert (job.state, job.done_minutes, job.kind) == ("closed_up", 10.0, "check")


def test_closed_up_puts_back_what_nothing_else_wants_off(tmp_path: Path) -> None:
    place, uid = bench(tmp_path)
    cover(place, uid, "battery_out", True, SENT)
    start(place, uid, "job:j2", SENT)
    under = machine(place, uid).covers_off
    assert under == ("seat_off", "battery_out")
    # The starter circuit lies beneath the battery; the tank prop wants the seat off too.
    cover(place, uid, "tank_prop", True, SENT)
    done(place, uid, "fork_tube_l", None, SENT)
    opened = set(machine(place, uid).covers_off)
    told = as_one(place, lambda sent: done(place, uid, "fork_tube_l:test", None, sent, closed_up=True))
    assert set(machine(place, uid).covers_off) == opened
    assert "on again" not in told.said


def test_closed_up_in_one_go(tmp_path: Path) -> None:
    place, uid = bench(tmp_path)
    cover(place, uid, "battery_out", True, SENT)
    before = machine(place, uid).covers_off
    told = as_one(place, lambda sent: done(place, uid, "fork_tube_l", None, sent, closed_up=True))
    # Nothing of it was off before, so nothing is off now but what was.
    assert machine(place, uid).covers_off == before and "off" not in told.said
    cover(place, uid, TRADE.components["fork_tube_l"].covers[0], True, SENT)
    assert machine(place, uid).covers_off != before
    again = done(place, uid, "fork_tube_l", None, SENT, closed_up=True)
    assert "on again" in again.said and machine(place, uid).covers_off == before


@pytest.mark.parametrize(
    ("key", "do"),
    [
        ("gate:straight", "answer it with yes or no"),
        ("way:straight:1", "yes, no or way round"),
        ("look:sight_and_swing", "nothing was found"),
        ("off:seat_off", "the cover is off"),
        ("on:seat_off", "the cover is on"),
        ("batch:b1", "away"),
        ("lump", "write down what was found"),
    ],
)
def test_what_is_no_work_at_the_bench_is_refused_with_what_to_do_instead(tmp_path: Path, key: str, do: str) -> None:
    place, uid = bench(tmp_path)
    for act in (
        lambda: start(place, uid, key, SENT), lambda: stop(place, uid, key, 5, SENT),
        lambda: done(place, uid, key, 5, SENT),
    ):
        error = nothing_written(place, act, EntryError)
        assert isinstance(error, EntryError) and error.field == "key" and do in error.do


@pytest.mark.parametrize("key", [
    "", "lever", "lever_brake_front:polish", "job:j9", "part:p9", "part:p2:polish", "part:p3:fit", "errand:e9:rolls",
    "errand:e1:flies", "standard:tea", "after:tea", "batch:b9", "look:tea", "gate:tea", "off:tea", "tea:seat",
])
def test_a_key_that_means_nothing_is_not_there(tmp_path: Path, key: str) -> None:
    place, uid = bench(tmp_path)
    error = nothing_written(place, lambda: done(place, uid, key, None, SENT), NotThere)
    assert isinstance(error, WreckwrightError) and error.allowed and error.do


@pytest.mark.parametrize("minutes", [-1, 100_001])
def test_minutes_out_of_range(tmp_path: Path, minutes: int) -> None:
    place, uid = bench(tmp_path)
    error = nothing_written(place, lambda: done(place, uid, LEVER, minutes, SENT), EntryError)
    assert isinstance(error, EntryError) and error.field == "minutes"


# ---- covers ----


def test_what_lies_over_a_cover_comes_off_with_it_and_what_lies_beneath_goes_on_with_it(tmp_path: Path) -> None:
    place, uid = bench(tmp_path)
    told = as_one(place, lambda sent: cover(place, uid, "battery_out", True, sent))
    assert machine(place, uid).covers_off == ("seat_off", "battery_out")
    assert told.said == "Off: seat and battery disconnected and out"
    assert cover(place, uid, "seat_off", True, SENT).change_id is None
    as_one(place, lambda sent: cover(place, uid, "seat_off", False, sent), "operation2")
    assert machine(place, uid).covers_off == ()
    assert cover(place, uid, "seat_off", False, SENT).said == "On before: Seat off"
    nothing_written(place, lambda: cover(place, uid, "lid", True, SENT), NotThere)


def test_elapsed_minutes_are_whole_and_never_below_nothing() -> None:
    assert elapsed_minutes(AT, AT + dt.timedelta(minutes=12, seconds=40)) == 13
    assert elapsed_minutes(AT, AT - dt.timedelta(hours=1)) == 0
    # Without a zone it is the time of this computer.
    assert elapsed_minutes(AT.astimezone().replace(tzinfo=None), AT) == 0


def test_every_act_names_the_machine_and_one_line_in_the_journal(tmp_path: Path) -> None:
    place, uid = bench(tmp_path)
    for act in (start, lambda *a: stop(*a[:3], 5, a[3]), lambda *a: done(*a[:3], None, a[3])):
        told = act(place, uid, "job:j2", SENT)
        assert told.uid == uid and told.handle == "j2" and journal(place)[0] == told.said


def test_no_machine(tmp_path: Path) -> None:
    place, _ = bench(tmp_path)
    assert isinstance(place, Place)
    nothing_written(place, lambda: start(place, "nobody", LEVER, SENT), NotThere)


def test_what_was_answered_of_the_old_coded_key_is_asked_anew_when_the_new_one_is_fitted(tmp_path: Path) -> None:
    place, uid = bench(tmp_path, """
[[parts]]
id = "p4"
component = "immobiliser"
state = "here"

[[gates]]
id = "g1"
template = "chip_read"
answer = "yes"

[[gates]]
id = "g2"
template = "straight"
answer = "yes"
""")
    done(place, uid, "part:p4:try_on", 5, SENT)
    assert [gate.answer for gate in machine(place, uid).gates] == ["yes", "yes"]
    told = as_one(place, lambda sent: done(place, uid, "part:p4", 5, sent))
    assert told.said.split("; ")[1:3] == [
        "fitted: immobiliser and coded key",
        "to be asked anew: Is the chip in the key read, and does the security lamp go out?",
    ]
    # An answer given from now on is the new key's.
    assert [gate.answer for gate in machine(place, uid).gates] == ["unasked", "yes"]


def test_what_was_tested_before_it_was_fitted_is_tested_again(tmp_path: Path) -> None:
    place, uid = bench(tmp_path)
    done(place, uid, f"{LEVER}:test", 10, SENT)
    done(place, uid, f"{LEVER}:try_on", 5, SENT)
    told = as_one(place, lambda sent: done(place, uid, LEVER, 20, sent))
    assert told.said.split("; ")[1:] == [
        "fitted: front brake lever", "to be done again: hold pressure: front brake lever",
    ]
    states = {job.stands_for: (job.state, job.done_minutes) for job in machine(place, uid).jobs if job.stands_for}
    # The minutes that it took are not forgotten, and what came before the fitting stays done.
    assert states[f"{LEVER}:test"] == ("not_yet", 10.0)
    assert states[f"{LEVER}:try_on"] == ("closed_up", 5.0)
    done(place, uid, f"{LEVER}:test", 5, SENT)
    again = done(place, uid, LEVER, 5, SENT)
    assert "again" not in again.said and job_of(machine(place, uid), f"{LEVER}:test").state == "closed_up"
