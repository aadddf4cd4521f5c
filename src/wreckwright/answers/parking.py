"""The parking card: what is done to a machine before it stands for a long while. Light: no numeric library."""

from __future__ import annotations

from collections.abc import Collection

from wreckwright.answers.plan_types import LongWait
from wreckwright.record.known import Known
from wreckwright.trade.types import Trade

LONG_DAYS = 14
"""From so many days without work on, a machine is got ready for standing (judgement)."""
PORT_COVERS = frozenset({"throttle_bodies_off", "exhaust_header_off", "plugs_out", "valve_cover_off"})
"""Covers without which something can fall into the engine."""
CALIPER_COVERS = frozenset({"calipers_f_off"})
WHEEL_COVERS = frozenset({"front_wheel_out", "rear_wheel_out"})
BATTERY_OUT, TANK_OFF = "battery_out", "tank_off"
STANDS = frozenset({"paddock_rear", "front_stand"})
TURNS, RUNS = "turns", "runs"
TANK, BATTERY = "fuel_tank_shell", "battery"


def long_wait(known: Known, trade: Trade, *, days: int, until: str, covers_off: Collection[str]) -> LongWait | None:
    """The parking card of a wait of `days` days until the ISO date `until` (empty: not known).

    `covers_off`: ids of the covers that are off while it stands, with all they lie under. None: so short a wait asks
    for nothing.
    """
    if days < LONG_DAYS:
        return None
    words = tuple(
        row.words for row in trade.parking if row.from_days <= days and _holds(row.when, known, frozenset(covers_off))
    )
    return LongWait(days=days, until=until, words=words) if words else None


def _holds(when: str, known: Known, off: frozenset[str]) -> bool:
    missing = {bad.component for bad in known.bad if bad.missing} | known.absent
    match when:
        case "ports_open":
            rags = any(end.what == "rags" and not end.closed for end in known.machine.loose_ends)
            return rags or bool(off & PORT_COVERS)
        case "engine_turned":
            asked = {gate.template or gate.id: gate.answer for gate in known.gates}
            return any(asked.get(name) in ("yes", "way_round") for name in (TURNS, RUNS))
        case "battery_in":
            return BATTERY not in missing and BATTERY_OUT not in off
        case "battery_out":
            return BATTERY not in missing and BATTERY_OUT in off
        case "tank_on":
            return TANK not in missing and TANK_OFF not in off
        case "tyres_loaded":
            return not WHEEL_COVERS <= off and not STANDS <= off
        case "calipers_off":
            return bool(off & CALIPER_COVERS)
        case _:
            return True
