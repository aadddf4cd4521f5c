"""What each remedy for one component usually costs and how long it takes to come, by the trade data. Light and pure.

These are the middle figures of what is drawn for a fresh order (`futures.supplies`, `futures.world_draws`).
"""

from __future__ import annotations

import math

from wreckwright.answers.types import Value
from wreckwright.record.remedies import BUYING_REMEDIES, default_remedy, lead_class_of
from wreckwright.record.types import RemedyName
from wreckwright.trade.types import Component, LeadClass, Trade

_Z90 = 1.2815515655446004
_LONGEST_DAYS = 36_500.0


class RemedyFigures(Value, frozen=True, kw_only=True):
    remedy: RemedyName
    price_minor: int
    """Likely; 0: nothing is bought."""
    median_days: float
    """Of those orders that come; 0: nothing is waited for."""
    p90_days: float
    never_chance: float
    usual: bool


def remedy_figures(
    component: Component, trade: Trade, *, sound_value_minor: int, age_years: int, severity: int, missing: bool
) -> tuple[RemedyFigures, ...]:
    """The remedies that make sense, the usual one first.

    `severity` 1 to 3 and `missing` say what was found; `sound_value_minor` is the likely one.
    """
    usual = default_remedy(component, severity=severity, missing=missing)
    stops = "stop" in (component.ride, component.run)
    offered: list[RemedyName] = [usual]
    if component.repairable and not missing:
        offered.append("repair")
    offered.append("genuine")
    if component.pattern_ok != "no":
        offered.append("pattern")
    if component.used_ok != "no":
        offered.append("used")
    if not stops:
        offered.append("leave")
    return tuple(
        RemedyFigures(
            remedy=remedy, price_minor=round(likely_price_minor(component, remedy, trade, sound_value_minor)),
            median_days=wait[0], p90_days=wait[1], never_chance=wait[2], usual=remedy == usual,
        )
        for remedy in dict.fromkeys(offered)
        for wait in [usual_wait(component.lead_class, remedy, trade, age_years=age_years)]
    )


def likely_price_minor(component: Component, remedy: str, trade: Trade, sound_value_minor: int) -> float:
    """Middle price, postage of what is bought included.

    >>> from wreckwright.trade.load import load_trade
    >>> trade = load_trade()
    >>> likely_price_minor(trade.components["seat"], "leave", trade, 400_000)
    0.0
    """
    if remedy == "leave":
        return 0.0
    step = trade.price_steps[component.price_step]
    price = step.new_share_of_sound_value.mid * sound_value_minor
    if remedy == "used":
        price *= step.used_factor.mid
    elif remedy == "pattern":
        price *= step.pattern_factor.mid
    if remedy in BUYING_REMEDIES:
        return price * (1.0 + trade.money["postage_share"].figure.mid)
    return price * trade.money["repair_factor"].figure.mid


def usual_wait(own_class: str, remedy: str, trade: Trade, *, age_years: int) -> tuple[float, float, float]:
    """(median days, 90 % point, chance that it never comes) of an order placed now; what is mended waits for nothing.

    `own_class`: lead class of the component; empty: not known.

    >>> from wreckwright.trade.load import load_trade
    >>> usual_wait("", "pattern", load_trade(), age_years=5)
    (3.0, 9.0, 0.02)
    """
    if remedy not in BUYING_REMEDIES:
        return (0.0, 0.0, 0.0)
    one = lead_class_of(own_class, remedy)
    if one:
        row = trade.lead_classes[one]
        return (row.median_days, row.p90_days, row.never_chance)
    from_years = max(
        (row.machine_age_from_years for row in trade.supply_shares if row.machine_age_from_years <= age_years),
        default=0,
    )
    mixed = [
        (row.share, trade.lead_classes[row.lead_class]) for row in trade.supply_shares
        if row.machine_age_from_years == from_years
    ]
    never = sum(share * row.never_chance for share, row in mixed)
    return (_quantile(mixed, 0.5), _quantile(mixed, 0.9), never)


def _quantile(mixed: list[tuple[float, LeadClass]], share: float) -> float:
    """Days within which this share of the orders that come at all are here, by halving."""
    comes = [(weight * (1.0 - row.never_chance), row) for weight, row in mixed]
    total = sum(weight for weight, _ in comes)
    low, high = 0.0, _LONGEST_DAYS
    for _ in range(60):
        middle = 0.5 * (low + high)
        here = sum(weight * _here_by(middle, row) for weight, row in comes) / total
        low, high = (low, middle) if here >= share else (middle, high)
    return high


def _here_by(days: float, row: LeadClass) -> float:
    sigma = math.log(row.p90_days / row.median_days) / _Z90
    return 0.5 * (1.0 + math.erf(math.log(days / row.median_days) / (sigma * math.sqrt(2.0))))
