"""Random rebuilds with their worlds and policies, made from one seed each; valid by construction.

Made to be awkward, not lifelike: every rule of docs/simulator.md should bite somewhere in a few hundred of them.
Shares no code with the simulator and none with its twin.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from wreckwright.futures.policy import Policy
from wreckwright.futures.rebuild import (
    BenchGate,
    CoverNode,
    Exposes,
    Line,
    OutsideGate,
    Rebuild,
    Slot,
    SlotKind,
    Source,
    Worlds,
)

NOW, NEVER, ON_DISCOVERY = -1, -2, -3


@dataclass(frozen=True)
class Case:
    seed: int
    rebuild: Rebuild
    worlds: Worlds
    policy: Policy


@dataclass
class _Draft:
    """A slot on its way; `stage` is the policy's, for a gate or fallback the stage of the gate."""

    kind: SlotKind
    stage: int
    needed_by: int
    component: int = -1


@dataclass(frozen=True)
class _Temper:
    """How often things go wrong in this rebuild; drawn once, so that rebuilds differ in kind and not only in detail."""

    never: float
    wrong: float
    bad: float
    gate_ok: float
    busy_with_lines: float
    covered: float
    """Share of slots with covers over them."""
    most_entries: int
    """Most entries of one slot in `exposes`."""
    rough: float
    late: bool
    """Work comes late, finds early, and few covers lie over all: then it matters which find waits for an open cover."""
    stops: bool
    days: int
    longest_minutes: int


def random_case(seed: int, *, futures: int = 3) -> Case:
    rng = random.Random(seed)
    temper = _Temper(
        never=rng.choice([0.0, 0.02, 0.1, 0.25]),
        wrong=rng.choice([0.0, 0.1, 0.3]),
        bad=rng.choice([0.1, 0.4, 0.7]),
        gate_ok=rng.choice([0.3, 0.6, 0.9]),
        busy_with_lines=rng.choice([0.2, 0.5, 0.8]),
        covered=rng.choice([0.3, 0.6, 0.9]),
        most_entries=rng.choice([1, 3, 5]),
        rough=rng.choice([0.2, 0.8]),
        late=rng.random() < 0.4,
        stops=rng.random() < 0.3,
        days=rng.choice([rng.randint(4, 15), rng.randint(40, 120), rng.randint(150, 400)]),
        longest_minutes=rng.choice([20, 120, 400]),
    )
    n_stages = rng.choice([1, 2, 3, 3, 4, 4])
    covers = _covers(rng)
    upward = [_upward(covers, x) for x in range(len(covers))]
    drafts = _drafts(rng, n_stages, temper.late)
    n_components = sum(draft.kind == "follow_up" for draft in drafts)
    outside = tuple(
        OutsideGate(name=f"outside {o}", n_fallbacks=rng.randint(0, 2)) for o in range(rng.choice([0, 0, 1, 2]))
    )
    gates = _gates(rng, drafts, n_stages, covers, upward)
    slots, lines, triggers = _slots(rng, temper, drafts, gates, covers, upward, n_components, len(outside))
    looks = tuple(slot.kind != "look" or rng.random() < 0.75 for slot in slots)
    rebuild = Rebuild(
        slots=slots,
        covers=covers,
        bench_gates=gates,
        outside_gates=outside,
        lines=lines,
        components=tuple(f"component {h}" for h in range(n_components)),
        cumulative_minutes=_calendar(rng, temper.days),
        big_find_minor=rng.choice([0, 5_000, 30_000, 60_000]),
        as_it_stands_minor=tuple(rng.randint(0, 500_000) for _ in range(n_stages + 1)),
        part_out_minor=rng.randint(0, 300_000),
    )
    policy = _policy(rng, temper, rebuild, triggers, [draft.stage for draft in drafts], looks)
    rebuild = _standing_or_falling(random.Random(f"{seed} part of"), _for_two(random.Random(f"{seed} helper"), rebuild))
    return Case(seed, rebuild, _worlds(seed, temper, rebuild, futures), policy)


def _for_two(rng: random.Random, rebuild: Rebuild) -> Rebuild:
    """Half of the rebuilds have work for two, and of these most have days on which somebody helps."""
    if rng.random() < 0.5:
        return rebuild
    share, days = rng.choice([0.1, 0.4, 0.8]), len(rebuild.cumulative_minutes) - 1
    # Few helper days, many, or every seventh as on Saturdays.
    often = rng.choice([0.05, 0.3, 0.7])
    helper_day = np.array([rng.random() < often for _ in range(days)])
    if rng.random() < 0.3:
        helper_day = np.arange(days) % 7 == rng.randrange(7)
    return replace(
        rebuild,
        slots=tuple(replace(slot, helper=rng.random() < share) for slot in rebuild.slots),
        covers=tuple(replace(cover, helper=rng.random() < share) for cover in rebuild.covers),
        helper_day=None if rng.random() < 0.15 else helper_day,
    )


