"""The numbers of each future: every uncertain thing from its own keyed stream, so that a change of the record leaves
all other draws as they were. Sources of spread: the map of damage, common factors, and each thing's own residual."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np
import numpy.typing as npt

from wreckwright.futures.band import lognormal_from_band
from wreckwright.futures.compile import Compiled, SlotPlan
from wreckwright.futures.draws import CommonFactors, normals, uniforms
from wreckwright.futures.gates import GateNeed, Way
from wreckwright.futures.leads import LeadTime, SupplyMix, sample_days, sample_mix_days
from wreckwright.futures.needs import Needs
from wreckwright.futures.rebuild import BoolArray, IntArray, LongArray, Worlds
from wreckwright.futures.supplies import BUYING_REMEDIES, Band3, PartNeed, Supply
from wreckwright.record.known import Known
from wreckwright.trade.types import Trade

FloatArray = npt.NDArray[np.float64]

COVER_MINUTES_LOG_SD = 0.25
OUTSIDE_WAIT_LOG_SD = 0.5
"""Spread of an outside answer's wait about the day that was named (judgement)."""

SUPPLIER_SHARE = 0.4
"""Share (rho) of what makes one parcel late that lies with its supplier: two lines of one supplier are late together
with this correlation of their normals (judgement)."""
MADE_PRICE_FACTOR = 1.5
"""A part made or adapted costs this many times what the second source would have (judgement)."""


class Stream:
    """Draws of one machine: fixes seed and number of futures."""

    def __init__(self, seed: int, n: int) -> None:
        self.seed = seed
        self.n = n

    def uniform(self, purpose: str, key: str) -> FloatArray:
        return uniforms(seed=self.seed, purpose=purpose, key=key, n=self.n)

    def normal(self, purpose: str, key: str) -> FloatArray:
        return normals(seed=self.seed, purpose=purpose, key=key, n=self.n)

    def band(self, purpose: str, key: str, band: Band3) -> FloatArray:
        """Draws of a three-point figure; a band without width is drawn without a stream."""
        if band[0] == band[2]:
            return np.full(self.n, band[1])
        return lognormal_from_band(*band).at(self.normal(purpose, key))


def draw_worlds(
    *, compiled: Compiled, known: Known, trade: Trade, needs: Needs, bad: Mapping[str, BoolArray],
    common: CommonFactors, money_overrun: FloatArray, time_overrun: FloatArray, stream: Stream,
) -> Worlds:
    """`bad`: component -> [F] whether it is bad in each future. Overruns: [F] factors of the outside view."""
    hands = common.pace * time_overrun
    level = common.price_level * money_overrun
    slot_minutes, slot_money = _draw_slots(compiled, trade, needs, bad, hands, level, stream)
    lead, wrong, second, wrong_minor, price = _draw_lines(compiled.lines, known, trade, common, level, stream)
    gate_ok = np.stack([_gate_yes(gate, bad, stream) for gate in compiled.bench], axis=1)
    fallback_ok, fallback_days, fallback_minor = _draw_ways(
        [(plan.key, plan.way) for plan in compiled.slots if plan.way is not None], trade, common, level, stream
    )
    outside = _draw_outside(compiled.outside, trade, common, level, bad, stream)
    return Worlds(
        minutes=_whole(np.stack(slot_minutes, axis=1)),
        attendance_permille=common.attendance_permille,
        cries=_draw_cries(compiled, bad, stream),
        foretells=_draw_foretells(compiled, gate_ok, stream),
        gate_ok=gate_ok,
        fallback_ok=fallback_ok,
        fallback_days=fallback_days,
        fallback_minor=fallback_minor,
        outside_days=outside[0],
        outside_ok=outside[1],
        outside_fallback_ok=outside[2],
        outside_fallback_days=outside[3],
        outside_fallback_minor=outside[4],
        lead_days=lead,
        wrong=wrong,
        second_lead_days=second,
        wrong_minor=wrong_minor,
        price_minor=price,
        slot_minor=_long(np.stack(slot_money, axis=1)),
    )


def _whole(minutes: FloatArray) -> IntArray:
    return np.clip(np.rint(minutes), 0, 1_000_000).astype(np.int32)


