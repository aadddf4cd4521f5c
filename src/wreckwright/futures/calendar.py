"""The mechanic's calendar: planned minutes by day, and back from days to dates."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from types import MappingProxyType
from typing import get_args

import numpy as np
import numpy.typing as npt

from wreckwright.errors import WreckwrightError
from wreckwright.futures.rebuild import BoolArray, IntArray
from wreckwright.record.known import Known
from wreckwright.record.types import ChangedDay, Weekday

HORIZON_DAYS = 1830
"""Five years and a few days; what takes longer is shown as "more than five years"."""

MINUTES_A_DAY = 24 * 60
WEEKDAYS: tuple[str, ...] = get_args(Weekday)
"""Monday first."""


def cumulative_minutes(
    *,
    as_of: dt.date,
    weekday_minutes: Sequence[int],
    days_off: Iterable[dt.date] = (),
    changed: Iterable[ChangedDay] = (),
    booked: Mapping[dt.date, int] = MappingProxyType({}),
    horizon_days: int = HORIZON_DAYS,
) -> npt.NDArray[np.int64]:
    """Planned minutes before the start of each calendar day, counted from the as-of date.

    Day 0 is `as_of`; entry 0 is 0; entry `d` is the sum of the plan of days 0 to d - 1. A `changed` day has its own
    minutes instead of its weekday's; a day off has none, changed or not. `booked`: minutes at the beginning of evenings
    that others take; they are taken off, as far as there are so many. Days before the as-of date or after the horizon
    have no effect.

    Parameters: `weekday_minutes` seven whole minutes, Monday first, each 0 to 1440; `horizon_days` 1 or more.
    Returns: int64 of shape [horizon_days + 1]. Raises: WreckwrightError if the week is malformed or if not one minute
    is left in the whole calendar; ValueError if the horizon is shorter than a day.

    >>> week = (0, 0, 120, 0, 0, 300, 0)
    >>> cumulative_minutes(as_of=dt.date(2024, 2, 28), weekday_minutes=week, horizon_days=4).tolist()
    [0, 120, 120, 120, 420]
    >>> cumulative_minutes(as_of=dt.date(2024, 2, 28), weekday_minutes=week, horizon_days=4,
    ...     changed=[ChangedDay(date=dt.date(2024, 2, 29), minutes=60)], booked={dt.date(2024, 3, 2): 200}).tolist()
    [0, 120, 180, 180, 280]
    """
    plan = _plan(as_of, weekday_minutes, days_off, changed, horizon_days)
    plan -= _taken(as_of, plan, booked)
    if not plan.any():
        raise WreckwrightError(
            f"every planned minute from {as_of.isoformat()} on is taken by machines with an earlier turn",
            f"at least one minute somewhere in {horizon_days} days",
            "Plan more minutes, or give this machine an earlier turn",
        )
    out = np.zeros(horizon_days + 1, dtype=np.int64)
    np.cumsum(plan, out=out[1:])
    return out


def begin_minutes(
    *,
    as_of: dt.date,
    weekday_minutes: Sequence[int],
    days_off: Iterable[dt.date] = (),
    changed: Iterable[ChangedDay] = (),
    booked: Mapping[dt.date, int] = MappingProxyType({}),
    horizon_days: int = HORIZON_DAYS,
) -> IntArray:
    """Minute of each evening at which what others have booked ends; at most the minutes planned on that day.

    Parameters and errors as `cumulative_minutes`. Returns: int32 of shape [horizon_days].

    >>> begin_minutes(as_of=dt.date(2024, 2, 28), weekday_minutes=(0, 0, 120, 0, 0, 300, 0), horizon_days=4,
    ...     booked={dt.date(2024, 2, 28): 500, dt.date(2024, 3, 2): 200}).tolist()
    [120, 0, 0, 200]
    """
    return _taken(as_of, _plan(as_of, weekday_minutes, days_off, changed, horizon_days), booked).astype(np.int32)


def helper_days(as_of: dt.date, known: Known, *, horizon_days: int = HORIZON_DAYS) -> BoolArray | None:
    """On which days of the calendar somebody helps; None where the record names no such day, and nothing waits for one.

    A day off is no helper day. Returns: [horizon_days].
    """
    calendar = known.machine.calendar
    if not calendar.helper_weekdays and not calendar.helper_days:
        return None
    weekdays = np.array([WEEKDAYS.index(name) for name in calendar.helper_weekdays], dtype=np.int64)
    found: BoolArray = np.isin((as_of.weekday() + np.arange(horizon_days)) % 7, weekdays)
    found[_inside(as_of, calendar.helper_days, horizon_days)] = True
    found[_inside(as_of, known.days_off, horizon_days)] = False
    return found


def _plan(
    as_of: dt.date, weekday_minutes: Sequence[int], days_off: Iterable[dt.date], changed: Iterable[ChangedDay],
    horizon_days: int,
) -> npt.NDArray[np.int64]:
    """Minutes planned on each day, others not reckoned with."""
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
    for one in changed:
        plan[_inside(as_of, (one.date,), horizon_days)] = one.minutes
    off = list(days_off)
    plan[_inside(as_of, off, horizon_days)] = 0
    if not plan.any():
        raise WreckwrightError(
            f"the calendar has no working minute from {as_of.isoformat()} on: "
            f"weekday_minutes is {list(weekday_minutes)}, with {len(off)} days off",
            f"at least one minute somewhere in {horizon_days} days",
            "Give some minutes to one weekday, or take back days off",
        )
    return plan


def _taken(as_of: dt.date, plan: npt.NDArray[np.int64], booked: Mapping[dt.date, int]) -> npt.NDArray[np.int64]:
    taken = np.zeros_like(plan)
    for date, minutes in booked.items():
        for day in _inside(as_of, (date,), len(plan)):
            taken[day] = min(max(minutes, 0), int(plan[day]))
    return taken


def _inside(as_of: dt.date, dates: Iterable[dt.date], horizon_days: int) -> list[int]:
    return [day for day in ((date - as_of).days for date in dates) if 0 <= day < horizon_days]


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
