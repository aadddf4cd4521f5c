"""The shapes of the trade's knowledge: frozen rows, each with its `basis`.

Nothing here reads a file (see `wreckwright.trade.load`). Every probability is between 0 and 1, every duration
carries its unit in its name, every share is a share of the sound value of the same machine.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

import msgspec

Side = Literal["left", "right", "middle"]
RideClass = Literal["stop", "limit", "none"]
UsedClass = Literal["ok", "with_care", "no"]
PatternClass = Literal["ok", "rare", "no"]
Remedy = Literal["repair", "genuine", "pattern", "used", "modify", "leave"]


class Row(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A row of trade data. `basis` says where its figures come from: a source, `common practice` or `judgement`."""

    basis: str


class Band(msgspec.Struct, frozen=True):
    """A figure with its spread: `low` and `high` bound about 80 % of what the author holds possible."""

    low: float
    mid: float
    high: float


class Component(Row, frozen=True, kw_only=True):
    """One part of a machine that can be bad. `mirror` is the same part on the other side, or empty."""

    id: str
    name_uk: str
    name_us: str
    synonyms: tuple[str, ...] = ()
    zone: str
    side: Side
    mirror: str = ""
    ride: RideClass
    """`stop`: the machine must not be ridden with this bad; `limit`: not lawful or not right; `none`: looks only."""
    run: RideClass
    """`stop`: the engine must not be started with this bad."""
    looks_0_3: int
    hidden: bool
    seen_from: str
    look_minutes: float
    look_how: str
    bad_looks_like: str
    practice: str
    used_ok: UsedClass
    pattern_ok: PatternClass
    repairable: bool
    price_step: int
    """1 (pennies) to 7 (dear); see `PriceStep`."""
    usual_remedy: Remedy
    lead_class: str
    fit_minutes: float
    """The work itself, with `covers` already off; taking covers off and on comes on top."""
    covers: tuple[str, ...] = ()
    """Covers that must be off to work on it."""
    wear_chance: Band
    """Chance that it is bad on an ordinary used machine of this kind, whatever happened to it (knock-ons and what a
    latent holds of it come on top)."""
    fit_to_ride: str = ""
    """Heading of the fit-to-ride list it belongs to, or empty."""
    when_mirrored: Literal["stays", "moves", "swaps"] = "stays"
    """On a machine laid out the other way round: `moves` to the other side under its own id, `swaps` its row with its
    mirror's, or `stays` (see `wreckwright.trade.mirror`)."""


class Severity(msgspec.Struct, frozen=True, kw_only=True):
    basis: str = ""
    name: str
    weight: float
    logodds_shift: float


class Cause(Row, frozen=True, kw_only=True):
    """What happened to the machine. Scenarios are one cause, an allowed pair, or `only_worn`."""

    id: str
    name: str
    is_impact: bool
    chance: Band
    may_combine_with: tuple[str, ...] = ()
    severities: tuple[Severity, ...]


class CauseLink(Row, frozen=True, kw_only=True):
    """Chance that `cause` (at its middle severity) makes `component`, or a latent, bad; knock-ons come on top."""

    cause: str
    component: str
    chance: Band


class KnockOn(Row, frozen=True, kw_only=True):
    """Chance that component `then` is bad because component `if_bad` is (a noisy-OR parent; no cycles)."""

    if_bad: str
    then: str
    chance: Band


class Sign(Row, frozen=True, kw_only=True):
    """Something seen on a walk-round that speaks for causes, and may make some components likelier to be bad."""

    id: str
    text: str
    group: str
    """Signs of one group tell the same story; together they are one categorical likelihood."""
    chance_given_cause: Mapping[str, float]
    chance_otherwise: float
    component_ratio: Mapping[str, float] = {}


class Detects(msgspec.Struct, frozen=True, kw_only=True):
    basis: str = ""
    component: str
    sensitivity: float
    false_alarm: float


class Check(Row, frozen=True, kw_only=True):
    """A look or measurement. `rough_for` names the gate template whose answer it gives in a quick, rough way."""

    id: str
    name: str
    minutes: float
    tools: tuple[str, ...] = ()
    covers: tuple[str, ...] = ()
    detects: tuple[Detects, ...] = ()
    passes_when: str = ""
    fails_when: str = ""
    caution: str = ""
    only_after: tuple[str, ...] = ()
    """Other checks that must have been passed before."""
    blocked_over: Mapping[str, float] = {}
    """Cause -> chance above which the check is not offered, unless all of `unblocked_by` have been passed."""
    unblocked_by: tuple[str, ...] = ()
    rough_for: str = ""


class Cover(Row, frozen=True, kw_only=True):
    """What comes off to reach something. `under` are the covers that must be off before this one can come off."""

    id: str
    name: str
    """Of the movement that takes it off."""
    name_on: str = ""
    """Of the movement that puts it back; empty: `name` has to do."""
    under: tuple[str, ...] = ()
    minutes_off: float
    minutes_on: float
    helper: bool = False
    """It takes two to take it off or put it on."""
    drains: tuple[str, ...] = ()
    support: str = ""
    one_use: tuple[str, ...] = ()
    caution: str = ""
    exposes: tuple[str, ...] = ()
    """Components that can be seen properly once it is off."""


