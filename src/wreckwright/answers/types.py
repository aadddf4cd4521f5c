"""The answers: frozen, plain results that any face can show and any program can read.

Conventions, for every struct here (they are also the keys of `--json`):

- money is a whole number of minor units of `currency` (`*_minor`); chances and shares are 0..1; lengths of time carry
  their unit (`*_days`, `*_hours`, `*_minutes`); dates are ISO strings; `*_se` is the Monte Carlo standard error of the
  figure before it, in the same unit (how much it would change with other draws, not how wrong the guesses are);
- `None` means that there is no such figure, and the words beside it say why; it never means nought;
- `words` and `why` are finished sentences or phrases, fit to be shown as they are.
"""

from __future__ import annotations

from typing import Literal

import msgspec

OptionName = Literal["carry_on", "sell_as_it_stands", "part_out"]
Choice = Literal["carry_on", "sell_as_it_stands", "part_out", "too_close_to_call"]
WaitKind = Literal["part", "cure_or_way_round", "outside_gate"]
FitState = Literal["proved", "not proved", "not touched but suspected"]


class Value(msgspec.Struct, frozen=True, kw_only=True):
    """Base of all results: values without identity."""


class RestsOn(Value, frozen=True, kw_only=True):
    """A default that the answer used because nobody said otherwise."""

    field: str
    """Field of the record that would replace it, e.g. `market.sound_value_minor`."""
    value: str
    """What was taken, readable, with its unit."""
    basis: str
    """`common practice`, `judgement`, or a source."""
    words: str
    """e.g. `our guess about market.days_to_sell: 30 days (common practice)`"""


class Answer(Value, frozen=True, kw_only=True):
    """What every answer says besides its own figures."""

    nickname: str
    as_of: str
    """ISO date for which the answer holds; day 0."""
    why: str
    """One sentence with the numbers that drive the answer."""
    rests_on: tuple[RestsOn, ...]
    """The guesses it rests on; empty when the record said everything."""


class MoneyAnswer(Answer, frozen=True, kw_only=True):
    """An answer read from futures."""

    n_futures: int
    currency: str
    """ISO 4217 code; all `*_minor` are in its minor unit."""
    bought: bool
    price_minor: int | None
    """Price paid, or asked for a lot; None if not known."""
    notes: tuple[str, ...] = ()
    """Cautions that belong to the answer; sentences."""


class ChanceOf(Value, frozen=True, kw_only=True):
    """A chance counted in futures."""

    chance: float
    chance_se: float
    words: str
    """e.g. `about 4 in 10`"""


class MoneySpread(Value, frozen=True, kw_only=True):
    """How a sum is spread over the futures. P20: it is less than this in 20 % of the futures."""

    p20_minor: int
    p50_minor: int
    p80_minor: int
    mean_minor: int
    p20_se_minor: int
    p50_se_minor: int
    p80_se_minor: int
    mean_se_minor: int


class DayQuantile(Value, frozen=True, kw_only=True):
    """A day that is not passed in a given share of the futures."""

    days: int | None
    """Days from `as_of`; None if it lies after the end of the calendar."""
    date: str | None
    """ISO date; None likewise."""
    days_se: float | None
    words: str
    """The date, or `more than N years`."""


class DaySpread(Value, frozen=True, kw_only=True):
    p50: DayQuantile
    p80: DayQuantile


class PayPerHour(Value, frozen=True, kw_only=True):
    """Mean net of the whole project over mean own hours; and how it is spread from future to future."""

    mean_minor: int | None
    """None when there are no own hours."""
    mean_se_minor: int | None
    p20_minor: int | None
    p50_minor: int | None
    p80_minor: int | None


class Driver(Value, frozen=True, kw_only=True):
    """A named input and the share of the spread of a result that goes with it alone."""

    name: str
    share: float
    """First-order variance share: spread of the means over 20 equally full bins (or the distinct values), less what
    chance alone would give; 0..1. They need not add up to 1: the rest is interaction and all that has no name."""
    share_se: float


