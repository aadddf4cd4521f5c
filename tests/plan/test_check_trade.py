"""Facts of the trade as plans: a real record's course, and what the checker says when hands do it the wrong way round.

Expected: common practice (each fact is a row of the trade data).
"""

from __future__ import annotations

from functools import cache

import msgspec
import pytest

from tests.futures.made_known import TRADE, known
from wreckwright.futures.draw import draw
from wreckwright.futures.start_policy import start_policy
from wreckwright.plan.check import check
from wreckwright.plan.course import course_of
from wreckwright.plan.problem import usual_problem
from wreckwright.plan.types import Course, Plan, Problem, Reason, Step

RECORD = """
nickname = "Teasel"
machine_class = "tourer"
year = 2019
what_hit = "right"
findings = ["engine mounts bent", "front brake lever snapped", "cowl bracket bent", "headlight smashed"]
remedies = [
  { component = "lever_brake_front", remedy = "genuine" }, { component = "cowl_bracket", remedy = "genuine" },
  { component = "headlamp", remedy = "genuine" }, { component = "engine_mounts", remedy = "genuine" },
]
purchase = { bought = true, price_minor = 210000 }
market = { sound_value_minor = 640000 }
"""


@cache
def teasel() -> tuple[Problem, Course]:
    drawn = draw(known(RECORD), TRADE, n=40)
    policy = start_policy(drawn.compiled, drawn.worlds, drawn.known)
    problem = usual_problem(drawn.compiled, None, drawn.worlds, policy)
    stages = dict(zip((plan.key for plan in drawn.compiled.slots), policy.stage, strict=True))
    plan = Plan(stages={work.key: stages[work.key] for work in problem.works}, order=())
    return problem, course_of(problem, plan)


def step_of(key: str) -> Step:
    return next(step for step in teasel()[1].steps if step.key == key)


def in_each_others_place(first: str, second: str) -> list[Reason]:
    """Reasons against the course in which two steps have changed places."""
    problem, course = teasel()
    steps = list(course.steps)
    i, j = (next(n for n, step in enumerate(steps) if step.key == key) for key in (first, second))
    assert i < j
    steps[i], steps[j] = steps[j], steps[i]
    return check(problem, msgspec.structs.replace(course, steps=tuple(steps)))


def test_the_course_of_a_record_can_be_kept() -> None:
    problem, course = teasel()
    assert check(problem, course) == []
    assert course.finish_day is not None


def test_an_engine_mount_is_not_opened_before_the_engine_is_supported() -> None:
    problem, course = teasel()
    mounts = [work for work in problem.works if work.key.split(":")[0] == "engine_mounts" and work.covers]
    assert mounts
    without = [step for step in course.steps if step.key not in ("off:engine_support", "on:engine_support")]
    assert len(without) == len(course.steps) - 2
    found = check(problem, msgspec.structs.replace(course, steps=tuple(without)))
    caught = {reason.key for reason in found if reason.code == "cover_on" and "engine_support" in reason.words}
    assert "engine_mounts" in caught


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ("lever_brake_front:carry_over", "lever_brake_front"),  # the pivot bush is in the new lever before it is fitted
        ("lever_brake_front:try_on", "lever_brake_front:carry_over"),  # nothing is moved over to what does not fit
        ("cowl_bracket", "headlamp"),  # no lamp on a mount that is not there
    ],
)
def test_what_comes_first_in_the_trade_comes_first(first: str, second: str) -> None:
    found = [reason for reason in in_each_others_place(first, second) if reason.code == "before_predecessor"]
    assert second in {reason.key for reason in found}
    (words,) = {reason.words for reason in found if reason.key == second and f"({first})" in reason.words}
    assert f"day {step_of(second).pieces[0].day}" in words
