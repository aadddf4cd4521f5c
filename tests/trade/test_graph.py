"""Circles and orders among rows."""

from __future__ import annotations

import graphlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wreckwright.trade.graph import find_circle, opening_order
from wreckwright.trade.load import load_trade
from wreckwright.trade.types import Cover

names = st.sampled_from("abcdefgh")
graphs = st.dictionaries(names, st.lists(names, max_size=4, unique=True), max_size=8)


@given(before=graphs)
def test_a_circle_is_found_just_when_there_is_no_order(before: dict[str, list[str]]) -> None:
    # independent (graphlib of the standard library): it can order the rows exactly when there is no circle.
    try:
        tuple(graphlib.TopologicalSorter(before).static_order())
        ordered = True
    except graphlib.CycleError:
        ordered = False
    circle = find_circle(before)
    assert bool(circle) is not ordered
    if circle:
        assert circle[0] == circle[-1]
        assert all(step in before[row] for row, step in zip(circle, circle[1:], strict=False))


def cover(name: str, under: list[str]) -> Cover:
    return Cover(id=name, name=name, under=tuple(under), minutes_off=1.0, minutes_on=1.0, basis="judgement")


@given(data=st.data())
def test_an_opening_takes_each_cover_off_once_and_after_all_it_lies_under(data: st.DataObject) -> None:
    ids = [f"c{i}" for i in range(data.draw(st.integers(1, 9)))]
    covers = {
        name: cover(name, data.draw(st.lists(st.sampled_from(ids[:i]), unique=True, max_size=3)) if i else [])
        for i, name in enumerate(ids)
    }
    wanted = data.draw(st.lists(st.sampled_from(ids), min_size=1, max_size=3))
    order = opening_order(covers, wanted)
    assert len(set(order)) == len(order)
    assert set(wanted) <= set(order)
    for place, name in enumerate(order):
        assert set(covers[name].under) <= set(order[:place])
    # Nothing comes off for no reason: every step is wanted or lies over something that is.
    needed = set(wanted)
    for name in reversed(order):
        assert name in needed
        needed |= set(covers[name].under)


@pytest.mark.parametrize(
    ("target", "steps", "minutes_off", "minutes_on"),
    [
        # regression: steps and minutes of the covers table, added up by hand once.
        (
            "oil_pan_off",
            "oil_drain exhaust_can_off side_covers_off fairing_l_off fairing_r_off radiator_swing exhaust_header_off"
            " oil_pan_off",
            85, 124,
        ),
        (
            "stem_out",
            "bars_off paddock_rear front_stand front_wheel_out calipers_f_off mudguard_f_off forks_out top_clamp_off"
            " screen_off headlamp_out stem_out",
            85, 116,
        ),
    ],
)
def test_minutes_to_open(target: str, steps: str, minutes_off: int, minutes_on: int) -> None:
    covers = load_trade().covers
    order = opening_order(covers, [target])
    assert order == tuple(steps.split())
    assert sum(covers[name].minutes_off for name in order) == minutes_off
    assert sum(covers[name].minutes_on for name in order) == minutes_on


def test_shared_covers_count_once() -> None:
    # hand-worked: fork strip alone 75 minutes off, stem out alone 85; together 40 + 85 = 125, as all else is shared.
    covers = load_trade().covers
    both = opening_order(covers, ["fork_strip", "stem_out"])
    assert sum(covers[name].minutes_off for name in both) == 125


def test_an_unknown_cover_is_a_key_error() -> None:
    with pytest.raises(KeyError, match="no_such"):
        opening_order(load_trade().covers, ["no_such"])
