"""The regions of the walk-round: every component in one of them, in words, and on the right flank when mirrored."""

from __future__ import annotations

import re
from typing import Any

import pytest

from wreckwright.errors import TradeDataError
from wreckwright.trade.load import load_trade
from wreckwright.trade.mirror import mirror_trade
from wreckwright.trade.types import Trade

TURNED = load_trade(mirrored=True)


def inside(trade: Trade, station: str) -> dict[str, tuple[str, ...]]:
    return {row.region: row.components for row in trade.station_regions[station]}


@pytest.mark.parametrize("data", [load_trade(), TURNED], ids=["usual", "mirrored"])
def test_every_component_of_a_station_is_in_one_region(data: Trade) -> None:
    assert list(data.station_regions) == list(data.stations)
    for station, row in data.stations.items():
        listed = [component for region in data.station_regions[station] for component in region.components]
        assert sorted(listed) == sorted(row.components)
        assert len(listed) == len(set(listed))


@pytest.mark.parametrize("data", [load_trade(), TURNED], ids=["usual", "mirrored"])
def test_four_to_seven_regions_in_their_order_none_empty(data: Trade) -> None:
    for regions in data.station_regions.values():
        # common practice of this tool: so many find room for a finger in one picture of a telephone's width.
        assert 4 <= len(regions) <= 7
        assert [row.order for row in regions] == sorted({row.order for row in regions})
        assert all(row.components for row in regions)


def test_regions_have_plain_names_and_say_where_they_come_from(trade: Trade) -> None:
    for regions in trade.station_regions.values():
        for row in regions:
            assert re.fullmatch(r"[A-Z][a-z]+[A-Za-z ,:-]*", row.name), row.name
            assert len(row.name) <= 40
            assert row.basis


def test_what_belongs_together_is_seen_together(trade: Trade) -> None:
    # common practice: what a person squatting before the wheel, or sitting on it, calls one thing.
    assert set(inside(trade, "nose_on")["legs"]) >= {"fork_tube_l", "fork_tube_r", "fork_seals"}
    assert set(inside(trade, "astride")["right_hand"]) >= {"lever_brake_front", "throttle_grip_r", "master_cyl_front"}
    assert inside(trade, "seat_up")["battery"] == ("battery",)


def test_mirrored_regions_go_with_their_components() -> None:
    left, right = inside(TURNED, "left_flank"), inside(TURNED, "right_flank")
    # hand-worked: chain and stand move as wholes; of the footrest's region the lever moves and the footrest stays.
    assert {"chain", "stand"} <= set(right) and not {"chain", "stand"} & set(left)
    assert {"pedal", "brake", "silencer"} <= set(left) and not {"pedal", "brake", "silencer"} & set(right)
    assert "shift_lever" in right["footrest"] and "peg_r" in right["footrest"]
    assert left["footrest"] == ("rearset_l", "peg_l")
    assert left["frame"] == inside(load_trade(), "left_flank")["frame"]
    names = {row.region: row.name for row in TURNED.station_regions["right_flank"]}
    assert names["footrest"] == "Footrest and gear lever"
    assert names["engine"] == "Engine cover and water pump"


def test_mirroring_twice_gives_the_same_regions(trade: Trade) -> None:
    assert mirror_trade(TURNED).station_regions == trade.station_regions


def region(**cells: Any) -> dict[str, Any]:
    return {"station_regions": [{"station": "on_knees", "region": "sump", **cells}]}


BROKEN: dict[str, tuple[dict[str, Any], str]] = {
    "component of another station": (region(components="oil_pan; seat"), "no component seen from on_knees"),
    "misspelt component": (region(components="oil_pn"), "'oil_pan'"),
    "component in two regions": (region(components="oil_pan; engine_oil"), "'engine_oil' stands there twice"),
    "empty region": (region(components=""), "oil_pan lies in no region"),
    "one place for two": (region(order=1), "order '1' stands there twice"),
    "one name for two": (region(name="Engine oil"), "'Engine oil' stands there twice"),
    "unknown station": (
        {"station_regions": [{"station": "roof", "region": "top", "order": 1, "name": "Top", "components": "seat"}]},
        "which is no station",
    ),
    "eight regions": (
        {"station_regions": [
            {"station": "nose_on", "region": "horn", "order": 9, "name": "Horn", "components": "horn"},
        ]},
        "8 regions",
    ),
    "region that only half moves": (
        {"station_regions": [
            {"station": "left_flank", "region": "stand", "components": "side_stand; side_stand_switch; frame_spars"},
            {"station": "left_flank", "region": "frame", "components": "coolant_hoses; coolant_bottle"},
        ]},
        "left_flank / stand",
    ),
}


@pytest.mark.parametrize(("pack", "says"), BROKEN.values(), ids=BROKEN.keys())
def test_regions_that_do_not_hold_together_are_refused(pack: dict[str, Any], says: str) -> None:
    with pytest.raises(TradeDataError) as caught:
        load_trade(packs=[pack])
    assert says in str(caught.value)
    assert caught.value.what and caught.value.allowed and caught.value.do


def test_a_component_added_to_a_station_needs_a_region() -> None:
    with pytest.raises(TradeDataError, match="wiring_loom lies in no region"):
        load_trade(packs=[{"stations": [{"id": "on_knees", "components": [
            "oil_pan", "exhaust_header", "engine_oil", "crankcase", "wiring_loom",
        ]}]}])


def test_a_pack_may_put_it_into_one() -> None:
    pack = {
        "stations": [{"id": "on_knees", "components": "oil_pan; exhaust_header; engine_oil; crankcase; wiring_loom"}],
        "station_regions": [{
            "station": "on_knees", "region": "loom", "order": 5, "name": "Loom", "components": "wiring_loom",
        }],
    }
    found = load_trade(packs=[pack], mirrored=True).station_regions["on_knees"]
    assert found[-1].components == ("wiring_loom",)
    assert found[-1].basis == "owner's model pack"


def test_what_to_take_care_of_stands_at_its_station(trade: Trade) -> None:
    at = {station: [row.text for row in trade.cautions.values() if station in row.applies_to]
          for station in trade.stations}
    assert any("side stand" in text for text in at["on_knees"])
    assert any("battery" in text and "flame" in text for text in at["seat_up"])
    assert any("battery" in row.applies_to for row in trade.cautions.values())
