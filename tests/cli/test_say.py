"""The words for the answers: why comes first, figures after, guesses last, nothing wider than a terminal."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import msgspec
import pytest

from tests.papers import made_up
from wreckwright.acts.views import Reply, ShownGate
from wreckwright.answers.types import RestsOn
from wreckwright.cli.lines import guess_words, table
from wreckwright.cli.say_answers import bid_lines, fit_lines, foresight_lines, verdict_lines
from wreckwright.cli.say_record import gate_words

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
    assert lines[start + 1 : start + 4] == ["  - 20 %: way 0", "  - 2 other ways, each under 1 %", ""]


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
    assert [line.split(maxsplit=2)[2] for line in lines if line.startswith("  Walk away")] == [
        "at any price, to carry this plan through"
    ]
    alone = said("bid", walk_away_minor=None, at_walk_away=None, price_for_loss_minor=None, other_ways=())
    assert [line.split(maxsplit=2)[2] for line in alone if line.startswith("  Walk away")] == ["at any price"]
    assert [line for line in alone if line.startswith("  By a loss in at most") and "no price" in line]


def test_the_fit_list_names_what_stays_shut() -> None:
    text = "\n".join(said("fit"))
    assert "Shut until all of it is proved by hand: road test, handover." in text
    assert text.index("Not touched but suspected") < text.index("Not proved") < text.index("\nProved")


def test_a_table_gives_way_in_its_first_column_only() -> None:
    lines = table(["What", "worth"], [["word " * 30, "1,000"], ["short", "20"]])
    assert max(map(len, lines)) <= 80
    assert [line.split()[-1] for line in (lines[0], lines[1], lines[-1])] == ["worth", "1,000", "20"]


def test_money_that_came_in_is_not_shown_as_gone() -> None:
    for name in ("foresight", "verdict"):
        words = " ".join(" ".join(said(name, sunk_minor=-40_000)).split())
        assert "Come in already" in words and "-400" not in words.split("Come in already")[1][:40]


def test_a_question_is_told_as_a_question() -> None:
    asked = made_up.Driver(name="question: Does it turn over?", share=0.3, share_se=0.01)
    assert "  - 30 % of the spread: the answer to 'Does it turn over?'" in said("foresight", drivers_of_net=(asked,))
    gate = ShownGate(
        id="g", template="", question="Does he lend his lift", kind="outside", answer="unasked", quick_look="",
        look_first=(), by_proofs=False,
    )
    assert gate_words(gate) == "Does he lend his lift? Unasked (away from the bench)"
    open_still = msgspec.structs.replace(gate, answer="yes", look_first=("the list",))
    assert "Yes, it says, but the fit-to-ride list is not proved" in gate_words(open_still)


def test_a_missing_paper_is_told_once() -> None:
    items = made_up.fit_list().items
    for reason in ("It needs a specialist's paper.", "Nobody has proved it yet."):
        changed = msgspec.structs.replace(
            items[0], state="not proved", reason=reason, needs_specialist_paper=True, specialist_paper=""
        )
        words = " ".join(" ".join(said("fit", items=(changed,))).split())
        assert words.lower().count("specialist's paper") == 1


def test_no_brackets_stand_inside_brackets() -> None:
    guess = RestsOn(field="a", value="1", basis="judgement (from memory)", words="")
    assert guess_words(guess) == "a: 1 (judgement, from memory)"


def test_what_was_found_bad_is_not_called_a_judgement_of_the_trade() -> None:
    items = made_up.fit_list().items
    at = next(index for index, entry in enumerate(items) if entry.suspected)
    both = (made_up.Suspect(component="rim", chance=0.95, words="found bad"), *items[at].suspected)
    changed = msgspec.structs.replace(items[at], suspected=both)
    lines = said("fit", items=(*items[:at], changed, *items[at + 1 :]))
    assert "    Found bad: rim." in lines
    assert "    Suspected, by trade judgement: steering stem about 4 in 10." in lines
