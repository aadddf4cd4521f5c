"""The row of counts that is the state of a future, and what is added to it; how to read it: `futures.layout`."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from wreckwright.futures.layout_lines import Index, Lines
from wreckwright.futures.rebuild import Rebuild

Counts = npt.NDArray[Any]
"""16-bit whole numbers, or 32-bit ones where 16 might not do."""


@dataclass(frozen=True, kw_only=True)
class Rows:
    """J slots, C covers, N = J + 2 C columns, W >= N + 1 + C, S stages."""

    done_weight: int
    cover_weight: int
    at_start: Counts
    """[W] row at the start: stage 0 active, the lines ordered at the start ordered."""
    effect: Counts
    """[N + 2, W] what is added when a column's work ends; nothing in the last two."""
    activate: Counts
    """[J, W] what is added when a slot becomes active."""
    next_stage: Counts
    """[S, W] what is added on passing each gate (last: nothing), its orders included."""
    early: Counts
    """[S, W] the part of `next_stage` that belongs to slots which may begin when the gate has failed at first."""


def lay_out_rows(
    rebuild: Rebuild,
    *,
    columns: Index,
    openings: Sequence[frozenset[int]],
    closings: Sequence[frozenset[int]],
    stage: Sequence[int],
    expected: Sequence[bool],
    lines: Lines,
) -> Rows:
    """`columns` of slots, covers off, covers on; `openings` and `stage` by slot; `closings` by stage."""
    slots, covers = rebuild.slots, rebuild.covers
    n_slots, n_covers, n_stages, n_columns = len(slots), len(covers), rebuild.n_stages, len(columns)
    width = -(-(n_columns + 1 + n_covers) // 8) * 8
    off_column, on_column = columns[n_slots : n_slots + n_covers], columns[n_slots + n_covers :]
    gate_column = columns[[gate.slot for gate in rebuild.bench_gates]]
    beneath: list[list[int]] = [[] for _ in covers]
    for x, cover in enumerate(covers):
        for u in set(cover.under):
            beneath[u].append(x)
    # Powers of two above everything that is counted below them.
    cover_weight = 1 << (n_slots + 1).bit_length()
    done_weight = 1 << (n_slots + n_covers + len(rebuild.lines) + 2).bit_length()
    most_held = 2 + max((max(len(set(c.under)), len(b)) for c, b in zip(covers, beneath, strict=True)), default=0)
    # On passing a gate a row holds the sum of two states for a moment; 4 leaves room for that.
    largest = 4 * max(done_weight, cover_weight * most_held)
    dtype = np.int16 if largest < 2**15 else np.int32

    activate = np.zeros((n_slots, width), np.int32)
    for j, slot in enumerate(slots):
        activate[j, columns[j]] = -1
        for x in openings[j]:
            activate[j, off_column[x]] = -1
            activate[j, on_column[x]] = 1
        if slot.kind == "follow_up":
            # It becomes active in the stage it is assigned to and holds up that gate; those before have been passed.
            activate[j, gate_column] += 1
        elif slot.kind != "gate":
            activate[j, gate_column[stage[j] :]] += 1
    for j, slot in enumerate(slots):
        for i in set(slot.after):
            activate[i, columns[j]] += 1

    effect = np.zeros((n_columns + 2, width), np.int32)
    effect[columns[:n_slots]] = -activate
    effect[columns[:n_slots], columns[:n_slots]] = done_weight
    for x in range(n_covers):
        off = effect[off_column[x]]
        off[n_columns + 1 + x] = 1
        off[off_column[x]] += cover_weight
        off[on_column[x]] -= cover_weight
        for y in beneath[x]:
            off[off_column[y]] -= cover_weight
        for u in set(covers[x].under):
            off[on_column[u]] += cover_weight
        for j, slot in enumerate(slots):
            off[columns[j]] -= x in slot.covers
        for gate, must_be_on in zip(rebuild.bench_gates, closings, strict=True):
            off[columns[gate.slot]] += x in must_be_on
        effect[on_column[x]] = -off

    at_start = np.zeros(width, np.int32)
    for j, slot in enumerate(slots):
        at_start[columns[j]] = 1 + len(set(slot.covers))
    waiting = ~lines.never | lines.essential
    waiting[lines.at_once.lines] = False
    np.add.at(at_start, lines.column[waiting], 1)
    for x, cover in enumerate(covers):
        at_start[off_column[x]] = 1 + cover_weight * len(set(cover.under))
        at_start[on_column[x]] = cover_weight * (1 + (x not in closings[0]))
    for x, cover in enumerate(covers):
        if cover.off_at_start:
            at_start += effect[off_column[x]]
    next_stage, early = np.zeros((2, n_stages, width), np.int32)
    for j in range(n_slots):
        if expected[j] and stage[j] == 0:
            at_start += activate[j]
    for k in range(n_stages - 1):
        np.subtract.at(next_stage[k], lines.column[lines.on_gate[k].lines], 1)
        for x in range(n_covers):
            next_stage[k, on_column[x]] += cover_weight * (int(x in closings[k]) - int(x in closings[k + 1]))
        for j in range(n_slots):
            if expected[j] and stage[j] == k + 1:
                next_stage[k] += activate[j]
                if slots[j].kind != "gate" and openings[j].isdisjoint(closings[k]):
                    early[k] += activate[j]
    return Rows(
        done_weight=done_weight,
        cover_weight=cover_weight,
        at_start=at_start.astype(dtype),
        effect=effect.astype(dtype),
        activate=activate.astype(dtype),
        next_stage=next_stage.astype(dtype),
        early=early.astype(dtype),
    )
