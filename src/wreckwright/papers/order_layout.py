"""Where everything stands in the picture of a running order: days run down, parts come in from the right.

Lengths are units of a canvas 360 wide; days count from the as-of date.
"""

from __future__ import annotations

import datetime as dt
import textwrap
from bisect import bisect_left, bisect_right
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from wreckwright.papers.words import MONTHS, upper_first

if TYPE_CHECKING:
    from wreckwright.answers.plan_types import OrderEntry, Parcel, RunningOrder, Stretch

LETTERS = 14.0
LINE = 18.0
"""Height of a line of letters."""
LETTER, BOLD_LETTER = 0.54, 0.6
"""Width of a letter of a sans face, as a share of its size, on average and with some room to spare."""
DATES_END, SPINE, WORDS = 51.0, 62.0, 74.0
"""Where the dates end, the line of the own evenings stands, the words begin."""
LAST_LANE, LANE_STEP = 348.0, 11.0
MOST_LANES = 8
TOP = 22.0
PER_DAY, LONGEST_GAP = 2.2, 80.0
"""Height of a day where nothing else asks for room; what passes without any event is not drawn higher than that."""
BELOW = 26.0


@dataclass(frozen=True, kw_only=True)
class Event:
    """Something that happens on one day; its words stand on the line at `y`."""

    kind: Literal["parcel", "question"]
    days: int
    y: float
    bold: tuple[str, ...]
    """Lines of letters, the first on top."""
    plain: tuple[str, ...]
    index: int
    """Of the parcel or the stretch."""

    @property
    def top(self) -> float:
        """Upper edge of its words."""
        return self.y - 6 - LINE * (len(self.bold) + len(self.plain))


@dataclass(frozen=True, kw_only=True)
class Lane:
    """The way of one parcel: straight down from when it is ordered, then to the left on its usual day."""

    parcel: Parcel
    x: float
    from_y: float
    usual_y: float
    early_y: float
    late_y: float
    """It comes between the two in 6 of 10 futures."""
    open_end: bool
    """It is never said by when 8 in 10 have come: too late for the calendar, or never."""


@dataclass(frozen=True, kw_only=True)
class Layout:
    height: float
    end_y: float
    """Of the last question, or of the last event."""
    events: tuple[Event, ...]
    lanes: tuple[Lane, ...]
    at_work: tuple[tuple[float, float], ...]
    """From, to: where evenings are used, touching ones joined."""
    heads: tuple[tuple[float, str], ...]
    """(baseline, words): what a stretch holds, under its beginning."""
    months: tuple[tuple[float, dt.date], ...]
    """First days of months."""


class Axis:
    """Days to heights: straight between the events, so that each has room for its words."""

    def __init__(self, days: Sequence[int], heights: Sequence[float]) -> None:
        self._days, self._heights = list(days), list(heights)

    def __call__(self, day: float) -> float:
        """Height of a day; of a day with several events the lowest.

        >>> axis = Axis([0, 10, 10, 20], [0.0, 50.0, 80.0, 100.0])
        >>> axis(5), axis(10), axis(15), axis(-3), axis(99)
        (25.0, 80.0, 90.0, 0.0, 100.0)
        """
        days, heights = self._days, self._heights
        right = bisect_right(days, day)
        if right == 0:
            return heights[0]
        if right == len(days):
            return heights[-1]
        low, high = days[right - 1], days[right]
        return heights[right - 1] + (day - low) / (high - low) * (heights[right] - heights[right - 1])

    def first(self, day: float) -> float:
        """The same, but of a day with several events the highest.

        >>> Axis([0, 10, 10, 20], [0.0, 50.0, 80.0, 100.0]).first(10)
        50.0
        """
        left = bisect_left(self._days, day)
        return self._heights[left] if left < len(self._days) and self._days[left] == day else self(day)


