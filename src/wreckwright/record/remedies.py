"""What most would do about a component that was found bad. Pure, and light."""

from __future__ import annotations

from wreckwright.record.types import RemedyName
from wreckwright.trade.types import Component

BUYING_REMEDIES = ("genuine", "pattern", "used")


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
