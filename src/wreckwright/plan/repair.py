"""An old plan on a new record: what stands is kept, what is new finds its place, what is gone is dropped."""

from __future__ import annotations

import numpy as np

from wreckwright.plan.links import openings
from wreckwright.plan.moves import Moves
from wreckwright.plan.types import Plan, Problem


def carried_over(old: Plan, problem: Problem) -> dict[str, int]:
    """Stretch of every work of `problem`, as near to `old` as it can be kept.

    A stretch is known by the test that ends it: where tests have been passed since, the rest moves up. New work goes
    into the first stretch of its range in which all its covers are off anyway, or else into the first of its range.
    Pure; never fails: whatever `old` says, the result is a plan for `problem`.
    """
    here = {test.key: t for t, test in enumerate(problem.tests)}
    once = [key for key in old.order if key.startswith("gate:")]
    moved = _moved(once, here)
    steps = Moves(problem)
    opening, test_opening, _ = openings(problem)
    bare = test_opening.copy()
    stages = [-1] * len(problem.works)
    for j, work in enumerate(problem.works):
        former = old.stages.get(work.key)
        if former is not None:
            stage = moved[former] if 0 <= former < len(moved) else former
            stages[j] = min(max(stage, steps.first[j]), steps.last[j])
            bare[stages[j]] |= opening[j]
    for j in range(len(problem.works)):
        if stages[j] < 0:
            allowed = range(steps.first[j], max(steps.first[j], steps.last[j]) + 1)
            stages[j] = next((s for s in allowed if not np.any(opening[j] & ~bare[s])), steps.first[j])
            bare[stages[j]] |= opening[j]
    stages = steps.repaired(stages)
    return {work.key: stage for work, stage in zip(problem.works, stages, strict=True)}


def _moved(once: list[str], here: dict[str, int]) -> list[int]:
    """Old stretch -> the stretch it has become: that of its test, or of the next one after it that still stands."""
    found, following = [0] * len(once), len(here) - 1
    for stage in reversed(range(len(once))):
        following = here.get(once[stage], following)
        found[stage] = following
    return found