def _long(money: FloatArray) -> LongArray:
    return np.clip(np.rint(money), 0, 1e12).astype(np.int64)


def _draw_slots(
    compiled: Compiled, trade: Trade, needs: Needs, bad: Mapping[str, BoolArray], hands: FloatArray, level: FloatArray,
    stream: Stream,
) -> tuple[list[FloatArray], list[FloatArray]]:
    """Minutes of every slot, then of every cover off, then of every cover on; money of every slot."""
    minutes: list[FloatArray] = []
    money: list[FloatArray] = []
    lucks: dict[str, FloatArray] = {}
    for plan in compiled.slots:
        if plan.is_lump:
            lump_money, lump_minutes = _lump(needs, bad, stream.n)
            minutes.append(lump_minutes * hands)
            money.append(lump_money * level)
            continue
        minutes.append(_minutes(plan, lucks, stream) * hands)
        sum_drawn = stream.band("materials", plan.key, plan.materials_minor)
        money.append(sum_drawn if plan.materials_minor[0] == plan.materials_minor[2] else sum_drawn * level)
    for direction in ("off", "on"):
        for cover in compiled.covers:
            row = trade.covers[cover]
            likely = row.minutes_off if direction == "off" else row.minutes_on
            spread = np.exp(COVER_MINUTES_LOG_SD * stream.normal("cover minutes", f"{direction}/{cover}"))
            minutes.append(likely * spread * hands)
    return minutes, money


def _minutes(plan: SlotPlan, lucks: dict[str, FloatArray], stream: Stream) -> FloatArray:
    """Minutes of one slot before the common factors; `lucks` keeps the luck that several slots share."""
    low, likely, high = plan.minutes
    if low == high:
        return np.full(stream.n, likely)
    if plan.luck not in lucks:
        lucks[plan.luck] = stream.normal("minutes", plan.luck)
    return lognormal_from_band(low, likely, high).at(lucks[plan.luck])


def _lump(needs: Needs, bad: Mapping[str, BoolArray], n: int) -> tuple[FloatArray, FloatArray]:
    money = np.zeros(n)
    minutes = np.zeros(n)
    for component, (cost, time) in needs.small.items():
        money += bad[component] * cost
        minutes += bad[component] * time
    return money, minutes


def _draw_cries(compiled: Compiled, bad: Mapping[str, BoolArray], stream: Stream) -> BoolArray:
    columns: list[BoolArray] = []
    for slot, plan in zip(compiled.rebuild.slots, compiled.slots, strict=True):
        for entry in slot.exposes:
            component = compiled.rebuild.components[entry.component]
            truth = bad[component]
            if entry.sensitivity == 1.0 and entry.false_alarm == 0.0:
                columns.append(truth)
                continue
            u = stream.uniform("cry", f"{plan.key}/{component}")
            columns.append(np.where(truth, u < entry.sensitivity, u < entry.false_alarm))
    return np.stack(columns, axis=1) if columns else np.zeros((stream.n, 0), dtype=np.bool_)


def _draw_foretells(compiled: Compiled, gate_ok: BoolArray, stream: Stream) -> BoolArray:
    found = np.zeros((stream.n, len(compiled.slots)), dtype=np.bool_)
    for index, (slot, plan) in enumerate(zip(compiled.rebuild.slots, compiled.slots, strict=True)):
        if slot.rough_gate >= 0 and plan.look is not None:
            u = stream.uniform("foretell", plan.key)
            found[:, index] = ~gate_ok[:, slot.rough_gate] & (u < plan.look.rough_sensitivity)
    return found


def _gate_yes(gate: GateNeed, bad: Mapping[str, BoolArray], stream: Stream) -> BoolArray:
    if gate.answered_no:
        return np.zeros(stream.n, dtype=np.bool_)
    yes: BoolArray = stream.uniform("gate", gate.id) < gate.chance_yes
    for component in gate.fails_with:
        yes = yes & ~bad[component]
    return yes


def _lead_of(trade: Trade, lead_class: str) -> LeadTime:
    row = trade.lead_classes[lead_class]
    return LeadTime.from_days(median_days=row.median_days, p90_days=row.p90_days, never_chance=row.never_chance)


