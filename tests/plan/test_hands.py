"""Several machines on one person's evenings."""

from __future__ import annotations

import datetime as dt
import random
from collections import defaultdict
from collections.abc import Mapping, Sequence

import msgspec
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from wreckwright.futures import hours
from wreckwright.futures.calendar import begin_minutes, cumulative_minutes
from wreckwright.plan.course import course_of
from wreckwright.plan.hands import booked_of, in_turn, shared_calendar
from wreckwright.plan.types import Course, Piece, Plan, Problem, Step, Test, Work
from wreckwright.record.types import Calendar, ChangedDay, Machine

MONDAY = dt.date(2026, 1, 5)


def day(number: int) -> dt.date:
    return MONDAY + dt.timedelta(days=number)


def machine(turn: int | None = None, **calendar: object) -> Machine:
    return Machine(
        nickname="it", machine_class="middle", year=2012, turn=turn, calendar=msgspec.convert(calendar, Calendar)
    )


def changed(calendar: Calendar) -> dict[dt.date, int]:
    return {one.date: one.minutes for one in calendar.changed}


# Hand-worked.


def test_turns_go_by_their_number_then_as_they_stand() -> None:
    machines = [("a", machine(None)), ("b", machine(7)), ("c", machine(None)), ("d", machine(2)), ("e", machine(7))]
    assert in_turn(machines) == ("d", "b", "e", "a", "c")
    assert in_turn([]) == ()


def test_a_day_off_is_off_for_all() -> None:
    shared = shared_calendar([("a", machine(days_off=(day(3), day(1)))), ("b", machine(days_off=(day(8), day(1))))])
    assert shared["a"].days_off == shared["b"].days_off == (day(1), day(3), day(8))


def test_a_changed_evening_counts_for_all_within_their_own_weeks() -> None:
    # Wednesday (day 2): a says 200, b says 90, so 90 for both; c, which says nothing of it, has 60 on Wednesdays.
    # Saturday (day 5): a says 300; b has 120 on Saturdays, c none.
    a = machine(weekday_minutes=(60, 0, 60, 0, 0, 0, 0), changed=(change(2, 200), change(5, 300)))
    b = machine(weekday_minutes=(60, 0, 100, 0, 0, 120, 0), changed=(change(2, 90),))
    c = machine(weekday_minutes=(60, 0, 60, 0, 0, 0, 0))
    shared = shared_calendar([("a", a), ("b", b), ("c", c)])
    assert changed(shared["a"]) == {day(2): 90, day(5): 300}
    assert changed(shared["b"]) == {day(2): 90, day(5): 120}
    assert changed(shared["c"]) == {day(2): 60, day(5): 0}


def change(number: int, minutes: int) -> ChangedDay:
    return ChangedDay(date=day(number), minutes=minutes)


def test_a_day_off_of_one_beats_a_changed_evening_of_another() -> None:
    shared = shared_calendar([("a", machine(changed=(change(2, 90),))), ("b", machine(days_off=(day(2),)))])
    assert shared["a"].changed == () and shared["a"].days_off == (day(2),)


def test_a_week_that_the_record_does_not_give_can_be_handed_in() -> None:
    machines = [("a", machine(changed=(change(2, 90),))), ("b", machine())]
    assert changed(shared_calendar(machines)["b"]) == {day(2): 90}
    assert changed(shared_calendar(machines, weeks={"b": (0, 0, 45, 0, 0, 0, 0)})["b"]) == {day(2): 45}


def test_help_comes_to_all_and_the_rest_stays_ones_own() -> None:
    a = machine(helper_weekdays=("saturday", "friday"), attendance=0.5)
    b = machine(helper_days=(day(3),), weekday_minutes=(0, 0, 100, 0, 0, 120, 0))
    shared = shared_calendar([("a", a), ("b", b)])
    assert shared["a"].helper_weekdays == shared["b"].helper_weekdays == ("friday", "saturday")
    assert shared["a"].helper_days == shared["b"].helper_days == (day(3),)
    assert (shared["a"].attendance, shared["b"].attendance) == (0.5, None)
    assert (shared["a"].weekday_minutes, shared["b"].weekday_minutes) == (None, (0, 0, 100, 0, 0, 120, 0))


def test_alone_a_machine_keeps_its_calendar() -> None:
    own = machine(days_off=(day(1),), changed=(change(2, 90),), weekday_minutes=(60, 0, 0, 0, 0, 0, 0))
    assert shared_calendar([("a", own)])["a"] == own.calendar


def course(*pieces: tuple[int, int, int]) -> Course:
    laid = tuple(Piece(day=d, from_minute=a, to_minute=b) for d, a, b in pieces)
    return Course(steps=tuple(Step(key="x", kind="job", stage=0, pieces=(p,), day=p.day) for p in laid), finish_day=0)


def test_what_is_booked_is_the_beginning_of_evenings() -> None:
    first, second = course((0, 0, 30), (0, 30, 50), (2, 0, 10)), course((0, 50, 60), (4, 0, 0))
    assert booked_of([first, second], MONDAY) == {day(0): 60, day(2): 10}
    assert booked_of([], MONDAY) == {}


def test_minutes_lost_on_average_are_not_given_to_the_next() -> None:
    # 30 minutes worked of 40 planned (750 per mille); the second begins at 40 and works 15 of 30 planned: until 70.
    # 31 minutes would be 41.33 planned ones: 42.
    assert booked_of([course((0, 0, 30)), course((0, 40, 55))], MONDAY, attendance_permille=(750, 500)) == {day(0): 70}
    assert booked_of([course((0, 0, 31))], MONDAY, attendance_permille=(750,)) == {day(0): 42}


