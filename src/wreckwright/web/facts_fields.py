"""The form of what is known of a machine: its fields, and which guess each of them would replace."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from wreckwright.errors import EntryError, NicknameTaken, WreckwrightError

if TYPE_CHECKING:
    from wreckwright.answers.types import RestsOn

Kind = Literal["text", "money", "share", "whole", "number", "one_of", "some_of", "yes_no", "listed", "week"]

YES_NO = (("", "don't know"), ("yes", "yes"), ("no", "no"))
HITS = (
    ("left", "Its left side"),
    ("right", "Its right side"),
    ("front", "The front"),
    ("rear", "From behind"),
    ("tumble", "It went over and over"),
    ("water", "Water stood in it"),
    ("fire", "Fire"),
    ("stood", "Nothing hit it: it stood for years"),
    ("stripped", "Somebody took it apart and stopped"),
    ("stolen", "It was stolen and came back"),
    ("unknown", "Don't know"),
)
SEEN_IN = (
    ("photographs", "Only in photographs"),
    ("walk_round", "I walked round it"),
    ("hands_on", "I had my hands on it"),
    ("panels_off", "Its panels were off"),
    ("stripped", "It was taken apart"),
)
QUESTIONS = (
    ("key_starts_it", "Does the key start it?"),
    ("turns_over", "Does the engine turn over?"),
    ("papers_right", "Are the papers right?"),
)
WEEK = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


@dataclass(frozen=True, kw_only=True)
class Field:
    """One line of the form."""

    name: str
    """In the form."""
    label: str
    kind: Kind
    hint: str = ""
    unit: str = ""
    options: tuple[tuple[str, str], ...] = ()
    replaces: tuple[str, ...] = ()
    """Fields of the record whose guess it replaces when it is filled in."""
    say: str = ""
    """What one says by filling it in, where the label does not tell by itself; fit to follow a colon."""


@dataclass(frozen=True, kw_only=True)
class Section:
    title: str
    fields: tuple[Field, ...]


SECTIONS = (
    Section(
        title="What happened, and what can be asked",
        fields=(
            Field(name="what_hit", label="What hit it?", kind="some_of", options=HITS),
            *(Field(name=name, label=question, kind="yes_no", options=YES_NO) for name, question in QUESTIONS),
            Field(
                name="seen_in",
                label="How closely has it been looked at?",
                kind="one_of",
                options=SEEN_IN,
                replaces=("seen_in",),
            ),
        ),
    ),
    Section(
        title="Price and papers",
        fields=(
            Field(
                name="bought",
                label="Whose is it?",
                kind="one_of",
                options=(("yes", "I have bought it"), ("no", "I think of bidding for it")),
            ),
            Field(
                name="price",
                label="Price",
                kind="money",
                hint="What you paid, or what is asked for it; without fees and freight.",
                say="what was paid for it",
                replaces=("purchase.price_minor",),
            ),
            Field(
                name="at_auction",
                label="Where from?",
                kind="one_of",
                options=(
                    ("yes", "From an auction: without a sum below, the usual buyer's fee counts"),
                    ("no", "Not from an auction"),
                ),
            ),
            Field(name="fees", label="Buyer's fees", kind="money", replaces=("purchase.fees_minor",)),
            Field(name="freight", label="Freight, to fetch it", kind="money", replaces=("purchase.freight_minor",)),
            Field(
                name="brand",
                label="What the papers say of its past",
                kind="listed",
                say="what the papers say",
                replaces=("purchase.brand",),
            ),
        ),
    ),
    Section(
        title="What it fetches",
        fields=(
            Field(
                name="sound_value",
                label="What a straight one fetches, most likely",
                kind="money",
                hint="Same kind, age and mileage.",
                replaces=("market.sound_value_minor",),
            ),
            Field(
                name="sound_value_low",
                label="At least",
                kind="money",
                hint="Give both, or neither.",
                say="what a straight one fetches at least and at most",
                replaces=("market.sound_value",),
            ),
            Field(name="sound_value_high", label="At most", kind="money"),
            Field(name="as_it_stands", label="What somebody would pay for it today, as it stands", kind="money"),
            Field(name="part_out", label="What all its pieces would bring, costs of selling taken off", kind="money"),
            Field(
                name="days_to_sell",
                label="From ready to paid",
                kind="number",
                unit="days",
                say="the days from ready to paid",
                replaces=("market.days_to_sell",),
            ),
            Field(
                name="selling_share",
                label="Costs of selling, of its price",
                kind="share",
                unit="%",
                say="what selling costs",
                replaces=("market.selling_share",),
            ),
        ),
    ),
    Section(
        title="Your time",
        fields=(
            Field(
                name="weekday_minutes",
                label="Time you plan for it on each day of the week",
                kind="week",
                hint="As 120, 2 h or 1:30. All empty: not known. Some empty: nothing on those days.",
                say="the time you plan for each day of the week",
                replaces=("calendar.weekday_minutes",),
            ),
            Field(
                name="attendance",
                label="How much of it is really worked",
                kind="share",
                unit="%",
                say="how much of the planned time is really worked",
                replaces=("calendar.attendance",),
            ),
            Field(
                name="pace",
                label="Your pace",
                kind="number",
                hint="1 is as long as the trade says, 1.5 half as long again.",
                replaces=("owner.pace",),
            ),
        ),
    ),
    Section(
        title="What you want of it",
        fields=(
            Field(
                name="aim",
                label="In the end",
                kind="one_of",
                options=(("sell", "I sell it"), ("keep", "I keep it")),
            ),
            Field(
                name="accepted_loss_chance",
                label="How likely a loss may be",
                kind="share",
                unit="%",
                replaces=("owner.accepted_loss_chance",),
            ),
            Field(
                name="hour_value",
                label="What an hour of your own is worth",
                kind="money",
                hint="0 is an answer.",
                replaces=("owner.hour_value_minor",),
            ),
            Field(
                name="wanted_pay",
                label="What an hour should pay, for the price to walk away at",
                kind="money",
                replaces=("owner.wanted_pay_minor",),
            ),
            Field(
                name="workshop_hour",
                label="What a paid workshop charges for an hour",
                kind="money",
                replaces=("owner.workshop_hour_minor",),
            ),
            Field(
                name="holding_day",
                label="What it costs to have it stand for a day",
                kind="money",
                replaces=("owner.holding_day_minor",),
            ),
        ),
    ),
    Section(
        title="Which machine it is",
        fields=(
            Field(name="nickname", label="Nickname", kind="text"),
            Field(name="machine_class", label="Class", kind="listed"),
            Field(name="year", label="Model year", kind="whole"),
            Field(name="maker_and_model", label="Maker and model", kind="text"),
            Field(name="vin", label="Frame number", kind="text"),
            Field(name="odometer", label="Distance on the clock", kind="number"),
            Field(
                name="odometer_unit", label="It counts", kind="one_of", options=(("km", "kilometres"), ("mi", "miles"))
            ),
            Field(
                name="mirrored",
                label="Chain and controls",
                kind="one_of",
                options=(("no", "as usual"), ("yes", "on the other side than usual")),
            ),
            Field(
                name="currency",
                label="Currency",
                kind="text",
                hint="Three letters. Sums that stand here already are not converted.",
            ),
            Field(
                name="words",
                label="Words of the trade",
                kind="one_of",
                options=(("uk", "mudguard, indicator"), ("us", "fender, turn signal")),
            ),
            Field(
                name="as_of",
                label="Answers hold for",
                kind="text",
                hint="A day, such as 20 November 2026. Empty: always the day on which you look.",
            ),
        ),
    ),
)
FIELDS = {field.name: field for section in SECTIONS for field in section.fields}
REPLACES = {record_field: field for field in FIELDS.values() for record_field in field.replaces}


@dataclass(frozen=True)
class Trouble:
    """What is wrong with what was typed, the field called as the form calls it."""

    what: str
    allowed: str
    do: str
    field: str
    """Of the form; empty: it is about none, or about none that is known."""


def trouble(error: WreckwrightError) -> Trouble:
    """An error as the form says it.

    >>> trouble(EntryError("price_minor: found -1", "0 or more", "check it", field="price_minor")).what
    'Price: found -1'
    >>> trouble(EntryError("Monday: 'x' is no time", field="Monday")).field
    'weekday_minutes'
    """
    field, what = "", error.what
    if isinstance(error, NicknameTaken):
        field = "nickname"
    if isinstance(error, EntryError):
        name = "weekday_minutes" if error.field in WEEK else error.field.removesuffix("_minor")
        field = name if name in FIELDS or name == "photos" else ""
        if name in FIELDS and name != "weekday_minutes":
            what = re.sub(rf"^{re.escape(error.field)}: ", f"{FIELDS[name].label.rstrip('?')}: ", what)
    return Trouble(what=what, allowed=error.allowed, do=error.do, field=field)


ELSEWHERE: Mapping[str, tuple[str, str]] = {"findings": ("/walk", "Look at them on the walk-round")}
"""Guesses that another page replaces: its address under the machine, and what to do there."""


def guesses_by_field(rests_on: Iterable[RestsOn]) -> dict[str, RestsOn]:
    """Name of a field of the form -> what is taken instead while it is empty."""
    return {REPLACES[guess.field].name: guess for guess in rests_on if guess.field in REPLACES}


def where_to_say(guess: RestsOn, uid: str) -> tuple[str, str]:
    """(address, words) of the place where the owner can say what was guessed; no address: there is none yet."""
    field = REPLACES.get(guess.field)
    if field is not None:
        return (
            f"/machine/{uid}/facts#{anchor(field.name)}",
            f"Say it yourself: {field.say or field.label[:1].lower() + field.label[1:]}",
        )
    if guess.field in ELSEWHERE:
        to, words = ELSEWHERE[guess.field]
        return f"/machine/{uid}{to}", words
    return "", ""


def anchor(name: str) -> str:
    """Id of the place of a field on the page."""
    return f"fact-{name}"