def _lead_luck(key: str, supplier: str, stream: Stream) -> FloatArray:
    """Uniform numbers for the wait of one line: by itself uniform, with that of the same supplier's other lines in
    step.

    The normal behind it is sqrt(rho) of the supplier's and sqrt(1 - rho) of the line's own, so it stays standard normal
    (a one-factor Gaussian copula: D. X. Li, J. Fixed Income 9(4), 2000, from memory).
    """
    if not supplier:
        return stream.uniform("lead", key)
    from scipy.special import ndtr

    shared, own = stream.normal("supplier", supplier), stream.normal("lead", key)
    z = math.sqrt(SUPPLIER_SHARE) * shared + math.sqrt(1.0 - SUPPLIER_SHARE) * own
    # Far out in the tail the distribution function rounds to 1, which no wait can be drawn from.
    return np.asarray(np.clip(ndtr(z), 2.0**-53, 1.0 - 2.0**-53), dtype=np.float64)


def _class_days(
    trade: Trade, lead_class: str, key: str, common: CommonFactors, stream: Stream, waited_days: int = 0,
    supplier: str = "",
) -> IntArray:
    return sample_days(
        u_time=_lead_luck(key, supplier, stream), u_never=stream.uniform("never", key), lead=_lead_of(trade,
        lead_class), waited_days=waited_days, delay_factor=common.supplier_delay,
    )


def _supply_days(
    supply: Supply, key: str, known: Known, trade: Trade, common: CommonFactors, stream: Stream, waited_days: int = 0
) -> IntArray:
    if supply.lead_class:
        return _class_days(trade, supply.lead_class, key, common, stream, waited_days, supply.supplier)
    return sample_mix_days(
        u_class=stream.uniform("supply", key), u_time=_lead_luck(key, supply.supplier, stream),
        u_never=stream.uniform("never", key),
        mix=genuine_mix(trade, known.age_years), waited_days=waited_days, delay_factor=common.supplier_delay,
    )


def genuine_mix(trade: Trade, age_years: int) -> SupplyMix:
    """How genuine parts for a machine of that age are supplied, quick kinds first."""
    steps = {row.machine_age_from_years for row in trade.supply_shares}
    from_years = max(step for step in steps if step <= age_years)
    rows = [row for row in trade.supply_shares if row.machine_age_from_years == from_years]
    rows.sort(key=lambda row: trade.lead_classes[row.lead_class].median_days)
    return SupplyMix(tuple(row.share for row in rows), tuple(_lead_of(trade, row.lead_class) for row in rows))


def _draw_lines(
    lines: tuple[PartNeed, ...], known: Known, trade: Trade, common: CommonFactors, level: FloatArray, stream: Stream
) -> tuple[IntArray, BoolArray, IntArray, LongArray, LongArray]:
    wrong_chance = {remedy: trade.money[f"wrong_chance_{remedy}"].figure.mid for remedy in BUYING_REMEDIES}
    wrong_cost = trade.money["wrong_cost_share"].figure.mid
    widest = max((len(part.supplies) for part in lines), default=1)
    shape = (stream.n, len(lines), widest)
    lead = np.zeros(shape, dtype=np.int32)
    wrong = np.zeros(shape, dtype=np.bool_)
    second = np.zeros(shape, dtype=np.int32)
    wrong_minor = np.zeros(shape, dtype=np.int64)
    price = np.zeros(shape, dtype=np.int64)
    for row, part in enumerate(lines):
        for column, supply in enumerate(part.supplies):
            key = f"{part.key}/{supply.remedy}"
            money = stream.band("price", key, supply.price_minor)
            if supply.price_minor[0] != supply.price_minor[2]:
                money = money * level
            first_is_open = column == 0 and part.already_ordered
            if first_is_open and part.here:
                price[:, row, column] = _long(money)
                continue
            days = _supply_days(supply, key, known, trade, common, stream, part.waited_days if first_is_open else 0)
            if column > 0:
                days, money = _or_made(supply, key, days, money, trade, common, stream)
            lead[:, row, column] = days
            price[:, row, column] = _long(money)
            wrong[:, row, column] = stream.uniform("wrong", key) < wrong_chance.get(supply.remedy, 0.0)
            second[:, row, column] = _supply_days(supply, f"{key}/again", known, trade, common, stream)
            wrong_minor[:, row, column] = _long(wrong_cost * money)
    return lead, wrong, second, wrong_minor, price


