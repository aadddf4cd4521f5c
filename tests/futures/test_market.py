"""What a machine fetches: finished, as it stands, in pieces."""

from __future__ import annotations

import numpy as np
import pytest

from tests.futures.made_known import SLID, TRADE, known
from wreckwright.futures.draw import draw
from wreckwright.futures.market import expected_sales, repair_left_minor, season_by_month, selling_curve
from wreckwright.futures.needs import Need, needs_of
from wreckwright.futures.supplies import band_mean

EVEN = {component: 0.1 for component in TRADE.components}
GATES = ("turns", "straight", "runs", "fit_to_ride")
LOT = SLID.replace("bought = true, price_minor = 210000", "bought = false, at_auction = true")


def test_seasons_are_the_trades_quarters() -> None:
    months = season_by_month(TRADE)
    assert len(months) == 12
    for month in range(12):
        assert months[month] == TRADE.money[f"season_q{month // 3 + 1}"].figure.mid


def test_selling_curve_ends_with_everything_that_ever_comes_in() -> None:
    curve = selling_curve(TRADE)
    shares = [share for _, share in curve]
    assert shares == sorted(shares)
    assert shares[-1] == 1.0
    # hand-worked: 35 % of the gross by day 30, 90 % by day 365
    assert curve[0] == (30, pytest.approx(0.35 / 0.90))


def test_as_it_stands_fetches_more_with_every_gate_passed_and_less_than_finished() -> None:
    record = known()
    expected = expected_sales(record, TRADE, needs_of(record, TRADE, EVEN), GATES, {"lowside_right": 1.0})
    steps = expected.as_it_stands_minor
    assert len(steps) == 5
    assert list(steps) == sorted(steps)
    assert steps[-1] < record.sound_value_minor[1]


def test_a_buyer_of_a_project_takes_off_what_is_not_done_yet() -> None:
    record = known()
    needs = needs_of(record, TRADE, EVEN)

    def cost(need: Need) -> float:
        return band_mean(need.materials_minor) + sum(band_mean(part.supplies[0].price_minor) for part in need.parts)

    # hand-worked: known work whole, hidden work at its chance of 0.1, and the lump
    whole = sum(cost(n) for n in needs.known) + 0.1 * sum(cost(n) for n in needs.hidden) + needs.lump_mean[0]
    assert repair_left_minor(needs, GATES, 0) == pytest.approx(whole)
    first_start = [n for n in (*needs.known, *needs.hidden) if n.before_gate == "runs"]
    done = sum(n.chance * cost(n) for n in first_start)
    assert done > 0.0
    assert repair_left_minor(needs, GATES, 3) == pytest.approx(whole - done)


def test_in_pieces_it_fetches_the_trades_share_that_ever_sells_less_selling_costs() -> None:
    record = known()
    expected = expected_sales(record, TRADE, needs_of(record, TRADE, EVEN), GATES, {"lowside_right": 1.0})
    # hand-worked: 65 % of 6,400.00, of which 90 % ever sells, less 18 %
    assert expected.part_out_minor == round(0.65 * 640000 * 0.90 * 0.82)
    # hand-worked: 14 h to strip, 80 pieces at 0.45 h
    assert expected.part_out_minutes == round(60 * (14 + 80 * 0.45))


def test_the_owners_own_figures_are_taken_as_they_are() -> None:
    text = SLID.replace(
        "sound_value_minor = 640000", "sound_value_minor = 640000, as_it_stands_minor = 180000, part_out_minor = 250000"
    )
    market = draw(known(text), TRADE, n=50).market
    assert (market.as_it_stands_minor[:, 0] == 180000).all()
    assert (market.part_out_minor == 250000).all()


def test_a_drowned_machine_parts_out_for_less_than_one_that_slid() -> None:
    record = known()
    needs = needs_of(record, TRADE, EVEN)
    slid = expected_sales(record, TRADE, needs, GATES, {"lowside_right": 1.0})
    drowned = expected_sales(record, TRADE, needs, GATES, {"water_flood": 1.0})
    assert drowned.part_out_minor < slid.part_out_minor


def test_brand_takes_its_share_off() -> None:
    branded = SLID.replace("price_minor = 210000", 'price_minor = 210000, brand = "structural"')
    clean = SLID.replace("price_minor = 210000", 'price_minor = 210000, brand = "clean"')
    low = draw(known(branded), TRADE, n=400).market.sale_minor
    high = draw(known(clean), TRADE, n=400).market.sale_minor
    band = TRADE.brand_discounts["structural"].share_off
    off = 1.0 - low / high
    clean_most = TRADE.brand_discounts["clean"].share_off.high
    assert off.min() > band.low - clean_most - 0.01
    assert off.max() < band.high + 0.01
    # hand-worked: mean of a triangular distribution is (low + mid + high) / 3
    clean_band = TRADE.brand_discounts["clean"].share_off
    kept = (1 - (band.low + band.mid + band.high) / 3) / (1 - (clean_band.low + clean_band.mid + clean_band.high) / 3)
    assert 1.0 - off.mean() == pytest.approx(kept, abs=0.01)


def test_buyers_fees_only_for_a_lot_at_auction_that_is_not_bought_yet() -> None:
    assert draw(known(LOT), TRADE, n=20).market.fee_steps
    assert not draw(known(), TRADE, n=20).market.fee_steps
    named = LOT.replace("at_auction = true", "at_auction = true, fees_minor = 30000")
    market = draw(known(named), TRADE, n=20).market
    assert not market.fee_steps
    assert market.entry_fixed_minor >= 30000


def test_sunk_money_is_what_was_paid_and_nothing_for_a_lot() -> None:
    assert draw(known(), TRADE, n=20).market.sunk_minor >= 210000
    assert draw(known(LOT), TRADE, n=20).market.sunk_minor == 0


def test_sales_spread_about_the_sound_value() -> None:
    record = known()
    sale = draw(record, TRADE, n=4000).market.sale_minor
    low, likely, high = record.sound_value_minor
    off = TRADE.brand_discounts[record.brand].share_off
    assert np.median(sale) == pytest.approx(likely * (1 - off.mid), rel=0.05)


def test_a_question_answered_in_the_record_counts_as_passed() -> None:
    """The price does not fall by writing down the yes that was forecast."""
    plain, answered = known(), known(extra='turns_over = "yes"\n')
    needs = needs_of(plain, TRADE, EVEN)
    before = expected_sales(plain, TRADE, needs, GATES, {"lowside_right": 1.0}).as_it_stands_minor
    after = expected_sales(answered, TRADE, needs, GATES[1:], {"lowside_right": 1.0}).as_it_stands_minor
    # hand-worked: with the same work left, one yes of four questions leaves the four prices after it as they were
    assert after == before[1:]


def test_whoever_keeps_the_machine_waits_for_no_buyer_and_pays_for_no_advert() -> None:
    kept = draw(known(SLID + '\n[owner]\naim = "keep"\n'), TRADE, n=50).market
    sold = draw(known(), TRADE, n=50).market
    assert not kept.days_to_sell.any()
    assert kept.selling_share == 0.0
    assert sold.days_to_sell.all()
    assert sold.selling_share == TRADE.money["selling_share"].figure.mid
    assert np.array_equal(kept.sale_minor, sold.sale_minor)
