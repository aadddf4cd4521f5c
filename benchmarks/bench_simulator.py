"""How long the lock-step simulator takes, and how long the plain twin takes for the same futures.

    PYTHONPATH=src python benchmarks/bench_simulator.py [--seeds 3] [--repeats 5] [--bad-share 0.15]

The machine is invented: 150 jobs and looks, 25 covers, 4 gates with two ways round each, 60 part lines, 30 hidden
things with a follow-up each, cures, held orders, plans B. Prints wall times (median and least), the load of the
computer, and what happened in the futures, so that nobody measures an easy case by accident. `--bad-share` is the
chance that a hidden thing is bad: finds are what costs most. The time of a plain loop is printed too: on shared
computers it shows how fast this one is at the moment.

Measured in turns with the plain machine, so that the ratio does not depend on the moment: the same with the trail
written down; with one slot in twelve and one cover in eight for two and help on every day (what asking costs) or on
one day in seven (what waiting for it costs); and what the end waits for, read from the trail.
"""

from __future__ import annotations

import argparse
import os
import statistics
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from tests.futures.twin import twin_simulate
from wreckwright.futures.binding import binding_shares
from wreckwright.futures.policy import NOW, ON_DISCOVERY, Policy
from wreckwright.futures.rebuild import (
    BenchGate,
    CoverNode,
    Exposes,
    Line,
    OutsideGate,
    Played,
    Rebuild,
    Slot,
    Source,
    Worlds,
)
from wreckwright.futures.simulate import simulate
from wreckwright.futures.worlds import calm_worlds, shapes

JOBS, LOOKS, COVERS, GATES, LINES, FOLLOW_UPS = 130, 20, 25, 4, 60, 30


