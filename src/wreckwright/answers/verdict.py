"""Carry on, sell it as it stands, or part it out: what each is worth now, and what would change that."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal

import msgspec
import numpy as np
import numpy.typing as npt

from wreckwright.answers.foresight import stop_moment
from wreckwright.answers.map_doubt import map_doubt
from wreckwright.answers.spread import BINS, mean_se
from wreckwright.answers.types import (
    Choice,
    Difference,
    Flip,
    LeansOn,
    MapDoubt,
    MonthCash,
    Option,
    OptionName,
    PartOutTerms,
    Reckoning,
    RightToStop,
    StopPoint,
    Verdict,
)
from wreckwright.answers.words import (
    DAYS_OF_A_MONTH,
    DOING_WORDS,
    OPTION_WORDS,
    driver_words,
    in_ten,
    money,
    rests_on,
    share,
)
from wreckwright.futures.ledger import PARTED_OUT, SOLD_FINISHED, Way, fee_minor, parted_now, sold_now
from wreckwright.futures.scene import QUESTION, Futures, Market
from wreckwright.futures.stop_rule import StopValue, fit_stop_rule

FloatArray = npt.NDArray[np.float64]

CLEAR_OVER_SE = 2.0
DEAD_BAND_SHARE = 0.01
"""Of what the finished machine fetches: differences below it are never called (judgement: no guess here is finer)."""
FLIP_WITHIN = 3.0
"""A flip that needs an input to change by more than this share of itself is not worth telling."""
FEWEST_AT_AN_END = 50
MONTHS_SHOWN = 12
NOTHING_CALLED_OVER = 0.5
"""Where more maps of damage than not would say something else, nothing has been called."""


@dataclass(frozen=True, kw_only=True)
class _Reckoned:
    """One reckoning with the arrays behind it."""

    shown: Reckoning
    worth: Mapping[OptionName, FloatArray]
    ways: Mapping[OptionName, Way]


def verdict(futures: Futures) -> Verdict:
    """Compare the three on the same futures; sunk money enters none of them.

    The choice charges own hours at the owner's hour value; `hours_free` shows the same at nought. What enters
    which worth is written down in docs/decisions/verdict.md.
    """
    own = _reckon(futures, futures.hour_value_minor)
    free = own if futures.hour_value_minor == 0 else _reckon(futures, 0)
    flips = _flips(futures, own)
    doubt = map_doubt(futures, own.worth, own.shown.leaning)
    if doubt is not None and doubt.flip_chance > NOTHING_CALLED_OVER:
        own = replace(own, shown=msgspec.structs.replace(own.shown, choice="too_close_to_call"))
    return Verdict(
        nickname=futures.nickname, as_of=futures.as_of, n_futures=futures.played.status.shape[0],
        currency=futures.currency, bought=futures.bought, price_minor=futures.price_minor, rests_on=rests_on(futures),
        why=_why(futures, own.shown, flips, doubt), notes=_notes(futures, own.shown, free.shown, doubt),
        choice=own.shown.choice, leaning=own.shown.leaning, sunk_minor=futures.market.sunk_minor,
        reckoning=own.shown, hours_free=free.shown, flips=flips, leans_on=_leans_on(futures, own),
        map_doubt=doubt,
        part_out_terms=_part_out_terms(futures),
    )


def _reckon(futures: Futures, hour_value_minor: int) -> _Reckoned:
    stop = fit_stop_rule(futures, hour_value_minor=hour_value_minor)
    ways: dict[OptionName, Way] = {
        "carry_on": stop.way, "sell_as_it_stands": sold_now(futures), "part_out": parted_now(futures)
    }
    worth = {name: way.worth_minor(hour_value_minor) for name, way in ways.items()}
    best = max(ways, key=lambda name: float(worth[name].mean()))
    dead_band = round(DEAD_BAND_SHARE * float(futures.market.sale_minor.mean()))
    differences = []
    for name in ways:
        if name != best:
            mean, se = mean_se(worth[best] - worth[name])
            differences.append(Difference(
                better=best, than=name, mean_minor=round(mean), se_minor=round(se),
                clear=mean > CLEAR_OVER_SE * se and mean > dead_band,
            ))
    choice: Choice = best if all(d.clear for d in differences) else "too_close_to_call"
    return _Reckoned(
        worth=worth, ways=ways,
        shown=Reckoning(
            hour_value_minor=hour_value_minor, choice=choice, leaning=best,
            options=tuple(_option(name, way, worth[name]) for name, way in ways.items()),
            differences=tuple(differences), right_to_stop=_right_to_stop(futures, stop), dead_band_minor=dead_band,
        ),
    )


def _option(name: OptionName, way: Way, worth: FloatArray) -> Option:
    mean, se = mean_se(worth)
    return Option(
        name=name, words=OPTION_WORDS[name], worth_minor=round(mean), worth_se_minor=round(se),
        cash_minor=round(float(way.cash_minor.mean())), hours=float(way.minutes.mean()) / 60.0,
        days=float(way.sold_day.mean()),
    )


def _right_to_stop(futures: Futures, stop: StopValue) -> RightToStop:
    return RightToStop(
        worth_minor=round(stop.gain_minor), worth_se_minor=round(stop.gain_se_minor), used=stop.used,
        in_sample_minor=round(stop.in_sample_gain_minor), stops_chance=float((stop.stop_epoch >= 0).mean()),
        points=tuple(
            StopPoint(
                when=stop_moment(futures, epoch.epoch), reached_chance=epoch.reached, stop_chance=epoch.stopped,
                spend_if_stopped_minor=epoch.spend_if_stopped_minor,
                spend_if_carried_on_minor=epoch.spend_if_carried_on_minor,
            )
            for epoch in stop.epochs
        ),
    )


@dataclass(frozen=True, kw_only=True)
class _Input:
    """A named input in which every worth is linear: `now`, and by how much each worth grows per unit of it."""

    name: str
    now: float
    slope: Mapping[OptionName, float]


def _inputs(futures: Futures, own: _Reckoned) -> tuple[_Input, ...]:
    market, carry = futures.market, own.ways["carry_on"]
    sale = float(market.sale_minor.mean())
    as_it_stands = float(market.as_it_stands_minor[:, 0].mean())
    pieces = float(market.part_out_minor.mean())
    finished = carry.ends_as == SOLD_FINISHED
    parted = carry.ends_as == PARTED_OUT
    return (
        _Input(name="what the finished machine fetches", now=sale, slope={
            "carry_on": _per(np.where(finished, carry.sale_minor - carry.selling_minor, 0), sale)}),
        _Input(name="what it fetches today as it stands", now=as_it_stands, slope={
            "sell_as_it_stands": 1.0 - market.selling_share if as_it_stands > 0.0 else 0.0}),
        _Input(name="what the pieces fetch", now=pieces, slope={
            "part_out": 1.0 if pieces > 0.0 else 0.0, "carry_on": _per(np.where(parted, carry.sale_minor, 0), pieces)}),
        _Input(name="the money still to spend on it", now=float(carry.out_minor.mean()), slope={"carry_on": -1.0}),
        _Input(name="the value of an own hour", now=float(futures.hour_value_minor), slope={
            name: -float(way.minutes.mean()) / 60.0 for name, way in own.ways.items()}),
        _Input(name="the holding cost of a day", now=float(market.holding_day_minor), slope={
            name: -float(way.sold_day.mean()) for name, way in own.ways.items()}),
    )


def _per(minor: npt.NDArray[np.int64], now: float) -> float:
    return float(minor.mean()) / now if now > 0.0 else 0.0


def _flips(futures: Futures, own: _Reckoned) -> tuple[Flip, ...]:
    """Break-even of the best with each other, on the same futures; the stop rule stays as it is."""
    best = own.shown.leaning
    mean = {name: float(worth.mean()) for name, worth in own.worth.items()}
    found = []
    for an_input in _inputs(futures, own):
        nearest: tuple[float, OptionName] | None = None
        for rival in mean:
            slope = an_input.slope.get(best, 0.0) - an_input.slope.get(rival, 0.0)
            if rival == best or abs(slope) < 1e-9:
                continue
            at = an_input.now - (mean[best] - mean[rival]) / slope
            way_off = abs(at - an_input.now)
            too_far = at < 0.0 or (an_input.now > 0.0 and way_off > FLIP_WITHIN * an_input.now)
            if not too_far and (nearest is None or way_off < abs(nearest[0] - an_input.now)):
                nearest = at, rival
        if nearest is not None:
            found.append(_flip(futures, an_input, *nearest))
    return tuple(sorted(found, key=lambda f: (f.change_share is None, abs(f.change_share or 0.0), f.input)))


def _flip(futures: Futures, an_input: _Input, at: float, to: OptionName) -> Flip:
    change = (at - an_input.now) / an_input.now if an_input.now > 0.0 else None
    less = at < an_input.now
    by = "" if change is None else f", {share(abs(change))} {'less' if less else 'more'}"
    return Flip(
        input=an_input.name, to=to, now_minor=round(an_input.now), at_minor=round(at), change_share=change,
        words=f"{DOING_WORDS[to]} would be better if {an_input.name} were {'below' if less else 'above'} "
              f"{money(at, futures.currency)} (reckoned with {money(an_input.now, futures.currency)}{by})",
    )


def _leans_on(futures: Futures, own: _Reckoned) -> tuple[LeansOn, ...]:
    best = own.shown.leaning
    found = []
    for name, values in futures.drivers.items():
        for end, rows in _ends_of(values):
            for rival in own.worth:
                if rival == best:
                    continue
                mean, se = mean_se((own.worth[rival] - own.worth[best])[rows])
                if mean > CLEAR_OVER_SE * se and mean > own.shown.dead_band_minor:
                    found.append((mean, LeansOn(
                        name=name, end=end, to=rival,
                        words=f"{_at_its_end(name, end)}, {DOING_WORDS[rival]} would be better by "
                              f"{money(mean, futures.currency)} on average",
                    )))
    return tuple(leans for _, leans in sorted(found, key=lambda pair: (-pair[0], pair[1].name, pair[1].to)))


def _at_its_end(name: str, end: Literal["low", "high"]) -> str:
    if name.startswith(QUESTION):
        # The driver is whether something is bad that the question asks after: high is a no.
        return f"if {driver_words(name)} is {'no' if end == 'high' else 'yes'}"
    return f"with '{name}' at its {end} end"


def _ends_of(values: npt.NDArray[np.float64]) -> list[tuple[Literal["low", "high"], npt.NDArray[np.int64]]]:
    distinct = np.unique(values)
    if distinct.shape[0] < 2:
        return []
    if distinct.shape[0] <= BINS:
        low, high = np.flatnonzero(values == distinct[0]), np.flatnonzero(values == distinct[-1])
    else:
        order = np.argsort(values, kind="stable")
        fifth = values.shape[0] // 5
        low, high = order[:fifth], order[values.shape[0] - fifth:]
    ends: list[tuple[Literal["low", "high"], npt.NDArray[np.int64]]] = [("low", low), ("high", high)]
    return [(end, rows) for end, rows in ends if rows.shape[0] >= FEWEST_AT_AN_END]


def _part_out_terms(futures: Futures) -> PartOutTerms:
    market = futures.market
    total = float(market.part_out_minor.mean())
    hours = float(market.part_out_minutes.mean()) / 60.0
    curve = part_out_curve(market)
    days = [0.0, *(float(day) for day, _ in curve)]
    shares = [0.0, *(part for _, part in curve)]
    last = max(1, min(MONTHS_SHOWN, int(np.ceil(days[-1] / DAYS_OF_A_MONTH))))
    by_month = tuple(
        MonthCash(month=m, by_then_minor=round(total * float(np.interp(m * DAYS_OF_A_MONTH, days, shares))))
        for m in range(1, last + 1)
    )
    listings = market.part_out_listings or None
    told = [m for m in by_month if m.month in (1, 3, 6, 12)] or [by_month[-1]]
    money_words = ", ".join(f"{money(m.by_then_minor, futures.currency)} by month {m.month}" for m in told)
    return PartOutTerms(
        hours=hours, listings=listings, months=days[-1] / DAYS_OF_A_MONTH, cash_by_month=by_month,
        words=f"Parting it out takes some {round(hours)} own hours"
              + (f" and {listings} adverts" if listings is not None else "")
              + f", and the money comes over {_months(days[-1])}: {money_words}.",
    )


def _months(days: float) -> str:
    months = max(1, round(days / DAYS_OF_A_MONTH))
    return f"{months} month{'s' if months > 1 else ''}"


def part_out_curve(market: Market) -> tuple[tuple[int, float], ...]:
    """(day, share of the money in by then), ascending; without a curve, evenly over twice the days to its middle."""
    return market.part_out_curve or ((max(1, 2 * market.part_out_days), 1.0),)


def _notes(futures: Futures, own: Reckoning, free: Reckoning, doubt: MapDoubt | None) -> tuple[str, ...]:
    notes = []
    if doubt is not None and doubt.rests_on_it:
        notes.append(f"{doubt.words[0].upper()}{doubt.words[1:]}.")
    if own.hour_value_minor:
        notes.append(
            f"Own hours count {money(own.hour_value_minor, futures.currency)} each; at nought the answer would be: "
            f"{OPTION_WORDS[free.choice]}."
        )
    else:
        notes.append("Own hours count nothing in this answer.")
    if not futures.bought:
        notes.append(
            "It is not bought: the worths are those of the machine once it is here, its price apart. Whether to buy "
            "it, and for how much, is said by the bid."
        )
        loss = _asked_loss(futures, own)
        if loss is not None:
            notes.append(loss)
    return tuple(notes)


def _asked_loss(futures: Futures, own: Reckoning) -> str | None:
    """A sentence if the asked price eats up all that the best option brings."""
    price = futures.price_minor
    if price is None:
        return None
    all_in = price + fee_minor(price, futures.market) + futures.market.entry_fixed_minor
    worth = next(option.worth_minor for option in own.options if option.name == own.leaning)
    if worth >= all_in:
        return None
    currency = futures.currency
    return (
        f"At {money(price, currency)} ({money(all_in, currency)} with fee and fetching) it would lose "
        f"{money(all_in - worth, currency)} on average: leave it."
    )


def _why(futures: Futures, own: Reckoning, flips: tuple[Flip, ...], doubt: MapDoubt | None) -> str:
    currency = futures.currency
    worth = {option.name: option.worth_minor for option in own.options}
    best = own.leaning
    rival = min(own.differences, key=lambda d: d.mean_minor)
    hours = f"own hours at {money(own.hour_value_minor, currency)}" if own.hour_value_minor else "own hours at nought"
    if own.choice == "too_close_to_call":
        why = (
            f"Too close to call: {DOING_WORDS[best]} is worth {money(worth[best], currency)} from here, "
            f"{DOING_WORDS[rival.than]} {money(worth[rival.than], currency)} ({hours}), and the difference of "
            f"{money(rival.mean_minor, currency)} is within what draws and guesses can tell "
            f"({money(max(CLEAR_OVER_SE * rival.se_minor, own.dead_band_minor), currency)})"
        )
    else:
        words = OPTION_WORDS[best]
        why = (
            f"{words[0].upper()}{words[1:]}: that is worth {money(worth[best], currency)} from here, "
            f"{money(rival.mean_minor, currency)} more than {DOING_WORDS[rival.than]} ({hours})"
        )
    if own.right_to_stop.used and "carry_on" in (best, rival.than):
        right = money(own.right_to_stop.worth_minor, currency)
        used = share(own.right_to_stop.stops_chance)
        why += f"; carrying on has in it the right to stop on the way, worth {right} and used in {used} of the futures"
    if futures.market.sunk_minor > 0:
        why += f"; the {money(futures.market.sunk_minor, currency)} already spent is gone either way"
    if flips and own.choice != "too_close_to_call":
        why += f"; {flips[0].words}"
    if doubt is not None and doubt.rests_on_it:
        other = in_ten(doubt.flip_chance)
        why += f"; it rests on our guess of how much is damaged ({other} that another choice is best)"
    return why + "."
