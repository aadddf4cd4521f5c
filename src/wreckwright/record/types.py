"""What is known of one machine: frozen, typed, validated on the way in, no I/O.

Conventions: money is an integer number of minor units (`*_minor`, cents, pence, ...) of `Machine.currency`;
lengths of time carry their unit (`*_minutes`, `*_days`, `*_months`); chances are 0..1; dates are dates.
Every field has a default or is one of the three that nobody else can know (`nickname`, `machine_class`, `year`).
An absent field means *not known*, never *fine*.
"""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Any, Literal

import msgspec
from msgspec import Meta

Chance = Annotated[float, Meta(ge=0.0, le=1.0)]
Minor = Annotated[int, Meta(ge=0, le=10**12)]
SignedMinor = Annotated[int, Meta(ge=-(10**12), le=10**12)]
Minutes = Annotated[float, Meta(ge=0.0, le=100_000.0)]
Days = Annotated[float, Meta(ge=0.0, le=10_000.0)]
Handle = Annotated[str, Meta(min_length=1, max_length=64)]
Words = Annotated[str, Meta(max_length=2000)]
SeverityLevel = Annotated[int, Meta(ge=1, le=3)]
"""1 looks, 2 works badly, 3 can hurt."""

WhatHit = Literal["left", "right", "front", "rear", "tumble", "water", "stood", "fire", "stripped", "stolen", "unknown"]
YesNo = Literal["yes", "no", "unknown"]
GateAnswer = Literal["unasked", "yes", "no", "way_round"]
PartState = Literal[
    "wanted", "kept_back", "deposit_paid", "ordered", "shipped", "part_arrived", "here", "wrong",
    "fitted", "sent_back", "refused", "refunded", "sold",
]
RemedyName = Literal["repair", "genuine", "pattern", "used", "modify", "leave"]
JobKind = Literal["strip", "check", "repair", "fit", "adjust", "clean", "test", "road_test"]
JobState = Literal["not_yet", "can_be_done", "open", "closed_up", "proved"]
TapWhat = Literal["done", "snag", "arrived", "left_loose", "bag"]
Weekday = Literal["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"]
LooseWhat = Literal["loose", "bag", "rags"]
"""Left finger-tight; a bag of screws; rags in ports."""
ErrandKind = Literal["trip", "call"]
Wanted = Literal["rolls", "steers", "number_readable", "battery_up"]
"""What a machine must be able to do before it is taken somewhere."""
BatchState = Literal["gathering", "away", "back"]
WorkKey = Annotated[str, Meta(max_length=120)]
"""Key of a piece of work: `front_wheel` (the fitting), `front_wheel:carry_over` (a step of it), `job:j1` (an own job),
`part:p2`, `standard:...`, `look:...`, `gate:...`, `off:...`, `on:...`; see docs/running-order.md."""
Sha256 = Annotated[str, Meta(pattern="^[0-9a-f]{64}$")]
"""Names a photograph by what is in it; the photograph itself is kept outside the record."""


class Part(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True):
    """Base of everything in a record. `extra` is kept untouched and never read."""

    extra: dict[str, Any] = {}


class Row(Part, frozen=True, kw_only=True):
    """A row has a handle that never changes, and may say who wrote it down and when."""

    id: Handle
    by: Annotated[str, Meta(max_length=80)] = ""
    at: dt.datetime | None = None


