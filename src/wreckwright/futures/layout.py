"""A rebuild and a policy, flattened into arrays for the lock-step simulator.

Every piece of work (slot, cover off, cover on) has one **column**; columns stand in order of rank, so that the first
ready column of a row is the choice. The state of a future is one row of whole numbers: in a slot's column, how many
things still hold it up (0: it can be done but for its release); a piece of work, when it ends, adds one fixed row
(`Rows.effect`) to it.

What holds a slot up, each counted once: that it is not active, each active undone slot in `after`, each of its covers
that is on, each of its lines that is not ordered; for a gate slot also each active undone slot of its stage or an
earlier one and each cover of its closing that is off. Being done adds `done_weight`, more than all of these together.

A cover's *off* column counts, `cover_weight` each, that it is off and the covers over it that are on, plus 1, minus the
demand for it: it is 0 or less exactly if it can come off. Its *on* column counts in the same weight that it is on, the
covers beneath it that are off, and that it is not in the closing of the current gate, plus the demand: 0 exactly if it
can go on.

Behind the columns stand one that is always ready (chosen when nothing else is: `wait_column`), one per cover that is 1
while the cover is off, and empty ones up to a multiple of eight.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from wreckwright.futures.layout_lines import Floats, Index, Lines, lay_out_lines, padded
from wreckwright.futures.layout_rows import Rows, lay_out_rows
from wreckwright.futures.policy import Policy
from wreckwright.futures.rebuild import BoolArray, LongArray, Rebuild
from wreckwright.futures.rebuild_check import closing, opening, upward


@dataclass(frozen=True, kw_only=True)
class Layout:
    """J slots, C covers, N = J + 2 C columns, W >= N + 1 + C, S stages, H components, B fallback slots, E entries."""

    n_slots: int
    n_covers: int
    n_columns: int
    width: int
    wait_column: int
    """N. Tables by column have one more entry behind it, N + 1, for futures that stand still."""
    columns: Index
    """[J + 2 C] column of each slot, of taking each cover off, of putting each cover on."""
    work_of: Index
    """[N] the inverse."""
    rows: Rows
    lines: Lines

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
    entries_for: Index
    """[H, most] entries of each component, -1 behind the last."""
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

    cure_days: LongArray
    """[N + 2]"""
    cure_start: Index
    """[N + 3] where each column's targets begin in `cure_target`."""
    cure_target: Index
    """Columns that wait for the cure of a column: its successors and its gate (a follow-up's gate apart)."""
    is_follow_up: BoolArray
    """[N + 2]"""
    outside: Index
    """[N, most] outside gates of each column, ascending, -1 behind the last."""
    helper: Index
    """Columns of the work that begins only on a helper day; none if nobody waits for a helper."""
    part_of: tuple[tuple[int, int], ...]
    """(column, column of the slot with whose lines it stands or falls)."""

    means: Floats
    """[N + 2, 2] whole numbers: expected money and minutes of each slot; with its lines that are never ordered, without
    all others; 0 for covers."""
    ahead_at_start: Floats
    """[2] expected money and minutes of all work known from the start, lines that wait for a bench gate included."""


