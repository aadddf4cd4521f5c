"""Clocks and days, against the definitions taken literally."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from wreckwright.futures.hours import NEVER_CLOCK, Calendar, Hours

EVENINGS = st.lists(st.integers(0, 40), min_size=1, max_size=12)


def hours(evenings: list[int], share: int) -> Hours:
    planned = np.cumsum([0, *evenings])
    return Hours(calendar=Calendar(cumulative_minutes=planned), attendance_permille=np.array([share]))


FIRST = np.array([0])
ITSELF = np.arange(20_000_001, dtype=np.int32)


@given(EVENINGS, st.integers(1, 1000))
def test_start_of_a_day_is_as_written(evenings: list[int], share: int) -> None:
    """independent (the rule, one number at a time)."""
    planned, end = np.cumsum([0, *evenings]).tolist(), sum(evenings) * share // 1000
    for d in range(len(evenings) + 3):
        exact = -(-planned[min(d, len(evenings))] * share // 1000)
        expected = NEVER_CLOCK if d >= len(evenings) or exact > end else exact
        assert hours(evenings, share).start(FIRST, np.array([d])).tolist() == [expected]


@given(EVENINGS, st.integers(1, 1000))
def test_day_of_every_minute_is_as_written(evenings: list[int], share: int) -> None:
    """independent (the rule, by looking at all days)."""
    planned, end = np.cumsum([0, *evenings]).tolist(), sum(evenings) * share // 1000
    assert hours(evenings, share).end_of_calendar.tolist() == [end]
    for clock in range(end + 1):
        q = -(-clock * 1000 // share)
        expected = max(d for d, before in enumerate(planned) if before < q) if clock else 0
        assert hours(evenings, share).day(FIRST, np.array([clock])).tolist() == [expected]


@given(EVENINGS, st.integers(1, 1000))
def test_what_has_begun_is_what_has_started(evenings: list[int], share: int) -> None:
    """independent (the last day whose start is not later)."""
    calendar = hours(evenings, share)
    days = np.arange(len(evenings))
    starts = calendar.start(FIRST, days[None, :])[0]
    for clock in range(sum(evenings) * share // 1000 + 1):
        assert calendar.begun(FIRST, np.array([clock])).tolist() == [int(days[starts <= clock].max())]


@given(st.integers(1, 1000), st.integers(0, 20_000_000))
def test_the_day_that_has_begun_is_exact_on_the_longest_calendar(share: int, clock: int) -> None:
    """hand-worked: with one planned minute a day the day that has begun is clock * 1000 // share. (A calendar of that
    many days is refused by check_rebuild; here only the arithmetic is looked at, on minutes instead of days.)"""
    clock = min(clock, 20_000_000 * share // 1000)
    calendar = Calendar(cumulative_minutes=np.array([0, 1]))
    object.__setattr__(calendar, "day_of_minute", ITSELF)
    long = Hours(calendar=calendar, attendance_permille=np.array([share]))
    assert long.begun(FIRST, np.array([clock])).tolist() == [clock * 1000 // share]