class Waiting(Value, frozen=True, kw_only=True):
    """Working time lost waiting for one thing."""

    what: str
    kind: WaitKind
    hours_mean: float
    """Planned working hours lost, averaged over all futures."""
    share: float
    """Of all working time lost waiting."""


class Suspect(Value, frozen=True, kw_only=True):
    component: str
    chance: float
    words: str
    """e.g. `about 4 in 10, trade judgement`"""


class FinishPoint(Value, frozen=True, kw_only=True):
    """A point of the curve of finishing, for a picture."""

    days: int
    date: str
    share: float
    """Share of all futures that have finished by the end of that day."""


class MoneyBin(Value, frozen=True, kw_only=True):
    """A bin of a distribution of money, for a picture."""

    from_minor: int
    to_minor: int
    share: float


class Foresight(MoneyAnswer, frozen=True, kw_only=True):
    """What is ahead if this plan is kept."""

    price_free: bool
    """True: a lot without a price: nothing for the price is in `net`, `loss` and `pay_per_hour`."""
    finishes: ChanceOf
    """It is finished before the calendar ends."""
    ends_otherwise: tuple[ChanceEnd, ...]
    """In what other ways it ends, likeliest first; with `finishes` the chances add up to 1."""
    finish: DaySpread | None
    """Given that nothing ends it for good; futures still at it when the calendar ends count as later. None: no future
    finishes."""
    sold: DaySpread | None
    """Day on which the money of the sale is in, likewise."""
    spend: MoneySpread
    """From here: parts, work bought in, ways round; without holding cost, price and selling costs."""
    largest_cash_out: MoneySpread
    """Deepest point of the purse from here, before the money of the sale comes in: `spend`, holding, and for a lot
    with a price that price, its fee and the costs of getting it."""
    hours: HoursSpread
    """Own hours, hands on."""
    net_from_here: MoneySpread
    """Cash from now on, sunk money apart, before own hours."""
    net: MoneySpread
    """Whole project, sunk money in it, before own hours."""
    sunk_minor: int
    pay_per_hour: PayPerHour
    loss: ChanceOf
    """Chance that the whole project ends below nought, own hours not counted."""
    drivers_of_finish: tuple[Driver, ...]
    """Largest first."""
    drivers_of_net: tuple[Driver, ...]
    waiting: tuple[Waiting, ...]
    """Most hours first; empty when nothing is waited for."""
    suspects: tuple[Suspect, ...]
    """Likeliest hidden damage first."""
    what_happened: tuple[Suspect, ...]
    """Likeliest causes first (`component` holds the scenario)."""
    unnamed_damage_minor: int
    """Expected money for the many small hidden things that have no line of their own (it is in `spend`)."""
    finish_curve: tuple[FinishPoint, ...]
    net_bins: tuple[MoneyBin, ...]


class ChanceEnd(Value, frozen=True, kw_only=True):
    how: str
    """Which question ended in no, which part never came, stopped by rule, not finished when the calendar ends."""
    chance: float
    chance_se: float


class HoursSpread(Value, frozen=True, kw_only=True):
    p50_hours: float
    p80_hours: float
    mean_hours: float
    mean_se_hours: float


class Option(Value, frozen=True, kw_only=True):
    """One thing that can be done now, and what it is worth from here. Sunk money is not in it."""

    name: OptionName
    words: str
    worth_minor: int
    """Mean, own hours charged at the hour value of the reckoning."""
    worth_se_minor: int
    cash_minor: int
    """Mean, own hours not charged."""
    hours: float
    days: float
    """Mean days until the money is in."""


class Difference(Value, frozen=True, kw_only=True):
    """Paired on the same futures: worth of `better` less worth of `than`."""

    better: OptionName
    than: OptionName
    mean_minor: int
    se_minor: int
    clear: bool
    """More than 2 standard errors, and more than the dead band of the reckoning."""


class StopPoint(Value, frozen=True, kw_only=True):
    """A moment at which stopping is worth a thought, by the fitted rule."""

    when: str
    """In words: after which question, or after a big find in which stage."""
    reached_chance: float
    stop_chance: float
    """Of all futures: stopped there."""
    spend_if_stopped_minor: int | None
    """Median of the money then known to be still to spend, where the rule says stop; None: never."""
    spend_if_carried_on_minor: int | None


