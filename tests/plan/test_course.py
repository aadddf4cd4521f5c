from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.plan.calm_cases import calm_case, course_case, stages_of
from tests.plan.good_courses import workshop
from tests.plan.small_problems import Job, small_problem
from wreckwright.errors import AnswerError
from wreckwright.plan.check import check
from wreckwright.plan.closed_form import finish_clock
from wreckwright.plan.course import course_of
from wreckwright.plan.problem import problem_of, usual_problem
from wreckwright.plan.ranks import order_of
from wreckwright.plan.types import Course, CoverWork, Plan, Problem

RIDE = "gate:ride"


def laid(problem: Problem, *order: str) -> Course:
    """The course of doing everything as early as its range allows, in this order."""
    return course_of(problem, Plan(stages={work.key: work.first_stage for work in problem.works}, order=order))


def told(course: Course) -> list[tuple[str, list[tuple[int, int, int]]]]:
    return [(s.key, [(p.day, p.from_minute, p.to_minute) for p in s.pieces]) for s in course.steps]


@given(st.integers(0, 4000))
@settings(max_examples=200)
def test_every_course_passes_the_checker(seed: int) -> None:
    problem, plan = course_case(seed)
    course = course_of(problem, plan)
    assert check(problem, course) == []  # independent: shares no code with the planner
    if course.finish_day is not None:
        done = {step.key for step in course.steps}
        assert {work.key for j, work in enumerate(problem.works) if problem.present[0, j]} <= done


def test_a_course_of_usual_figures_ends_on_the_day_of_the_closed_form() -> None:
    finished = 0
    for seed in range(150):
        case = calm_case(seed)
        problem = usual_problem(case.rebuild, None, case.worlds, case.policy)
        stages = stages_of(problem, case)
        course = course_of(problem, Plan(stages=stages, order=order_of(problem, stages)))
        end = finish_clock(problem, stages).finish
        if course.finish_day is None:
            assert end[0] == problem.hours.end_of_calendar[0] or problem.hours.end_of_calendar[0] == 0
            continue
        finished += 1
        assert course.finish_day == problem.hours.day(np.array([0]), end)[0]  # independent
        assert check(problem, course) == []
    assert finished > 80


def test_work_is_split_at_the_end_of_an_evening_and_goes_on_in_the_next() -> None:
    problem = small_problem([Job(key="wheel", minutes=80)], evenings=[60, 0, 60, 60])
    # hand-worked: 60 on day 0, 20 on day 2; the ride of 30 behind it
    course = laid(problem, "wheel", RIDE)
    assert told(course) == [("wheel", [(0, 0, 60), (2, 0, 20)]), (RIDE, [(2, 20, 50)])]
    assert course.finish_day == 2


def test_what_must_not_be_left_half_done_waits_for_an_evening_that_is_long_enough() -> None:
    jobs = [Job(key="bleed", minutes=50, may_split=False), Job(key="horn", minutes=20), Job(key="lamp", minutes=30)]
    problem = small_problem(jobs, evenings=[40, 45, 90, 60])
    # hand-worked: no evening before day 2 is long enough; the others fill the time
    course = laid(problem, "bleed", "horn", "lamp", RIDE)
    assert told(course) == [
        ("horn", [(0, 0, 20)]), ("lamp", [(0, 20, 40), (1, 0, 10)]), ("bleed", [(2, 0, 50)]), (RIDE, [(2, 50, 80)]),
    ]
    longer = small_problem([replace(jobs[0], minutes=200)], evenings=[40, 45, 90, 60, 60])
    # hand-worked: no evening is long enough at all, so it is split: 40 + 45 + 90 + 25
    assert told(laid(longer, "bleed", RIDE))[0] == ("bleed", [(0, 0, 40), (1, 0, 45), (2, 0, 90), (3, 0, 25)])


def test_what_takes_two_is_begun_on_a_helper_day_and_evenings_begin_where_others_have_ended() -> None:
    jobs = [Job(key="engine", minutes=30, helper=True), Job(key="horn", minutes=20)]
    problem = small_problem(
        jobs, evenings=[60, 60, 40], helper_day=[False, False, True], begin_minute=[0, 15, 25], test_minutes=[10]
    )
    # hand-worked: on day 2 the evening is ours from minute 25 on
    assert told(laid(problem, "engine", "horn", RIDE)) == [
        ("horn", [(0, 0, 20)]), ("engine", [(2, 25, 55)]), (RIDE, [(2, 55, 65)]),
    ]


