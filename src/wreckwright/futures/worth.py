"""What a component means for the whole: whether it stops a ride, which question waits for it, what it is worth."""

from __future__ import annotations

from wreckwright.record.known import Known
from wreckwright.trade.types import Component

LAST_GATE = "fit_to_ride"
"""The question that ends every rebuild."""

def gate_that_waits(component: Component) -> str:
    """The earliest gate that cannot be tried while this is bad."""
    if component.run == "stop":
        return "runs"
    return LAST_GATE


def stops(component: Component) -> bool:
    """The machine must not be started, or not be ridden, with it bad."""
    return "stop" in (component.ride, component.run)


def worth_left(component: Component, known: Known) -> float:
    """What a buyer takes off for it when it is left as it is: 0.6 % of sound value per step of looks, at least one step
    (judgement)."""
    return 0.006 * max(component.looks_0_3, 1) * known.sound_value_minor[1]
