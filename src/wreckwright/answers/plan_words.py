"""How lengths of work, waits and lists are said in the answers about work. Light: no numeric library behind it."""

from __future__ import annotations

import datetime as dt

MINUTES_NAMED = 100.0
"""Lengths below this are said in minutes, from it on in hours."""


def listed(items: tuple[str, ...]) -> str:
    """Items in a sentence.

    >>> listed(("a", "b", "c"))
    'a, b and c'
    """
    return items[0] if len(items) == 1 else ", ".join(items[:-1]) + " and " + items[-1] if items else ""


def some(items: tuple[str, ...], *, most: int = 3) -> str:
    """The first of many items in a sentence, and how many more there are.

    >>> some(("a", "b", "c", "d", "e"))
    'a, b, c and 2 more'
    >>> some(("a", "b"))
    'a and b'
    """
    return listed(items) if len(items) <= most else f"{', '.join(items[:most])} and {len(items) - most} more"


def work_words(minutes: float) -> str:
    """A length of work as one would say it: minutes to the nearest 5 (single ones below 10), hours to the nearest half.

    >>> work_words(3.2), work_words(38.0), work_words(150.0), work_words(360.0)
    ('3 minutes', '40 minutes', '2.5 hours', '6 hours')
    >>> work_words(1.0), work_words(62.0)
    ('1 minute', '60 minutes')
    """
    if minutes < 10.0:
        return counted(round(minutes), "minute")
    if minutes < MINUTES_NAMED:
        return counted(5 * round(minutes / 5.0), "minute")
    return f"{round(minutes / 30.0) / 2.0:g} hours"


def counted(number: int, what: str) -> str:
    """A number with its noun.

    >>> counted(1, "day"), counted(3, "day")
    ('1 day', '3 days')
    """
    return f"{number:,} {what}{'' if number == 1 else 's'}"


def day_after(date: str, days: int) -> str:
    """ISO date `days` after the ISO date `date`; empty where there is no such date (after the year 9999).

    >>> day_after("2025-03-01", 31)
    '2025-04-01'
    """
    try:
        return (dt.date.fromisoformat(date) + dt.timedelta(days=days)).isoformat()
    except OverflowError:
        return ""


def small(text: str) -> str:
    """The text with a small first letter, fit to stand inside a sentence.

    >>> small("Front wheel")
    'front wheel'
    """
    return f"{text[:1].lower()}{text[1:]}"


def capital(text: str) -> str:
    """The text with a capital first letter, fit to begin a sentence.

    >>> capital("front wheel")
    'Front wheel'
    """
    return f"{text[:1].upper()}{text[1:]}"