def _standing_or_falling(rng: random.Random, rebuild: Rebuild) -> Rebuild:
    """In half of the rebuilds some work is left undone where other work is, most often what comes before it."""
    if rng.random() < 0.5:
        return rebuild
    slots = list(rebuild.slots)
    doubtful = [i for i, slot in enumerate(slots) if slot.lines and not slot.essential]
    for j, slot in enumerate(slots):
        if slot.kind not in ("gate", "fallback") and rng.random() < 0.5:
            before = [i for i in slot.after if i in doubtful] or [i for i in slot.after if slots[i].part_of >= 0]
            holders = before or ([i for i in doubtful if i != j] if rng.random() < 0.3 else [])
            if holders:
                slots[j] = replace(slot, part_of=rng.choice(holders))
    return replace(rebuild, slots=tuple(slots))


def _covers(rng: random.Random) -> tuple[CoverNode, ...]:
    """A directed graph without rings; the numbers are shuffled so that order of index says nothing."""
    n = rng.choice([0, 2, 3, 4, 6, 8])
    label = list(range(n))
    rng.shuffle(label)
    nodes: list[CoverNode | None] = [None] * n
    off: set[int] = set()
    for i in range(n):
        under = tuple(label[u] for u in rng.sample(range(i), min(i, rng.choice([0, 1, 1, 2]))))
        # A cover can be off at the start only where nothing still lies on it.
        if off.issuperset(under) and rng.random() < 0.2:
            off.add(label[i])
        nodes[label[i]] = CoverNode(name=f"cover {label[i]}", under=under, off_at_start=label[i] in off)
    return tuple(node for node in nodes if node is not None)


def _upward(covers: Sequence[CoverNode], x: int) -> frozenset[int]:
    return frozenset([x]).union(*(_upward(covers, u) for u in covers[x].under))


def _opening(upward: Sequence[frozenset[int]], covers: Sequence[int]) -> frozenset[int]:
    return frozenset().union(*(upward[x] for x in covers))


def _drafts(rng: random.Random, n_stages: int, late: bool) -> list[_Draft]:
    """Jobs, looks, follow-ups, one gate a stage, up to two fallbacks a gate: 3 to some 40 slots, shuffled."""
    size = rng.choice([1, 2, 4])
    last = n_stages - 1
    drafts: list[_Draft] = []

    def some(kind: SlotKind, most: int, least: int = 0) -> None:
        for _ in range(rng.randint(least, most)):
            needed_by = rng.choice([last, rng.randint(0, last)])
            stage = rng.randint(0, needed_by)
            if late and kind == "follow_up":
                stage, needed_by = 0, rng.choice([0, last])
            elif late:
                stage, needed_by = max(stage, rng.randint(0, last)), last
            drafts.append(_Draft(kind, stage, needed_by))

    some("job", 4 * size, 1)
    some("look", size + 2)
    some("follow_up", 3 * size, rng.choice([0, 1]))
    components = list(range(sum(draft.kind == "follow_up" for draft in drafts)))
    rng.shuffle(components)
    for draft in drafts:
        if draft.kind == "follow_up":
            draft.component = components.pop()
    for k in range(n_stages):
        drafts.append(_Draft("gate", k, k))
        drafts.extend(_Draft("fallback", k, k) for _ in range(rng.choice([0, 1, 1, 2])))
    rng.shuffle(drafts)
    return drafts


def _gates(
    rng: random.Random,
    drafts: Sequence[_Draft],
    n_stages: int,
    covers: Sequence[CoverNode],
    upward: Sequence[frozenset[int]],
) -> tuple[BenchGate, ...]:
    gates = []
    for k in range(n_stages):
        fallbacks = [j for j, draft in enumerate(drafts) if draft.kind == "fallback" and draft.stage == k]
        rng.shuffle(fallbacks)
        gates.append(
            BenchGate(
                name=f"gate {k}",
                stage=k,
                slot=next(j for j, draft in enumerate(drafts) if draft.kind == "gate" and draft.stage == k),
                covers_on=tuple(rng.sample(range(len(covers)), rng.randint(0, min(2, len(covers))))),
                fallbacks=tuple(fallbacks),
            )
        )
    return tuple(gates)


