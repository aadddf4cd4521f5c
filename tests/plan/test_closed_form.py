"""The closed form against the simulator: to the minute where it is exact, within a bound where it is not."""

from __future__ import annotations

from dataclasses import replace
from itertools import permutations

import numpy as np
import pytest

from tests.futures.made_known import TRADE, known
from tests.plan.calm_cases import calm_case, stages_of
from tests.plan.small_problems import Job, small_problem
from wreckwright.errors import AnswerError
from wreckwright.futures.draw import draw, play
from wreckwright.futures.policy import Policy
from wreckwright.futures.rebuild import FINISHED, OFF_CALENDAR, BenchGate, CoverNode, Line, Rebuild, Slot, Source
from wreckwright.futures.simulate import simulate
from wreckwright.futures.worlds import calm_worlds
from wreckwright.plan.closed_form import finish_clock
from wreckwright.plan.problem import problem_of
from wreckwright.plan.scorer import scores
from wreckwright.plan.tables import table_of
from wreckwright.plan.types import CoverWork
from wreckwright.plan.types import Test as PlanTest

SEAT, TANK = range(2)
COVERS = (CoverWork(key="seat", name="seat"), CoverWork(key="tank", name="tank", under=(SEAT,)))


def test_it_is_the_simulator_to_the_minute_on_a_thousand_random_rebuilds() -> None:
    compared = off_calendar = 0
    for seed in range(1000):
        case = calm_case(seed, futures=2)
        played = simulate(case.rebuild, case.worlds, case.policy)
        problem = problem_of(case.rebuild, None, case.worlds, case.policy)
        score = finish_clock(problem, stages_of(problem, case))
        rows = np.arange(case.worlds.n)
        for f in np.flatnonzero(np.isin(played.status, (FINISHED, OFF_CALENDAR))).tolist():
            # independent: the simulator plays it minute by minute
            assert score.finish[f] == played.clock[f], f"seed {seed}, future {f}"
            compared += 1
            if played.status[f] == OFF_CALENDAR:
                off_calendar += 1
                continue
            assert score.hands_on[f] == played.hands_on_minutes[f], f"seed {seed}, future {f}"
            passed = [int(problem.hours.day(rows[[f]], clock[None])[0]) for clock in score.tests[f]]
            assert passed == played.gate_day[f].tolist(), f"seed {seed}, future {f}"
    assert compared > 1200 and compared - off_calendar > 800  # the test is no test if nothing is compared


def tiny_case(seed: int) -> tuple[Rebuild, Policy, np.ndarray]:
    """Six jobs, two covers, two tests; parts come on odd days, some wait for the first test."""
    rng = np.random.default_rng(seed)
    first = [int(rng.integers(0, 2)) for _ in range(6)]
    slots = [
        Slot(
            name=f"job {j}", kind="job", stage=first[j], needed_by=1,
            after=tuple(i for i in range(j) if rng.random() < 0.25 and first[i] <= first[j]),
            covers=((), (SEAT,), (TANK,))[int(rng.integers(0, 3))], lines=(j,), mean_minutes=int(rng.integers(1, 50)),
        )
        for j in range(6)
    ]
    slots += [Slot(name=f"test {t}", kind="gate", stage=t, needed_by=t, mean_minutes=20) for t in range(2)]
    rebuild = Rebuild(
        slots=tuple(slots), covers=(CoverNode(name="seat"), CoverNode(name="tank", under=(SEAT,))),
        bench_gates=(
            BenchGate(name="test 0", stage=0, slot=6, covers_on=(SEAT,)), BenchGate(name="test 1", stage=1, slot=7),
        ),
        outside_gates=(),
        lines=tuple(Line(name=f"part {j}", slot=j, sources=(Source(name="shop", cancel_days=9),)) for j in range(6)),
        components=(), cumulative_minutes=np.cumsum([0, *([40, 0, 70] * 40)]), big_find_minor=10**9,
        as_it_stands_minor=(0, 0, 0), part_out_minor=0,
    )
    policy = Policy(
        line_source=(0,) * 6, line_trigger=tuple(0 if first[j] == 1 and rng.random() < 0.4 else -1 for j in range(6)),
        plan_b_source=(-1,) * 6, plan_b_after_days=(-1,) * 6, stage=(*first, 0, 1), rank=tuple(range(12)),
        looks=(True,) * 8,
    )
    return rebuild, policy, rng.integers(0, 9, (4, 6))


