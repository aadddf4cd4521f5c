"""The views of the walk-round: room for a thumb, nothing overlaps, every region has its place, words beside colour."""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree
from collections.abc import Iterator

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.papers.plane import apart, contains, has_room_for
from wreckwright.papers import svg
from wreckwright.papers.walk_paths import box, ellipse, flipped, outline_points, placed, whole
from wreckwright.papers.walk_strokes import WIDTH, View
from wreckwright.papers.walk_views import STATIONS, Mark, view_of, walk_view
from wreckwright.trade.load import load_trade

TRADE = {mirrored: load_trade(mirrored=mirrored) for mirrored in (False, True)}
CASES = [(station, mirrored) for station in STATIONS for mirrored in (False, True)]
NAMES = [f"{station}{' mirrored' if mirrored else ''}" for station, mirrored in CASES]
THUMB_CSS_PX, SCREEN_CSS_PX, MARGINS_CSS_PX = 48, 360, 32
"""common practice: the least target of this project, on the narrowest telephone, with the margins of its pages."""
THUMB = THUMB_CSS_PX * WIDTH / (SCREEN_CSS_PX - MARGINS_CSS_PX)
GAP = 4.0
SVG = "{http://www.w3.org/2000/svg}"


def marks_of(station: str, mirrored: bool, words: str = "") -> list[Mark]:
    return [
        Mark(region=row.region, name=row.name, words=words) for row in TRADE[mirrored].station_regions[station]
    ]


def drawn(station: str, marks: list[Mark], *, mirrored: bool = False, chosen: str = "") -> ElementTree.Element:
    picture = walk_view(
        station, marks, link=lambda region: {"href": f"/walk?part={region}&x=1"}, mirrored=mirrored, chosen=chosen
    )
    return ElementTree.fromstring(picture.replace("<svg", '<svg xmlns="http://www.w3.org/2000/svg"', 1))


def pieces(view: View) -> Iterator[tuple[str, list[tuple[float, float]]]]:
    for name, shape in view.shapes.items():
        for piece in shape.pieces:
            yield name, outline_points(piece)


def test_every_station_of_the_trade_data_has_a_view() -> None:
    assert set(STATIONS) == set(TRADE[False].stations)


@pytest.mark.parametrize(("station", "mirrored"), CASES, ids=NAMES)
def test_every_region_has_a_shape_and_every_shape_a_region(station: str, mirrored: bool) -> None:
    regions = {row.region for row in TRADE[mirrored].station_regions[station]}
    shapes = set(view_of(station, mirrored=mirrored).shapes)
    # The frame is seen from both flanks, and is a region of the left one.
    assert regions <= shapes <= regions | ({"frame"} if station == "right_flank" else set())


@pytest.mark.parametrize(("station", "mirrored"), CASES, ids=NAMES)
def test_every_piece_has_room_for_a_thumb(station: str, mirrored: bool) -> None:
    for name, outline in pieces(view_of(station, mirrored=mirrored)):
        assert has_room_for(outline, THUMB), name


@pytest.mark.parametrize(("station", "mirrored"), CASES, ids=NAMES)
def test_pieces_lie_inside_the_picture_and_apart(station: str, mirrored: bool) -> None:
    view = view_of(station, mirrored=mirrored)
    found = list(pieces(view))
    for name, outline in found:
        assert all(0 <= x <= WIDTH and 0 <= y <= view.height for x, y in outline), name
    for index, (name, outline) in enumerate(found):
        for other, beside in found[:index]:
            assert apart(outline, beside) >= GAP, (name, other)
            assert not contains(beside, outline[0]) and not contains(outline, beside[0]), (name, other)


@pytest.mark.parametrize(("station", "mirrored"), CASES, ids=NAMES)
def test_words_stand_on_their_own_region(station: str, mirrored: bool) -> None:
    view = view_of(station, mirrored=mirrored)
    for name, shape in view.shapes.items():
        assert any(contains(outline_points(piece), shape.words_at) for piece in shape.pieces), name


@pytest.mark.parametrize(("station", "mirrored"), CASES, ids=NAMES)
def test_each_region_is_one_link_with_its_name(station: str, mirrored: bool) -> None:
    marks = marks_of(station, mirrored)
    root = drawn(station, marks, mirrored=mirrored)
    links = root.findall(f".//{SVG}a")
    assert [link.get("aria-label") for link in links] == [mark.name for mark in marks]
    assert [link.get("href") for link in links] == [f"/walk?part={mark.region}&x=1" for mark in marks]
    assert all(link.get("aria-current") is None for link in links)
    # common practice (WAI-ARIA): a picture of role img hides what can be focused in it.
    assert root.get("role") == "group" and root.get("aria-label")
    assert not root.findall(f".//{SVG}text"), "nothing was found, so there is nothing to say"


def test_what_was_found_is_hatched_and_said_in_words() -> None:
    marks = [
        Mark(region="legs", name="Fork legs", words="2 found"), Mark(region="wheel", name="Front wheel"),
    ]
    root = drawn("nose_on", marks)
    legs, wheel = root.findall(f".//{SVG}a")
    assert (legs[0].get("fill"), wheel[0].get("fill")) == ("url(#walk-hatch)", svg.PALE)
    assert root.find(f".//{SVG}pattern").get("id") == "walk-hatch"
    assert legs.get("aria-label") == "Fork legs: 2 found"
    assert [text.text for text in root.iter(f"{SVG}text")] == ["2 found"]


def test_the_chosen_region_is_deep_and_has_a_heavier_edge() -> None:
    legs, wheel = drawn("nose_on", marks_of("nose_on", False)[4:7:2], chosen="wheel").findall(f".//{SVG}a")
    assert wheel.get("aria-current") == "true" and legs.get("aria-current") is None
    assert wheel[0].get("fill") == svg.DEEP
    assert float(wheel[0].get("stroke-width", "0")) > float(legs[0].get("stroke-width", "0"))