class RightToStop(Value, frozen=True, kw_only=True):
    """What it is worth that one may stop later on. `used` false: not clearly worth anything, and not counted."""

    worth_minor: int
    """Cross-fitted: the rule is fitted on one half of the futures and valued on the other, both ways."""
    worth_se_minor: int
    used: bool
    in_sample_minor: int
    """The same, fitted and valued on the same futures (too rosy by about the difference)."""
    stops_chance: float
    points: tuple[StopPoint, ...]


class Reckoning(Value, frozen=True, kw_only=True):
    """The comparison with own hours at one value."""

    hour_value_minor: int
    choice: Choice
    leaning: OptionName
    """The best by the means, clear or not."""
    options: tuple[Option, ...]
    """carry_on (with the right to stop, if it is worth anything), sell_as_it_stands, part_out."""
    differences: tuple[Difference, ...]
    """The best against each of the others."""
    right_to_stop: RightToStop
    dead_band_minor: int
    """Differences up to this are not called, however many futures are drawn: the guesses are no finer."""


class Flip(Value, frozen=True, kw_only=True):
    """The value of one named input, all else equal, at which another option becomes the best."""

    input: str
    to: OptionName
    now_minor: int
    at_minor: int
    change_share: float | None
    """(at - now) / now; None when now is nought."""
    words: str


class LeansOn(Value, frozen=True, kw_only=True):
    """A driver at whose low or high end another option is clearly the best: the lowest or highest fifth of the futures,
    or, for one with few distinct values, those with its least or greatest value."""

    name: str
    end: Literal["low", "high"]
    to: OptionName
    words: str


class MapDoubt(Value, frozen=True, kw_only=True):
    """Whether the choice stands if our map of damage is moved within its own error."""

    flip_chance: float
    """Chance that another choice would be best."""
    rests_on_it: bool
    """That chance is above 1 in 5: the answer says so."""
    look_first: tuple[str, ...]
    """What to look at, dearest suspicion first."""
    words: str


class PartOutTerms(Value, frozen=True, kw_only=True):
    """What parting out asks and gives."""

    hours: float
    listings: int | None
    """Adverts to be written; None: not known."""
    months: float
    cash_by_month: tuple[MonthCash, ...]
    words: str


class MonthCash(Value, frozen=True, kw_only=True):
    month: int
    """1, 2, ... from `as_of`."""
    by_then_minor: int
    """Money in by the end of that month, net of selling costs, mean."""


class Verdict(MoneyAnswer, frozen=True, kw_only=True):
    """Carry on, sell it as it stands, or part it out."""

    choice: Choice
    """At the owner's hour value (`reckoning`). For a lot not bought: what to do with it once it is here."""
    leaning: OptionName
    sunk_minor: int
    """Already gone whatever is done; in none of the worths."""
    reckoning: Reckoning
    """Own hours at the owner's value: the choice is taken from here."""
    hours_free: Reckoning
    """Own hours at nought."""
    flips: tuple[Flip, ...]
    """Nearest first."""
    leans_on: tuple[LeansOn, ...]
    map_doubt: MapDoubt | None
    """None: the futures do not carry the error of the map."""
    part_out_terms: PartOutTerms


class BidPoint(Value, frozen=True, kw_only=True):
    price_minor: int
    all_in_minor: int
    """Price, its fee, and the other costs of getting it."""
    loss_chance: float
    loss_chance_se: float
    net_mean_minor: int
    pay_per_hour_minor: int | None


class OtherWay(Value, frozen=True, kw_only=True):
    """What a price may be if something else is done with the machine than to carry the plan through."""

    name: OptionName
    """`carry_on` here: with the right to stop on the way."""
    words: str
    price_for_loss_minor: int | None
    """By the accepted chance of a loss, own hours at nought; None: not at any price."""
    net_mean_minor: int
    """Mean of the whole project at a price of nought."""


