"""Minutes still to work on a job: the owner's figures before the trade's, at the pace of its kind, less what is
done."""

from __future__ import annotations

import math
from collections.abc import Mapping

from wreckwright.futures.band import Z90
from wreckwright.futures.supplies import Band3, scaled
from wreckwright.record.types import Job, JobKind

MINUTES_SPREAD = 0.35
"""Standard deviation of the log of a job's minutes about what the trade says (judgement)."""
LEAST_MINUTES_LEFT = 0.1
"""Of a job that is still open although all its time has been worked, this share is still to do (judgement)."""


def band_about(likely: float) -> Band3:
    """Three-point minutes about what the trade says.

    >>> band_about(10.0)[1]
    10.0
    """
    spread = math.exp(Z90 * MINUTES_SPREAD)
    return (likely / spread, likely, likely * spread)


def minutes_left(job: Job | None, trade_says: Band3, *, kind: JobKind, paces: Mapping[JobKind, float]) -> Band3:
    """Low, likely, high of what is still to work. `paces`: `Known.pace_by_kind`; the stated pace is no part of it."""
    band = trade_says
    if job is not None and job.minutes is not None:
        band = (job.minutes.low, job.minutes.likely, job.minutes.high)
    band = scaled(band, paces.get(kind, 1.0))
    done = job.done_minutes or 0.0 if job is not None else 0.0
    low, middle, high = (max(minutes - done, LEAST_MINUTES_LEFT * minutes) for minutes in band)
    return (low, middle, high)
