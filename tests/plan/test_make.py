from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.futures.made_known import TRADE, known
from wreckwright.futures.draw import Drawn, draw
from wreckwright.futures.policy import Policy, check_policy
from wreckwright.futures.rebuild import FINISHED, BenchGate, CoverNode, Line, Rebuild, Slot, Source, Worlds
from wreckwright.futures.simulate import simulate
from wreckwright.futures.start_policy import start_policy
from wreckwright.futures.worlds import calm_worlds
from wreckwright.plan.check import check
from wreckwright.plan.compare import some_of, worse_by
from wreckwright.plan.make import Planned, plan_of, planned, planned_futures, policy_of
from wreckwright.plan.types import USUAL_WEIGHTS, Plan, Weights


@pytest.fixture(scope="module")
def drawn() -> Drawn:
    return draw(known(), TRADE, n=600)


@pytest.fixture(scope="module")
def full(drawn: Drawn) -> Planned:
    return planned(drawn)


def test_the_policy_of_a_plan_can_be_played_and_only_changes_stretches_and_ranks(drawn: Drawn, full: Planned) -> None:
    base = start_policy(drawn.compiled, drawn.worlds, drawn.known)
    assert check_policy(drawn.compiled.rebuild, full.policy) == []
    assert replace(full.policy, stage=base.stage, rank=base.rank) == base
    stage_of = {plan.key: stage for plan, stage in zip(drawn.compiled.slots, full.policy.stage, strict=True)}
    assert all(stage_of[key] == stage for key, stage in full.plan.stages.items())
    place = {key: n for n, key in enumerate(full.plan.order)}
    named = [
        (place[plan.key], rank)
        for plan, rank in zip(drawn.compiled.slots, full.policy.rank, strict=False) if plan.key in place
    ]
    assert [rank for _, rank in sorted(named)] == sorted(rank for _, rank in named)


def test_looks_are_never_put_later_than_by_habit(drawn: Drawn, full: Planned) -> None:
    base = start_policy(drawn.compiled, drawn.worlds, drawn.known)
    for slot, new, before in zip(drawn.compiled.rebuild.slots, full.policy.stage, base.stage, strict=True):
        assert slot.kind != "look" or new <= before


def test_it_is_not_worse_than_the_start_on_futures_nobody_searched_on(drawn: Drawn, full: Planned) -> None:
    rebuild = drawn.compiled.rebuild
    base = start_policy(drawn.compiled, drawn.worlds, drawn.known)
    fresh = some_of(draw(known(), TRADE, n=1400).worlds, range(600, 1400))
    _, worse, error = worse_by(rebuild, fresh, base, [full.policy], USUAL_WEIGHTS)
    assert worse < 2.0 * error  # law, by the simulator
    assert full.score <= full.score_before


def test_it_is_a_function_of_the_record_and_an_old_plan_is_not_looked_at(drawn: Drawn, full: Planned) -> None:
    strange = Plan(stages=dict.fromkeys(full.plan.stages, 0), order=full.plan.order[::-1])
    again = planned(draw(known(), TRADE, n=600), old=strange)
    assert again.plan == full.plan and again.policy == full.policy and again.course == full.course


def test_the_course_passes_the_checker_and_its_problem_has_usual_figures(full: Planned) -> None:
    assert full.problem_usual.n_scenarios == 1 and check(full.problem_usual, full.course) == []
    assert set(full.plan.stages) == {work.key for work in full.problem_usual.works}
    assert full.course.finish_day is not None


def test_quick_carries_the_old_plan_over_and_betters_it(drawn: Drawn, full: Planned) -> None:
    quick = planned(drawn, old=full.plan, quick=True)
    assert quick.score <= quick.score_before
    moved = [key for key, stage in quick.plan.stages.items() if full.plan.stages[key] != stage]
    assert len(moved) < len(quick.plan.stages) / 3  # regression: it does not begin anew
    assert check(quick.problem_usual, quick.course) == []
    assert check_policy(drawn.compiled.rebuild, quick.policy) == []