def test_parts_cures_and_held_orders_are_counted_in_days() -> None:
    jobs = [Job(key="glue", minutes=10, cure=2), Job(key="paint", minutes=10, after=(0,)), Job(key="lever", here=1)]
    problem = small_problem(jobs, test_minutes=[5])
    # hand-worked: glued on day 0, painted on day 2; the lever comes on day 1
    assert [(s.key, s.day) for s in laid(problem, "glue", "paint", "lever", RIDE).steps] == [
        ("glue", 0), ("lever", 1), ("paint", 2), (RIDE, 2),
    ]


def test_covers_come_off_for_what_wants_them_and_are_on_for_the_test() -> None:
    covers = (CoverWork(key="seat", name="seat"), CoverWork(key="tank", name="tank", under=(0,)))
    problem = small_problem([Job(key="hose", covers=(1,))], covers=covers, off=[5, 6], on=[7, 8])
    course = laid(problem, "on:seat", "on:tank", "off:tank", "off:seat", RIDE, "hose")
    assert [step.key for step in course.steps] == ["off:seat", "off:tank", "hose", "on:tank", "on:seat", RIDE]


def test_a_follow_up_is_there_once_it_has_been_seen() -> None:
    jobs = [Job(key="look", kind="look", shows=(1,)), Job(key="pump", kind="follow_up", lead=2), Job(key="horn")]
    problem = small_problem(jobs)
    course = laid(problem, "pump", "look", "horn", RIDE)
    assert [(s.key, s.day) for s in course.steps] == [("look", 0), ("horn", 0), ("pump", 2), (RIDE, 2)]  # hand-worked


def test_what_cannot_be_done_within_the_calendar_ends_the_course() -> None:
    problem = small_problem([Job(key="wheel", here=99), Job(key="horn")], evenings=[60, 60])
    course = laid(problem, "wheel", "horn", RIDE)
    assert course.finish_day is None and [step.key for step in course.steps] == ["horn"]
    assert check(problem, course) == []


def test_the_workshop_of_the_checker_gets_a_course_that_passes() -> None:
    problem = workshop()
    stages = {work.key: work.last_stage for work in problem.works}
    course = course_of(problem, Plan(stages=stages, order=order_of(problem, stages)))
    assert course.finish_day is not None and check(problem, course) == []


def test_a_course_wants_one_scenario() -> None:
    case = calm_case(1)
    problem = problem_of(case.rebuild, None, case.worlds, case.policy)
    with pytest.raises(AnswerError, match="3 scenarios"):
        course_of(problem, Plan(stages=stages_of(problem, case), order=()))


def test_what_is_tested_closed_up_waits_until_its_cover_is_back_on() -> None:
    """Coolant out, hose on, filled, then the pressure test, then the next cover; unless a later job wants it open."""
    covers = (CoverWork(key="stand", name="stand"), CoverWork(key="coolant", name="coolant", under=(0,)))
    jobs = [Job(key="hose", covers=(1,)), Job(key="pressure", after=(0,))]
    problem = small_problem(jobs, covers=covers, off=[5, 5], on=[5, 5])
    closed = replace(problem, works=(problem.works[0], replace(problem.works[1], shut=(1,))))
    plan = Plan(stages={"hose": 0, "pressure": 0}, order=order_of(closed, {"hose": 0, "pressure": 0}))
    keys = [step.key for step in course_of(closed, plan).steps]
    assert keys == ["off:stand", "off:coolant", "hose", "on:coolant", "pressure", "on:stand", "gate:ride"]
    assert check(closed, course_of(closed, plan)) == []

    # Laid out as if it did not matter, it is tested empty: the checker says so.
    early = course_of(problem, Plan(stages=plan.stages, order=("hose", "pressure")))
    assert [step.key for step in early.steps][2:4] == ["hose", "pressure"]
    assert [(reason.code, reason.key) for reason in check(closed, early)] == [("cover_off_at_test", "pressure")]

    # A job that comes after the test and wants the coolant out again: nobody fills it in between.
    again = small_problem([*jobs, Job(key="thermostat", covers=(1,), after=(1,))], covers=covers, off=[5, 5], on=[5, 5])
    again = replace(again, works=(again.works[0], replace(again.works[1], shut=(1,)), again.works[2]))
    course = course_of(again, Plan(stages={job: 0 for job in ("hose", "pressure", "thermostat")}, order=()))
    assert course.finish_day == 1 and check(again, course) == []
