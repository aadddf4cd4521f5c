"""A few typed facts are enough: every answer comes, and names what it took for granted."""

from __future__ import annotations

from pathlib import Path

import pytest

from wreckwright.acts import ask
from wreckwright.acts.ask import Question

MINIMAL = Path(__file__).parents[2] / "examples" / "minimal"
NAMES = ("sorrel", "bramble", "magpie")
FEW = 400


def question(name: str) -> Question:
    return Question(machine=MINIMAL / f"{name}.toml", n_futures=FEW)


@pytest.mark.parametrize("name", NAMES)
def test_foresight_verdict_and_bid_come_from_the_same_defaults_and_name_them(name: str) -> None:
    answers = [ask.foresight(question(name)).answer, ask.verdict(question(name)).answer, ask.bid(question(name)).answer]
    for answer in answers:
        assert answer.why.endswith(".")
        named = {rest.field for rest in answer.rests_on}
        # Nobody typed these, and each moves money, time or chances.
        assert {"calendar.attendance", "market.days_to_sell", "finished", "findings"} <= named
        assert all(rest.value and rest.basis for rest in answer.rests_on)
    assert len({tuple(rest.field for rest in answer.rests_on) for answer in answers}) == 1


@pytest.mark.parametrize("name", NAMES)
def test_fit_to_ride_proves_nothing_from_chances(name: str) -> None:
    answer = ask.fit(question(name)).answer
    assert answer.rests_on
    assert not answer.all_proved
    assert {item.state for item in answer.items} <= {"not proved", "not touched but suspected"}


@pytest.mark.parametrize("name", NAMES)
def test_bid_and_foresight_agree_on_the_loss_at_the_price(name: str) -> None:
    foresight, bid = ask.foresight(question(name)).answer, ask.bid(question(name)).answer
    if bid.at_price is not None:
        assert bid.at_price.loss_chance == foresight.loss.chance
