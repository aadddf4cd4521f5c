"""Mounts, parking, after the ride, preconditions, helpers and cautions: the facts of the trade."""

from __future__ import annotations

import pytest

from wreckwright.trade.graph import find_circle, opening_order
from wreckwright.trade.load import load_trade
from wreckwright.trade.mirror import mirror_trade
from wreckwright.trade.types import Trade

TURNED = load_trade(mirrored=True)
BOTH = pytest.mark.parametrize("data", [load_trade(), TURNED], ids=["usual", "mirrored"])


@BOTH
def test_the_engine_is_supported_before_a_bolt_that_carries_it_comes_out(data: Trade) -> None:
    # common practice: engine out, swing arm out, bare frame, mount bolts; found in the tables, not listed here.
    takes_bolts_out = {"engine_out", "swingarm_out", "frame_bare"}
    for cover in data.covers:
        order = opening_order(data.covers, [cover])
        loose = [at for at, name in enumerate(order) if name in takes_bolts_out]
        if loose:
            assert order.index("engine_support") < min(loose), cover
    reached = {
        name for name, row in data.components.items() if takes_bolts_out & set(opening_order(data.covers, row.covers))
    }
    assert reached >= {"frame_head", "frame_spars", "swingarm", "crankcase", "bottom_end"}
    for name in reached | {"engine_mounts"}:
        assert "engine_support" in opening_order(data.covers, data.components[name].covers), name
    assert {"engine_mounts", "engine_out", "swingarm_out", "frame_bare"} <= set(data.cautions["engine_held"].applies_to)


@BOTH
def test_mounts_are_known_and_never_in_a_circle(data: Trade) -> None:
    for name, row in data.mounted_on.items():
        assert name == row.component and name in data.components
        assert row.mounts and set(row.mounts) <= data.components.keys() and name not in row.mounts
    assert find_circle({name: row.mounts for name, row in data.mounted_on.items()}) == ()


def test_what_hangs_on_what(trade: Trade) -> None:
    # common practice.
    mounts = {name: row.mounts for name, row in trade.mounted_on.items()}
    assert mounts["headlamp"] == ("cowl_bracket",)
    assert mounts["lever_brake_front"] == ("master_cyl_front",)
    assert mounts["handlebar"] == ("bar_clamps",)
    assert mounts["front_wheel"] == ("front_axle",)
    assert mounts["shift_lever"] == ("rearset_l",)
    assert "brake_hoses" in mounts["brake_fluid"] and "radiator" in mounts["coolant_fluid"]
    assert TURNED.mounted_on["shift_lever"].mounts == ("rearset_r",)


def test_two_are_needed_only_where_it_truly_takes_two(trade: Trade) -> None:
    # common practice: an engine, and a frame built up or bared; whatever one person does alone waits for nobody.
    assert {name for name, row in trade.covers.items() if row.helper} == {"engine_out", "frame_bare"}
    helped = {key for key, steps in trade.job_steps.items() if any(step.helper for step in steps)}
    assert helped == {("frame_head", "buy"), ("frame_spars", "buy")}
    assert [name for name, gate in trade.gates.items() if gate.helper] == ["runs"]
    assert "helper at the stop switch" in trade.gates["runs"].guards


def test_covers_are_named_both_ways(trade: Trade) -> None:
    names = [row.name_on for row in trade.covers.values()]
    assert all(names) and len(set(names)) == len(names)
    assert not set(names) & {row.name for row in trade.covers.values()}
    assert TURNED.covers["fairing_l_off"].name_on == "Left side panel or fairing on"


def test_parking_asks_more_the_longer_it_stands(trade: Trade) -> None:
    assert [row.order for row in trade.parking] == sorted({row.order for row in trade.parking})
    assert len({row.id for row in trade.parking}) == len(trade.parking)
    by_id = {row.id: row for row in trade.parking}
    # common practice: what could fall in or over is seen to at once, batteries within weeks, bores for months.
    assert by_id["ports_shut"].from_days == by_id["machine_stands"].from_days == 0
    assert by_id["battery_off"].from_days < by_id["weight_off_tyres"].from_days < by_id["bores_oiled"].from_days
    assert (by_id["calipers_hung"].when, by_id["battery_kept"].when) == ("calipers_off", "battery_out")
    assert by_id["ports_shut"].when == "ports_open"


def test_after_the_ride_each_row_is_due_by_one_measure(trade: Trade) -> None:
    ids = [row.id for row in trade.after_ride]
    assert len(set(ids)) == len(ids)
    for row in trade.after_ride:
        assert (row.heat_cycles > 0) != (row.distance_km > 0)
        assert row.minutes > 0 and (not row.component or row.component in trade.components)
        assert set(row.cautions) <= trade.cautions.keys()
    due = {row.component: row for row in trade.after_ride}
    # common practice: mounts and header nuts after the first warm-up, brakes within the first kilometres.
    assert due["engine_mounts"].heat_cycles == due["exhaust_header"].heat_cycles == 1
    assert due["brake_hoses"].distance_km <= 20
    assert due["chain_sprockets"].distance_km > 0


@BOTH
def test_preconditions(data: Trade) -> None:
    rows = data.preconditions
    assert list(rows) == ["rolls", "steers", "number_readable", "battery_up"]
    assert {"front_wheel", "rear_wheel", "wheel_bearings"} <= set(rows["rolls"].components)
    assert {"front_wheel_out", "rear_wheel_out"} <= set(rows["rolls"].covers_on)
    assert {"handlebar", "head_bearings"} <= set(rows["steers"].components)
    assert rows["number_readable"].components == ("frame_number",)
    assert "never grind" in rows["number_readable"].job
    assert rows["battery_up"].covers_on == ("battery_out",)
    for row in rows.values():
        assert row.question.endswith("?") and row.minutes > 0


def test_what_a_life_hangs_on_is_the_weightiest(trade: Trade) -> None:
    heavy = {row.id for row in trade.cautions.values() if row.weight == 3}
    assert heavy >= {"fuel_vapour", "lifting", "brake_work", "steering_work", "engine_held", "springs"}
    # common practice: every ride-stop part of brakes and steering has a caution of that weight.
    spoken = {what for row in trade.cautions.values() if row.weight == 3 for what in row.applies_to}
    for name, row in trade.components.items():
        if row.fit_to_ride in ("brakes", "steering") and row.ride == "stop":
            assert name in spoken, name


def test_mirroring_twice_gives_the_same_work(trade: Trade) -> None:
    again = mirror_trade(TURNED)
    assert again.mounted_on == trade.mounted_on
    assert again.after_ride == trade.after_ride
    assert again.preconditions == trade.preconditions
