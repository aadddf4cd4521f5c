from __future__ import annotations

from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.plan.calm_cases import calm_case
from tests.plan.small_problems import Job, small_problem
from wreckwright.plan.closed_form import finish_clock
from wreckwright.plan.moves import Moves
from wreckwright.plan.problem import problem_of
from wreckwright.plan.search import improve, improve_from, judge, judged
from wreckwright.plan.tables import table_of
from wreckwright.plan.types import CoverWork, Problem, Weights
from wreckwright.plan.types import Test as PlanTest

THREE = tuple(PlanTest(key=f"gate:{t}", name=t, covers_on=(0,) if t == "b" else ()) for t in "abc")


def tiny(seed: int) -> Problem:
    """Seven jobs with some freedom, two covers, three tests."""
    rng = np.random.default_rng(seed)
    jobs = [
        Job(
            key=f"job {j}", minutes=int(rng.integers(5, 60)), first=int(rng.integers(0, 2)), last=2,
            after=(j - 1,) if j and rng.random() < 0.3 else (), covers=((), (0,), (1,))[int(rng.integers(0, 3))],
            here=int(rng.integers(0, 12)),
        )
        for j in range(7)
    ]
    covers = (CoverWork(key="seat", name="seat"), CoverWork(key="tank", name="tank", under=(0,)))
    return small_problem(jobs, covers=covers, off=[12, 20], on=[15, 25], tests=THREE, test_minutes=[10, 10, 30])


def in_order(problem: Problem, row: tuple[int, ...]) -> bool:
    return all(row[i] <= row[j] for j, work in enumerate(problem.works) for i in work.after)


@pytest.mark.parametrize("seed", range(6))
def test_it_finds_the_best_of_all_plans_of_a_tiny_rebuild(seed: int) -> None:
    problem = tiny(seed)
    ranges = [range(work.first_stage, work.last_stage + 1) for work in problem.works]
    every = np.array([row for row in product(*ranges) if in_order(problem, row)], np.int32)
    best = judged(table_of(problem), every, Weights()).min()
    found = improve(problem, {work.key: work.last_stage for work in problem.works}, moves=1500, seed=1)
    assert found.score == pytest.approx(best)  # independent: every plan was tried


@given(st.integers(0, 400), st.integers(0, 5))
def test_a_plan_found_is_never_worse_and_keeps_every_range_and_order(case_seed: int, seed: int) -> None:
    case = calm_case(case_seed, futures=3)
    problem = problem_of(case.rebuild, None, case.worlds, case.policy)
    begin = {work.key: work.last_stage for work in problem.works}
    found = improve(problem, begin, moves=48, seed=seed)
    assert found.score <= found.score_before  # law
    assert found.score_before == pytest.approx(judge(problem, begin))
    row = tuple(found.stages[work.key] for work in problem.works)
    steps = Moves(problem)
    for j, work in enumerate(problem.works):
        assert work.first_stage <= row[j] <= work.last_stage
        if all(steps.first[i] <= steps.last[i] for i in (j, *work.after)):  # a range that leaves room for its order
            assert all(row[i] <= row[j] for i in work.after)


def test_the_same_arguments_give_the_same_plan_and_the_score_is_that_of_the_plan() -> None:
    problem, weights = tiny(11), Weights(finish=1.0, first_test=2.0, hands_on=0.5)
    begin = {work.key: work.last_stage for work in problem.works}
    first, second = (improve(problem, begin, moves=300, seed=4, weights=weights) for _ in range(2))
    assert first == second
    assert first.score == pytest.approx(finish_clock(problem, first.stages, weights=weights).mean)


def test_it_tells_how_far_it_is_and_stops_when_told() -> None:
    problem = tiny(2)
    begin = {work.key: work.last_stage for work in problem.works}
    told: list[tuple[float, float]] = []
    improve(problem, begin, moves=200, tell=lambda share, score: told.append((share, score)))
    shares, best = [share for share, _ in told], [score for _, score in told]
    assert shares == sorted(shares) and shares[-1] == 1.0 and best == sorted(best, reverse=True)
    asked: list[bool] = []

    def stop() -> bool:
        asked.append(True)
        return len(asked) > 3

    found = improve(problem, begin, moves=100_000, stop=stop)
    assert found.moves < 100 and set(found.stages) == set(begin)


def test_a_rebuild_without_any_freedom_is_left_as_it_is() -> None:
    problem = small_problem([Job(key="a"), Job(key="b", after=(0,))])
    found = improve(problem, {"a": 0, "b": 0}, moves=100)
    assert found.stages == {"a": 0, "b": 0} and found.moves == 0


def test_hands_on_minutes_alone_gather_all_work_behind_a_cover() -> None:
    """Two jobs behind the tank, one only possible before test a, the other free: once off is cheaper than twice."""
    jobs = [Job(key="hose", covers=(0,)), Job(key="plugs", covers=(0,), last=2), Job(key="paint", last=2)]
    tests = tuple(replace(test, covers_on=(0,)) for test in THREE)
    problem = small_problem(
        jobs, covers=(CoverWork(key="tank", name="tank"),), off=[20], on=[25], tests=tests, test_minutes=[10, 10, 10]
    )
    found = improve(
        problem, {"hose": 0, "plugs": 2, "paint": 2}, moves=200, weights=Weights(finish=0.0, first_test=0.0)
    )
    # hand-worked: 3 jobs of 10, 3 tests of 10, the tank once 45
    assert found.stages["plugs"] == 0 and found.score == pytest.approx(30 + 30 + 45)


def test_two_starts_share_the_changes_and_the_best_is_kept() -> None:
    problem = tiny(3)
    early = {work.key: work.first_stage for work in problem.works}
    late = {work.key: work.last_stage for work in problem.works}
    told: list[tuple[float, float]] = []
    found = improve_from(problem, (early, late), moves=640, seed=4, tell=lambda *one: told.append(one))
    single = [improve(problem, start, moves=320, seed=4) for start in (early, late)]
    assert found.score == min(one.score for one in single)
    assert found.score_before == min(one.score_before for one in single)
    assert found.moves == sum(one.moves for one in single) == 640
    shares, scores = zip(*told, strict=True)
    assert list(shares) == sorted(shares) and shares[-1] == 1.0
    # What is told is the best so far, over both.
    assert all(a >= b for a, b in zip(scores, scores[1:], strict=False)) and scores[-1] == found.score
