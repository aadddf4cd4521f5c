"""Which looks a first policy takes, and what each piece of work brings to light."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from wreckwright.futures.needs import Need
from wreckwright.futures.supplies import Band3
from wreckwright.record.known import Known
from wreckwright.trade.graph import opening_order
from wreckwright.trade.types import Check, Trade

TELEPHONE = "telephone"
"""Tool of the checks that are questions to somebody else."""
GATE_CHECKS = frozenset({"first_start", "low_speed_ride"})
"""Checks that are gates here; they are never looks."""
MOST_LOOKS = 14
LONGEST_LOOK_MINUTES = 40.0
"""A look that takes longer with its covers is left to whoever values looks one by one."""


@dataclass(frozen=True, kw_only=True)
class Look:
    check: str
    name: str
    minutes: Band3
    covers: tuple[str, ...]
    detects: Mapping[str, tuple[float, float]]
    """Component -> (sensitivity, chance that it is acted upon by mistake), hidden candidates only."""
    rough_for: str
    rough_sensitivity: float = 0.0
    """Chance that it foretells the no of that gate when the gate's answer would be no."""


def opening_of(trade: Trade, covers: tuple[str, ...]) -> frozenset[str]:
    """All covers that must come off for `covers`, themselves included."""
    return frozenset(opening_order(trade.covers, covers))


def choose_looks(
    known: Known, trade: Trade, hidden: tuple[Need, ...], opened: frozenset[str], gate_ids: frozenset[str],
    cause_chance: Mapping[str, float],
) -> tuple[Look, ...]:
    """The looks that a first policy takes: quick, on what is open anyway, dearest suspicion per minute first.

    A check that could do harm (power on a flooded machine, say) is left out; see `Check.blocked_over`.
    """
    worth = {
        need.component: need.chance * (sum(p.supplies[0].price_minor[1] for p in need.parts) + 100.0 * need.minutes[1])
        for need in hidden
    }
    done = {finding.check for finding in known.machine.findings if finding.check}
    ranked: list[tuple[float, Look]] = []
    for check in trade.checks.values():
        if check.id in GATE_CHECKS or check.id in done or _blocked(check, cause_chance):
            continue
        if known.bought and TELEPHONE in check.tools and check.rough_for in gate_ids:
            # It stands here: nobody is asked what hands can try.
            continue
        # Nobody buys a part on one suspicion: what cries is looked at once more, so a false alarm must come twice.
        detects = {d.component: (d.sensitivity, d.false_alarm**2) for d in check.detects if d.component in worth}
        rough = check.rough_for if check.rough_for in gate_ids else ""
        opening = opening_of(trade, check.covers)
        extra = sum(trade.covers[c].minutes_off + trade.covers[c].minutes_on for c in opening - opened)
        total = check.minutes + extra
        if not (detects or rough) or total > LONGEST_LOOK_MINUTES:
            continue
        gain = sum(worth[component] * pair[0] for component, pair in detects.items()) / max(total, 1.0)
        if rough:
            gain += 1e9
        look = Look(
            check=check.id, name=check.name, minutes=(check.minutes / 1.6, check.minutes, check.minutes * 1.6),
            covers=check.covers, detects=detects, rough_for=rough,
            rough_sensitivity=_rough_sensitivity(check, trade) if rough else 0.0,
        )
        ranked.append((gain, look))
    ranked.sort(key=lambda entry: (-entry[0], entry[1].check))
    return tuple(look for gain, look in ranked[:MOST_LOOKS] if gain > 0.0)


def _rough_sensitivity(check: Check, trade: Trade) -> float:
    """That of the gate's component which the check sees best; half when it looks at none of them (judgement)."""
    decided_by = trade.gates[check.rough_for].fails_with
    return max((d.sensitivity for d in check.detects if d.component in decided_by), default=0.5)


def _blocked(check: Check, cause_chance: Mapping[str, float]) -> bool:
    return any(cause_chance.get(cause, 0.0) > limit for cause, limit in check.blocked_over.items())


def seen_when_open(trade: Trade, opening: frozenset[str], candidates: tuple[str, ...]) -> tuple[str, ...]:
    """Candidates that lie bare once `opening` is off: their own covers are all off, or a cover of it exposes them."""
    bare = {component for cover in opening for component in trade.covers[cover].exposes}
    return tuple(
        component for component in candidates
        if component in bare
        or (trade.components[component].covers and opening_of(trade, trade.components[component].covers) <= opening)
    )
