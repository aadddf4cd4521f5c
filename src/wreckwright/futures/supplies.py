"""Where a part may come from and what it costs: fresh from the trade data, or as a part line of the record says."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from wreckwright.futures.band import Z90, lognormal_from_band
from wreckwright.record.known import Known, name_shown
from wreckwright.record.remedies import BUYING_REMEDIES, LEAD_CLASS_OF, lead_class_of
from wreckwright.record.types import PartLine
from wreckwright.trade.types import Component, Trade

__all__ = [
    "BUYING_REMEDIES", "Band3", "PartNeed", "Supply", "band_mean", "fresh_part", "line_need", "price_band",
    "remedy_price", "scaled", "times",
]

Band3 = tuple[float, float, float]
"""Low, likely, high: 10 %, 50 % and 90 % points."""

ORDERED_STATES = frozenset({"deposit_paid", "ordered", "shipped", "part_arrived"})


@dataclass(frozen=True, kw_only=True)
class Supply:
    """One way to get a part. `lead_class` empty: genuine, through the mixture of supply by the machine's age."""

    remedy: str
    lead_class: str
    price_minor: Band3
    cancel_days: int
    refund_permille: int
    resale_permille: int
    supplier: str = ""
    """Who sends it, as the record names him; empty: nobody in particular. What comes from one supplier is late
    together."""


@dataclass(frozen=True, kw_only=True)
class PartNeed:
    key: str
    name: str
    supplies: tuple[Supply, ...]
    already_ordered: bool = False
    here: bool = False
    waited_days: int = 0
    sunk_minor: int = 0
    held_until: str = ""
    plan_b: int = -1
    plan_b_after_days: int = -1
    kept_back: bool = False


def band_mean(band: Band3) -> float:
    return lognormal_from_band(*band).mean


def times(band: Band3, other: Band3) -> Band3:
    """Product of two independent bands: medians multiply, log spreads add in quadrature on each side."""
    middle = band[1] * other[1]
    down = math.hypot(math.log(band[1] / band[0]), math.log(other[1] / other[0]))
    up = math.hypot(math.log(band[2] / band[1]), math.log(other[2] / other[1]))
    return (middle * math.exp(-down), middle, middle * math.exp(up))


def scaled(band: Band3, factor: float) -> Band3:
    return (band[0] * factor, band[1] * factor, band[2] * factor)


def price_band(component: Component, remedy: str, known: Known, trade: Trade) -> Band3:
    """Three-point price of one part, minor units: price step times sound value, by source."""
    step = trade.price_steps[component.price_step]
    share = step.new_share_of_sound_value
    new: Band3 = scaled((share.low, share.mid, share.high), float(known.sound_value_minor[1]))
    if remedy == "used":
        return times(new, (step.used_factor.low, step.used_factor.mid, step.used_factor.high))
    if remedy == "pattern":
        return times(new, (step.pattern_factor.low, step.pattern_factor.mid, step.pattern_factor.high))
    return new


def remedy_price(component: Component, remedy: str, known: Known, trade: Trade) -> Band3:
    """What it costs to have the component right by that remedy: the part, or the work on the old one."""
    price = price_band(component, remedy if remedy in BUYING_REMEDIES else "genuine", known, trade)
    if remedy not in ("repair", "modify"):
        return price
    share = trade.money["repair_factor"].figure
    return times(price, (share.low, share.mid, share.high))


def _supply(known: Known, trade: Trade, component: Component, remedy: str, price: Band3 | None = None) -> Supply:
    lead_class = lead_class_of(component.lead_class, remedy)
    cancel = trade.lead_classes[lead_class or "factory_backorder"].cancel_days
    postage = 1.0 + trade.money["postage_share"].figure.mid
    money = trade.money
    return Supply(
        remedy=remedy,
        lead_class=lead_class,
        price_minor=price if price is not None else scaled(remedy_price(component, remedy, known, trade), postage),
        cancel_days=cancel,
        refund_permille=round(1000 * money["refund_share"].figure.mid),
        resale_permille=_resale_permille(trade, remedy),
    )


def _resale_permille(trade: Trade, remedy: str) -> int:
    """What an unfitted part fetches of its price; outside work on the old part cannot be sold again."""
    if remedy not in BUYING_REMEDIES:
        return 0
    return round(1000 * trade.money["resale_share_used" if remedy == "used" else "resale_share_new"].figure.mid)


