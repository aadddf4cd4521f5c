"""How things are said."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wreckwright.answers.words import beyond, in_ten, listed, money


@pytest.mark.parametrize(
    ("chance", "words"),
    [  # hand-worked: rounded to tenths, never to none or all of them; the ends in words of their own
        (0.0, "hardly ever"), (0.0099, "hardly ever"), (0.01, "fewer than 1 in 20"), (0.05, "about 1 in 10"),
        (0.149, "about 1 in 10"), (0.151, "about 2 in 10"), (0.374, "about 4 in 10"), (0.949, "about 9 in 10"),
        (0.95, "about 9 in 10"), (0.951, "more than 19 in 20"), (0.99, "more than 19 in 20"), (0.995, "nearly certain"),
        (1.0, "nearly certain"),
    ],
)
def test_a_chance_in_words(chance: float, words: str) -> None:
    assert in_ten(chance) == words


@given(st.floats(0.0, 1.0))
def test_a_chance_never_claims_more_than_a_tenth(chance: float) -> None:
    words = in_ten(chance)
    if words.startswith("about"):
        assert abs(int(words.split()[1]) / 10 - chance) <= 0.0500001
    else:
        assert chance < 0.05 or chance > 0.95


@pytest.mark.parametrize("chance", [-0.001, 1.001, float("nan")])
def test_what_is_no_chance_is_refused(chance: float) -> None:
    with pytest.raises(ValueError, match="between 0 and 1"):
        in_ten(chance)


def test_money_in_whole_units() -> None:
    # published (ISO 4217): yen have no decimals, Kuwaiti dinars three (from memory)
    assert money(123_456_789, "EUR") == "EUR 1,234,568"
    assert money(1_234, "JPY") == "JPY 1,234"
    assert money(1_234_000, "KWD") == "KWD 1,234"
    assert money(-49, "EUR") == "EUR 0"


def test_lists_and_far_off_days() -> None:
    assert (listed(()), listed(("a",)), listed(("a", "b"))) == ("", "a", "a and b")
    # hand-worked: 731 days are just over two years of 365.25 days; 30 days are not yet a month of 30.44
    assert (beyond(731), beyond(730), beyond(31), beyond(30)) == (
        "more than 2 years", "more than 1 year", "more than 1 month", "more than 30 days")
