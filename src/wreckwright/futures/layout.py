"""A rebuild and a policy, flattened into arrays for the lock-step simulator.

Every piece of work (slot, cover off, cover on) has one **column**; columns stand in order of rank, so that the first
ready column of a row is the choice. The state of a future is one row of whole numbers: in a slot's column, how many
things still hold it up (0: it can be done but for its release); a piece of work, when it ends, adds one fixed row
(`effect`) to it.

What holds a slot up, each counted once: that it is not active, each active undone slot in `after`, each of its covers
that is on, each of its lines that is not ordered; for a gate slot also each active undone slot of its stage or an
earlier one and each cover of its closing that is off. Being done adds `done_weight`, more than all of these together.

A cover's *off* column counts, `cover_weight` each, that it is off and the covers over it that are on, plus 1, minus the
demand for it: it is 0 or less exactly if it can come off. Its *on* column counts in the same weight that it is on, the
covers over it that are off, and that it is not in the closing of the current gate, plus the demand: 0 exactly if it can
go on.

Behind the columns stand one that is always ready (chosen when nothing else is: `wait_column`), one per cover that is 1
while the cover is off, and empty ones up to a multiple of eight.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from wreckwright.futures.policy import NEVER, NOW, ON_DISCOVERY, Policy
from wreckwright.futures.rebuild import BoolArray, LongArray, Rebuild
from wreckwright.futures.rebuild_check import closing, opening, upward

Index = npt.NDArray[np.intp]
Counts = npt.NDArray[Any]
"""16-bit whole numbers, or 32-bit ones where 16 might not do."""


@dataclass(frozen=True, kw_only=True)
class LineGroup:
    """Lines that are ordered at the same moment, m of them for p slots."""

    lines: Index
    """[m] in order of index."""
    columns: Index
    """[p] columns of their slots, each once."""
    place: Index
    """[m] where in `columns` the line's slot stands."""


@dataclass(frozen=True, kw_only=True)
class Layout:
    """J slots, C covers, N = J + 2 C columns, W >= N + 1 + C, S stages, H components, B fallback slots, L lines."""

    n_slots: int
    n_covers: int
    n_columns: int
    width: int
    wait_column: int
    """N. `effect` has one more row behind it, N + 1, for futures that stand still: also without effect."""
    columns: Index
    """[J + 2 C] column of each slot, of taking each cover off, of putting each cover on."""
    work_of: Index
    """[N] the inverse."""
    done_weight: int
    cover_weight: int

    at_start: Counts
    """[W] row at the start: stage 0 active, no line ordered (lines that never hold a slot up apart)."""
    effect: Counts
    """[N + 2, W] what is added when a column's work ends."""
    activate: Counts
    """[J, W] what is added when a slot becomes active."""
    next_stage: Counts
    """[S, W] what is added on passing each gate (last: nothing), its orders included."""
    early: Counts
    """[S, W] the part of `next_stage` that belongs to slots which may begin when the gate has failed at first."""

    gate_column: Index
    """[S]"""
    fallbacks: Index
    """[S, most fallbacks] fallback slots, as numbers in order of slots; -1 behind the last."""
    n_fallbacks: Index
    """[S]"""
    fallback_column: Index
    """[B]"""
    fallback_gate: Index
    """[B]"""
    gate_of_column: Index
    """[N + 2] stage whose gate slot it is, else -1."""
    fallback_of_column: Index
    """[N + 2] number of the fallback, else -1."""
    rough_gate: Index
    """[N + 2] bench gate whose no it may foretell, else -1."""

    entries: Index
    """[N + 2, most entries] expose entries of each column in order, -1 behind the last."""
    entry_column: Index
    """[E]"""
    entry_component: Index
    """[E]"""
    follow_column: Index
    """[H]"""
    follow_slot: Index
    """[H]"""
    follow_from: Index
    """[H] stage before which it is not begun."""
    follow_needed_by: Index
    """[H]"""
    follow_opening: BoolArray
    """[H, C]"""
    next_open: Index
    """[H, S + 1] first stage from s on whose own work opens all that the follow-up needs open; S if none."""
    follow_cost: LongArray
    """[H] what the policy expects it to cost, lines included."""
    follow_lines: Index
    """[H, most] lines ordered on discovery, in the order in which the slot names them, -1 behind the last."""
    follow_ordered: Index
    """[H, most] its other lines, which may have been ordered before."""
    fallback_ordered: Index
    """[B, most] lines of each fallback, likewise."""

    cure_days: LongArray
    """[N + 2]"""
    cure_start: Index
    """[N + 3] where each column's targets begin in `cure_target`."""
    cure_target: Index
    """Columns that wait for the cure of a column: its successors and its gate (a follow-up's gate apart)."""
    is_follow_up: BoolArray
    """[N + 2]"""

    line_column: Index
    """[L] column of the line's slot."""
    line_essential: BoolArray
    """[L]"""
    line_wanted: BoolArray
    """[L] essential, and the project cannot do without its slot, as is known from the start."""
    line_component: Index
    """[L] component whose follow-up the line is for, else -1."""
    line_fallback: Index
    """[L] number of the fallback the line is for, else -1."""
    line_sunk_minor: LongArray
    line_resale_permille: LongArray
    """[L] of the source it is first ordered from."""
    line_mean_minor: npt.NDArray[np.float64]
    """[L] of the chosen source."""
    at_once: LineGroup
    """Lines ordered at the start."""
    on_gate: tuple[LineGroup, ...]
    """[S] by bench gate."""
    on_outside: tuple[tuple[int, int], ...]
    """(line, outside gate)."""
    never_ordered: tuple[int, ...]

    outside: Index
    """[N, most] outside gates of each column, ascending, -1 behind the last."""
    counted: BoolArray
    """[N] jobs, used looks, gate slots: known work from the start."""
    means: npt.NDArray[np.float64]
    """[N, 2] whole `mean_minor` and `mean_minutes` of slots; 0 for covers."""


