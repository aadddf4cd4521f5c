"""Pictures are well-formed, hold no outside reference, say in words what they show, and stay on their canvas."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ElementTree
from collections.abc import Callable, Iterator

import msgspec
import pytest

from tests.papers import made_up
from wreckwright.papers import svg
from wreckwright.papers.pictures import foresight_picture, price_curve_picture, share_by

NAMESPACE = "{http://www.w3.org/2000/svg}"


def without_finish() -> str:
    none = msgspec.structs.replace(
        made_up.foresight(),
        finish=None,
        sold=None,
        finish_curve=(),
        finishes=made_up.ChanceOf(chance=0.0, chance_se=0.0, words="hardly ever"),
    )
    return foresight_picture(none)


def only_losses() -> str:
    answer = made_up.foresight()
    moved = tuple(
        msgspec.structs.replace(one, from_minor=one.from_minor - 900_000, to_minor=one.to_minor - 900_000)
        for one in answer.net_bins
    )
    return foresight_picture(msgspec.structs.replace(answer, net_bins=moved))


def not_at_any_price() -> str:
    return price_curve_picture(
        msgspec.structs.replace(made_up.bid(), walk_away_minor=None, words="Not at any price.", binds="neither")
    )


def without_hours() -> str:
    bid = made_up.bid()
    curve = tuple(msgspec.structs.replace(point, pay_per_hour_minor=None) for point in bid.curve)
    return price_curve_picture(msgspec.structs.replace(bid, curve=curve))


PICTURES: dict[str, Callable[[], str]] = {
    "foresight": lambda: foresight_picture(made_up.foresight(made_up.HOSTILE)),
    "price curve": lambda: price_curve_picture(made_up.bid(made_up.HOSTILE)),
    "long name": lambda: foresight_picture(made_up.foresight("Bramble of the eleven thousand thorns and one")),
    "no finish": without_finish,
    "only losses": only_losses,
    "not at any price": not_at_any_price,
    "no hours": without_hours,
}


@pytest.fixture(params=PICTURES)
def picture(request: pytest.FixtureRequest) -> str:
    return PICTURES[request.param]()


def elements(picture: str) -> Iterator[ElementTree.Element]:
    return ElementTree.fromstring(picture.encode()).iter()


def test_it_is_well_formed_and_named_for_those_who_hear_it(picture: str) -> None:
    root = ElementTree.fromstring(picture.encode())
    assert root.tag == NAMESPACE + "svg"
    assert root.get("role") == "img"
    labels = {child.get("id"): child.text for child in root if child.get("id")}
    assert all(labels.get(name) for name in (root.get("aria-labelledby") or "").split())


def test_it_refers_to_nothing_outside(picture: str) -> None:
    for element in elements(picture):
        assert element.tag.removeprefix(NAMESPACE) in {
            "svg",
            "title",
            "desc",
            "defs",
            "pattern",
            "rect",
            "line",
            "path",
            "text",
            "circle",
        }
        for name, value in element.attrib.items():
            assert "href" not in name and not name.startswith("on")
            assert not re.search(r"(?i)https?:|//|javascript:|data:|@import", value)
            assert "url(" not in value or value in ("url(#hatch)", "url(#veil)")


def test_letters_are_large_enough_on_a_telephone(picture: str) -> None:
    sizes = [float(element.get("font-size", "0")) for element in elements(picture) if element.tag == NAMESPACE + "text"]
    assert sizes and min(sizes) >= 12


def test_everything_stays_on_the_canvas(picture: str) -> None:
    root = ElementTree.fromstring(picture.encode())
    height = float((root.get("viewBox") or "").split()[3])
    for element in root.iter():
        for name, most in (
            ("x", svg.WIDTH),
            ("x1", svg.WIDTH),
            ("x2", svg.WIDTH),
            ("cx", svg.WIDTH),
            ("y", height),
            ("y1", height),
            ("y2", height),
            ("cy", height),
        ):
            assert -0.01 <= float(element.get(name, 0)) <= most + 0.01
        if element.tag == NAMESPACE + "text" and element.text:
            # common practice: letters of a sans face are about 0.52 of their height wide on average, bold ones 0.6.
            wide = 0.6 if element.get("font-weight") == "bold" else 0.52
            width = len(element.text) * float(element.get("font-size", "12")) * wide
            x, anchor = float(element.get("x", 0)), element.get("text-anchor")
            left = x - (width if anchor == "end" else width / 2 if anchor == "middle" else 0)
            assert left >= 0 and left + width <= svg.WIDTH, element.text


def test_the_foresight_says_its_figures_in_words() -> None:
    root = ElementTree.fromstring(foresight_picture(made_up.foresight()).encode())
    words = root.findtext(NAMESPACE + "desc") or ""
    for figure in ("83 %", "1 April 2027", "30 June 2027", "EUR 400", "26 %", "2026-11-02"):
        assert figure in words


def test_the_price_curve_says_its_figures_in_words() -> None:
    root = ElementTree.fromstring(price_curve_picture(made_up.bid()).encode())
    words = root.findtext(NAMESPACE + "desc") or ""
    assert "Walk away above" in words
    assert "a loss in" in words and "an hour" in words


def test_the_mark_stands_at_the_price_to_walk_away_at() -> None:
    root = ElementTree.fromstring(price_curve_picture(made_up.bid()).encode())
    veils = [element for element in root.iter() if element.get("fill") == "url(#veil)"]
    # hand-worked: prices run from 200 to 2,600 over 58..348 units, so 1,150 stands at 58 + 950 / 2400 * 290 = 172.79.
    assert [float(veil.get("x", 0)) for veil in veils] == [172.79, 172.79]


def test_the_share_finished_by_a_day_lies_on_the_line_between_the_points() -> None:
    curve = [made_up.FinishPoint(days=days, date="2026-12-01", share=share) for days, share in ((10, 0.2), (30, 0.6))]
    # hand-worked: half way from nothing to the first point; a quarter of the way to the second; flat behind the last.
    assert [round(share_by(curve, days), 9) for days in (5, 10, 15, 30, 99)] == [0.1, 0.2, 0.3, 0.6, 0.6]


def test_only_losses_are_all_hatched() -> None:
    root = ElementTree.fromstring(only_losses().encode())
    assert not [element for element in root.iter() if element.get("fill") == svg.MIDDLE]
