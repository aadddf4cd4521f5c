"""What a machine fetches in each future: finished, as it stands, in pieces."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from wreckwright.futures.compile import Compiled
from wreckwright.futures.draws import CommonFactors
from wreckwright.futures.needs import Needs, money_mean
from wreckwright.futures.scene import Market
from wreckwright.futures.world_draws import Stream
from wreckwright.futures.worth import LAST_GATE
from wreckwright.record.known import YES_IN_THE_END, Known
from wreckwright.trade.types import Trade

FloatArray = npt.NDArray[np.float64]

AS_IT_STANDS_SHARE = (0.60, 0.80)
"""What buyers of projects pay before any question is answered, and once all are: this share of the finished price, in
even steps, less the repair money that they must expect (judgement: the rest is their risk and their trouble)."""
SELLING_CURVE_DAYS = (30, 90, 180, 365)
"""Days at which the trade data says how much of a parted machine has been sold; the rest never sells."""


@dataclass(frozen=True, kw_only=True)
class Expected:
    """What the policy expects before any draw: by number of bench gates passed, and in pieces. Minor units, minutes."""

    as_it_stands_minor: tuple[int, ...]
    part_out_minor: int
    part_out_minutes: int


def expected_sales(
    known: Known, trade: Trade, needs: Needs, gate_ids: tuple[str, ...], cause_chance: Mapping[str, float]
) -> Expected:
    """`gate_ids`: the bench gates still open, in order; one more price than gates."""
    sale = _sale_likely(known, trade, needs)
    floor = trade.money["as_it_stands_share"].figure.low * known.sound_value_minor[1]
    first, last = AS_IT_STANDS_SHARE
    steps: list[int] = []
    # What the record answers already has been passed like any other: the price must not fall by writing it down.
    before = _bench_answered(known, trade)
    for passed in range(len(gate_ids) + 1):
        share = first + (last - first) * (before + passed) / (before + len(gate_ids))
        steps.append(round(max(share * sale - repair_left_minor(needs, gate_ids, passed), floor, *steps)))
    own = known.machine.market.as_it_stands_minor
    if own is not None:
        steps = [own, *(max(own, step) for step in steps[1:])]
    sold = trade.money[f"part_out_sold_by_day_{SELLING_CURVE_DAYS[-1]}"].figure.mid
    gross = _part_out_share(trade, cause_chance) * known.sound_value_minor[1]
    money = round(gross * sold * (1.0 - trade.money["part_out_selling_share"].figure.mid))
    if known.machine.market.part_out_minor is not None:
        money = known.machine.market.part_out_minor
    strip = trade.money["part_out_strip_hours"].figure.mid
    each = trade.money["part_out_hours_per_item"].figure.mid
    items = trade.money["part_out_items"].figure.mid
    return Expected(
        as_it_stands_minor=tuple(steps), part_out_minor=money, part_out_minutes=round(60.0 * (strip + each * items))
    )


def _bench_answered(known: Known, trade: Trade) -> int:
    """Bench gates that the record answers in the end with yes; the road test never is."""
    found = 0
    for gate in known.gates:
        template = trade.gates.get(gate.template)
        kind = template.kind if template is not None else gate.kind or "bench"
        found += kind == "bench" and gate.template != LAST_GATE and gate.answer in YES_IN_THE_END
    return found


def repair_left_minor(needs: Needs, gate_ids: tuple[str, ...], passed: int) -> float:
    """Expected money for all that is not done once `passed` gates are: what waits for a later gate, hidden work weighed
    by its chance."""
    left = needs.lump_mean[0]
    for need in (*needs.known, *needs.hidden):
        gate = gate_ids.index(need.before_gate) if need.before_gate in gate_ids else len(gate_ids) - 1
        if gate >= passed:
            left += need.chance * money_mean(need)
    return left


def draw_market(
    *, known: Known, trade: Trade, needs: Needs, compiled: Compiled, expected: Expected, common: CommonFactors,
    stream: Stream,
) -> Market:
    money = trade.money
    low, likely_value, high = known.sound_value_minor
    sound = stream.band("sale", "sound value", (float(low), float(likely_value), float(high)))
    branded = sound * common.sale_market * (1.0 - _brand_off(known, trade, stream))
    sale = np.maximum(branded - needs.left_as_is_minor, 0.0)
    likely = max(_sale_likely(known, trade, needs), 1.0)
    hardness = np.exp(0.15 * stream.normal("sale", "as it stands"))
    relative = (sale / likely * hardness)[:, None]
    as_it_stands = np.rint(np.asarray(expected.as_it_stands_minor)[None, :] * relative).astype(np.int64)
    if known.machine.market.as_it_stands_minor is not None:
        as_it_stands[:, 0] = known.machine.market.as_it_stands_minor
    pieces = np.exp(0.25 * stream.normal("sale", "part out")) * common.sale_market
    part_out = np.rint(expected.part_out_minor * pieces).astype(np.int64)
    if known.machine.market.part_out_minor is not None:
        part_out[:] = known.machine.market.part_out_minor
    part_minutes = np.rint(expected.part_out_minutes * common.pace).astype(np.int32)
    days = stream.band("sale", "days", (known.days_to_sell / 3.0, known.days_to_sell, known.days_to_sell * 3.0))
    # A machine that is kept is worth what it would fetch, but nobody waits for a buyer or pays for finding one.
    keeps = known.machine.owner.aim == "keep"
    hour = float(known.workshop_hour_minor)
    steps: tuple[tuple[int, float], ...] = ()
    flat = minimum = fixed = 0
    if not known.bought:
        fixed = known.freight_minor + (known.fees_minor or 0)
        if known.at_auction and known.fees_minor is None:
            steps = tuple((round(step.from_hours * hour), step.rate) for step in trade.fee_steps)
            flat = round(money["fee_flat_hours"].figure.mid * hour)
            minimum = round(money["fee_minimum_hours"].figure.mid * hour)
    return Market(
        sale_minor=np.rint(sale).astype(np.int64),
        season_factor=season_by_month(trade),
        selling_share=0.0 if keeps else known.selling_share,
        days_to_sell=np.zeros(stream.n, np.int32) if keeps else np.clip(np.ceil(days), 0, 3650).astype(np.int32),
        left_undone_minor=tuple(plan.need.worth_minor if plan.need is not None else 0 for plan in compiled.slots),
        as_it_stands_minor=as_it_stands,
        days_to_sell_as_it_stands=round(money["days_to_sell_as_it_stands"].figure.mid),
        part_out_minor=part_out,
        part_out_minutes=part_minutes,
        part_out_days=round(money["part_out_days"].figure.mid),
        part_out_listings=round(money["part_out_items"].figure.mid),
        part_out_curve=selling_curve(trade),
        holding_day_minor=known.holding_day_minor,
        sunk_minor=known.sunk_minor,
        entry_fixed_minor=fixed,
        fee_steps=steps,
        fee_flat_minor=flat,
        fee_minimum_minor=minimum,
    )


def selling_curve(trade: Trade) -> tuple[tuple[int, float], ...]:
    """(day, share of the parting-out money that is in by then); the last day has all that ever comes in."""
    shares = [trade.money[f"part_out_sold_by_day_{day}"].figure.mid for day in SELLING_CURVE_DAYS]
    return tuple((day, share / shares[-1]) for day, share in zip(SELLING_CURVE_DAYS, shares, strict=True))


def season_by_month(trade: Trade) -> tuple[float, ...]:
    """Twelve monthly factors from the trade's four quarterly ones."""
    return tuple(trade.money[f"season_q{1 + month // 3}"].figure.mid for month in range(12))


