"""Batches: what is missing and what one trip saves; hand-worked."""

from __future__ import annotations

from typing import Any

import pytest

from tests.answers.plain import TRADE, known
from wreckwright.answers.batches import batches, saving_minor
from wreckwright.answers.plan_types import BatchLine
from wreckwright.record.types import Batch


def line(*, open_keys: tuple[str, ...] = (), **over: Any) -> BatchLine:
    batch = {"id": "b1", "name": "Paint", "components": ["fuel_tank_shell", "front_mudguard"], "colour": "deep red"}
    (found,) = batches(known(batches=[batch | over]), TRADE, open_keys=open_keys)
    return found


def test_what_is_still_on_the_machine_is_named() -> None:
    found = line(open_keys=("front_mudguard:strip", "front_mudguard"))
    assert found.parts == ("fuel tank, shell and paint", "front mudguard") or len(found.parts) == 2
    assert found.words == (
        f"Before it can go, {found.parts[1]} still comes off. One trip for all 2 saves 1 trip."
    )


def test_what_one_trip_saves() -> None:
    # Two parts of 30 each, but at least 50 a trip: 100 alone, 60 together.
    found = line(price_minor=6000, minimum_minor=5000)
    assert found.words == "All of it is off and can go. One trip for all 2 saves 1 trip and EUR 40 of minimum charges."


@pytest.mark.parametrize(
    ("price", "minimum", "parts", "saved"),
    [
        (None, 5000, 3, 10_000),  # three minimum charges against one
        (30_000, 5000, 3, 0),  # each part alone is above the minimum
        (9_000, 5000, 3, 6_000),  # 3 x 50 against 90
        (9_000, None, 3, 0), (9_000, 5000, 1, 0),
    ],
)
def test_saving(price: int | None, minimum: int | None, parts: int, saved: int) -> None:
    names = tuple(f"c{index}" for index in range(parts))
    assert saving_minor(Batch(id="b", name="x", components=names, price_minor=price, minimum_minor=minimum)) == saved


def test_a_colour_nobody_wrote_down() -> None:
    assert line(colour="").words.endswith("The colour is not written down.")
    assert "colour" not in line(colour="", name="Welding").words


def test_away_and_late() -> None:
    found = line(state="away", away_on="2026-11-01", days=25.0, done_by="the sprayer")
    assert (found.state, found.words) == ("away at the sprayer since 2026-11-01", "It should be back on 2026-11-26.")
    # 1 November and 10 days: the 11th; today is the 20th.
    late = line(state="away", away_on="2026-11-01", days=10.0)
    assert late.words == "It was to be back on 2026-11-11, 9 days ago: ask."
    assert line(state="away").words == "When it comes back is not known: ask."


def test_what_is_back_is_not_there_and_an_empty_one_says_so() -> None:
    assert batches(known(batches=[{"name": "Paint", "state": "back"}]), TRADE, open_keys=()) == ()
    assert line(components=[]).words == "No part is written down for it yet."
