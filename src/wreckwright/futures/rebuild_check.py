"""Whether a `Rebuild` can be played, and the questions about covers that this and the simulator ask."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Protocol

import numpy as np

from wreckwright.futures.rebuild import BenchGate, Rebuild, Slot

LONGEST_CALENDAR_MINUTES = 20_000_000
"""Forty years without sleep; a table with one entry a minute is kept of them."""
LONGEST_CALENDAR_DAYS = 30_000
"""Days are kept in 16 bits where there are many of them."""
LARGEST_MINOR = 10**11
"""Of any single amount of money: sums and products with permille then stay exact in 64 bits and in floats."""
MOST_PIECES = 4000
"""Of slots, covers and lines together; the tables grow with its square."""
LONGEST_DAYS = 10**6
"""Of any single wait."""


class LiesUnder(Protocol):
    """A cover, by the numbers of those it lies under."""

    @property
    def under(self) -> tuple[int, ...]: ...


def upward(covers: Sequence[LiesUnder]) -> list[frozenset[int]]:
    """Line upward of each cover: itself and everything that must be off before it can come off.

    >>> from wreckwright.futures.rebuild import CoverNode
    >>> upward([CoverNode(name="seat"), CoverNode(name="panel", under=(0,)), CoverNode(name="tank", under=(1,))])[2]
    frozenset({0, 1, 2})
    """
    lines: list[frozenset[int]] = []
    for x in range(len(covers)):
        seen, open_ends = {x}, [x]
        while open_ends:
            for u in covers[open_ends.pop()].under:
                if u not in seen:
                    seen.add(u)
                    open_ends.append(u)
        lines.append(frozenset(seen))
    return lines


def opening(line_upward: Sequence[frozenset[int]], slot: Slot) -> frozenset[int]:
    """All covers that must be off for the slot."""
    return frozenset[int]().union(*(line_upward[x] for x in slot.covers))


def closing(line_upward: Sequence[frozenset[int]], gate: BenchGate, *, last: bool) -> frozenset[int]:
    """All covers that must be on for the gate: its own and what lies beneath them; for the last gate every cover."""
    return frozenset(x for x, line in enumerate(line_upward) if last or not line.isdisjoint(gate.covers_on))


def check_rebuild(rebuild: Rebuild) -> list[str]:
    """Reasons why `rebuild` cannot be played: what is wrong, what is allowed, what to do. Empty when it can.

    >>> check_rebuild(Rebuild(slots=(Slot(name="road test", kind="gate"),), covers=(),
    ...     bench_gates=(BenchGate(name="road test", stage=1, slot=0),), outside_gates=(), lines=(), components=(),
    ...     cumulative_minutes=np.array([0, 60]), big_find_minor=0, as_it_stands_minor=(0, 0), part_out_minor=0))
    ['bench gate 0 (road test): stage is 1; allowed: 0, gates stand in the order of their stages; sort them']
    """
    # Later checks follow references; they are made only when all references lead somewhere.
    return [*_calendar_and_money(rebuild), *_references(rebuild)] or [*_gates_and_follow_ups(rebuild), *_order(rebuild)]


def _calendar_and_money(rebuild: Rebuild) -> Iterator[str]:
    minutes = rebuild.cumulative_minutes
    if minutes.ndim != 1 or len(minutes) < 2 or minutes.dtype.kind not in "iu":
        yield (
            f"cumulative_minutes has shape {minutes.shape} and type {minutes.dtype}; allowed: one row of at least two "
            "whole numbers; give the planned minutes before each day"
        )
    elif minutes[0] != 0 or (np.diff(minutes) < 0).any():
        yield (
            f"cumulative_minutes starts with {minutes[0]} or falls somewhere; allowed: 0, then never falling; "
            "add up the planned minutes day by day"
        )
    elif len(minutes) - 1 > LONGEST_CALENDAR_DAYS:
        yield (
            f"cumulative_minutes covers {len(minutes) - 1} days; allowed: up to {LONGEST_CALENDAR_DAYS}; "
            "end the calendar earlier"
        )
    elif minutes[-1] > LONGEST_CALENDAR_MINUTES:
        yield (
            f"cumulative_minutes ends at {minutes[-1]}; allowed: up to {LONGEST_CALENDAR_MINUTES}; "
            "end the calendar earlier"
        )
    days = rebuild.helper_day
    if days is not None and (days.shape != (minutes.size - 1,) or days.dtype.kind != "b"):
        yield (
            f"helper_day has shape {days.shape} and type {days.dtype}; allowed: one row of {minutes.size - 1} times "
            "true or false, a day each; say of every day of the calendar whether somebody helps"
        )
    pieces = len(rebuild.slots) + len(rebuild.covers) + len(rebuild.lines)
    if pieces > MOST_PIECES:
        yield (
            f"there are {pieces} slots, covers and lines; allowed: up to {MOST_PIECES} together; "
            "take small work together"
        )
    amounts = [("big_find_minor", rebuild.big_find_minor)]
    for j, slot in enumerate(rebuild.slots):
        amounts += [(f"slot {j} ({slot.name}): {n}", getattr(slot, n)) for n in ("mean_minor", "mean_minutes")]
    for index, line in enumerate(rebuild.lines):
        amounts.append((f"line {index} ({line.name}): sunk_minor", line.sunk_minor))
        amounts += [(f"line {index} ({line.name}): mean_minor of {s.name}", s.mean_minor) for s in line.sources]
    for where, amount in amounts:
        if not 0 <= amount <= LARGEST_MINOR:
            yield f"{where} is {amount}; allowed: 0 to {LARGEST_MINOR}; check the amount and its unit"
    for index, line in enumerate(rebuild.lines):
        for source in line.sources:
            where = f"line {index} ({line.name}), source {source.name}"
            for name in ("refund_permille", "resale_permille"):
                if not 0 <= getattr(source, name) <= 1000:
                    yield f"{where}: {name} is {getattr(source, name)}; allowed: 0 to 1000; give a share in thousandths"
            if not 0 <= source.cancel_days <= LONGEST_DAYS:
                yield f"{where}: cancel_days is {source.cancel_days}; allowed: 0 to {LONGEST_DAYS}; give whole days"
        if not line.sources:
            yield f"line {index} ({line.name}) has no source; allowed: at least one; say where it can come from"
    for j, slot in enumerate(rebuild.slots):
        if not 0 <= slot.cure_days <= LONGEST_DAYS:
            yield (
                f"slot {j} ({slot.name}): cure_days is {slot.cure_days}; allowed: 0 to {LONGEST_DAYS}; give whole days"
            )
    if len(rebuild.as_it_stands_minor) != rebuild.n_stages + 1:
        yield (
            f"as_it_stands_minor has {len(rebuild.as_it_stands_minor)} entries; allowed: {rebuild.n_stages + 1}, one "
            "for each number of gates passed; give one more than there are gates"
        )


def _references(rebuild: Rebuild) -> Iterator[str]:
    n_stages = rebuild.n_stages
    if n_stages == 0:
        yield "there is no bench gate; allowed: at least one, the last one means finished; add the final test"
    sizes = {
        "slot": len(rebuild.slots),
        "cover": len(rebuild.covers),
        "line": len(rebuild.lines),
        "outside gate": len(rebuild.outside_gates),
        "component": len(rebuild.components),
        "stage": n_stages,
    }
    named: list[tuple[str, str, Sequence[int]]] = []
    for j, slot in enumerate(rebuild.slots):
        where = f"slot {j} ({slot.name})"
        named += [
            (f"{where}: after", "slot", slot.after),
            (f"{where}: covers", "cover", slot.covers),
            (f"{where}: lines", "line", slot.lines),
            (f"{where}: outside", "outside gate", slot.outside),
            (f"{where}: exposes", "component", [entry.component for entry in slot.exposes]),
            (f"{where}: stage", "stage", (slot.stage,)),
            (f"{where}: needed_by", "stage", (slot.needed_by,)),
            (f"{where}: component", "component", (slot.component,) if slot.kind == "follow_up" else ()),
            (f"{where}: rough_gate", "stage", () if slot.rough_gate == -1 else (slot.rough_gate,)),
            (f"{where}: part_of", "slot", () if slot.part_of == -1 else (slot.part_of,)),
        ]
    for x, cover in enumerate(rebuild.covers):
        named.append((f"cover {x} ({cover.name}): under", "cover", cover.under))
    for k, gate in enumerate(rebuild.bench_gates):
        where = f"bench gate {k} ({gate.name})"
        named += [
            (f"{where}: slot", "slot", (gate.slot,)),
            (f"{where}: covers_on", "cover", gate.covers_on),
            (f"{where}: fallbacks", "slot", gate.fallbacks),
        ]
        if gate.stage != k:
            yield f"{where}: stage is {gate.stage}; allowed: {k}, gates stand in the order of their stages; sort them"
    for index, line in enumerate(rebuild.lines):
        named.append((f"line {index} ({line.name}): slot", "slot", (line.slot,)))
    for where, what, indices in named:
        for index in indices:
            if not 0 <= index < sizes[what]:
                allowed = f"0 to {sizes[what] - 1}" if sizes[what] else "none, there is none"
                yield f"{where} names {what} {index}; allowed: {allowed}; name one that exists"


def _gates_and_follow_ups(rebuild: Rebuild) -> Iterator[str]:
    uses: dict[int, list[str]] = {}
    for gate in rebuild.bench_gates:
        for j, kind in [(gate.slot, "gate"), *((b, "fallback") for b in gate.fallbacks)]:
            slot = rebuild.slots[j]
            uses.setdefault(j, []).append(gate.name)
            if slot.kind != kind:
                yield (
                    f"bench gate {gate.stage} ({gate.name}): slot {j} ({slot.name}) is a {slot.kind}; "
                    f"allowed: a {kind}; name the right slot or change its kind"
                )
            elif kind == "gate" and slot.stage != gate.stage:
                yield f"slot {j} ({slot.name}): stage is {slot.stage}; allowed: {gate.stage}, the stage its gate ends"
    follow_ups: dict[int, list[str]] = {}
    for j, slot in enumerate(rebuild.slots):
        if slot.kind in ("gate", "fallback") and len(uses.get(j, ())) != 1:
            yield (
                f"slot {j} ({slot.name}) is a {slot.kind} of {len(uses.get(j, ()))} bench gates; allowed: exactly one; "
                "name it in the gate it belongs to"
            )
        if slot.kind == "follow_up":
            follow_ups.setdefault(slot.component, []).append(slot.name)
        elif slot.component != -1:
            yield (
                f"slot {j} ({slot.name}): component is {slot.component} for a {slot.kind}; allowed: -1; "
                "only follow-ups have one"
            )
        if slot.rough_gate != -1 and slot.kind != "look":
            yield (
                f"slot {j} ({slot.name}): rough_gate is {slot.rough_gate} for a {slot.kind}; allowed: -1; "
                "only looks foretell"
            )
        if slot.part_of != -1 and (slot.part_of == j or slot.kind in ("gate", "fallback")):
            yield (
                f"slot {j} ({slot.name}): part_of is {slot.part_of} for a {slot.kind}; allowed: another slot, for "
                "jobs, looks and follow-ups, otherwise -1; name the slot that holds the part lines"
            )
        for index in slot.lines:
            if rebuild.lines[index].slot != j:
                yield (
                    f"slot {j} ({slot.name}) names line {index} ({rebuild.lines[index].name}), which belongs to slot "
                    f"{rebuild.lines[index].slot}; allowed: its own lines; correct one of the two"
                )
    for index, line in enumerate(rebuild.lines):
        if index not in rebuild.slots[line.slot].lines:
            yield (
                f"line {index} ({line.name}) belongs to slot {line.slot} ({rebuild.slots[line.slot].name}), which does "
                "not name it; allowed: named by its slot; add it there"
            )
    for h, key in enumerate(rebuild.components):
        if len(follow_ups.get(h, ())) != 1:
            yield (
                f"component {h} ({key}) has {len(follow_ups.get(h, ()))} follow-up slots; allowed: exactly one; "
                "add what puts it right, or leave the component out"
            )


def _order(rebuild: Rebuild) -> Iterator[str]:
    ring = _ring([slot.after for slot in rebuild.slots])
    if ring:
        names = " after ".join(rebuild.slots[j].name for j in ring)
        yield f"slots wait for each other ({names}); allowed: no rings; take out one `after`"
    ring = _ring([cover.under for cover in rebuild.covers])
    if ring:
        names = " under ".join(rebuild.covers[x].name for x in ring)
        yield f"covers lie on each other ({names}); allowed: no rings; take out one `under`"
        return
    line_upward = upward(rebuild.covers)
    for x, cover in enumerate(rebuild.covers):
        for u in cover.under:
            if cover.off_at_start and not rebuild.covers[u].off_at_start:
                yield (
                    f"cover {x} ({cover.name}) is off at the start, but {rebuild.covers[u].name}, which lies over it, "
                    "is on; allowed: both off; say that it is off too"
                )
    for gate in rebuild.bench_gates:
        both = opening(line_upward, rebuild.slots[gate.slot]) & closing(
            line_upward, gate, last=gate.stage == rebuild.n_stages - 1
        )
        if both:
            names = ", ".join(rebuild.covers[x].name for x in sorted(both))
            yield (
                f"bench gate {gate.stage} ({gate.name}) needs {names} both off and on; allowed: one of the two; "
                "take it out of the slot's covers or of covers_on"
            )
        for b in gate.fallbacks:
            if gate.slot in rebuild.slots[b].after:
                yield (
                    f"slot {b} ({rebuild.slots[b].name}) is a way round of gate {gate.stage} ({gate.name}) and comes "
                    "after it; allowed: not after its own gate, which waits for it; take it out of `after`"
                )


def _ring(before: Sequence[Sequence[int]]) -> list[int]:
    """One ring of the graph, first node repeated at its end; empty if there is none."""
    settled: set[int] = set()
    for first in range(len(before)):
        path: list[int] = []
        ends = [(first, iter(before[first]))] if first not in settled else []
        while ends:
            node, rest = ends[-1]
            if len(path) < len(ends):
                path.append(node)
            step = next((n for n in rest if n not in settled), None)
            if step is None:
                settled.add(node)
                path.pop()
                ends.pop()
            elif step in path:
                return [*path[path.index(step) :], step]
            else:
                ends.append((step, iter(before[step])))
    return []
