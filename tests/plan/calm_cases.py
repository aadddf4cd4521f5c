"""Random rebuilds on which the closed form must be exact: nothing cures, nothing hidden shows, tests end in yes, nobody
waits for a helper; and random problems of one scenario to lay courses out on, with all of that in them."""

from __future__ import annotations

import random
from dataclasses import replace

import numpy as np

from tests.futures.random_rebuilds import Case, random_case
from wreckwright.futures.rebuild import Rebuild
from wreckwright.plan.links import topological
from wreckwright.plan.problem import problem_of
from wreckwright.plan.types import Plan, Problem


def calm_case(seed: int, *, futures: int = 3) -> Case:
    case = random_case(seed, futures=futures)
    rebuild, policy = case.rebuild, case.policy

    def holds(j: int, holder: int) -> bool:
        """Whether it is settled beforehand that `holder` has had its turn when it comes to `j`."""
        slot = rebuild.slots[holder] if holder >= 0 else None
        return (
            slot is not None and slot.kind in ("job", "look") and policy.looks[holder]
            and holder in rebuild.slots[j].after and policy.stage[holder] <= policy.stage[j]
        )

    slots = tuple(
        replace(slot, cure_days=0, part_of=slot.part_of if holds(j, slot.part_of) else -1)
        for j, slot in enumerate(rebuild.slots)
    )
    # Lines of tests that wait for an earlier test are left out: no record can ask for them.
    triggers = tuple(
        -1 if rebuild.slots[line.slot].kind == "gate" and 0 <= trigger < rebuild.n_stages else trigger
        for line, trigger in zip(rebuild.lines, policy.line_trigger, strict=True)
    )
    worlds = replace(
        case.worlds, cries=np.zeros_like(case.worlds.cries), foretells=np.zeros_like(case.worlds.foretells),
        gate_ok=np.ones_like(case.worlds.gate_ok),
    )
    return Case(
        seed, replace(rebuild, slots=slots, helper_day=None), worlds,
        replace(policy, stop={}, line_trigger=triggers),
    )


def stages_of(problem: Problem, case: Case) -> dict[str, int]:
    """The stretches of the policy."""
    of_name = {slot.name: case.policy.stage[j] for j, slot in enumerate(case.rebuild.slots)}
    return {work.key: of_name[work.name] for work in problem.works}


def course_case(seed: int) -> tuple[Problem, Plan]:
    """A problem of one scenario, with hidden faults, cures, helper days, shared evenings and work that must not be left
    half done, and a plan made without thought."""
    rng = random.Random(seed)
    case = random_case(seed, futures=1)
    slots = tuple(replace(slot, essential=False) for slot in case.rebuild.slots)
    rebuild: Rebuild = replace(case.rebuild, slots=slots)
    problem = problem_of(rebuild, None, case.worlds, case.policy)
    days = problem.hours.calendar.days
    # In a course tests end in yes at once, so nothing is found by them.
    n_by_works = sum(len(work.shows) for work in problem.works)
    says = problem.says.copy() if problem.says is not None else np.zeros((1, 0), bool)
    says[:, n_by_works:] = False
    entries = [(j, f) for j, work in enumerate(problem.works) for f in work.shows]
    reached = {j for j, work in enumerate(problem.works) if work.kind != "follow_up"}
    for _ in problem.works:
        reached |= {f for e, (j, f) in enumerate(entries) if says[0, e] and j in reached and problem.present[0, f]}
    problem = replace(
        problem,
        says=says,
        present=problem.present & np.array([j in reached for j in range(len(problem.works))], bool),
        # Nothing comes after what it brings to light itself.
        works=tuple(
            replace(
                work, may_split=rng.random() < 0.6, after=tuple(i for i in work.after if i not in work.shows)
            )
            for work in problem.works
        ),
        way_days=np.zeros_like(problem.way_days), way_minutes=np.zeros_like(problem.way_minutes),
        begin_minute=np.array([rng.randint(0, 60) for _ in range(days)], np.int32) if rng.random() < 0.5 else None,
    )
    stages = [rng.randint(work.first_stage, work.last_stage) for work in problem.works]
    for j in topological([list(work.after) for work in problem.works]):
        low = max([stages[j], *(stages[i] for i in problem.works[j].after)])
        stages[j] = min(low, problem.works[j].last_stage)
    keys = [work.key for work in problem.works] + [test.key for test in problem.tests]
    keys += [f"{move}:{cover.key}" for cover in problem.covers for move in ("off", "on")]
    rng.shuffle(keys)
    return problem, Plan(
        stages={work.key: stage for work, stage in zip(problem.works, stages, strict=True)}, order=tuple(keys)
    )