class MinutesBand(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    low: Minutes
    likely: Minutes
    high: Minutes


class MoneyBand(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    low_minor: Minor
    likely_minor: Minor
    high_minor: Minor


class Purchase(Part, frozen=True, kw_only=True):
    """`bought` true: the money is gone (sunk). False: a bid is being thought about."""

    bought: bool = False
    price_minor: Minor | None = None
    date: dt.date | None = None
    fees_minor: Minor | None = None
    """Fixed fees; when absent the trade's fee steps are used for auction lots."""
    at_auction: bool = False
    freight_minor: Minor | None = None
    brand: Annotated[str, Meta(max_length=40)] = ""
    """Title brand id of the trade data (`clean`, `repaired_disclosed`, ...); empty = not known."""


class Market(Part, frozen=True, kw_only=True):
    jurisdiction: Annotated[str, Meta(max_length=40)] = ""
    sound_value: MoneyBand | None = None
    """What a straight one of the same kind fetches."""
    sound_value_minor: Minor | None = None
    """The same in one figure; used when `sound_value` is absent."""
    selling_share: Chance | None = None
    days_to_sell: Days | None = None
    as_it_stands_minor: Minor | None = None
    """What somebody would pay for it today, if the owner knows."""
    part_out_minor: Minor | None = None


class ChangedDay(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    date: dt.date
    minutes: Annotated[int, Meta(ge=0, le=1440)]


class Calendar(Part, frozen=True, kw_only=True):
    """Minutes planned on each weekday, Monday first; `attendance` is the share that is really worked."""

    weekday_minutes: Annotated[tuple[int, ...], Meta(min_length=7, max_length=7)] | None = None
    days_off: tuple[dt.date, ...] = ()
    changed: tuple[ChangedDay, ...] = ()
    """Single days with other minutes than their weekday has; a day off stays off."""
    helper_weekdays: tuple[Weekday, ...] = ()
    helper_days: tuple[dt.date, ...] = ()
    """Days on which somebody helps. Without any helper day written, work for two waits for nobody."""
    attendance: Annotated[float, Meta(gt=0.0, le=1.0)] | None = None


class Owner(Part, frozen=True, kw_only=True):
    aim: Literal["sell", "keep"] = "sell"
    accepted_loss_chance: Chance | None = None
    hour_value_minor: Minor | None = None
    """What an hour of own work is worth to the owner; 0 is a valid answer."""
    workshop_hour_minor: Minor | None = None
    """What a paid workshop charges an hour at this place (scales fees and freight)."""
    wanted_pay_minor: Minor | None = None
    """Wanted pay for an hour, for the bid."""
    holding_day_minor: Minor | None = None
    reserve_minor: Minor | None = None
    pace: Annotated[float, Meta(gt=0.1, le=10.0)] | None = None
    words: Literal["uk", "us"] = "uk"


class Finished(Row, frozen=True, kw_only=True):
    """A machine the owner has finished: the outside view is fitted from a few of these."""

    paid_minor: Minor
    spent_minor: Minor
    """All that went into it after the purchase."""
    sold_minor: Annotated[int, Meta(gt=0, le=10**12)]
    months: Annotated[float, Meta(gt=0.0, le=600.0)]
    expected_spend_minor: Minor | None = None
    expected_months: Annotated[float, Meta(gt=0.0, le=600.0)] | None = None


class Finding(Row, frozen=True, kw_only=True):
    """Something seen: in plain words (`what`), or by component and condition.

    `looked_fine` true means: looked at it (or at this whole `zone`/side), and it was sound.
    """

    what: Words = ""
    component: Annotated[str, Meta(max_length=60)] = ""
    zone: Annotated[str, Meta(max_length=40)] = ""
    side: Literal["", "left", "right", "middle"] = ""
    condition: Annotated[str, Meta(max_length=200)] = ""
    severity: SeverityLevel = 2
    sure: Chance = 0.95
    looked_fine: bool = False
    missing: bool = False
    check: Annotated[str, Meta(max_length=60)] = ""
    """Check of the trade data by which it was found; gives the false-alarm and miss chances."""
    at_work: WorkKey = ""
    """It broke in this piece of work: it is bad now, and says nothing of what happened to the machine before."""
    piece: Annotated[str, Meta(max_length=200)] = ""
    """Only this piece of the component is broken or gone: the component itself is not bad for it."""
    evidence: Words = ""
    photos: tuple[Sha256, ...] = ()


class SeenSign(Row, frozen=True, kw_only=True):
    """A sign of the trade data (by id or in its words), seen or looked for and not there."""

    sign: Annotated[str, Meta(max_length=200)]
    seen: bool = True


class ChosenRemedy(Row, frozen=True, kw_only=True):
    component: Annotated[str, Meta(min_length=1, max_length=60)]
    remedy: RemedyName


class PartLine(Row, frozen=True, kw_only=True):
    """A part that is wanted or on its way, with what is known of price and wait."""

    component: Annotated[str, Meta(max_length=60)] = ""
    name: Annotated[str, Meta(max_length=200)] = ""
    state: PartState = "wanted"
    remedy: RemedyName | None = None
    price_minor: Minor | None = None
    price_is_quote: bool = True
    paid_minor: Minor = 0
    supplier: Annotated[str, Meta(max_length=80)] = ""
    lead_class: Annotated[str, Meta(max_length=40)] = ""
    ordered_on: dt.date | None = None
    promised_on: dt.date | None = None
    last_return_on: dt.date | None = None
    part_number: Annotated[str, Meta(max_length=60)] = ""
    replaced_by: Annotated[str, Meta(max_length=60)] = ""
    fits_notes: Words = ""
    held_until_gate: Annotated[str, Meta(max_length=64)] = ""
    plan_b: RemedyName | None = None
    plan_b_after_days: Days | None = None


class Job(Row, frozen=True, kw_only=True):
    """The owner's own job, or what the owner did to or changed in one that follows from a finding (`stands_for`).

    What is not given comes from the trade data.
    """

    name: Annotated[str, Meta(min_length=1, max_length=200)]
    kind: JobKind = "fit"
    state: JobState = "not_yet"
    component: Annotated[str, Meta(max_length=60)] = ""
    minutes: MinutesBand | None = None
    done_minutes: Minutes | None = None
    cost_minor: Minor = 0
    covers: tuple[Handle, ...] = ()
    after: tuple[Handle, ...] = ()
    """Handles of jobs that must be finished before."""
    parts: tuple[Handle, ...] = ()
    """Handles of part lines it needs."""
    before_gate: Annotated[str, Meta(max_length=64)] = ""
    cure_days: Annotated[int, Meta(ge=0, le=365)] | None = None
    stands_for: WorkKey = ""
    """Key of the piece of work made from the trade data that this row is; empty: an own job, or the mending of
    `component`."""
    may_split: bool | None = None
    """May be left half done at the end of an evening."""
    helper: bool | None = None
    tools: tuple[Words, ...] = ()
    supports: tuple[Words, ...] = ()
    keep: tuple[Words, ...] = ()
    """Pieces to be carried over from the old part."""
    renew: tuple[Words, ...] = ()
    """Pieces for one use, renewed with it."""
    steps: tuple[Words, ...] = ()
    film: Words = ""
    started_at: dt.datetime | None = None
    """Being worked on since then; absent: nobody is at it."""


class WayRoundStep(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    name: Annotated[str, Meta(min_length=1, max_length=200)]
    chance: Chance
    price_minor: Minor
    wait_days: Days
    minutes: Minutes = 0.0


class Gate(Row, frozen=True, kw_only=True):
    """A question that must end in yes. With `template`, what is not given comes from the trade data."""

    template: Annotated[str, Meta(max_length=60)] = ""
    question: Annotated[str, Meta(max_length=200)] = ""
    kind: Literal["bench", "outside"] | None = None
    answer: GateAnswer = "unasked"
    chance_yes: Chance | None = None
    expected_on: dt.date | None = None
    wait_days: Days | None = None
    ways_round: tuple[WayRoundStep, ...] = ()


class Reading(Row, frozen=True, kw_only=True):
    what: Annotated[str, Meta(min_length=1, max_length=200)]
    component: Annotated[str, Meta(max_length=60)] = ""
    value: Annotated[float, Meta(ge=-1e9, le=1e9)]
    unit: Annotated[str, Meta(min_length=1, max_length=20)]
    uncertainty: Annotated[float, Meta(ge=0.0, le=1e9)] | None = None
    limit_low: Annotated[float, Meta(ge=-1e9, le=1e9)] | None = None
    limit_high: Annotated[float, Meta(ge=-1e9, le=1e9)] | None = None
    if_sound: Annotated[float, Meta(gt=0.0)] | None = None
    if_bad: Annotated[float, Meta(gt=0.0)] | None = None
    """Likelihood of this reading if the component is sound, if it is bad (both or neither)."""
    proves: Annotated[str, Meta(max_length=60)] = ""
    """Heading of the fit-to-ride list for which this reading was taken."""


class Fastening(Row, frozen=True, kw_only=True):
    where: Annotated[str, Meta(min_length=1, max_length=200)]
    component: Annotated[str, Meta(max_length=60)] = ""
    thread: Annotated[str, Meta(max_length=40)] = ""
    target_nm: Annotated[float, Meta(gt=0.0, le=2000.0)] | None = None
    basis: Annotated[str, Meta(max_length=200)] = ""
    applied_nm: Annotated[float, Meta(gt=0.0, le=2000.0)] | None = None
    tool: Annotated[str, Meta(max_length=80)] = ""
    marked: bool = False


class Proof(Row, frozen=True, kw_only=True):
    """A hands-on proof of one heading of the fit-to-ride list."""

    item: Annotated[str, Meta(min_length=1, max_length=60)]
    how: Words
    second_person: Annotated[str, Meta(max_length=80)] = ""
    specialist_paper: Annotated[str, Meta(max_length=200)] = ""


class PurseLine(Row, frozen=True, kw_only=True):
    date: dt.date
    what: Annotated[str, Meta(min_length=1, max_length=200)]
    out_minor: SignedMinor
    """Positive: money went out; negative: money came in."""
    currency: Annotated[str, Meta(max_length=3)] = ""
    pays: Annotated[str, Meta(max_length=64)] = ""
    """`purchase`, or the handle of a part line: this pays a sum that stands there already, it is not a further one."""


class LogEntry(Row, frozen=True, kw_only=True):
    date: dt.date
    note: Words = ""
    photo_sha256: Annotated[str, Meta(max_length=64)] = ""
    clip: Annotated[str, Meta(max_length=200)] = ""
    clip_from_s: Annotated[float, Meta(ge=0.0)] | None = None
    clip_to_s: Annotated[float, Meta(ge=0.0)] | None = None


class Tap(Row, frozen=True, kw_only=True):
    """Told in passing with one tap; what it means for findings, parts and jobs is sorted out later."""

    what: TapWhat
    note: Words = ""
    photos: tuple[Sha256, ...] = ()
    decided: bool = False
    """False: it lies on the undecided heap, and no answer reads it."""
    became: Annotated[str, Meta(max_length=64)] = ""
    """Handle of the row it was sorted into; empty when it stays a note."""


class LooseEnd(Row, frozen=True, kw_only=True):
    """Something that must not be forgotten: a screw left finger-tight, a bag of screws, rags in a port."""

    what: LooseWhat
    words: Words = ""
    work: WorkKey = ""
    """What was being done; empty: not said."""
    count: Annotated[int, Meta(ge=1, le=1000)] = 1
    """Of rags: how many went in."""
    photos: tuple[Sha256, ...] = ()
    closed: bool = False


class Errand(Row, frozen=True, kw_only=True):
    """Something for the daytime: a trip with the machine or for it, or a call with one question."""

    kind: ErrandKind
    words: Annotated[str, Meta(min_length=1, max_length=200)]
    """Where to and what for; of a call: whom to ask what."""
    day: dt.date | None = None
    wants: tuple[Wanted, ...] = ()
    gate: Annotated[str, Meta(max_length=64)] = ""
    """Question that it answers."""
    part: Annotated[str, Meta(max_length=64)] = ""
    """Handle of a part line that it is about."""
    batch: Annotated[str, Meta(max_length=64)] = ""
    done: bool = False
    answer: Words = ""


class Batch(Row, frozen=True, kw_only=True):
    """Work done elsewhere, for which several parts are brought at once: paint, plating, welding, machining."""

    name: Annotated[str, Meta(min_length=1, max_length=200)]
    components: tuple[Annotated[str, Meta(max_length=60)], ...] = ()
    done_by: Annotated[str, Meta(max_length=80)] = ""
    price_minor: Minor | None = None
    minimum_minor: Minor | None = None
    """Charged at least."""
    days: Days | None = None
    """Away for so long."""
    colour: Words = ""
    state: BatchState = "gathering"
    away_on: dt.date | None = None


class Machine(Part, frozen=True, kw_only=True):
    """The whole record of one machine."""

    format: Annotated[int, Meta(ge=1)] = 1
    uid: Annotated[str, Meta(max_length=64)] = ""
    nickname: Annotated[str, Meta(min_length=1, max_length=60)]
    machine_class: Annotated[str, Meta(min_length=1, max_length=40)]
    year: Annotated[int, Meta(ge=1900, le=2100)]
    as_of: dt.date | None = None
    """The day for which the answers hold. Without it the caller must give one."""
    seed: Annotated[int, Meta(ge=0, le=2**63 - 1)] = 1
    maker_and_model: Annotated[str, Meta(max_length=120)] = ""
    engine_layout: Annotated[str, Meta(max_length=60)] = ""
    vin: Annotated[str, Meta(max_length=40)] = ""
    odometer: Annotated[float, Meta(ge=0.0, le=5_000_000.0)] | None = None
    odometer_unit: Literal["km", "mi"] = "km"
    currency: Annotated[str, Meta(min_length=3, max_length=3, pattern="^[A-Z]{3}$")] = "EUR"
    mirrored: bool = False
    """Controls and chain on the other side than the generic map says."""
    what_hit: tuple[WhatHit, ...] = ()
    seen_in: Literal["photographs", "walk_round", "hands_on", "panels_off", "stripped"] = "walk_round"
    key_starts_it: YesNo = "unknown"
    turns_over: YesNo = "unknown"
    papers_right: YesNo = "unknown"
    covers_off: tuple[Handle, ...] = ()
    turn: Annotated[int, Meta(ge=1, le=999)] | None = None
    """Where several machines share one pair of hands: 1 goes first; without a figure, after all that have one."""
    heat_cycles: Annotated[int, Meta(ge=0, le=100_000)] | None = None
    """How often the engine has been warm and cold again since the first start."""
    ridden: Annotated[float, Meta(ge=0.0, le=5_000_000.0)] | None = None
    """Distance since the first ride, in `odometer_unit`."""
    purchase: Purchase = Purchase()
    market: Market = Market()
    calendar: Calendar = Calendar()
    owner: Owner = Owner()
    finished: tuple[Finished, ...] = ()
    findings: tuple[Finding, ...] = ()
    signs: tuple[SeenSign, ...] = ()
    remedies: tuple[ChosenRemedy, ...] = ()
    parts: tuple[PartLine, ...] = ()
    jobs: tuple[Job, ...] = ()
    gates: tuple[Gate, ...] = ()
    readings: tuple[Reading, ...] = ()
    fastenings: tuple[Fastening, ...] = ()
    proofs: tuple[Proof, ...] = ()
    purse: tuple[PurseLine, ...] = ()
    log: tuple[LogEntry, ...] = ()
    taps: tuple[Tap, ...] = ()
    loose_ends: tuple[LooseEnd, ...] = ()
    errands: tuple[Errand, ...] = ()
    batches: tuple[Batch, ...] = ()
