"""From the mechanic's own working minutes to calendar days and back; docs/simulator.md, section Time.

All arithmetic is in whole numbers. `NEVER_CLOCK` stands for a moment that does not come within the calendar.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from wreckwright.futures.rebuild import BoolArray, LongArray

NEVER_CLOCK = 2**31 - 1
"""Larger than any clock."""

Days = npt.NDArray[np.int16]


@dataclass(frozen=True, kw_only=True)
class Calendar:
    """Planned minutes by day, and the way back from minutes to days as a table.

    >>> calendar = Calendar(cumulative_minutes=np.array([0, 60, 60, 180]))
    >>> calendar.days, calendar.day_of_minute[[0, 59, 60, 179, 180]].tolist()
    (3, [0, 0, 2, 2, 2])
    """

    cumulative_minutes: LongArray
    """[days + 1] planned minutes before each day; `check_rebuild` says what may stand here."""
    days: int = field(init=False)
    day_of_minute: Days = field(init=False)
    """[last of `cumulative_minutes` + 1] the last day that has begun when so many planned minutes have gone by."""

    def __post_init__(self) -> None:
        minutes = self.cumulative_minutes.astype(np.int64)
        days = len(minutes) - 1
        table = np.append(np.repeat(np.arange(days), np.diff(minutes)), days - 1)
        object.__setattr__(self, "cumulative_minutes", minutes)
        object.__setattr__(self, "days", days)
        object.__setattr__(self, "day_of_minute", table.astype(np.int16))


@dataclass(frozen=True, kw_only=True)
class Hours:
    """The calendar of F futures that work different shares of the same planned minutes.

    >>> hours = Hours(calendar=Calendar(cumulative_minutes=np.array([0, 60, 60, 180])),
    ...               attendance_permille=np.array([1000, 500]))
    >>> hours.end_of_calendar.tolist()
    [180, 90]
    >>> rows = np.array([0, 1])
    >>> hours.start(rows, np.array([1, 1])).tolist()      # 60 planned minutes have gone by; half of them worked
    [60, 30]
    >>> hours.day(rows, np.array([60, 31])).tolist()      # the last minute of the first evening; the first of the next
    [0, 2]
    >>> hours.begun(rows, np.array([60, 31])).tolist()    # at minute 60 day 2 has begun: nothing is planned on day 1
    [2, 2]
    """

    calendar: Calendar
    attendance_permille: LongArray
    """[F] 1..1000."""

    @property
    def end_of_calendar(self) -> LongArray:
        """[F] last minute of the calendar that is worked."""
        end: LongArray = self.calendar.cumulative_minutes[-1] * self.attendance_permille // 1000
        return end

    def start(self, rows: npt.NDArray[np.intp], days: npt.NDArray[np.integer]) -> LongArray:
        """First working minute of day `days` ([n], or [n, m] with one row per future) in futures `rows` ([n]).

        `NEVER_CLOCK` where the day is not on the calendar, or where nothing is worked from that day on.
        """
        share, last = self.attendance_permille[rows], self.calendar.days
        minutes = self.calendar.cumulative_minutes
        end = minutes[-1] * share // 1000
        if days.ndim == 2:
            share, end = share[:, None], end[:, None]
        clock: LongArray = -(minutes[np.minimum(days, last)] * -share // 1000)
        clock[(days >= last) | (clock > end)] = NEVER_CLOCK
        return clock

    def day(self, rows: npt.NDArray[np.intp], clock: LongArray) -> LongArray:
        """Day ([n]) on which a piece of work that ends at `clock` ([n], at most the end of the calendar) ends."""
        planned = -(clock * -1000 // self.attendance_permille[rows])
        day: LongArray = self.calendar.day_of_minute[np.maximum(planned - 1, 0)].astype(np.int64)
        day[clock == 0] = 0
        return day

    def begun(self, rows: npt.NDArray[np.intp], clock: LongArray) -> Days:
        """Last day ([n]) whose start is not after `clock` ([n], at most the end of the calendar)."""
        return last_begun(self.calendar, clock, self.attendance_permille[rows].astype(np.float64))


def last_begun(calendar: Calendar, clock: LongArray, attendance_permille: npt.NDArray[np.float64]) -> Days:
    """As `Hours.begun`, for the one place where its speed counts."""
    # Half a unit more than clock * 1000 keeps every quotient clear of the whole number above and below it,
    # so that rounding in the division cannot change the result.
    planned = (clock * 1000.0 + 0.5) / attendance_permille
    return calendar.day_of_minute.take(planned.astype(np.int64))


@dataclass(frozen=True, kw_only=True)
class HelperDays:
    """On which days work for two can begin; docs/simulator.md, section Somebody helps.

    >>> hours = Hours(calendar=Calendar(cumulative_minutes=np.array([0, 60, 60, 180])),
    ...               attendance_permille=np.array([1000]))
    >>> days = HelperDays(hours=hours, helper_day=np.array([True, True, False]))
    >>> days.release(np.array([0]), np.array([[0, 1, 2]])).tolist()      # nothing is planned on day 1: 3 is never
    [[0, 3, 3]]
    """

    hours: Hours
    helper_day: BoolArray
    """[days]"""
    next_from: Days = field(init=False)
    """[days + 1] first day with help from each day on; `days` if there is none."""

    def __post_init__(self) -> None:
        days = self.hours.calendar.days
        helped = np.where(self.helper_day, np.arange(days), days)
        first_from = np.minimum.accumulate(helped[::-1])[::-1]
        object.__setattr__(self, "next_from", np.append(first_from, days).astype(np.int16))

    def release(self, rows: npt.NDArray[np.intp], days: npt.NDArray[np.integer]) -> Days:
        """From `days` ([n, m] of the futures `rows`, [n]) on, the first days at whose start it is a helper day."""
        chosen: Days = self.next_from.take(days)
        open_ends = np.flatnonzero(chosen < self.hours.calendar.days)
        row = np.repeat(rows, chosen.shape[1])
        while len(open_ends):
            # At the start of a day without minutes of its own a later one has already begun.
            start = self.hours.start(row[open_ends], chosen.flat[open_ends])
            open_ends, start = open_ends[start != NEVER_CLOCK], start[start != NEVER_CLOCK]
            today = self.hours.begun(row[open_ends], start)
            alone = ~self.helper_day[today]
            open_ends = open_ends[alone]
            chosen.flat[open_ends] = self.next_from[today[alone]]
        return chosen
