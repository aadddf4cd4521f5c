"""What is ahead."""

from __future__ import annotations

import msgspec
import numpy as np
import pytest

from tests.answers.toys import DAYS, mixed_futures, toy_futures, toy_line, toy_rebuild
from wreckwright.answers.foresight import foresight
from wreckwright.answers.types import Foresight
from wreckwright.answers.words import driver_words
from wreckwright.futures.ledger import settle


def test_ten_futures_by_hand() -> None:
    # hand-worked: eight finish on days 10, 20, ... 80, one ends in no, one is still at it after 1,500 days. Given that
    # nothing ends it: nine values, of which half (5 of 9) by day 50 and eight tenths (8 of 9) by day 80.
    rebuild = toy_rebuild(gates=("does it turn over",))
    status = [0] * 8 + [1, 4]
    futures = toy_futures(
        10, rebuild=rebuild, status=status, reason=[-1] * 8 + [0, -1], day=[*range(10, 90, 10), 5, DAYS],
        gate_day=np.where(np.array(status) == 0, 1, -1)[:, None], out_minor=np.arange(10) * 1_000, days_to_sell=30,
    )
    seen = foresight(futures)
    assert (seen.finishes.chance, seen.finishes.words) == (0.8, "about 8 in 10")
    assert seen.finish is not None and seen.sold is not None
    assert (seen.finish.p50.days, seen.finish.p80.days) == (50, 80)
    assert seen.finish.p50.date == "2025-04-20"
    assert (seen.sold.p50.days, seen.sold.p80.days) == (80, 110)
    assert [(end.how, end.chance) for end in seen.ends_otherwise] == [
        ("no to 'does it turn over', and no way round left", 0.1),
        ("takes more than 4 years, and there the calendar ends", 0.1),
    ]
    assert (seen.spend.p50_minor, seen.spend.p80_minor, seen.spend.mean_minor) == (4_000, 7_000, 4_500)
    assert (seen.finish_curve[0].days, seen.finish_curve[-1].days, seen.finish_curve[-1].share) == (10, 80, 0.8)
    # Two of ten lose: no income, money spent.
    assert seen.loss.chance == 0.2
    # hand-worked: (8 x 1,000.00 - 45.00) / 10 futures over 10 hours each
    assert seen.pay_per_hour.mean_minor == round((800_000 - 45_000) / 100)


def test_days_beyond_the_calendar_are_said_in_years() -> None:
    seen = foresight(toy_futures(10, status=[0] * 6 + [4] * 4, day=[10] * 6 + [DAYS] * 4))
    assert seen.finish is not None
    assert seen.finish.p50.days == 10
    assert (seen.finish.p80.days, seen.finish.p80.date, seen.finish.p80.words) == (None, None, "more than 4 years")
    assert "8 times in 10 in more than 4 years" in seen.why


def test_a_finish_mostly_beyond_the_calendar_is_not_said_to_come_half_of_the_time() -> None:
    seen = foresight(toy_futures(10, status=[0] + [4] * 9, day=[10] + [DAYS] * 9))
    assert seen.why.startswith(
        "It finishes in about 1 in 10 futures; at these hours it mostly takes more than 4 years; from here"
    )


def test_none_finishes() -> None:
    seen = foresight(toy_futures(10, status=1, reason=0, gate_day=-1))
    assert seen.finish is None and seen.sold is None and seen.finish_curve == () and seen.drivers_of_finish == ()
    assert seen.why.startswith("It finishes in none of the futures (mostly: no to 'question 0', and no way round left)")


def test_never_supplied_and_stopped_by_rule_are_named() -> None:
    rebuild = toy_rebuild(stages=2, lines=(toy_line(name="front rim"),), gates=("turns over", "fit to ride"))
    seen = foresight(toy_futures(4, rebuild=rebuild, status=[0, 2, 3, 3], reason=[-1, 0, 1, 1]))
    assert [(end.how, end.chance) for end in seen.ends_otherwise] == [
        ("stopped by rule on a no to 'turns over'", 0.5), ("never supplied: front rim", 0.25),
    ]