def _slots(
    rng: random.Random,
    temper: _Temper,
    drafts: Sequence[_Draft],
    gates: Sequence[BenchGate],
    covers: Sequence[CoverNode],
    upward: Sequence[frozenset[int]],
    n_components: int,
    n_outside: int,
) -> tuple[tuple[Slot, ...], tuple[Line, ...], list[int]]:
    n_stages = len(gates)
    closing = [frozenset(x for x in range(len(covers)) if upward[x] & set(gate.covers_on)) for gate in gates]
    closing[-1] = frozenset(range(len(covers)))
    # "After" follows one random order of all slots, so that it has no rings.
    place = list(range(len(drafts)))
    rng.shuffle(place)
    slots: list[Slot] = []
    lines: list[Line] = []
    triggers: list[int] = []
    for j, draft in enumerate(drafts):
        covered = len(covers) > 1 and rng.random() < temper.covered
        if temper.late and draft.kind != "follow_up" and draft.stage == 0:
            covered = False
        wanted = rng.sample(range(2 if temper.late else len(covers)), rng.randint(1, 2) if covered else 0)
        if draft.kind == "gate":
            wanted = [x for x in wanted if not upward[x] & closing[draft.stage]]
        before = [i for i, other in enumerate(drafts) if place[i] < place[j] and _may_come_before(other, draft)]
        essential = rng.random() < 0.6
        n_lines = rng.randint(1, 2) if rng.random() < temper.busy_with_lines * _LINES_LIKELY[draft.kind] else 0
        mine = []
        for _ in range(n_lines):
            mine.append(len(lines))
            triggers.append(_trigger(rng, draft, n_stages, n_outside, essential, bool(wanted)))
            lines.append(_line(rng, len(lines), j, temper.days))
        rng.shuffle(mine)
        slots.append(
            Slot(
                name=f"{draft.kind} {j}",
                kind=draft.kind,
                stage=draft.stage,
                needed_by=draft.needed_by,
                after=tuple(rng.sample(before, min(len(before), rng.choice([0, 0, 1, 2])))),
                covers=tuple(wanted),
                lines=tuple(mine),
                exposes=tuple(
                    Exposes(component=rng.randrange(n_components))
                    for _ in range(rng.choice([0, rng.randint(1, temper.most_entries)]) if n_components else 0)
                ),
                rough_gate=rng.randrange(n_stages) if draft.kind == "look" and rng.random() < temper.rough else -1,
                outside=tuple(rng.sample(range(n_outside), rng.randint(1, n_outside)))
                if n_outside and rng.random() < 0.2
                else (),
                cure_days=rng.randint(1, 6) if rng.random() < 0.2 else 0,
                essential=essential,
                component=draft.component,
                mean_minutes=rng.randint(0, 600),
                mean_minor=rng.randint(0, 20_000),
            )
        )
    return tuple(slots), tuple(lines), triggers


_LINES_LIKELY: dict[SlotKind, float] = {"job": 1.0, "follow_up": 1.0, "fallback": 0.4, "look": 0.2, "gate": 0.2}


def _may_come_before(first: _Draft, second: _Draft) -> bool:
    """Whether `second` may name `first` in its `after` without the two waiting for each other for ever."""
    if first.kind in ("gate", "fallback"):
        # A fallback can be foretold stages earlier; its covers would then keep the gate shut for which it waits.
        return first.stage < second.stage and second.kind != "fallback"
    return first.stage <= second.stage


def _trigger(
    rng: random.Random, draft: _Draft, n_stages: int, n_outside: int, essential: bool, has_covers: bool
) -> int:
    """A trigger that comes earlier than the slot, whatever happens."""
    choices = [NOW]
    if not (draft.kind == "fallback" and has_covers):
        choices += range(draft.stage)
    choices += range(n_stages, n_stages + n_outside)
    if draft.kind == "follow_up":
        choices += [ON_DISCOVERY, ON_DISCOVERY]
    if not essential:
        choices.append(NEVER)
    return rng.choice(choices)


