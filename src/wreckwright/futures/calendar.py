"""The mechanic's calendar: planned minutes by day, and back from days to dates."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence

import numpy as np
import numpy.typing as npt

from wreckwright.errors import WreckwrightError

HORIZON_DAYS = 1830
"""Five years and a few days; what takes longer is shown as "more than five years"."""

MINUTES_A_DAY = 24 * 60


def cumulative_minutes(
    *,
    as_of: dt.date,
    weekday_minutes: Sequence[int],
    days_off: Iterable[dt.date] = (),
    horizon_days: int = HORIZON_DAYS,
) -> npt.NDArray[np.int64]:
    """Planned minutes before the start of each calendar day, counted from the as-of date.

    Day 0 is `as_of`; entry 0 is 0; entry `d` is the sum of the plan of days 0 to d - 1; a day off has no minutes. Days
    off before the as-of date or after the horizon have no effect.

    Parameters: `weekday_minutes` seven whole minutes, Monday first, each 0 to 1440; `horizon_days` 1 or more.
    Returns: int64 of shape [horizon_days + 1]. Raises: WreckwrightError if the week is malformed or if not one minute
    is left in the whole calendar; ValueError if the horizon is shorter than a day.

    >>> week = (0, 0, 120, 0, 0, 300, 0)
    >>> cumulative_minutes(as_of=dt.date(2024, 2, 28), weekday_minutes=week, horizon_days=4).tolist()
    [0, 120, 120, 120, 420]
    """
    if horizon_days < 1:
        raise ValueError(f"horizon_days = {horizon_days}: at least one day is needed")
    if len(weekday_minutes) != 7 or any(not 0 <= minutes <= MINUTES_A_DAY for minutes in weekday_minutes):
        raise WreckwrightError(
            f"the week {list(weekday_minutes)} cannot be planned with",
            f"seven whole minutes, Monday first, each from 0 to {MINUTES_A_DAY}",
            "Write for instance weekday_minutes = [0, 120, 0, 120, 0, 300, 0]",
        )
    weekday = (as_of.weekday() + np.arange(horizon_days)) % 7
    plan = np.asarray(weekday_minutes, dtype=np.int64)[weekday]
    off = [(day - as_of).days for day in days_off]
    plan[[day for day in off if 0 <= day < horizon_days]] = 0
    if not plan.any():
        raise WreckwrightError(
            f"the calendar has no working minute from {as_of.isoformat()} on: "
            f"weekday_minutes is {list(weekday_minutes)}, with {len(off)} days off",
            f"at least one minute somewhere in {horizon_days} days",
            "Give some minutes to one weekday, or take back days off",
        )
    out = np.zeros(horizon_days + 1, dtype=np.int64)
    np.cumsum(plan, out=out[1:])
    return out


def date_of(as_of: dt.date, day: int) -> dt.date:
    """The date of calendar day `day` (0 is the as-of date).

    Raises: WreckwrightError if there is no such date (before year 1 or after year 9999).

    >>> date_of(dt.date(2024, 2, 28), 2).isoformat()
    '2024-03-01'
    """
    try:
        return as_of + dt.timedelta(days=int(day))
    except OverflowError as error:
        raise WreckwrightError(
            f"day {day} after {as_of.isoformat()} is no date", "dates up to the year 9999", "Give an earlier as-of date"
        ) from error
