"""The same pictures to stand inside a page: drawing, caption and words apart, so that the page sets its own letters."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from wreckwright.papers import svg
from wreckwright.papers.pictures import (
    PANEL,
    finish_panel,
    finish_words,
    heading,
    money_note,
    money_panel,
    money_words,
    price_panels,
    price_words,
)
from wreckwright.papers.words import upper_first, with_days

if TYPE_CHECKING:
    from wreckwright.answers.types import Bid, BidPoint, Foresight

TOP = 14.0
"""Room over a panel for the letters of its highest line."""


@dataclass(frozen=True, kw_only=True)
class Figure:
    """One picture of a page."""

    svg: str
    """Markup, ready to be set into a page."""
    title: str
    note: str
    """What hatching and marks mean, in one line."""
    words: str
    """All that it shows, for those who do not see it."""


def _figure(*parts: str, name: str, height: float, nickname: str, title: str, note: str, words: str) -> Figure:
    named = f"{nickname}: {title[:1].lower()}{title[1:]}"
    drawn = svg.inline(*parts, name=name, height=height, title=named, description=words)
    return Figure(svg=drawn, title=title, note=note, words=words)


def finish_figure(answer: Foresight) -> Figure:
    """By when it is finished."""
    return _figure(
        *finish_panel(answer, TOP),
        name="finish",
        height=TOP + PANEL + 42,
        nickname=answer.nickname,
        title="Finished by when",
        note="Share of all futures; hatched: not finished at all.",
        words=with_days(finish_words(answer)),
    )


def money_figure(answer: Foresight) -> Figure:
    """How much is left over."""
    return _figure(
        *money_panel(answer, TOP),
        name="money",
        height=TOP + PANEL + 30,
        nickname=answer.nickname,
        title=f"What is left over, {answer.currency}",
        note=f"{upper_first(money_note(answer))}; hatched: a loss; the arrow: half of the futures lie below.",
        words=money_words(answer),
    )


def price_figure(answer: Bid, *, tried: BidPoint | None = None) -> Figure:
    """What a price does to the chance of a loss and to the pay; `tried`: a price to be marked."""
    first, second = 40.0, 222.0
    return _figure(
        *heading(20, "Chance of a loss"),
        *heading(second - 16, f"Pay for an hour, {answer.currency}"),
        *price_panels(answer, first, second, tried=tried),
        name="price",
        height=second + PANEL + 46,
        nickname=answer.nickname,
        title="What a price does",
        note="Hatched: dearer than the price to walk away at"
        + ("." if tried is None else "; the rings: the price you tried."),
        words=price_words(answer),
    )
