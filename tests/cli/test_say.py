"""The words for the answers: why comes first, figures after, guesses last, nothing wider than a terminal."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import msgspec
import pytest

from tests.papers import made_up
from wreckwright.acts.views import Reply
from wreckwright.cli.lines import table
from wreckwright.cli.say_answers import bid_lines, fit_lines, foresight_lines, verdict_lines

SAYINGS: dict[str, tuple[Callable[[Any], list[str]], Callable[[str], Any]]] = {
    "foresight": (foresight_lines, made_up.foresight),
    "verdict": (verdict_lines, made_up.verdict),
    "bid": (bid_lines, made_up.bid),
    "fit": (fit_lines, made_up.fit_list),
}


def said(name: str, nickname: str = "Sorrel", **changes: Any) -> list[str]:
    lines, make = SAYINGS[name]
    answer = msgspec.structs.replace(make(nickname), **changes)
    return lines(Reply(answer=answer, names={"water pump": "coolant pump"}))


@pytest.mark.parametrize("name", SAYINGS)
def test_why_stands_before_the_first_figure_and_guesses_stand_last(name: str) -> None:
    lines = said(name, rests_on=made_up.RESTS_ON)
    assert lines[0].startswith("Sorrel: ") and "as of 2026-11-02" in lines[0]
    why = SAYINGS[name][1]("Sorrel").why
    assert " ".join(lines[2:4]).startswith(why)
    assert lines[-2:] == ["Rests on our guesses about", "  - market.days_to_sell: 30 days (common practice)"]


@pytest.mark.parametrize("name", SAYINGS)
def test_no_line_is_wider_than_a_terminal(name: str) -> None:
    long = "so " * 90
    for lines in (said(name), said(name, "N" * 60, why=long, notes=(long,))):
        assert max(map(len, lines)) <= 80


@pytest.mark.parametrize("name", SAYINGS)
def test_nothing_is_scored_graded_or_called_fit_for_use(name: str) -> None:
    words = " ".join(said(name)).lower()
    assert not re.search(r"\b(safe|score|grade|rating|green|amber|red)\b", words)


def test_damage_is_told_in_tenths_and_by_name() -> None:
    lines = said("foresight")
    assert "  - coolant pump: about 4 in 10, trade judgement" in lines


def test_a_foresight_without_a_finish_shows_no_dates() -> None:
    never = made_up.ChanceOf(chance=0.0, chance_se=0.0, words="hardly ever")
    lines = said("foresight", finish=None, sold=None, finishes=never)
    assert "  Finished              hardly ever" in lines
    assert not [line for line in lines if "if so, when" in line or "money in hand" in line]


def test_rare_ends_are_counted_not_listed() -> None:
    ends = [
        made_up.ChanceEnd(how=f"way {i}", chance=chance, chance_se=0.001)
        for i, chance in enumerate((0.2, 0.004, 0.003))
    ]
    lines = said("foresight", ends_otherwise=tuple(ends))
    start = lines.index("Ends otherwise")
    assert lines[start + 1 : start + 4] == ["  - way 0: 20 %", "  - 2 other ways, each under 1 %", ""]


def test_drivers_within_chance_are_not_told() -> None:
    weak = made_up.Driver(name="own pace", share=0.03, share_se=0.02)
    lines = said("foresight", drivers_of_net=(weak,), drivers_of_finish=(weak,))
    assert not [line for line in lines if "own pace" in line or "What moves" in line]


def test_the_bid_marks_the_price_to_walk_away_at() -> None:
    marked = [line for line in said("bid") if line.endswith("walk away")]
    assert len(marked) == 1 and marked[0].split()[0] == "1,150"


def test_the_bid_tells_what_other_ways_would_bear() -> None:
    lines = said("bid")
    assert "  - part it out: 900" in lines
    assert "  - sell it on as it stands: not at any price" in lines


def test_no_price_at_all_is_told() -> None:
    lines = said("bid", walk_away_minor=None, at_walk_away=None, price_for_loss_minor=None)
    assert [line.split(maxsplit=2)[2] for line in lines if line.startswith("  Walk away")] == ["at any price"]


def test_the_fit_list_names_what_stays_shut() -> None:
    text = "\n".join(said("fit"))
    assert "Shut until all of it is proved by hand: road test, handover." in text
    assert text.index("Not touched but suspected") < text.index("Not proved") < text.index("\nProved")


def test_a_table_gives_way_in_its_first_column_only() -> None:
    lines = table(["What", "worth"], [["word " * 30, "1,000"], ["short", "20"]])
    assert max(map(len, lines)) <= 80
    assert [line.split()[-1] for line in (lines[0], lines[1], lines[-1])] == ["worth", "1,000", "20"]