def test_largest_cash_out_is_before_the_sale() -> None:
    # hand-worked: spend 200.00, holding 40 days at 1.00; for a lot besides 500.00 + 10 % + 70.00 of fetching
    common = {"out_minor": 20_000, "days_to_sell": 30, "holding_day_minor": 100}
    assert foresight(toy_futures(4, **common)).largest_cash_out.p80_minor == 24_000
    lot = toy_futures(4, bought=False, price_minor=50_000, entry_fixed_minor=7_000, fee_steps=((0, 0.1),), **common)
    assert foresight(lot).largest_cash_out.p80_minor == 24_000 + 62_000


def test_a_lot_without_a_price_says_so() -> None:
    seen = foresight(toy_futures(4, bought=False))
    assert seen.price_free
    assert "nothing reckoned for the price" in seen.why
    assert not foresight(toy_futures(4, bought=False, price_minor=1)).price_free
    assert not foresight(toy_futures(4)).price_free


def test_waiting_by_what_is_waited_for() -> None:
    rebuild = toy_rebuild(stages=2, lines=(toy_line(slot=0, name="water-pump cover"), toy_line(slot=0, name="gasket")),
                          outside=("papers",))
    waited = np.array([[120, 60, 0, 0, 180], [0, 0, 0, 0, 120]])
    seen = foresight(toy_futures(2, rebuild=rebuild, waited_minutes=waited))
    # hand-worked: of 480 minutes, 300 on papers, 120 on the parts of job 0, 60 on job 1, which has none
    assert [(w.what, w.kind, w.hours_mean, w.share) for w in seen.waiting] == [
        ("papers", "outside_gate", 2.5, 0.625), ("water-pump cover and gasket", "part", 1.0, 0.25),
        ("job 1", "cure_or_way_round", 0.5, 0.125),
    ]
    assert foresight(toy_futures(2)).waiting == ()


def test_suspects_are_said_as_trade_judgement_and_found_ones_left_out() -> None:
    seen = foresight(mixed_futures(500))
    assert [(s.component, s.words) for s in seen.suspects] == [
        ("fork_tube_r", "about 4 in 10, trade judgement"), ("head_bearings", "about 1 in 10, trade judgement"),
    ]
    assert [s.component for s in seen.what_happened] == ["lowside_right", "only_worn"]


def test_drivers_find_what_drives() -> None:
    futures = mixed_futures(6000)
    seen = foresight(futures)
    assert seen.drivers_of_finish[0].name == "own pace"
    assert seen.drivers_of_finish[0].share > 0.9
    # What it sells for tells nothing of the day: within 4 standard errors of nought.
    by_name = {driver.name: driver for driver in seen.drivers_of_finish}
    assert by_name["what it sells for"].share <= 4 * max(by_name["what it sells for"].share_se, 0.002)
    assert {driver.name for driver in seen.drivers_of_net[:2]} == {"what it sells for", "question: does it turn over"}
    assert driver_words(seen.drivers_of_net[0].name) in seen.why


def test_it_names_its_guesses_and_its_day_and_survives_json() -> None:
    seen = foresight(mixed_futures(300))
    assert seen.rests_on[0].words == "our guess about market.days_to_sell: 30 days (common practice)"
    assert (seen.as_of, seen.n_futures, seen.nickname, seen.currency) == ("2025-03-01", 300, "Bramble", "EUR")
    assert msgspec.json.decode(msgspec.json.encode(seen), type=Foresight) == seen


def test_chances_of_all_ends_add_up() -> None:
    seen = foresight(mixed_futures(3000))
    assert seen.finishes.chance + sum(end.chance for end in seen.ends_otherwise) == pytest.approx(1.0)


def test_never_the_word_safe() -> None:
    assert b"safe" not in msgspec.json.encode(foresight(mixed_futures(300))).lower()


def test_hours_are_shown_by_their_own_quantiles() -> None:
    futures = mixed_futures(1000)
    seen = foresight(futures)
    minutes = np.sort(settle(futures).minutes)
    # independent (numpy): median and 80 % point of the same hours, to within one future
    assert minutes[498] / 60.0 <= seen.hours.p50_hours <= minutes[501] / 60.0
    assert minutes[798] / 60.0 <= seen.hours.p80_hours <= minutes[801] / 60.0
