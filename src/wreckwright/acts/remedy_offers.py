"""Remedies as they are offered: words for a button, price and wait in words."""

from __future__ import annotations

from wreckwright.acts.checks import day_of
from wreckwright.acts.finding_form import component_words
from wreckwright.acts.plan_shapes import RemedyOffer
from wreckwright.acts.work_key import found_bad, line_name, remedy_now
from wreckwright.answers.remedies import remedy_figures, usual_wait
from wreckwright.errors import WreckwrightError
from wreckwright.record.money import minor_digits
from wreckwright.record.remedies import BUYING_REMEDIES
from wreckwright.record.resolve import resolve
from wreckwright.record.types import Machine, PartLine, RemedyName
from wreckwright.trade.types import Trade

REMEDY_WORDS: dict[RemedyName, str] = {
    "repair": "Mend it",
    "genuine": "Buy a new one of the maker",
    "pattern": "Buy a new one of somebody else",
    "used": "Buy a used one",
    "modify": "Make it fit another way",
    "leave": "Leave it as it is",
}
_WORTH_SAYING = 0.03
"""A chance below this that nothing ever comes is not worth a word in the garage (judgement)."""
_FOR_A_PIECE: tuple[RemedyName, ...] = ("genuine", "pattern", "used", "repair", "modify", "leave")


def offers_for_component(component: str, machine: Machine, trade: Trade) -> tuple[RemedyOffer, ...]:
    """The usual one first. Empty for a record that cannot be filled in."""
    row = trade.components[component]
    severity, missing = found_bad(component, machine) or (2, False)
    try:
        known = resolve(machine, trade, as_of=day_of(machine))
    except WreckwrightError:
        return ()
    figures = remedy_figures(
        row, trade, sound_value_minor=known.sound_value_minor[1], age_years=known.age_years, severity=severity,
        missing=missing,
    )
    now = remedy_now(component, machine, trade)
    return tuple(
        RemedyOffer(
            component=component, component_name=component_words(component, machine, trade), remedy=one.remedy,
            words=REMEDY_WORDS[one.remedy], price=_price(one.price_minor, machine.currency),
            wait=wait_words(one.median_days, one.p90_days, one.never_chance) or _no_wait(one.remedy),
            usual=one.usual, chosen=one.remedy == now,
        )
        for one in figures
    )


def offers_for_line(line: PartLine, machine: Machine, trade: Trade) -> tuple[RemedyOffer, ...]:
    """For a piece that has no price in the trade data."""
    if line.component:
        return offers_for_component(line.component, machine, trade)
    name = line_name(line, machine, trade)
    age = day_of(machine).year - machine.year
    found = []
    for remedy in _FOR_A_PIECE:
        wait = usual_wait("", remedy, trade, age_years=max(age, 0))
        found.append(RemedyOffer(
            component=line.id, component_name=name[:1].upper() + name[1:], remedy=remedy, words=REMEDY_WORDS[remedy],
            price="price not known: ask" if remedy in BUYING_REMEDIES else "",
            wait=wait_words(*wait) or _no_wait(remedy), usual=remedy == "genuine",
            chosen=remedy == (line.remedy or "genuine"),
        ))
    return tuple(found)


def wait_words(median_days: float, p90_days: float, never_chance: float) -> str:
    """
    >>> wait_words(3.0, 9.0, 0.02), wait_words(0.0, 0.0, 0.0)
    ('usually 3 days, 9 times in 10 within 9', '')
    >>> wait_words(1.2, 40.0, 0.2)
    'usually 1 day, 9 times in 10 within 40; 20 in 100 never come'
    """
    if median_days <= 0.0:
        return ""
    days = max(1, round(median_days))
    never = f"; {round(100 * never_chance)} in 100 never come" if never_chance >= _WORTH_SAYING else ""
    return f"usually {days} day{'' if days == 1 else 's'}, 9 times in 10 within {max(days, round(p90_days))}{never}"


def _no_wait(remedy: RemedyName) -> str:
    return "a night for paint, glue or sealant" if remedy == "repair" else ""


def _price(minor: int, currency: str) -> str:
    if minor <= 0:
        return ""
    whole = minor / 10 ** minor_digits(currency)
    if whole < 1:
        return f"under {currency} 1"
    # Two figures are all that such an estimate is good for.
    step = 10 ** max(0, len(str(int(whole))) - 2)
    return f"about {currency} {round(whole / step) * step:,}"
