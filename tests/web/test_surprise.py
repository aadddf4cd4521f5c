"""A surprise from the telephone, really reckoned: something snaps, the page says what moved, and it is taken back."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import pytest

from tests.web.browser import Live, wait_for
from wreckwright.acts.checks import trade_data
from wreckwright.acts.place import Place, open_memory
from wreckwright.acts.plan_pages import order_page
from wreckwright.acts.plan_shapes import Standing
from wreckwright.acts.reckon import Reckoner
from wreckwright.acts.reckon_shapes import Answers
from wreckwright.record.types import Machine

STEP, PIECE = "water_pump:carry_over", "impeller"
"""On the part for which the end waits: its maker has none on the shelf."""
AS_A_USER_HAS = 2000
"""Futures: with fewer, what moves is lost among other draws."""


@pytest.fixture
def reckoner(place: Place) -> Iterator[Reckoner]:
    """One that does reckon."""
    with Reckoner(place, n_futures=AS_A_USER_HAS) as made:
        yield made


def answers_of(reckoner: Reckoner, uid: str) -> Answers:
    found = reckoner.look(uid).answers
    assert found is not None
    return found


def page_of(place: Place, reckoner: Reckoner, uid: str) -> Standing:
    with open_memory(place).reading() as reader:
        return order_page(reader, trade_data(), reckoner, uid).standing


def machine(place: Place, uid: str) -> Machine:
    with open_memory(place).reading() as reader:
        return reader.machine(uid)


def test_a_piece_that_snaps_moves_the_plan_and_taking_it_back_gives_the_former_one(
    page: Any, server: Live, place: Place, uids: dict[str, str], reckoner: Reckoner
) -> None:
    sorrel = uids["Sorrel"]
    reckoner.want(sorrel)
    wait_for(lambda: reckoner.look(sorrel).state == "fresh", what="it is planned", seconds=150)
    record, former = machine(place, sorrel), answers_of(reckoner, sorrel)
    order = f"{server.url}/machine/{sorrel}/order"
    page.goto(order)
    drawn = page.locator("#plan").inner_text()
    assert PIECE not in drawn

    page.goto(f"{server.url}/machine/{sorrel}/card/{STEP}?wrong=1")
    page.get_by_role("radio", name=PIECE.capitalize()).check()
    page.get_by_role("button", name="Something snapped").tap()
    page.get_by_role("heading", name="What now").wait_for(state="visible")
    # The first words come from the mended plan; the last from the one that was searched for. The page turns by itself.
    page.goto(order)
    moved = page.get_by_role("region", name="What the last change did")
    moved.wait_for(state="visible", timeout=120_000)
    wait_for(lambda: reckoner.look(sorrel).state == "fresh", what="it is searched on to the end", seconds=150)
    wait_for(lambda: PIECE in page.locator("#plan").inner_text(), what="the piece is in the plan", seconds=30)
    after = answers_of(reckoner, sorrel)
    assert not after.provisional and after.running_order is not None and after.running_order.broken == ()
    assert after.running_order != former.running_order
    told = moved.inner_text()
    # The same as the data say, in words.
    assert re.search(r"Finished, half by: .+ before, now .+", told) and PIECE in told
    news = page_of(place, reckoner, sorrel)
    assert {one.name for one in news.moved} >= {"Finished, half by"} and news.steady == ""

    page.goto(f"{server.url}/machine/{sorrel}/changes")
    page.get_by_role("button", name="Take it back").first.tap()
    wait_for(lambda: machine(place, sorrel) == record, what="it is taken back")
    # The answer brings the telephone to a page of its own; nobody goes elsewhere before that.
    page.wait_for_url("**/changes?told=*")
    assert answers_of(reckoner, sorrel) == former and reckoner.look(sorrel).state == "fresh"
    page.goto(order)
    now = page.locator("#plan").inner_text()
    # The former plan to the letter; only what the change that took it back did is told above it.
    assert without_news(now) == without_news(drawn)


def without_news(text: str) -> list[str]:
    """The lines of the page from its picture on."""
    kept = text.splitlines()
    return kept[kept.index("Parts, work and questions along time") :]
