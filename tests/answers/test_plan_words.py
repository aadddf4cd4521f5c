"""Lengths, lists and days in words; the examples in the module say the rest."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from wreckwright.answers.plan_words import capital, day_after, listed, small, some, work_words


@given(st.floats(0.0, 20_000.0))
def test_a_length_in_words_is_near_the_length(minutes: float) -> None:
    number, unit = work_words(minutes).split(" ")
    said = float(number) * (60.0 if unit.startswith("hour") else 1.0)
    # Nearest 5 minutes below 100, nearest half an hour above; single minutes below 10. Independent: the definition.
    assert abs(said - minutes) <= (0.5 if minutes < 10.0 else 2.5 if minutes < 100.0 else 15.0) + 1e-9


def test_edges() -> None:
    assert listed(()) == "" and some(()) == ""
    assert some(("a", "b", "c")) == "a, b and c" and some(("a", "b"), most=1) == "a and 1 more"
    assert day_after("9999-12-31", 1) == "" and day_after("2024-02-28", 2) == "2024-03-01"
    assert (small(""), capital("")) == ("", "")
