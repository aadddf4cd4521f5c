"""The running order along time: every part reaches the work that waits for it, and every letter can be read.

All expected values are hand-worked from the made-up order unless said otherwise.
"""

from __future__ import annotations

import datetime as dt
import random
import re
import xml.etree.ElementTree as ElementTree
from collections.abc import Callable

import msgspec
import pytest

from tests.papers.made_up_plan import AS_OF, PARCELS, STRETCHES, entry, parcel, quantile, running_order
from wreckwright.answers.plan_types import RunningOrder, Stretch
from wreckwright.papers import svg
from wreckwright.papers.order_layout import (
    BOLD_LETTER,
    LETTER,
    LETTERS,
    LINE,
    MOST_LANES,
    SPINE,
    TOP,
    WORDS,
    laid_out,
    shown_parcels,
    stretch_words,
    sure_parcels,
    waiting_for,
)
from wreckwright.papers.order_picture import order_figure

HOSTILE = 'Fork "url(#hatch)" <leg> & co, of a name that does not come to an end before the edge'


def crowded() -> RunningOrder:
    """A year with more parts than can be told apart, several on one day, some of which never come."""
    chance = random.Random(7)
    start = dt.date.fromisoformat(AS_OF)
    parcels = []
    for number in range(23):
        early = start + dt.timedelta(days=chance.randrange(1, 200))
        usual = early + dt.timedelta(days=chance.randrange(0, 40))
        late = "" if number % 5 == 0 else (usual + dt.timedelta(days=chance.randrange(0, 300))).isoformat()
        reaches = (f"gate:{number % 9}",)
        parcels.append(
            parcel(f"{HOSTILE} {number}", early.isoformat(), usual.isoformat(), late, 0.4 / (number + 1),
                   reaches=reaches)
        )  # fmt: skip
    stretches = tuple(
        Stretch(
            gate=f"gate:{number}", question=f"Question {number}: {HOSTILE}?", when=None, when_p80=None,
            usual_date=(start + dt.timedelta(days=9 + 40 * (number // 2))).isoformat() if number < 9 else "",
            entries=tuple(entry(f"w{number}", "Work", 60, AS_OF, AS_OF) for _ in range(number % 3)),
        )
        for number in range(10)
    )  # fmt: skip
    return running_order(parcels=tuple(parcels), stretches=stretches, nickname=HOSTILE)


ORDERS: dict[str, Callable[[], RunningOrder]] = {
    "usual": running_order,
    "crowded": crowded,
    "nothing is waited for": lambda: running_order(parcels=()),
    "nothing is left": lambda: running_order(parcels=(), stretches=()),
    "all on one day": lambda: running_order(
        parcels=tuple(msgspec.structs.replace(one, p20=AS_OF, p50="2026-11-21", p80="2026-11-21") for one in PARCELS)
    ),
    "only what never comes": lambda: running_order(parcels=(PARCELS[4],), stretches=()),
}


@pytest.fixture(params=ORDERS)
def order(request: pytest.FixtureRequest) -> RunningOrder:
    return ORDERS[request.param]()


def drawn(order: RunningOrder) -> ElementTree.Element:
    return ElementTree.fromstring(order_figure(order).svg)


def texts(root: ElementTree.Element) -> list[tuple[float, float, float, str]]:
    """(left, right, baseline, words) of all letters."""
    found = []
    for text in root.iter("text"):
        x, words = float(text.get("x", "0")), text.text or ""
        width = len(words) * LETTERS * (BOLD_LETTER if text.get("font-weight") == "bold" else LETTER)
        left = x - width if text.get("text-anchor") == "end" else x
        found.append((left, left + width, float(text.get("y", "0")), words))
    return found


def test_letters_are_large_and_stand_on_the_canvas(order: RunningOrder) -> None:
    root = drawn(order)
    height = float((root.get("viewBox") or "").split()[3])
    assert {float(text.get("font-size", "0")) for text in root.iter("text")} == {14.0}
    for left, right, baseline, words in texts(root):
        assert left >= 0 and right <= svg.WIDTH, words
        assert LETTERS <= baseline <= height, words


def test_no_letters_stand_on_others(order: RunningOrder) -> None:
    found = texts(drawn(order))
    for index, (left, right, baseline, words) in enumerate(found):
        for other_left, other_right, other_baseline, other in found[index + 1 :]:
            apart = right <= other_left or other_right <= left or abs(baseline - other_baseline) >= LETTERS - 1
            assert apart, (words, other)


def test_no_words_reach_into_the_ways_of_parts(order: RunningOrder) -> None:
    layout = laid_out(order)
    first = min((lane.x for lane in layout.lanes), default=svg.WIDTH)
    assert all(right < first for left, right, _, _ in texts(drawn(order)) if left >= WORDS)


def test_every_part_reaches_its_words_on_the_line_of_the_evenings(order: RunningOrder) -> None:
    root, layout = drawn(order), laid_out(order)
    ends = {tuple(map(float, path.split(" L")[-1].split())) for path in (p.get("d", "")[1:] for p in root.iter("path"))}
    events = {event.index: event for event in layout.events if event.kind == "parcel"}
    parcels = shown_parcels(order)
    assert len(layout.lanes) == len(parcels) == len(events)
    for index, lane in enumerate(layout.lanes):
        assert (SPINE, round(lane.usual_y, 2)) in ends
        assert events[index].y == lane.usual_y
        assert events[index].bold[0].rstrip("…")[:4].casefold() == lane.parcel.name[:4].casefold()


def test_no_way_crosses_another_on_its_way_down(order: RunningOrder) -> None:
    """What comes first stands nearest: a line to the left only meets ways that have ended."""
    lanes = laid_out(order).lanes
    for near, far in zip(lanes, lanes[1:], strict=False):
        assert near.x < far.x and near.usual_y <= far.usual_y


def test_heights_run_with_the_days(order: RunningOrder) -> None:
    layout = laid_out(order)
    days = [event.days for event in layout.events]
    heights = [event.y for event in layout.events]
    assert days == sorted(days) and heights == sorted(heights)
    assert all(low - high >= 2 * LINE for high, low in zip([TOP, *heights], heights, strict=False))
    for lane in layout.lanes:
        assert TOP <= lane.early_y <= lane.usual_y <= lane.late_y <= layout.height
        assert TOP <= lane.from_y < lane.usual_y
    for low, high in layout.at_work:
        assert TOP <= low < high <= layout.height
    for (_, before), (after, _) in zip(layout.at_work, layout.at_work[1:], strict=False):
        assert before < after


def test_only_our_colours_and_hatchings(order: RunningOrder) -> None:
    figure = order_figure(order)
    colours = set(re.findall(r'(?:fill|stroke)="([^"]+)"', figure.svg))
    hatchings = {'url(#order-hatch)', 'url(#order-veil)'}
    assert colours <= {svg.PAPER, svg.INK, svg.SOFT_INK, svg.DEEP, svg.MIDDLE, svg.PALE, "none"} | hatchings
    assert "href" not in figure.svg and "<script" not in figure.svg and 'style="' not in figure.svg


def test_it_says_all_events_in_words_and_in_order() -> None:
    words = order_figure(running_order()).words
    wanted = (
        "Left mirror: usually 25 November 2026, 8 in 10 by 27 November 2026, then fit the left mirror",
        "Ignition key, coded: usually 1 December 2026",
        "in 2 of 10 futures later than can be said, then fit the front wheel",
        "Left fork leg: usually 15 December 2026",
        "then fit the fork legs; the end waits for it in 41 % of the futures",
        "Question: Does the engine start and hold its oil pressure?",
        "Radiator: usually 24 January 2027",
        "Question: Are the papers right?",
        "Question: Is everything proved by hand?",
    )
    places = [words.index(one) for one in wanted]
    assert places == sorted(places)
    assert "Brake hose" not in words, "it is here already"


def test_what_is_not_within_the_calendar_is_said_and_not_drawn() -> None:
    late = msgspec.structs.replace(STRETCHES[2], usual_date="")
    order = running_order(stretches=(*STRETCHES[:2], late))
    assert "Is everything proved by hand?: not within the calendar" in order_figure(order).words
    assert len([one for one in laid_out(order).events if one.kind == "question"]) == 2
    assert order_figure(running_order(parcels=(), stretches=())).words.startswith("Nothing is waited for")


def test_those_that_bind_first_are_shown_in_the_order_of_arrival() -> None:
    shown = shown_parcels(crowded())
    assert len(shown) == MOST_LANES
    assert {one.name for one in shown} == {one.name for one in crowded().parcels[:MOST_LANES]}
    assert [one.p50 for one in shown] == sorted(one.p50 for one in shown)


def test_what_no_work_of_the_order_waits_for_is_not_drawn() -> None:
    """Ordered only once something hidden is found: on a usual course it never is."""
    hidden = parcel("Air box", "2027-01-01", "2027-02-01", "2027-03-01", 0.9)
    order = running_order(parcels=(hidden, *PARCELS))
    assert hidden not in shown_parcels(order) and shown_parcels(order) == shown_parcels(running_order())
    # What is here is sure, though nothing waits for it any more.
    assert sure_parcels(order) == (PARCELS, (hidden,))


def test_what_waits_is_told_by_keys_else_by_name() -> None:
    order = running_order()
    assert waiting_for(PARCELS[0], order) == ("Fit the fork legs", "Test the fork legs")
    assert waiting_for(PARCELS[2], order) == ("Are the papers right?",)
    # Without keys: whatever says that it waits for a part of that name.
    assert waiting_for(msgspec.structs.replace(PARCELS[1], reaches=()), order) == ("Fit the radiator",)
    assert waiting_for(msgspec.structs.replace(PARCELS[1], reaches=("gone",)), order) == ()


def test_a_way_that_is_held_back_begins_when_it_is_ordered() -> None:
    layout = laid_out(running_order())
    radiator = next(lane for lane in layout.lanes if lane.parcel.name == "Radiator")
    question = next(event for event in layout.events if event.kind == "question")
    # It is ordered on 28 December, the day of the first question.
    assert radiator.from_y == question.y
    assert next(lane for lane in layout.lanes if lane.parcel.name == "Left fork leg").from_y == TOP


def test_what_the_end_waits_for_is_dark_and_what_never_comes_has_an_open_end() -> None:
    layout = laid_out(running_order())
    paths = [(one.get("d", ""), one.get("stroke")) for one in drawn(running_order()).iter("path")]
    ways = {d: stroke for d, stroke in paths if stroke != svg.PAPER and d.count(" L") == 2}
    strokes = {
        lane.parcel.name: stroke
        for lane in layout.lanes
        for d, stroke in ways.items()
        if d.startswith(f"M{svg.number(lane.x)} {svg.number(lane.from_y)} ")
    }
    # share > 0.1: fork leg .41, radiator .22, papers .12.
    assert {name for name, stroke in strokes.items() if stroke == svg.DEEP} == {
        "Left fork leg", "Radiator", "Papers from the office of registrations",
    }  # fmt: skip
    assert [lane.parcel.name for lane in layout.lanes if lane.open_end] == ["Front rim, straight and with bearings"]


def test_evenings_with_work_are_thick_and_its_gaps_stand() -> None:
    stretch = Stretch(
        gate="gate:a", question="A?", usual_date="2027-02-01", when=None, when_p80=quantile("2027-03-01", 101),
        entries=(entry("a", "A", 60, "2026-11-20", "2026-11-22"), entry("b", "B", 60, "2026-11-22", "2026-11-24"),
                 entry("c", "C", 60, "2027-01-10", "2027-01-12"), entry("d", "D", 0, "2026-12-20", "2026-12-20")),
    )  # fmt: skip
    layout = laid_out(running_order(parcels=(), stretches=(stretch,)))
    # The first two touch, the third stands alone, the fourth takes no time.
    assert len(layout.at_work) == 2
    assert layout.heads == ((TOP + LINE, "4 pieces of work, 3 h"),)
    assert layout.events[0].plain == ("8 in 10 by 1 Mar 2027",)


def test_a_stretch_says_how_much_work_it_holds() -> None:
    # common practice: minutes of covers and of the test are hours too, but no pieces of work.
    assert stretch_words(STRETCHES[0].entries) == "6 pieces of work, 7 h"
    assert stretch_words(STRETCHES[1].entries) == "1 piece of work, 2 h"
    assert stretch_words((entry("gate:x", "X?", 40, AS_OF, AS_OF, kind="gate"),)) == "no work"
    assert stretch_words((entry("x", "X", 10, AS_OF, AS_OF),)) == "1 small piece of work"


def test_names_are_letters_and_nothing_else() -> None:
    figure = order_figure(crowded())
    assert "<leg>" not in figure.svg
    # The quotes of a name never make a hatching of it.
    assert any("url(#hatch)" in words for *_, words in texts(drawn(crowded())))
    assert not any("order-hatch" in words for *_, words in texts(drawn(crowded())))
