"""The most that should be paid."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import norm

from tests.answers.toys import mixed_futures, repriced, toy_futures, toy_rebuild
from wreckwright.answers.bid import bid, bid_point
from wreckwright.answers.foresight import foresight
from wreckwright.futures.ledger import settle
from wreckwright.futures.scene import MAP_ERROR

FEES = {"fee_steps": ((0, 0.3), (15_000, 0.15), (75_000, 0.09)), "fee_flat_minor": 13_500, "fee_minimum_minor": 3_750}


def test_lognormal_value_without_costs() -> None:
    # published (definition: without fees the bid is the quantile of what is left; lognormal(ln 5,000, .3) at 20 %):
    # 5,000 exp(.3 x -0.84162) = 3,884.334. The values are the quantiles of 100,000 equally likely strata.
    n = 100_000
    value = np.exp(math.log(5000) + 0.3 * norm.ppf((np.arange(n) + 0.5) / n))
    found = bid(toy_futures(n, bought=False, sale_minor=np.rint(value * 100)))
    assert found.price_for_loss_minor == pytest.approx(388_433.4, abs=10)
    assert found.walk_away_minor == found.price_for_loss_minor
    assert found.binds == "chance of a loss"


@given(st.lists(st.integers(1, 10**6), min_size=5, max_size=60), st.sampled_from([0.0, 0.05, 0.2, 0.5, 0.9]))
@settings(max_examples=100)
def test_without_fees_it_is_a_quantile(values: list[int], accepted: float) -> None:
    # law: the highest b with a share of at most `accepted` of the values below b is the next value after that share
    found = bid(toy_futures(len(values), bought=False, sale_minor=values, accepted_loss_chance=accepted))
    assert found.price_for_loss_minor == sorted(values)[math.floor(accepted * len(values) + 1e-9)]


def test_fee_steps_are_in_and_it_is_exact_to_the_minor_unit() -> None:
    lot = mixed_futures(3000, bought=False, price_minor=None, sunk_minor=0, entry_fixed_minor=9_000, **FEES)
    found = bid(lot)
    price = found.price_for_loss_minor
    assert price is not None
    assert bid_point(lot, price).loss_chance <= 0.2 < bid_point(lot, price + 1).loss_chance
    pay = found.price_for_pay_minor
    assert pay is not None

    def mean_pay(b: int) -> float:
        ledger = settle(lot, price_minor=b)
        return float(ledger.whole_net_minor.mean() / (ledger.minutes.mean() / 60))

    assert mean_pay(pay) >= lot.wanted_pay_minor > mean_pay(pay + 1)
    assert found.walk_away_minor == min(price, pay)
    assert found.price_for_loss_low_minor <= price <= found.price_for_loss_high_minor  # type: ignore[operator]


def test_the_foresight_at_the_walk_away_price_says_the_same() -> None:
    lot = mixed_futures(3000, bought=False, price_minor=None, sunk_minor=0, entry_fixed_minor=9_000, **FEES)
    found = bid(lot)
    assert found.walk_away_minor is not None and found.at_walk_away is not None
    for point in (found.at_walk_away, *found.curve):
        seen = foresight(repriced(lot, point.price_minor))
        assert seen.loss.chance == point.loss_chance
        assert seen.net.mean_minor == point.net_mean_minor
        assert seen.pay_per_hour.mean_minor == point.pay_per_hour_minor


def test_the_curve_rises_in_price_and_in_loss() -> None:
    found = bid(mixed_futures(2000, bought=False, **FEES))
    prices = [point.price_minor for point in found.curve]
    assert prices == sorted(set(prices))
    assert {found.walk_away_minor, found.price_minor} <= set(prices)
    losses = [point.loss_chance for point in found.curve]
    pays = [point.pay_per_hour_minor or 0 for point in found.curve]
    assert losses == sorted(losses)
    assert pays == sorted(pays, reverse=True)
    assert losses[0] < losses[-1]


@given(st.floats(0.0, 1.0), st.floats(0.0, 1.0), st.integers(0, 5_000), st.integers(0, 5_000))
@settings(max_examples=25)
def test_asking_for_more_never_raises_the_bid(a: float, b: float, pay_a: int, pay_b: int) -> None:
    lot = mixed_futures(400, bought=False, **FEES)
    low, high = sorted((a, b))
    strict = bid(replace(lot, accepted_loss_chance=low, wanted_pay_minor=max(pay_a, pay_b))).walk_away_minor
    easy = bid(replace(lot, accepted_loss_chance=high, wanted_pay_minor=min(pay_a, pay_b))).walk_away_minor
    assert strict is None or (easy is not None and strict <= easy)


def test_own_hours_paid_lower_the_price() -> None:
    found = bid(mixed_futures(2000, bought=False, hour_value_minor=1200))
    assert found.price_for_loss_hours_paid_minor is not None and found.price_for_loss_minor is not None
    assert found.price_for_loss_hours_paid_minor < found.price_for_loss_minor
    free = bid(mixed_futures(2000, bought=False, hour_value_minor=0))
    assert free.price_for_loss_hours_paid_minor == free.price_for_loss_minor


def test_wanted_pay_by_hand() -> None:
    # hand-worked: 1,000.00 net for 10 hours without a price, and 30.00 wanted for each: 700.00 at most
    found = bid(toy_futures(10, bought=False, wanted_pay_minor=3_000))
    assert (found.price_for_loss_minor, found.price_for_pay_minor, found.walk_away_minor) == (100_000, 70_000, 70_000)
    assert found.binds == "wanted pay"
    assert "less than the wanted EUR 30" in found.why


def test_do_not_buy_it_at_any_price() -> None:
    found = bid(toy_futures(10, bought=False, out_minor=100_001))
    assert found.walk_away_minor is None and found.at_walk_away is None
    assert found.words == "Do not buy it at any price."
    assert found.binds == "neither"
    assert "even at a price of nought it ends in a loss in nearly every future" in found.why
    assert found.curve[0].price_minor == 0
    gift = bid(toy_futures(10, bought=False, out_minor=100_000))
    assert (gift.walk_away_minor, gift.words) == (0, "Only as a gift.")


def test_what_else_could_be_done_with_it_has_its_own_price() -> None:
    # hand-worked: 300.00 as it stands, 450.00 in pieces, 50.00 of fetching; rebuilding it loses, whatever it costs
    rebuild = toy_rebuild(as_it_stands_minor=(30_000, 0), part_out_minor=45_000, part_out_minutes=600)
    lot = toy_futures(300, rebuild=rebuild, bought=False, out_minor=200_000, entry_fixed_minor=5_000)
    found = bid(lot)
    assert [(way.name, way.price_for_loss_minor, way.net_mean_minor) for way in found.other_ways] == [
        ("part_out", 40_000, 40_000), ("sell_as_it_stands", 25_000, 25_000)]
    assert found.words == (
        "Do not buy it to carry this plan through at any price; to part it out it is worth at most EUR 400.")
    # With fees of a tenth the same money bears a price of 400 / 1.1.
    assert bid(replace(lot, market=replace(lot.market, fee_steps=((0, 0.1),)))).other_ways[0].price_for_loss_minor in (
        36_363, 36_364)


def test_with_the_right_to_stop_a_lot_bears_more() -> None:
    # hand-worked: half of the futures bring 1,000.00; the other half cost 500.00, unless stopped at 200.00
    rebuild = toy_rebuild(stages=2, as_it_stands_minor=(20_000, 0, 0), part_out_minor=-1)
    good = np.arange(1000) % 4 < 2
    reached = np.zeros((1000, 6), dtype=bool)
    reached[:, 1] = ~good
    lot = toy_futures(1000, rebuild=rebuild, bought=False, out_minor=np.where(good, 0, 150_000), epoch_reached=reached,
                      epoch_features=1.0)
    found = bid(lot)
    assert found.walk_away_minor is None
    # Selling on at once bears as much as the worse half of carrying on: 200.00.
    assert [(way.name, way.price_for_loss_minor, way.net_mean_minor) for way in found.other_ways] == [
        ("sell_as_it_stands", 20_000, 20_000), ("carry_on", 20_000, 60_000), ("part_out", None, -1)]


def test_a_lot_carries_the_warning_about_winning() -> None:
    assert any("overlooked something" in note for note in bid(mixed_futures(200, bought=False)).notes)


def test_looking_back_at_a_machine_already_bought() -> None:
    # hand-worked: net from here 100,000; 60,000 sunk, of it 50,000 price: 90,000 would have been the most
    found = bid(toy_futures(10, bought=True, price_minor=50_000, sunk_minor=60_000))
    assert found.looking_back
    assert found.walk_away_minor == 90_000
    assert found.words == "From today's knowledge it was worth EUR 900 at most."
    assert found.at_price is not None and found.at_price.net_mean_minor == 40_000
    assert "changes nothing about carrying on" in found.notes[0]


def test_looking_back_the_loss_at_the_price_paid_is_that_of_the_foresight() -> None:
    futures = mixed_futures(2000)
    found = bid(futures)
    assert found.at_price is not None
    assert found.at_price.loss_chance == foresight(futures).loss.chance


def test_a_brighter_map_allows_a_higher_price_and_the_answer_says_how_far_it_moves() -> None:
    # hand-worked: every future nets 30,000.00 less 500.00 for each unit of the map's error, so at the 90 % points of
    # that error (1.28155 units either way) the highest price without a loss is 640.78 lower or higher.
    error = np.where(np.arange(1000) % 2 == 0, -1.0, 1.0)
    futures = toy_futures(1000, sale_minor=3_000_000 - (50_000 * error).astype(np.int64), bought=False)
    assert bid(futures).price_for_loss_dark_map_minor is None
    assert not any("map of damage" in note for note in bid(futures).notes)
    found = bid(replace(futures, drivers={MAP_ERROR: error}))
    dark, bright = found.price_for_loss_dark_map_minor, found.price_for_loss_bright_map_minor
    assert dark is not None and bright is not None
    assert bright - dark == pytest.approx(2 * 64_078, abs=3)
    assert any("map of damage" in note for note in found.notes)
