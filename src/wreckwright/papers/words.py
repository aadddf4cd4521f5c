"""Figures as they are read: money, hours, shares, and lines that fit a terminal or a page."""

from __future__ import annotations

import datetime as dt
import json
import re
import textwrap

import msgspec

from wreckwright.acts.currency import minor_digits

COLUMNS = 80
"""Width for which running text is set."""

MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)


ISO_DAY = re.compile(r"\b(\d{4}-\d{2}-\d{2})\b")


def day(value: str | dt.date) -> str:
    """A date as one says it; an ISO date or a date is taken.

    >>> day("2027-04-03")
    '3 April 2027'
    """
    date = value if isinstance(value, dt.date) else dt.date.fromisoformat(value)
    return f"{date.day} {MONTHS[date.month - 1]} {date.year}"


def with_days(text: str) -> str:
    """`text` with its ISO dates as one says them; what only looks like a date stays.

    >>> with_days("half of the time by 2027-04-13, not by 2027-13-01")
    'half of the time by 13 April 2027, not by 2027-13-01'
    """

    def said(match: re.Match[str]) -> str:
        try:
            return day(match[1])
        except ValueError:
            return match[1]

    return ISO_DAY.sub(said, text)


def minor_per_major(currency: str) -> int:
    """Minor units in one unit of `currency` (ISO 4217 code).

    >>> minor_per_major("EUR"), minor_per_major("JPY"), minor_per_major("KWD")
    (100, 1, 1000)
    """
    return int(10 ** minor_digits(currency))


def money(amount_minor: int, currency: str = "", *, of: str = "") -> str:
    """`amount_minor` in whole units, `currency` before it if given; `of` names the currency when it is not to be shown.

    Hundredths are left out: no estimate here is that good.

    >>> money(123_456, "EUR"), money(-50_000, "EUR"), money(-49, of="EUR"), money(1_500, "JPY")
    ('EUR 1,235', 'EUR -500', '0', 'JPY 1,500')
    """
    whole = round(amount_minor / minor_per_major(currency or of))
    return f"{currency} {whole:,}" if currency else f"{whole:,}"


def hours(value_hours: float) -> str:
    """
    >>> hours(0.4), hours(7.25), hours(63.4)
    ('0.4 h', '7.3 h', '63 h')
    """
    return f"{value_hours:.1f} h" if value_hours < 10 else f"{value_hours:.0f} h"


def minutes(value_minutes: float) -> str:
    """Working time, no finer than one plans it.

    >>> minutes(10), minutes(90), minutes(125), minutes(0.4)
    ('10 min', '1 h 30 min', '2 h', '1 min')
    """
    whole = max(1, round(value_minutes))
    if whole >= 60:
        whole = 15 * round(whole / 15)
    whole_hours, rest = divmod(whole, 60)
    return " ".join(([f"{whole_hours} h"] if whole_hours else []) + ([f"{rest} min"] if rest else []))


def percent(share: float) -> str:
    """
    >>> percent(0.204), percent(0.004), percent(0.0)
    ('20 %', 'under 1 %', '0 %')
    """
    if 0 < share < 0.01:
        return "under 1 %"
    if 0.99 < share < 1:
        return "over 99 %"
    return f"{share * 100:.0f} %"


def upper_first(text: str) -> str:
    """
    >>> upper_first("our guess about the wait")
    'Our guess about the wait'
    """
    return text[:1].upper() + text[1:]


def sentence(text: str) -> str:
    """`text` with a capital and a full stop.

    >>> sentence("our guess about the wait")
    'Our guess about the wait.'
    """
    text = upper_first(text.strip())
    return text if text.endswith((".", "!", "?", ":")) or not text else text + "."


def wrapped(text: str, *, indent: int = 0, hang: int | None = None, width: int = COLUMNS) -> list[str]:
    """`text` in lines of at most `width` columns; `hang` is the indent of all lines but the first.

    >>> wrapped("one two three", width=8)
    ['one two', 'three']
    """
    return textwrap.wrap(
        text,
        width,
        initial_indent=" " * indent,
        subsequent_indent=" " * (indent if hang is None else hang),
        break_long_words=True,
        break_on_hyphens=False,
    ) or [""]


def row(label: str, value: str, *, at: int = 24, indent: int = 2) -> list[str]:
    """A label and its value, the value starting in column `at` and wrapped under itself.

    >>> row("Own hours", "62 h", at=14)
    ['  Own hours   62 h']
    """
    head = (" " * indent + label).ljust(at)
    if len(head) > at:
        head = head.rstrip() + "  "
    return wrapped(head + value, hang=at) if value else [head.rstrip()]


def as_json(result: object) -> str:
    """A result as JSON text: keys in the order of its fields, letters as they are."""
    return json.dumps(msgspec.to_builtins(result), indent=2, ensure_ascii=False, allow_nan=False)
