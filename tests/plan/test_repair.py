from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from tests.plan.calm_cases import course_case
from tests.plan.small_problems import Job, small_problem
from wreckwright.plan.moves import Moves
from wreckwright.plan.repair import carried_over
from wreckwright.plan.types import CoverWork, Plan, Problem
from wreckwright.plan.types import Test as PlanTest

TANK = (CoverWork(key="tank", name="tank"),)


def three_tests(jobs: list[Job], tests: str = "abc") -> Problem:
    return small_problem(
        jobs, covers=TANK, off=[10], on=[10], tests=[PlanTest(key=f"gate:{t}", name=t) for t in tests],
        test_minutes=[10] * len(tests),
    )


OLD = Plan(stages={"hose": 1, "lamp": 2, "gone": 0}, order=("hose", "lamp", "gone", "gate:a", "gate:b", "gate:c"))


def test_what_stands_is_kept_what_is_gone_dropped_and_new_work_goes_where_its_cover_is_off() -> None:
    jobs = [Job(key="hose", last=2, covers=(0,)), Job(key="lamp", last=2), Job(key="plugs", last=2, covers=(0,)),
            Job(key="horn", last=2), Job(key="mirror", first=2, last=2, covers=(0,))]
    found = carried_over(OLD, three_tests(jobs))
    # hand-worked: the tank is off in stretch 1; the mirror may not come before 2, where nothing opens it
    assert found == {"hose": 1, "lamp": 2, "plugs": 1, "horn": 0, "mirror": 2}


def test_when_a_test_has_been_passed_the_rest_moves_up() -> None:
    jobs = [Job(key="hose", last=1), Job(key="lamp", last=1), Job(key="gone", last=1)]
    assert carried_over(OLD, three_tests(jobs, "bc")) == {"hose": 0, "lamp": 1, "gone": 0}  # hand-worked
    assert carried_over(OLD, three_tests(jobs, "c")) == {"hose": 0, "lamp": 0, "gone": 0}


def test_a_new_test_in_between_leaves_work_before_the_test_it_was_before() -> None:
    jobs = [Job(key="hose", last=3), Job(key="lamp", last=3), Job(key="gone", last=3)]
    assert carried_over(OLD, three_tests(jobs, "axbc")) == {"hose": 2, "lamp": 3, "gone": 0}  # hand-worked


def test_a_range_or_an_order_that_has_changed_is_obeyed() -> None:
    jobs = [Job(key="hose", first=2, last=2), Job(key="lamp", last=2, after=(0,)), Job(key="gone", last=2, after=(0,))]
    assert carried_over(OLD, three_tests(jobs)) == {"hose": 2, "lamp": 2, "gone": 2}  # hand-worked


@given(st.integers(0, 200), st.integers(0, 200))
def test_any_old_plan_becomes_a_plan(old_seed: int, seed: int) -> None:
    _, old = course_case(old_seed)
    problem, _ = course_case(seed)
    found = carried_over(old, problem)
    steps = Moves(problem)
    for j, work in enumerate(problem.works):
        assert work.first_stage <= found[work.key] <= work.last_stage or steps.first[j] > steps.last[j]  # law
        for i in work.after:
            assert found[problem.works[i].key] <= found[work.key] or steps.first[i] > steps.last[j]
    again = Plan(stages=found, order=tuple(test.key for test in problem.tests))
    assert carried_over(again, problem) == found  # law: what fits is left alone
