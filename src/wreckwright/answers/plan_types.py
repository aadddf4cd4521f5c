"""What the running order and tonight answer. Light: nothing here needs the numeric libraries.

Minutes are hands-on minutes of the owner at the owner's pace. Dates are ISO strings.
"""

from __future__ import annotations

from typing import Literal

from wreckwright.answers.types import Answer, DayQuantile, Value

EntryKind = Literal["job", "look", "follow_up", "gate", "off", "on"]


class Minutes3(Value, frozen=True, kw_only=True):
    low: float
    likely: float
    high: float


# ---- the running order -------------------------------------------------------------------------------------------


class OrderEntry(Value, frozen=True, kw_only=True):
    """A piece of work on the calendar, in its usual course."""

    key: str
    name: str
    kind: EntryKind
    minutes: float
    from_date: str
    to_date: str
    by_p80: str
    """8 times in 10 done by then, given it is done at all; empty: not known."""
    waits_for: str
    """What it cannot begin before (a part, an answer, curing, a helper); empty: nothing but its turn."""
    covers: tuple[str, ...] = ()
    """Names of covers that must be off for it."""


class Stretch(Value, frozen=True, kw_only=True):
    """The part of the plan up to a question."""

    gate: str
    """Key of the test that ends it, `gate:...`."""
    question: str
    usual_date: str
    """Empty: not within the calendar."""
    when: DayQuantile | None
    """Half of the time passed by then, given it is passed."""
    when_p80: DayQuantile | None
    entries: tuple[OrderEntry, ...]


class Parcel(Value, frozen=True, kw_only=True):
    """A part line or an outside answer along the time axis."""

    name: str
    kind: Literal["part", "answer"]
    state: str
    """In words: here, ordered on ..., to be ordered now, held back until ..., ordered once it is found."""
    p20: str
    p50: str
    p80: str
    """Dates of arrival; `p80` empty: later than the calendar, or never."""
    never_chance: float
    share: float
    """Share of the futures in which the end waits for it last: what one day earlier is worth, in days."""
    day_worth_minor: int
    last_return: str = ""
    from_date: str = ""
    """Day from which it is on its way; empty: today or before."""
    reaches: tuple[str, ...] = ()
    """Keys of the work and tests (`OrderEntry.key`, `Stretch.gate`) that cannot begin before it, the earliest first."""


class LongWait(Value, frozen=True, kw_only=True):
    """The machine is going to stand: what is done before."""

    days: int
    until: str
    words: tuple[str, ...]
    """The parking card, line by line."""


class BatchLine(Value, frozen=True, kw_only=True):
    handle: str
    name: str
    parts: tuple[str, ...]
    state: str
    words: str
    """What is missing before it can go, or what one trip for all saves; a sentence."""


class ErrandLine(Value, frozen=True, kw_only=True):
    """A trip or a call."""

    handle: str
    """Of the errand in the record; empty: proposed."""
    kind: Literal["trip", "call"]
    words: str
    """Whom to ask, or where to go."""
    question: str
    """The question to ask, word for word; of a trip: what is done there."""
    worth: str
    """What the answer changes; a sentence."""
    worth_minor: int
    wants: tuple[str, ...] = ()
    """Of a trip: what the machine must be able to do, and whether it can."""
    date: str = ""
    gate: str = ""
    part: str = ""


class AfterLine(Value, frozen=True, kw_only=True):
    key: str
    words: str
    due: str
    """In words: after the first heat cycle, after 100 km."""
    is_due: bool
    cautions: tuple[str, ...] = ()


class RunningOrder(Answer, frozen=True, kw_only=True):
    """All work on the calendar. It has passed the independent checker, or `broken` says why it has not."""

    stretches: tuple[Stretch, ...]
    parcels: tuple[Parcel, ...]
    """Those that bind first."""
    finish: DayQuantile | None
    finish_p80: DayQuantile | None
    first_gate: DayQuantile | None
    cover_hours: float
    """Hands-on time for covers in the usual course."""
    cover_hours_one_by_one: float
    """The same if every job opened and closed for itself."""
    broken: tuple[str, ...]
    """Reasons of the checker; empty for every plan that may be shown as one."""
    long_wait: LongWait | None
    batches: tuple[BatchLine, ...]
    errands: tuple[ErrandLine, ...]
    after_ride: tuple[AfterLine, ...]
    order: tuple[str, ...]
    """Keys, first goes first: the plan itself, from which the next one is begun."""
    stages: dict[str, int]
    booked: tuple[tuple[str, int, int], ...]
    """(date, from minute, to minute) of evenings: what other machines must leave free."""
    notes: tuple[str, ...] = ()


# ---- tonight -----------------------------------------------------------------------------------------------------


