"""Invented rebuilds of three sizes to measure the search for a running order on.

Assemblies of one to four jobs (strip, carry over, fit, test) lie behind covers, many of these under others; every
assembly is needed by one of the tests and may be done in any stretch before it. Parts come from four suppliers after
log-normal waits as uncertain as those of the trade data, one of them slow; some orders are held until a test has been
passed. Some jobs show hidden faults. All shares and spreads stand here, the seeds of the runs in `SEEDS`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from wreckwright.futures.band import Z90
from wreckwright.futures.policy import NOW, ON_DISCOVERY, Policy
from wreckwright.futures.rebuild import BenchGate, CoverNode, Exposes, Line, Rebuild, Slot, Source, Worlds
from wreckwright.futures.worlds import calm_worlds, shapes

SizeName = Literal["60/12/3", "150/25/4", "300/40/6"]


@dataclass(frozen=True)
class Size:
    jobs: int
    covers: int
    tests: int


SIZES: dict[SizeName, Size] = {"60/12/3": Size(60, 12, 3), "150/25/4": Size(150, 25, 4), "300/40/6": Size(300, 40, 6)}
SEEDS: dict[SizeName, tuple[int, ...]] = {
    "60/12/3": tuple(range(1, 21)), "150/25/4": (101, 102, 103, 104, 105), "300/40/6": (201, 202),
}

WEEK = (90, 90, 0, 120, 0, 240, 0)
"""Minutes planned, Monday first."""
CALENDAR_DAYS = 3000
WAITS_DAYS = ((6, 18), (12, 35), (30, 110), (60, 240))
"""Of the four suppliers: median and 90 % point, those of the trade data for importer, pattern part to order, factory
back order and discontinued. All parcels come in the end."""
SUPPLIER_SHARE = (0.4, 0.3, 0.2, 0.1)
COMMON_SHARE = 0.4
"""Of the variance of a wait, common to all parcels of one supplier."""
PACE_SPREAD, JOB_SPREAD = 0.25, 0.4
"""Of the logarithm of the minutes: common to all work of a future, and of each piece of it."""
STEPS = {1: ("fit",), 2: ("strip", "fit"), 3: ("strip", "fit", "test"), 4: ("strip", "carry over", "fit", "test")}
BAD_SHARE, TEST_YES, WAY_YES = 0.15, 0.85, 0.9


@dataclass(frozen=True, kw_only=True)
class Machine:
    rebuild: Rebuild
    policy: Policy
    """Where to order and when; its stages are the earliest that are allowed, its ranks those of a sound habit."""
    suppliers: tuple[int, ...]
    """Per line."""
    cover_minutes: tuple[int, ...]
    """Usual minutes of taking each cover off, then of putting each on."""


def machine(size: Size, seed: int, *, cures: bool = True, snapped: bool = False) -> Machine:
    """One rebuild. `cures`: some jobs must be left alone for one to three days. `snapped`: the same rebuild after
    something has snapped at the first job that wants a part: one more job before it, with a part to be ordered now.

    >>> from wreckwright.futures.policy import check_policy
    >>> from wreckwright.futures.rebuild_check import check_rebuild
    >>> made = machine(SIZES["60/12/3"], 1)
    >>> check_rebuild(made.rebuild), check_policy(made.rebuild, made.policy)
    ([], [])
    >>> sum(slot.kind in ("job", "look") for slot in made.rebuild.slots)
    60
    """
    rng = np.random.default_rng([seed, size.jobs])
    covers, cover_minutes = _covers(rng, size)
    jobs, lines = _jobs(rng, size, cures=cures)
    hidden = size.jobs // 8
    finders = [rng.choice(size.jobs, 2, replace=False).tolist() for _ in range(hidden)]
    if snapped:
        _snap(jobs, lines)
    slots = [
        Slot(
            name=job.name, kind="look" if job.look else "job", stage=job.first, needed_by=job.needed_by,
            after=tuple(job.after), covers=job.covers,
            lines=tuple(n for n, line in enumerate(lines) if line.slot == j), cure_days=job.cure_days,
            exposes=tuple(Exposes(component=h) for h in range(hidden) if j in finders[h]), mean_minutes=job.minutes,
        )
        for j, job in enumerate(jobs)
    ]
    for h in range(hidden):
        finder = jobs[finders[h][0]]
        lines.append(_Line(slot=len(slots), supplier=int(rng.integers(0, 3)), trigger=ON_DISCOVERY))
        slots.append(
            Slot(
                name=f"put right {h}", kind="follow_up", needed_by=finder.needed_by, covers=finder.covers,
                lines=(len(lines) - 1,), component=h, mean_minutes=_minutes(rng, 60),
            )
        )
    gates = []
    for t in range(size.tests):
        slot = len(slots)
        slots.append(Slot(name=f"test {t}", kind="gate", stage=t, needed_by=t, mean_minutes=_minutes(rng, 40)))
        slots.append(Slot(name=f"way round {t}", kind="fallback", stage=t, needed_by=t, mean_minutes=90))
        on = tuple(sorted(rng.choice(size.covers, size.covers // 4, replace=False).tolist()))
        gates.append(BenchGate(name=f"test {t}", stage=t, slot=slot, covers_on=on, fallbacks=(slot + 1,)))
    rebuild = Rebuild(
        slots=tuple(slots), covers=covers, bench_gates=tuple(gates), outside_gates=(),
        lines=tuple(
            Line(name=f"part {n}", slot=line.slot, sources=(Source(name=f"supplier {line.supplier}", cancel_days=60),))
            for n, line in enumerate(lines)
        ),
        components=tuple(f"hidden {h}" for h in range(hidden)),
        cumulative_minutes=np.cumsum([0, *np.resize(WEEK, CALENDAR_DAYS).tolist()]),
        big_find_minor=10**9, as_it_stands_minor=(0,) * (size.tests + 1), part_out_minor=0,
    )
    return Machine(
        rebuild=rebuild, policy=_habit(rebuild, [line.trigger for line in lines]),
        suppliers=tuple(line.supplier for line in lines), cover_minutes=cover_minutes,
    )


def worlds_of(made: Machine, seed: int, n: int, *, wait_spread: float = 1.0) -> Worlds:
    """`n` futures; other seeds give fresh ones. `wait_spread`: factor on the spread (of the logarithm) of all waits.

    >>> from wreckwright.futures.worlds import check_worlds
    >>> made = machine(SIZES["60/12/3"], 1)
    >>> check_worlds(made.rebuild, worlds_of(made, 1, 10))
    []
    """
    rebuild = made.rebuild
    rng = np.random.default_rng([seed, 7])
    shape = shapes(rebuild, n=n, n_sources=1, n_ways=0)
    usual = calm_worlds(rebuild, 1).minutes[0].astype(float)
    usual[len(rebuild.slots) :] = made.cover_minutes
    pace = rng.lognormal(0.0, PACE_SPREAD, (n, 1))
    minutes = usual * pace * rng.lognormal(0.0, JOB_SPREAD, shape["minutes"])
    common = rng.standard_normal((n, len(WAITS_DAYS)))[:, list(made.suppliers)]
    own = rng.standard_normal(common.shape)
    z = np.sqrt(COMMON_SHARE) * common + np.sqrt(1.0 - COMMON_SHARE) * own
    median, p90 = np.log(np.array(WAITS_DAYS, float))[list(made.suppliers)].T
    waits = np.exp(median + wait_spread * (p90 - median) / Z90 * z)
    bad = rng.random((n, len(rebuild.components))) < BAD_SHARE
    shown = [entry.component for slot in rebuild.slots for entry in slot.exposes]
    zero = {name: np.zeros(shape[name], np.int64) for name in shape}
    return Worlds(
        minutes=np.maximum(np.rint(minutes), 1).astype(np.int32),
        attendance_permille=rng.integers(500, 901, n).astype(np.int32),
        cries=bad[:, shown],
        foretells=zero["foretells"].astype(bool),
        gate_ok=rng.random(shape["gate_ok"]) < TEST_YES,
        fallback_ok=rng.random(shape["fallback_ok"]) < WAY_YES,
        fallback_days=rng.integers(0, 15, shape["fallback_days"]).astype(np.int32),
        fallback_minor=zero["fallback_minor"],
        outside_days=zero["outside_days"].astype(np.int32),
        outside_ok=zero["outside_ok"].astype(bool),
        outside_fallback_ok=zero["outside_fallback_ok"].astype(bool),
        outside_fallback_days=zero["outside_fallback_days"].astype(np.int32),
        outside_fallback_minor=zero["outside_fallback_minor"],
        lead_days=np.rint(waits)[:, :, None].astype(np.int32),
        wrong=zero["wrong"].astype(bool),
        second_lead_days=zero["second_lead_days"].astype(np.int32),
        wrong_minor=zero["wrong_minor"],
        price_minor=zero["price_minor"],
        slot_minor=zero["slot_minor"],
    )


@dataclass(kw_only=True)
class _Job:
    name: str
    first: int
    needed_by: int
    covers: tuple[int, ...]
    after: list[int]
    minutes: int
    cure_days: int = 0
    look: bool = False


@dataclass(kw_only=True)
class _Line:
    slot: int
    supplier: int
    trigger: int = NOW


def _minutes(rng: np.random.Generator, usual: int) -> int:
    return int(np.clip(round(usual * float(rng.lognormal(0.0, 0.6))), 3, 400))


def _covers(rng: np.random.Generator, size: Size) -> tuple[tuple[CoverNode, ...], tuple[int, ...]]:
    """A third of them open to the hand, the rest under one or two others."""
    covers = []
    for x in range(size.covers):
        if x < 3 or rng.random() < 0.33:
            under = []
        else:
            under = sorted(set(rng.integers(0, x, 1 + int(rng.random() < 0.2)).tolist()))
        covers.append(CoverNode(name=f"cover {x}", under=tuple(under)))
    off = [_minutes(rng, 10) for _ in covers]
    return tuple(covers), (*off, *(round(1.3 * minutes) for minutes in off))


def _jobs(rng: np.random.Generator, size: Size, *, cures: bool) -> tuple[list[_Job], list[_Line]]:
    jobs: list[_Job] = []
    lines: list[_Line] = []
    mains: list[int] = []  # the jobs that later assemblies may be mounted on
    while len(jobs) < size.jobs:
        needed_by = int(rng.integers(0, size.tests))
        behind = 0 if rng.random() < 0.15 else 1 + int(rng.random() < 0.25)
        covers = tuple(sorted(rng.choice(size.covers, behind, replace=False).tolist()))
        if rng.random() < 0.12:
            jobs.append(
                _Job(name=f"look {len(jobs)}", first=0, needed_by=needed_by, covers=covers, after=[],
                     minutes=_minutes(rng, 15), look=True)
            )
            continue
        steps = STEPS[min(int(rng.choice([1, 2, 3, 4], p=[0.35, 0.25, 0.25, 0.15])), size.jobs - len(jobs))]
        wants_part, held = rng.random() < 0.55, needed_by > 0 and rng.random() < 0.2
        cure_days = int(rng.integers(1, 4)) if rng.random() < 0.1 else 0
        supplier = int(rng.choice(len(SUPPLIER_SHARE), p=SUPPLIER_SHARE))
        trigger = int(rng.integers(0, needed_by)) if wants_part and held else NOW
        mount = int(rng.choice(mains)) if mains and rng.random() < 0.15 else -1
        first = 0
        for place, step in enumerate(steps):
            j, after = len(jobs), [] if place == 0 else [len(jobs) - 1]
            if step == "fit":
                if mount >= 0 and jobs[mount].needed_by <= needed_by:
                    after.append(mount)
                    first = max(first, jobs[mount].first)
                if wants_part:
                    lines.append(_Line(slot=j, supplier=supplier, trigger=trigger))
                    first = max(first, trigger + 1)
                mains.append(j)
            jobs.append(
                _Job(
                    name=f"{step} {j}", first=first, needed_by=needed_by, covers=covers, after=after,
                    minutes=_minutes(rng, 45 if step == "fit" else 20),
                    cure_days=cure_days if cures and step == "fit" else 0,
                )
            )
    return jobs, lines


def _snap(jobs: list[_Job], lines: list[_Line]) -> None:
    """The first job that wants a part: a bolt of it has snapped and must be got out, and there must be a new one."""
    broken = jobs[lines[0].slot]
    broken.after.append(len(jobs))
    jobs.append(
        _Job(name="snapped bolt", first=broken.first, needed_by=broken.needed_by, covers=broken.covers, after=[],
             minutes=60)
    )
    lines.append(_Line(slot=len(jobs) - 1, supplier=1))


def _habit(rebuild: Rebuild, triggers: list[int]) -> Policy:
    """Everything as early as it is allowed; looks first, then ways round, the longest jobs, covers off, on, tests."""
    n_slots, n_covers = len(rebuild.slots), len(rebuild.covers)
    kind = {"look": 0, "fallback": 1, "job": 2, "follow_up": 2, "gate": 5}
    order = [(kind[slot.kind], slot.stage, -slot.mean_minutes) for slot in rebuild.slots]
    order += [(3, 0, 0)] * n_covers + [(4, 0, 0)] * n_covers
    rank = [0] * len(order)
    for place, i in enumerate(sorted(range(len(order)), key=order.__getitem__)):
        rank[i] = place
    n_lines = len(rebuild.lines)
    return Policy(
        line_source=(0,) * n_lines, line_trigger=tuple(triggers), plan_b_source=(-1,) * n_lines,
        plan_b_after_days=(-1,) * n_lines, stage=tuple(slot.stage for slot in rebuild.slots), rank=tuple(rank),
        looks=(True,) * n_slots,
    )