def _or_made(
    supply: Supply, key: str, days: IntArray, money: FloatArray, trade: Trade, common: CommonFactors, stream: Stream
) -> tuple[IntArray, FloatArray]:
    """A second source that fails too is not the end: one has the part made or adapted, later and dearer.

    Only where that does not work either does the part never come.
    """
    made = _class_days(trade, "specialist_service", f"{key}/made", common, stream)
    failed = days < 0
    late = np.where(made < 0, made, made + supply.cancel_days)
    return np.where(failed, late, days).astype(np.int32), np.where(failed, MADE_PRICE_FACTOR * money, money)


def _draw_ways(
    ways: list[tuple[str, Way]], trade: Trade, common: CommonFactors, level: FloatArray, stream: Stream
) -> tuple[BoolArray, IntArray, LongArray]:
    ok = np.zeros((stream.n, len(ways)), dtype=np.bool_)
    days = np.zeros((stream.n, len(ways)), dtype=np.int32)
    money = np.zeros((stream.n, len(ways)), dtype=np.int64)
    for column, (key, way) in enumerate(ways):
        ok[:, column], days[:, column], money[:, column] = _draw_way(key, way, trade, common, level, stream)
    return ok, days, money


def _draw_way(
    key: str, way: Way, trade: Trade, common: CommonFactors, level: FloatArray, stream: Stream
) -> tuple[BoolArray, IntArray, LongArray]:
    works: BoolArray = stream.uniform("way works", key) < way.chance
    if way.lead_class:
        days = _class_days(trade, way.lead_class, key, common, stream)
        never = days < 0
        works = works & ~never
        days = np.where(never, trade.lead_classes[way.lead_class].cancel_days, days).astype(np.int32)
    else:
        days = np.full(stream.n, round(way.wait_days), dtype=np.int32)
    certain = way.price_minor[0] == way.price_minor[2]
    money = stream.band("way price", key, way.price_minor)
    return works, days, _long(money if certain else money * level)


def _draw_outside(
    gates: tuple[GateNeed, ...], trade: Trade, common: CommonFactors, level: FloatArray, bad: Mapping[str, BoolArray],
    stream: Stream,
) -> tuple[IntArray, BoolArray, BoolArray, IntArray, LongArray]:
    n, most = stream.n, max((len(gate.ways) for gate in gates), default=0)
    days = np.zeros((n, len(gates)), dtype=np.int32)
    ok = np.zeros((n, len(gates)), dtype=np.bool_)
    way_ok = np.zeros((n, len(gates), most), dtype=np.bool_)
    way_days = np.zeros((n, len(gates), most), dtype=np.int32)
    way_minor = np.zeros((n, len(gates), most), dtype=np.int64)
    for column, gate in enumerate(gates):
        wait = _outside_wait(gate, trade, common, stream)
        # An answer that never comes is a no on the day on which one stops waiting for it.
        ok[:, column] = _gate_yes(gate, bad, stream) & (wait >= 0)
        days[:, column] = np.where(wait >= 0, wait, _patience_days(gate, trade))
        for number, way in enumerate(gate.ways):
            way_ok[:, column, number], way_days[:, column, number], way_minor[:, column, number] = _draw_way(
                f"way:{gate.id}:{number}", way, trade, common, level, stream
            )
    return days, ok, way_ok, way_days, way_minor


def _patience_days(gate: GateNeed, trade: Trade) -> int:
    return trade.lead_classes[gate.lead_class].cancel_days if gate.lead_class else 0


def _outside_wait(gate: GateNeed, trade: Trade, common: CommonFactors, stream: Stream) -> IntArray:
    if gate.answered_no:
        return np.zeros(stream.n, dtype=np.int32)
    if gate.wait_days is not None:
        spread = np.exp(OUTSIDE_WAIT_LOG_SD * stream.normal("answer", gate.id))
        return np.ceil(gate.wait_days * spread).astype(np.int32)
    if gate.lead_class:
        return _class_days(trade, gate.lead_class, f"answer/{gate.id}", common, stream)
    return np.ones(stream.n, dtype=np.int32)