@pytest.mark.parametrize(("station", "mirrored"), CASES, ids=NAMES)
def test_one_hue_and_no_style_from_outside(station: str, mirrored: bool) -> None:
    root = drawn(station, marks_of(station, mirrored, "12 found"), mirrored=mirrored)
    allowed = {svg.PAPER, svg.INK, svg.DEEP, svg.MIDDLE, svg.PALE, "none", "url(#walk-hatch)", None}
    for element in root.iter():
        assert {element.get("fill"), element.get("stroke")} <= allowed
        assert not {"style", "onclick"} & set(element.attrib)


@pytest.mark.parametrize(("station", "mirrored"), CASES, ids=NAMES)
def test_plates_stay_inside_the_picture(station: str, mirrored: bool) -> None:
    root = drawn(station, marks_of(station, mirrored, "12 found"), mirrored=mirrored)
    height = view_of(station, mirrored=mirrored).height
    plates = [one for one in root.iter(f"{SVG}rect") if one.get("rx") == "4"]
    assert len(plates) == len(marks_of(station, mirrored))
    for plate in plates:
        x, y, wide, high = (float(plate.get(name, "nan")) for name in ("x", "y", "width", "height"))
        assert x >= 0 and x + wide <= WIDTH and y >= 0 and y + high <= height


def test_a_part_that_the_machine_lacks_is_not_drawn() -> None:
    # hand-worked: a cruiser has neither screen nor stay; everything else of the view stays as it is.
    marks = marks_of("nose_on", False)
    all_of_it, without = drawn("nose_on", marks), drawn("nose_on", marks[1:])
    (screen,) = view_of("nose_on").shapes["screen"].pieces
    assert any(path.get("d") == screen for path in all_of_it.iter(f"{SVG}path"))
    assert not any(path.get("d") == screen for path in without.iter(f"{SVG}path"))
    assert len(without.findall(f".//{SVG}a")) == len(all_of_it.findall(f".//{SVG}a")) - 1


def test_what_has_no_drawing_gives_no_picture_and_no_link() -> None:
    assert walk_view("roof", [Mark(region="top", name="Top")], link=lambda region: {"href": region}) == ""
    root = drawn("nose_on", [Mark(region="bell", name="Bell"), Mark(region="wheel", name="Wheel")])
    assert [link.get("aria-label") for link in root.iter(f"{SVG}a")] == ["Wheel"]


@given(name=st.text(st.characters(codec="utf-8", exclude_categories=("Cc", "Cs"), exclude_characters="\ufffe\uffff")))
def test_names_and_words_cannot_break_out(name: str) -> None:
    root = drawn("nose_on", [Mark(region="wheel", name=name, words=name)])
    assert len(root.findall(f".//{SVG}a")) == 1
    assert [text.text or "" for text in root.iter(f"{SVG}text")] == ([name] if name else [])


def test_the_flanks_of_a_mirrored_machine_carry_each_others_parts() -> None:
    usual, mirrored = view_of("left_flank"), view_of("right_flank", mirrored=True)
    for name, shape in usual.shapes.items():
        turned = [[(WIDTH - x, y) for x, y in outline_points(piece)] for piece in shape.pieces]
        for one, other in zip(turned, (outline_points(piece) for piece in mirrored.shapes[name].pieces), strict=True):
            assert all(abs(a - c) < 0.2 and abs(b - d) < 0.2 for (a, b), (c, d) in zip(one, other, strict=True))
    assert view_of("nose_on", mirrored=True) == view_of("nose_on")


# The reckoning with outlines. ----------------------------------------------------------------------------------------

COORDINATE = st.integers(0, 360).map(float)


@given(x=COORDINATE, y=COORDINATE, wide=st.integers(1, 90), high=st.integers(1, 90))
def test_turning_over_twice_changes_nothing(x: float, y: float, wide: int, high: int) -> None:
    path = box(x, y, wide, high)
    assert flipped(flipped(path, axis_x=180), axis_x=180) == path
    assert placed(placed(path, 7, -3), -7, 3) == path


def test_a_flattened_circle_has_the_area_of_a_circle() -> None:
    points = outline_points(ellipse(100, 100, 50))
    area = abs(sum(a * d - b * c for (a, b), (c, d) in zip(points, points[1:] + points[:1], strict=True))) / 2
    # published: pi r^2 = 7853.98; 48 chords take 0.3 % off, four cubic curves instead of arcs less than 0.03 %.
    assert area == pytest.approx(7853.98, rel=0.005)


def test_half_an_outline_makes_a_whole_one() -> None:
    points = outline_points(whole("M 180 10 C 150 10 120 40 120 80 L 180 90"))
    mirrored_points = {(round(360 - x, 1), round(y, 1)) for x, y in points}
    assert mirrored_points == {(round(x, 1), round(y, 1)) for x, y in points}


def test_the_measures_of_these_tests() -> None:
    # hand-worked: a square of 60 holds itself; a diamond of half-diagonal 60 holds a square of 60 and none larger.
    square = [(0.0, 0.0), (60.0, 0.0), (60.0, 60.0), (0.0, 60.0)]
    diamond = [(60.0, 0.0), (120.0, 60.0), (60.0, 120.0), (0.0, 60.0)]
    assert has_room_for(square, 60) and not has_room_for(square, 60.5)
    assert has_room_for(diamond, 59) and not has_room_for(diamond, 60.5)
    assert apart(square, [(x + 65, y) for x, y in square]) == pytest.approx(5)
    assert contains(square, (30, 30)) and not contains(square, (61, 30))
