"""Typed words -> values of a record. What cannot be understood is refused with the field, the value and what to type.

Empty text is no value: None.
"""

from __future__ import annotations

import datetime as dt
import re

from wreckwright.errors import EntryError
from wreckwright.record.faults import shown
from wreckwright.record.money import minor_digits, show_money
from wreckwright.record.shape import EARLIEST, LATEST

LARGEST_MINOR = 10**12
_LONGEST = 60
_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_MONTH_NAMES = "january february march april may june july august september october november december".split()
# Between thousands: space, no-break space, thin space, narrow no-break space, and the apostrophes of Switzerland.
_THIN = " \u00a0\u2009\u202f'\u2019"
_GROUPED = re.compile(r"\d{1,3}(?:[.,]\d{3})+", re.ASCII)


def money_minor(text: str, currency: str, field: str) -> int | None:
    """A sum of money as a person types it, in minor units of `currency`; 0 or more.

    Thousands may be set apart by spaces, commas, full stops or apostrophes; what follows the last comma or full stop
    are decimals if there are as many as the currency has, or fewer.

    >>> [money_minor(text, "EUR", "price") for text in ("2,450.00", "2 450", "2450", "2.450,5", "EUR 80", "")]
    [245000, 245000, 245000, 245050, 8000, None]
    >>> money_minor("2,450", "JPY", "price"), money_minor("2.450", "KWD", "price")
    (2450, 2450)
    """
    bare = _bare(text)
    if not bare:
        return None
    digits = minor_digits(currency)
    compact = "".join(one for one in _without_currency(bare, currency) if one not in _THIN)
    units, decimals = _split_sum(compact, digits)
    if not re.fullmatch(r"\d+", units, re.ASCII) or not re.fullmatch(r"\d*", decimals, re.ASCII):
        raise _no_sum(text, currency, field)
    minor: int = int(units) * 10**digits + int(decimals.ljust(digits, "0") or "0")
    if minor > LARGEST_MINOR:
        raise EntryError(
            f"{field}: {shown(bare)} is more than can be kept",
            allowed=f"0 to {show_money(LARGEST_MINOR, currency)}",
            do="check the zeros",
            field=field,
        )
    return minor


def money_text(minor: int | None, currency: str) -> str:
    """A sum as it is typed; `money_minor` reads it back. None is empty.

    >>> money_text(245000, "EUR"), money_text(245050, "EUR"), money_text(2450, "JPY"), money_text(None, "EUR")
    ('2450', '2450.50', '2450', '')
    """
    if minor is None:
        return ""
    digits = minor_digits(currency)
    units, rest = divmod(minor, 10**digits)
    return f"{units}.{rest:0{digits}d}" if rest else str(units)


def whole(text: str, field: str, *, least: int = 0, most: int = 2**31, unit: str = "") -> int | None:
    """A whole number as a person types it, `least` to `most`.

    >>> whole("2016", "year", least=1900, most=2100), whole(" 12 500 ", "odometer"), whole("", "year")
    (2016, 12500, None)
    """
    bare = _bare(text)
    if not bare:
        return None
    compact = "".join(one for one in bare if one not in _THIN)
    if _GROUPED.fullmatch(compact):
        compact = re.sub("[.,]", "", compact)
    named = f" {unit}" if unit else ""
    allowed = (
        f"a whole number from {least:,} to {most:,}{named}"
        if most >= 10_000
        else (f"a whole number from {least} to {most}{named}")
    )
    if not re.fullmatch(r"[+-]?\d{1,20}", compact, re.ASCII):
        raise EntryError(
            f"{field}: {shown(bare)} is no whole number",
            allowed=allowed,
            do="type digits only, or leave it empty if it is not known",
            field=field,
        )
    number = int(compact)
    if not least <= number <= most:
        raise EntryError(f"{field}: {number} is out of range", allowed=allowed, do="check the digits", field=field)
    return number


