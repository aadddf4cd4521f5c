"""The pictures inside a page: their names do not meet, they scale with their place, and they say what they show."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ElementTree

import msgspec
import pytest

from tests.papers import made_up
from wreckwright.papers.figures import Figure, finish_figure, money_figure, price_figure

FIGURES = {
    "finish": lambda: finish_figure(made_up.foresight(made_up.HOSTILE)),
    "money": lambda: money_figure(made_up.foresight(made_up.HOSTILE)),
    "price": lambda: price_figure(made_up.bid(made_up.HOSTILE), tried=made_up.bid().curve[5]),
    "no finish": lambda: finish_figure(
        msgspec.structs.replace(made_up.foresight(), finish=None, sold=None, finish_curve=())
    ),
}


@pytest.fixture(params=FIGURES)
def figure(request: pytest.FixtureRequest) -> Figure:
    return FIGURES[request.param]()


def test_it_is_well_formed_and_named(figure: Figure) -> None:
    root = ElementTree.fromstring(figure.svg)
    texts = {child.get("id"): child.text for child in root if child.get("id")}
    title, description = (texts[name] for name in (root.get("aria-labelledby") or "").split())
    assert figure.title.casefold() in (title or "").casefold()
    assert description == figure.words


def test_it_is_as_wide_as_its_place(figure: Figure) -> None:
    root = ElementTree.fromstring(figure.svg)
    assert root.get("width") is None and root.get("height") is None
    assert re.fullmatch(r"0 0 360 [\d.]+", root.get("viewBox") or "")


def test_every_hatching_that_is_used_is_there_under_its_own_name(figure: Figure) -> None:
    used = set(re.findall(r'"url\(#([^)]+)\)"', figure.svg))
    assert used <= set(re.findall(r'<pattern id="([^"]+)"', figure.svg))
    assert not used & {"hatch", "veil"}


def test_no_two_of_a_page_share_a_name() -> None:
    ids = [
        name
        for figure in (finish_figure(made_up.foresight()), money_figure(made_up.foresight()))
        for name in re.findall(r' id="([^"]+)"', figure.svg)
    ]
    assert len(ids) == len(set(ids)) == 8


def test_letters_stand_on_the_canvas(figure: Figure) -> None:
    root = ElementTree.fromstring(figure.svg)
    height = float((root.get("viewBox") or "").split()[3])
    for text in root.iter("{*}text"):
        size, x = float(text.get("font-size", "0")), float(text.get("x", "0"))
        # common practice: letters of a sans face are about 0.52 of their height wide on average, bold ones 0.6.
        width = len(text.text or "") * size * (0.6 if text.get("font-weight") == "bold" else 0.52)
        left = x - {"end": width, "middle": width / 2}.get(text.get("text-anchor", ""), 0.0)
        assert size >= 14
        assert left >= 0 and left + width <= 360, text.text
        assert size <= float(text.get("y", "0")) + 2 <= height


def test_the_price_that_was_tried_is_marked_on_both_curves() -> None:
    tried = made_up.bid().curve[5]
    marked, plain = price_figure(made_up.bid(), tried=tried), price_figure(made_up.bid())
    assert marked.svg.count("<circle") == 2 and plain.svg.count("<circle") == 0
    assert "the price you tried" in marked.note and "tried" not in plain.note