class CarryOver(Row, frozen=True, kw_only=True):
    component: str
    pieces: tuple[str, ...]


class RenewWith(Row, frozen=True, kw_only=True):
    component: str
    pieces: tuple[str, ...]


class JobStep(Row, frozen=True, kw_only=True):
    """One of the jobs that a remedy makes for a component: taking off, trying, moving pieces over, fitting, testing."""

    component: str
    """Empty: for every component that has no rows of its own for this `way`."""
    way: Literal["buy", "mend"]
    """`buy`: a part is fitted (genuine, pattern, used); `mend`: repaired or modified."""
    step: str
    """Id within the component: `try_on`, `strip`, `carry_over`, `fit`, `mend`, `adjust`, `test`, ...; `fit` is there
    in every `buy`, `mend` in every `mend`: it is the step that puts the component right."""
    order: int
    kind: Literal["strip", "check", "repair", "fit", "adjust", "clean", "test"]
    words: str
    """What is done; `{part}` stands for the component's name, `{pieces}` for the pieces to be carried over."""
    share: float
    """Share of the component's minutes; those of one component and way sum to 1."""
    wants_part: bool
    """It cannot begin before the part is here (the first such step holds the part line)."""
    uncovered: bool
    """The component's covers must be off."""
    cure_days: int = 0
    helper: bool = False
    only_with_pieces: bool = False
    """Left out where the component has no pieces to carry over (its share then goes to the main step)."""
    tools: tuple[str, ...] = ()
    steps: tuple[str, ...] = ()
    """What is done in detail, line by line, for the job card."""
    film: str = ""


class MountedOn(Row, frozen=True, kw_only=True):
    """A component is fastened to these: while one of them is bad or missing it cannot be fitted for good."""

    component: str
    mounts: tuple[str, ...]


class Parking(Row, frozen=True, kw_only=True):
    """What is done to a machine that is going to stand for a long while."""

    id: str
    order: int
    words: str
    from_days: int
    """For waits from so many days on."""
    when: Literal["always", "ports_open", "engine_turned", "battery_in", "battery_out", "tank_on", "tyres_loaded",
                  "calipers_off"] = "always"


class AfterRide(Row, frozen=True, kw_only=True):
    """What is looked at again after the first start and the first ride, by heat cycles or by distance."""

    id: str
    words: str
    component: str = ""
    """Only where this component was worked on; empty: always."""
    heat_cycles: int = 0
    """Due after so many; 0: not by heat cycles."""
    distance_km: float = 0.0
    """Due after so far; 0: not by distance."""
    minutes: float
    cautions: tuple[str, ...] = ()
    """Ids of cautions."""


class Precondition(Row, frozen=True, kw_only=True):
    """What a machine must be able to do before it is taken somewhere (`rolls`, `steers`, ...)."""

    id: str
    question: str
    job: str
    """What is done to bring it about."""
    minutes: float
    components: tuple[str, ...] = ()
    """Those that must not be bad for it."""
    covers_on: tuple[str, ...] = ()


class LeadClass(Row, frozen=True, kw_only=True):
    """How long a kind of supply takes: log-normal days by median and 90 % point, and the chance that it never comes."""

    id: str
    name: str
    median_days: float
    p90_days: float
    never_chance: float
    cancel_days: int
    """Day after ordering on which one stops believing in it, if nothing has come."""


class SupplyShare(Row, frozen=True, kw_only=True):
    """Share of genuine parts that come by each lead class, by the age of the machine."""

    machine_age_from_years: int
    lead_class: str
    share: float


class PriceStep(Row, frozen=True, kw_only=True):
    step: int
    word: str
    new_share_of_sound_value: Band
    used_factor: Band
    pattern_factor: Band


class JobTime(Row, frozen=True, kw_only=True):
    id: str
    name: str
    hours: Band


class BrandDiscount(Row, frozen=True, kw_only=True):
    """What a title brand takes off the sound value."""

    brand: str
    name: str
    share_off: Band


class FeeStep(Row, frozen=True, kw_only=True):
    """Auction or buyer's fee: marginal rate above `from_hours_rate` (prices in workshop hours, so place-free)."""

    from_hours: float
    rate: float


class MoneyRow(Row, frozen=True, kw_only=True):
    """A single money or market figure, named, with its unit in the name."""

    id: str
    figure: Band
    note: str = ""


class Caution(Row, frozen=True, kw_only=True):
    id: str
    text: str
    applies_to: tuple[str, ...] = ()
    """Cover, check or job ids, or component ids."""
    weight: int = 2
    """3: a life hangs on it, and it is said first; 1: said last."""


class LegalDeferral(Row, frozen=True, kw_only=True):
    id: str
    text: str
    defer_to: str


