"""The checker lets good courses pass and catches each kind of mistake under its own name."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterable
from dataclasses import replace

import msgspec
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.plan.good_courses import (
    BRACKET,
    CARRY,
    HOSE,
    MOUNTS,
    PUMP,
    SPARK,
    TAIL,
    plain_course,
    random_problem,
    step,
    workshop,
    workshop_course,
)
from wreckwright.futures.hours import Calendar
from wreckwright.plan.check import check
from wreckwright.plan.types import NEVER_DAY, Course, Piece, Problem, Reason, Step


def steps_of(course: Course) -> dict[str, Step]:
    return {entry.key: entry for entry in course.steps}


def without(*keys: str) -> Course:
    course = workshop_course()
    return msgspec.structs.replace(course, steps=tuple(entry for entry in course.steps if entry.key not in keys))


def with_steps(*changed: Step) -> Course:
    """The good course with some steps as given, in their old places."""
    new = {entry.key: entry for entry in changed}
    course = workshop_course()
    return msgspec.structs.replace(course, steps=tuple(new.get(entry.key, entry) for entry in course.steps))


def moved(*placed: Step, finish: int | None = 7) -> Course:
    """The good course with some steps at other times (or further ones), in the order in which they are begun."""
    kept = [entry for entry in workshop_course().steps if entry.key not in {new.key for new in placed}]
    steps = sorted([*kept, *placed], key=lambda entry: (entry.pieces[0].day, entry.pieces[0].from_minute))
    return Course(steps=tuple(steps), finish_day=finish)


def inserted(*placed: tuple[Step, str], course: Course | None = None) -> Course:
    """The good course with further steps, each right before the step of that key ("": at the end)."""
    course = course or workshop_course()
    steps = list(course.steps)
    for new, before in placed:
        steps.insert(next((i for i, entry in enumerate(steps) if entry.key == before), len(steps)), new)
    return msgspec.structs.replace(course, steps=tuple(steps))


def codes(reasons: Iterable[Reason]) -> set[tuple[str, str]]:
    return {(reason.code, reason.key) for reason in reasons}


def test_the_course_worked_by_hand_can_be_kept() -> None:
    assert check(workshop(), workshop_course()) == []


# Each mistake is made in the good course and breaks one rule; expected codes and keys are hand-worked. The words must
# name the key, the day, and what it collides with.
BROKEN: dict[str, tuple[Callable[[], Course], set[tuple[str, str]], tuple[str, ...]]] = {
    "a job is forgotten": (
        lambda: without("look:spark"), {("missing", "look:spark")}, ("look:spark", "day 7"),
    ),
    "a test is forgotten": (
        lambda: msgspec.structs.replace(without("gate:ride"), finish_day=7), {("missing", "gate:ride")},
        ("gate:ride", "day 7"),
    ),
    "a job is done twice": (
        lambda: inserted((step("headlamp", 1, (5, 34, 49)), "tail_lamp")), {("twice", "headlamp")},
        ("headlamp", "day 5", "day 3"),
    ),
    "a job is given too few minutes": (
        lambda: with_steps(step("fuel_hose", 0, (0, 53, 60), (1, 0, 12))), {("too_short", "fuel_hose")},
        ("fuel_hose", "day 0", "19 minutes", "takes 20"),
    ),
    "a job is given too many minutes": (
        lambda: with_steps(step("headlamp", 0, (3, 55, 75))), {("too_long", "headlamp")},
        ("headlamp", "day 3", "20 minutes", "takes 15"),
    ),
    "an evening is worked past its end": (
        lambda: with_steps(step("gate:ride", 1, (7, 36, 66))), {("too_long", "gate:ride")},
        ("gate:ride", "minute 66 of day 7", "minute 60"),
    ),
    "a part is used before it is here": (
        lambda: moved(step("headlamp", 0, (1, 40, 55))),
        {("before_part", "headlamp")}, ("headlamp", "day 1", "day 3"),
    ),
    "a held part is used before it can be here": (
        lambda: moved(step("tail_lamp", 1, (5, 34, 59))), {("before_part", "tail_lamp")},
        ("tail_lamp", "day 5", "gate:runs", "day 4", "day 7"),
    ),
    "a lever is fitted before its pivot is carried over": (
        lambda: moved(
            step("lever_brake_front", 0, (3, 30, 45)),
            step("lever_brake_front:carry_over", 0, (3, 45, 55)),
        ),
        {("before_predecessor", "lever_brake_front")},
        ("lever_brake_front", "day 3", "lever_brake_front:carry_over"),
    ),
    "a lamp is fitted before its mount": (
        lambda: moved(
            step("cowl_bracket", 0, (3, 70, 90)),
        ),
        {("before_predecessor", "headlamp")}, ("headlamp", "day 3", "cowl_bracket"),
    ),
    "a lamp is fitted on the evening on which its mount is glued": (
        lambda: moved(step("cowl_bracket", 0, (3, 30, 50)),
                      step("lever_brake_front:carry_over", 0, (3, 50, 60)),
                      step("lever_brake_front", 0, (3, 60, 75)),
                      step("headlamp", 0, (3, 75, 90))),
        {("before_cure", "headlamp")}, ("headlamp", "day 3", "cowl_bracket", "day 4"),
    ),
    "the road test is made while paint cures": (
        lambda: moved(step("job:j1", 1, (7, 26, 56)), step("gate:ride", 1, (8, 0, 30)), finish=8),
        {("before_cure", "gate:ride")}, ("gate:ride", "day 8", "job:j1", "day 9"),
    ),
    "work that a test needs is put behind it": (
        lambda: moved(step("lever_brake_front", 1, (5, 40, 55))),
        {("wrong_stretch", "lever_brake_front")}, ("lever_brake_front", "day 5", "before gate:runs"),
    ),
    "work that waits for a test is put before it": (
        lambda: moved(
            step("tail_lamp", 0, (1, 36, 60), (3, 30, 31)),
            step("lever_brake_front:carry_over", 0, (3, 31, 41)),
            step("lever_brake_front", 0, (3, 41, 56)),
            step("headlamp", 0, (3, 56, 71)),
        ),
        {("wrong_stretch", "tail_lamp"), ("before_part", "tail_lamp")}, ("tail_lamp", "day 1", "behind gate:runs"),
    ),
    "work is done in another stretch than it says": (
        lambda: with_steps(step("headlamp", 1, (3, 55, 70))), {("wrong_stretch", "headlamp")},
        ("headlamp", "stretch 1", "day 3", "day 4"),
    ),
    "an engine mount is opened with nothing under the engine": (
        lambda: without("off:engine_support", "on:engine_support"), {("cover_on", "engine_mounts")},
        ("engine_mounts", "day 4", "engine_support"),
    ),
    "work goes on under a cover that is back on": (
        lambda: moved(
            step("on:tank_off", 0, (0, 53, 60), (1, 0, 8)), step("fuel_hose", 0, (1, 8, 28)),
        ),
        {("cover_on", "fuel_hose")}, ("fuel_hose", "day 1", "tank_off"),
    ),
    "a test wants a cover off that is on": (
        lambda: moved(step("on:seat_off", 0, (1, 36, 37)),
                      step("tail_lamp", 1, (7, 1, 26))),
        {("cover_on", "gate:runs"), ("cover_on", "tail_lamp")}, ("gate:runs", "day 4", "seat_off"),
    ),
    "a cover comes off with another still over it": (
        lambda: moved(step("off:seat_off", 0, (0, 42, 43)),
                      step("off:tank_off", 0, (0, 30, 42))),
        {("cover_order", "off:tank_off")}, ("off:tank_off", "day 0", "seat_off", "is still on, over it"),
    ),
    "a cover goes on with another still off beneath it": (
        lambda: inserted(
            (step("on:seat_off", 0, (1, 13, 14)), "lever_brake_front:carry_over"),
            (step("on:tank_off", 0, (1, 14, 29)), "lever_brake_front:carry_over"),
            (step("off:seat_off", 0, (1, 29, 30)), "lever_brake_front:carry_over"),
            (step("off:engine_support", 0, (1, 30, 38)), "lever_brake_front:carry_over"),
            course=msgspec.structs.replace(
                workshop_course(),
                steps=tuple(e for e in workshop_course().steps if e.key not in ("on:tank_off", "off:engine_support")),
            ),
        ),
        {("cover_order", "on:seat_off")}, ("on:seat_off", "day 1", "tank_off", "is still off, beneath it"),
    ),
    "a cover is taken off that is off": (
        lambda: msgspec.structs.replace(
            workshop_course(), steps=(*workshop_course().steps[:8], step("off:seat_off", 0, (1, 36, 37)),
                                      *workshop_course().steps[8:]),
        ),
        {("cover_order", "off:seat_off")}, ("off:seat_off", "day 1", "already"),
    ),
    "a cover is off at a test that wants it on": (
        lambda: moved(
            step("on:tank_off", 1, (7, 25, 40)), step("on:seat_off", 1, (7, 40, 41)),
            step("gate:ride", 1, (8, 0, 30)), finish=8,
        ),
        {("cover_off_at_test", "gate:runs")}, ("gate:runs", "day 4", "tank_off"),
    ),
    "a cover is put back only after the road test": (
        lambda: moved(step("on:engine_support", 2, (7, 56, 60))),
        {("cover_off_at_test", "gate:ride")}, ("gate:ride", "day 7", "engine_support"),
    ),
    "a cover is never put back": (
        lambda: without("on:engine_support"), {("left_off", "on:engine_support")}, ("engine_support", "day 7"),
    ),
    "a cover is put back, taken off again and left so": (
        lambda: inserted(
            (step("off:engine_support", 1, (7, 26, 34)), "gate:ride"),
            course=moved(step("gate:ride", 1, (8, 0, 30)), finish=8),
        ),
        {("left_off", "on:engine_support")}, ("engine_support", "day 8"),
    ),
    "a test is made before work of its stretch": (
        lambda: moved(step("headlamp", 0, (5, 40, 55))), {("test_too_early", "gate:runs")},
        ("gate:runs", "day 4", "headlamp", "day 5"),
    ),
    "the last test is made first": (
        lambda: moved(
            step("gate:ride", 1, (4, 40, 60), (5, 0, 10)), step("job:j1", 1, (5, 10, 40)),
            step("on:engine_support", 1, (5, 40, 44)), step("gate:runs", 0, (7, 26, 46)),
        ),
        {
            ("test_too_early", "gate:ride"), ("before_part", "gate:ride"), ("cover_off_at_test", "gate:ride"),
            ("before_part", "tail_lamp"), ("cover_on", "gate:runs"), ("end_differs", "gate:ride"),
        },
        ("gate:ride", "day 4", "gate:runs"),
    ),
    "two things are done at once": (
        lambda: with_steps(step("off:seat_off", 0, (0, 29, 30))), {("overlap", "off:seat_off")},
        ("off:seat_off", "day 0", "minute 29", "cowl_bracket"),
    ),
    "a step stands behind one that comes later": (
        lambda: inserted((step("headlamp:try_on", 0, (0, 0, 10)), "off:seat_off"), course=without("headlamp:try_on")),
        {("overlap", "headlamp:try_on")},
        ("headlamp:try_on", "day 0", "cowl_bracket"),
    ),
    "a step runs backward": (
        lambda: with_steps(step("fuel_hose", 0, (1, 0, 13), (0, 53, 60))),
        {("overlap", "fuel_hose")}, ("fuel_hose", "day 1"),
    ),
    "a day off is worked": (
        lambda: with_steps(step("off:engine_support", 0, (2, 0, 8))), {("day_off", "off:engine_support")},
        ("off:engine_support", "day 2"),
    ),
    "a day behind the calendar is worked": (
        lambda: msgspec.structs.replace(with_steps(step("gate:ride", 1, (15, 0, 30))), finish_day=15),
        {("day_off", "gate:ride")}, ("gate:ride", "day 15"),
    ),
    "nobody is there to help": (
        lambda: moved(
            step("engine_mounts", 0, (3, 30, 70)),
            step("lever_brake_front:carry_over", 0, (3, 70, 80)),
            step("lever_brake_front", 0, (3, 80, 90), (4, 0, 5)),
            step("headlamp", 0, (4, 5, 20)),
        ),
        {("no_helper", "engine_mounts")}, ("engine_mounts", "day 3"),
    ),
    "what must not be left half done is": (
        lambda: moved(
            step("engine_mounts", 0, (4, 30, 60), (5, 0, 10)), step("gate:runs", 0, (5, 10, 30)),
            step("job:j1", 1, (5, 30, 60)), step("on:engine_support", 1, (7, 0, 4)),
            step("tail_lamp", 1, (8, 0, 25)), step("on:seat_off", 1, (8, 25, 26)),
            step("gate:ride", 1, (8, 26, 56)), finish=8,
        ),
        {("split", "engine_mounts")}, ("engine_mounts", "day 4", "day 5", "60 minutes"),
    ),
    "a job is interrupted by another": (
        lambda: with_steps(step("fuel_hose", 0, (0, 53, 60), (1, 15, 28)), step("on:tank_off", 0, (1, 0, 15))),
        {("split", "fuel_hose")}, ("fuel_hose", "on:tank_off", "day 1"),
    ),
    "another machine's evening is used": (
        lambda: with_steps(step("lever_brake_front:carry_over", 0, (3, 25, 35))),
        {("others_turn", "lever_brake_front:carry_over")},
        ("lever_brake_front:carry_over", "minute 25 of day 3", "minute 30"),
    ),
    "a key that means nothing": (
        lambda: inserted((step("job:j9", 1, (7, 56, 60)), "")), {("unknown", "job:j9")}, ("job:j9", "day 7"),
    ),
    "the putting right of what is sound": (
        lambda: inserted((step("fuel_pump", 0, (1, 30, 60), kind="follow_up"), "")), {("unknown", "fuel_pump")},
        ("fuel_pump", "day 1"),
    ),
    "a look that is called a job": (
        lambda: with_steps(step("look:spark", 0, (0, 43, 53), kind="job")),
        {("unknown", "look:spark"), ("missing", "look:spark")}, ("look:spark", "day 0"),
    ),
    "a wrong last day": (
        lambda: msgspec.structs.replace(workshop_course(), finish_day=6), {("end_differs", "gate:ride")},
        ("gate:ride", "day 6", "day 7"),
    ),
    "a finished course that is said never to end": (
        lambda: msgspec.structs.replace(workshop_course(), finish_day=None), {("end_differs", "gate:ride")},
        ("gate:ride", "day 7"),
    ),
    "a step with a wrong day": (
        lambda: with_steps(msgspec.structs.replace(steps_of(workshop_course())["fuel_hose"], day=0)),
        {("end_differs", "fuel_hose")}, ("fuel_hose", "day 0", "day 1"),
    ),
}


@pytest.mark.parametrize("title", BROKEN)
def test_a_broken_course_is_caught_under_the_right_name(title: str) -> None:
    make, expected, words = BROKEN[title]
    reasons = check(workshop(), make())
    assert codes(reasons) == expected
    said = [reason.words for reason in reasons]
    assert any(all(word in sentence for word in words) for sentence in said), said
    assert all(sentence.endswith(".") and "\n" not in sentence for sentence in said)


def test_the_trials_break_every_rule_there_is() -> None:
    from typing import get_args

    from wreckwright.plan.types import ReasonCode

    assert {code for _, expected, _ in BROKEN.values() for code, _ in expected} == set(get_args(ReasonCode))


# The good course, where the problem is another: expected sets hand-worked.
def changed(**fields: object) -> Problem:
    return replace(workshop(), **fields)  # type: ignore[arg-type]


def with_work(index: int, **fields: object) -> Problem:
    works = list(workshop().works)
    works[index] = replace(works[index], **fields)  # type: ignore[arg-type]
    return changed(works=tuple(works))


def one_row(row: list[int]) -> np.ndarray[tuple[int, ...], np.dtype[np.int32]]:
    return np.array([row], np.int32)


def test_a_test_waits_for_its_own_answers() -> None:
    reasons = check(changed(test_release_day=one_row([5, 8])), workshop_course())
    assert codes(reasons) == {("before_part", "gate:runs"), ("before_part", "gate:ride")}
    assert "gate:runs" in reasons[0].words and "day 4" in reasons[0].words and "day 5" in reasons[0].words


def test_a_part_that_never_comes_stops_its_work() -> None:
    release = workshop().release_day.copy()
    release[0, MOUNTS] = NEVER_DAY
    (found,) = check(changed(release_day=release), workshop_course())
    assert (found.code, found.key) == ("before_part", "engine_mounts") and "never comes" in found.words


def test_the_day_on_which_a_cure_ends_is_early_enough_and_the_day_before_is_not() -> None:
    # Glued on day 0, the lamp goes on on day 3; the test before it in the course is made on day 4.
    assert check(with_work(BRACKET, cure_days=3), workshop_course()) == []
    assert codes(check(with_work(BRACKET, cure_days=4), workshop_course())) == {("before_cure", "headlamp")}
    assert codes(check(with_work(BRACKET, cure_days=5), workshop_course())) == {
        ("before_cure", "headlamp"), ("before_cure", "gate:runs")
    }


def test_a_held_part_counts_from_the_day_of_the_yes() -> None:
    held = workshop().held[0]
    assert check(changed(held=(replace(held, days=np.array([3])),)), workshop_course()) == []
    assert codes(check(changed(held=(replace(held, days=np.array([4])),)), workshop_course())) == {
        ("before_part", "tail_lamp")
    }


def found_fault(*, day: int, lead_days: int) -> tuple[Problem, Course]:
    """The pump is bad, which the look for a spark shows on day 0; it is put right after the hose, on `day`."""
    present, lead, minutes = workshop().present.copy(), workshop().lead_days.copy(), workshop().minutes.copy()
    present[0, PUMP], lead[0, PUMP], minutes[0, PUMP] = True, lead_days, 30
    problem = changed(present=present, lead_days=lead, minutes=minutes)
    begun = (day, 13, 43)
    course = moved(step("fuel_pump", 0, begun, kind="follow_up"),
                   step("on:tank_off", 0, (day, 43, 58)),
                   step("off:engine_support", 0, (3, 30, 38)),
                   step("lever_brake_front:carry_over", 0, (3, 38, 48)),
                   step("lever_brake_front", 0, (3, 48, 63)),
                   step("headlamp", 0, (3, 63, 78)))
    return problem, course


def test_a_hidden_fault_is_put_right_once_it_is_found_and_its_part_is_here() -> None:
    assert check(*found_fault(day=1, lead_days=1)) == []
    reasons = check(*found_fault(day=1, lead_days=2))
    assert codes(reasons) == {("before_part", "fuel_pump")}
    assert all(word in reasons[0].words for word in ("fuel_pump", "look:spark", "day 0", "day 2"))


def test_a_hidden_fault_cannot_be_put_right_before_it_is_found() -> None:
    problem, course = found_fault(day=1, lead_days=0)
    steps = [entry for entry in course.steps if entry.key not in ("look:spark", "fuel_pump")]
    place = next(i for i, entry in enumerate(steps) if entry.key == "fuel_hose")
    steps[place : place + 1] = [
        step("fuel_pump", 0, (0, 43, 60), (1, 0, 13), kind="follow_up"), step("look:spark", 0, (1, 13, 23)),
        step("fuel_hose", 0, (1, 23, 43)),
    ]
    assert codes(check(problem, replace_steps(course, steps))) == {("before_predecessor", "fuel_pump")}


def test_what_overlooks_a_fault_does_not_bring_it_to_light() -> None:
    # Both the look for a spark (day 0) and fitting the hose (day 1) could show the pump; it is put right on day 1.
    problem, course = found_fault(day=1, lead_days=1)
    works = list(problem.works)
    works[HOSE] = replace(works[HOSE], shows=(PUMP,))
    both = replace(problem, works=tuple(works))
    assert check(both, course) == []
    # Entries of `says` stand in the order of the works: the hose, then the look.
    assert check(replace(both, says=np.array([[False, True]])), course) == []
    (found,) = check(replace(both, says=np.array([[True, False]])), course)
    assert (found.code, found.key) == ("before_part", "fuel_pump")
    assert all(word in found.words for word in ("fuel_hose", "day 1", "day 2"))


def test_a_fault_that_nothing_shows_is_known_from_the_beginning() -> None:
    problem, course = found_fault(day=1, lead_days=9)
    works = list(problem.works)
    works[SPARK] = replace(works[SPARK], shows=())
    assert check(replace(problem, works=tuple(works)), course) == []


def test_a_fault_found_behind_its_test_may_be_put_right_there_and_only_then() -> None:
    # The pump was to be right for the first test; it shows when the tail lamp is fitted, long after.
    present, minutes = workshop().present.copy(), workshop().minutes.copy()
    present[0, PUMP], minutes[0, PUMP] = True, 10
    course = moved(
        step("fuel_pump", 1, (7, 25, 35), kind="follow_up"), step("on:seat_off", 1, (7, 35, 36)),
        step("gate:ride", 1, (8, 0, 30)), finish=8,
    )

    def shown_by(finder: int) -> Problem:
        works = [replace(work, shows=(PUMP,) if j == finder else ()) for j, work in enumerate(workshop().works)]
        works[PUMP] = replace(works[PUMP], last_stage=0, covers=())
        return changed(works=tuple(works), present=present, minutes=minutes, lead_days=one_row([0] * len(works)))

    assert check(shown_by(TAIL), course) == []
    (found,) = check(shown_by(CARRY), course)
    assert (found.code, found.key) == ("wrong_stretch", "fuel_pump")
    assert "stretch 1 on day 7" in found.words and "before gate:runs" in found.words


def replace_steps(course: Course, steps: list[Step]) -> Course:
    return msgspec.structs.replace(course, steps=tuple(steps))


def test_a_found_fault_forgotten_is_missing() -> None:
    problem, course = found_fault(day=1, lead_days=0)
    steps = [entry for entry in course.steps if entry.key != "fuel_pump"]
    assert codes(check(problem, replace_steps(course, steps))) == {("missing", "fuel_pump")}


def test_work_that_came_after_something_not_yet_found_may_go_first() -> None:
    # The lever would come after the pump, but when it is fitted, nobody knows of the pump yet.
    problem, course = found_fault(day=1, lead_days=0)
    works = list(problem.works)
    works[CARRY] = replace(works[CARRY], after=(PUMP,))
    works[SPARK] = replace(works[SPARK], after=())
    assert check(replace(problem, works=tuple(works)), course) == []  # known by then: it is after it, and so it stands
    works[0] = replace(works[0], after=(PUMP,))  # tried on at minute 0 of day 0, the pump is found at minute 53
    assert check(replace(problem, works=tuple(works)), course) == []


def test_work_longer_than_any_evening_to_come_may_be_left_half_done() -> None:
    minutes = workshop().minutes.copy()
    minutes[0, MOUNTS] = 70
    course = moved(
        step("engine_mounts", 0, (4, 0, 60), (5, 0, 10)), step("gate:runs", 0, (5, 10, 30)),
        step("job:j1", 1, (5, 30, 60)), step("on:engine_support", 1, (7, 0, 4)),
        step("tail_lamp", 1, (8, 0, 25)), step("on:seat_off", 1, (8, 25, 26)),
        step("gate:ride", 1, (8, 26, 56)), finish=8,
    )
    assert check(changed(minutes=minutes), course) == []


def test_work_that_just_fits_into_an_evening_must_not_be_split() -> None:
    minutes = workshop().minutes.copy()
    minutes[0, MOUNTS] = 60
    course = moved(
        step("engine_mounts", 0, (4, 10, 60), (5, 0, 10)), step("gate:runs", 0, (5, 10, 30)),
        step("job:j1", 1, (5, 30, 60)), step("on:engine_support", 1, (7, 0, 4)),
        step("tail_lamp", 1, (8, 0, 25)), step("on:seat_off", 1, (8, 25, 26)),
        step("gate:ride", 1, (8, 26, 56)), finish=8,
    )
    assert codes(check(changed(minutes=minutes), course)) == {("split", "engine_mounts")}


def test_only_evenings_to_come_count_for_work_that_must_not_be_split() -> None:
    # The hose (20 minutes, begun late on day 0) would fit into an evening of 60 minutes.
    assert codes(check(with_work(HOSE, may_split=False), workshop_course())) == {("split", "fuel_hose")}
    # The bracket (20 minutes) over two evenings of 15: the long evening has gone by, or is still to come.
    problem = bracket_problem(60, 15, 15, 15)
    assert check(problem, bracket_alone((1, 0, 15), (2, 0, 5))) == []
    assert codes(check(bracket_problem(15, 15, 15, 60), bracket_alone((1, 0, 15), (2, 0, 5)))) == {
        ("split", "cowl_bracket")
    }


def bracket_problem(*minutes: int) -> Problem:
    """The bracket alone, which must not be left half done, and a road test of no minutes."""
    problem = workshop()
    return replace(
        problem, works=(replace(problem.works[BRACKET], may_split=False, cure_days=0),), covers=(),
        tests=(replace(problem.tests[1]),), minutes=one_row([20]), present=np.array([[True]]),
        off_minutes=np.zeros((1, 0), np.int32), on_minutes=np.zeros((1, 0), np.int32), test_minutes=one_row([0]),
        release_day=one_row([0]), lead_days=one_row([0]), test_release_day=one_row([0]), held=(),
        way_days=one_row([0]), way_minutes=one_row([0]), helper_day=None, begin_minute=None,
        hours=replace(problem.hours, calendar=Calendar(cumulative_minutes=np.cumsum([0, *minutes]))),
    )


def bracket_alone(*pieces: tuple[int, int, int]) -> Course:
    ride = Step(key="gate:ride", kind="gate", stage=0, pieces=(), day=pieces[-1][0])
    return Course(steps=(step("cowl_bracket", 0, *pieces), ride), finish_day=ride.day)


def test_a_step_may_stand_in_two_pieces_without_a_gap() -> None:
    assert check(bracket_problem(60), bracket_alone((0, 0, 12), (0, 12, 20))) == []
    assert codes(check(bracket_problem(60), bracket_alone((0, 0, 12), (0, 13, 21)))) == {("split", "cowl_bracket")}
    assert ("overlap", "cowl_bracket") in codes(check(bracket_problem(60), bracket_alone((0, 0, 20), (0, 20, 20))))


def test_what_takes_no_minutes_has_a_day_all_the_same() -> None:
    problem = replace(bracket_problem(60, 0, 60), test_release_day=one_row([2]))
    good = bracket_alone((0, 0, 20))
    ride = msgspec.structs.replace(good.steps[1], day=2)
    assert check(problem, Course(steps=(good.steps[0], ride), finish_day=2)) == []
    assert codes(check(problem, good)) == {("before_part", "gate:ride")}
    late = msgspec.structs.replace(ride, day=3)
    assert codes(check(problem, Course(steps=(good.steps[0], late), finish_day=3))) == {("day_off", "gate:ride")}
    before = (ride, msgspec.structs.replace(good.steps[0]))
    assert ("overlap", "cowl_bracket") in codes(check(problem, Course(steps=before, finish_day=2)))


def test_a_course_off_the_calendar_may_leave_work_out_but_not_break_rules() -> None:
    some = tuple(workshop_course().steps[:10])
    assert check(workshop(), Course(steps=some, finish_day=None)) == []
    broken = (*some[:8], some[9], some[8])
    assert codes(check(workshop(), Course(steps=broken, finish_day=None))) >= {
        ("before_predecessor", "lever_brake_front")
    }


def test_a_share_of_each_evening_is_worked() -> None:
    # 14 days of 60 minutes worked by half: ceil(60 / 2) = 30 of each, so whatever goes past minute 30 is too long.
    problem = workshop()
    half = replace(problem, hours=replace(problem.hours, attendance_permille=np.array([500])))
    reasons = check(half, workshop_course())
    assert {reason.code for reason in reasons} == {"too_long"}
    assert {(reason.key) for reason in reasons} == {
        "off:seat_off", "off:tank_off", "look:spark", "fuel_hose", "off:engine_support", "headlamp", "engine_mounts",
        "gate:runs", "on:engine_support", "gate:ride",
    }


def test_helpers_for_covers_and_tests() -> None:
    covers = tuple(replace(cover, helper=cover.key == "engine_support") for cover in workshop().covers)
    tests = tuple(replace(test, helper=True) for test in workshop().tests)
    assert codes(check(changed(covers=covers, tests=tests), workshop_course())) == {
        ("no_helper", "off:engine_support"), ("no_helper", "on:engine_support"), ("no_helper", "gate:ride")
    }
    assert check(changed(covers=covers, tests=tests, helper_day=None), workshop_course()) == []


def test_only_one_scenario_in_which_tests_pass() -> None:
    problem = workshop()
    with pytest.raises(ValueError, match="2 scenarios"):
        check(replace(problem, minutes=np.repeat(problem.minutes, 2, axis=0)), workshop_course())
    with pytest.raises(ValueError, match="ends in no"):
        check(replace(problem, way_days=one_row([3, 0])), workshop_course())


# Laws, on courses of a plain dispatcher.


@settings(max_examples=300)
@given(st.integers(0, 10**9), st.integers(0, 10**9))
def test_what_a_plain_dispatcher_lays_out_can_be_kept(seed: int, order: int) -> None:
    problem = random_problem(seed)
    assert check(problem, plain_course(problem, order)) == []


@settings(max_examples=200)
@given(st.integers(0, 10**9), st.data())
def test_leaving_out_any_step_is_noticed(seed: int, data: st.DataObject) -> None:
    problem = random_problem(seed)
    course = plain_course(problem, seed)
    gone = data.draw(st.sampled_from(course.steps))
    assert check(problem, replace_steps(course, [entry for entry in course.steps if entry is not gone])) != []


@settings(max_examples=200)
@given(st.integers(0, 10**9), st.data())
def test_taking_a_minute_from_any_step_is_noticed(seed: int, data: st.DataObject) -> None:
    problem = random_problem(seed)
    course = plain_course(problem, seed)
    worked = [entry for entry in course.steps if entry.pieces]
    if not worked:
        return
    cut = data.draw(st.sampled_from(worked))
    *pieces, last = cut.pieces
    if last.to_minute - last.from_minute > 1:
        pieces.append(msgspec.structs.replace(last, to_minute=last.to_minute - 1))
    short = msgspec.structs.replace(cut, pieces=tuple(pieces))
    steps = [short if entry is cut else entry for entry in course.steps]
    assert ("too_short", cut.key) in codes(check(problem, replace_steps(course, steps)))


@settings(max_examples=200)
@given(st.integers(0, 10**9), st.data())
def test_swapping_a_job_with_what_it_comes_after_is_noticed(seed: int, data: st.DataObject) -> None:
    problem = random_problem(seed)
    course = plain_course(problem, seed)
    place = {entry.key: i for i, entry in enumerate(course.steps)}
    pairs = [
        (place[problem.works[i].key], place[work.key])
        for work in problem.works for i in work.after
        if work.key in place and problem.works[i].key in place
    ]
    if not pairs:
        return
    first, second = data.draw(st.sampled_from(pairs))
    steps = list(course.steps)
    steps[first], steps[second] = steps[second], steps[first]
    found = codes(check(problem, replace_steps(course, steps)))
    assert ("before_predecessor", course.steps[second].key) in found


@settings(max_examples=200)
@given(st.integers(0, 10**9), st.randoms(use_true_random=False))
def test_no_course_however_wrong_is_too_much(seed: int, rng: random.Random) -> None:
    problem = random_problem(seed)
    steps = list(plain_course(problem, seed).steps)
    rng.shuffle(steps)
    for n in range(len(steps)):
        changes: dict[str, object] = {
            "day": rng.randint(-3, 500), "stage": rng.randint(-2, 9), "key": rng.choice(["", "gate:", "off:c0", "w0"]),
            "kind": rng.choice(["job", "look", "follow_up", "gate", "off", "on"]),
            "pieces": tuple(
                Piece(day=rng.randint(-3, 500), from_minute=rng.randint(-9, 99), to_minute=rng.randint(-9, 99))
                for _ in range(rng.randint(0, 3))
            ),
        }
        name = rng.choice(["", *changes])
        if name:
            steps[n] = msgspec.structs.replace(steps[n], **{name: changes[name]})
    course = Course(steps=tuple(steps), finish_day=rng.choice([None, -1, 7]))
    for found in check(problem, course):
        assert found.key == found.key.strip() and found.words.endswith(".") and "\n" not in found.words
