"""Typed words: what is understood, and what is asked back."""

from __future__ import annotations

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wreckwright.acts import entry
from wreckwright.errors import EntryError
from wreckwright.record.money import minor_digits, show_money

CURRENCIES = st.sampled_from(["EUR", "GBP", "USD", "JPY", "KWD"])


# hand-worked: minor units are hundredths (EUR), whole units (JPY), thousandths (KWD).
@pytest.mark.parametrize(
    ("text", "currency", "minor"),
    [
        ("2,450.00", "EUR", 245000),
        ("2 450", "EUR", 245000),
        ("2450", "EUR", 245000),
        ("2.450,00", "EUR", 245000),
        ("2.450", "EUR", 245000),
        ("2,450", "EUR", 245000),
        ("2'450.5", "EUR", 245050),
        ("2\u202f450,50", "EUR", 245050),
        ("1,234,567.89", "EUR", 123456789),
        ("1.234.567,89", "EUR", 123456789),
        ("0", "EUR", 0),
        ("0.5", "EUR", 50),
        ("0,05", "EUR", 5),
        ("EUR 80", "EUR", 8000),
        ("80 eur", "EUR", 8000),
        ("\u20ac80", "EUR", 8000),
        ("2,450", "JPY", 2450),
        ("2450", "JPY", 2450),
        ("2.450", "KWD", 2450),
        ("2,450", "KWD", 2_450_000),
        ("2.45", "KWD", 2450),
        ("", "EUR", None),
        ("   ", "EUR", None),
    ],
)
def test_sums(text: str, currency: str, minor: int | None) -> None:
    assert entry.money_minor(text, currency, "price") == minor


@pytest.mark.parametrize(
    ("text", "currency"),
    [
        ("about 2000", "EUR"),
        ("-50", "EUR"),
        ("2.5k", "EUR"),
        ("2.5", "JPY"),
        ("12,34,567", "EUR"),
        ("1.2.3", "EUR"),
        ("2,450.123", "EUR"),
        (".", "EUR"),
        ("1e5", "EUR"),
        ("\u0662\u0660", "EUR"),
        ("20 USD", "EUR"),
        ("2,450.00,1", "EUR"),
    ],
)
def test_what_is_no_sum_is_asked_back_with_the_field_and_the_words(text: str, currency: str) -> None:
    with pytest.raises(EntryError, match="is no sum") as caught:
        entry.money_minor(text, currency, "price")
    error = caught.value
    assert error.field == "price" and error.what.startswith("price: ") and error.allowed and "2450" in error.do


def test_a_sum_beyond_all_measure_is_refused() -> None:
    with pytest.raises(EntryError, match="more than can be kept"):
        entry.money_minor("99999999999999", "EUR", "price")


@given(st.integers(0, 10**12), CURRENCIES)
def test_a_sum_as_typed_and_as_shown_is_read_back(minor: int, currency: str) -> None:
    assert entry.money_minor(entry.money_text(minor, currency), currency, "price") == minor
    assert entry.money_minor(show_money(minor, currency), currency, "price") == minor


@given(st.text(max_size=30), CURRENCIES)
def test_no_text_makes_the_program_stumble(text: str, currency: str) -> None:
    for read in (
        lambda: entry.money_minor(text, currency, "f"),
        lambda: entry.whole(text, "f"),
        lambda: entry.number(text, "f"),
        lambda: entry.day(text, "f"),
        lambda: entry.share(text, "f"),
        lambda: entry.minutes(text, "f"),
    ):
        try:
            read()
        except EntryError as error:
            assert error.field == "f" and error.allowed and error.do


@given(st.integers(0, 10**9), CURRENCIES, st.sampled_from([" ", ",", ".", "'", "\u00a0"]))
def test_thousands_may_be_set_apart_in_any_way_but_as_decimals(units: int, currency: str, mark: str) -> None:
    text = f"{units:,}".replace(",", mark)
    # With three decimals and one full stop, the full stop is the decimal mark.
    if not (minor_digits(currency) == 3 and mark == "." and text.count(".") == 1):
        assert entry.money_minor(text, currency, "price") == units * 10 ** minor_digits(currency)