def _alternatives(component: Component, first: str) -> list[str]:
    allowed = ["genuine"]
    if component.pattern_ok == "ok":
        allowed.append("pattern")
    if component.used_ok != "no":
        allowed.append("used")
    return [first, *(remedy for remedy in allowed if remedy != first)]


def fresh_part(known: Known, trade: Trade, component: Component, remedy: str) -> PartNeed:
    supplies = tuple(_supply(known, trade, component, source) for source in _alternatives(component, remedy))
    return PartNeed(
        key=component.id,
        name=name_shown(component, known),
        supplies=supplies,
        plan_b=1 if len(supplies) > 1 else -1,
    )


def line_need(known: Known, trade: Trade, component: Component | None, line: PartLine, remedy: str) -> PartNeed:
    """A part line of the record: what is written there counts, the rest comes from the trade."""
    source = line.remedy or (remedy if remedy in BUYING_REMEDIES else "genuine")
    here = line.state == "here"
    ordered = line.state in ORDERED_STATES or here
    # What came wrong has to be bought once more; else what has been paid is not paid again.
    paid = 0 if line.state == "wrong" else line.paid_minor
    quote: Band3 | None = None
    if line.price_minor is not None:
        to_pay = float(max(line.price_minor - paid, 0))
        spread = 1.0 if line.price_is_quote else math.exp(Z90 * 0.2)
        quote = (to_pay / spread, to_pay, to_pay * spread)
    elif here:
        quote = (0.0, 0.0, 0.0)
    if component is not None:
        first_supply = _supply(known, trade, component, source, quote)
        if quote is None and paid:
            first_supply = replace(first_supply, price_minor=_less(first_supply.price_minor, paid))
        supplies = [first_supply]
        others = [r for r in _alternatives(component, source) if r != source]
        if line.plan_b in others:
            others = [line.plan_b, *(r for r in others if r != line.plan_b)]
        supplies += [_supply(known, trade, component, other) for other in others]
    else:
        supplies = [_unnamed_supply(trade, source, quote or (0.0, 0.0, 0.0))]
    if line.lead_class:
        supplies[0] = replace(
            supplies[0], lead_class=line.lead_class, cancel_days=trade.lead_classes[line.lead_class].cancel_days
        )
    supplies[0] = replace(supplies[0], supplier=" ".join(line.supplier.casefold().split()))
    waited = max((known.as_of - line.ordered_on).days, 0) if ordered and line.ordered_on is not None else 0
    return PartNeed(
        key=_line_key(known, line),
        name=line.name or (component.name_uk if component is not None else line.id),
        supplies=tuple(supplies),
        already_ordered=ordered,
        here=here,
        waited_days=waited,
        sunk_minor=line.paid_minor,
        held_until=line.held_until_gate,
        plan_b=1 if len(supplies) > 1 else -1,
        plan_b_after_days=round(line.plan_b_after_days) if line.plan_b_after_days is not None else -1,
        kept_back=line.state == "kept_back",
    )


def _less(band: Band3, paid: int) -> Band3:
    """What is left of a price when `paid` has been paid; nothing where the likely price is paid."""
    if band[1] <= paid:
        return (0.0, 0.0, 0.0)
    low, middle, high = (max(price - paid, 0.0) for price in band)
    return (low, middle, high)


def _line_key(known: Known, line: PartLine) -> str:
    """Name of a line's luck: that of its component, so that writing down an order does not draw its wait anew."""
    if not line.component:
        return f"line:{line.id}"
    before = [one.id for one in known.parts if one.component == line.component].index(line.id)
    return f"{line.component}#{before + 1}" if before else line.component


def _unnamed_supply(trade: Trade, source: str, price: Band3) -> Supply:
    lead_class = {"genuine": "importer", **LEAD_CLASS_OF}.get(source, "specialist_service")
    money = trade.money
    return Supply(
        remedy=source, lead_class=lead_class, price_minor=price, cancel_days=trade.lead_classes[lead_class].cancel_days,
        refund_permille=round(1000 * money["refund_share"].figure.mid),
        resale_permille=_resale_permille(trade, source),
    )