def test_the_futures_are_played_by_the_plan() -> None:
    told: list[float] = []
    futures, found, made = planned_futures(
        known(), TRADE, n=200, quick=True, tell=lambda share, score: told.append(share)
    )
    assert futures.policy == found.policy and futures.rebuild is made.compiled.rebuild and told[-1] == 1.0
    again = simulate(made.compiled.rebuild, made.worlds, found.policy)
    assert again.clock.tolist() == futures.played.clock.tolist()


def bare_machine() -> tuple[Rebuild, Policy, Worlds]:
    """Four jobs, one of which waits weeks for its part and is needed only for the last test; by habit it is done before
    the first."""
    slots = [
        Slot(name=f"job {j}", kind="job", stage=0, needed_by=1, lines=(j,), covers=(0,), mean_minutes=30)
        for j in range(4)
    ]
    slots += [Slot(name=f"test {t}", kind="gate", stage=t, needed_by=t, mean_minutes=20) for t in range(2)]
    rebuild = Rebuild(
        slots=tuple(slots), covers=(CoverNode(name="seat"),),
        bench_gates=(BenchGate(name="test 0", stage=0, slot=4), BenchGate(name="test 1", stage=1, slot=5)),
        outside_gates=(),
        lines=tuple(Line(name=f"part {j}", slot=j, sources=(Source(name="shop", cancel_days=90),)) for j in range(4)),
        components=(), cumulative_minutes=np.arange(0, 200 * 60, 60), big_find_minor=10**9,
        as_it_stands_minor=(0, 0, 0), part_out_minor=0,
    )
    policy = Policy(
        line_source=(0,) * 4, line_trigger=(-1,) * 4, plan_b_source=(-1,) * 4, plan_b_after_days=(-1,) * 4,
        stage=(0, 0, 0, 0, 0, 1), rank=tuple(range(8)), looks=(True,) * 6,
    )
    rng = np.random.default_rng(5)
    lead = rng.integers(0, 3, (300, 4, 1)).astype(np.int32)
    lead[:, 3] = rng.integers(30, 60, (300, 1))
    return rebuild, policy, replace(calm_worlds(rebuild, 300), lead_days=lead)


def test_a_job_with_a_late_part_does_not_hold_up_the_first_test() -> None:
    rebuild, base, worlds = bare_machine()
    found = plan_of(rebuild, None, worlds, base)
    assert found.plan.stages["job 3"] == 1  # hand-worked: 30 days and more before the first test otherwise
    before, after = simulate(rebuild, worlds, base), simulate(rebuild, worlds, found.policy)
    assert after.gate_day[:, 0].mean() < 5 < 30 < before.gate_day[:, 0].mean()
    assert (after.status == FINISHED).all()


def test_where_nothing_is_clearly_better_the_habit_is_kept() -> None:
    rebuild, base, worlds = bare_machine()
    stuck = replace(rebuild, slots=tuple(replace(slot, needed_by=slot.stage) for slot in rebuild.slots))
    found = plan_of(stuck, None, worlds, base, weights=Weights(hands_on=0.0))
    assert found.policy == base and found.score == found.score_before
    # The plan that is shown is the one that is played.
    assert policy_of(found.plan, stuck, base) == base


def test_a_work_that_the_plan_does_not_name_keeps_its_stretch_and_goes_last() -> None:
    rebuild, base, _ = bare_machine()
    plan = Plan(stages={"job 1": 1}, order=("job 1", "off:seat", "on:seat", "gate:test 0", "gate:test 1"))
    policy = policy_of(plan, rebuild, base)
    assert policy.stage == (0, 1, 0, 0, 0, 1)
    # hand-worked: job 1, off, on, test 0, test 1, then jobs 0, 2, 3
    assert policy.rank == (5, 0, 6, 7, 3, 4, 1, 2)
