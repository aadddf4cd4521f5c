"""The parking card. Rows are the test's own; which conditions hold is hand-worked."""

from __future__ import annotations

import pytest

from tests.answers.plain import TRADE, known, trade
from wreckwright.answers.parking import long_wait
from wreckwright.trade.types import Parking

CONDITIONS = ("always", "ports_open", "engine_turned", "battery_in", "battery_out", "tank_on", "tyres_loaded",
              "calipers_off")
ROWS = trade(parking=tuple(
    Parking(id=when, order=index, words=when, from_days=30 if when == "tank_on" else 21, when=when,  # type: ignore[arg-type]
            basis="common practice")
    for index, when in enumerate(CONDITIONS)
))


def said(days: int = 40, *, off: tuple[str, ...] = (), **over: object) -> tuple[str, ...]:
    found = long_wait(known(**over), ROWS, days=days, until="2027-01-10", covers_off=off)
    return found.words if found is not None else ()


def test_a_whole_machine_on_its_wheels() -> None:
    assert said() == ("always", "battery_in", "tank_on", "tyres_loaded")


def test_a_short_wait_asks_for_nothing() -> None:
    assert long_wait(known(), ROWS, days=13, until="", covers_off=()) is None
    assert said(14) == () and said(20) == ()
    # The rows begin at 21 days, the fuel at 30.
    assert said(29) == ("always", "battery_in", "tyres_loaded") and "tank_on" in said(30)


@pytest.mark.parametrize(
    ("off", "wanted"),
    [
        (("battery_out",), {"battery_out"}), (("throttle_bodies_off",), {"ports_open", "battery_in"}),
        (("calipers_f_off",), {"calipers_off", "battery_in"}), (("paddock_rear", "front_stand"), {"battery_in"}),
        (("front_wheel_out",), {"battery_in", "tyres_loaded"}), (("tank_off",), {"battery_in"}),
    ],
)
def test_what_is_off_decides(off: tuple[str, ...], wanted: set[str]) -> None:
    found = set(said(off=off))
    assert wanted <= found
    assert ("tank_on" in found) == ("tank_off" not in off)
    assert ("battery_in" in found) == ("battery_out" not in off)
    assert ("tyres_loaded" in found) == ("paddock_rear" not in off)


def test_rags_and_an_engine_that_has_turned() -> None:
    assert "ports_open" in said(loose_ends=[{"what": "rags", "count": 2}])
    assert "ports_open" not in said(loose_ends=[{"what": "rags", "count": 2, "closed": True}])
    assert "engine_turned" in said(gates=[{"template": "turns", "answer": "yes"}])
    assert "engine_turned" not in said(gates=[{"template": "turns", "answer": "no"}])
    assert "battery_in" not in said(findings=[{"component": "battery", "missing": True}])


def test_covers_named_in_the_rules_are_in_the_trade_data() -> None:
    from wreckwright.answers import parking

    named = parking.PORT_COVERS | parking.CALIPER_COVERS | parking.WHEEL_COVERS | parking.STANDS
    assert named | {parking.BATTERY_OUT, parking.TANK_OFF} <= TRADE.covers.keys()
    assert {parking.TANK, parking.BATTERY} <= TRADE.components.keys()
    assert {parking.TURNS, parking.RUNS} <= TRADE.gates.keys()


def test_the_card_of_the_trade_data_for_a_long_wait() -> None:
    found = long_wait(known(), TRADE, days=120, until="2027-03-20", covers_off=("throttle_bodies_off",))
    assert found is not None and found.days == 120 and all(found.words)
