"""The score of a plan: what each stretch takes, without playing it minute by minute (docs/running-order.md)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from wreckwright.errors import AnswerError
from wreckwright.futures.rebuild import IntArray, LongArray
from wreckwright.plan.scorer import scores
from wreckwright.plan.tables import table_of
from wreckwright.plan.types import USUAL_WEIGHTS, Problem, Weights


@dataclass(frozen=True, kw_only=True)
class Score:
    """S scenarios, T tests; all in the mechanic's own minutes from the as-of date, the end of the calendar at most."""

    finish: LongArray
    """[S]"""
    tests: LongArray
    """[S, T] clock at which each test ended in yes."""
    hands_on: LongArray
    """[S]"""

    mean: float
    """What the plan is judged by; lower is better."""


def finish_clock(problem: Problem, stages: Mapping[str, int], *, weights: Weights = USUAL_WEIGHTS) -> Score:
    """When each test is passed if every work is done in its stretch, whatever the order within it.

    To the minute what `futures.simulate` comes to, as long as nothing has to cure, nobody waits for a helper, no test
    ends in no and nothing hidden comes to light; docs/running-order.md says how far off it is elsewhere. Pure.
    Raises: AnswerError if a work has no stretch, or one outside its range.

    Two evenings of 60 minutes; a job of 50 minutes whose part comes on day 1, and a road test of 30:

    >>> from wreckwright.futures.hours import Calendar, Hours
    >>> from wreckwright.plan.types import Test, Work
    >>> def one(*row): return np.array([row])
    >>> none = np.zeros((1, 0), int)
    >>> problem = Problem(works=(Work(key="wheel", name="front wheel", kind="job", first_stage=0, last_stage=0),),
    ...     covers=(), tests=(Test(key="gate:ride", name="road test"),), minutes=one(20), present=one(True),
    ...     off_minutes=none, on_minutes=none, test_minutes=one(30), release_day=one(1), lead_days=one(0),
    ...     test_release_day=one(0), held=(), way_days=one(0), way_minutes=one(0), hours=Hours(
    ...     calendar=Calendar(cumulative_minutes=np.array([0, 60, 120])), attendance_permille=np.array([1000])))
    >>> finish_clock(problem, {"wheel": 0}).finish.tolist()
    [110]
    """
    row = stage_row(problem, stages)
    dropped = frozenset(
        (i, j) for j, work in enumerate(problem.works) for i in work.after if row[i] > row[j]
    )
    found = scores(table_of(problem, dropped=dropped), row[None])
    end = problem.hours.end_of_calendar
    return Score(
        finish=np.minimum(found.finish[0], end), tests=np.minimum(found.tests[0], end[:, None]),
        hands_on=found.hands_on[0, :, -1], mean=float(found.weighed(weights, end=end, ends_at=problem.ends_at)[0]),
    )


def stage_row(problem: Problem, stages: Mapping[str, int]) -> IntArray:
    """[J] stretch of each work."""
    for work in problem.works:
        stage = stages.get(work.key)
        if stage is None or not work.first_stage <= stage <= work.last_stage:
            raise AnswerError(
                f"{work.name} ({work.key}) is put into " + ("no stretch" if stage is None else f"stretch {stage}"),
                f"Allowed: {work.first_stage} to {work.last_stage}",
                "Put it into one of these",
            )
    return np.array([stages[work.key] for work in problem.works], np.int32).reshape(len(problem.works))


def stage_names(problem: Problem, row: IntArray) -> dict[str, int]:
    """Key of each work -> its stretch."""
    return {work.key: int(stage) for work, stage in zip(problem.works, row, strict=True)}
