"""A policy: all decisions of one plan, as frozen data. No code in it, and no sight of the draws."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from wreckwright.futures.rebuild import Rebuild

NOW, NEVER, ON_DISCOVERY = -1, -2, -3
"""Triggers below zero; a trigger >= 0 is a gate: bench gates first (by stage), then outside gates."""


@dataclass(frozen=True, kw_only=True)
class Policy:
    line_source: tuple[int, ...]
    """Per line: index of the source it is ordered from."""
    line_trigger: tuple[int, ...]
    """Per line: NOW, ON_DISCOVERY (lines of follow-ups), NEVER, or a gate index."""
    plan_b_source: tuple[int, ...]
    """Per line: source to change to, or -1."""
    plan_b_after_days: tuple[int, ...]
    """Per line: days after ordering on which to change if nothing has come; -1: only when it is clear that it never
    comes."""
    stage: tuple[int, ...]
    """Per slot: stage in which it is done (jobs, looks), or before which it is not begun (follow-ups)."""
    rank: tuple[int, ...]
    """Per slot, then per cover off, then per cover on: the ready one with the lowest rank is done first. All
    different."""
    looks: tuple[bool, ...]
    """Per slot: for looks, whether it is done at all; True elsewhere."""
    stop: Mapping[int, tuple[float, ...]] = field(default_factory=dict)
    """Epoch -> 7 coefficients; stop there if their product with the features is below 0. Empty: never stop."""


def check_policy(rebuild: Rebuild, policy: Policy) -> list[str]:
    """Reasons why `policy` cannot be played on `rebuild` (which has passed `check_rebuild`); empty when it can.

    >>> import numpy as np
    >>> from wreckwright.futures.rebuild import BenchGate, Slot
    >>> rebuild = Rebuild(slots=(Slot(name="road test", kind="gate"),), covers=(),
    ...     bench_gates=(BenchGate(name="road test", stage=0, slot=0),), outside_gates=(), lines=(), components=(),
    ...     cumulative_minutes=np.array([0, 60]), big_find_minor=0, as_it_stands_minor=(0, 0), part_out_minor=0)
    >>> check_policy(rebuild, Policy(line_source=(), line_trigger=(), plan_b_source=(), plan_b_after_days=(),
    ...     stage=(0,), rank=(0, 0), looks=(True,)))
    ['rank has 2 entries; allowed: 1, one per slot, then one per cover off, then one per cover on']
    """
    n_slots, n_covers, n_lines = len(rebuild.slots), len(rebuild.covers), len(rebuild.lines)
    ranks = "one per slot, then one per cover off, then one per cover on"
    lengths = [
        ("line_source", len(policy.line_source), n_lines, "one per line"),
        ("line_trigger", len(policy.line_trigger), n_lines, "one per line"),
        ("plan_b_source", len(policy.plan_b_source), n_lines, "one per line"),
        ("plan_b_after_days", len(policy.plan_b_after_days), n_lines, "one per line"),
        ("stage", len(policy.stage), n_slots, "one per slot"),
        ("looks", len(policy.looks), n_slots, "one per slot"),
        ("rank", len(policy.rank), n_slots + 2 * n_covers, ranks),
    ]
    wrong = [
        f"{name} has {found} entries; allowed: {wanted}, {meaning}"
        for name, found, wanted, meaning in lengths
        if found != wanted
    ]
    if wrong:
        return wrong
    return [*_slots(rebuild, policy), *_lines(rebuild, policy), *_stop(rebuild, policy)]


def _slots(rebuild: Rebuild, policy: Policy) -> Iterator[str]:
    last = rebuild.n_stages - 1
    stage_of_gate = {gate.slot: gate.stage for gate in rebuild.bench_gates}
    for j, (slot, stage) in enumerate(zip(rebuild.slots, policy.stage, strict=True)):
        where = f"slot {j} ({slot.name})"
        if slot.kind in ("job", "look"):
            if not 0 <= stage <= slot.needed_by:
                yield (
                    f"{where}: stage is {stage}; allowed: 0 to {slot.needed_by}, because the gate of stage "
                    f"{slot.needed_by} needs it; put it into an earlier stage"
                )
            for gate_slot in slot.after:
                # The gate waits for all work of its stage, so work of that stage cannot wait for the gate.
                if stage_of_gate.get(gate_slot) == stage:
                    yield (
                        f"{where}: stage is {stage}, but it comes after the gate that ends stage {stage} "
                        f"({rebuild.slots[gate_slot].name}); allowed: {stage + 1} or later; move it behind that gate"
                    )
        elif slot.kind == "follow_up" and not 0 <= stage <= last:
            yield f"{where}: stage is {stage}; allowed: 0 to {last}; choose the stage before which it is not begun"
        if slot.kind != "look" and not policy.looks[j]:
            yield f"{where}: looks is False for a {slot.kind}; allowed: True; only looks can be passed over"
    first_with: dict[int, int] = {}
    for i, rank in enumerate(policy.rank):
        if first_with.setdefault(rank, i) != i:
            yield (
                f"rank {rank} is given to entries {first_with[rank]} and {i}; allowed: every rank once; "
                "say which of the two comes first"
            )


def _lines(rebuild: Rebuild, policy: Policy) -> Iterator[str]:
    n_gates = rebuild.n_stages + len(rebuild.outside_gates)
    for index, line in enumerate(rebuild.lines):
        where, n_sources = f"line {index} ({line.name})", len(line.sources)
        source, plan_b = policy.line_source[index], policy.plan_b_source[index]
        if not 0 <= source < n_sources:
            yield f"{where}: line_source is {source}; allowed: 0 to {n_sources - 1}; choose one of its sources"
        if not -1 <= plan_b < n_sources:
            yield (
                f"{where}: plan_b_source is {plan_b}; allowed: -1 (none) to {n_sources - 1}; choose one of its sources"
            )
        if policy.plan_b_after_days[index] < -1:
            yield (
                f"{where}: plan_b_after_days is {policy.plan_b_after_days[index]}; allowed: -1 (not by time) or days "
                "from 0; count from the day of the order"
            )
        trigger, slot = policy.line_trigger[index], rebuild.slots[line.slot]
        if not ON_DISCOVERY <= trigger < n_gates:
            yield (
                f"{where}: line_trigger is {trigger}; allowed: {NOW} (now), {NEVER} (never), {ON_DISCOVERY} (on "
                f"discovery) or a gate from 0 to {n_gates - 1}; name one of these"
            )
        elif trigger == ON_DISCOVERY and slot.kind != "follow_up":
            yield (
                f"{where}: ordered on discovery, but its slot ({slot.name}) is a {slot.kind}; allowed: slots that put "
                "right something hidden; order it now or on a gate"
            )
        elif 0 <= trigger < rebuild.n_stages and trigger >= _first_needed(rebuild, policy, line.slot):
            stage = _first_needed(rebuild, policy, line.slot)
            yield (
                f"{where}: a trigger names only earlier events, but it waits for gate {trigger} "
                f"({rebuild.bench_gates[trigger].name}) and its slot ({slot.name}) is to be done in stage {stage}, "
                f"before that gate; allowed: gates below {stage}; order it now or on an earlier gate"
            )


def _first_needed(rebuild: Rebuild, policy: Policy, slot: int) -> int:
    """The earliest stage in which the slot can have to be done."""
    kind = rebuild.slots[slot].kind
    if kind == "gate":
        return rebuild.slots[slot].stage
    if kind == "fallback":
        return next(gate.stage for gate in rebuild.bench_gates if slot in gate.fallbacks)
    if kind == "follow_up":
        return min(policy.stage[slot], rebuild.slots[slot].needed_by)
    return policy.stage[slot]


def _stop(rebuild: Rebuild, policy: Policy) -> Iterator[str]:
    n_epochs = 3 * rebuild.n_stages
    for epoch, coefficients in policy.stop.items():
        if not 0 <= epoch < n_epochs:
            yield f"stop names epoch {epoch}; allowed: 0 to {n_epochs - 1}, three per stage; leave it out"
        if len(coefficients) != 7 or not all(math.isfinite(c) for c in coefficients):
            yield (
                f"stop at epoch {epoch} has the coefficients {tuple(coefficients)}; allowed: 7 finite numbers; "
                "fit it again or leave it out"
            )
