"""The plan in the reckoning: mended at once after a surprise, the former one after it is taken back, hands shared."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.acts.kept import SENT, machine
from tests.acts.reckoning import FEW, place_with, settled, until
from wreckwright.acts.checks import trade_data
from wreckwright.acts.hands import take_turn
from wreckwright.acts.loose_ends import leave
from wreckwright.acts.place import Place, memory
from wreckwright.acts.plan_pages import order_page
from wreckwright.acts.reckon import Reckoner
from wreckwright.acts.reckon_shapes import Answers
from wreckwright.acts.snags import snag
from wreckwright.acts.writes import undo_change


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Place, str, Reckoner]]:
    place, (sorrel,) = place_with(tmp_path_factory.mktemp("planned"), "sorrel")
    with Reckoner(place, n_futures=FEW) as reckoner:
        reckoner.want(sorrel)
        assert settled(reckoner, sorrel).state == "fresh"
        yield place, sorrel, reckoner


def answers_of(reckoner: Reckoner, uid: str) -> Answers:
    found = reckoner.look(uid).answers
    assert found is not None
    return found


def test_a_surprise_is_answered_at_once_and_searched_on(planned: tuple[Place, str, Reckoner]) -> None:
    place, sorrel, reckoner = planned
    former = answers_of(reckoner, sorrel)
    told = snag(place, sorrel, "front_wheel:carry_over", "snapped", SENT, piece="sensor ring")
    reckoner.want(sorrel)
    until(lambda: (one := reckoner.look(sorrel).answers) is not None and one.provisional, "the mended plan")
    early = reckoner.look(sorrel)
    assert early.answers is not None and early.before == former
    assert (early.state, early.stale) in (("running", False), ("fresh", False))
    assert early.answers.change == told.change_id
    order = early.answers.running_order
    assert order is not None and order.broken == ()
    assert any("sensor ring" in parcel.name.lower() for parcel in order.parcels)
    # What was decided before is still said, until it has been weighed anew.
    assert early.answers.verdict == former.verdict
    final = settled(reckoner, sorrel)
    assert final.state == "fresh" and final.answers is not None and not final.answers.provisional
    assert final.answers.running_order is not None and final.answers.running_order.broken == ()

    # Something has moved, or it is said that nothing has; never nothing at all.
    with memory(place).reading() as reader:
        news = order_page(reader, trade_data(), reckoner, sorrel).standing
    assert news.moved_by == (told.said,)
    assert bool(news.moved) != ("Nothing has moved by more than chance" in news.steady)

    # Taken back: the former plan, to the letter, and without a search.
    assert told.change_id is not None
    undo_change(place, told.change_id, SENT)
    back = reckoner.look(sorrel)
    assert back.answers == former and back.state == "fresh"


def test_the_plan_is_a_function_of_the_record(planned: tuple[Place, str, Reckoner], tmp_path: Path) -> None:
    _, sorrel, reckoner = planned
    place, (again,) = place_with(tmp_path, "sorrel")
    with Reckoner(place, n_futures=FEW) as other:
        other.want(again)
        found = settled(other, again).answers
    assert found is not None
    here = answers_of(reckoner, sorrel)
    assert (found.running_order, found.evening, found.cards) == (here.running_order, here.evening, here.cards)


def test_what_is_left_loose_moves_no_plan(planned: tuple[Place, str, Reckoner]) -> None:
    place, sorrel, reckoner = planned
    leave(place, sorrel, "loose", "top yoke bolts finger-tight", "", 1, (), SENT)
    assert reckoner.look(sorrel).state == "fresh"


def test_two_machines_never_book_the_same_minute(tmp_path: Path) -> None:
    place, (sorrel, bramble) = place_with(tmp_path, "sorrel", "bramble")
    with Reckoner(place, n_futures=FEW) as reckoner:
        for first, second in ((sorrel, bramble), (bramble, sorrel)):
            take_turn(place, first, 1, SENT)
            for uid in (first, second):
                reckoner.want(uid)
                settled(reckoner, uid)
            # The other's plan may have moved under it.
            reckoner.want(second)
            assert settled(reckoner, second).state == "fresh"
            taken = {uid: answers_of(reckoner, uid).running_order for uid in (first, second)}
            spans = {uid: order.booked for uid, order in taken.items() if order is not None}
            assert spans[first] and spans[second]
            ends = {date: to for date, _, to in spans[first]}
            shared = [date for date, _, _ in spans[second] if date in ends]
            assert shared, "they share some evening, or this shows nothing"
            assert all(start >= ends[date] for date, start, _ in spans[second] if date in ends)
            off = {day.isoformat() for uid in spans for day in machine(place, uid).calendar.days_off}
            assert dt.date(2026, 12, 25).isoformat() in off
            assert not off & {date for order in spans.values() for date, _, _ in order}
