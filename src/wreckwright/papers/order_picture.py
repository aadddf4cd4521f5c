"""The running order as a picture: days run down, parts come in from the right and reach the work that waits."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from wreckwright.papers import svg
from wreckwright.papers.figures import Figure
from wreckwright.papers.order_layout import (
    DATES_END,
    LETTERS,
    LINE,
    SPINE,
    TOP,
    WORDS,
    Event,
    Lane,
    Layout,
    laid_out,
    lower_first,
    short_day,
    shown_parcels,
    waiting_for,
)
from wreckwright.papers.words import MONTHS, day, percent, upper_first, with_days

if TYPE_CHECKING:
    from wreckwright.answers.plan_types import Parcel, RunningOrder, Stretch

BINDS_OVER = 0.1
"""A part for which the end waits in more than this share of the futures is drawn dark."""
RIBBON = 7.0
NAME = "order"
TITLE = "Parts, work and questions along time"
NOTE = (
    "Days run down; where much happens they are drawn further apart. Thick on the left: evenings with work; dotted: it "
    "stands. Each part comes down on the right and reaches, on its usual day, the work that waits for it; hatched: 6 "
    "in 10 come in that time. Dark: the end waits for it most often."
)


def order_figure(order: RunningOrder) -> Figure:
    """The picture with its caption, and all that it shows in words."""
    layout = laid_out(order)
    words = with_days(order_words(order))
    drawn = svg.inline(
        *months(layout),
        *(part for lane in layout.lanes for part in ribbon(lane)),
        *spine(layout),
        *(part for lane in reversed(layout.lanes) for part in line_of(lane)),
        *(part for event in layout.events for part in said(event, dt.date.fromisoformat(order.as_of), layout)),
        *(svg.text(WORDS, y, head, size=LETTERS, fill=svg.SOFT_INK) for y, head in layout.heads),
        *beginning(),
        name=NAME,
        height=layout.height,
        title=f"{order.nickname}: {TITLE[:1].lower()}{TITLE[1:]}",
        description=words,
    )
    return Figure(svg=drawn, title=TITLE, note=NOTE, words=words)


def beginning() -> list[str]:
    return [
        svg.text(DATES_END, TOP - 5, "today", anchor="end", size=LETTERS, weight="bold"),
        svg.line(SPINE - 8, TOP, SPINE + 8, TOP, stroke=svg.INK, width=2),
    ]


def spine(layout: Layout) -> list[str]:
    """The own evenings."""
    return [
        svg.line(SPINE, TOP, SPINE, layout.end_y, stroke=svg.MIDDLE, width=2, dash="2 4"),
        *(svg.line(SPINE, low, SPINE, high, stroke=svg.DEEP, width=8) for low, high in layout.at_work),
    ]


def ribbon(lane: Lane) -> list[str]:
    """When it may come: between the early and the late day."""
    return [svg.hatched(lane.x - RIBBON / 2, lane.early_y, RIBBON, lane.late_y - lane.early_y)]


def line_of(lane: Lane) -> list[str]:
    """Down, and to the left on the usual day. A light edge keeps it readable where it crosses hatching."""
    stroke = svg.DEEP if lane.parcel.share > BINDS_OVER else svg.MIDDLE
    way = [(lane.x, lane.from_y), (lane.x, lane.usual_y), (SPINE, lane.usual_y)]
    parts = [
        svg.path(way[1:], stroke=svg.PAPER, width=6),
        svg.path(way, stroke=stroke, width=3 if stroke == svg.DEEP else 2),
        svg.element("circle", cx=SPINE, cy=lane.usual_y, r=5, fill=svg.PAPER, stroke=stroke, stroke_width=3),
        svg.element("circle", cx=lane.x, cy=lane.from_y, r=3, fill=stroke),
    ]
    if lane.open_end:
        # Later than the calendar, or never.
        parts.append(svg.path(_open_end(lane), stroke=svg.DEEP, width=2))
    return parts


def _open_end(lane: Lane) -> list[tuple[float, float]]:
    y = lane.late_y + 5
    return [(lane.x - 5, y - 5), (lane.x, y), (lane.x + 5, y - 5)]


def said(event: Event, start: dt.date, layout: Layout) -> list[str]:
    """The words of an event on its line, its date on the left; a question is a line from edge to edge."""
    date = start + dt.timedelta(days=event.days)
    lines = len(event.bold) + len(event.plain)
    first = event.y - 8 - LINE * (lines - 1)
    # A lone line of words leaves room for the year above the line.
    two = lines > 1
    place = layout.events.index(event)
    before = start + dt.timedelta(days=layout.events[place - 1].days if place else 0)
    new_year = date.year != before.year
    parts = []
    if event.kind == "question":
        parts.append(svg.line(4, event.y, svg.WIDTH - 4, event.y, stroke=svg.INK, width=2.5))
    parts.append(svg.text(DATES_END, first, short_day(date), anchor="end", size=LETTERS))
    if new_year and two:
        parts.append(svg.text(DATES_END, first + LINE, str(date.year), anchor="end", size=LETTERS, fill=svg.SOFT_INK))
    for index, words in enumerate(event.bold):
        parts.append(svg.text(WORDS, first + LINE * index, _plain(words), size=LETTERS, weight="bold"))
    for index, words in enumerate(event.plain, len(event.bold)):
        parts.append(svg.text(WORDS, first + LINE * index, _plain(words), size=LETTERS, fill=svg.SOFT_INK))
    return parts


def _plain(words: str) -> str:
    """Without the straight quotes that name a hatching in an attribute."""
    return words.replace('"', "”")


def months(layout: Layout) -> list[str]:
    """First days of months, named where no date stands."""
    taken = [(event.top - 4, event.y + 4) for event in layout.events]
    parts, last = [], TOP + 4
    for y, first in layout.months:
        parts.append(svg.line(DATES_END + 3, y, SPINE, y))
        free = all(not (low < y + 8 and y - 10 < high) for low, high in taken)
        if free and y - 10 > last:
            name = MONTHS[first.month - 1][:3]
            parts.append(svg.text(DATES_END, y + 5, name, anchor="end", size=LETTERS, fill=svg.SOFT_INK))
            last = y + 8
    return parts


def order_words(order: RunningOrder) -> str:
    """What the picture shows, event by event in order of time, for those who do not see it. Dates are ISO dates."""
    told = [(one.p50, 0, parcel_words(one, waiting_for(one, order))) for one in shown_parcels(order)] + [
        (one.usual_date, 1, stretch_said(one)) for one in order.stretches if one.usual_date
    ]
    never = [f"{one.question}: not within the calendar" for one in order.stretches if not one.usual_date]
    lines = [words for _, _, words in sorted(told)] + never
    return "; ".join(lines) + "." if lines else "Nothing is waited for, and no question is open."


def parcel_words(parcel: Parcel, waiting: tuple[str, ...]) -> str:
    """When a part or an answer comes, and what waits for it."""
    late = f", 8 in 10 by {parcel.p80}" if parcel.p80 else ", and in 2 of 10 futures later than can be said"
    then = f", then {lower_first(waiting[0])}" if waiting else ""
    binds = f"; the end waits for it in {percent(parcel.share)} of the futures" if parcel.share >= 0.01 else ""
    return f"{upper_first(parcel.name)}: usually {parcel.p50}{late}{then}{binds}"


def stretch_said(stretch: Stretch) -> str:
    late = f", 8 in 10 by {stretch.when_p80.words}" if stretch.when_p80 and stretch.when_p80.date else ""
    return f"Question: {stretch.question} Usually {day(stretch.usual_date)}{late}"
