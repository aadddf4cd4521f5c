"""A plan that nobody searched for: every stretch and every rank as the start policy has them, on the usual course."""

from __future__ import annotations

from wreckwright.futures.draw import Drawn, play
from wreckwright.futures.scene import Futures
from wreckwright.futures.start_policy import start_policy
from wreckwright.plan.course import course_of
from wreckwright.plan.make import Planned
from wreckwright.plan.problem import usual_problem
from wreckwright.plan.types import Plan


def plain_planned(drawn: Drawn) -> Planned:
    compiled = drawn.compiled
    policy = start_policy(compiled, drawn.worlds, drawn.known)
    problem = usual_problem(compiled, None, drawn.worlds, policy)
    slot = {plan.key: index for index, plan in enumerate(compiled.slots)}
    n_slots, n_covers = len(compiled.slots), len(compiled.covers)
    ranked = [(policy.rank[slot[work.key]], work.key) for work in problem.works]
    ranked += [(policy.rank[slot[test.key]], test.key) for test in problem.tests]
    ranked += [(policy.rank[n_slots + x], f"off:{cover}") for x, cover in enumerate(compiled.covers)]
    ranked += [(policy.rank[n_slots + n_covers + x], f"on:{cover}") for x, cover in enumerate(compiled.covers)]
    plan = Plan(
        stages={work.key: max(policy.stage[slot[work.key]], work.first_stage) for work in problem.works},
        order=tuple(key for _, key in sorted(ranked)),
    )
    return Planned(
        plan=plan, policy=policy, problem_usual=problem, course=course_of(problem, plan), score=0.0, score_before=0.0
    )


def played(drawn: Drawn, planned: Planned) -> Futures:
    return play(drawn, policy=planned.policy)