# Laws: two and three machines one after the other.


def problem(calendar: Calendar, booked: Mapping[dt.date, int], share: int, rng: random.Random) -> Problem:
    """Up to eight pieces of work, some with parts that come later, and one test."""
    asked = {
        "as_of": MONDAY,
        "weekday_minutes": calendar.weekday_minutes,
        "days_off": calendar.days_off,
        "changed": calendar.changed,
        "booked": booked,
        "horizon_days": 60,
    }
    n = rng.randint(1, 8)
    none = np.zeros((1, 0), np.int32)
    return Problem(
        works=tuple(Work(key=f"work {j}", name="", kind="job", first_stage=0, last_stage=0) for j in range(n)),
        covers=(),
        tests=(Test(key="gate:ride", name="ride"),),
        minutes=np.array([[rng.randint(0, 150) for _ in range(n)]], np.int32),
        present=np.ones((1, n), bool),
        off_minutes=none,
        on_minutes=none,
        test_minutes=np.array([[rng.randint(0, 40)]], np.int32),
        release_day=np.array([[rng.choice([0, 0, rng.randint(0, 20)]) for _ in range(n)]], np.int32),
        lead_days=np.zeros((1, n), np.int32),
        test_release_day=np.zeros((1, 1), np.int32),
        held=(),
        way_days=np.zeros((1, 1), np.int32),
        way_minutes=np.zeros((1, 1), np.int32),
        hours=hours.Hours(
            calendar=hours.Calendar(cumulative_minutes=cumulative_minutes(**asked)),
            attendance_permille=np.array([share]),
        ),
        begin_minute=begin_minutes(**asked),
    )


def random_machine(rng: random.Random) -> Machine:
    return machine(
        rng.choice([None, 1, 2, 3]),
        # On Mondays there is room for three, so that nobody is left without a minute.
        weekday_minutes=(400, *(rng.choice([0, 45, 90, 120]) for _ in range(6))),
        days_off=tuple(day(rng.randrange(40)) for _ in range(rng.randint(0, 4))),
        changed=tuple(change(rng.randrange(40), rng.randint(0, 240)) for _ in range(rng.randint(0, 3))),
    )


def laid_out(machines: Sequence[tuple[str, Machine]], shares: Sequence[int], rng: random.Random) -> list[Course]:
    """Course of each machine in turn, each beginning where those before it end."""
    by_uid, calendars = dict(machines), shared_calendar(machines)
    assert calendars.keys() == by_uid.keys()
    courses: list[Course] = []
    for place, uid in enumerate(in_turn(machines)):
        booked = booked_of(courses, MONDAY, attendance_permille=shares[:place])
        asked = problem(calendars[uid], booked, shares[place], rng)
        plan = Plan(stages={work.key: 0 for work in asked.works}, order=())
        courses.append(course_of(asked, plan))
    return courses


@given(st.integers(0, 10**6), st.sampled_from([2, 3]), st.booleans())
@settings(max_examples=120)
def test_nobody_books_the_same_minute_or_a_day_off(seed: int, n: int, everybody_comes: bool) -> None:
    rng = random.Random(seed)
    machines = [(f"m{i}", random_machine(rng)) for i in range(n)]
    shares = [1000 if everybody_comes else rng.randint(300, 1000) for _ in machines]
    courses = laid_out(machines, shares, rng)
    calendars, order = shared_calendar(machines), in_turn(machines)
    off = {date for _, one in machines for date in one.calendar.days_off}
    taken: dict[dt.date, list[tuple[int, int, int]]] = defaultdict(list)
    for turn, (uid, one) in enumerate(zip(order, courses, strict=True)):
        for piece in (piece for step in one.steps for piece in step.pieces):
            date, calendar = day(piece.day), calendars[uid]
            assert date not in off
            assert calendar.weekday_minutes is not None
            planned = changed(calendar).get(date, calendar.weekday_minutes[date.weekday()])
            assert 0 <= piece.from_minute < piece.to_minute <= planned
            taken[date].append((piece.from_minute, piece.to_minute, turn))
    for pieces in taken.values():
        for (_, end, turn), (begin, _, later) in zip(sorted(pieces), sorted(pieces)[1:], strict=False):
            assert end <= begin and turn <= later


def test_the_law_is_about_evenings_that_are_shared() -> None:
    """regression: in the random courses above many evenings really are worked on by two or three machines."""
    shared = 0
    for seed in range(40):
        rng = random.Random(seed)
        courses = laid_out([(f"m{i}", random_machine(rng)) for i in range(3)], [1000] * 3, rng)
        days = [{piece.day for step in one.steps for piece in step.pieces} for one in courses]
        shared += len(days[0] & days[1]) + len(days[1] & days[2])
    assert shared > 40


@pytest.mark.parametrize("turn", [1, 2, 3])
def test_the_first_in_turn_does_not_notice_the_others(turn: int) -> None:
    """The course of the machine that goes first is the one it would have alone (on the same calendar)."""
    rng = random.Random(turn)
    machines = [(f"m{i}", random_machine(rng)) for i in range(3)]
    first = in_turn(machines)[0]
    calendars = shared_calendar(machines)
    together = laid_out(machines, [1000] * 3, random.Random(turn))[0]
    asked = problem(calendars[first], {}, 1000, random.Random(turn))
    assert together == course_of(asked, Plan(stages={work.key: 0 for work in asked.works}, order=()))
