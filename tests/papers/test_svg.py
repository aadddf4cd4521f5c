"""The SVG writer: escaping, round figures."""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree

from hypothesis import given
from hypothesis import strategies as st

from wreckwright.papers import svg

PRINTABLE = st.text(st.characters(codec="utf-8", exclude_categories=("Cc", "Cs"), exclude_characters="\ufffe\uffff"))


@given(words=PRINTABLE)
def test_words_come_back_as_they_went_in(words: str) -> None:
    whole = svg.picture(svg.text(1, 2, words), height=10, title=words, description=words)
    root = ElementTree.fromstring(whole.encode())
    read = [root.find(f"{{http://www.w3.org/2000/svg}}{tag}").text or "" for tag in ("title", "desc", "text")]
    # common practice: XML reads every line end as a line feed (XML 1.0, section 2.11).
    assert read == [words] * 3


@given(value=PRINTABLE)
def test_an_attribute_cannot_break_out(value: str) -> None:
    root = ElementTree.fromstring(svg.element("g", role=value))
    assert set(root.attrib) == {"role"}


@given(
    low=st.floats(-1e6, 1e6),
    span=st.floats(1e-3, 1e6),
    most=st.integers(2, 9),
)
def test_round_steps_are_few_inside_and_evenly_spaced(low: float, span: float, most: int) -> None:
    steps = svg.round_steps(low, low + span, most=most)
    assert len(steps) <= most
    assert all(low - 1e-6 * span <= step <= low + span * (1 + 1e-6) for step in steps)
    gaps = [after - before for before, after in zip(steps, steps[1:], strict=False)]
    assert all(abs(gap - gaps[0]) < 1e-6 * span for gap in gaps)


def test_round_steps_by_hand() -> None:
    # hand-worked: 0, 20, ..., 100 are six; with at most five the next rounder step is 50.
    assert svg.round_steps(0, 100, most=6) == [0, 20, 40, 60, 80, 100]
    assert svg.round_steps(0, 100, most=5) == [0, 50, 100]
    assert svg.round_steps(7, 7, most=5) == [7]