def machine(seed: int, *, days: int = 1200) -> tuple[Rebuild, Policy]:
    """A big rebuild with everything in it that costs time."""
    rng = np.random.default_rng([seed, 0])
    covers = tuple(
        CoverNode(
            name=f"cover {x}",
            under=tuple(sorted({int(u) for u in rng.integers(0, x, rng.integers(0, 3))})) if x else (),
        )
        for x in range(COVERS)
    )
    n_work = JOBS + LOOKS
    stage = np.sort(rng.integers(0, GATES, n_work)).tolist()
    line_of_slot: dict[int, list[int]] = {}
    for line in range(LINES):
        line_of_slot.setdefault(int(rng.integers(0, n_work)) if line < 40 else n_work + line - 40, []).append(line)
    slots: list[Slot] = []
    for j in range(n_work):
        before = [i for i in range(max(0, j - 12), j) if rng.random() < 0.15]
        look = j % 8 == 3
        slots.append(
            Slot(
                name=f"work {j}",
                kind="look" if look else "job",
                stage=stage[j],
                needed_by=stage[j],
                after=tuple(before),
                covers=tuple(sorted({int(x) for x in rng.integers(0, COVERS, rng.integers(0, 3))})),
                lines=tuple(line_of_slot.get(j, ())),
                exposes=tuple(
                    Exposes(component=int(h))
                    for h in sorted(set(rng.integers(0, FOLLOW_UPS, rng.integers(0, 3)).tolist()))
                ),
                rough_gate=int(rng.integers(stage[j], GATES)) if look and j % 3 == 0 else -1,
                outside=(0,) if j % 70 == 69 else (),
                cure_days=int(rng.integers(1, 4)) if rng.random() < 0.12 else 0,
                essential=rng.random() < 0.8,
                mean_minutes=60,
                mean_minor=500,
            )
        )
    for h in range(FOLLOW_UPS):
        slots.append(
            Slot(
                name=f"put right {h}",
                kind="follow_up",
                stage=int(rng.integers(0, GATES)),
                needed_by=GATES - 1,
                covers=tuple(sorted({int(x) for x in rng.integers(0, COVERS, 1)})),
                lines=tuple(line_of_slot.get(n_work + h, ())),
                component=h,
                mean_minutes=90,
                mean_minor=1000,
            )
        )
    gates = []
    for k in range(GATES):
        first = len(slots)
        slots.append(
            Slot(
                name=f"test {k}",
                kind="gate",
                stage=k,
                needed_by=k,
                exposes=tuple(Exposes(component=int(h)) for h in sorted(set(rng.integers(0, FOLLOW_UPS, 3).tolist()))),
                mean_minutes=30,
            )
        )
        slots += [Slot(name=f"way {k}{i}", kind="fallback", stage=k, needed_by=k, mean_minutes=120) for i in range(2)]
        covers_on = tuple(sorted({int(x) for x in rng.integers(0, COVERS, 2)}))
        gates.append(
            BenchGate(name=f"gate {k}", stage=k, slot=first, covers_on=covers_on, fallbacks=(first + 1, first + 2))
        )
    shop = [
        tuple(Source(name=f"shop {s}", cancel_days=60, refund_permille=900, mean_minor=8000) for s in range(3))
        for _ in range(LINES)
    ]
    slot_of_line = {line: j for j, lines in line_of_slot.items() for line in lines}
    rebuild = Rebuild(
        slots=tuple(slots),
        covers=covers,
        bench_gates=tuple(gates),
        outside_gates=(OutsideGate(name="papers", n_fallbacks=1),),
        lines=tuple(Line(name=f"line {n}", slot=slot_of_line[n], sources=shop[n]) for n in range(LINES)),
        components=tuple(f"component {h}" for h in range(FOLLOW_UPS)),
        cumulative_minutes=np.cumsum([0, *([90, 90, 0, 120, 0, 240, 0] * (days // 7))]),
        big_find_minor=9000,
        as_it_stands_minor=(0,) * (GATES + 1),
        part_out_minor=0,
    )
    trigger = []
    for n in range(LINES):
        slot = slots[slot_of_line[n]]
        held = slot.kind != "follow_up" and slot.stage > 0 and rng.random() < 0.5
        trigger.append(ON_DISCOVERY if slot.kind == "follow_up" else slot.stage - 1 if held else NOW)
    # Roughly as a plan ranks: looks, ways round, work by stage, tests; a cover comes off late and goes on last.
    kind_first = {"look": 0, "fallback": 1, "job": 2, "follow_up": 2, "gate": 5}
    key = [(kind_first[slot.kind], slot.stage, float(rng.random())) for slot in slots]
    key += [(3, 0, float(rng.random())) for _ in covers] + [(4, 0, float(rng.random())) for _ in covers]
    rank = [0] * len(key)
    for place, i in enumerate(sorted(range(len(key)), key=key.__getitem__)):
        rank[i] = place
    policy = Policy(
        line_source=tuple(rng.integers(0, 3, LINES).tolist()),
        line_trigger=tuple(trigger),
        plan_b_source=tuple(int(b) if rng.random() < 0.4 else -1 for b in rng.integers(0, 3, LINES)),
        plan_b_after_days=(40,) * LINES,
        stage=tuple(slot.stage for slot in slots),
        rank=tuple(rank),
        looks=(True,) * len(slots),
    )
    return rebuild, policy


def draw(rebuild: Rebuild, seed: int, n: int, *, bad_share: float = 0.15) -> Worlds:
    rng = np.random.default_rng([seed, 1])
    shape = shapes(rebuild, n=n, n_sources=3, n_ways=1)
    calm = calm_worlds(rebuild, n)
    bad = rng.random((n, FOLLOW_UPS)) < bad_share
    looked_at = [entry.component for slot in rebuild.slots for entry in slot.exposes]
    spread = rng.lognormal(0.0, 0.5, shape["minutes"])
    minutes = np.where(calm.minutes > 0, calm.minutes, 8) * spread
    lead = rng.lognormal(np.log(14.0), 0.9, shape["lead_days"]).astype(np.int32)
    return Worlds(
        minutes=minutes.astype(np.int32),
        attendance_permille=rng.integers(400, 900, n).astype(np.int32),
        cries=(bad[:, looked_at] & (rng.random(shape["cries"]) < 0.8)) | (rng.random(shape["cries"]) < 0.01),
        foretells=rng.random(shape["foretells"]) < 0.5,
        gate_ok=rng.random(shape["gate_ok"]) < 0.8,
        fallback_ok=rng.random(shape["fallback_ok"]) < 0.85,
        fallback_days=rng.integers(0, 20, shape["fallback_days"]).astype(np.int32),
        fallback_minor=rng.integers(0, 9000, shape["fallback_minor"]),
        outside_days=rng.integers(0, 90, shape["outside_days"]).astype(np.int32),
        outside_ok=rng.random(shape["outside_ok"]) < 0.9,
        outside_fallback_ok=rng.random(shape["outside_fallback_ok"]) < 0.9,
        outside_fallback_days=rng.integers(0, 60, shape["outside_fallback_days"]).astype(np.int32),
        outside_fallback_minor=rng.integers(0, 9000, shape["outside_fallback_minor"]),
        lead_days=np.where(rng.random(lead.shape) < 0.003, -1, lead).astype(np.int32),
        wrong=rng.random(lead.shape) < 0.05,
        second_lead_days=np.maximum(lead // 2, 1).astype(np.int32),
        wrong_minor=rng.integers(0, 900, lead.shape),
        price_minor=rng.integers(500, 20000, lead.shape),
        slot_minor=rng.integers(0, 900, shape["slot_minor"]),
    )


def for_two(rebuild: Rebuild, seed: int, *, days_of_week: Sequence[int]) -> Rebuild:
    """The same with work for two, and somebody helps on these days of each week (0 to 6; minutes on 0, 1, 3 and 5)."""
    rng = np.random.default_rng([seed, 2])
    return replace(
        rebuild,
        slots=tuple(replace(slot, helper=bool(rng.random() < 1 / 12)) for slot in rebuild.slots),
        covers=tuple(replace(cover, helper=bool(rng.random() < 1 / 8)) for cover in rebuild.covers),
        helper_day=np.isin(np.arange(len(rebuild.cumulative_minutes) - 1) % 7, list(days_of_week)),
    )


def timed(rebuild: Rebuild, worlds: Worlds, policy: Policy, repeats: int) -> tuple[Played, list[float]]:
    walls = []
    for _ in range(repeats):
        before = time.perf_counter()
        played = simulate(rebuild, worlds, policy)
        walls.append(time.perf_counter() - before)
    return played, walls


def compared(rebuild: Rebuild, worlds: Worlds, policy: Policy, seed: int, repeats: int) -> str:
    """Medians of what is asked besides, as shares of the plain machine's, each measured in turns with it."""
    played = simulate(rebuild, worlds, policy, ends=True)
    often, seldom = (for_two(rebuild, seed, days_of_week=days) for days in (range(7), (5,)))
    ways: dict[str, Callable[[], object]] = {
        "plain": lambda: simulate(rebuild, worlds, policy),
        "trail": lambda: simulate(rebuild, worlds, policy, ends=True),
        "helped daily": lambda: simulate(often, worlds, policy),
        "helped one day in seven": lambda: simulate(seldom, worlds, policy),
        "what the end waits for": lambda: binding_shares(rebuild, worlds, policy, played),
    }
    walls: dict[str, list[float]] = {name: [] for name in ways}
    for _ in range(repeats):
        for name, way in ways.items():
            before = time.perf_counter()
            way()
            walls[name].append(time.perf_counter() - before)
    plain = statistics.median(walls.pop("plain"))
    waits = np.count_nonzero(simulate(seldom, worlds, policy).waited_minutes) / worlds.n
    shares = ", ".join(f"{name} {statistics.median(some) / plain:.2f}" for name, some in walls.items())
    return f"as shares of the plain time: {shares}; waits booked with help one day in seven {waits:.1f}"


def pace() -> str:
    """Load, and how long ten million additions in plain Python take right now."""
    before, total = time.perf_counter(), 0
    for i in range(10_000_000):
        total += i
    load = ", ".join(f"{x:.2f}" for x in os.getloadavg())
    return f"load {load}; a plain loop of 10 million takes {time.perf_counter() - before:.2f} s"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seeds", type=int, default=3)
    parser.add_argument("--repeats", type=int, default=5)
    parser.add_argument("--twin-futures", type=int, default=10)
    parser.add_argument("--bad-share", type=float, default=0.15)
    options = parser.parse_args()
    print(f"numpy {np.__version__}, {os.cpu_count()} cores, {pace()}")
    for seed in range(options.seeds):
        rebuild, policy = machine(seed)
        for n in (10_000, 2_000):
            played, walls = timed(rebuild, draw(rebuild, seed, n, bad_share=options.bad_share), policy, options.repeats)
            print(
                f"seed {seed}, {n:6d} futures, {len(rebuild.slots)} slots, {len(rebuild.covers)} covers: "
                f"median {statistics.median(walls):.3f} s, least {min(walls):.3f} s"
            )
        share = np.bincount(played.status, minlength=5) / n
        print(
            "    finished {:.0%}, gate no {:.0%}, never came {:.0%}, stopped {:.0%}, off the calendar {:.0%};".format(
                *share
            ),
            f"finds a future {played.known_bad.sum() / n:.1f},",
            f"waits booked {np.count_nonzero(played.waited_minutes) / n:.1f},",
            f"orders {np.count_nonzero(played.order_day >= 0) / n:.1f}, slots done {played.done.sum() / n:.0f}",
        )
        worlds = draw(rebuild, seed, 2_000, bad_share=options.bad_share)
        print(f"    {compared(rebuild, worlds, policy, seed, options.repeats)}")
        few = draw(rebuild, seed, options.twin_futures, bad_share=options.bad_share)
        before = time.perf_counter()
        twin_simulate(rebuild, few, policy)
        per_future = (time.perf_counter() - before) / options.twin_futures
        print(
            f"    plain twin {per_future * 1000:.0f} ms a future: "
            f"{per_future * 2_000 / statistics.median(walls):.0f} times as long"
        )
    print(pace())


if __name__ == "__main__":
    main()