def lay_out(rebuild: Rebuild, policy: Policy) -> Layout:
    """Flatten a rebuild and a policy that have passed their checks."""
    slots, n_slots, n_covers, n_stages = rebuild.slots, len(rebuild.slots), len(rebuild.covers), rebuild.n_stages
    n_columns = n_slots + 2 * n_covers
    work_of = np.argsort(np.array(policy.rank, np.int64), kind="stable")
    columns = np.empty(n_columns, np.intp)
    columns[work_of] = np.arange(n_columns)
    slot_columns = columns[:n_slots]
    line_upward = upward(rebuild.covers)
    openings = [opening(line_upward, slot) for slot in slots]
    closings = [closing(line_upward, gate, last=gate.stage == n_stages - 1) for gate in rebuild.bench_gates]
    fallback_slots = [j for j, slot in enumerate(slots) if slot.kind == "fallback"]
    number_of = {j: b for b, j in enumerate(fallback_slots)}
    gate_of = {b: gate.stage for gate in rebuild.bench_gates for b in gate.fallbacks}
    gate_slot = {gate.slot: gate.stage for gate in rebuild.bench_gates}
    gate_column = columns[list(gate_slot)]
    stage = [gate_of.get(j, gate_slot.get(j, policy.stage[j])) for j in range(n_slots)]
    expected = [
        slot.kind in ("job", "gate") or (slot.kind == "look" and policy.looks[j]) for j, slot in enumerate(slots)
    ]
    follow_slot = {slot.component: j for j, slot in enumerate(slots) if slot.kind == "follow_up"}
    follow_slots = [follow_slot[h] for h in range(len(rebuild.components))]
    lines = lay_out_lines(
        rebuild,
        policy,
        columns=columns,
        expected=expected,
        follow_slots=follow_slots,
        fallback_slots=fallback_slots,
    )

    def per_column(values: Iterable[int]) -> LongArray:
        row = np.full(n_columns + 2, -1, np.int64)
        row[slot_columns] = list(values)
        return row

    entries_of: list[list[int]] = [[] for _ in range(n_columns + 2)]
    entries = [(columns[j], entry.component) for j, slot in enumerate(slots) for entry in slot.exposes]
    for e, (column, _) in enumerate(entries):
        entries_of[column].append(e)
    own_work = [frozenset[int]() for _ in range(n_stages)]
    for j in np.flatnonzero(expected).tolist():
        own_work[stage[j]] |= openings[j]
    follow_opening = np.zeros((len(follow_slots), n_covers), bool)
    next_open = np.full((len(follow_slots), n_stages + 1), n_stages, np.intp)
    for h, j in enumerate(follow_slots):
        follow_opening[h, sorted(openings[j])] = True
        for s in reversed(range(n_stages)):
            next_open[h, s] = s if openings[j] <= own_work[s] else next_open[h, s + 1]
    means = np.zeros((n_columns + 2, 2))
    means[slot_columns] = [(slot.mean_minor, slot.mean_minutes) for slot in slots]
    follow_cost = means[columns[follow_slots], 0]
    np.add.at(follow_cost, lines.component[lines.component >= 0], lines.mean_minor[lines.component >= 0])
    np.add.at(means[:, 0], lines.column[lines.never], lines.mean_minor[lines.never])
    ahead_at_start = means[columns[np.flatnonzero(expected)]].sum(axis=0)
    ahead_at_start[0] += sum(group.mean_minor for group in lines.on_gate)
    targets = _cure_targets(rebuild, columns, gate_column, stage)
    return Layout(
        n_slots=n_slots,
        n_covers=n_covers,
        n_columns=n_columns,
        width=-(-(n_columns + 1 + n_covers) // 8) * 8,
        wait_column=n_columns,
        columns=columns,
        work_of=work_of,
        rows=lay_out_rows(
            rebuild,
            columns=columns,
            openings=openings,
            closings=closings,
            stage=stage,
            expected=expected,
            lines=lines,
        ),
        lines=lines,
        gate_column=gate_column,
        fallbacks=padded([[number_of[b] for b in gate.fallbacks] for gate in rebuild.bench_gates]),
        n_fallbacks=np.array([len(gate.fallbacks) for gate in rebuild.bench_gates], np.intp),
        fallback_column=columns[fallback_slots],
        fallback_gate=np.array([gate_of[j] for j in fallback_slots], np.intp),
        gate_of_column=per_column(gate_slot.get(j, -1) for j in range(n_slots)),
        fallback_of_column=per_column(number_of.get(j, -1) for j in range(n_slots)),
        rough_gate=per_column(slot.rough_gate for slot in slots),
        entries=padded(entries_of),
        entry_column=np.array([column for column, _ in entries], np.intp),
        entry_component=np.array([component for _, component in entries], np.intp),
        entries_for=padded(
            [[e for e, (_, component) in enumerate(entries) if component == h] for h in range(len(follow_slots))]
        ),
        follow_column=columns[follow_slots],
        follow_slot=np.array(follow_slots, np.intp),
        follow_from=np.array([policy.stage[j] for j in follow_slots], np.intp),
        follow_needed_by=np.array([slots[j].needed_by for j in follow_slots], np.intp),
        follow_opening=follow_opening,
        next_open=next_open,
        follow_cost=follow_cost.astype(np.int64),
        cure_days=np.maximum(per_column(slot.cure_days for slot in slots), 0),
        cure_start=np.cumsum([0, *map(len, targets)]),
        cure_target=np.array([t for row in targets for t in row], np.intp),
        is_follow_up=per_column(slot.kind == "follow_up" for slot in slots) == 1,
        outside=padded([sorted(set(slots[w].outside)) if w < n_slots else [] for w in work_of.tolist()]),
        helper=columns[[w for w, wanted in enumerate(_wants_helper(rebuild)) if wanted]],
        part_of=tuple(
            (int(columns[j]), int(columns[slot.part_of])) for j, slot in enumerate(slots) if slot.part_of >= 0
        ),
        means=means,
        ahead_at_start=ahead_at_start,
    )


def _wants_helper(rebuild: Rebuild) -> list[bool]:
    """[J + 2 C] by piece of work."""
    if rebuild.helper_day is None:
        return []
    covers = [cover.helper for cover in rebuild.covers]
    return [*(slot.helper for slot in rebuild.slots), *covers, *covers]


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
