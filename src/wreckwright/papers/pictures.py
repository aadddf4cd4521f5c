"""The pictures that go with answers, as SVG text: when it is finished, what is left over, what a price does."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from wreckwright.papers import svg
from wreckwright.papers.words import MONTHS, minor_per_major, money, percent, upper_first

if TYPE_CHECKING:
    from wreckwright.answers.types import Bid, BidPoint, FinishPoint, Foresight

LEFT, RIGHT = 58.0, 348.0
"""Ends of the drawing area; what is left of it holds the figures of the upright axis."""
NEARLY_ALL = 0.97
PANEL = 130.0
"""Height of a panel."""
LETTERS = 14.0
"""Size of the figures and words inside a panel: they are read at arm's length on a telephone."""


def scale(low: float, high: float, start: float, end: float) -> Callable[[float], float]:
    """Linear map of low..high onto start..end; a span of nothing lands in the middle.

    >>> scale(0, 10, 100, 200)(5)
    150.0
    """
    if high == low:
        return lambda value: (start + end) / 2
    return lambda value: start + (value - low) / (high - low) * (end - start)


def shortened(title: str, *, most: int = 34) -> str:
    """
    >>> shortened("Sorrel", most=34), shortened("A long name", most=7)
    ('Sorrel', 'A long…')
    """
    return title if len(title) <= most else title[: most - 1] + "…"


def heading(y: float, title: str, note: str = "") -> list[str]:
    parts = [svg.text(12, y, shortened(title), size=15, weight="bold")]
    if note:
        parts.append(svg.text(12, y + 17, note, size=12, fill=svg.SOFT_INK))
    return parts


def share_axis(y_of: Callable[[float], float], steps: Sequence[float]) -> list[str]:
    parts = []
    for step in steps:
        parts.append(svg.line(LEFT, y_of(step), RIGHT, y_of(step), stroke=svg.PALE))
        parts.append(
            svg.text(LEFT - 6, y_of(step) + 4, f"{step * 100:.0f} %", anchor="end", size=LETTERS, fill=svg.SOFT_INK)
        )
    return parts


def money_axis(x_of: Callable[[float], float], low: float, high: float, y: float, *, most: int = 5) -> list[str]:
    """Round sums under a panel, in whole units; those that have no room keep their tick only."""
    parts = []
    taken = 0.0
    for step in svg.round_steps(low, high, most=most, factors=(1, 2, 4, 5)):
        x = x_of(step)
        words = f"{step:,.0f}"
        half = 0.3 * LETTERS * len(words)
        at_edge = x + half > svg.WIDTH - 4
        parts.append(svg.line(x, y, x, y + 4))
        if x - (2 * half if at_edge else half) < taken:
            continue
        parts.append(svg.text(x, y + 17, words, anchor="end" if at_edge else "middle", size=LETTERS, fill=svg.SOFT_INK))
        taken = x + (0 if at_edge else half)
    return parts


def month_axis(first: dt.date, last_days: float, x_of: Callable[[float], float], y: float) -> list[str]:
    """First days of months, quarters or years under a panel, whichever are at most six."""
    starts: list[dt.date] = []
    for every in (1, 2, 3, 6, 12, 24, 60):
        starts = []
        year, month = first.year, first.month + 1
        while True:
            year, month = (year + 1, month - 12) if month > 12 else (year, month)
            start = dt.date(year, month, 1)
            if (start - first).days > last_days or len(starts) > 400:
                break
            if (month - 1 + 12 * (year - first.year if every > 12 else 0)) % every == 0:
                starts.append(start)
            month += 1
        if len(starts) <= 6:
            break
    parts = []
    shown_year = None
    for start in starts:
        x = x_of((start - first).days)
        parts.append(svg.line(x, y, x, y + 4))
        if x > RIGHT - 10:
            continue
        parts.append(svg.text(x, y + 17, MONTHS[start.month - 1][:3], anchor="middle", size=LETTERS, fill=svg.SOFT_INK))
        if start.year != shown_year:
            parts.append(svg.text(x, y + 34, str(start.year), anchor="middle", size=LETTERS, fill=svg.SOFT_INK))
            shown_year = start.year
    return parts


