"""Pieces of answers in words: what is told, what is left out, and that each thing is said once."""

from __future__ import annotations

import msgspec
import pytest

from tests.papers import made_up
from wreckwright.papers.said import (
    basis_words,
    by,
    cost_words,
    driver_items,
    end_items,
    fit_words,
    in_futures,
    spread_words,
    stop_words,
)

NAMES = {"steering_stem": "Steering stem", "bars": "Handlebar"}


def say(amount_minor: int | None) -> str:
    return "-" if amount_minor is None else f"{amount_minor / 100:.0f}"


def suspect(component: str, words: str) -> made_up.Suspect:
    return made_up.Suspect(component=component, chance=0.4, words=words)


def entry(**more: object) -> made_up.FitEntry:
    return msgspec.structs.replace(made_up.fit_list().items[2], **more)


def test_spreads_are_told_from_the_middle_out() -> None:
    spread = made_up.spread(-10_000, 40_000, 90_000)
    assert spread_words(spread, say) == "half above 400; 8 in 10 above -100, 2 in 10 above 900"
    assert cost_words(spread, say) == "half below 400; 8 in 10 below 900"


@pytest.mark.parametrize(
    ("words", "told"), [("about 4 in 10", "in about 4 in 10 futures"), ("hardly ever", "hardly ever")]
)
def test_only_counts_are_counts_of_futures(words: str, told: str) -> None:
    assert in_futures(made_up.ChanceOf(chance=0.4, chance_se=0.01, words=words)) == told


def test_a_day_beyond_the_calendar_is_no_date() -> None:
    assert by(made_up.quantile(30, "2027-04-01", "2027-04-01")) == "by 2027-04-01"
    beyond = made_up.DayQuantile(days=None, date=None, days_se=None, words="more than 4 years")
    assert by(beyond) == "in more than 4 years"


def test_rare_ends_are_counted_and_not_listed() -> None:
    def end(how: str, chance: float) -> made_up.ChanceEnd:
        return made_up.ChanceEnd(how=how, chance=chance, chance_se=0.001)

    assert end_items([end("a", 0.12), end("b", 0.01)]) == ["12 %: a", "1 %: b"]
    assert end_items([end("a", 0.12), end("b", 0.009)]) == ["12 %: a", "1 other way, each under 1 %"]
    assert end_items([end("a", 0.001), end("b", 0.009)]) == ["2 other ways, each under 1 %"]


def test_drivers_that_chance_alone_may_have_made_are_left_out() -> None:
    def driver(name: str, share: float, share_se: float) -> made_up.Driver:
        return made_up.Driver(name=name, share=share, share_se=share_se)

    told = driver_items([driver("own pace", 0.2, 0.02), driver("luck", 0.04, 0.02), driver("dust", 0.009, 0.001)])
    assert told == ["20 % of the spread: own pace"]


def test_the_money_at_a_stop_is_told_only_where_it_explains_it() -> None:
    point = made_up.verdict().reckoning.right_to_stop.points[0]
    assert stop_words(point, say) == (
        "7 % after the first start (then about 1500 still to spend, against 600 where it goes on)"
    )
    other = msgspec.structs.replace(point, spend_if_stopped_minor=50_000)
    assert stop_words(other, say) == "7 % after the first start"


def test_there_are_no_brackets_inside_brackets() -> None:
    assert basis_words("judgement (one figure, 10 % either way)") == "judgement, one figure, 10 % either way"
    assert basis_words("common practice") == "common practice"


def test_what_was_found_is_told_from_what_is_guessed() -> None:
    found = suspect("steering_stem", "found bad, put right since")
    suspected = (found, suspect("bars", "about 4 in 10, trade judgement"))
    told = fit_words(entry(suspected=suspected), NAMES)
    assert told.lines[:2] == (
        "Found bad: Steering stem, put right since.",
        "Suspected, by trade judgement: Handlebar about 4 in 10.",
    )
    assert told.lines[2] == "A specialist's paper is needed."
    assert told.reason == "", "the list of what is suspected is the reason"
    assert told.to_prove == "By hand."


def test_many_suspects_are_counted() -> None:
    suspected = tuple(suspect(f"part_{n}", "about 2 in 10, trade judgement") for n in range(5))
    told = fit_words(entry(suspected=suspected), {})
    assert told.lines[0] == (
        "Suspected, by trade judgement: part 0 about 2 in 10; part 1 about 2 in 10; part 2 about 2 in 10; and 2 more."
    )


def test_a_heading_that_is_proved_asks_for_nothing_more() -> None:
    told = fit_words(made_up.fit_list().items[0], {})
    assert (told.reason, told.lines, told.to_prove) == ("Proved by hand.", ("Discs measured, hoses new.",), "")


def test_the_paper_is_not_asked_for_once_it_is_there() -> None:
    assert "paper" not in " ".join(fit_words(entry(specialist_paper="no. 7"), NAMES).lines)
