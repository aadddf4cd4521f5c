"""The policy one starts from: looks first, sinking questions early, money for the rest held back where that pays.

It is a sound habit, not an optimum; better policies are found elsewhere and judged on the same futures.
"""

from __future__ import annotations

import numpy as np

from wreckwright.futures.compile import Compiled
from wreckwright.futures.policy import NOW, ON_DISCOVERY, Policy
from wreckwright.futures.rebuild import Rebuild, Worlds
from wreckwright.futures.rebuild_check import opening, upward
from wreckwright.futures.rows import gate_id_of
from wreckwright.futures.supplies import PartNeed
from wreckwright.record.known import Known

BINDING_SHARE = 0.25
"""Share of parcels for which a day of waiting is a day of the whole machine, before there is a plan (judgement)."""
PLAN_B_PATIENCE = 3.0
"""Change to another source after this many times the usual wait (judgement)."""


def start_policy(compiled: Compiled, worlds: Worlds, known: Known) -> Policy:
    """Worlds are read only for expected figures (chance that a gate fails, usual waits), never future by future."""
    rebuild = compiled.rebuild
    stages = tuple(slot.stage for slot in rebuild.slots)
    stages = _look_stages(rebuild, stages)
    triggers = tuple(
        _trigger(compiled, worlds, known, index, stages) for index in range(len(rebuild.lines))
    )
    after = tuple(_plan_b_after(part, worlds, index) for index, part in enumerate(compiled.lines))
    return Policy(
        line_source=tuple(0 for _ in rebuild.lines),
        line_trigger=triggers,
        plan_b_source=tuple(part.plan_b for part in compiled.lines),
        plan_b_after_days=after,
        stage=stages,
        rank=_ranks(rebuild, stages),
        looks=tuple(True for _ in rebuild.slots),
    )


def _look_stages(rebuild: Rebuild, stages: tuple[int, ...]) -> tuple[int, ...]:
    """A look without covers is taken at once; one that needs a cover goes where known work opens it, if any does."""
    found = list(stages)
    lines = upward(rebuild.covers)
    work = [(slot.stage, opening(lines, slot)) for slot in rebuild.slots if slot.kind in ("job", "gate")]
    for index, slot in enumerate(rebuild.slots):
        if slot.kind == "look":
            wanted = opening(lines, slot)
            found[index] = min((stage for stage, opened in work if wanted <= opened), default=0)
    return tuple(found)


def _trigger(compiled: Compiled, worlds: Worlds, known: Known, index: int, stages: tuple[int, ...]) -> int:
    """Order now, or hold until the last of the gates before it whose no could end the project."""
    rebuild = compiled.rebuild
    line, part = rebuild.lines[index], compiled.lines[index]
    slot = rebuild.slots[line.slot]
    if slot.kind == "follow_up":
        return ON_DISCOVERY
    stage = stages[line.slot]
    if part.held_until:
        named = gate_index(compiled, known, part.held_until)
        if named is not None and (named >= rebuild.n_stages or named < stage):
            return named
    if stage == 0 or part.already_ordered:
        return NOW
    no_chance = 1.0 - worlds.gate_ok[:, :stage].mean(axis=0)
    ends = [_chain_ends(rebuild, worlds, gate) * float(no_chance[gate]) for gate in range(stage)]
    risky = [gate for gate in range(stage) if ends[gate] > 0.0]
    if not risky:
        return NOW
    source = line.sources[0]
    leads = worlds.lead_days[:, index, 0]
    usual_wait = float(np.median(leads[leads >= 0])) if (leads >= 0).any() else 0.0
    gain = holding_gain_minor(
        no_chance=sum(ends), resale_share=source.resale_permille / 1000.0, price_minor=source.mean_minor,
        delay_days=BINDING_SHARE * usual_wait, day_cost_minor=known.holding_day_minor,
    )
    return max(risky) if part.kept_back or gain > 0.0 else NOW


def holding_gain_minor(
    *, no_chance: float, resale_share: float, price_minor: float, delay_days: float, day_cost_minor: float
) -> float:
    """What it gains on average to hold an order back until a gate has passed, in minor units; below 0: order now.

    no_chance x (1 - resale_share) x price - delay x cost of a day. Chances and shares 0..1, the rest 0 or more.
    Source: derived (expected loss saved against expected delay); a price of 900 at chance 0.15 and resale one half,
    against ten days at 4, gains 27.5.

    >>> holding_gain_minor(no_chance=0.15, resale_share=0.5, price_minor=900.0, delay_days=10.0, day_cost_minor=4.0)
    27.5
    """
    return no_chance * (1.0 - resale_share) * price_minor - delay_days * day_cost_minor


def gate_index(compiled: Compiled, known: Known, name: str) -> int | None:
    """Trigger index of a gate by its handle or its id; None when it is answered already or does not exist."""
    gate_id = gate_id_of(known, name)
    ids = [gate.id for gate in compiled.bench] + [gate.id for gate in compiled.outside]
    return ids.index(gate_id) if gate_id in ids else None


def _chain_ends(rebuild: Rebuild, worlds: Worlds, gate: int) -> float:
    """Chance that no way round works, given the first no."""
    slots = rebuild.bench_gates[gate].fallbacks
    columns = [index for index, slot in enumerate(rebuild.slots) if slot.kind == "fallback"]
    chosen = [columns.index(slot) for slot in slots]
    if not chosen:
        return 1.0
    return float((~worlds.fallback_ok[:, chosen]).all(axis=1).mean())


def _plan_b_after(part: PartNeed, worlds: Worlds, index: int) -> int:
    if part.plan_b < 0:
        return -1
    if part.plan_b_after_days >= 0:
        return part.plan_b_after_days
    leads = worlds.lead_days[:, index, 0]
    came = leads[leads >= 0]
    return round(PLAN_B_PATIENCE * float(np.median(came))) + 7 if came.size else -1


def _ranks(rebuild: Rebuild, stages: tuple[int, ...]) -> tuple[int, ...]:
    """Looks first (the quickest first), then ways round, work by stage and longest first, covers off and on, tests."""
    order: list[tuple[tuple[int, int, int], int]] = []
    n_slots, n_covers = len(rebuild.slots), len(rebuild.covers)
    for index, slot in enumerate(rebuild.slots):
        kind = {"look": 0, "fallback": 1, "job": 2, "follow_up": 2, "gate": 5}[slot.kind]
        size = slot.mean_minutes if slot.kind == "look" else -slot.mean_minutes
        order.append(((kind, stages[index], size), index))
    order += [((3, 0, cover), n_slots + cover) for cover in range(n_covers)]
    order += [((4, 0, cover), n_slots + n_covers + cover) for cover in range(n_covers)]
    order.sort()
    rank = [0] * len(order)
    for position, (_, index) in enumerate(order):
        rank[index] = position
    return tuple(rank)