def finish_panel(answer: Foresight, top: float) -> list[str]:
    """The share of futures that is finished, day by day; what never finishes hangs hatched from the ceiling."""
    curve = answer.finish_curve
    if not curve:
        return [svg.text(LEFT, top + PANEL / 2, "It is finished in none of the futures.")]
    last_days = days_shown(answer)
    x_of = scale(0, last_days, LEFT, RIGHT)
    y_of = scale(0, 1, top + PANEL, top)
    never = 1 - answer.finishes.chance
    known = [(0.0, 0.0), *((float(point.days), point.share) for point in curve if 0 < point.days < last_days)]
    known.append((last_days, share_by(curve, last_days)))
    points = [(x_of(days), y_of(share)) for days, share in known]
    parts = share_axis(y_of, (0, 0.5, 1))
    parts.append(svg.path([*points, (points[-1][0], y_of(0))], fill=svg.PALE, closed=True))
    if never > 0:
        parts.append(svg.hatched(LEFT, top, RIGHT - LEFT, y_of(1 - never) - top))
    parts.append(svg.path(points, stroke=svg.DEEP, width=2.5))
    if answer.finish is not None:
        for quantile, words in ((answer.finish.p50, "half"), (answer.finish.p80, "8 in 10")):
            if quantile.days is not None and quantile.days <= last_days:
                x, y = x_of(quantile.days), y_of(share_by(curve, quantile.days))
                parts.extend(finish_mark(words, x, y, ground=y_of(0)))
    parts.extend(month_axis(dt.date.fromisoformat(answer.as_of), last_days, x_of, top + PANEL))
    return parts


def days_shown(answer: Foresight) -> float:
    """Days until nearly all that finish have finished: a long thin tail would squeeze the rest."""
    curve = answer.finish_curve
    most = next(point.days for point in curve if point.share >= NEARLY_ALL * curve[-1].share)
    marked = (answer.finish.p80.days or 0) if answer.finish else 0
    return 1.04 * max(most, min(marked, curve[-1].days), 1)


def share_by(curve: Sequence[FinishPoint], days: float) -> float:
    """Share finished by a day, between the points of the curve on a straight line."""
    before_days, before = 0.0, 0.0
    for point in curve:
        if point.days >= days:
            return before + (point.share - before) * (days - before_days) / max(point.days - before_days, 1e-9)
        before_days, before = point.days, point.share
    return before


def finish_mark(words: str, x: float, y: float, *, ground: float) -> list[str]:
    """A ring on the curve. Its name stands over the curve on the left, or where there is no room, under it."""
    room = x > LEFT + 8 * len(words)
    return [
        svg.line(x, ground, x, y, stroke=svg.INK, dash="2 3"),
        svg.element("circle", cx=x, cy=y, r=4, fill=svg.PAPER, stroke=svg.DEEP, stroke_width=2.5),
        svg.text(x - 8, y - 2, words, size=LETTERS, anchor="end")
        if room
        else svg.text(x + 6, y + 20, words, size=LETTERS),
    ]


def money_panel(answer: Foresight, top: float) -> list[str]:
    """How often each sum is left over; what lies below nought is hatched."""
    bins = answer.net_bins
    if not bins:
        return [svg.text(LEFT, top + PANEL / 2, "No sums to show.")]
    per = minor_per_major(answer.currency)
    low, high = bins[0].from_minor / per, bins[-1].to_minor / per
    x_of = scale(low, high, LEFT, RIGHT)
    y_of = scale(0, max(one.share for one in bins) or 1, top + PANEL, top + 22)
    parts = []
    for one in bins:
        left, right = x_of(one.from_minor / per), x_of(one.to_minor / per)
        y = y_of(one.share)
        nought = min(max(x_of(0), left), right) if low <= 0 <= high else (left if low > 0 else right)
        if nought > left:
            parts.append(svg.hatched(left, y, nought - left - (0 if nought < right else 0.6), top + PANEL - y))
        if right > nought:
            parts.append(svg.box(nought, y, right - nought - 0.6, top + PANEL - y, fill=svg.MIDDLE))
    if low < 0 < high:
        x = x_of(0)
        loss_side = x - LEFT > (RIGHT - LEFT) / 2
        parts.append(svg.line(x, top, x, top + PANEL, stroke=svg.INK, width=1.5))
        parts.append(
            svg.text(
                x + (-5 if loss_side else 5),
                top + 11,
                "nothing left over",
                anchor="end" if loss_side else "start",
                size=LETTERS,
            )
        )
    middle = x_of(answer.net.p50_minor / per)
    if LEFT <= middle <= RIGHT:
        parts.append(
            svg.path(
                [(middle, top + PANEL - 1), (middle - 6, top + PANEL + 9), (middle + 6, top + PANEL + 9)],
                fill=svg.DEEP,
                closed=True,
            )
        )
    parts.append(svg.line(LEFT, top + PANEL, RIGHT, top + PANEL))
    parts.extend(money_axis(x_of, low, high, top + PANEL + 8, most=4))
    return parts