def number(text: str, field: str, *, most: float = 10_000_000.0) -> float | None:
    """A number as a person types it, 0 to `most`.

    Three digits behind a mark are thousands, unless that would be more than `most`.

    >>> number("1.5", "pace"), number("1,5", "pace"), number("12 500", "odometer"), number("", "pace")
    (1.5, 1.5, 12500.0, None)
    >>> number("12.500", "odometer"), number("1.125", "pace", most=10)
    (12500.0, 1.125)
    """
    bare = _bare(text)
    if not bare:
        return None
    compact = "".join(one for one in bare if one not in _THIN)
    together = re.sub("[.,]", "", compact)
    grouped = bool(_GROUPED.fullmatch(compact)) and float(together) <= most
    compact = together if grouped else compact.replace(",", ".")
    if not re.fullmatch(r"\d{1,12}(?:\.\d{0,6})?", compact, re.ASCII) or float(compact) > most:
        raise EntryError(
            f"{field}: {shown(bare)} is no number that can be used",
            allowed=f"0 to {most:,.0f}, with decimals if need be",
            do="type it as 1.5, or leave it empty if it is not known",
            field=field,
        )
    return float(compact)


def number_text(value: float | None) -> str:
    """A number as it is typed; `number` reads it back. None is empty.

    >>> number_text(1.5), number_text(21300.0), number_text(12.125), number_text(None)
    ('1.5', '21300', '12.1250', '')
    """
    if value is None:
        return ""
    text = f"{value:.6f}".rstrip("0").rstrip(".")
    # With three decimals it would be read as thousands.
    return f"{text}0" if _GROUPED.fullmatch(text) else text


def day(text: str, field: str) -> dt.date | None:
    """A day as a person types it: `2026-11-20` or `20 November 2026`.

    Figures alone in another order (20/11/2026) are refused: they are read differently by different people.

    >>> day("2026-11-20", "date"), day("20 Nov 2026", "date"), day("", "date")
    (datetime.date(2026, 11, 20), datetime.date(2026, 11, 20), None)
    """
    bare = _bare(text)
    if not bare:
        return None
    allowed = f"a day from {EARLIEST.year} to {LATEST.year}, such as 2026-11-20 or 20 November 2026"
    parts = _day_parts(bare)
    if parts is None:
        raise EntryError(
            f"{field}: {shown(bare)} is no day that can be understood",
            allowed=allowed,
            do="write year-month-day, or the month as a word",
            field=field,
        )
    try:
        read = dt.date(*parts)
    except ValueError:
        read = dt.date.min
    if not EARLIEST <= read <= LATEST:
        raise EntryError(
            f"{field}: {shown(bare)} is not in the calendar", allowed=allowed, do="check day and month", field=field
        )
    return read


def share(text: str, field: str) -> float | None:
    """Per cent as a person types them -> 0..1.

    >>> share("20", "chance"), share("12.5 %", "chance"), share("", "chance")
    (0.2, 0.125, None)
    """
    bare = _bare(text)
    if not bare:
        return None
    allowed, do = "0 to 100 per cent", "type it as 20 or 20 %"
    signed = bare.endswith("%")
    number = bare.removesuffix("%").strip().replace(",", ".")
    if not re.fullmatch(r"\d{1,3}(?:\.\d{0,6})?", number, re.ASCII):
        raise EntryError(f"{field}: {shown(bare)} is no share", allowed=allowed, do=do, field=field)
    percent = float(number)
    if 0 < percent < 1 and not signed:
        raise EntryError(
            f"{field}: {shown(bare)} may be meant as a part of 1 or as per cent",
            allowed=allowed,
            do=f"write {percent * 100:g} % or {percent:g} %",
            field=field,
        )
    if percent > 100:
        raise EntryError(f"{field}: {shown(bare)} is more than all", allowed=allowed, do=do, field=field)
    return round(percent / 100, 8)


def share_text(value: float | None) -> str:
    """
    >>> share_text(0.2), share_text(0.125), share_text(None)
    ('20 %', '12.5 %', '')
    """
    return "" if value is None else f"{round(value * 100, 6):g} %"