def lay_out(rebuild: Rebuild, policy: Policy) -> Layout:
    """Flatten a rebuild and a policy that have passed their checks."""
    slots, covers = rebuild.slots, rebuild.covers
    n_slots, n_covers, n_stages = len(slots), len(covers), rebuild.n_stages
    n_columns = n_slots + 2 * n_covers
    work_of = np.argsort(np.array(policy.rank, np.int64), kind="stable")
    columns = np.empty(n_columns, np.intp)
    columns[work_of] = np.arange(n_columns)
    line_upward = upward(covers)
    openings = [opening(line_upward, slot) for slot in slots]
    closings = [closing(line_upward, gate, last=gate.stage == n_stages - 1) for gate in rebuild.bench_gates]
    gate_column = columns[[gate.slot for gate in rebuild.bench_gates]]
    fallback_slots = [j for j, slot in enumerate(slots) if slot.kind == "fallback"]
    number_of = {j: b for b, j in enumerate(fallback_slots)}
    gate_of = {b: gate.stage for gate in rebuild.bench_gates for b in gate.fallbacks}
    gate_slot = {gate.slot: gate.stage for gate in rebuild.bench_gates}
    stage = [gate_of.get(j, gate_slot.get(j, policy.stage[j])) for j in range(n_slots)]

    def per_column(values: Iterable[int], default: int) -> LongArray:
        row = np.full(n_columns + 2, default, np.int64)
        row[columns[:n_slots]] = list(values)
        return row

    group_of: dict[int, list[int]] = {k: [] for k in range(n_stages)}
    at_once: list[int] = []
    on_outside: list[tuple[int, int]] = []
    triggers = _triggers(rebuild, policy)
    for index, line in enumerate(rebuild.lines):
        trigger = triggers[index]
        if line.already_ordered or trigger == NOW:
            at_once.append(index)
        elif trigger >= n_stages:
            on_outside.append((index, trigger - n_stages))
        elif trigger >= 0:
            group_of[trigger].append(index)
    line_column = columns[[line.slot for line in rebuild.lines]]
    on_gate = tuple(_group(line_column, group_of[k]) for k in range(n_stages))
    rows = _rows(rebuild, policy, columns, openings, closings, stage, on_gate)
    chosen = [line.sources[s] for line, s in zip(rebuild.lines, policy.line_source, strict=True)]

    entries = [(columns[j], entry.component) for j, slot in enumerate(slots) for entry in slot.exposes]
    entries_of: list[list[int]] = [[] for _ in range(n_columns + 2)]
    for e, (column, _) in enumerate(entries):
        entries_of[column].append(e)
    follow_slot = np.zeros(len(rebuild.components), np.intp)
    for j, slot in enumerate(slots):
        if slot.kind == "follow_up":
            follow_slot[slot.component] = j
    expected = [
        slot.kind in ("job", "gate") or (slot.kind == "look" and policy.looks[j]) for j, slot in enumerate(slots)
    ]
    own_work = [frozenset[int]() for _ in range(n_stages)]
    for j in np.flatnonzero(expected).tolist():
        own_work[stage[j]] |= openings[j]
    follow_opening = np.zeros((len(follow_slot), n_covers), bool)
    next_open = np.full((len(follow_slot), n_stages + 1), n_stages, np.intp)
    for h, j in enumerate(follow_slot.tolist()):
        follow_opening[h, sorted(openings[j])] = True
        for s in reversed(range(n_stages)):
            next_open[h, s] = s if openings[j] <= own_work[s] else next_open[h, s + 1]
    on_discovery = {
        index
        for index, line in enumerate(rebuild.lines)
        if triggers[index] == ON_DISCOVERY and not line.already_ordered
    }
    essential = np.array([slots[line.slot].essential for line in rebuild.lines], bool)
    targets = _cure_targets(rebuild, columns, gate_column, stage)
    return Layout(
        n_slots=n_slots,
        n_covers=n_covers,
        n_columns=n_columns,
        width=rows.at_start.shape[0],
        wait_column=n_columns,
        columns=columns,
        work_of=work_of,
        done_weight=rows.done_weight,
        cover_weight=rows.cover_weight,
        at_start=rows.at_start,
        effect=rows.effect,
        activate=rows.activate,
        next_stage=rows.next_stage,
        early=rows.early,
        gate_column=gate_column,
        fallbacks=_padded([[number_of[b] for b in gate.fallbacks] for gate in rebuild.bench_gates]),
        n_fallbacks=np.array([len(gate.fallbacks) for gate in rebuild.bench_gates], np.intp),
        fallback_column=columns[fallback_slots],
        fallback_gate=np.array([gate_of[j] for j in fallback_slots], np.intp),
        gate_of_column=per_column((gate_slot.get(j, -1) for j in range(n_slots)), -1),
        fallback_of_column=per_column((number_of.get(j, -1) for j in range(n_slots)), -1),
        rough_gate=per_column((slot.rough_gate for slot in slots), -1),
        entries=_padded(entries_of),
        entry_column=np.array([column for column, _ in entries], np.intp),
        entry_component=np.array([component for _, component in entries], np.intp),
        follow_column=columns[follow_slot],
        follow_slot=follow_slot,
        follow_from=np.array([policy.stage[j] for j in follow_slot], np.intp),
        follow_needed_by=np.array([slots[j].needed_by for j in follow_slot], np.intp),
        follow_opening=follow_opening,
        next_open=next_open,
        follow_cost=np.array(
            [slots[j].mean_minor + sum(chosen[i].mean_minor for i in set(slots[j].lines)) for j in follow_slot],
            np.int64,
        ),
        follow_lines=_padded([[i for i in dict.fromkeys(slots[j].lines) if i in on_discovery] for j in follow_slot]),
        follow_ordered=_padded(
            [[i for i in dict.fromkeys(slots[j].lines) if i not in on_discovery] for j in follow_slot]
        ),
        cure_days=per_column((slot.cure_days for slot in slots), 0),
        cure_start=np.cumsum([0, *map(len, targets)]),
        cure_target=np.array([t for row in targets for t in row], np.intp),
        is_follow_up=per_column((slot.kind == "follow_up" for slot in slots), 0).astype(bool),
        line_column=line_column,
        line_essential=essential,
        line_wanted=essential & np.array([expected[line.slot] for line in rebuild.lines], bool),
        line_component=np.array([slots[line.slot].component for line in rebuild.lines], np.intp),
        line_fallback=np.array([number_of.get(line.slot, -1) for line in rebuild.lines], np.intp),
        fallback_ordered=_padded([list(dict.fromkeys(slots[j].lines)) for j in fallback_slots]),
        line_sunk_minor=np.array([line.sunk_minor for line in rebuild.lines], np.int64),
        line_resale_permille=np.array([source.resale_permille for source in chosen], np.int64),
        line_mean_minor=np.array([source.mean_minor for source in chosen], np.float64),
        at_once=_group(line_column, at_once),
        on_gate=on_gate,
        on_outside=tuple(on_outside),
        never_ordered=tuple(
            index for index, line in enumerate(rebuild.lines) if triggers[index] == NEVER and not line.already_ordered
        ),
        outside=_padded([sorted(set(slots[w].outside)) if w < n_slots else [] for w in work_of.tolist()]),
        counted=per_column(expected, 0)[:n_columns].astype(bool),
        means=np.stack(
            [
                per_column((slot.mean_minor for slot in slots), 0)[:n_columns],
                per_column((slot.mean_minutes for slot in slots), 0)[:n_columns],
            ],
            axis=1,
        ).astype(np.float64),
    )


