"""What a reckoning changed against the one before, by more than other draws would have changed it."""

from __future__ import annotations

import datetime as dt
import math

from wreckwright.acts.reckon_shapes import Answers, Moved
from wreckwright.answers.plan_types import Parcel
from wreckwright.answers.tonight import tonight
from wreckwright.answers.types import Bid, Choice, DayQuantile, Verdict
from wreckwright.record.money import minor_digits

CLEAR_OVER_SE = 2.0
"""Differences up to this many standard errors (of both figures together) are told by nobody: other draws, no news."""
CLEAR_SHARE = 0.1
"""What is the last thing waited for in fewer futures than this is not spoken of."""
EVENING_MINUTES = 120
"""An evening, where the calendar has none on that day."""


def moved(before: Answers, now: Answers) -> tuple[Moved, ...]:
    """Key figures that changed, weightiest first: what to do or pay, finish, what it waits for, tonight, money.

    Both reckonings draw the same random numbers wherever the record has not changed, so this errs on the side of
    silence.
    """
    found = [
        _bought(before, now),
        _choice(before, now) if now.foresight.bought else _walk_away(before, now),
        _finish(before, now, "p50", "Finished, half by"),
        _finish(before, now, "p80", "Finished, 8 in 10 by"),
        _waits_for(before, now),
        _tonight(before, now),
        _chance(before, now, "Finished at all", "finishes"),
        _spread(before, now, "Left over, half above", "net"),
        _chance(before, now, "Chance of a loss", "loss"),
        _spread(before, now, "Still to spend, half below", "spend"),
    ]
    return tuple(one for one in found if one is not None)


def _bought(before: Answers, now: Answers) -> Moved | None:
    said = {True: "bought", False: "not bought"}
    return _told("The machine", said[before.foresight.bought], said[now.foresight.bought])


def _choice(before: Answers, now: Answers) -> Moved | None:
    return _told("What to do", _choice_words(before.verdict), _choice_words(now.verdict))


def _choice_words(verdict: Verdict) -> str:
    words: dict[Choice, str] = {option.name: option.words for option in verdict.reckoning.options}
    return words.get(verdict.choice, verdict.choice.replace("_", " "))


def _walk_away(before: Answers, now: Answers) -> Moved | None:
    old, new = before.bid, now.bid
    noise = math.hypot(_walk_away_se(old), _walk_away_se(new))
    if _same_money(before, now) and _within(old.walk_away_minor, new.walk_away_minor, noise):
        return None
    return _told("The most to pay", _price(old), _price(new))


def _walk_away_se(bid: Bid) -> float:
    """The prices at the accepted chance of a loss give or take two standard errors span four of them."""
    low, high = bid.price_for_loss_low_minor, bid.price_for_loss_high_minor
    return 0.0 if low is None or high is None else (high - low) / (2.0 * CLEAR_OVER_SE)


def _price(bid: Bid) -> str:
    return "not at any price" if bid.walk_away_minor is None else _money(bid.walk_away_minor, bid.currency)


def _finish(before: Answers, now: Answers, which: str, name: str) -> Moved | None:
    old, new = (
        getattr(one.foresight.finish, which) if one.foresight.finish else None for one in (before, now)
    )
    noise = math.hypot(*((one.days_se or 0.0) if one else 0.0 for one in (old, new)))
    if _within(_day_number(old), _day_number(new), noise):
        return None
    return _told(name, _day_words(old), _day_words(new))


def _day_number(quantile: DayQuantile | None) -> int | None:
    """Counted from one beginning for both, for the days of two answers may count from two dates."""
    return None if quantile is None or quantile.date is None else dt.date.fromisoformat(quantile.date).toordinal()


def _day_words(quantile: DayQuantile | None) -> str:
    return "never" if quantile is None else quantile.words


def _waits_for(before: Answers, now: Answers) -> Moved | None:
    old, new = _binds(before), _binds(now)
    if new is not None and old is not None and now.running_order is not None:
        still = next((one.share for one in now.running_order.parcels if one.name == old.name), 0.0)
        if new.share - still < CLEAR_SHARE:
            return None
    return _told("The end waits for", old.name if old else "nothing but work", new.name if new else "nothing but work")


def _binds(answers: Answers) -> Parcel | None:
    """The parcel for which the end waits most often, if that is often enough to speak of."""
    order = answers.running_order
    first = max(order.parcels, key=lambda one: one.share, default=None) if order is not None else None
    return first if first is not None and first.share >= CLEAR_SHARE else None


def _tonight(before: Answers, now: Answers) -> Moved | None:
    if before.evening is None or now.evening is None:
        return None
    # The same evening for both, or its length alone would make other lists.
    hours = (now.evening.planned_minutes or EVENING_MINUTES) / 60.0
    old, new = (tonight(one, hours).entries for one in (before.evening, now.evening))
    # What somebody has begun has a row of its own, whose name may begin with a capital letter.
    first = (entries[0].name if entries else "nothing" for entries in (old, new))
    return _told("Tonight first", *(f"{name[:1].lower()}{name[1:]}" for name in first))


def _chance(before: Answers, now: Answers, name: str, figure: str) -> Moved | None:
    old, new = getattr(before.foresight, figure), getattr(now.foresight, figure)
    if _within(old.chance, new.chance, math.hypot(old.chance_se, new.chance_se)):
        return None
    return _told(name, old.words, new.words)


def _spread(before: Answers, now: Answers, name: str, figure: str) -> Moved | None:
    old, new = getattr(before.foresight, figure), getattr(now.foresight, figure)
    noise = math.hypot(old.p50_se_minor, new.p50_se_minor)
    if _same_money(before, now) and _within(old.p50_minor, new.p50_minor, noise):
        return None
    return _told(
        name, _money(old.p50_minor, before.foresight.currency), _money(new.p50_minor, now.foresight.currency)
    )


def _same_money(before: Answers, now: Answers) -> bool:
    return before.foresight.currency == now.foresight.currency


def _within(old: float | None, new: float | None, se: float) -> bool:
    if old is None or new is None:
        return old is new
    return abs(new - old) <= CLEAR_OVER_SE * se


def _told(name: str, before: str, now: str) -> Moved | None:
    """None where the words are the same: what nobody can see has not moved."""
    return None if before == now else Moved(name=name, before=before, now=now)


def _money(minor: int, currency: str) -> str:
    # As the answers say it (`answers.words.money`), whose module would bring the numeric libraries into this process.
    return f"{currency} {round(minor / 10 ** minor_digits(currency)):,}"
