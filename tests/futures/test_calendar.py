"""The mechanic's calendar."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.futures.made_known import SLID, known
from wreckwright.errors import WreckwrightError
from wreckwright.futures.calendar import HORIZON_DAYS, begin_minutes, cumulative_minutes, date_of, helper_days
from wreckwright.record.types import ChangedDay

EVENINGS = (0, 120, 0, 120, 0, 300, 0)


def test_minutes_across_the_end_of_a_leap_february() -> None:
    # hand-worked: 28 February 2024 is a Wednesday (0), 29 Thursday (120), 1 March Friday (0), 2 March Saturday (300)
    minutes = cumulative_minutes(as_of=dt.date(2024, 2, 28), weekday_minutes=EVENINGS, horizon_days=4)
    assert minutes.tolist() == [0, 0, 120, 120, 420]
    assert minutes.dtype == np.int64
    assert date_of(dt.date(2024, 2, 28), 1) == dt.date(2024, 2, 29)
    # hand-worked: 2023 has no 29 February; 28 February 2023 is a Tuesday (120), then 1 March Wednesday (0)
    minutes = cumulative_minutes(as_of=dt.date(2023, 2, 28), weekday_minutes=EVENINGS, horizon_days=2)
    assert minutes.tolist() == [0, 120, 120]
    assert date_of(dt.date(2023, 2, 28), 1) == dt.date(2023, 3, 1)


def test_days_off_have_no_minutes() -> None:
    # hand-worked: 6 August 2024 is a Tuesday; Tuesday off, Thursday worked, Saturday off (said twice)
    off = (dt.date(2024, 8, 6), dt.date(2024, 8, 10), dt.date(2024, 8, 10), dt.date(2024, 8, 5), dt.date(2031, 1, 1))
    minutes = cumulative_minutes(as_of=dt.date(2024, 8, 6), weekday_minutes=EVENINGS, days_off=off, horizon_days=7)
    assert minutes.tolist() == [0, 0, 0, 120, 120, 120, 120, 120]


def test_the_usual_calendar_reaches_five_years() -> None:
    minutes = cumulative_minutes(as_of=dt.date(2024, 1, 1), weekday_minutes=EVENINGS)
    assert minutes.shape == (HORIZON_DAYS + 1,) == (1831,)
    # hand-worked: 1830 days from a Monday are 261 weeks of 540 minutes and 3 days (Monday to Wednesday, 120)
    assert minutes[-1] == 261 * 540 + 120


dates = st.dates(dt.date(1990, 1, 1), dt.date(2090, 1, 1))


@given(
    as_of=dates,
    week=st.lists(st.integers(0, 600), min_size=7, max_size=7).filter(any),
    off=st.lists(st.integers(-10, 60), max_size=10),
    horizon=st.integers(14, 50),
)
def test_minutes_are_those_of_a_walk_through_the_dates(
    as_of: dt.date, week: list[int], off: list[int], horizon: int
) -> None:
    days_off = {as_of + dt.timedelta(days=day) for day in off}
    # independent (Python's own dates, one after the other)
    expected, total, day = [0], 0, as_of
    for _ in range(horizon):
        total += 0 if day in days_off else week[day.weekday()]
        expected.append(total)
        day += dt.timedelta(days=1)
    if total == 0:
        with pytest.raises(WreckwrightError, match="no working minute"):
            cumulative_minutes(as_of=as_of, weekday_minutes=week, days_off=days_off, horizon_days=horizon)
        return
    got = cumulative_minutes(as_of=as_of, weekday_minutes=week, days_off=days_off, horizon_days=horizon)
    assert got.tolist() == expected


@given(as_of=dates, day=st.integers(0, 5000))
def test_dates_of_days_count_from_the_as_of_date(as_of: dt.date, day: int) -> None:
    assert (date_of(as_of, day) - as_of).days == day


def test_a_calendar_without_a_minute_is_refused() -> None:
    with pytest.raises(WreckwrightError) as caught:
        cumulative_minutes(as_of=dt.date(2024, 1, 1), weekday_minutes=(0,) * 7)
    assert caught.value.what == (
        "the calendar has no working minute from 2024-01-01 on: "
        "weekday_minutes is [0, 0, 0, 0, 0, 0, 0], with 0 days off"
    )
    assert caught.value.allowed == "at least one minute somewhere in 1830 days"
    assert caught.value.do.startswith("Give some minutes to one weekday")


@pytest.mark.parametrize("week", [(60,) * 6, (60,) * 8, (60, 60, 60, 60, 60, 60, -1), (1441, 0, 0, 0, 0, 0, 0)])
def test_a_week_that_cannot_be_is_refused(week: tuple[int, ...]) -> None:
    with pytest.raises(WreckwrightError, match="cannot be planned with. seven whole minutes, Monday first"):
        cumulative_minutes(as_of=dt.date(2024, 1, 1), weekday_minutes=week)


def test_a_horizon_of_no_days_is_refused() -> None:
    with pytest.raises(ValueError, match="horizon_days = 0: at least one day"):
        cumulative_minutes(as_of=dt.date(2024, 1, 1), weekday_minutes=EVENINGS, horizon_days=0)


def test_a_day_beyond_the_last_date_is_refused() -> None:
    with pytest.raises(WreckwrightError, match="day 400 after 9999-01-01 is no date. dates up to the year 9999"):
        date_of(dt.date(9999, 1, 1), 400)
    # a calendar that reaches beyond the last date can still be counted through
    assert cumulative_minutes(as_of=dt.date(9999, 1, 1), weekday_minutes=EVENINGS)[-1] > 0


TUESDAY = dt.date(2024, 8, 6)


def test_a_changed_day_has_its_own_minutes_and_a_day_off_stays_off() -> None:
    # hand-worked: Tuesday 30 instead of 120, Wednesday 45 instead of 0, Thursday off though changed, Saturday 300
    changed = [
        ChangedDay(date=dt.date(2024, 8, 6), minutes=30), ChangedDay(date=dt.date(2024, 8, 7), minutes=45),
        ChangedDay(date=dt.date(2024, 8, 8), minutes=99), ChangedDay(date=dt.date(2024, 8, 1), minutes=600),
    ]
    minutes = cumulative_minutes(
        as_of=TUESDAY, weekday_minutes=EVENINGS, days_off=[dt.date(2024, 8, 8)], changed=changed, horizon_days=5
    )
    assert minutes.tolist() == [0, 30, 75, 75, 75, 375]


def test_one_changed_day_can_be_the_whole_calendar() -> None:
    minutes = cumulative_minutes(
        as_of=TUESDAY, weekday_minutes=(0,) * 7, changed=[ChangedDay(date=TUESDAY, minutes=10)], horizon_days=3
    )
    assert minutes.tolist() == [0, 10, 10, 10]


def test_what_others_have_booked_is_taken_from_the_beginning_of_an_evening() -> None:
    # hand-worked: of Tuesday's 120 minutes 50 are taken, of Thursday's all (more was booked than there is), of Friday's
    # none, as nothing is planned
    booked = {TUESDAY: 50, dt.date(2024, 8, 8): 500, dt.date(2024, 8, 9): 60, dt.date(2024, 8, 5): 60}
    week = {"as_of": TUESDAY, "weekday_minutes": EVENINGS, "booked": booked, "horizon_days": 5}
    assert cumulative_minutes(**week).tolist() == [0, 70, 70, 70, 70, 370]  # type: ignore[arg-type]
    assert begin_minutes(**week).tolist() == [50, 0, 120, 0, 0]  # type: ignore[arg-type]


def test_a_calendar_that_others_take_whole_is_told() -> None:
    with pytest.raises(WreckwrightError, match="machines with an earlier turn"):
        cumulative_minutes(as_of=TUESDAY, weekday_minutes=EVENINGS, booked={TUESDAY: 120}, horizon_days=2)


@given(st.lists(st.integers(0, 1440), min_size=7, max_size=7).filter(any), st.dictionaries(st.integers(0, 20),
       st.integers(0, 2000), max_size=8))
def test_what_is_left_and_what_is_taken_make_up_the_plan(week: list[int], taken: dict[int, int]) -> None:
    # law
    booked = {TUESDAY + dt.timedelta(days=day): minutes for day, minutes in taken.items()}
    plan = np.diff(cumulative_minutes(as_of=TUESDAY, weekday_minutes=week, horizon_days=40))
    left = np.diff(cumulative_minutes(as_of=TUESDAY, weekday_minutes=week, horizon_days=40, booked=booked))
    begin = begin_minutes(as_of=TUESDAY, weekday_minutes=week, horizon_days=40, booked=booked)
    assert (left + begin == plan).all()
    assert (left >= 0).all()


def test_helper_days_by_weekday_and_by_date_but_never_on_a_day_off() -> None:
    assert helper_days(TUESDAY, known()) is None
    text = SLID + (
        '[calendar]\nhelper_weekdays = ["saturday"]\nhelper_days = [2024-08-07, 2024-08-01]\n'
        "days_off = [2024-08-17]\n"
    )
    helped = helper_days(TUESDAY, known(text), horizon_days=12)
    assert helped is not None
    # hand-worked: Wednesday 7 August by date, Saturday 10 August by weekday; Saturday 17 August is off
    assert np.flatnonzero(helped).tolist() == [1, 4]