def _brand_off(known: Known, trade: Trade, stream: Stream) -> FloatArray:
    band = trade.brand_discounts[known.brand].share_off
    if band.high <= 0.0:
        return np.zeros(stream.n)
    # A discount band may start at 0, which a log-normal cannot: the triangular inverse keeps low, mid and high.
    u = stream.uniform("sale", "brand")
    low, mid, high = band.low, band.mid, band.high
    turn = (mid - low) / (high - low)
    below = low + np.sqrt(u * (high - low) * (mid - low))
    above = high - np.sqrt((1.0 - u) * (high - low) * (high - mid))
    return np.asarray(np.where(u < turn, below, above))


def _sale_likely(known: Known, trade: Trade, needs: Needs) -> float:
    off = trade.brand_discounts[known.brand].share_off.mid
    return known.sound_value_minor[1] * (1.0 - off) - needs.left_as_is_minor


def _part_out_share(trade: Trade, cause_chance: Mapping[str, float]) -> float:
    """Gross yield in pieces, by what happened: the kinds of the trade data weighted by their chances."""
    share = 0.0
    rest = 1.0
    for figure, causes in PART_OUT_KINDS.items():
        p = min(sum(cause_chance.get(cause, 0.0) for cause in causes), rest)
        share += p * trade.money[figure].figure.mid
        rest -= p
    return share + rest * trade.money["part_out_undamaged"].figure.mid


PART_OUT_KINDS: Mapping[str, tuple[str, ...]] = {
    "part_out_water": ("water_flood", "fire_electrical"),
    "part_out_frontal": ("frontal_impact", "highside_tumble"),
    "part_out_slide": (
        "lowside_left", "lowside_right", "struck_side_left", "struck_side_right", "rear_impact",
        "standstill_drop_left", "standstill_drop_right", "unfinished_stripdown", "long_storage", "theft_recovery",
        "bad_repair",
    ),
}