@dataclass(frozen=True, kw_only=True)
class _Rows:
    done_weight: int
    cover_weight: int
    at_start: Counts
    effect: Counts
    activate: Counts
    next_stage: Counts
    early: Counts


def _rows(
    rebuild: Rebuild,
    policy: Policy,
    columns: Index,
    openings: Sequence[frozenset[int]],
    closings: Sequence[frozenset[int]],
    stage: Sequence[int],
    on_gate: Sequence[LineGroup],
) -> _Rows:
    """The row at the start and everything that is ever added to it."""
    slots, covers, triggers = rebuild.slots, rebuild.covers, _triggers(rebuild, policy)
    n_slots, n_covers, n_stages, n_columns = len(slots), len(covers), rebuild.n_stages, len(columns)
    width = -(-(n_columns + 1 + n_covers) // 8) * 8
    off_column, on_column = columns[n_slots : n_slots + n_covers], columns[n_slots + n_covers :]
    gate_column = columns[[gate.slot for gate in rebuild.bench_gates]]
    over: list[list[int]] = [[] for _ in covers]
    for x, cover in enumerate(covers):
        for u in set(cover.under):
            over[u].append(x)
    # Powers of two above everything that is counted below them.
    cover_weight = 1 << (n_slots + 1).bit_length()
    done_weight = 1 << (n_slots + n_covers + len(rebuild.lines) + 2).bit_length()
    most_held = 2 + max((max(len(set(c.under)), len(o)) for c, o in zip(covers, over, strict=True)), default=0)
    # On passing a gate a row holds the sum of two states for a moment; 4 leaves room for that.
    largest = 4 * max(done_weight, cover_weight * most_held)
    dtype = np.int16 if largest < 2**15 else np.int32

    activate = np.zeros((n_slots, width), np.int64)
    for j, slot in enumerate(slots):
        activate[j, columns[j]] = -1
        for x in openings[j]:
            activate[j, off_column[x]] = -1
            activate[j, on_column[x]] = 1
        if slot.kind == "follow_up":
            # It becomes active in the stage it is assigned to, and holds up that gate: the gates before have been
            # passed.
            activate[j, gate_column] += 1
        elif slot.kind != "gate":
            activate[j, gate_column[stage[j] :]] += 1
    for j, slot in enumerate(slots):
        for i in set(slot.after):
            activate[i, columns[j]] += 1

    effect = np.zeros((n_columns + 2, width), np.int64)
    effect[columns[:n_slots]] = -activate
    effect[columns[:n_slots], columns[:n_slots]] = done_weight
    for x in range(n_covers):
        off = effect[off_column[x]]
        off[n_columns + 1 + x] = 1
        off[off_column[x]] += cover_weight
        off[on_column[x]] -= cover_weight
        for y in over[x]:
            off[off_column[y]] -= cover_weight
        for u in set(covers[x].under):
            off[on_column[u]] += cover_weight
        for j, slot in enumerate(slots):
            off[columns[j]] -= x in slot.covers
        for gate, must_be_on in zip(rebuild.bench_gates, closings, strict=True):
            off[columns[gate.slot]] += x in must_be_on
        effect[on_column[x]] = -off

    at_start = np.zeros(width, np.int64)
    for j, slot in enumerate(slots):
        held_by_line = [
            index
            for index in set(slot.lines)
            if not rebuild.lines[index].already_ordered
            and triggers[index] != NOW
            and (slot.essential or triggers[index] != NEVER)
        ]
        at_start[columns[j]] = 1 + len(set(slot.covers)) + len(held_by_line)
    for x, cover in enumerate(covers):
        at_start[off_column[x]] = 1 + cover_weight * len(set(cover.under))
        at_start[on_column[x]] = cover_weight * (1 + (x not in closings[0]))
    for x, cover in enumerate(covers):
        if cover.off_at_start:
            at_start += effect[off_column[x]]

    def begins(j: int, k: int) -> bool:
        kind = slots[j].kind
        return stage[j] == k and (kind in ("job", "gate") or (kind == "look" and policy.looks[j]))

    next_stage, early = np.zeros((2, n_stages, width), np.int64)
    for j in range(n_slots):
        if begins(j, 0):
            at_start += activate[j]
    for k in range(n_stages - 1):
        np.subtract.at(next_stage[k], on_gate[k].columns[on_gate[k].place], 1)
        for x in range(n_covers):
            next_stage[k, on_column[x]] += cover_weight * (int(x in closings[k]) - int(x in closings[k + 1]))
        for j in range(n_slots):
            if begins(j, k + 1):
                next_stage[k] += activate[j]
                if slots[j].kind != "gate" and openings[j].isdisjoint(closings[k]):
                    early[k] += activate[j]
    return _Rows(
        done_weight=done_weight,
        cover_weight=cover_weight,
        at_start=at_start.astype(dtype),
        effect=effect.astype(dtype),
        activate=activate.astype(dtype),
        next_stage=next_stage.astype(dtype),
        early=early.astype(dtype),
    )


def _triggers(rebuild: Rebuild, policy: Policy) -> list[int]:
    """Triggers of the lines; those of a look that is not used are not ordered."""
    return [
        trigger if policy.looks[line.slot] else NEVER
        for line, trigger in zip(rebuild.lines, policy.line_trigger, strict=True)
    ]


def _cure_targets(rebuild: Rebuild, columns: Index, gate_column: Index, stage: Sequence[int]) -> list[list[int]]:
    """[N + 2] columns whose release is put off by the cure of each column."""
    targets: list[set[int]] = [set() for _ in range(len(columns) + 2)]
    for j, slot in enumerate(rebuild.slots):
        for i in slot.after:
            if rebuild.slots[i].cure_days > 0:
                targets[columns[i]].add(int(columns[j]))
        if slot.cure_days > 0 and slot.kind not in ("follow_up", "gate"):
            targets[columns[j]].add(int(gate_column[stage[j]]))
    return [sorted(row) for row in targets]


def _group(line_column: Index, lines: Sequence[int]) -> LineGroup:
    columns, place = np.unique(line_column[list(lines)], return_inverse=True)
    return LineGroup(lines=np.array(lines, np.intp), columns=columns, place=place.reshape(-1))


def _padded(rows: Sequence[Sequence[int]]) -> Index:
    table = np.full((len(rows), max(map(len, rows), default=0)), -1, np.intp)
    for i, row in enumerate(rows):
        table[i, : len(row)] = row
    return table