def minutes(text: str, field: str) -> int | None:
    """A time of one day as a person types it -> whole minutes, 0 to 1440. A number alone is minutes.

    >>> [minutes(text, "monday") for text in ("120", "2 h", "2:30", "1 h 30 min", "1.5h", "")]
    [120, 120, 150, 90, 90, None]
    """
    bare = _bare(text).lower()
    if not bare:
        return None
    pieces = re.fullmatch(
        r"(?:(?P<h>\d{1,4}(?:[.,]\d{1,3})?)\s*h(?:ours?)?)?\s*(?:(?P<m>\d{1,4})\s*(?:m|min|minutes)?)?", bare, re.ASCII
    )
    clock = re.fullmatch(r"(?P<h>\d{1,2}):(?P<m>[0-5]\d)", bare, re.ASCII)
    found = clock or pieces
    if found is None:
        raise EntryError(
            f"{field}: {shown(bare)} is no time",
            allowed="0 to 1440 minutes a day",
            do="type it as 120, 2 h or 2:00",
            field=field,
        )
    total = round(float((found["h"] or "0").replace(",", ".")) * 60 + int(found["m"] or "0"))
    if total > 1440:
        raise EntryError(
            f"{field}: {shown(bare)} is more than a day", allowed="0 to 1440 minutes a day", do="check it", field=field
        )
    return total


def _bare(text: str) -> str:
    # Nothing that is typed into one of these fields is long; what is, is shown cut short and refused.
    return " ".join(text.replace("\u00a0", " ").split())[:_LONGEST]


def _without_currency(bare: str, currency: str) -> str:
    trimmed = re.sub(rf"^{re.escape(currency)}\s*|\s*{re.escape(currency)}$", "", bare, flags=re.IGNORECASE)
    return trimmed.strip("\u20ac$\u00a3\u00a5").strip()


def _split_sum(compact: str, digits: int) -> tuple[str, str]:
    """(whole units, decimals) as digits; what cannot be split comes back as it is and is refused by the caller."""
    marks = [one for one in compact if one in ".,"]
    if not marks:
        return compact, ""
    last = max(compact.rfind("."), compact.rfind(","))
    before, after = compact[:last], compact[last + 1 :]
    other_before = {one for one in before if one in ".,"}
    grouped_before = not other_before or bool(_GROUPED.fullmatch(before))
    one_kind = len(set(marks)) == 1
    # A comma before three digits sets thousands apart even where the currency has three decimals.
    decimals_here = 0 < len(after) <= digits and not (len(after) == 3 and compact[last] == ",")
    if decimals_here and compact[last] not in other_before and grouped_before:
        return re.sub("[.,]", "", before), after
    if one_kind and _GROUPED.fullmatch(compact):
        return re.sub("[.,]", "", compact), ""
    return compact, ""


def _no_sum(text: str, currency: str, field: str) -> EntryError:
    digits = minor_digits(currency)
    example = "2450" if not digits else f"2450 or 2450.{'5'.ljust(digits, '0')}"
    return EntryError(
        f"{field}: {shown(_bare(text))} is no sum in {currency}",
        allowed=f"0 or more, with {'no decimals' if not digits else f'up to {digits} decimals'}",
        do=f"type it as {example}, or leave it empty if it is not known",
        field=field,
    )


def _day_parts(bare: str) -> tuple[int, int, int] | None:
    iso = re.fullmatch(r"(\d{4})-(\d{1,2})-(\d{1,2})", bare, re.ASCII)
    if iso:
        return int(iso[1]), int(iso[2]), int(iso[3])
    spoken = re.fullmatch(r"(\d{1,2})\.? ([a-z]+)\.?,? (\d{4})", bare.lower(), re.ASCII)
    american = re.fullmatch(r"([a-z]+)\.? (\d{1,2}),? (\d{4})", bare.lower(), re.ASCII)
    number, word, year = (
        (spoken[1], spoken[2], spoken[3])
        if spoken
        else (american[2], american[1], american[3])
        if american
        else ("", "", "")
    )
    if word in _MONTH_NAMES:
        return int(year), _MONTH_NAMES.index(word) + 1, int(number)
    if word in _MONTHS or word == "sept":
        return int(year), _MONTHS.index(word[:3]) + 1, int(number)
    return None