class WayRound(msgspec.Struct, frozen=True, kw_only=True):
    """One step of a gate's fallback chain."""

    name: str
    chance: float
    price_step: int
    price_factor: float
    lead_class: str
    minutes: float


class GateTemplate(Row, frozen=True, kw_only=True):
    """A question that must end in yes.

    kind `bench`: a test on the bench that ends a stage; kind `outside`: answered away from the bench.
    It fails when any component of `fails_with` is bad; without those, with chance `1 - pass_chance`.
    """

    id: str
    question: str
    kind: Literal["bench", "outside"]
    order: int
    pass_chance: float = 1.0
    fails_with: tuple[str, ...] = ()
    minutes: float = 0.0
    covers_off: tuple[str, ...] = ()
    covers_on: tuple[str, ...] = ()
    lead_class: str = ""
    """Outside gates: how long until the answer."""
    helper: bool = False
    """Bench gates: a second person must be there for the test."""
    needs_component_run: bool = False
    """True: every component whose `run` is `stop` must be good before this test (first start)."""
    needs_component_ride: bool = False
    """True: every component whose `ride` is `stop` must be good before this test (road test)."""
    guards: tuple[str, ...] = ()
    """Things to be looked at before the test, in words."""
    rough_check: str = ""
    ways_round: tuple[WayRound, ...] = ()
    cautions: tuple[str, ...] = ()
    """Ids of cautions or of legal deferrals."""


class FitItem(Row, frozen=True, kw_only=True):
    """A heading of the fit-to-ride list: nothing but hands and readings proves it."""

    id: str
    name: str
    how_proved: str


class MachineClass(Row, frozen=True, kw_only=True):
    """A kind of machine: which components it lacks, how it differs from the generic map."""

    id: str
    name: str
    synonyms: tuple[str, ...] = ()
    absent_components: tuple[str, ...] = ()
    default_sound_value_hours: Band
    """Sound value in workshop hours when the owner gives none (very wide)."""
    not_covered: str = ""
    """Why the map does not fit machines of this class, in a sentence to show; empty: it fits."""


class Station(Row, frozen=True, kw_only=True):
    """One of the eight stations of the walk-round, in walking order."""

    id: str
    order: int
    name: str
    components: tuple[str, ...]
    signs: tuple[str, ...] = ()


class StationRegion(Row, frozen=True, kw_only=True):
    """What is seen as one thing from a station, such as the fork legs; each component there is in exactly one."""

    station: str
    region: str
    """Its name within the station. Regions of the two flanks with the same name lie across from each other."""
    order: int
    name: str
    components: tuple[str, ...]


class Told(Row, frozen=True, kw_only=True):
    """Chance that somebody says the machine was hit `hit` (left, front, water, ...), given `cause` (or `only_worn`)."""

    hit: str
    cause: str
    chance: float


class Trade(msgspec.Struct, frozen=True, kw_only=True):
    """All trade data after loading, checking and laying any model pack over it. Rows are keyed by id."""

    components: Mapping[str, Component]
    causes: Mapping[str, Cause]
    cause_links: tuple[CauseLink, ...]
    knock_ons: tuple[KnockOn, ...]
    latents: tuple[str, ...]
    """Ids used in links that are no component: common parents such as `fork_pair_bend`."""
    latent_wear: Mapping[str, Band] = {}
    """Latent -> chance that it is present on an ordinary used machine (its share of the members' `wear_chance`)."""
    signs: Mapping[str, Sign]
    told: tuple[Told, ...]
    checks: Mapping[str, Check]
    covers: Mapping[str, Cover]
    carry_overs: Mapping[str, CarryOver]
    renew_withs: Mapping[str, RenewWith]
    lead_classes: Mapping[str, LeadClass]
    supply_shares: tuple[SupplyShare, ...]
    price_steps: Mapping[int, PriceStep]
    job_times: Mapping[str, JobTime]
    brand_discounts: Mapping[str, BrandDiscount]
    fee_steps: tuple[FeeStep, ...]
    money: Mapping[str, MoneyRow]
    cautions: Mapping[str, Caution]
    legal: Mapping[str, LegalDeferral]
    gates: Mapping[str, GateTemplate]
    fit_items: Mapping[str, FitItem]
    classes: Mapping[str, MachineClass]
    stations: Mapping[str, Station]
    station_regions: Mapping[str, tuple[StationRegion, ...]] = {}
    """Station -> its regions in their order."""
    job_steps: Mapping[tuple[str, str], tuple[JobStep, ...]] = {}
    """(component or "", way) -> its steps in their order."""
    mounted_on: Mapping[str, MountedOn] = {}
    parking: tuple[Parking, ...] = ()
    """In their order."""
    after_ride: tuple[AfterRide, ...] = ()
    preconditions: Mapping[str, Precondition] = {}
    sources: Mapping[str, str]
    """Source id -> title, what was read of it, what it is used for."""
    mirrored: bool = False
    """True when left and right have been swapped for a machine with its controls or chain on the other side."""
