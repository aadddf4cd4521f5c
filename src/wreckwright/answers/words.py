"""How chances, money, days and guesses are said, the same in every answer."""

from __future__ import annotations

import datetime as dt

from wreckwright.answers.plan_words import listed as listed
from wreckwright.answers.types import RestsOn, rests_on_words
from wreckwright.futures.scene import QUESTION, Futures
from wreckwright.record.money import minor_digits

OPTION_WORDS = {
    "carry_on": "carry on",
    "sell_as_it_stands": "sell it as it stands",
    "part_out": "part it out",
    "too_close_to_call": "too close to call",
}
DOING_WORDS = {
    "carry_on": "carrying on",
    "sell_as_it_stands": "selling it as it stands",
    "part_out": "parting it out",
}
DAYS_OF_A_YEAR = 365.25
DAYS_OF_A_MONTH = DAYS_OF_A_YEAR / 12.0


def in_ten(chance: float) -> str:
    """A chance (0..1) as a rebuilder would say it. No finer than the guesses behind it.

    >>> in_ten(0.374)
    'about 4 in 10'
    >>> in_ten(0.004), in_ten(0.03), in_ten(0.97), in_ten(0.999)
    ('hardly ever', 'fewer than 1 in 20', 'more than 19 in 20', 'nearly certain')
    """
    if not 0.0 <= chance <= 1.0:
        raise ValueError(f"a chance of {chance}: it must be between 0 and 1")
    if chance < 0.01:
        return "hardly ever"
    if chance < 0.05:
        return "fewer than 1 in 20"
    if chance > 0.99:
        return "nearly certain"
    if chance > 0.95:
        return "more than 19 in 20"
    return f"about {min(9, max(1, round(10.0 * chance)))} in 10"


def in_ten_futures(chance: float) -> str:
    """The same, fit to follow `in`.

    >>> in_ten_futures(0.374), in_ten_futures(0.004), in_ten_futures(1.0)
    ('about 4 in 10 futures', 'hardly any future', 'nearly every future')
    """
    words = in_ten(chance)
    return {"hardly ever": "hardly any future", "nearly certain": "nearly every future"}.get(words, f"{words} futures")


def money(minor: float, currency: str) -> str:
    """A sum in whole units of `currency`, minor units given.

    >>> money(317_549, "EUR"), money(-50_000, "EUR"), money(98_000, "JPY")
    ('EUR 3,175', 'EUR -500', 'JPY 98,000')
    """
    return f"{currency} {round(minor / 10 ** minor_digits(currency)):,}"


def driver_words(name: str) -> str:
    """What moves a result, fit to stand inside a sentence.

    >>> driver_words("question: Does it turn over?"), driver_words("own pace")
    ("the answer to 'Does it turn over?'", 'own pace')
    """
    return f"the answer to '{name.removeprefix(QUESTION)}'" if name.startswith(QUESTION) else name


def share(value: float) -> str:
    """A share of the spread of something, in per cent.

    >>> share(0.414)
    '41 %'
    """
    return f"{round(100.0 * value)} %"


def date_after(as_of: str, days: int) -> str:
    """ISO date `days` after `as_of`.

    >>> date_after("2025-03-01", 31)
    '2025-04-01'
    """
    return (dt.date.fromisoformat(as_of) + dt.timedelta(days=days)).isoformat()


def beyond(calendar_days: int) -> str:
    """What is said of a day after the end of the calendar.

    >>> beyond(1500), beyond(400), beyond(200)
    ('more than 4 years', 'more than 1 year', 'more than 6 months')
    """
    years = int(calendar_days / DAYS_OF_A_YEAR)
    if years >= 1:
        return f"more than {years} year{'s' if years > 1 else ''}"
    months = int(calendar_days / DAYS_OF_A_MONTH)
    return f"more than {months} month{'s' if months != 1 else ''}" if months else f"more than {calendar_days} days"


def rests_on(futures: Futures) -> tuple[RestsOn, ...]:
    """The defaults behind `futures`, as every answer lists them."""
    return tuple(
        RestsOn(
            field=guess.field, value=guess.value, basis=guess.basis,
            words=rests_on_words(field=guess.field, value=guess.value, basis=guess.basis),
        )
        for guess in futures.guesses
    )
