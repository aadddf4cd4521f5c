"""Sums, shares and lines as they are read."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from wreckwright.answers import words as answer_words
from wreckwright.papers.words import COLUMNS, as_json, money, percent, row, wrapped


@given(amount_minor=st.integers(-(10**10), 10**10), currency=st.sampled_from(["EUR", "GBP", "JPY", "KWD"]))
def test_faces_and_answers_write_the_same_sum_the_same_way(amount_minor: int, currency: str) -> None:
    assert money(amount_minor, currency) == answer_words.money(amount_minor, currency)


@given(text=st.text(st.characters(min_codepoint=32, max_codepoint=126), max_size=400), indent=st.integers(0, 20))
def test_lines_never_pass_the_edge(text: str, indent: int) -> None:
    assert all(len(line) <= COLUMNS for line in wrapped(text, indent=indent))
    assert all(len(line) <= COLUMNS for line in row("A label of some length", text))


@given(share=st.floats(0, 1))
def test_a_share_is_never_said_to_be_nought_or_all_when_it_is_not(share: float) -> None:
    words = percent(share)
    assert (words == "0 %") == (share == 0)
    assert (words == "100 %") == (share == 1)


def test_json_keeps_letters_and_the_order_of_fields() -> None:
    assert as_json({"b": "Säge", "a": 1}) == '{\n  "b": "Säge",\n  "a": 1\n}'
