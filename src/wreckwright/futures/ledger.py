"""The reckoning: what each future comes to in money, hours and days. Every answer reads its money from here.

Words, as used in all answers. *Net from here*: cash from the as-of date on, before own hours and without sunk money.
*Whole net*: the whole project, sunk money in it; for a lot not bought that is price, its fee and the other costs of
getting it. Everything is per future, in whole minor units, so that two ways can be compared on the same futures.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from wreckwright.errors import WreckwrightError
from wreckwright.futures.rebuild import FINISHED, GATE_PASSED, OFF_CALENDAR, BoolArray, IntArray, LongArray
from wreckwright.futures.scene import Futures, Market

SOLD_FINISHED, SOLD_AS_IT_STANDS, PARTED_OUT = 0, 1, 2
"""`Way.ends_as` codes."""


@dataclass(frozen=True, kw_only=True)
class Way:
    """One way to turn the machine into money, in every future. F futures, all money from the as-of date on."""

    ends_as: npt.NDArray[np.int8]
    """[F] SOLD_FINISHED, SOLD_AS_IT_STANDS or PARTED_OUT."""
    sold_day: LongArray
    """[F] days from the as-of date until the money is in."""
    sale_minor: LongArray
    """[F] what the buyer pays, season and left-undone work counted; for parting out: net of its selling costs."""
    selling_minor: LongArray
    """[F] what selling costs; 0 for parting out."""
    resale_minor: LongArray
    """[F] for parts that were ordered and not fitted."""
    out_minor: LongArray
    """[F] lines, ways round, work bought in."""
    holding_minor: LongArray
    """[F] holding cost of the days until the money is in."""
    minutes: LongArray
    """[F] own minutes, those of parting out included."""

    @property
    def cash_minor(self) -> LongArray:
        """[F] net from here: before own hours, without sunk money."""
        return self.sale_minor - self.selling_minor + self.resale_minor - self.out_minor - self.holding_minor

    def worth_minor(self, hour_value_minor: int) -> npt.NDArray[np.float64]:
        """[F] cash less own hours at `hour_value_minor` an hour."""
        return self.cash_minor - self.minutes * (hour_value_minor / 60.0)


@dataclass(frozen=True, kw_only=True)
class Ledger:
    """What the futures come to under the policy that was played, at one price."""

    way: Way
    price_minor: int | None
    """The price that is reckoned with; None: nothing is reckoned for a price (it is not known)."""
    net_from_here_minor: LongArray
    """[F] before own hours, without sunk money and, for a lot not bought, without the costs of getting it."""
    price_free_net_minor: LongArray
    """[F] whole project but for the price and its fee."""
    whole_net_minor: LongArray
    """[F] whole project, at `price_minor` if there is one; before own hours."""

    @property
    def minutes(self) -> LongArray:
        """[F] own minutes."""
        return self.way.minutes

    @property
    def sold_day(self) -> LongArray:
        """[F]"""
        return self.way.sold_day


def fee_minor(price_minor: int, market: Market) -> int:
    """Buyer's fee on top of the hammer price `price_minor` [minor units, >= 0]: marginal rates by step, at least the
    minimum, plus the flat items. Never falls as the price rises, as no rate is below 0.

    Shape of fee tables at auctions: common practice (figures come from trade data or from the owner).

    >>> from wreckwright.futures.scene import Market
    >>> import numpy as np
    >>> nothing = np.zeros(1, dtype=np.int64)
    >>> steps = ((0, 0.30), (200, 0.15), (1000, 0.09), (4000, 0.06), (10000, 0.04))
    >>> market = Market(sale_minor=nothing, season_factor=(1.0,) * 12, selling_share=0.0,
    ...     days_to_sell=np.zeros(1, dtype=np.int32), left_undone_minor=(), as_it_stands_minor=nothing[:, None],
    ...     days_to_sell_as_it_stands=0, part_out_minor=nothing, part_out_minutes=np.zeros(1, dtype=np.int32),
    ...     part_out_days=0, holding_day_minor=0, sunk_minor=0, entry_fixed_minor=0,
    ...     fee_steps=steps, fee_flat_minor=180, fee_minimum_minor=50)
    >>> fee_minor(2000, market)
    450
    """
    if price_minor < 0:
        raise WreckwrightError(f"a price of {price_minor} was asked about", "0 or more", "Give the hammer price")
    variable = 0.0
    steps = market.fee_steps
    for index, (start, rate) in enumerate(steps):
        end = steps[index + 1][0] if index + 1 < len(steps) else price_minor
        variable += rate * max(0, min(price_minor, end) - start)
    return max(round(variable), market.fee_minimum_minor) + market.fee_flat_minor


def settle(futures: Futures, *, price_minor: int | None = None, hour_value_minor: int | None = None) -> Ledger:
    """Reckon every future of `futures.played` to its end.

    `price_minor` [minor units]: reckon as if this had been or were paid; absent: `futures.price_minor`.
    `hour_value_minor` [minor units an hour]: only decides between selling as it stands and parting out where a future
    is stopped; absent: the owner's. See docs/decisions/verdict.md for the rules.
    """
    hour_value = futures.hour_value_minor if hour_value_minor is None else hour_value_minor
    way = _played_way(futures, hour_value)
    market = futures.market
    from_here = way.cash_minor
    price_free = from_here - market.sunk_minor
    if futures.bought:
        # The price paid is in the sunk money; taking it out leaves what any other price can be set against.
        if futures.price_minor is not None:
            price_free = price_free + _price_and_fee(futures.price_minor, market)
    else:
        price_free = price_free - market.entry_fixed_minor
    price = futures.price_minor if price_minor is None else price_minor
    whole = price_free if price is None else price_free - _price_and_fee(price, market)
    return Ledger(
        way=way, price_minor=price, net_from_here_minor=from_here, price_free_net_minor=price_free,
        whole_net_minor=whole,
    )


def stopped_at(futures: Futures, epoch: int, *, hour_value_minor: int) -> Way:
    """The same futures stopped at decision epoch `epoch`; only rows that reach it (`Played.epoch_reached`) count."""
    stage, kind = divmod(epoch, 3)
    gates = np.full(futures.played.status.shape, stage + (kind == GATE_PASSED))
    played = futures.played
    return _stopped_way(
        futures, day=played.epoch_day[:, epoch], gates=gates, out_minor=played.epoch_out_minor[:, epoch],
        resale_minor=played.epoch_resale_minor[:, epoch], minutes=played.epoch_minutes[:, epoch],
        part_out=_parts_out(futures, hour_value_minor)[gates],
    )


def sold_now(futures: Futures) -> Way:
    """Everything sold as it stands on the as-of date, parts on the shelf and on order sold apart."""
    return _ended_now(futures, part_out=False)


def parted_now(futures: Futures) -> Way:
    """Parted out from the as-of date on, parts on the shelf and on order sold with it."""
    return _ended_now(futures, part_out=True)


def gates_passed(futures: Futures) -> IntArray:
    """[F] bench gates passed by the end."""
    passed: IntArray = (futures.played.gate_day >= 0).sum(axis=1, dtype=np.int32)
    return passed


def season_of(days: LongArray, futures: Futures) -> npt.NDArray[np.float64]:
    """[F] season factor of the calendar month that lies `days` after the as-of date."""
    dates = np.datetime64(futures.as_of, "D") + days.astype("timedelta64[D]")
    month = dates.astype("datetime64[M]").astype(np.int64) % 12
    return np.asarray(futures.market.season_factor, dtype=np.float64)[month]


def _price_and_fee(price_minor: int, market: Market) -> int:
    return price_minor + fee_minor(price_minor, market)


def _parts_out(futures: Futures, hour_value_minor: int) -> BoolArray:
    """[S + 1] whether the policy, by its expectations alone, parts out rather than sells as it stands."""
    rebuild, market = futures.rebuild, futures.market
    as_it_stands = np.asarray(rebuild.as_it_stands_minor, dtype=np.float64) * (1.0 - market.selling_share)
    as_it_stands -= market.holding_day_minor * market.days_to_sell_as_it_stands
    parts = rebuild.part_out_minor - rebuild.part_out_minutes * (hour_value_minor / 60.0)
    parts -= market.holding_day_minor * market.part_out_days
    worth_it: BoolArray = parts > as_it_stands
    return worth_it


def _played_way(futures: Futures, hour_value_minor: int) -> Way:
    played, market = futures.played, futures.market
    gates = gates_passed(futures)
    # When the calendar has run out there is no time to part out either.
    part_out = _parts_out(futures, hour_value_minor)[gates] & (played.status != OFF_CALENDAR)
    stopped = _stopped_way(
        futures, day=played.day, gates=gates, out_minor=played.out_minor, resale_minor=played.resale_minor,
        minutes=played.hands_on_minutes, part_out=part_out,
    )
    finished = played.status == FINISHED
    sold_day = played.day.astype(np.int64) + market.days_to_sell
    undone = played.left_undone @ np.asarray(market.left_undone_minor, dtype=np.int64)
    asked = np.maximum(market.sale_minor - undone, 0)
    price = np.rint(asked * season_of(sold_day, futures)).astype(np.int64)
    sold_day = np.where(finished, sold_day, stopped.sold_day)
    return Way(
        ends_as=np.where(finished, np.int8(SOLD_FINISHED), stopped.ends_as),
        sold_day=sold_day,
        sale_minor=np.where(finished, price, stopped.sale_minor),
        selling_minor=np.where(finished, _share(price, market.selling_share), stopped.selling_minor),
        resale_minor=np.where(finished, 0, stopped.resale_minor),
        out_minor=stopped.out_minor,
        holding_minor=sold_day * market.holding_day_minor,
        minutes=np.where(finished, played.hands_on_minutes, stopped.minutes),
    )


def _stopped_way(
    futures: Futures, *, day: IntArray, gates: IntArray, out_minor: LongArray, resale_minor: LongArray,
    minutes: LongArray, part_out: BoolArray,
) -> Way:
    market = futures.market
    as_it_stands = market.as_it_stands_minor[np.arange(gates.shape[0]), gates]
    sold_day = day.astype(np.int64) + np.where(part_out, market.part_out_days, market.days_to_sell_as_it_stands)
    return Way(
        ends_as=np.where(part_out, np.int8(PARTED_OUT), np.int8(SOLD_AS_IT_STANDS)),
        sold_day=sold_day,
        sale_minor=np.where(part_out, market.part_out_minor, as_it_stands),
        selling_minor=np.where(part_out, 0, _share(as_it_stands, market.selling_share)),
        resale_minor=resale_minor,
        out_minor=out_minor,
        holding_minor=sold_day * market.holding_day_minor,
        minutes=minutes + np.where(part_out, market.part_out_minutes, 0),
    )


def _ended_now(futures: Futures, *, part_out: bool) -> Way:
    n = futures.played.status.shape[0]
    nothing = np.zeros(n, dtype=np.int64)
    paid, resale = _on_order(futures)
    return _stopped_way(
        futures, day=nothing.astype(np.int32), gates=nothing.astype(np.int32), out_minor=paid, resale_minor=resale,
        minutes=nothing, part_out=np.full(n, part_out),
    )


def _on_order(futures: Futures) -> tuple[LongArray, LongArray]:
    """[F], [F]: still to be paid for what is already ordered, and what those parts fetch unfitted.

    An order that never comes is called off and refunded in part; what has come wrong is not ordered once more.
    """
    rebuild, worlds, policy = futures.rebuild, futures.worlds, futures.policy
    paid = np.zeros(worlds.n, dtype=np.int64)
    resale = np.zeros(worlds.n, dtype=np.int64)
    for index, line in enumerate(rebuild.lines):
        if not line.already_ordered:
            continue
        chosen = policy.line_source[index]
        source = line.sources[chosen]
        price = worlds.price_minor[:, index, chosen]
        never = worlds.lead_days[:, index, chosen] < 0
        spent = np.where(never, price - price * source.refund_permille // 1000, price)
        paid += spent
        resale += (spent + line.sunk_minor) * source.resale_permille // 1000
    return paid, resale


def _share(minor: LongArray, share: float) -> LongArray:
    rounded: LongArray = np.rint(minor * share).astype(np.int64)
    return rounded