def finish_words(answer: Foresight) -> str:
    """What the picture of the finish shows, in words."""
    finish = answer.finish
    if finish is None:
        return "It is finished in none of the futures."
    return (
        f"It is finished in {percent(answer.finishes.chance)} of the futures; of those that finish: half of them by "
        f"{finish.p50.words}, 8 in 10 by {finish.p80.words}."
    )


def money_words(answer: Foresight) -> str:
    """What the picture of the money shows, in words."""
    low, middle, high = (
        money(sum_minor, answer.currency)
        for sum_minor in (answer.net.p20_minor, answer.net.p50_minor, answer.net.p80_minor)
    )
    return (
        f"What is left over: half of the futures above {middle}, one in five below {low}, one in five above {high}; "
        f"below nothing in {percent(answer.loss.chance)}."
    )


def money_note(answer: Foresight) -> str:
    return "before the price" if answer.price_free else "of the whole project"


def foresight_picture(answer: Foresight) -> str:
    """SVG of the two distributions of a foresight: the finish, and what is left over."""
    first, second = 56.0, 280.0
    return svg.picture(
        *heading(24, f"Finished by when: {answer.nickname}", "Share of all futures; hatched: not finished at all"),
        *finish_panel(answer, first),
        *heading(
            second - 30,
            f"What is left over, {answer.currency}",
            f"{upper_first(money_note(answer))}; hatched: loss; arrow: half below",
        ),
        *money_panel(answer, second),
        height=second + PANEL + 42,
        title=f"{answer.nickname}: finish and money",
        description=(
            f"{answer.nickname}, as of {answer.as_of}, in {answer.n_futures:,} futures. {finish_words(answer)} "
            f"{money_words(answer)}"
        ),
    )


def price_curve_picture(answer: Bid) -> str:
    """SVG of the price curve: chance of a loss and pay per hour against the price, and the price to walk away at."""
    first, second = 56.0, 252.0
    return svg.picture(
        *heading(24, f"Chance of a loss: {answer.nickname}", "By the price paid; hatched: too dear"),
        *heading(second - 16, f"Pay for an hour, {answer.currency}"),
        *price_panels(answer, first, second),
        height=second + PANEL + 50,
        title=f"{answer.nickname}: what a price does",
        description=f"{answer.nickname}, as of {answer.as_of}. {price_words(answer)}",
    )


def price_panels(answer: Bid, first: float, second: float, *, tried: BidPoint | None = None) -> list[str]:
    """Both panels, from `first` and `second` down; `tried` is a price that is marked on both curves."""
    curve = answer.curve
    per = minor_per_major(answer.currency)
    prices = [point.price_minor / per for point in curve] or [0.0]
    x_of = scale(min(prices), max(prices), LEFT, RIGHT)
    walk_away = None if answer.walk_away_minor is None else answer.walk_away_minor / per
    limit = answer.accepted_loss_chance
    y_of = scale(0, 1, first + PANEL, first)
    mark = [] if tried is None else [tried_mark(x_of(tried.price_minor / per), y_of(tried.loss_chance))]
    return [
        *beyond(walk_away, prices, x_of, first),
        *share_axis(y_of, (0, 0.5, 1)),
        *wish(f"accepted: {percent(limit)}", y_of(limit), y_of(curve[-1].loss_chance if curve else 0)),
        *curve_line([(x_of(p.price_minor / per), y_of(p.loss_chance)) for p in curve]),
        *walk_away_mark(walk_away, x_of, first, answer),
        *mark,
        *pay_panel(curve, answer, x_of, walk_away, second, per, tried=tried),
        svg.text(
            RIGHT, second + PANEL + 37, f"Price, {answer.currency}", anchor="end", size=LETTERS, fill=svg.SOFT_INK
        ),
    ]