class Bid(MoneyAnswer, frozen=True, kw_only=True):
    """The most that should be paid. For a machine already bought: what would have been the most, knowing what is known
    today."""

    looking_back: bool
    walk_away_minor: int | None
    """Highest price at which both wishes hold: the accepted chance of a loss, and the wanted pay. None: not at
    any price."""
    words: str
    binds: Literal["chance of a loss", "wanted pay", "neither"]
    """Which wish sets it; `neither` when there is no such price at all."""
    accepted_loss_chance: float
    wanted_pay_minor: int
    hour_value_minor: int
    price_for_loss_minor: int | None
    """By the accepted chance of a loss alone, own hours at nought."""
    price_for_loss_low_minor: int | None
    """The same at the accepted chance less 2 standard errors: how far other draws might move it."""
    price_for_loss_high_minor: int | None
    price_for_loss_dark_map_minor: int | None
    """The same if our map of damage is too bright: all of it moved to the 90 % point of its own error. None: not at any
    price, or the error of the map is not known."""
    price_for_loss_bright_map_minor: int | None
    """The same if it is too dark: moved to the 10 % point."""
    price_for_loss_hours_paid_minor: int | None
    """Own hours charged at the owner's hour value."""
    price_for_pay_minor: int | None
    """By the wanted pay for an hour alone."""
    other_ways: tuple[OtherWay, ...]
    """Highest price first."""
    at_walk_away: BidPoint | None
    at_price: BidPoint | None
    """At the price paid or asked; None if not known."""
    curve: tuple[BidPoint, ...]
    """Ascending prices around it."""


class FitEntry(Value, frozen=True, kw_only=True):
    """One heading of the fit-to-ride list."""

    item: str
    """Id of the heading in the trade data."""
    name: str
    state: FitState
    how_proved: str
    """What has to be done by hand to prove it."""
    proof: str
    """What proved it, in the record's words; empty when not proved."""
    second_person: str
    """Second pair of eyes; empty: nobody is named."""
    specialist_paper: str
    needs_specialist_paper: bool
    """Frame or other welding or straightening: no pass without a specialist's paper."""
    suspected: tuple[Suspect, ...]
    """Components under it that are thought or seen to be bad."""
    reason: str
    """Why it stands where it stands; a sentence."""


class FitList(Answer, frozen=True, kw_only=True):
    """What has been proved by hand before anybody rides it. A chance never proves anything."""

    items: tuple[FitEntry, ...]
    all_proved: bool
    shut: tuple[str, ...]
    """What stays shut until all are proved (`road test`, `handover`); empty when all are."""
    suspect_over: float
    """Chance of damage above which a component counts as suspected."""
    without_second_person: tuple[str, ...]
    """Names of the proved headings for which no second pair of eyes is named."""
    notes: tuple[str, ...] = ()


NextKind = Literal["ask", "look", "do", "fit", "get", "wait", "prove", "bid", "sell", "hand_over"]


class NextStep(Value, frozen=True, kw_only=True):
    """The one thing to do next. There is always one."""

    kind: NextKind
    """`ask` somebody, `look` at the machine or try it, `do` work on it, `fit` a part that is here, `get` a part,
    `wait`, `prove` a heading of the fit-to-ride list; `bid` for a lot or leave it, `sell` it as it stands or in pieces;
    `hand_over`: all is proved."""
    words: str
    """What to do; a phrase without a full stop."""
    minutes: float | None
    """The trade's or the owner's minutes for it; None: no figure is known, or nothing is to be done."""
    why: str
    """Why this before all else; one sentence."""
    cautions: tuple[str, ...] = ()
    """What must be seen to before, for safety's sake; sentences or phrases, the weightiest first."""
    gate: str = ""
    """Id of the question (template, or handle of an own gate) that it is about; empty: it is about none."""
    check: str = ""
    """Id of the check of the trade data that is to be made; empty: none of those."""
    key: str = ""
    """Key of the piece of work that it is, as the running order and tonight's list name it; empty: it is none of
    theirs."""


def rests_on_words(*, field: str, value: str, basis: str) -> str:
    """The phrase shown for a default.

    >>> rests_on_words(field="market.days_to_sell", value="30 days", basis="common practice")
    'our guess about market.days_to_sell: 30 days (common practice)'
    """
    return f"our guess about {field}: {value} ({basis})"
