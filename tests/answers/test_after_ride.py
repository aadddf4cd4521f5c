"""What is looked at again after the first ride. All rows are the test's own, all expected lines hand-worked."""

from __future__ import annotations

from typing import Any

import pytest

from tests.answers.plain import TRADE, known, trade
from wreckwright.answers.after_ride import after_ride
from wreckwright.trade.types import AfterRide


def row(name: str, **over: Any) -> AfterRide:
    plain: dict[str, Any] = {"id": name, "words": f"look at {name} again", "minutes": 10.0, "basis": "common practice"}
    return AfterRide(**(plain | over))


ROWS = trade(after_ride=(
    row("screws", heat_cycles=1), row("chain", distance_km=100.0, component="chain_sprockets"),
    row("head", distance_km=500.0, heat_cycles=5), row("brakes", component="front_calipers", heat_cycles=1),
    row("talk"),
))


def test_what_is_due_comes_first_and_what_was_not_touched_is_not_there() -> None:
    found = after_ride(known(findings=[{"component": "chain_sprockets"}], ridden=120.0, heat_cycles=0), ROWS)
    assert [(line.key, line.is_due, line.due) for line in found] == [
        ("after:chain", True, "after 100 km"), ("after:screws", False, "after the first heat cycle"),
        ("after:head", False, "after 5 heat cycles or 500 km"), ("after:talk", False, "after the first ride"),
    ]


@pytest.mark.parametrize(
    ("cycles", "ridden", "due"), [(4, 499.0, False), (5, 0.0, True), (0, 500.0, True), (None, None, False)]
)
def test_whichever_comes_first(cycles: int | None, ridden: float | None, due: bool) -> None:
    over = {name: value for name, value in (("heat_cycles", cycles), ("ridden", ridden)) if value is not None}
    assert {line.key: line.is_due for line in after_ride(known(**over), ROWS)}["after:head"] is due


def test_miles() -> None:
    # Published: a mile is 1.609344 km; 500 km are 310.7 mi, 100 km 62.1.
    near = known(odometer_unit="mi", ridden=310.0, parts=[{"component": "chain_sprockets", "state": "fitted"}])
    lines = {line.key: line for line in after_ride(near, ROWS)}
    assert not lines["after:head"].is_due and lines["after:chain"].is_due
    assert lines["after:chain"].due == "after 60 mi"
    assert {line.key: line.is_due for line in after_ride(known(odometer_unit="mi", ridden=311.0), ROWS)}["after:head"]


def test_what_was_done_is_left_out_and_cautions_are_in_words() -> None:
    name = next(iter(TRADE.cautions))
    # A key that the trade data know: the record is checked against them.
    rows = trade(after_ride=(row("screws", cautions=(name,)), row("all_marks")))
    done = known(jobs=[{"name": "Marks", "stands_for": "after:all_marks", "state": "closed_up"}])
    (line,) = after_ride(done, rows)
    assert (line.key, line.cautions) == ("after:screws", (TRADE.cautions[name].text,))
    begun = known(jobs=[{"name": "Marks", "stands_for": "after:all_marks", "state": "open"}])
    assert len(after_ride(begun, rows)) == 2


def test_every_line_of_the_trade_data_can_be_said() -> None:
    for line in after_ride(known(heat_cycles=1, ridden=50.0), TRADE):
        assert line.words and line.due.startswith("after ")
