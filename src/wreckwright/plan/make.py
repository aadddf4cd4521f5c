"""The plan of a machine: search, order, comparison with the habit one starts from, and the usual course."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np

from wreckwright.futures.compile import Compiled
from wreckwright.futures.draw import Drawn, draw, play
from wreckwright.futures.policy import Policy
from wreckwright.futures.rebuild import Rebuild, Worlds
from wreckwright.futures.scene import Futures
from wreckwright.futures.start_policy import start_policy
from wreckwright.plan.compare import some_of, worse_by
from wreckwright.plan.course import course_of
from wreckwright.plan.problem import problem_of, slot_keys_of, usual_problem
from wreckwright.plan.ranks import Habit, order_of
from wreckwright.plan.repair import carried_over
from wreckwright.plan.search import improve_from, judge
from wreckwright.plan.types import NEVER_DAY, USUAL_WEIGHTS, Course, Plan, Problem, Weights
from wreckwright.record.known import Known
from wreckwright.trade.types import Trade

Tell = Callable[[float, float], None]
Stop = Callable[[], bool]

SCENARIOS, MOVES = 64, 4000
FINE = 2000
"""With fewer futures than this the search is shortened in proportion: who asks coarsely is answered sooner."""
QUICK_SCENARIOS, QUICK_MOVES = 16, 160
SEED = 20
FRESH = 400
"""Futures that were not searched on, in which plans are compared with each other."""
CLEARLY = 2.0
"""Standard errors by which a plan must be better than the habit one starts from."""
HABITS: tuple[Habit, ...] = ("show_first", "cure_first")


@dataclass(frozen=True, kw_only=True)
class Planned:
    plan: Plan
    policy: Policy
    """The plan as the simulator plays it; where to order and when, and which looks are taken, as one starts."""
    problem_usual: Problem
    """One scenario of usual figures, with what is held back as the policy says."""
    course: Course
    score: float
    """Minutes, see `Weights`; on the scenarios that were searched on."""
    score_before: float
    """Of the plan that was begun with: the old one if there was one, else the habit one starts from."""


def planned(
    drawn: Drawn, *, old: Plan | None = None, quick: bool = False, tell: Tell | None = None, stop: Stop | None = None
) -> Planned:
    """The plan for one machine.

    Without `quick` it is a function of the record and the number of futures alone, so that taking a change back gives
    the former plan exactly; `old` is then not looked at. With `quick` the old plan is carried over and bettered in a
    couple of hundred changes. `tell(share done, best score)` and `stop()` as in `search.improve`.
    """
    base = start_policy(drawn.compiled, drawn.worlds, drawn.known)
    moves = max(QUICK_MOVES, min(MOVES, MOVES * drawn.worlds.n // FINE))
    return plan_of(drawn.compiled, None, drawn.worlds, base, old=old, quick=quick, moves=moves, tell=tell, stop=stop)


def planned_futures(
    known: Known, trade: Trade, *, n: int, booked: Mapping[dt.date, int] = MappingProxyType({}),
    old: Plan | None = None, quick: bool = False, tell: Tell | None = None, stop: Stop | None = None,
) -> tuple[Futures, Planned, Drawn]:
    """`n` futures of one machine played by its plan, with `Played.end_clock`. `booked`: minutes at the beginning of
    evenings that machines with an earlier turn take. Raises: AnswerError when the findings contradict each other."""
    drawn = draw(known, trade, n=n, booked=booked)
    found = planned(drawn, old=old, quick=quick, tell=tell, stop=stop)
    return play(drawn, policy=found.policy, ends=True), found, drawn


def plan_of(
    compiled: Compiled | Rebuild, keys: Sequence[str] | None, worlds: Worlds, base: Policy, *,
    old: Plan | None = None, quick: bool = False, moves: int = MOVES, weights: Weights = USUAL_WEIGHTS,
    tell: Tell | None = None, stop: Stop | None = None,
) -> Planned:
    """As `planned`, from a bare rebuild as well; `keys` as in `problem_of`, `base`: the policy one starts from,
    `moves`: changes tried in a search that is not `quick`."""
    rebuild = compiled.rebuild if isinstance(compiled, Compiled) else compiled
    rows = _rows(compiled, keys, worlds, base, QUICK_SCENARIOS if quick else SCENARIOS)
    slot_keys, _ = slot_keys_of(compiled, keys)
    habit = dict(zip(slot_keys, base.stage, strict=True))
    problem = looks_kept(problem_of(compiled, keys, worlds, base, rows=rows), habit)
    start = {w.key: min(max(habit[w.key], w.first_stage), w.last_stage) for w in problem.works}
    late = {work.key: work.last_stage for work in problem.works}
    starts = [carried_over(old, problem)] if quick and old is not None else [start, late]
    found = improve_from(
        problem, starts, weights=weights, moves=QUICK_MOVES if quick else moves, seed=SEED, tell=tell, stop=stop
    )
    carried = quick and old is not None
    before = found.score_before if carried else judge(problem, start, weights=weights)
    usual = looks_kept(usual_problem(compiled, keys, worlds, base), habit)
    plans = [
        Plan(stages=found.stages, order=order_of(problem, found.stages, habit=habit_of_order))
        for habit_of_order in (HABITS[:1] if quick else HABITS)
    ]
    chosen, policy = plans[0], policy_of(plans[0], compiled, base, keys)
    score = found.score
    if not quick:
        fresh = some_of(worlds, _fresh(worlds, rows))
        policies = [policy_of(plan, compiled, base, keys) for plan in plans]
        best, worse, error = worse_by(rebuild, fresh, base, policies, weights)
        chosen, policy = plans[best], policies[best]
        if worse >= -CLEARLY * error:
            chosen, policy, score = plan_of_policy(compiled, keys, base, problem), base, before
    return Planned(
        plan=chosen, policy=policy, problem_usual=usual, course=course_of(usual, chosen), score=score,
        score_before=before,
    )


def policy_of(
    plan: Plan, compiled: Compiled | Rebuild, base: Policy, keys: Sequence[str] | None = None
) -> Policy:
    """`base` with the stretches and ranks of `plan`; a work that the plan does not name keeps its stretch and goes
    last. Ways round go first of all: nothing else can be done for the test that they belong to."""
    rebuild = compiled.rebuild if isinstance(compiled, Compiled) else compiled
    slot_keys, cover_keys = slot_keys_of(compiled, keys)
    place = {key: n for n, key in enumerate(plan.order)}
    columns = [*slot_keys, *(f"off:{key}" for key in cover_keys), *(f"on:{key}" for key in cover_keys)]
    order = sorted(
        range(len(columns)),
        key=lambda c: (
            -1 if c < len(slot_keys) and rebuild.slots[c].kind == "fallback" else place.get(columns[c], len(place)),
            base.rank[c],
        ),
    )
    rank = [0] * len(order)
    for n, c in enumerate(order):
        rank[c] = n
    stage = tuple(
        plan.stages.get(key, now) if slot.kind in ("job", "look", "follow_up") else now
        for slot, key, now in zip(rebuild.slots, slot_keys, base.stage, strict=True)
    )
    return replace(base, stage=stage, rank=tuple(rank))


def plan_of_policy(
    compiled: Compiled | Rebuild, keys: Sequence[str] | None, policy: Policy, problem: Problem
) -> Plan:
    """The plan that `policy` plays."""
    slot_keys, cover_keys = slot_keys_of(compiled, keys)
    columns = [*slot_keys, *(f"off:{key}" for key in cover_keys), *(f"on:{key}" for key in cover_keys)]
    ranks = dict(zip(columns, policy.rank, strict=True))
    tests = [test.key for test in problem.tests]
    wanted = [*(work.key for work in problem.works), *tests]
    wanted += [f"{move}:{cover.key}" for cover in problem.covers for move in ("off", "on")]
    in_turn = iter(tests)
    stages = dict(zip(slot_keys, policy.stage, strict=True))
    return Plan(
        stages={w.key: min(max(stages[w.key], w.first_stage), w.last_stage) for w in problem.works},
        # Tests stand in the order of their stretches, whatever their ranks among each other.
        order=tuple(
            next(in_turn) if key in tests else key for key in sorted(wanted, key=lambda key: ranks[key])
        ),
    )


def looks_kept(problem: Problem, habit: Mapping[str, int]) -> Problem:
    """A look may be taken earlier than by habit, but no later: what it is worth in money, to stop in time, is not in
    the score."""
    return replace(
        problem,
        works=tuple(
            replace(work, last_stage=max(work.first_stage, min(work.last_stage, habit[work.key])))
            if work.kind == "look" else work
            for work in problem.works
        ),
    )


def _rows(
    compiled: Compiled | Rebuild, keys: Sequence[str] | None, worlds: Worlds, base: Policy, n: int
) -> list[int]:
    """The first `n` futures in which everything comes that cannot be done without; if they are few, the first `n`."""
    looked_at = min(worlds.n, 4 * n)
    problem = problem_of(compiled, keys, worlds, base, rows=np.arange(looked_at))
    lost = ((problem.release_day >= NEVER_DAY) | (problem.lead_days >= NEVER_DAY)) & problem.present
    gone = lost.any(axis=1) | (problem.test_release_day >= NEVER_DAY).any(axis=1)
    for order in problem.held:
        gone |= (order.days >= NEVER_DAY) & problem.present[:, order.work]
    kept = np.flatnonzero(~gone)[:n]
    return kept.tolist() if len(kept) >= min(n, 8) else list(range(min(worlds.n, n)))


def _fresh(worlds: Worlds, rows: Sequence[int]) -> list[int]:
    """Futures that were not searched on; where there are too few, all."""
    later = list(range(max(rows) + 1, worlds.n))[:FRESH]
    return later if len(later) >= FRESH // 4 else list(range(min(worlds.n, FRESH)))
