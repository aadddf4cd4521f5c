"""The reckoning of money, hours and days."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.answers.toys import DAYS, mixed_futures, toy_futures, toy_line, toy_rebuild
from wreckwright.errors import WreckwrightError
from wreckwright.futures.ledger import (
    PARTED_OUT,
    SOLD_AS_IT_STANDS,
    SOLD_FINISHED,
    fee_minor,
    parted_now,
    settle,
    sold_now,
    stopped_at,
)
from wreckwright.futures.scene import Market

W = 7_500
"""A workshop hour in minor units."""


def auction(**over: object) -> Market:
    steps = {"fee_steps": ((0, 0.30), (2 * W, 0.15), (10 * W, 0.09), (40 * W, 0.06), (100 * W, 0.04)),
             "fee_flat_minor": round(1.8 * W), "fee_minimum_minor": W // 2}
    return toy_futures(1, **{**steps, **over}).market


def test_fee_of_twenty_workshop_hours_is_two_point_seven_and_four_and_a_half_with_flat_items() -> None:
    # hand-worked: 2 W at 30 % + 8 W at 15 % + 10 W at 9 % = 0.6 + 1.2 + 0.9 = 2.7 W; handling, papers and online
    # bidding add 0.8 + 0.4 + 0.6 = 1.8 W (a generic fee table, from memory, no company's tariff)
    assert fee_minor(20 * W, auction()) == round(4.5 * W)
    assert fee_minor(20 * W, auction(fee_flat_minor=0)) == round(2.7 * W)


@pytest.mark.parametrize(
    ("price", "fee"),
    [  # hand-worked, without flat items: the minimum of half an hour; each end of a step; beyond the last
        (0, 3_750), (12_500, 3_750), (12_510, 3_753), (2 * W, 4_500), (10 * W, 13_500), (40 * W, 33_750),
        (100 * W, 60_750), (200 * W, 90_750),
    ],
)
def test_fee_at_the_ends_of_its_steps(price: int, fee: int) -> None:
    assert fee_minor(price, auction(fee_flat_minor=0)) == fee


def test_no_fee_table_no_fee() -> None:
    assert fee_minor(123_456, toy_futures(1).market) == 0


def test_a_negative_price_is_refused_with_its_value() -> None:
    with pytest.raises(WreckwrightError, match="-5"):
        fee_minor(-5, auction())


@given(
    st.lists(st.tuples(st.integers(1, 10**6), st.floats(0.0, 0.5)), max_size=5), st.integers(0, 10**6),
    st.integers(0, 10**5), st.integers(0, 10**5), st.integers(0, 10**6),
)
@settings(max_examples=200, deadline=None)
def test_fee_never_falls_as_the_price_rises(
    steps: list[tuple[int, float]], price: int, minimum: int, flat: int, more: int
) -> None:
    table = tuple(sorted({0: 0.1, **dict(steps)}.items()))
    market = auction(fee_steps=table, fee_minimum_minor=minimum, fee_flat_minor=flat)
    assert fee_minor(price, market) <= fee_minor(price + more, market)


def test_a_finished_machine_by_hand() -> None:
    futures = toy_futures(
        1, day=20, days_to_sell=40, sale_minor=400_000, selling_share=0.05, out_minor=80_000, hands_on_minutes=3_000,
        holding_day_minor=100, sunk_minor=150_000, season_factor=(1.0, 1.0, 1.0, 1.1) + (1.0,) * 8,
    )
    ledger = settle(futures)
    # hand-worked: 1 March + 60 days = 30 April, factor 1.1: 440,000; selling 22,000; holding 6,000;
    # net from here 440,000 - 22,000 - 80,000 - 6,000 = 332,000; whole 332,000 - 150,000
    assert ledger.sold_day.tolist() == [60]
    assert ledger.way.ends_as.tolist() == [SOLD_FINISHED]
    assert ledger.net_from_here_minor.tolist() == [332_000]
    assert ledger.whole_net_minor.tolist() == [182_000]
    assert ledger.minutes.tolist() == [3_000]
    assert ledger.way.worth_minor(1_200).tolist() == [332_000 - 50 * 1_200]


@pytest.mark.parametrize(("days", "factor"), [(0, 3), (30, 3), (31, 4), (305, 12), (306, 1), (1096, 3)])
def test_season_goes_by_the_calendar_month_of_the_sale(days: int, factor: int) -> None:
    # hand-worked: days after 1 March 2025; 31 December 2025 is day 305; 1 March 2028 is day 1096 (2028 has a 29
    # February)
    futures = toy_futures(1, day=days, season_factor=tuple(float(m) for m in range(1, 13)), sale_minor=1_000)
    assert settle(futures).net_from_here_minor.tolist() == [1_000 * factor]


def test_work_left_undone_comes_off_the_price_and_never_below_nought() -> None:
    rebuild = toy_rebuild(stages=2)
    undone = np.array([[True, False, False, False], [True, True, False, False]])
    futures = toy_futures(2, rebuild=rebuild, left_undone=undone, left_undone_minor=(30_000, 90_000, 0, 0))
    # hand-worked: 100,000 - 30,000, and 100,000 - 120,000 -> 0
    assert settle(futures).net_from_here_minor.tolist() == [70_000, 0]


def test_stopped_futures_take_what_the_policy_expects_to_be_better_and_get_what_is_drawn() -> None:
    rebuild = toy_rebuild(stages=2, as_it_stands_minor=(50_000, 90_000, 0), part_out_minor=70_000, part_out_minutes=600)
    futures = toy_futures(
        3, rebuild=rebuild, status=(1, 1, 4), day=(20, 40, DAYS), gate_day=((-1, -1), (20, -1), (-1, -1)),
        out_minor=10_000, resale_minor=5_000, hands_on_minutes=300, as_it_stands_minor=(40_000, 100_000, 0),
        part_out_minor=60_000, part_out_minutes=900, selling_share=0.1, days_to_sell_as_it_stands=10,
        part_out_days=30, holding_day_minor=10, hour_value_minor=1_000,
    )
    ledger = settle(futures)
    # hand-worked. No gate passed: expected 50,000 x 0.9 - 100 = 44,900 against 70,000 - 10 x 1,000 - 300 = 59,700:
    # part out, drawn 60,000 + 5,000 - 10,000 - 10 x 50 days. One gate passed: 80,900 against 59,700: as it stands,
    # drawn 100,000 - 10,000 + 5,000 - 10,000 - 10 x 50. Calendar over: as it stands, though parting out would be
    # better.
    assert ledger.way.ends_as.tolist() == [PARTED_OUT, SOLD_AS_IT_STANDS, SOLD_AS_IT_STANDS]
    assert ledger.sold_day.tolist() == [50, 50, DAYS + 10]
    assert ledger.net_from_here_minor.tolist() == [54_500, 84_500, 36_000 + 5_000 - 10_000 - 10 * (DAYS + 10)]
    assert ledger.minutes.tolist() == [1_200, 300, 300]
    # With an hour at 3,000 parting out is expected to bring 39,700 only: sold as it stands.
    assert settle(futures, hour_value_minor=3_000).way.ends_as.tolist() == [SOLD_AS_IT_STANDS] * 3


def test_stopped_at_an_epoch_by_hand() -> None:
    rebuild = toy_rebuild(stages=2, as_it_stands_minor=(50_000, 90_000, 0))
    futures = toy_futures(
        1, rebuild=rebuild, epoch_reached=True, epoch_day=(10, 20, 30, 40, 50, 60), selling_share=0.1,
        epoch_out_minor=(1_000, 2_000, 3_000, 4_000, 5_000, 6_000), epoch_resale_minor=500, epoch_minutes=60,
        holding_day_minor=10, days_to_sell_as_it_stands=5,
    )
    found = [int(stopped_at(futures, epoch, hour_value_minor=0).cash_minor[0]) for epoch in range(5)]
    # hand-worked: find and no of stage 0 with no gate passed (45,000 net), its yes and all of stage 1 with one
    # (81,000): 45,000 + 500 - 1,000 - 150; - 2,000 - 250; 81,000 + 500 - 3,000 - 350; - 4,000 - 450; - 5,000 - 550
    assert found == [44_350, 43_250, 78_150, 77_050, 75_950]


def test_now_counts_what_is_on_order_and_on_the_shelf() -> None:
    lines = (
        toy_line(slot=0, name="ordered, still to pay", already_ordered=True, sunk_minor=2_000),
        toy_line(slot=0, name="on the shelf", already_ordered=True, sunk_minor=8_000, resale=250),
        toy_line(slot=0, name="not ordered"),
        toy_line(slot=0, name="never comes", already_ordered=True, refund=600),
    )
    rebuild = toy_rebuild(lines=lines, as_it_stands_minor=(50_000, 0), part_out_minor=70_000, part_out_minutes=600)
    futures = toy_futures(
        1, rebuild=rebuild, price_minor=None, part_out_days=60, days_to_sell_as_it_stands=20, holding_day_minor=10,
        lead_days=np.array([[[5], [0], [5], [-1]]]),
    )
    worlds = replace(futures.worlds, price_minor=np.array([[[10_000], [0], [99_000], [4_000]]]))
    futures = replace(futures, worlds=worlds)
    # hand-worked: to pay 10,000 + 0 + 4,000 x 0.4 = 11,600; resale (10,000 + 2,000) / 2 + 8,000 / 4 + 1,600 / 2 = 8,800
    assert sold_now(futures).cash_minor.tolist() == [50_000 - 11_600 + 8_800 - 200]
    assert parted_now(futures).cash_minor.tolist() == [70_000 - 11_600 + 8_800 - 600]
    assert sold_now(futures).minutes.tolist() == [0]
    assert parted_now(futures).minutes.tolist() == [600]


def test_a_lot_is_charged_price_fee_and_fetching_a_bought_machine_its_sunk_money() -> None:
    fee = {"fee_steps": ((0, 0.1),), "fee_flat_minor": 500}
    lot = toy_futures(1, bought=False, entry_fixed_minor=7_000, sunk_minor=300, **fee)
    # hand-worked: 100,000 - 300 - 7,000 = 92,700 without a price; at 50,000 less 50,000 + 5,000 + 500
    assert settle(lot).price_minor is None
    assert settle(lot).whole_net_minor.tolist() == [92_700]
    assert settle(lot, price_minor=50_000).whole_net_minor.tolist() == [37_200]
    bought = toy_futures(1, bought=True, sunk_minor=62_000, **fee)
    assert settle(bought).whole_net_minor.tolist() == [38_000]
    priced = replace(bought, price_minor=50_000)
    # The price paid is in the sunk money already: only another price changes anything.
    assert settle(priced).whole_net_minor.tolist() == [38_000]
    assert settle(priced, price_minor=40_000).whole_net_minor.tolist() == [38_000 + 10_000 + 1_000]


def test_sunk_money_is_in_no_worth_from_here() -> None:
    few, many = mixed_futures(200, sunk_minor=0), mixed_futures(200, sunk_minor=900_000)
    assert (settle(few).net_from_here_minor == settle(many).net_from_here_minor).all()
    assert (settle(few).whole_net_minor - settle(many).whole_net_minor == 900_000).all()


@given(st.integers(0, 500_000), st.integers(0, 500_000))
@settings(max_examples=30, deadline=None)
def test_a_higher_price_never_leaves_more(a: int, b: int) -> None:
    lot = mixed_futures(50, bought=False, fee_steps=((0, 0.2), (50_000, 0.1)), fee_minimum_minor=3_000)
    low, high = sorted((a, b))
    assert (settle(lot, price_minor=low).whole_net_minor >= settle(lot, price_minor=high).whole_net_minor).all()
