"""Machines small enough to be worked out by hand, and trees over all their worlds, for the toy tests.

The futures given to the simulator are exactly the leaves of the tree, each once; the weight of a leaf is the product
of the whole-number odds along its branch. So nothing is drawn, and weighted sums must agree to the last minor unit.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from fractions import Fraction
from itertools import product
from typing import Any

import numpy as np
import pytest

from tests.futures.twin import twin_simulate
from wreckwright.futures.policy import Policy
from wreckwright.futures.rebuild import BenchGate, Played, Rebuild, Slot, Worlds
from wreckwright.futures.simulate import simulate

Simulate = Callable[[Rebuild, Worlds, Policy], Played]
Leaf = tuple[str, ...]

NOW, ON_DISCOVERY = -1, -3

ENDING = ("status", "clock", "day", "out_minor", "resale_minor")

on_both = pytest.mark.parametrize("play", [simulate, twin_simulate], ids=["lock-step", "twin"])
"""Every toy is played by the lock-step simulator and by its twin."""


def tree(*branchings: Mapping[str, int]) -> dict[Leaf, int]:
    """Leaves with their weights; each branching gives the odds of its branches."""
    leaves = {}
    for branches in product(*(branching.items() for branching in branchings)):
        weight = 1
        for _, odds in branches:
            weight *= odds
        leaves[tuple(name for name, _ in branches)] = weight
    return leaves


def mean(leaves: Mapping[Leaf, int], values: np.ndarray) -> Fraction:
    total = sum(weight * int(value) for weight, value in zip(leaves.values(), values, strict=True))
    return Fraction(total, sum(leaves.values()))


def evenings(days: int, minutes: int) -> np.ndarray:
    return np.arange(days + 1, dtype=np.int64) * minutes


def rebuild_of(slots: Sequence[Slot], gates: Sequence[BenchGate], **more: Any) -> Rebuild:
    usual: dict[str, Any] = {
        "covers": (),
        "outside_gates": (),
        "lines": (),
        "components": (),
        "big_find_minor": 10**9,
        "as_it_stands_minor": (0,) * (len(gates) + 1),
        "part_out_minor": 0,
    }
    return Rebuild(slots=tuple(slots), bench_gates=tuple(gates), **(usual | more))


def policy_of(rebuild: Rebuild, **more: Any) -> Policy:
    """First source, everything ordered now, no plan B; rank by number: slots, then covers off, then covers on."""
    n = len(rebuild.lines)
    usual: dict[str, Any] = {
        "line_source": (0,) * n,
        "line_trigger": (NOW,) * n,
        "plan_b_source": (-1,) * n,
        "plan_b_after_days": (-1,) * n,
        "stage": tuple(slot.stage for slot in rebuild.slots),
        "rank": tuple(range(len(rebuild.slots) + 2 * len(rebuild.covers))),
        "looks": (True,) * len(rebuild.slots),
    }
    return Policy(**(usual | more))


def worlds_of(rebuild: Rebuild, leaves: Mapping[Leaf, int], minutes: Sequence[int], **more: Any) -> Worlds:
    """One future a leaf. `more` gives arrays of one row (the same in every leaf) or a function from leaf to row."""
    n, n_slots, n_lines = len(leaves), len(rebuild.slots), len(rebuild.lines)
    n_sources = max((len(line.sources) for line in rebuild.lines), default=0)
    n_fallbacks = sum(slot.kind == "fallback" for slot in rebuild.slots)
    n_outside = len(rebuild.outside_gates)
    n_ways = max((gate.n_fallbacks for gate in rebuild.outside_gates), default=0)
    shape_and_type: dict[str, tuple[tuple[int, ...], Any]] = {
        "minutes": ((n_slots + 2 * len(rebuild.covers),), np.int32),
        "attendance_permille": ((), np.int32),
        "cries": ((sum(len(slot.exposes) for slot in rebuild.slots),), np.bool_),
        "foretells": ((n_slots,), np.bool_),
        "gate_ok": ((rebuild.n_stages,), np.bool_),
        "fallback_ok": ((n_fallbacks,), np.bool_),
        "fallback_days": ((n_fallbacks,), np.int32),
        "fallback_minor": ((n_fallbacks,), np.int64),
        "outside_days": ((n_outside,), np.int32),
        "outside_ok": ((n_outside,), np.bool_),
        "outside_fallback_ok": ((n_outside, n_ways), np.bool_),
        "outside_fallback_days": ((n_outside, n_ways), np.int32),
        "outside_fallback_minor": ((n_outside, n_ways), np.int64),
        "lead_days": ((n_lines, n_sources), np.int32),
        "wrong": ((n_lines, n_sources), np.bool_),
        "second_lead_days": ((n_lines, n_sources), np.int32),
        "wrong_minor": ((n_lines, n_sources), np.int64),
        "price_minor": ((n_lines, n_sources), np.int64),
        "slot_minor": ((n_slots,), np.int64),
    }
    given = {"minutes": minutes, "attendance_permille": 1000, "gate_ok": [True] * rebuild.n_stages} | more
    arrays = {}
    for name, (shape, kind) in shape_and_type.items():
        array = np.zeros((n, *shape), dtype=kind)
        if name in given:
            row = given[name]
            for f, leaf in enumerate(leaves):
                array[f] = row(leaf) if callable(row) else row
        arrays[name] = array
    return Worlds(**arrays)


def rows(played: Played, leaves: Mapping[Leaf, int], *names: str) -> dict[Leaf, tuple[int, ...]]:
    return {leaf: tuple(int(getattr(played, name)[f]) for name in names) for f, leaf in enumerate(leaves)}
