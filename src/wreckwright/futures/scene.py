"""Everything an answer is read from: one set of futures of one machine, drawn once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from wreckwright.futures.policy import Policy
from wreckwright.futures.rebuild import IntArray, LongArray, Played, Rebuild, Worlds

MAP_ERROR = "error of our map of damage"
"""Key in `Futures.drivers`: the error that all figures of the map share, in the version that each future believes in;
standard normal before anything was found, above 0: the map is too bright and more is damaged."""


QUESTION = "question: "
"""How the key in `Futures.drivers` begins that is the answer to a gate's question; 1 where it is a no."""


@dataclass(frozen=True, kw_only=True)
class Market:
    """What the machine fetches in each future, whichever way it is turned into money. F futures, S stages, J slots."""

    sale_minor: LongArray
    """[F] price of the finished machine (title brand, map of unseen faults and sale residual in it), season apart."""
    season_factor: tuple[float, ...]
    """[12] by calendar month of the sale, January first."""
    selling_share: float
    """Share of the price that selling costs (adverts, test rides, claims)."""
    days_to_sell: IntArray
    """[F]"""
    left_undone_minor: tuple[int, ...]
    """[J] what the finished machine fetches less if that slot was left undone."""
    as_it_stands_minor: LongArray
    """[F, S + 1] price as it stands, by number of bench gates passed (selling costs not taken off)."""
    days_to_sell_as_it_stands: int
    part_out_minor: LongArray
    """[F] what parting out fetches net of selling costs."""
    part_out_minutes: IntArray
    """[F] own minutes it takes."""
    part_out_days: int
    holding_day_minor: int
    sunk_minor: int
    """Already gone: purchase, fees, freight, parts and other purse lines up to the as-of date. 0 for a lot not yet
    bought, except what was spent on looking at it."""
    entry_fixed_minor: int
    """Lot not yet bought: costs of getting it besides the price and its fee (freight, fixed fees); 0 if bought."""
    fee_steps: tuple[tuple[int, float], ...]
    """Buyer's fee: (price from, marginal rate above it), ascending; empty: no fee."""
    fee_flat_minor: int = 0
    fee_minimum_minor: int = 0
    part_out_listings: int = 0
    """Adverts that parting out asks for; 0: not known."""
    part_out_curve: tuple[tuple[int, float], ...] = ()
    """(day, share of `part_out_minor` in by then), ascending; empty: evenly over twice `part_out_days`."""


@dataclass(frozen=True, kw_only=True)
class Guess:
    """A default that was used because nobody said otherwise."""

    field: str
    """Record field that would replace it, e.g. `market.sound_value_minor`."""
    value: str
    """What was taken, readable, with unit."""
    basis: str
    """`common practice`, `judgement` or a source."""


@dataclass(frozen=True, kw_only=True)
class Futures:
    """One machine's futures under one policy, with all that is needed to read answers and to say why."""

    nickname: str
    currency: str
    as_of: str
    """ISO date; day 0."""
    bought: bool
    price_minor: int | None
    """Price paid, or asked for a lot; None if not known."""
    accepted_loss_chance: float
    hour_value_minor: int
    wanted_pay_minor: int
    rebuild: Rebuild
    worlds: Worlds
    policy: Policy
    played: Played
    market: Market
    guesses: tuple[Guess, ...]
    drivers: Mapping[str, npt.NDArray[np.float64]] = field(default_factory=dict)
    """Named inputs, [F] each, whose share of the variance of the result is of interest (pace, price level, ...)."""
    damage: Mapping[str, float] = field(default_factory=dict)
    """Component -> chance that it is bad, all evidence counted."""
    scenario: Mapping[str, float] = field(default_factory=dict)
    """What happened -> chance."""
    lump_minor: int = 0
    """Expected money for the many small hidden things that have no slot of their own."""
    found_bad: frozenset[str] = frozenset()
    """Components that were found bad already, put right since or not: they are no suspects."""
    played_unstopped: Played | None = None
    """If `played` was stopped by a rule: the same policy played without one, should somebody have it at hand."""