def price_words(answer: Bid) -> str:
    """What the price curve shows, in words: some prices along it."""
    points = answer.curve[:: max(1, len(answer.curve) // 6)]
    words = "; ".join(
        f"at {money(point.price_minor, answer.currency)} a loss in {percent(point.loss_chance)}"
        + (
            ""
            if point.pay_per_hour_minor is None
            else f" and {money(point.pay_per_hour_minor, answer.currency)} an hour"
        )
        for point in points
    )
    return f"{answer.words} {upper_first(words)}."


def tried_mark(x: float, y: float) -> str:
    return svg.element("circle", cx=x, cy=y, r=5, fill=svg.PAPER, stroke=svg.INK, stroke_width=2.5)


def beyond(walk_away: float | None, prices: Sequence[float], x_of: Callable[[float], float], top: float) -> list[str]:
    start = LEFT if walk_away is None else min(max(x_of(walk_away), LEFT), RIGHT)
    return [svg.veiled(start, top, RIGHT - start, PANEL)] if max(prices) > min(prices) else []


def wish(words: str, y: float, curve_y: float) -> list[str]:
    """The owner's own limit: a broken line, its name at the dear end, on the side away from the curve (`curve_y`)."""
    return [
        svg.line(LEFT, y, RIGHT, y, stroke=svg.INK, dash="6 4"),
        svg.text(RIGHT - 4, y + 15 if curve_y < y else y - 5, words, size=LETTERS, anchor="end"),
    ]


def curve_line(points: Sequence[tuple[float, float]]) -> list[str]:
    """A light edge under the line keeps it readable on hatching."""
    if len(points) < 2:
        return []
    return [svg.path(points, stroke=svg.PAPER, width=6), svg.path(points, stroke=svg.DEEP, width=2.5)]


def walk_away_mark(walk_away: float | None, x_of: Callable[[float], float], top: float, answer: Bid) -> list[str]:
    if walk_away is None or not LEFT - 0.5 <= x_of(walk_away) <= RIGHT + 0.5:
        return []
    x = x_of(walk_away)
    right = x < (LEFT + RIGHT) / 2
    words = f"walk away at {money(answer.walk_away_minor or 0, of=answer.currency)}"
    start = x + 6 if right else x - 6
    width = 0.54 * LETTERS * len(words) + 6
    return [
        svg.line(x, top, x, top + PANEL, stroke=svg.INK, width=1.5),
        svg.box(start - 3 if right else start - width + 3, top + 3, width, 17, fill=svg.PAPER),
        svg.text(start, top + 16, words, anchor="start" if right else "end", size=LETTERS),
    ]


def pay_panel(
    curve: Sequence[BidPoint],
    answer: Bid,
    x_of: Callable[[float], float],
    walk_away: float | None,
    top: float,
    per: int,
    *,
    tried: BidPoint | None = None,
) -> list[str]:
    paid = [
        (point.price_minor / per, point.pay_per_hour_minor / per)
        for point in curve
        if point.pay_per_hour_minor is not None
    ]
    if not paid:
        return [svg.text(LEFT, top + PANEL / 2, "No own hours, so no pay for an hour.")]
    prices = [point.price_minor / per for point in curve]
    low = min(0.0, min(pay for _, pay in paid))
    high = max(0.0, answer.wanted_pay_minor / per, max(pay for _, pay in paid))
    y_of = scale(low, high, top + PANEL, top)
    parts = beyond(walk_away, prices, x_of, top)
    for step in svg.round_steps(low, high, most=4):
        parts.append(svg.line(LEFT, y_of(step), RIGHT, y_of(step), stroke=svg.SOFT_INK if step == 0 else svg.PALE))
        parts.append(svg.text(LEFT - 6, y_of(step) + 4, f"{step:,.0f}", anchor="end", size=LETTERS, fill=svg.SOFT_INK))
    if answer.wanted_pay_minor:
        words = f"wanted: {money(answer.wanted_pay_minor, of=answer.currency)}"
        parts.extend(wish(words, y_of(answer.wanted_pay_minor / per), y_of(paid[-1][1])))
    parts.extend(curve_line([(x_of(price), y_of(pay)) for price, pay in paid]))
    if walk_away is not None and LEFT - 0.5 <= x_of(walk_away) <= RIGHT + 0.5:
        parts.append(svg.line(x_of(walk_away), top, x_of(walk_away), top + PANEL, stroke=svg.INK, width=1.5))
    if tried is not None and tried.pay_per_hour_minor is not None:
        parts.append(tried_mark(x_of(tried.price_minor / per), y_of(tried.pay_per_hour_minor / per)))
    parts.extend(money_axis(x_of, min(prices), max(prices), top + PANEL))
    return parts
