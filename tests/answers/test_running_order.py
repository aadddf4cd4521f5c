"""The running order: read off real machines; figures are compared with what they are read from, independently."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from functools import lru_cache
from typing import Any

import numpy as np
import pytest

from tests.answers.plain import TRADE, known
from tests.answers.plain_plan import plain_planned, played
from wreckwright.answers.errands import errands
from wreckwright.answers.foresight import foresight
from wreckwright.answers.plan_types import OrderEntry, Parcel, RunningOrder
from wreckwright.answers.running_order import booked_minutes, gate_days, one_by_one_minutes, running_order
from wreckwright.futures.binding import binding_shares
from wreckwright.futures.draw import Drawn, draw
from wreckwright.futures.looks import opening_of
from wreckwright.futures.scene import Futures
from wreckwright.futures.simulate import simulate
from wreckwright.plan.make import Planned
from wreckwright.plan.types import Course, Piece, Step

OUTSIDE = [{"template": name, "answer": "yes"}
           for name in ("papers", "key_turns", "chip_read", "unit_learns", "numbers_belong")]
DAY = dt.date(2026, 11, 20)


class Made:
    def __init__(self, **over: Any) -> None:
        record = known(**({"gates": OUTSIDE} | over))
        self.drawn: Drawn = draw(record, TRADE, n=120)
        self.planned: Planned = plain_planned(self.drawn)
        futures = played(self.drawn, self.planned)
        rebuild, worlds, policy = futures.rebuild, futures.worlds, futures.policy
        self.futures: Futures = replace(futures, played=simulate(rebuild, worlds, policy, ends=True))
        self.binding = binding_shares(rebuild, worlds, policy, self.futures.played)

    @property
    def order(self) -> RunningOrder:
        return running_order(self.futures, self.planned, self.drawn, TRADE, self.binding)


@lru_cache(maxsize=1)
def usual() -> Made:
    return Made(
        findings=[{"component": "front_wheel"}, {"component": "radiator"}, {"component": "steering_stop"}],
        parts=[{"id": "p1", "component": "front_wheel", "state": "here", "last_return_on": "2026-12-05"},
               {"id": "p2", "component": "radiator", "state": "ordered", "ordered_on": "2026-11-10"}],
        batches=[{"id": "b1", "name": "Welding", "components": ["steering_stop"], "days": 20}],
        calendar={"weekday_minutes": [120, 120, 120, 120, 120, 240, 0]},
    )


def entries() -> dict[str, list[OrderEntry]]:
    found: dict[str, list[OrderEntry]] = {}
    for stretch in usual().order.stretches:
        for entry in stretch.entries:
            found.setdefault(entry.key, []).append(entry)
    return found


def test_all_work_and_every_question_stand_on_the_calendar() -> None:
    made = usual()
    found = entries()
    problem = made.planned.problem_usual
    there = {work.key for j, work in enumerate(problem.works) if problem.present[0, j]}
    assert there | {test.key for test in problem.tests} <= found.keys()
    bench = made.drawn.compiled.bench
    assert [stretch.gate for stretch in made.order.stretches] == [f"gate:{need.id}" for need in bench]
    for stretch in made.order.stretches:
        assert stretch.entries[-1].key == stretch.gate and stretch.entries[-1].to_date == stretch.usual_date
    assert made.order.broken == ()


def test_entries_follow_the_course() -> None:
    made = usual()
    steps = {step.key: step for step in made.planned.course.steps if step.kind == "job"}
    found = entries()
    for key, step in steps.items():
        (entry,) = found[key]
        assert entry.minutes == sum(piece.to_minute - piece.from_minute for piece in step.pieces)
        assert entry.to_date == (DAY + dt.timedelta(days=step.day)).isoformat()
        assert entry.from_date <= entry.to_date
    wheel = found["front_wheel"][0]
    names = {TRADE.covers[name].name for name in opening_of(TRADE, TRADE.components["front_wheel"].covers)}
    assert set(wheel.covers) == names
    assert found["radiator:try_on"][0].waits_for == "the radiator (ordered on 2026-11-10)"
    assert found["front_wheel:try_on"][0].waits_for == ""
    # The welded stop is fitted once the batch is back.
    after_batch = next(key for key in ("steering_stop", "steering_stop:fit_back") if key in found)
    assert any("20 days after" in entry.waits_for for entry in found[after_batch])


def test_eight_times_in_ten() -> None:
    made = usual()
    (entry,) = entries()["front_wheel"]
    index = next(i for i, plan in enumerate(made.drawn.compiled.slots) if plan.key == "front_wheel")
    clock = made.futures.played.end_clock
    assert clock is not None
    # Independent: planned minutes of the calendar counted one by one, for each future.
    planned = made.futures.rebuild.cumulative_minutes
    days = []
    for row in np.flatnonzero(clock[:, index] >= 0):
        share = int(made.futures.worlds.attendance_permille[row])
        wanted = -(-int(clock[row, index]) * 1000 // share)
        days.append(next(day for day in range(len(planned)) if planned[day + 1] >= wanted))
    days.sort()
    eighth = days[int(np.ceil(0.8 * len(days))) - 1]
    assert entry.by_p80 == (DAY + dt.timedelta(days=eighth)).isoformat()
    bare = running_order(
        replace(made.futures, played=replace(made.futures.played, end_clock=None)), made.planned, made.drawn, TRADE,
        made.binding,
    )
    assert all(entry.by_p80 == "" for stretch in bare.stretches for entry in stretch.entries)


def test_finish_is_that_of_the_foresight() -> None:
    made = usual()
    ahead = foresight(made.futures)
    assert ahead.finish is not None
    assert (made.order.finish, made.order.finish_p80) == (ahead.finish.p50, ahead.finish.p80)


def test_first_question() -> None:
    made = usual()
    half, most = gate_days(made.futures, 0)
    passed = np.sort(made.futures.played.gate_day[:, 0])
    passed = passed[passed >= 0]
    assert half is not None and most is not None and made.order.first_gate == half
    # Independent: the smallest day not passed by half, by eight tenths of those that pass.
    assert half.days == passed[int(np.ceil(0.5 * len(passed))) - 1]
    assert most.days == passed[int(np.ceil(0.8 * len(passed))) - 1]
    never = replace(made.futures.played, gate_day=np.full_like(made.futures.played.gate_day, -1))
    assert gate_days(replace(made.futures, played=never), 0) == (None, None)


def test_parcels_bind_in_order_and_shares_stay_within_one() -> None:
    made = usual()
    parcels = made.order.parcels
    shares = [parcel.share for parcel in parcels]
    assert shares == sorted(shares, reverse=True) and sum(shares) <= 1.0 + 1e-9
    by_name: dict[str, Parcel] = {parcel.name: parcel for parcel in parcels}
    here, way = by_name["Front wheel"], by_name["Radiator"]
    assert (here.state, here.p20, here.p80, here.last_return) == ("here", "2026-11-20", "2026-11-20", "2026-12-05")
    assert here.never_chance == 0.0 and here.reaches == ("front_wheel:try_on",)
    assert way.state == "ordered on 2026-11-10" and "2026-11-20" <= way.p20 <= way.p50 and way.from_date == ""
    assert way.p80 == "" or way.p50 <= way.p80
    assert all(0.0 <= parcel.never_chance <= 1.0 for parcel in parcels)
    holding = made.futures.market.holding_day_minor
    assert all(parcel.day_worth_minor == round(parcel.share * holding) for parcel in parcels)


def test_outside_answers_are_parcels_too() -> None:
    made = Made(gates=[*OUTSIDE[1:], {"template": "papers", "wait_days": 30}])
    (papers,) = [parcel for parcel in made.order.parcels if parcel.kind == "answer"]
    assert papers.name == TRADE.gates["papers"].question and papers.state == "asked"
    assert papers.reaches == ("gate:fit_to_ride",) and papers.p50 >= (DAY + dt.timedelta(days=15)).isoformat()
    (gate,) = [entry for stretch in made.order.stretches for entry in stretch.entries
               if entry.key == "gate:fit_to_ride"]
    assert papers.name in gate.waits_for


def test_a_no_is_told_that_the_usual_course_passes_over() -> None:
    made = Made(gates=[*OUTSIDE, {"template": "turns", "answer": "no"}])
    told = [note for note in made.order.notes if note.startswith(f"'{TRADE.gates['turns'].question}' was answered no")]
    assert len(told) == 1
    assert not any("was answered no" in note for note in usual().order.notes)


def test_covers_one_by_one_against_once() -> None:
    made = usual()
    problem = made.planned.problem_usual
    names = [cover.key for cover in problem.covers]
    both = dict(zip(names, (problem.off_minutes[0] + problem.on_minutes[0]).tolist(), strict=True))
    # Independent: the openings by the trade data's own tables.
    total = 0
    for j, work in enumerate(problem.works):
        if problem.present[0, j] and problem.minutes[0, j]:
            total += sum(both[name] for name in opening_of(TRADE, tuple(names[x] for x in work.covers)))
    for test in problem.tests:
        total += sum(both[name] for name in opening_of(TRADE, tuple(names[x] for x in test.covers_off)))
    assert one_by_one_minutes(problem) == total
    order = made.order
    listed = [entry for stretch in order.stretches for entry in stretch.entries]
    moved = sum(entry.minutes for entry in listed if entry.kind in ("off", "on"))
    assert order.cover_hours == pytest.approx(moved / 60.0) and order.cover_hours < order.cover_hours_one_by_one


def test_what_is_booked_is_what_is_worked() -> None:
    made = usual()
    order = made.order
    worked: dict[int, int] = {}
    for piece in (piece for step in made.planned.course.steps for piece in step.pieces):
        if piece.to_minute > piece.from_minute:
            worked[piece.day] = worked.get(piece.day, 0) + piece.to_minute - piece.from_minute
    share = int(made.planned.problem_usual.hours.attendance_permille[0])
    # Hand-worked: at a share of 600 in 1000, an hour really worked takes 100 planned minutes, begun ones count whole.
    wanted = {(DAY + dt.timedelta(days=day)).isoformat(): -(-minutes * 1000 // share)
              for day, minutes in worked.items()}
    assert {date: end - begin for date, begin, end in order.booked} == wanted
    assert [date for date, *_ in order.booked] == sorted(wanted)
    assert all(dt.date.fromisoformat(date).weekday() != 6 for date, *_ in order.booked)


def test_an_evening_is_booked_from_its_first_to_its_last_minute() -> None:
    def step(key: str, day: int, begin: int, end: int) -> Step:
        return Step(key=key, kind="job", stage=0, pieces=(Piece(day=day, from_minute=begin, to_minute=end),), day=day)

    course = Course(steps=(step("a", 0, 0, 30), step("b", 0, 60, 90), step("c", 2, 0, 10)), finish_day=2)
    # Hand-worked: half of the planned minutes are worked on average, so 90 of them take 180.
    assert booked_minutes(course, "2026-12-31", attendance_permille=500) == (
        ("2026-12-31", 0, 180), ("2027-01-02", 0, 20))


def test_a_long_wait_has_its_parking_card() -> None:
    made = Made(parts=[{"id": "p1", "component": "radiator", "state": "ordered", "lead_class": "factory_backorder"}],
                findings=[{"component": "radiator"}])
    wait = made.order.long_wait
    assert wait is not None and wait.days >= 14 and wait.words
    # It lies between two pieces of work of the usual course.
    days = sorted({piece.day for step in made.planned.course.steps for piece in step.pieces} | {0})
    first = next((a, b) for a, b in zip(days, days[1:], strict=False) if b - a >= 14)
    assert wait.days == first[1] - first[0]
    assert wait.until == (DAY + dt.timedelta(days=first[1])).isoformat()


def test_the_plan_goes_with_it() -> None:
    made = usual()
    order = made.order
    assert order.order == made.planned.plan.order and order.stages == made.planned.plan.stages
    assert order.errands == errands(
        made.futures, made.drawn, TRADE, line_share=made.binding.line_share.tolist(),
        gate_share=made.binding.outside_share.tolist(),
    )
    assert [line.handle for line in order.batches] == ["b1"] and order.after_ride
    assert order.why.startswith(f"In half of the futures '{TRADE.gates['turns'].question}' is answered by ")
    assert "Covers take " in order.why and order.why.endswith(".")


def test_a_course_that_cannot_be_kept_says_so() -> None:
    made = usual()
    steps = made.planned.course.steps
    # One piece of work is left out.
    short = replace_course(made.planned, tuple(step for step in steps if step.key != "front_wheel"))
    order = running_order(made.futures, short, made.drawn, TRADE, made.binding)
    assert order.broken and order.broken[0] in order.notes[-1]


def replace_course(planned: Planned, steps: tuple[Step, ...]) -> Planned:
    return replace(planned, course=Course(steps=steps, finish_day=planned.course.finish_day))


def test_a_lot_that_is_not_bought_is_said_to_be_none() -> None:
    words = "It is not bought: this is how it would go if it were bought today."
    assert words in Made(purchase={"bought": False}).order.notes
    assert words not in Made(purchase={"bought": True}).order.notes


def test_where_nobody_helps_any_more_it_is_said_what_takes_two() -> None:
    # The first start takes two; the only helper day lies before the as-of day.
    never = Made(calendar={"helper_days": ["2026-11-01"]}).order
    assert never.finish is None or never.finish.date is None
    assert [note for note in never.notes if note.startswith("'Does it start") and "nobody helps" in note]
    often = Made(calendar={"helper_weekdays": ["saturday"]}).order
    assert often.finish is not None and not [note for note in often.notes if "nobody helps" in note]