def wrapped(words: str, width: float, *, bold: bool = False, most: int = 2) -> tuple[str, ...]:
    """`words` in at most `most` lines that fit into `width`; what is left out is shown by dots.

    >>> wrapped("left fork leg of the front", 90), wrapped("left fork leg of the front wheel", 60)
    (('left fork', 'leg of the…'), ('left', 'fork…'))
    """
    letters = max(4, int(width / (LETTERS * (BOLD_LETTER if bold else LETTER))))
    lines = textwrap.wrap(words, letters, break_long_words=True, break_on_hyphens=False)
    if len(lines) <= most:
        return tuple(lines)
    last = lines[most - 1]
    return (*lines[: most - 1], (last if len(last) < letters else last[: letters - 1]) + "…")


def sure_parcels(order: RunningOrder) -> tuple[tuple[Parcel, ...], tuple[Parcel, ...]]:
    """Parts and answers that work or a question of this order waits for, or that are here; and those that are only
    ordered once something hidden is found. Both with those that bind first at first."""
    sure = tuple(one for one in order.parcels if waiting_for(one, order) or not one.p50 or one.p50 <= order.as_of)
    return sure, tuple(one for one in order.parcels if one not in sure)


def shown_parcels(order: RunningOrder) -> tuple[Parcel, ...]:
    """Those that are still to come and bind first, at most as many as can be told apart, in the order of arrival."""
    coming = [one for one in order.parcels if one.p50 and one.p50 > order.as_of and waiting_for(one, order)]
    return tuple(sorted(coming[:MOST_LANES], key=lambda one: (one.p50, one.name)))


def waiting_for(parcel: Parcel, order: RunningOrder) -> tuple[str, ...]:
    """Names of the work and questions that cannot begin before it, the earliest first."""
    if parcel.reaches:
        names = {entry.key: entry.name for stretch in order.stretches for entry in stretch.entries}
        names |= {stretch.gate: stretch.question for stretch in order.stretches}
        return tuple(names[key] for key in parcel.reaches if key in names)
    return tuple(
        entry.name
        for stretch in order.stretches
        for entry in stretch.entries
        if entry.waits_for and parcel.name.casefold() in entry.waits_for.casefold()
    )


def laid_out(order: RunningOrder) -> Layout:
    """The whole picture but its strokes."""
    start = dt.date.fromisoformat(order.as_of)

    def days(date: str) -> int:
        return max(0, (dt.date.fromisoformat(date) - start).days)

    parcels = shown_parcels(order)
    lane_x = tuple(LAST_LANE - LANE_STEP * (len(parcels) - 1 - index) for index in range(len(parcels)))
    room = (lane_x[0] if lane_x else LAST_LANE + LANE_STEP) - 12 - WORDS
    # Of one day: first what arrives, then the question that waits for it.
    planned = sorted(
        [(days(one.p50), 0, index) for index, one in enumerate(parcels)]
        + [(days(one.usual_date), 1, index) for index, one in enumerate(order.stretches) if one.usual_date]
    )
    events: list[Event] = []
    heads: list[tuple[float, str]] = []
    axis_days, heights = [0], [TOP]
    to_head = [index for index, one in enumerate(order.stretches) if one.entries]
    begun = 0
    for day, is_question, index in planned:
        if begun in to_head:
            to_head.remove(begun)
            heads.append((heights[-1] + LINE, stretch_words(order.stretches[begun].entries)))
        if is_question:
            bold = wrapped(order.stretches[index].question, room, bold=True, most=3)
            plain = wrapped(question_words(order.stretches[index]), room)
        else:
            bold = wrapped(upper_first(parcels[index].name), room, bold=True)
            plain = wrapped(then_words(waiting_for(parcels[index], order)), room)
        lines = max(2, len(bold) + len(plain))
        over = heads[-1][0] if heads and heads[-1][0] > heights[-1] else heights[-1]
        gap = min((day - axis_days[-1]) * PER_DAY, LONGEST_GAP)
        y = max(heights[-1] + gap, over + lines * LINE + 14)
        events.append(
            Event(kind="question" if is_question else "parcel", days=day, y=y, bold=bold, plain=plain, index=index)
        )
        axis_days.append(day)
        heights.append(y)
        begun = index + 1 if is_question else begun
    end_y = heights[-1]
    late = max([days(one.p80) for one in parcels if one.p80], default=0)
    if late > axis_days[-1] or any(not one.p80 for one in parcels):
        axis_days.append(max(late, axis_days[-1] + 1))
        heights.append(end_y + min(max((late - axis_days[-2]) * PER_DAY, BELOW), LONGEST_GAP))
    axis = Axis(axis_days, heights)
    usual = {event.index: event.y for event in events if event.kind == "parcel"}
    lanes = tuple(
        Lane(
            parcel=one,
            x=lane_x[index],
            from_y=min(axis(days(one.from_date)) if one.from_date else TOP, usual[index] - 1),
            usual_y=usual[index],
            early_y=min(axis.first(days(one.p20)), usual[index]) if one.p20 else usual[index],
            late_y=max(axis(days(one.p80)), usual[index]) if one.p80 else heights[-1],
            open_end=not one.p80,
        )
        for index, one in enumerate(parcels)
    )
    return Layout(
        height=heights[-1] + BELOW,
        end_y=end_y,
        events=tuple(events),
        lanes=lanes,
        at_work=at_work(order, axis, days),
        heads=tuple(heads),
        months=month_marks(start, axis_days[-1], axis),
    )


