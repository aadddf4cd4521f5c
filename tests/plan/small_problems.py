"""Problems small enough to reckon by hand or to try every plan of."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wreckwright.futures.hours import Calendar, Hours
from wreckwright.plan.types import CoverWork, Held, Problem, Test, Work


@dataclass(frozen=True, kw_only=True)
class Job:
    key: str
    minutes: int = 10
    first: int = 0
    last: int = 0
    after: tuple[int, ...] = ()
    covers: tuple[int, ...] = ()
    here: int = 0
    cure: int = 0
    helper: bool = False
    may_split: bool = True
    held: tuple[int, int] | None = None
    """(test, days)"""
    shows: tuple[int, ...] = ()
    kind: str = "job"
    lead: int = 0


def small_problem(
    jobs: Sequence[Job], *, covers: Sequence[CoverWork] = (), off: Sequence[int] = (), on: Sequence[int] = (),
    tests: Sequence[Test] = (Test(key="gate:ride", name="road test"),), test_minutes: Sequence[int] = (30,),
    evenings: Sequence[int] = (60,) * 30, attendance: int = 1000, helper_day: Sequence[bool] | None = None,
    begin_minute: Sequence[int] | None = None,
) -> Problem:
    def row(values: Sequence[int]) -> np.ndarray:
        return np.array([list(values)], np.int32).reshape(1, len(values))

    return Problem(
        works=tuple(
            Work(
                key=job.key, name=job.key, kind=job.kind, first_stage=job.first, last_stage=job.last, after=job.after,  # type: ignore[arg-type]
                covers=job.covers, cure_days=job.cure, helper=job.helper, may_split=job.may_split, shows=job.shows,
            )
            for job in jobs
        ),
        covers=tuple(covers), tests=tuple(tests), minutes=row([job.minutes for job in jobs]),
        present=np.ones((1, len(jobs)), bool), off_minutes=row(off), on_minutes=row(on),
        test_minutes=row(test_minutes), release_day=row([job.here for job in jobs]),
        lead_days=row([job.lead for job in jobs]), test_release_day=row([0] * len(tests)),
        held=tuple(
            Held(work=j, test=job.held[0], days=np.array([job.held[1]], np.int32))
            for j, job in enumerate(jobs) if job.held is not None
        ),
        way_days=row([0] * len(tests)), way_minutes=row([0] * len(tests)),
        hours=Hours(
            calendar=Calendar(cumulative_minutes=np.cumsum([0, *evenings])),
            attendance_permille=np.array([attendance], np.int64),
        ),
        helper_day=None if helper_day is None else np.array(helper_day, bool),
        begin_minute=None if begin_minute is None else np.array(begin_minute, np.int32),
    )