def _line(rng: random.Random, index: int, slot: int, days: int) -> Line:
    sources = tuple(
        Source(
            name=f"source {s}",
            cancel_days=rng.randint(0, max(1, days // 2)),
            refund_permille=rng.choice([0, 1000, rng.randint(0, 1000)]),
            resale_permille=rng.choice([0, 500, rng.randint(0, 1000)]),
            mean_minor=rng.randint(0, 40_000),
        )
        for s in range(rng.randint(1, 3))
    )
    already = rng.random() < 0.12
    return Line(
        name=f"line {index}",
        slot=slot,
        sources=sources,
        already_ordered=already,
        sunk_minor=rng.randint(0, 30_000) if already else 0,
    )


def _calendar(rng: random.Random, days: int) -> np.ndarray:
    rest = rng.choice([0.1, 0.4, 0.7])
    planned = [0 if rng.random() < rest else rng.randint(1, 300) for _ in range(days)]
    return np.concatenate([[0], np.cumsum(planned)]).astype(np.int64)


def _policy(
    rng: random.Random,
    temper: _Temper,
    rebuild: Rebuild,
    triggers: Sequence[int],
    stages: Sequence[int],
    looks: tuple[bool, ...],
) -> Policy:
    sources, plans, after = [], [], []
    for line in rebuild.lines:
        source = rng.randrange(len(line.sources))
        others = [s for s in range(len(line.sources)) if s != source]
        plan = rng.choice(others) if others and rng.random() < 0.7 else -1
        sources.append(source)
        plans.append(plan)
        after.append(rng.choice([-1, rng.randint(0, 20)]) if plan >= 0 else -1)
    rank = list(range(len(rebuild.slots) + 2 * len(rebuild.covers)))
    rng.shuffle(rank)
    stop = {}
    if temper.stops:
        for epoch in range(3 * rebuild.n_stages):
            if rng.random() < 0.4 and epoch != 3 * rebuild.n_stages - 1:
                stop[epoch] = tuple(rng.choice([0.0, rng.gauss(0.3, 1.0)]) for _ in range(7))
    return Policy(
        line_source=tuple(sources),
        line_trigger=tuple(triggers),
        plan_b_source=tuple(plans),
        plan_b_after_days=tuple(after),
        stage=tuple(stages),
        rank=tuple(rank),
        looks=looks,
        stop=stop,
    )


def _worlds(seed: int, temper: _Temper, rebuild: Rebuild, n: int) -> Worlds:
    rng = np.random.default_rng([seed, 1])
    n_slots, n_covers, n_lines = len(rebuild.slots), len(rebuild.covers), len(rebuild.lines)
    n_sources = max((len(line.sources) for line in rebuild.lines), default=1)
    n_entries = sum(len(slot.exposes) for slot in rebuild.slots)
    n_fallbacks = sum(slot.kind == "fallback" for slot in rebuild.slots)
    n_outside = len(rebuild.outside_gates)
    n_ways = max((gate.n_fallbacks for gate in rebuild.outside_gates), default=0)
    longest_lead = max(2, temper.days // 4)

    def days(low: int, high: int, never: float, *shape: int) -> np.ndarray:
        drawn = rng.integers(low, high + 1, size=shape)
        return np.where(rng.random(shape) < never, -1, drawn).astype(np.int32)

    def minor(most: int, *shape: int) -> np.ndarray:
        return rng.integers(0, most + 1, size=shape).astype(np.int64)

    def chance(p: float, *shape: int) -> np.ndarray:
        return rng.random(shape) < p

    minutes = rng.integers(0, temper.longest_minutes + 1, size=(n, n_slots + 2 * n_covers))
    minutes[chance(0.1, *minutes.shape)] = 0
    rough = np.array([slot.rough_gate >= 0 for slot in rebuild.slots])
    whole = chance(0.3, n)
    attendance = np.where(chance(0.1, n), rng.integers(1, 200, size=n), rng.integers(300, 1001, size=n))
    return Worlds(
        minutes=minutes.astype(np.int32),
        attendance_permille=np.where(whole, 1000, attendance).astype(np.int32),
        cries=chance(temper.bad, n, n_entries),
        foretells=chance(0.5, n, n_slots) & rough,
        gate_ok=chance(temper.gate_ok, n, rebuild.n_stages),
        fallback_ok=chance(0.65, n, n_fallbacks),
        fallback_days=days(0, 8, 0.0, n, n_fallbacks),
        fallback_minor=minor(30_000, n, n_fallbacks),
        outside_days=days(0, temper.days // 3, 0.05, n, n_outside),
        outside_ok=chance(0.6, n, n_outside),
        outside_fallback_ok=chance(0.7, n, n_outside, n_ways),
        outside_fallback_days=days(0, 20, 0.0, n, n_outside, n_ways),
        outside_fallback_minor=minor(20_000, n, n_outside, n_ways),
        lead_days=days(0, longest_lead, temper.never, n, n_lines, n_sources),
        wrong=chance(temper.wrong, n, n_lines, n_sources),
        second_lead_days=days(0, longest_lead, temper.never, n, n_lines, n_sources),
        wrong_minor=minor(4_000, n, n_lines, n_sources),
        price_minor=minor(50_000, n, n_lines, n_sources),
        slot_minor=minor(9_000, n, n_slots),
    )


def without_stops(case: Case) -> Case:
    """The same, played to the end whatever the epochs say."""
    return replace(case, policy=replace(case.policy, stop={}))
