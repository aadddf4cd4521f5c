"""From needs and gates to a numbered rebuild: slots, covers, lines, stages. Structure only, no draws."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from wreckwright.futures.band import lognormal_from_band
from wreckwright.futures.calendar import begin_minutes, cumulative_minutes, helper_days
from wreckwright.futures.gates import GateNeed, Way
from wreckwright.futures.looks import Look, opening_of, seen_when_open
from wreckwright.futures.needs import Need, Needs
from wreckwright.futures.rebuild import (
    BenchGate,
    CoverNode,
    Exposes,
    IntArray,
    Line,
    OutsideGate,
    Rebuild,
    Slot,
    Source,
)
from wreckwright.futures.supplies import Band3, PartNeed
from wreckwright.record.known import Known
from wreckwright.trade.types import Trade

BIG_FIND_SHARE = 0.02
"""A discovery dearer than this share of sound value is a moment at which stopping is thought about (judgement)."""
KEY_GATES = frozenset({"key_turns", "chip_read", "unit_learns", "numbers_belong"})


@dataclass(frozen=True, kw_only=True)
class SlotPlan:
    """What stands behind a slot: the figures it is drawn from."""

    key: str
    """Key of this piece of work, the same everywhere (docs/running-order.md)."""
    minutes: Band3
    materials_minor: Band3
    need: Need | None = None
    look: Look | None = None
    gate: GateNeed | None = None
    way: Way | None = None
    is_lump: bool = False

    @property
    def luck(self) -> str:
        """Name of the stream from which its minutes are drawn; steps of one remedy share it."""
        return self.need.group or self.key if self.need is not None else self.key


@dataclass(frozen=True, kw_only=True)
class Compiled:
    rebuild: Rebuild
    slots: tuple[SlotPlan, ...]
    """One per slot of the rebuild, in its order."""
    lines: tuple[PartNeed, ...]
    """One per line."""
    covers: tuple[str, ...]
    bench: tuple[GateNeed, ...]
    outside: tuple[GateNeed, ...]
    begin_minute: IntArray
    """[days] minute of each evening at which it is this machine's turn; before it, others are at work."""