def test_whole_numbers() -> None:
    assert entry.whole("2016", "year", least=1900, most=2100) == 2016
    assert entry.whole("12,500", "odometer") == 12500
    assert entry.whole("", "year") is None
    with pytest.raises(EntryError, match="year: 16 is out of range") as caught:
        entry.whole("16", "year", least=1900, most=2100)
    assert "1900 to 2100" in caught.value.allowed
    for text in ("20.5", "twenty", "2016a", "1" * 40):
        with pytest.raises(EntryError, match="no whole number"):
            entry.whole(text, "year")


@given(st.integers(0, 9), st.integers(0, 10**12))
def test_a_number_as_shown_is_read_back(decimals: int, digits: int) -> None:
    value = round(digits / 10**6 / 10**decimals, min(decimals, 6))
    assert entry.number(entry.number_text(value), "odometer") == value


def test_numbers() -> None:
    # hand-worked
    read = {"1.5": 1.5, "1,5": 1.5, "21 300": 21300.0, "21,300": 21300.0, "21.300": 21300.0, "0": 0.0, "": None}
    assert {text: entry.number(text, "odometer") for text in read} == read
    assert entry.number(entry.number_text(12.345), "odometer") == 12.345
    # Nobody is more than ten times as slow as the trade, so these are decimals.
    assert entry.number("1.125", "pace", most=10) == 1.125
    for text in ("-1", "1e5", "fast", "1.2.3", "99999999"):
        with pytest.raises(EntryError, match="no number that can be used"):
            entry.number(text, "odometer")


@pytest.mark.parametrize(
    "text",
    ["2026-11-20", "2026-11-20 ", "20 November 2026", "20 nov 2026", "20. Nov. 2026", "November 20, 2026"],
)
def test_days(text: str) -> None:
    assert entry.day(text, "date") == dt.date(2026, 11, 20)


@pytest.mark.parametrize("text", ["20/11/2026", "11/20/2026", "20.11.2026", "tomorrow", "20 Foo 2026", "2026"])
def test_a_day_that_people_read_differently_is_asked_back(text: str) -> None:
    with pytest.raises(EntryError, match="no day that can be understood"):
        entry.day(text, "date")


@pytest.mark.parametrize("text", ["2026-02-30", "2026-13-01", "31 April 2026", "1850-01-01", "2500-01-01"])
def test_a_day_that_never_comes_is_asked_back(text: str) -> None:
    with pytest.raises(EntryError, match="not in the calendar"):
        entry.day(text, "date")


def test_shares() -> None:
    assert entry.share("20", "chance") == 0.2
    assert entry.share("20 %", "chance") == 0.2
    assert entry.share("0.5 %", "chance") == 0.005
    assert entry.share("0", "chance") == 0.0
    assert entry.share("100%", "chance") == 1.0
    with pytest.raises(EntryError) as caught:
        entry.share("0.2", "chance")
    # It may be 20 % or a fifth of one per cent; both are offered.
    assert caught.value.do == "write 20 % or 0.2 %"
    for text in ("101", "-1", "a fifth", "1000"):
        with pytest.raises(EntryError):
            entry.share(text, "chance")


@given(st.floats(0, 1).map(lambda value: round(value, 6)))
def test_a_share_as_shown_is_read_back(value: float) -> None:
    shown = entry.share_text(value)
    if "e" not in shown:
        assert entry.share(shown, "chance") == pytest.approx(value, abs=1e-7)


def test_times_of_a_day() -> None:
    # hand-worked
    read = {"120": 120, "2h": 120, "2 hours": 120, "2:30": 150, "1 h 30": 90, "1,5 h": 90, "45 min": 45, "0": 0}
    assert {text: entry.minutes(text, "monday") for text in read} == read
    for text in ("2:75", "two", "25 h", "-5"):
        with pytest.raises(EntryError):
            entry.minutes(text, "monday")
