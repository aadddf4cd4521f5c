"""Which hidden faults come to light in each scenario, and what shows them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wreckwright.futures.policy import Policy
from wreckwright.futures.rebuild import BoolArray, Rebuild, Worlds


@dataclass(frozen=True, kw_only=True)
class Finds:
    """F futures, H hidden components, E entries of all slots in their order."""

    known: BoolArray
    """[F, H] it comes to light at some time, if the future goes on to its end."""
    says: BoolArray
    """[F, E] the entry says so, by a slot that is worked on in that future."""
    entries_of: tuple[tuple[int, ...], ...]
    """By slot: its entries."""


def finds(rebuild: Rebuild, worlds: Worlds, policy: Policy, undone: BoolArray) -> Finds:
    """`undone` [F, J]: left undone, so that nothing is seen on the way.

    A follow-up shows things only where it is called itself; a way round is taken to show nothing.
    """
    n, entries_of, first = worlds.n, [], 0
    for slot in rebuild.slots:
        entries_of.append(tuple(range(first, first + len(slot.exposes))))
        first += len(slot.exposes)
    says = worlds.cries.copy()
    for j, slot in enumerate(rebuild.slots):
        if slot.kind == "fallback" or (slot.kind == "look" and not policy.looks[j]):
            says[:, entries_of[j]] = False
        else:
            says[:, entries_of[j]] &= ~undone[:, j, None]
    known = np.zeros((n, len(rebuild.components)), bool)
    moved = True
    while moved:
        before = int(known.sum())
        for j, slot in enumerate(rebuild.slots):
            called = known[:, slot.component] if slot.kind == "follow_up" else True
            for e, entry in zip(entries_of[j], slot.exposes, strict=True):
                known[:, entry.component] |= says[:, e] & called
        moved = int(known.sum()) > before
    return Finds(known=known, says=says, entries_of=tuple(entries_of))