@pytest.mark.parametrize("seed", range(2))
def test_all_720_orders_of_six_jobs_finish_at_the_same_minute(seed: int) -> None:
    rebuild, policy, leads = tiny_case(seed)
    worlds = calm_worlds(rebuild, 4)
    minutes = worlds.minutes.copy()
    minutes[:, 8:] = np.random.default_rng(seed).integers(1, 15, (4, 4))
    worlds = replace(worlds, lead_days=leads[:, :, None].astype(np.int32), minutes=minutes)
    problem = problem_of(rebuild, None, worlds, policy)
    score = finish_clock(problem, {f"job {j}": policy.stage[j] for j in range(6)})
    for order in permutations(range(6)):
        played = simulate(rebuild, worlds, replace(policy, rank=(*order, *range(6, 12))))
        assert played.clock.tolist() == score.finish.tolist(), order  # independent
        assert played.hands_on_minutes.tolist() == score.hands_on.tolist()


def test_by_hand_with_a_cover_a_late_part_and_a_part_held_back() -> None:
    """Evenings of 60. Stretch 0: seat off 5, `a` 20 (part on day 1), seat on 5, test 10. Stretch 1: `b` 30, its part
    two days after the first test; all is on; test 30."""
    problem = small_problem(
        [Job(key="a", minutes=20, covers=(SEAT,), here=1), Job(key="b", minutes=30, first=1, last=1, held=(0, 2))],
        covers=COVERS[:1], off=[5], on=[5],
        tests=(PlanTest(key="gate:one", name="one", covers_on=(SEAT,)), PlanTest(key="gate:ride", name="ride")),
        test_minutes=[10, 30],
    )
    score = finish_clock(problem, {"a": 0, "b": 1})
    # hand-worked: 60 + 20 + 5 + 10 = 95, on day 1; the part is here on day 3, minute 180; 180 + 30 + 30 = 240
    assert score.tests.tolist() == [[95, 240]] and score.finish.tolist() == [240]
    assert score.hands_on.tolist() == [5 + 20 + 5 + 10 + 30 + 30]


def test_curing_holds_up_what_comes_after_it_and_the_test() -> None:
    problem = small_problem([Job(key="glue", minutes=10, cure=2), Job(key="paint", minutes=10, after=(0,), cure=3)])
    # hand-worked: glued on day 0, painted from minute 120 (day 2) on, until 130; test from day 5, minute 300, on
    assert finish_clock(problem, {"glue": 0, "paint": 0}).finish.tolist() == [330]


def test_what_takes_two_does_not_begin_before_the_first_day_with_help_from_its_release_on() -> None:
    jobs = [Job(key="engine", minutes=20, here=2, helper=True), Job(key="horn", minutes=10, here=2)]
    problem = small_problem(jobs, helper_day=[True, True, False, False, True, False], evenings=[60] * 6)
    # hand-worked: day 4, minute 240; 240 + 20 + 30; without the helper's days 120 + 20 + 10 + 30
    assert finish_clock(problem, {"engine": 0, "horn": 0}).finish.tolist() == [290]
    assert finish_clock(replace(problem, helper_day=None), {"engine": 0, "horn": 0}).finish.tolist() == [180]
    never = replace(problem, helper_day=np.array([True, True, False, False, False, False]))
    assert finish_clock(never, {"engine": 0, "horn": 0}).finish.tolist() == [360]  # the end of the calendar


