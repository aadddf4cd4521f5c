"""What a reckoning moved: told when it is more than other draws would make of it, and in words.

The two answers of each test differ in exactly one figure, set by hand; the bounds are two standard errors of both
figures together (hand-worked: hypot(3, 4) = 5, so 10 is noise and 11 is news).
"""

from __future__ import annotations

import datetime as dt
from functools import lru_cache
from typing import Any

import pytest
from msgspec.structs import replace

from tests.acts.kept import AT, EXAMPLES
from wreckwright.acts.checks import trade_data
from wreckwright.acts.files import open_record
from wreckwright.acts.moved import moved
from wreckwright.acts.reckon_child import Asked, reckon
from wreckwright.acts.reckon_shapes import Answers, Moved
from wreckwright.answers.types import ChanceOf, DayQuantile


@lru_cache(maxsize=2)
def answers(name: str = "sorrel") -> Answers:
    asked = Asked(
        machine=open_record(EXAMPLES / f"{name}.toml"), trade=trade_data(), day=dt.date(2026, 11, 20), at=AT, change="",
        input_hash="", n_futures=200,
    )
    return reckon(asked, tell=lambda words, share: None)


def with_foresight(one: Answers, **fields: Any) -> Answers:
    return replace(one, foresight=replace(one.foresight, **fields))


def with_finish(which: str, quantile: DayQuantile) -> Answers:
    finish = answers().foresight.finish
    assert finish is not None
    return with_foresight(answers(), finish=replace(finish, **{which: quantile}))


def on(date: str, se_days: float) -> DayQuantile:
    days = (dt.date.fromisoformat(date) - dt.date(2026, 11, 20)).days
    return DayQuantile(days=days, date=date, days_se=se_days, words=date)


def test_the_same_answers_have_not_moved() -> None:
    assert moved(answers(), answers()) == ()
    assert moved(answers("magpie"), answers("magpie")) == ()


@pytest.mark.parametrize(
    ("figure", "name"),
    [("net", "Left over, half above"), ("spend", "Still to spend, half below")],
)
@pytest.mark.parametrize(
    ("more_minor", "told"), [(0, False), (1000, False), (1100, True), (-1000, False), (-1100, True)]
)
def test_money(figure: str, name: str, more_minor: int, told: bool) -> None:
    spread = getattr(answers().foresight, figure)
    old = replace(spread, p50_minor=200_000, p50_se_minor=300)
    new = replace(spread, p50_minor=200_000 + more_minor, p50_se_minor=400)
    found = moved(with_foresight(answers(), **{figure: old}), with_foresight(answers(), **{figure: new}))
    wanted = Moved(name=name, before="EUR 2,000", now=f"EUR {2000 + more_minor // 100:,}")
    assert found == ((wanted,) if told else ())


@pytest.mark.parametrize("which", ["p50", "p80"])
def test_finish(which: str) -> None:
    name = {"p50": "Finished, half by", "p80": "Finished, 8 in 10 by"}[which]
    old, near, far = on("2027-03-01", 3.0), on("2027-03-11", 4.0), on("2027-03-12", 4.0)
    assert moved(with_finish(which, old), with_finish(which, near)) == ()
    assert moved(with_finish(which, old), with_finish(which, far)) == (
        Moved(name=name, before="2027-03-01", now="2027-03-12"),)


def test_a_finish_beyond_the_calendar_and_none_at_all() -> None:
    beyond = DayQuantile(days=None, date=None, days_se=None, words="more than 4 years")
    found = moved(with_finish("p80", on("2027-03-01", 500.0)), with_finish("p80", beyond))
    assert found == (Moved(name="Finished, 8 in 10 by", before="2027-03-01", now="more than 4 years"),)
    assert moved(with_finish("p80", beyond), with_finish("p80", beyond)) == ()
    never = with_foresight(answers(), finish=None)
    assert [one.now for one in moved(answers(), never)] == ["never", "never"]
    assert moved(never, never) == ()


def test_days_are_compared_as_dates_not_as_days_from_different_mornings() -> None:
    # Nine days later nothing has changed but the day from which days are counted.
    old = with_finish("p50", on("2027-03-01", 0.1))
    later = with_finish("p50", DayQuantile(days=92, date="2027-03-01", days_se=0.1, words="2027-03-01"))
    assert moved(old, later) == ()


@pytest.mark.parametrize(
    ("figure", "name"), [("loss", "Chance of a loss"), ("finishes", "Finished at all")]
)
def test_chances(figure: str, name: str) -> None:
    def at(chance: float, se: float, words: str) -> Answers:
        return with_foresight(answers(), **{figure: ChanceOf(chance=chance, chance_se=se, words=words)})

    low, near, far = at(0.20, 0.03, "about 2 in 10"), at(0.295, 0.04, "about 3 in 10"), at(0.31, 0.04, "about 3 in 10")
    assert moved(low, near) == ()
    assert moved(low, far) == (Moved(name=name, before="about 2 in 10", now="about 3 in 10"),)
    # What nobody can see has not moved.
    assert moved(at(0.16, 0.001, "about 2 in 10"), at(0.24, 0.001, "about 2 in 10")) == ()


def test_the_choice_of_a_machine_that_is_bought() -> None:
    def chosen(choice: str) -> Answers:
        return replace(answers(), verdict=replace(answers().verdict, choice=choice))

    assert moved(chosen("carry_on"), chosen("sell_as_it_stands")) == (
        Moved(name="What to do", before="carry on", now="sell it as it stands"),)
    assert moved(chosen("too_close_to_call"), chosen("part_out"))[0].before == "too close to call"


def test_the_walk_away_price_of_a_lot() -> None:
    lot = answers("magpie")
    assert not lot.foresight.bought

    def at(walk_away: int | None, low: int | None = 99_400, high: int | None = 100_600) -> Answers:
        return replace(lot, bid=replace(
            lot.bid, walk_away_minor=walk_away, price_for_loss_low_minor=low, price_for_loss_high_minor=high))

    # The prices at two standard errors either way are 1200 apart: one is 300; the other's (98,800 to 100,400) is 400.
    old, near, far = at(100_000), at(101_000, 98_800, 100_400), at(101_100, 98_800, 100_400)
    assert moved(old, near) == ()
    assert moved(old, far) == (Moved(name="The most to pay", before="EUR 1,000", now="EUR 1,011"),)
    assert moved(old, at(None)) == (Moved(name="The most to pay", before="EUR 1,000", now="not at any price"),)
    assert moved(at(None), at(None)) == ()
    # The choice of a lot is what to do with it once it is here; not news of the price.
    assert moved(lot, replace(lot, verdict=replace(lot.verdict, choice="too_close_to_call"))) == ()


def test_buying_it_is_news_by_itself() -> None:
    found = moved(with_foresight(answers(), bought=False), answers())
    assert found == (Moved(name="The machine", before="not bought", now="bought"),)


def test_another_currency_is_never_noise() -> None:
    other = with_foresight(answers(), currency="GBP")
    assert [one.name for one in moved(answers(), other)] == ["Left over, half above", "Still to spend, half below"]
