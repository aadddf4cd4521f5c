"""The questions of one machine: which gates stand, in which order, what fails them and what leads round them."""

from __future__ import annotations

from dataclasses import dataclass

from wreckwright.futures.rows import GONE_STATES, day_number
from wreckwright.futures.supplies import Band3, scaled
from wreckwright.futures.worth import LAST_GATE
from wreckwright.record.known import PAIRING_GATES, PAIRING_STEP, YES_IN_THE_END, Known
from wreckwright.record.pace import CLOSED_STATES
from wreckwright.record.types import Gate
from wreckwright.trade.types import GateTemplate, Trade

OWN_GATE_ORDER = 1.5
"""An owner's own bench gate comes after the sinking questions of the trade data and before the first start."""
OWN_GATE_MINUTES: Band3 = (20.0, 45.0, 100.0)
"""Minutes of an own bench gate when nothing is known (judgement)."""
PAIRING_CHANCE = 0.85
"""Chance that a renewed key or unit is taught without a way round (judgement)."""


@dataclass(frozen=True, kw_only=True)
class Way:
    """A way round: what it costs, how long it takes, whether it works."""

    name: str
    chance: float
    price_minor: Band3
    lead_class: str
    """Empty: `wait_days` counts."""
    wait_days: float
    minutes: Band3


@dataclass(frozen=True, kw_only=True)
class GateNeed:
    id: str
    question: str
    kind: str
    order: float
    fails_with: tuple[str, ...]
    chance_yes: float
    """Chance of yes apart from `fails_with`."""
    answered_no: bool
    minutes: Band3
    covers_off: tuple[str, ...]
    covers_on: tuple[str, ...]
    lead_class: str
    wait_days: float | None
    """Outside gates: days until the answer if the owner knows; else by `lead_class`, or the next day without one."""
    ways: tuple[Way, ...]
    wants_runners: bool
    wants_riders: bool
    helper: bool = False
    """A second person must be there for the test."""


def gates_of(known: Known, trade: Trade) -> tuple[tuple[GateNeed, ...], tuple[GateNeed, ...]]:
    """Bench gates in order (the last is the road test) and outside gates; those already answered yes are left out.

    An answer about coded keys and units counts only until what is behind it is bought anew: what has come from a
    seller, even the right one, is not taught yet, nor is it by being fitted.
    """
    bought = frozenset(line.component for line in known.parts if line.state not in GONE_STATES) | _unpaired(known)
    own = {(gate.template or gate.id): gate for gate in known.gates}
    bench: list[GateNeed] = []
    outside: list[GateNeed] = []
    for template in trade.gates.values():
        row = own.pop(template.id, None)
        taught_anew = template.id in PAIRING_GATES and not bought.isdisjoint(template.fails_with)
        if row is not None and row.answer in YES_IN_THE_END and template.id != LAST_GATE and not taught_anew:
            continue
        present = tuple(c for c in template.fails_with if c not in known.absent)
        if template.fails_with and not present and row is None:
            continue
        need = _from_template(known, trade, template, row, present, bought)
        (bench if need.kind == "bench" else outside).append(need)
    for row in own.values():
        if row.answer in YES_IN_THE_END:
            continue
        need = _own(known, row)
        (bench if need.kind == "bench" else outside).append(need)
    bench.sort(key=lambda need: (need.order, need.id))
    outside.sort(key=lambda need: (need.order, need.id))
    return tuple(bench), tuple(outside)


def _unpaired(known: Known) -> frozenset[str]:
    """Components whose part was fitted at the bench while its pairing is still to do."""
    row_of = {job.stands_for: job for job in known.jobs if job.stands_for}
    found: set[str] = set()
    for line in known.parts:
        for group in (line.component, f"part:{line.id}"):
            fitting, pairing = row_of.get(group), row_of.get(f"{group}:{PAIRING_STEP}")
            if (
                line.state == "fitted" and fitting is not None and fitting.state == "closed_up"
                and (pairing is None or pairing.state not in CLOSED_STATES)
            ):
                found.add(line.component)
    return frozenset(found)


def _from_template(
    known: Known, trade: Trade, template: GateTemplate, row: Gate | None, present: tuple[str, ...],
    bought: frozenset[str],
) -> GateNeed:
    minutes = template.minutes
    owner_says = row is not None and row.chance_yes is not None
    taught_anew = template.id in PAIRING_GATES and not bought.isdisjoint(present)
    renewed = known.put_right | (bought if taught_anew else frozenset())
    chance_yes = template.pass_chance
    if template.id in PAIRING_GATES and not renewed.isdisjoint(present):
        chance_yes *= PAIRING_CHANCE
    return GateNeed(
        id=template.id,
        question=row.question if row is not None and row.question else template.question,
        kind=template.kind,
        order=float(template.order),
        # An owner's chance replaces what the map of damage says about the components behind the question; what was
        # found bad there and has been put right no longer fails it.
        fails_with=() if owner_says else tuple(c for c in present if c not in renewed),
        chance_yes=row.chance_yes if row is not None and row.chance_yes is not None else chance_yes,
        # A road test that was not passed is an open question: what failed it is put right, and it is ridden again.
        answered_no=row is not None and row.answer == "no" and not taught_anew
        and (template.id != LAST_GATE or bool(row.ways_round)),
        minutes=(minutes / 1.6, minutes, minutes * 1.6),
        covers_off=template.covers_off,
        covers_on=template.covers_on,
        lead_class=template.lead_class,
        wait_days=_wait(known, row),
        ways=_own_ways(row) if row is not None and row.ways_round else _template_ways(known, trade, template),
        wants_runners=template.needs_component_run,
        wants_riders=template.needs_component_ride,
        helper=template.helper,
    )


def _own(known: Known, row: Gate) -> GateNeed:
    return GateNeed(
        id=row.id, question=row.question or row.id, kind=row.kind or "bench", order=OWN_GATE_ORDER, fails_with=(),
        chance_yes=row.chance_yes if row.chance_yes is not None else 0.5, answered_no=row.answer == "no",
        minutes=OWN_GATE_MINUTES, covers_off=(), covers_on=(), lead_class="", wait_days=_wait(known, row),
        ways=_own_ways(row), wants_runners=False, wants_riders=False,
    )


def _wait(known: Known, row: Gate | None) -> float | None:
    if row is None:
        return None
    if row.wait_days is not None:
        return row.wait_days
    if row.expected_on is not None:
        return float(day_number(known.as_of, row.expected_on))
    return None


def _own_ways(row: Gate) -> tuple[Way, ...]:
    return tuple(
        Way(
            name=step.name, chance=step.chance, price_minor=(float(step.price_minor),) * 3, lead_class="",
            wait_days=step.wait_days, minutes=(step.minutes, step.minutes, step.minutes),
        )
        for step in row.ways_round
    )


def _template_ways(known: Known, trade: Trade, template: GateTemplate) -> tuple[Way, ...]:
    found = []
    for way in template.ways_round:
        step = trade.price_steps[way.price_step].new_share_of_sound_value
        price: Band3 = scaled((step.low, step.mid, step.high), known.sound_value_minor[1] * way.price_factor)
        found.append(
            Way(
                name=way.name, chance=way.chance, price_minor=price, lead_class=way.lead_class,
                wait_days=0.0, minutes=(way.minutes / 1.6, way.minutes, way.minutes * 1.6),
            )
        )
    return tuple(found)