def at_work(order: RunningOrder, axis: Axis, days: Callable[[str], int]) -> tuple[tuple[float, float], ...]:
    """Where evenings are used, as heights; pieces that touch are one."""
    pieces = sorted(
        (axis.first(days(entry.from_date)), axis(days(entry.to_date)))
        for stretch in order.stretches
        for entry in stretch.entries
        if entry.from_date and entry.to_date and entry.minutes > 0
    )
    joined: list[tuple[float, float]] = []
    for low, high in pieces:
        if joined and low <= joined[-1][1] + PER_DAY:
            joined[-1] = (joined[-1][0], max(joined[-1][1], high))
        else:
            joined.append((low, high))
    return tuple((low, max(high, low + PER_DAY)) for low, high in joined)


def month_marks(start: dt.date, last_day: int, axis: Axis) -> tuple[tuple[float, dt.date], ...]:
    """First days of months as heights, not the day of the beginning."""
    marks: list[tuple[float, dt.date]] = []
    year, month = start.year, start.month
    while True:
        year, month = (year + 1, 1) if month == 12 else (year, month + 1)
        first = dt.date(year, month, 1)
        if (first - start).days > last_day:
            return tuple(marks)
        marks.append((axis((first - start).days), first))


def stretch_words(entries: Sequence[OrderEntry]) -> str:
    """How much work a stretch holds; its hours are those for covers and the test as well.

    >>> stretch_words(())
    'no work'
    """
    hours = sum(entry.minutes for entry in entries) / 60
    works = sum(1 for entry in entries if entry.kind not in ("off", "on", "gate"))
    if not works:
        return "no work"
    pieces = "piece" if works == 1 else "pieces"
    return f"{works} {pieces} of work, {hours:.0f} h" if hours >= 0.5 else f"{works} small {pieces} of work"


def lower_first(words: str) -> str:
    """
    >>> lower_first("Fit the wheel")
    'fit the wheel'
    """
    return words[:1].lower() + words[1:]


def then_words(names: Sequence[str]) -> str:
    """
    >>> then_words(("Fit the wheel", "Test the brake", "Set the chain")), then_words(())
    ('then: fit the wheel, and 2 more', '')
    """
    if not names:
        return ""
    more = f", and {len(names) - 1} more" if len(names) > 1 else ""
    return f"then: {lower_first(names[0])}{more}"


def short_day(date: dt.date) -> str:
    """
    >>> short_day(dt.date(2027, 2, 9))
    '9 Feb'
    """
    return f"{date.day} {MONTHS[date.month - 1][:3]}"


def question_words(stretch: Stretch) -> str:
    """By when it is answered in 8 of 10 futures."""
    late = stretch.when_p80
    if late is None:
        return ""
    if not late.date:
        return f"8 in 10: {late.words}"
    date = dt.date.fromisoformat(late.date)
    return f"8 in 10 by {short_day(date)} {date.year}"