def compile_rebuild(
    *, known: Known, trade: Trade, needs: Needs, looks: tuple[Look, ...], bench: tuple[GateNeed, ...],
    outside: tuple[GateNeed, ...], as_it_stands_minor: tuple[int, ...], part_out_minor: int, part_out_minutes: int,
    booked: Mapping[dt.date, int] = MappingProxyType({}),
) -> Compiled:
    """Number everything. `booked`: minutes at the beginning of evenings that machines with an earlier turn take.
    Order of slots: looks, known jobs, the lump, follow-ups, gate tests, fallbacks."""
    last = len(bench) - 1
    stage_of_gate = {gate.id: stage for stage, gate in enumerate(bench)}
    hidden = tuple(need.component for need in needs.hidden)
    component_index = {component: index for index, component in enumerate(hidden)}
    plans: list[SlotPlan] = []
    slots: list[Slot] = []
    lines: list[Line] = []
    line_plans: list[PartNeed] = []
    used_covers = _used_covers(known, trade, needs, looks, bench)
    cover_index = {cover: index for index, cover in enumerate(used_covers)}
    # Whoever writes that the battery is out need not write that the seat is off.
    off = opening_of(trade, known.machine.covers_off)

    def covers_of(covers: tuple[str, ...]) -> tuple[int, ...]:
        return tuple(sorted({cover_index[cover] for cover in covers}))

    def lines_of(need: Need, slot: int) -> tuple[int, ...]:
        found = []
        for part in need.parts:
            found.append(len(lines))
            lines.append(
                Line(
                    name=part.name, slot=slot, already_ordered=part.already_ordered, sunk_minor=part.sunk_minor,
                    sources=tuple(
                        Source(
                            name=supply.remedy, cancel_days=supply.cancel_days, refund_permille=supply.refund_permille,
                            resale_permille=supply.resale_permille, mean_minor=_mean(supply.price_minor),
                        )
                        for supply in part.supplies
                    ),
                )
            )
            line_plans.append(part)
        return tuple(found)

    def seen(covers: tuple[str, ...], apart: str = "") -> tuple[Exposes, ...]:
        bare = seen_when_open(trade, opening_of(trade, covers), hidden) if covers else ()
        return tuple(Exposes(component=component_index[c]) for c in bare if c != apart)

    def stage_for(gate_id: str) -> int:
        return stage_of_gate.get(gate_id, last)

    for look in looks:
        plans.append(SlotPlan(key=f"look:{look.check}", minutes=look.minutes, materials_minor=(0.0,) * 3, look=look))
        exposes = tuple(
            Exposes(component=component_index[c], sensitivity=pair[0], false_alarm=pair[1])
            for c, pair in sorted(look.detects.items())
        )
        named = {entry.component for entry in exposes}
        slots.append(
            Slot(
                name=look.name, kind="look", needed_by=last, covers=covers_of(look.covers),
                exposes=exposes + tuple(e for e in seen(look.covers) if e.component not in named),
                rough_gate=stage_of_gate.get(look.rough_for, -1) if look.rough_for else -1,
                mean_minutes=_mean(look.minutes),
            )
        )
    job_slot = {need.key: len(slots) + index for index, need in enumerate(needs.known)}
    job_stage = _job_stages(needs.known, {need.key: stage_for(need.before_gate) for need in needs.known})
    opened: set[str] = set()
    for need in needs.known:
        plans.append(SlotPlan(key=need.key, minutes=need.minutes, materials_minor=need.materials_minor, need=need))
        # What lies beneath is seen when the first step opens it; the others of that remedy see nothing new.
        first = bool(need.covers) and need.group not in opened
        if first:
            opened.add(need.group)
        slots.append(
            Slot(
                name=need.name, kind="job", needed_by=job_stage[need.key], covers=covers_of(need.covers),
                stage=job_stage[need.key], lines=lines_of(need, len(slots)), exposes=seen(need.covers) if first else (),
                cure_days=need.cure_days, essential=need.essential, mean_minutes=_mean(need.minutes),
                mean_minor=_mean(need.materials_minor), helper=need.helper,
                part_of=job_slot.get(need.part_of, -1) if need.part_of != need.key else -1,
                after=tuple(job_slot[key] for key in need.after if key in job_slot),
            )
        )
    if needs.small:
        plans.append(
            SlotPlan(key="lump", minutes=(0.0,) * 3, materials_minor=(0.0,) * 3, is_lump=True)
        )
        slots.append(Slot(name="the many small things", kind="job", stage=last, needed_by=last, essential=False,
                          mean_minor=round(needs.lump_mean[0]), mean_minutes=round(needs.lump_mean[1])))
    for need in needs.hidden:
        plans.append(SlotPlan(key=need.key, minutes=need.minutes, materials_minor=need.materials_minor, need=need))
        slots.append(
            Slot(
                name=need.name, kind="follow_up", needed_by=stage_for(need.before_gate), covers=covers_of(need.covers),
                stage=stage_for(need.before_gate), lines=lines_of(need, len(slots)),
                exposes=seen(need.covers, apart=need.component), cure_days=need.cure_days, essential=need.essential,
                component=component_index[need.component], mean_minutes=_mean(need.minutes),
                mean_minor=_mean(need.materials_minor),
            )
        )
    gate_slot: list[int] = []
    for stage, gate in enumerate(bench):
        gate_slot.append(len(slots))
        plans.append(SlotPlan(key=f"gate:{gate.id}", minutes=gate.minutes, materials_minor=(0.0,) * 3, gate=gate))
        exposes = tuple(
            Exposes(component=component_index[c])
            for c in hidden
            if (gate.wants_runners and trade.components[c].run == "stop")
            or (gate.wants_riders and trade.components[c].ride != "none")
        )
        named = {entry.component for entry in exposes}
        slots.append(
            Slot(
                name=gate.question, kind="gate", stage=stage, needed_by=stage, covers=covers_of(gate.covers_off),
                exposes=exposes + tuple(e for e in seen(gate.covers_off) if e.component not in named),
                outside=tuple(o for o, way in enumerate(outside) if _waits_for(gate, way, stage, last, stage_of_gate)),
                mean_minutes=_mean(gate.minutes), helper=gate.helper,
            )
        )
    bench_gates: list[BenchGate] = []
    for stage, gate in enumerate(bench):
        fallbacks = []
        for number, way in enumerate(gate.ways):
            fallbacks.append(len(slots))
            plans.append(
                SlotPlan(
                    key=f"way:{gate.id}:{number}", minutes=way.minutes, materials_minor=(0.0,) * 3, gate=gate, way=way
                )
            )
            slots.append(
                Slot(
                    name=way.name, kind="fallback", stage=stage, needed_by=stage, mean_minutes=_mean(way.minutes),
                    mean_minor=_mean(way.price_minor),
                )
            )
        bench_gates.append(
            BenchGate(
                name=gate.question, stage=stage, slot=gate_slot[stage], covers_on=covers_of(gate.covers_on),
                fallbacks=tuple(fallbacks),
            )
        )
    rebuild = Rebuild(
        slots=tuple(slots),
        covers=tuple(
            CoverNode(
                name=trade.covers[cover].name, under=covers_of(trade.covers[cover].under),
                off_at_start=cover in off, helper=trade.covers[cover].helper,
            )
            for cover in used_covers
        ),
        bench_gates=tuple(bench_gates),
        outside_gates=tuple(OutsideGate(name=gate.question, n_fallbacks=len(gate.ways)) for gate in outside),
        lines=tuple(lines),
        components=hidden,
        cumulative_minutes=cumulative_minutes(
            as_of=known.as_of, weekday_minutes=known.weekday_minutes, days_off=known.days_off, changed=known.changed,
            booked=booked,
        ),
        helper_day=helper_days(known.as_of, known),
        big_find_minor=round(BIG_FIND_SHARE * known.sound_value_minor[1]),
        as_it_stands_minor=as_it_stands_minor,
        part_out_minor=part_out_minor,
        part_out_minutes=part_out_minutes,
    )
    return Compiled(
        rebuild=rebuild, slots=tuple(plans), lines=tuple(line_plans), covers=used_covers, bench=bench, outside=outside,
        begin_minute=begin_minutes(
            as_of=known.as_of, weekday_minutes=known.weekday_minutes, days_off=known.days_off, changed=known.changed,
            booked=booked,
        ),
    )


