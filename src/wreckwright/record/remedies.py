"""What most would do about a component that was found bad. Pure, and light."""

from __future__ import annotations

from wreckwright.record.types import RemedyName
from wreckwright.trade.types import Component

BUYING_REMEDIES = ("genuine", "pattern", "used")
LEAD_CLASS_OF = {
    "used": "used_online",
    "pattern": "aftermarket_stock",
    "repair": "specialist_service",
    "modify": "specialist_service",
}
"""Remedy -> how long its supply takes; genuine parts come through the mixture by the machine's age."""
OWN_LEAD_CLASSES = frozenset({"frame_coded", "official_paper", "specialist_service"})
"""Lead classes of components that a genuine part keeps, whatever the machine's age."""
ON_EVERY_SHELF = "dealer_stock"
"""A component of this lead class (oil, coolant, brake fluid) is bought round the corner, by whom it is made."""


def lead_class_of(own_class: str, remedy: str) -> str:
    """How long the supply of a component takes by one remedy; empty: the mixture for the machine's age.

    `own_class`: lead class of the component; empty: not known.

    >>> [lead_class_of(own, "genuine") for own in ("importer", "frame_coded", "dealer_stock")]
    ['', 'frame_coded', 'dealer_stock']
    >>> [lead_class_of(own, "pattern") for own in ("importer", "frame_coded", "dealer_stock")]
    ['aftermarket_stock', 'aftermarket_stock', 'dealer_stock']
    """
    if own_class == ON_EVERY_SHELF and remedy in BUYING_REMEDIES:
        return own_class
    return LEAD_CLASS_OF.get(remedy, own_class if own_class in OWN_LEAD_CLASSES else "")


def default_remedy(component: Component, *, severity: int, missing: bool) -> RemedyName:
    """What most would do: leave mere looks that cost nothing to leave, mend what can be mended, else the usual.

    >>> from wreckwright.trade.load import load_trade
    >>> [default_remedy(load_trade().components["seat"], severity=one, missing=False) for one in (1, 2)]
    ['leave', 'used']
    """
    if severity == 1 and not missing:
        if component.ride == "none":
            return "leave"
        if component.repairable:
            return "repair"
    if missing and component.usual_remedy in ("repair", "leave", "modify"):
        return "used" if component.used_ok != "no" else "genuine"
    return component.usual_remedy
