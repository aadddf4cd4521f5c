"""Small hand-made futures, so that the answers can be tested without drawing or playing anything."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from wreckwright.futures.policy import NOW, Policy
from wreckwright.futures.rebuild import BenchGate, Line, OutsideGate, Played, Rebuild, Slot, Source, Worlds
from wreckwright.futures.scene import Futures, Guess, Market

DAYS = 1500


def toy_rebuild(
    *, stages: int = 1, lines: tuple[Line, ...] = (), outside: tuple[str, ...] = (), days: int = DAYS,
    as_it_stands_minor: tuple[int, ...] | None = None, part_out_minor: int = 0, part_out_minutes: int = 0,
    gates: tuple[str, ...] = (),
) -> Rebuild:
    """One job and one gate test a stage: slots 0..S-1 are jobs, S..2S-1 gate tests. Two hours are planned every day."""
    names = gates or tuple(f"question {k}" for k in range(stages))
    jobs = tuple(
        Slot(name=f"job {k}", kind="job", stage=k, needed_by=k,
             lines=tuple(index for index, line in enumerate(lines) if line.slot == k))
        for k in range(stages)
    )
    tests = tuple(Slot(name=names[k], kind="gate", stage=k, needed_by=k) for k in range(stages))
    return Rebuild(
        slots=jobs + tests, covers=(),
        bench_gates=tuple(BenchGate(name=names[k], stage=k, slot=stages + k) for k in range(stages)),
        outside_gates=tuple(OutsideGate(name=name) for name in outside), lines=lines, components=(),
        cumulative_minutes=np.arange(days + 1, dtype=np.int64) * 120, big_find_minor=1,
        as_it_stands_minor=as_it_stands_minor or (0,) * (stages + 1), part_out_minor=part_out_minor,
        part_out_minutes=part_out_minutes,
    )


def toy_line(*, slot: int = 0, name: str = "part", **over: Any) -> Line:
    source = Source(name="shop", cancel_days=30, refund_permille=over.pop("refund", 1000),
                    resale_permille=over.pop("resale", 500))
    return Line(name=name, slot=slot, sources=(source,), **over)


def toy_futures(n: int = 4, *, rebuild: Rebuild | None = None, **over: Any) -> Futures:
    """`n` futures that all finish on day 10 after 600 minutes and sell for 1,000.00 the same day.

    `over` replaces fields of `Futures`, `Market`, `Played` or `Worlds` by name; a single number where an array belongs
    is spread over it.
    """
    rebuild = rebuild or toy_rebuild()
    stages, slots, lines = rebuild.n_stages, len(rebuild.slots), len(rebuild.lines)
    epochs = 3 * stages

    def full(value: int | float | bool, *shape: int, dtype: Any = np.int64) -> Any:
        return np.full((n, *shape), value, dtype=dtype)

    a_line = (lines, max([len(line.sources) for line in rebuild.lines], default=1))
    parts: dict[str, dict[str, Any]] = {
        "worlds": {
            "minutes": full(60, slots, dtype=np.int32), "attendance_permille": full(1000, dtype=np.int32),
            "cries": full(False, 0, dtype=bool), "foretells": full(False, slots, dtype=bool),
            "gate_ok": full(True, stages, dtype=bool), "fallback_ok": full(True, 0, dtype=bool),
            "fallback_days": full(0, 0, dtype=np.int32), "fallback_minor": full(0, 0),
            "outside_days": full(0, len(rebuild.outside_gates), dtype=np.int32),
            "outside_ok": full(True, len(rebuild.outside_gates), dtype=bool),
            "outside_fallback_ok": full(True, len(rebuild.outside_gates), 0, dtype=bool),
            "outside_fallback_days": full(0, len(rebuild.outside_gates), 0, dtype=np.int32),
            "outside_fallback_minor": full(0, len(rebuild.outside_gates), 0),
            "lead_days": full(5, *a_line, dtype=np.int32), "wrong": full(False, *a_line, dtype=bool),
            "second_lead_days": full(5, *a_line, dtype=np.int32), "wrong_minor": full(0, *a_line),
            "price_minor": full(10_000, *a_line), "slot_minor": full(0, slots),
        },
        "played": {
            "status": full(0, dtype=np.int8), "reason": full(-1, dtype=np.int32), "clock": full(1200),
            "day": full(10, dtype=np.int32), "hands_on_minutes": full(600), "out_minor": full(0),
            "resale_minor": full(0), "gate_day": full(10, stages, dtype=np.int32),
            "fell_back": full(False, stages, dtype=bool), "order_day": full(0, lines, dtype=np.int32),
            "left_undone": full(False, slots, dtype=bool), "done": full(True, slots, dtype=bool),
            "known_bad": full(False, 0, dtype=bool), "waited_minutes": full(0, slots + len(rebuild.outside_gates)),
            "epoch_reached": full(False, epochs, dtype=bool), "epoch_day": full(-1, epochs, dtype=np.int32),
            "epoch_out_minor": full(0, epochs), "epoch_resale_minor": full(0, epochs),
            "epoch_minutes": full(0, epochs), "epoch_features": full(0.0, epochs, 7, dtype=np.float64),
        },
        "market": {
            "sale_minor": full(100_000), "season_factor": (1.0,) * 12, "selling_share": 0.0,
            "days_to_sell": full(0, dtype=np.int32), "left_undone_minor": (0,) * slots,
            "as_it_stands_minor": np.tile(np.asarray(rebuild.as_it_stands_minor, dtype=np.int64), (n, 1)),
            "days_to_sell_as_it_stands": 0, "part_out_minor": full(rebuild.part_out_minor),
            "part_out_minutes": full(rebuild.part_out_minutes, dtype=np.int32), "part_out_days": 0,
            "holding_day_minor": 0, "sunk_minor": 0, "entry_fixed_minor": 0, "fee_steps": (), "fee_flat_minor": 0,
            "fee_minimum_minor": 0, "part_out_listings": 0, "part_out_curve": (),
        },
        "futures": {
            "nickname": "Bramble", "currency": "EUR", "as_of": "2025-03-01", "bought": True, "price_minor": None,
            "accepted_loss_chance": 0.2, "hour_value_minor": 0, "wanted_pay_minor": 0,
            "guesses": (Guess(field="market.days_to_sell", value="30 days", basis="common practice"),),
            "drivers": {}, "damage": {}, "scenario": {}, "lump_minor": 0,
        },
    }
    for name, value in over.items():
        # `price_minor` is a field of both: that of the lines is replaced by hand.
        fields = next(parts[part] for part in ("futures", "market", "played", "worlds") if name in parts[part])
        was = fields[name]
        if isinstance(was, np.ndarray):
            value = np.broadcast_to(np.asarray(value, dtype=was.dtype), was.shape).copy()
        fields[name] = value
    policy = Policy(
        line_source=(0,) * lines, line_trigger=(NOW,) * lines, plan_b_source=(-1,) * lines,
        plan_b_after_days=(-1,) * lines, stage=tuple(slot.stage for slot in rebuild.slots),
        rank=tuple(range(slots)), looks=(True,) * slots,
    )
    return Futures(
        rebuild=rebuild, worlds=Worlds(**parts["worlds"]), policy=policy, played=Played(**parts["played"]),
        market=Market(**parts["market"]), **parts["futures"],
    )


def mixed_futures(n: int = 4000, *, seed: int = 3, **over: Any) -> Futures:
    """Two stages, all kinds of ends, spread money: something like a real machine, drawn with a plain generator."""
    rng = np.random.default_rng(seed)
    rebuild = toy_rebuild(
        stages=2, lines=(toy_line(slot=0, name="water-pump cover"), toy_line(slot=1, name="front rim")),
        outside=("papers",), as_it_stands_minor=(90_000, 120_000, 150_000), part_out_minor=130_000,
        part_out_minutes=2400, gates=("does it turn over", "fit to ride"),
    )
    pace = np.exp(0.25 * rng.standard_normal(n))
    market_level = np.exp(0.12 * rng.standard_normal(n))
    turns = rng.random(n) < 0.85
    late = rng.random(n) < 0.03
    status = np.where(~turns, 1, np.where(late, 4, 0))
    day = np.where(turns, np.where(late, DAYS, np.rint(120 * pace)), 20).astype(np.int32)
    spend = np.rint(np.where(turns, 90_000, 20_000) * np.exp(0.3 * rng.standard_normal(n)))
    waited = np.zeros((n, 5))
    waited[:, 0] = 600
    waited[:, 4] = np.where(turns, 1800, 0)
    reached = np.zeros((n, 6), dtype=bool)
    reached[:, 1] = ~turns
    reached[:, 2] = turns
    features = np.zeros((n, 6, 7))
    features[:, :, 0] = 1.0
    features[:, 2, 1] = spend / 100_000
    features[:, 2, 4] = (spend / 100_000) ** 2
    values: dict[str, Any] = {
        "rebuild": rebuild, "status": status, "reason": np.where(turns, -1, 0), "day": day,
        "hands_on_minutes": np.rint(np.where(turns, 3600, 600) * pace), "out_minor": spend,
        "gate_day": np.where(turns[:, None], np.stack([np.full(n, 20), np.where(late, -1, day)], axis=1), -1),
        "sale_minor": np.rint(380_000 * market_level), "selling_share": 0.04, "days_to_sell": 30,
        "as_it_stands_minor": np.rint(np.asarray([90_000, 120_000, 150_000]) * market_level[:, None]),
        "part_out_minor": np.rint(130_000 * market_level), "days_to_sell_as_it_stands": 20, "part_out_days": 90,
        "holding_day_minor": 120, "sunk_minor": 110_000 if over.get("bought", True) else 0, "price_minor": 95_000,
        "hour_value_minor": 1200,
        "wanted_pay_minor": 1000, "waited_minutes": waited, "epoch_reached": reached,
        "epoch_day": np.where(reached, 20, -1), "epoch_out_minor": np.where(reached, 15_000, 0),
        "epoch_minutes": np.where(reached, 600, 0), "epoch_features": features,
        "drivers": {"own pace": pace, "what it sells for": market_level, "question: does it turn over": (~turns) * 1.0},
        "damage": {"fork_tube_r": 0.41, "clutch_lever": 0.97, "head_bearings": 0.12, "horn": 0.01},
        "scenario": {"lowside_right": 0.93, "only_worn": 0.07}, "lump_minor": 4_000,
    }
    values.update(over)
    return toy_futures(n, **values)


def repriced(futures: Futures, price_minor: int) -> Futures:
    return replace(futures, price_minor=price_minor)
