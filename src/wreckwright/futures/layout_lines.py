"""Part lines of a rebuild under a policy, as tables: when each is ordered, and for what."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from wreckwright.futures.policy import NEVER, NOW, ON_DISCOVERY, Policy
from wreckwright.futures.rebuild import BoolArray, LongArray, Rebuild

Index = npt.NDArray[np.intp]
Floats = npt.NDArray[np.float64]


def padded(rows: Sequence[Sequence[int]]) -> Index:
    """Rows of different length side by side, -1 behind the last of each.

    >>> padded([[3, 4], []]).tolist()
    [[3, 4], [-1, -1]]
    """
    table = np.full((len(rows), max(map(len, rows), default=0)), -1, np.intp)
    for i, row in enumerate(rows):
        table[i, : len(row)] = row
    return table


@dataclass(frozen=True, kw_only=True)
class LineGroup:
    """Lines that are ordered at the same moment, m of them for p slots."""

    lines: Index
    """[m] in order of index."""
    columns: Index
    """[p] columns of their slots, each once."""
    place: Index
    """[m] where in `columns` the line's slot stands."""
    mean_minor: float
    """Expected price of those for slots that are known work from the start."""
    uncertain: Index
    """The others."""


@dataclass(frozen=True, kw_only=True)
class SlotLines:
    """Lines of some slots, one row per slot, in the order in which the slot names them, -1 behind the last."""

    on_discovery: Index
    others: Index
    """May have been ordered before the slot was called or begun."""
    on_gate: Index
    """Those of `others` that are ordered on a bench gate."""


@dataclass(frozen=True, kw_only=True)
class Lines:
    """L lines."""

    column: Index
    """[L] column of the line's slot."""
    essential: BoolArray
    """[L]"""
    certain: BoolArray
    """[L] its slot is known work from the start."""
    wanted: BoolArray
    """[L] essential, and the project cannot do without its slot, as is known from the start."""
    component: Index
    """[L] component whose follow-up the line is for, else -1."""
    fallback: Index
    """[L] number of the fallback the line is for, else -1."""
    sunk_minor: LongArray
    resale_permille: LongArray
    """[L] of the source it is first ordered from."""
    mean_minor: Floats
    """[L] of the chosen source; whole numbers."""
    at_once: LineGroup
    """Lines ordered at the start."""
    on_gate: tuple[LineGroup, ...]
    """By bench gate."""
    on_outside: tuple[tuple[int, int], ...]
    """(line, outside gate)."""
    never: BoolArray
    """[L] is not ordered at all."""
    of_follow_up: SlotLines
    """By component."""
    of_fallback: SlotLines


def lay_out_lines(
    rebuild: Rebuild,
    policy: Policy,
    *,
    columns: Index,
    expected: Sequence[bool],
    follow_slots: Sequence[int],
    fallback_slots: Sequence[int],
) -> Lines:
    """`columns` by slot, `expected` slots are known work from the start."""
    slots, lines, n_stages = rebuild.slots, rebuild.lines, rebuild.n_stages
    # Lines of a look that is not used are not ordered, those already ordered whatever the policy says.
    triggers = [
        NOW if line.already_ordered else trigger if policy.looks[line.slot] else NEVER
        for line, trigger in zip(lines, policy.line_trigger, strict=True)
    ]
    chosen = [line.sources[s] for line, s in zip(lines, policy.line_source, strict=True)]
    column = columns[[line.slot for line in lines]]
    mean_minor = np.array([source.mean_minor for source in chosen], np.float64)
    essential = np.array([slots[line.slot].essential for line in lines], bool)
    certain = np.array([expected[line.slot] for line in lines], bool)
    fallback_of = {j: b for b, j in enumerate(fallback_slots)}

    def group(trigger: int) -> LineGroup:
        index = np.array([i for i, t in enumerate(triggers) if t == trigger], np.intp)
        own_columns, place = np.unique(column[index], return_inverse=True)
        return LineGroup(
            lines=index,
            columns=own_columns,
            place=place.reshape(-1),
            mean_minor=float(mean_minor[index[certain[index]]].sum()),
            uncertain=index[~certain[index]],
        )

    def of_slots(chosen_slots: Sequence[int]) -> SlotLines:
        named = [list(dict.fromkeys(slots[j].lines)) for j in chosen_slots]
        return SlotLines(
            on_discovery=padded([[i for i in row if triggers[i] == ON_DISCOVERY] for row in named]),
            others=padded([[i for i in row if triggers[i] != ON_DISCOVERY] for row in named]),
            on_gate=padded([[i for i in row if 0 <= triggers[i] < n_stages] for row in named]),
        )

    return Lines(
        column=column,
        essential=essential,
        certain=certain,
        wanted=essential & certain,
        component=np.array([slots[line.slot].component for line in lines], np.intp),
        fallback=np.array([fallback_of.get(line.slot, -1) for line in lines], np.intp),
        sunk_minor=np.array([line.sunk_minor for line in lines], np.int64),
        resale_permille=np.array([source.resale_permille for source in chosen], np.int64),
        mean_minor=mean_minor,
        at_once=group(NOW),
        on_gate=tuple(group(k) for k in range(n_stages)),
        on_outside=tuple((i, t - n_stages) for i, t in enumerate(triggers) if t >= n_stages),
        never=np.array([t == NEVER for t in triggers], bool),
        of_follow_up=of_slots(follow_slots),
        of_fallback=of_slots(fallback_slots),
    )