class EveningWork(Value, frozen=True, kw_only=True):
    """One piece of work as tonight's list sees it."""

    key: str
    name: str
    kind: EntryKind
    minutes: float
    """Usual minutes still to do."""
    log_sd: float
    """Spread: standard deviation of the log of the minutes."""
    stage: int
    ready: bool
    """Its parts are here, its outside answers and its curing are over."""
    waits_for: str
    after: tuple[str, ...]
    """Keys of work that is not done yet and comes before it."""
    covers: tuple[str, ...]
    """Ids of all covers that must be off for it, those above them included."""
    covers_on: tuple[str, ...]
    """Of a test, and of work that is done closed up: ids of all that must be on."""
    may_split: bool
    helper: bool
    for_gate: bool
    """The next question cannot be asked before it."""
    tail_minutes: float
    """Longest chain of work that comes after it, curing days counted as the minutes planned on them."""
    rough: bool = False
    """The quick, rough look that answers the next question first."""
    part: str = ""
    """Handle of a part line that is here and has not been tried on yet."""
    last_return: str = ""
    caution: str = ""
    """The weightiest."""
    film: str = ""
    cure_days: int = 0
    """What comes after it waits so many days from its end."""
    begun: bool = False
    """Somebody has worked on it already."""
    late: str = ""
    """What is said where it would be begun late in the evening (brakes, steering); empty: nothing."""
    alone: str = ""
    """What is said where nobody helps (lifts, fuel, fire); empty: nothing."""
    shows: str = ""
    """Of a look: the likeliest fault that it would show, with its chance; fit to follow `it would show`."""


class EveningCover(Value, frozen=True, kw_only=True):
    id: str
    name: str
    off: bool
    minutes_off: float
    minutes_on: float
    under: tuple[str, ...]
    name_on: str = ""
    """How putting it on is called; empty: as `name`."""
    helper: bool = False
    caution: str = ""


class EveningLoose(Value, frozen=True, kw_only=True):
    handle: str
    what: Literal["loose", "bag", "rags"]
    words: str
    count: int = 1


class Evening(Value, frozen=True, kw_only=True):
    """All that tonight's list is made from, for any number of hours."""

    nickname: str
    date: str
    stage: int
    question: str
    """That of the next test."""
    works: tuple[EveningWork, ...]
    """In the order of the plan."""
    covers: tuple[EveningCover, ...]
    """So that each stands after those it lies under."""
    loose: tuple[EveningLoose, ...]
    helper_here: bool
    planned_minutes: int
    """Of this evening, by the calendar; 0 on a day off."""
    next_arrival: str = ""
    """What is expected next, in words; empty: nothing."""
    help_known: bool = True
    """False: the record says of no day that somebody helps; work for two then waits for nobody, and whoever works alone
    is told."""


class TonightEntry(Value, frozen=True, kw_only=True):
    key: str
    name: str
    kind: EntryKind
    minutes: float
    """Usual minutes of all that is left of it, also where it is only begun tonight."""
    fits_chance: float
    """Chance that it is done within what is left of the evening by then."""
    in_part: bool
    """Only begun tonight; it may be left half done."""
    first_off: tuple[str, ...]
    """Names of the covers that come off for it, in order, with their minutes counted in `minutes_covers`."""
    minutes_covers: float
    why: str
    """Why now; one sentence."""
    caution: str = ""
    if_yes: bool = False
    """Only if the test above it ends in yes."""
    first_on: tuple[str, ...] = ()
    """Of a test: names of the covers that are put on for it, in order; their minutes are in `minutes_covers`."""
    film: str = ""


class Tonight(Answer, frozen=True, kw_only=True):
    hours: float
    first: tuple[EveningLoose, ...]
    """Loose ends; always seen to first."""
    entries: tuple[TonightEntry, ...]
    left_open: tuple[str, ...]
    """Names of covers that are off at the end of it."""
    nothing: str
    """Where the list is empty: why, and what would change that; a sentence."""
    spare_minutes: float


# ---- the job card ------------------------------------------------------------------------------------------------


class CardTorque(Value, frozen=True, kw_only=True):
    where: str
    nm: float | None
    words: str
    """`22 Nm`, or where the figure is to be found."""
    basis: str


class CardLimit(Value, frozen=True, kw_only=True):
    what: str
    words: str
    """The limit with its unit, the last reading if there is one, and what to do where no limit is known."""


class CardCover(Value, frozen=True, kw_only=True):
    id: str
    name: str
    minutes: float
    off_already: bool
    notes: tuple[str, ...]
    """Drains, supports, one-use pieces."""
    caution: str = ""


class CardPart(Value, frozen=True, kw_only=True):
    handle: str
    name: str
    state: str
    last_return: str = ""


class JobCard(Value, frozen=True, kw_only=True):
    """Everything for one piece of work, under five heads: before you touch, off, while it is open, back on, prove
    it."""

    key: str
    name: str
    kind: EntryKind
    component: str
    minutes: Minutes3
    done_minutes: float
    state: str
    """One of the job states, in words."""
    began_at: str
    """When it was begun, if somebody is at it; empty: nobody."""
    handle: str
    """Of the row in the record that stands for it; empty: none yet."""
    why: str
    cautions: tuple[str, ...]
    supports: tuple[str, ...]
    tools: tuple[str, ...]
    look_first: tuple[str, ...]
    """Guards of a test: what must have been looked at."""
    helper: bool
    off: tuple[CardCover, ...]
    steps: tuple[str, ...]
    parts: tuple[CardPart, ...]
    keep: tuple[str, ...]
    """Pieces to be carried over from the old part."""
    renew: tuple[str, ...]
    while_open: tuple[tuple[str, str], ...]
    """(key, name) of other work and looks for which the same covers are off."""
    bags: tuple[str, ...]
    back_on: tuple[CardCover, ...]
    torques: tuple[CardTorque, ...]
    limits: tuple[CardLimit, ...]
    film: tuple[str, ...]
    may_split: bool
    cure_days: int
    siblings: tuple[tuple[str, str, bool], ...]
    """(key, name, done) of all steps of the same remedy, in their order, this one included."""
    basis: str