def test_a_find_waits_for_its_part_from_the_day_it_shows() -> None:
    problem = small_problem(
        [Job(key="look", minutes=10, kind="look", shows=(1,)), Job(key="pump", minutes=25, kind="follow_up", lead=3)]
    )
    # hand-worked: seen on day 0, here on day 3, minute 180; 180 + 25 + 30
    assert finish_clock(problem, {"look": 0, "pump": 0}).finish.tolist() == [235]


def test_a_find_of_the_test_means_the_test_again() -> None:
    problem = small_problem(
        [Job(key="pump", minutes=25, kind="follow_up", lead=3, covers=(TANK,))], covers=COVERS, off=[5, 5], on=[6, 6],
        tests=(PlanTest(key="gate:ride", name="ride", shows=(0,)),),
    )
    # hand-worked: test until 30 on day 0, part on day 3 (180); off 10, work 25, on 12, test 30
    score = finish_clock(problem, {"pump": 0})
    assert score.finish.tolist() == [180 + 10 + 25 + 12 + 30]
    assert score.hands_on.tolist() == [30 + 10 + 25 + 12 + 30]


def test_where_a_test_ends_the_rebuild_only_the_work_so_far_counts() -> None:
    tests = (PlanTest(key="gate:one", name="one"), PlanTest(key="gate:ride", name="ride"))
    jobs = [Job(key="early", minutes=20), Job(key="late", minutes=50, last=1)]
    problem = small_problem(jobs, tests=tests, test_minutes=[10, 10])
    ends = replace(problem, ends_at=np.array([0], np.int32))
    # hand-worked: 0.3 x (20 + 10) + 30 worked; put into the first stretch, `late` is worked in vain: 0.3 x 80 + 80
    assert finish_clock(ends, {"early": 0, "late": 1}).mean == pytest.approx(0.3 * 30 + 30)
    assert finish_clock(ends, {"early": 0, "late": 0}).mean == pytest.approx(0.3 * 80 + 80)
    # hand-worked: it goes on to the end: 90 + 0.3 x 30 + 90
    assert finish_clock(problem, {"early": 0, "late": 1}).mean == pytest.approx(90 + 0.3 * 30 + 90)


def test_several_plans_at_once_score_as_each_by_itself() -> None:
    for seed in (3, 8, 21, 45):
        case = calm_case(seed, futures=5)
        problem = problem_of(case.rebuild, None, case.worlds, case.policy)
        rng = np.random.default_rng(seed)
        rows = np.array(
            [[rng.integers(w.first_stage, w.last_stage + 1) for w in problem.works] for _ in range(9)], np.int32
        )
        table = table_of(problem)
        together = scores(table, rows)
        for n, row in enumerate(rows):
            alone = scores(table, row[None])
            assert together.finish[n].tolist() == alone.finish[0].tolist()  # law
            assert together.hands_on[n].tolist() == alone.hands_on[0].tolist()


def test_on_a_whole_machine_with_finds_cures_and_ways_round_it_stays_close() -> None:
    drawn = draw(known(), TRADE, n=400)
    futures = play(drawn)
    problem = problem_of(drawn.compiled, None, drawn.worlds, futures.policy)
    stage = {plan.key: s for plan, s in zip(drawn.compiled.slots, futures.policy.stage, strict=True)}
    score = finish_clock(problem, {work.key: stage[work.key] for work in problem.works})
    done = futures.played.status == FINISHED
    finish = score.finish[done] / futures.played.clock[done] - 1.0
    hands_on = score.hands_on[done] / futures.played.hands_on_minutes[done] - 1.0
    # regression: bounds of the error that docs/running-order.md states
    assert abs(finish.mean()) < 0.03 and np.abs(finish).mean() < 0.06
    assert abs(hands_on.mean()) < 0.01 and np.abs(hands_on).mean() < 0.02


def test_a_work_without_a_stretch_or_outside_its_range_is_refused() -> None:
    problem = small_problem([Job(key="wheel")])
    with pytest.raises(AnswerError, match="wheel .* into stretch 1"):
        finish_clock(problem, {"wheel": 1})
    with pytest.raises(AnswerError, match="into no stretch"):
        finish_clock(problem, {})
