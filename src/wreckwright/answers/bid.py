"""The most that should be paid: read from the same ledger as the foresight, so the two cannot contradict each other."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Literal

import numpy as np
import numpy.typing as npt

from wreckwright.answers.map_doubt import map_error
from wreckwright.answers.spread import chance_of, highest_price
from wreckwright.answers.types import Bid, BidPoint, OptionName, OtherWay
from wreckwright.answers.words import in_ten_futures, money, rests_on, share
from wreckwright.futures.band import Z90
from wreckwright.futures.ledger import Ledger, Way, fee_minor, parted_now, settle, sold_now
from wreckwright.futures.scene import Futures
from wreckwright.futures.stop_rule import fit_stop_rule

CURVE_POINTS = 21
CURVE_FROM, CURVE_TO = 0.4, 1.6
"""The curve of prices runs over these multiples of the walk-away price."""
WINNERS_CURSE = (
    "Whoever wins a lot is often the one who overlooked something: this figure does not allow for that, so treat it as "
    "the end of the bidding, not as its aim."
)


def bid(futures: Futures) -> Bid:
    """Highest price at which both of the owner's wishes hold on these futures.

    Wishes: the whole project ends below nought in at most `accepted_loss_chance` of the futures, and mean net over mean
    own hours is at least `wanted_pay_minor`. Fee steps, minimum and flat fee are in; bisection, to one minor unit.
    """
    ledger = settle(futures)
    find = _Finder(futures, ledger)
    accepted = futures.accepted_loss_chance
    for_loss = find.by_loss(accepted)
    for_pay = find.by_pay(futures.wanted_pay_minor)
    walk_away = None if for_loss is None or for_pay is None else min(for_loss, for_pay)
    se = math.sqrt(accepted * (1.0 - accepted) / ledger.minutes.shape[0])
    binds: Literal["chance of a loss", "wanted pay", "neither"] = "neither"
    if for_loss is not None and for_pay is not None:
        binds = "chance of a loss" if for_loss <= for_pay else "wanted pay"
    others = _other_ways(futures, find)
    dark, bright = find.by_loss_in_map(accepted, Z90), find.by_loss_in_map(accepted, -Z90)
    at_walk_away = None if walk_away is None else bid_point(futures, walk_away)
    at_price = None if futures.price_minor is None else bid_point(futures, futures.price_minor)
    return Bid(
        nickname=futures.nickname, as_of=futures.as_of, n_futures=ledger.minutes.shape[0], currency=futures.currency,
        bought=futures.bought, price_minor=futures.price_minor, rests_on=rests_on(futures),
        why=_why(futures, _words(futures, walk_away, others), binds, at_walk_away, at_price),
        notes=_notes(futures) + _map_note(futures, dark, bright),
        looking_back=futures.bought, walk_away_minor=walk_away, words=_words(futures, walk_away, others),
        binds=binds,
        accepted_loss_chance=accepted, wanted_pay_minor=futures.wanted_pay_minor,
        hour_value_minor=futures.hour_value_minor,
        price_for_loss_minor=for_loss,
        price_for_loss_low_minor=find.by_loss(max(0.0, accepted - 2.0 * se)),
        price_for_loss_high_minor=find.by_loss(min(1.0, accepted + 2.0 * se)),
        price_for_loss_dark_map_minor=dark, price_for_loss_bright_map_minor=bright,
        price_for_loss_hours_paid_minor=find.by_loss(accepted, hour_value_minor=futures.hour_value_minor),
        price_for_pay_minor=for_pay,
        other_ways=others, at_walk_away=at_walk_away, at_price=at_price,
        curve=tuple(bid_point(futures, price) for price in _prices(futures, ledger, walk_away)),
    )


def bid_point(futures: Futures, price_minor: int) -> BidPoint:
    """What one price comes to; the same figures as a foresight at that price."""
    ledger = settle(futures, price_minor=price_minor)
    loss = chance_of(ledger.whole_net_minor < 0)
    hours = float(ledger.minutes.mean()) / 60.0
    net = float(ledger.whole_net_minor.mean())
    return BidPoint(
        price_minor=price_minor,
        all_in_minor=price_minor + fee_minor(price_minor, futures.market) + futures.market.entry_fixed_minor,
        loss_chance=loss.chance, loss_chance_se=loss.chance_se, net_mean_minor=round(net),
        pay_per_hour_minor=round(net / hours) if hours > 0.0 else None,
    )


class _Finder:
    """Prices at which a wish just holds."""

    def __init__(self, futures: Futures, ledger: Ledger) -> None:
        self.futures = futures
        self.ledger = ledger

    def by_loss(self, accepted: float, *, hour_value_minor: int = 0) -> int | None:
        return self.by_loss_of(
            self.ledger.price_free_net_minor - self.ledger.minutes * (hour_value_minor / 60.0), accepted
        )

    def by_loss_of(self, net: npt.NDArray[np.float64] | npt.NDArray[np.int64], accepted: float) -> int | None:
        # The small allowance keeps a chance such as 0.2 of 10,000 from being missed by rounding.
        allowed = accepted * net.shape[0] + 1e-9
        ceiling = max(0, int(net.max())) + 1
        return self._highest(lambda cost: float((net < cost).sum()) <= allowed, ceiling)

    def by_loss_in_map(self, accepted: float, z: float) -> int | None:
        """As `by_loss`, in a map of damage whose common error is `z`: each future's net is moved along the straight
        line of net against the error of the map it believes in."""
        error = map_error(self.futures)
        if error is None:
            return None
        net = self.ledger.price_free_net_minor
        slope = float(np.polyfit(error, net, 1)[0])
        return self.by_loss_of(net + slope * (z - error), accepted)

    def by_pay(self, wanted_minor: int) -> int | None:
        mean = float(self.ledger.price_free_net_minor.mean())
        hours = float(self.ledger.minutes.mean()) / 60.0
        return self._highest(lambda cost: mean - cost >= wanted_minor * hours, max(0, round(mean)) + 1)

    def _highest(self, holds_at_cost: Callable[[int], bool], ceiling: int) -> int | None:
        market = self.futures.market
        return highest_price(lambda price: holds_at_cost(price + fee_minor(price, market)), ceiling=ceiling)


def _other_ways(futures: Futures, find: _Finder) -> tuple[OtherWay, ...]:
    """Selling on at once, parting out at once, and carrying on with the right to stop if that is worth anything."""
    from_here = find.ledger.net_from_here_minor
    # What every way shares: sunk money and the costs of getting it, whatever is done with it then.
    shared = find.ledger.price_free_net_minor - from_here
    ways: dict[OptionName, tuple[str, Way]] = {
        "sell_as_it_stands": ("sell it on as it stands", sold_now(futures)),
        "part_out": ("part it out", parted_now(futures)),
    }
    stop = fit_stop_rule(futures)
    if stop.used:
        ways["carry_on"] = ("rebuild it, and stop where the rule says so", stop.way)
    found = []
    for name, (words, way) in ways.items():
        net = way.cash_minor + shared
        found.append(OtherWay(
            name=name, words=words, price_for_loss_minor=find.by_loss_of(net, futures.accepted_loss_chance),
            net_mean_minor=round(float(net.mean())),
        ))
    return tuple(sorted(found, key=lambda w: (-1 if w.price_for_loss_minor is None else w.price_for_loss_minor, w.name),
                        reverse=True))


def _prices(futures: Futures, ledger: Ledger, walk_away: int | None) -> tuple[int, ...]:
    """Prices of the curve: around the walk-away price, or where there is none, from nought to the usual worth."""
    if walk_away:
        low, high = CURVE_FROM * walk_away, CURVE_TO * walk_away
    else:
        low, high = 0.0, float(max(np.quantile(ledger.price_free_net_minor, 0.8), ledger.way.sale_minor.mean(), 100.0))
    step = _round_step((high - low) / (CURVE_POINTS - 1))
    prices = set(range(math.ceil(low / step) * step, math.floor(high / step) * step + 1, step))
    if walk_away is not None:
        prices.add(walk_away)
    if futures.price_minor is not None:
        prices.add(futures.price_minor)
    return tuple(sorted(prices))


def _round_step(wanted_minor: float) -> int:
    """The smallest of 1, 2, 5, 10, 20, 50, ... that is at least `wanted_minor`: prices one would say aloud.

    >>> [_round_step(x) for x in (0.3, 3.0, 24_100.0)]
    [1, 5, 50000]
    """
    power = int(10 ** max(0, math.floor(math.log10(max(wanted_minor, 1.0)))))
    return next(step for step in (power, 2 * power, 5 * power, 10 * power) if step >= wanted_minor)


def _notes(futures: Futures) -> tuple[str, ...]:
    if futures.bought:
        return ("It is already bought: this says what would have been the most to pay, knowing what is known today; "
                "it changes nothing about carrying on or stopping.",)
    return (WINNERS_CURSE,)


def _map_note(futures: Futures, dark: int | None, bright: int | None) -> tuple[str, ...]:
    """How far the price for the accepted loss would move with the map of damage; nothing where there is none."""
    if bright is None:
        return ()
    low = "no price at all" if dark is None else money(dark, futures.currency)
    return (
        f"It rests on our guess of how much is damaged: with the map of damage moved within its own error, the price "
        f"for that chance of a loss goes from {low} to {money(bright, futures.currency)} (8 times in 10).",
    )


def _words(futures: Futures, walk_away: int | None, others: tuple[OtherWay, ...]) -> str:
    other = next((way for way in others if way.price_for_loss_minor), None) if walk_away is None else None
    plan, rest = "", ""
    if other is not None:
        verb = "was" if futures.bought else "is"
        most = money(other.price_for_loss_minor or 0, futures.currency)
        plan, rest = " to carry this plan through", f"; to {other.words} it {verb} worth at most {most}"
    if futures.bought:
        if walk_away is None:
            return f"From today's knowledge it was not worth buying{plan} at any price{rest}."
        return f"From today's knowledge it was worth {money(walk_away, futures.currency)} at most."
    if walk_away is None:
        return f"Do not buy it{plan} at any price{rest}."
    if walk_away == 0:
        return "Only as a gift."
    return f"Walk away above {money(walk_away, futures.currency)}."


def _why(
    futures: Futures, words: str, binds: str, at: BidPoint | None, at_price: BidPoint | None
) -> str:
    currency = futures.currency
    accepted = share(futures.accepted_loss_chance)
    wanted = money(futures.wanted_pay_minor, currency)
    words = words.rstrip(".")
    if at is None:
        free = bid_point(futures, 0)
        why = (
            f"{words}: even at a price of nought it ends in a loss in {in_ten_futures(free.loss_chance)} and nets "
            f"{money(free.net_mean_minor, currency)} on average (accepted: {accepted}; wanted for an own hour: "
            f"{wanted})"
        )
    else:
        brings = at.pay_per_hour_minor
        all_in = "" if at.all_in_minor == at.price_minor else f", {money(at.all_in_minor, currency)} all in,"
        pay = "" if brings is None else f" and brings {money(brings, currency)} for an own hour"
        limit = (
            f"above that it would be more than the accepted {accepted}" if binds == "chance of a loss"
            else f"above that an own hour brings less than the wanted {wanted}"
        )
        why = (
            f"{words}: at that price{all_in} it ends in a loss in "
            f"{in_ten_futures(at.loss_chance)}{pay}, and {limit}"
        )
    if at_price is not None:
        verb = "paid" if futures.bought else "asked"
        known = money(at_price.price_minor, currency)
        why += f"; at the {known} {verb} it ends in a loss in {in_ten_futures(at_price.loss_chance)}"
    return why + "."