def _job_stages(known: tuple[Need, ...], own: Mapping[str, int]) -> dict[str, int]:
    """Stage of each job: that of its gate, but no later than that of any job which comes after it."""
    stages = dict(own)
    before = {need.key: need.after for need in known}
    # From the earliest on, each hands its stage down to all that comes before it; nothing is visited for a later one.
    for key in sorted(stages, key=lambda one: (stages[one], one)):
        open_ends = [key]
        while open_ends:
            here = open_ends.pop()
            for earlier in before.get(here, ()):
                if stages.get(earlier, -1) > stages[here]:
                    stages[earlier] = stages[here]
                    open_ends.append(earlier)
    return stages


def _mean(band: Band3) -> int:
    return round(lognormal_from_band(*band).mean)


def _waits_for(
    gate: GateNeed, outside: GateNeed, stage: int, last: int, stage_of_gate: Mapping[str, int]
) -> bool:
    """The first start waits for the keys, the road test for the papers and everything else outside."""
    if outside.id in KEY_GATES and "runs" in stage_of_gate:
        return gate.id == "runs"
    return stage == last


def _used_covers(
    known: Known, trade: Trade, needs: Needs, looks: tuple[Look, ...], bench: tuple[GateNeed, ...]
) -> tuple[str, ...]:
    """Covers that something may ask for, or that are off already, with all they lie under; in the trade's order."""
    wanted: set[str] = set()
    for group in (needs.known, needs.hidden):
        for need in group:
            wanted |= opening_of(trade, need.covers)
    for look in looks:
        wanted |= opening_of(trade, look.covers)
    for gate in bench:
        wanted |= opening_of(trade, gate.covers_off) | opening_of(trade, gate.covers_on)
    for cover in known.machine.covers_off:
        wanted |= opening_of(trade, (cover,))
    return tuple(cover for cover in trade.covers if cover in wanted)

