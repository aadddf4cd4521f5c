"""A price read from the curve: on a point, between two, beyond the ends."""

from __future__ import annotations

import msgspec
import pytest

from tests.papers import made_up
from wreckwright.acts.tried import try_price
from wreckwright.errors import EntryError


def test_a_price_that_was_reckoned_is_given_as_it_is() -> None:
    answer = made_up.bid()
    tried = try_price(answer, 120_000)
    assert tried.reckoned
    assert tried.point == next(point for point in answer.curve if point.price_minor == 120_000)


def test_the_walk_away_price_is_reckoned_though_it_is_no_point_of_the_curve() -> None:
    answer = made_up.bid()
    assert 115_000 not in {point.price_minor for point in answer.curve}
    assert try_price(answer, 115_000).point == answer.at_walk_away


def test_between_two_points_every_figure_lies_on_the_straight_line() -> None:
    answer = made_up.bid()
    below, above = (try_price(answer, price).point for price in (120_000, 130_000))
    tried = try_price(answer, 122_500)
    # hand-worked: a quarter of the way from 1,200 to 1,300; net 700 and 600 there, so 675; all in 1,600 and 1,700.
    assert not tried.reckoned
    assert tried.point.net_mean_minor == 67_500
    assert tried.point.all_in_minor == 162_500
    assert tried.point.loss_chance == pytest.approx(0.75 * below.loss_chance + 0.25 * above.loss_chance)


def test_without_own_hours_there_is_no_pay_between_points_either() -> None:
    answer = made_up.bid()
    curve = tuple(msgspec.structs.replace(point, pay_per_hour_minor=None) for point in answer.curve)
    bare = msgspec.structs.replace(answer, curve=curve, at_walk_away=None)
    assert try_price(bare, 122_500).point.pay_per_hour_minor is None


@pytest.mark.parametrize("price_minor", [19_999, 260_001])
def test_beyond_the_ends_nothing_is_said(price_minor: int) -> None:
    with pytest.raises(EntryError, match="outside the prices that were reckoned with") as raised:
        try_price(made_up.bid(), price_minor)
    assert raised.value.field == "price"
    assert raised.value.allowed == "EUR 200.00 to EUR 2,600.00"


def test_without_a_curve_no_price_can_be_tried() -> None:
    bare = msgspec.structs.replace(made_up.bid(), curve=(), at_walk_away=None)
    with pytest.raises(EntryError, match="outside") as raised:
        try_price(bare, 100)
    assert raised.value.allowed == "no price at all"


def test_what_lies_above_the_price_to_walk_away_at_is_too_dear() -> None:
    answer = made_up.bid()
    # hand-worked: the price to walk away at is 1,150.
    assert [try_price(answer, price).too_dear for price in (114_999, 115_000, 115_001)] == [False, False, True]


def test_where_there_is_no_such_price_every_price_is_too_dear() -> None:
    never = msgspec.structs.replace(made_up.bid(), walk_away_minor=None, at_walk_away=None)
    assert try_price(never, 20_000).too_dear
