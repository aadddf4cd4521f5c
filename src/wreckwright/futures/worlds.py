"""Checks of a `Worlds` against its `Rebuild`, and the one world in which nothing goes wrong."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields

import numpy as np

from wreckwright.futures.rebuild import Rebuild, Worlds
from wreckwright.futures.rebuild_check import LARGEST_MINOR, LONGEST_DAYS

LONGEST_SLOT_MINUTES = 10**7
"""Of any single slot in any future."""


def shapes(rebuild: Rebuild, *, n: int, n_sources: int, n_ways: int) -> dict[str, tuple[int, ...]]:
    """Shape of every array of a `Worlds` of `n` futures, padded to `n_sources` a line and `n_ways` an outside gate.

    >>> import numpy as np
    >>> from wreckwright.futures.rebuild import BenchGate, Slot
    >>> rebuild = Rebuild(slots=(Slot(name="road test", kind="gate"),), covers=(),
    ...     bench_gates=(BenchGate(name="road test", stage=0, slot=0),), outside_gates=(), lines=(), components=(),
    ...     cumulative_minutes=np.array([0, 60]), big_find_minor=0, as_it_stands_minor=(0, 0), part_out_minor=0)
    >>> shapes(rebuild, n=10, n_sources=1, n_ways=0)["price_minor"]
    (10, 0, 1)
    """
    n_slots, n_outside = len(rebuild.slots), len(rebuild.outside_gates)
    n_fallbacks = sum(slot.kind == "fallback" for slot in rebuild.slots)
    per_source = (n, len(rebuild.lines), n_sources)
    return {
        "minutes": (n, n_slots + 2 * len(rebuild.covers)),
        "attendance_permille": (n,),
        "cries": (n, sum(len(slot.exposes) for slot in rebuild.slots)),
        "foretells": (n, n_slots),
        "gate_ok": (n, rebuild.n_stages),
        "fallback_ok": (n, n_fallbacks),
        "fallback_days": (n, n_fallbacks),
        "fallback_minor": (n, n_fallbacks),
        "outside_days": (n, n_outside),
        "outside_ok": (n, n_outside),
        "outside_fallback_ok": (n, n_outside, n_ways),
        "outside_fallback_days": (n, n_outside, n_ways),
        "outside_fallback_minor": (n, n_outside, n_ways),
        "lead_days": per_source,
        "wrong": per_source,
        "second_lead_days": per_source,
        "wrong_minor": per_source,
        "price_minor": per_source,
        "slot_minor": (n, n_slots),
    }


_TRUTHS = ("cries", "foretells", "gate_ok", "fallback_ok", "outside_ok", "outside_fallback_ok", "wrong")
_RANGES = {
    "minutes": (0, LONGEST_SLOT_MINUTES),
    "attendance_permille": (1, 1000),
    "fallback_days": (0, LONGEST_DAYS),
    "outside_days": (-1, LONGEST_DAYS),
    "outside_fallback_days": (0, LONGEST_DAYS),
    "lead_days": (-1, LONGEST_DAYS),
    "second_lead_days": (-1, LONGEST_DAYS),
    "fallback_minor": (0, LARGEST_MINOR),
    "outside_fallback_minor": (0, LARGEST_MINOR),
    "wrong_minor": (0, LARGEST_MINOR),
    "price_minor": (0, LARGEST_MINOR),
    "slot_minor": (0, LARGEST_MINOR),
}


def check_worlds(rebuild: Rebuild, worlds: Worlds) -> list[str]:
    """Reasons why these futures do not fit `rebuild` (which has passed `check_rebuild`); empty when they do.

    >>> import numpy as np
    >>> from dataclasses import replace
    >>> from wreckwright.futures.rebuild import BenchGate, Slot
    >>> rebuild = Rebuild(slots=(Slot(name="road test", kind="gate", mean_minutes=30),), covers=(),
    ...     bench_gates=(BenchGate(name="road test", stage=0, slot=0),), outside_gates=(), lines=(), components=(),
    ...     cumulative_minutes=np.array([0, 60]), big_find_minor=0, as_it_stands_minor=(0, 0), part_out_minor=0)
    >>> worlds = calm_worlds(rebuild, 2)
    >>> check_worlds(rebuild, worlds)
    []
    >>> check_worlds(rebuild, replace(worlds, attendance_permille=np.array([600, 0])))
    ['attendance_permille is 0 in future 1; allowed: 1 to 1000; draw it again within these limits']
    """
    wrong = list(_wrong_shapes(rebuild, worlds))
    return wrong or list(_wrong_values(worlds))


def _wrong_shapes(rebuild: Rebuild, worlds: Worlds) -> Iterator[str]:
    n_sources = worlds.lead_days.shape[2] if worlds.lead_days.ndim == 3 else 0
    n_ways = worlds.outside_fallback_ok.shape[2] if worlds.outside_fallback_ok.ndim == 3 else 0
    most_sources = max((len(line.sources) for line in rebuild.lines), default=0)
    most_ways = max((gate.n_fallbacks for gate in rebuild.outside_gates), default=0)
    if worlds.minutes.ndim != 2:
        yield f"minutes has {worlds.minutes.ndim} dimensions; allowed: 2, futures by slots; reshape it"
        return
    expected = shapes(rebuild, n=worlds.n, n_sources=max(n_sources, most_sources), n_ways=max(n_ways, most_ways))
    for entry in fields(worlds):
        array = getattr(worlds, entry.name)
        if array.shape != expected[entry.name]:
            yield (
                f"{entry.name} has shape {array.shape}; allowed: {expected[entry.name]}; "
                "draw the futures again for this rebuild"
            )
        kinds, meaning = ("b", "true or false") if entry.name in _TRUTHS else ("iu", "whole numbers")
        if array.dtype.kind not in kinds:
            yield f"{entry.name} has the type {array.dtype}; allowed: {meaning}; convert it"


def _wrong_values(worlds: Worlds) -> Iterator[str]:
    for name, (low, high) in _RANGES.items():
        array = getattr(worlds, name)
        if array.size and (array.min() < low or array.max() > high):
            first = np.unravel_index(int(np.argmax((array < low) | (array > high))), array.shape)
            place = f" at {', '.join(map(str, first[1:]))}" if len(first) > 1 else ""
            yield (
                f"{name} is {array[first]} in future {first[0]}{place}; allowed: {low} to {high}; "
                "draw it again within these limits"
            )


def calm_worlds(rebuild: Rebuild, n: int) -> Worlds:
    """`n` equal futures in which all goes as expected: every slot takes and costs its mean, every planned minute is
    worked, parts are there at once at their mean price, every question is answered with yes on day 0, nothing hidden is
    bad.

    Slots take their `mean_minutes` (covers none). To look at one thing going wrong, replace one array.

    >>> import numpy as np
    >>> from wreckwright.futures.rebuild import BenchGate, Slot
    >>> calm_worlds(Rebuild(slots=(Slot(name="road test", kind="gate", mean_minutes=30),), covers=(),
    ...     bench_gates=(BenchGate(name="road test", stage=0, slot=0),), outside_gates=(), lines=(), components=(),
    ...     cumulative_minutes=np.array([0, 60]), big_find_minor=0, as_it_stands_minor=(0, 0), part_out_minor=0),
    ...     2).minutes
    array([[30],
           [30]], dtype=int32)
    """
    n_sources = max((len(line.sources) for line in rebuild.lines), default=0)
    n_ways = max((gate.n_fallbacks for gate in rebuild.outside_gates), default=0)
    shape = shapes(rebuild, n=n, n_sources=n_sources, n_ways=n_ways)

    def same(name: str, value: int) -> np.ndarray[tuple[int, ...], np.dtype[np.int32]]:
        return np.full(shape[name], value, np.int32)

    def truth(name: str, value: bool) -> np.ndarray[tuple[int, ...], np.dtype[np.bool_]]:
        return np.full(shape[name], value, np.bool_)

    def money(name: str) -> np.ndarray[tuple[int, ...], np.dtype[np.int64]]:
        return np.zeros(shape[name], np.int64)

    minutes = same("minutes", 0)
    minutes[:, : len(rebuild.slots)] = [slot.mean_minutes for slot in rebuild.slots]
    slot_minor, price_minor = money("slot_minor"), money("price_minor")
    slot_minor[:] = [slot.mean_minor for slot in rebuild.slots]
    for index, line in enumerate(rebuild.lines):
        price_minor[:, index, : len(line.sources)] = [source.mean_minor for source in line.sources]
    return Worlds(
        minutes=minutes,
        attendance_permille=same("attendance_permille", 1000),
        cries=truth("cries", False),
        foretells=truth("foretells", False),
        gate_ok=truth("gate_ok", True),
        fallback_ok=truth("fallback_ok", True),
        fallback_days=same("fallback_days", 0),
        fallback_minor=money("fallback_minor"),
        outside_days=same("outside_days", 0),
        outside_ok=truth("outside_ok", True),
        outside_fallback_ok=truth("outside_fallback_ok", True),
        outside_fallback_days=same("outside_fallback_days", 0),
        outside_fallback_minor=money("outside_fallback_minor"),
        lead_days=same("lead_days", 0),
        wrong=truth("wrong", False),
        second_lead_days=same("second_lead_days", 0),
        wrong_minor=money("wrong_minor"),
        price_minor=price_minor,
        slot_minor=slot_minor,
    )
