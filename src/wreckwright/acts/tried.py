"""What a price would do that nobody has reckoned with: read between two points of the price curve."""

from __future__ import annotations

from itertools import pairwise

from wreckwright.acts.views import View
from wreckwright.answers.types import Bid, BidPoint
from wreckwright.errors import EntryError
from wreckwright.record.money import show_money


class Tried(View, frozen=True, kw_only=True):
    point: BidPoint
    reckoned: bool
    """True: this very price was reckoned; False: read on a straight line between the two nearest that were."""
    too_dear: bool
    """It lies above the price to walk away at; always where there is no such price."""


def try_price(answer: Bid, price_minor: int, *, field: str = "price") -> Tried:
    """The point of the curve at `price_minor` (minor units of `answer.currency`).

    Nothing is said beyond the ends of the curve: raises EntryError, which names `field`.
    """
    known = (*answer.curve, *(point for point in (answer.at_walk_away, answer.at_price) if point is not None))
    points = sorted({point.price_minor: point for point in known}.values(), key=lambda point: point.price_minor)
    too_dear = answer.walk_away_minor is None or price_minor > answer.walk_away_minor
    for point in points:
        if point.price_minor == price_minor:
            return Tried(point=point, reckoned=True, too_dear=too_dear)
    for below, above in pairwise(points):
        if below.price_minor < price_minor < above.price_minor:
            return Tried(point=_between(below, above, price_minor), reckoned=False, too_dear=too_dear)
    currency = answer.currency
    ends = (
        f"{show_money(points[0].price_minor, currency)} to {show_money(points[-1].price_minor, currency)}"
        if points
        else "no price at all"
    )
    raise EntryError(
        f"{field}: {show_money(price_minor, currency)} lies outside the prices that were reckoned with",
        allowed=ends,
        do="try one within these; beyond the dear end a loss is likelier still, beyond the cheap end it is rarer",
        field=field,
    )


def _between(below: BidPoint, above: BidPoint, price_minor: int) -> BidPoint:
    """Every figure on a straight line; the uncertainty is the larger of the two."""
    share = (price_minor - below.price_minor) / (above.price_minor - below.price_minor)

    def line(low: float, high: float) -> float:
        return low + share * (high - low)

    pays = (below.pay_per_hour_minor, above.pay_per_hour_minor)
    return BidPoint(
        price_minor=price_minor,
        all_in_minor=round(line(below.all_in_minor, above.all_in_minor)),
        loss_chance=line(below.loss_chance, above.loss_chance),
        loss_chance_se=max(below.loss_chance_se, above.loss_chance_se),
        net_mean_minor=round(line(below.net_mean_minor, above.net_mean_minor)),
        pay_per_hour_minor=None if pays[0] is None or pays[1] is None else round(line(pays[0], pays[1])),
    )
