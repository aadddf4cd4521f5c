"""What the pages of doing show: tonight, the running order, a job card, the hands. Light; conventions as in
`page_shapes`."""

from __future__ import annotations

import datetime as dt
from typing import Literal

from wreckwright.acts.page_shapes import Choice, Head
from wreckwright.acts.reckon_shapes import Moved, State
from wreckwright.acts.views import View
from wreckwright.answers.plan_types import EntryKind, Evening, JobCard, RunningOrder, Tonight

Can = Literal["start", "stop", "done", "edit", "answer", "look", "cover_off", "cover_on", "snag", "leave"]
"""What may be done on a card. `answer`: it is a question (yes, no); `look`: nothing found, or a finding."""


class Standing(View, frozen=True, kw_only=True):
    """How far the plan is that a page shows."""

    state: State
    step: str
    """While it is being reckoned: what is being done, in words."""
    share: float
    """How much of that is done, 0 to 1."""
    stale: bool
    """The plan is that of the record before the last change; what was done since is taken out of it."""
    provisional: bool
    """From the former plan, mended; the search for a better one goes on."""
    why: str
    """Why there is no plan to show (not bought, not reckoned yet, failed, stopped); a sentence. Empty: there is one."""
    moved: tuple[Moved, ...]
    """What the last reckoning changed, weightiest first."""
    moved_by: tuple[str, ...]
    """What was written between the two reckonings, newest first."""
    steady: str = ""
    """What was written moved nothing by more than chance: what still holds, a sentence. Empty: something has moved, or
    nothing was written."""


class RunningWork(View, frozen=True, kw_only=True):
    """Work that somebody is at."""

    uid: str
    nickname: str
    key: str
    name: str
    since: dt.datetime
    minutes: int
    """So far, whole; as the clock says, also when it was forgotten."""
    forgotten: bool
    """So long ago that the clock says nothing: how long it took must be told."""


class LooseRow(View, frozen=True, kw_only=True):
    handle: str
    rev: int
    what: Literal["loose", "bag", "rags"]
    what_words: str
    words: str
    count: int
    work: str
    """Key of the work; empty: not said."""
    work_name: str
    photos: tuple[str, ...]
    by: str
    at: dt.datetime | None


class TonightPage(View, frozen=True, kw_only=True):
    head: Head
    standing: Standing
    hours: float
    evening: Evening | None
    """What the list is made from, brought up to what the record says now."""
    tonight: Tonight | None
    running: tuple[RunningWork, ...]
    """Here or on another machine: there is one pair of hands."""
    loose: tuple[LooseRow, ...]
    """Not closed, oldest first."""
    snags: tuple[Choice, ...]
    """Kinds of snag that fit a job, with the words for their buttons."""


class TonightMachine(View, frozen=True, kw_only=True):
    uid: str
    nickname: str
    turn: int
    """Place in the line, from 1."""
    hours: float
    """What is left of the evening when it is this one's turn."""
    standing: Standing
    tonight: Tonight | None


class DaytimeLine(View, frozen=True, kw_only=True):
    """A call to make, or what is done on a trip."""

    uid: str
    nickname: str
    words: str
    question: str
    worth: str
    worth_minor: int
    currency: str
    wants: tuple[str, ...]


class Trip(View, frozen=True, kw_only=True):
    day: str
    """Empty: no day yet."""
    lines: tuple[DaytimeLine, ...]
    """All that can be done on one way, whichever machine it is for."""


class Daytime(View, frozen=True, kw_only=True):
    calls: tuple[DaytimeLine, ...]
    """Those whose answer is worth most first; money of different currencies is not converted."""
    trips: tuple[Trip, ...]
    goes_along: bool
    """Something has no day yet, and there is a trip on which it could go along."""


class TonightAllPage(View, frozen=True, kw_only=True):
    hours: float
    machines: tuple[TonightMachine, ...]
    """Those that are bought, in their turn."""
    daytime: Daytime
    running: tuple[RunningWork, ...]
    snags: tuple[Choice, ...]


class ErrandRow(View, frozen=True, kw_only=True):
    handle: str
    rev: int
    kind: Literal["trip", "call"]
    words: str
    day: str
    wants: tuple[str, ...]
    gate: str
    part: str
    batch: str
    done: bool
    answer: str


class BatchRow(View, frozen=True, kw_only=True):
    handle: str
    rev: int
    name: str
    components: tuple[str, ...]
    component_names: tuple[str, ...]
    done_by: str
    price: str
    """As typed; so are the next two. Empty: not known."""
    minimum: str
    days: str
    colour: str
    state: Literal["gathering", "away", "back"]
    state_words: str
    away_on: str


class OrderPage(View, frozen=True, kw_only=True):
    head: Head
    standing: Standing
    order: RunningOrder | None
    errands: tuple[ErrandRow, ...]
    """Of the record; those that are not done first."""
    batches: tuple[BatchRow, ...]
    heat_cycles: int
    ridden: str
    """As typed, in `odometer_unit`; empty: not yet."""
    odometer_unit: str
    machine_rev: int
    """Of the row in which the last three stand."""
    components: tuple[Choice, ...]
    wants: tuple[Choice, ...]
    """What a trip may ask of the machine."""
    questions: tuple[Choice, ...]
    """Questions that are not answered in yes, for an errand."""
    parts: tuple[Choice, ...]
    """Part lines that are not here yet, for a call."""


class JobTyped(View, frozen=True, kw_only=True):
    """A job as it stands in the record, as it is typed. Empty: as the trade data say."""

    name: str = ""
    kind: str = ""
    component: str = ""
    minutes: str = ""
    """Likely; `minutes_low` and `minutes_high` say how far it may be off."""
    minutes_low: str = ""
    minutes_high: str = ""
    done_minutes: str = ""
    cost: str = ""
    covers: tuple[str, ...] = ()
    after: tuple[str, ...] = ()
    parts: tuple[str, ...] = ()
    before_gate: str = ""
    cure_days: str = ""
    may_split: str = ""
    """`yes`, `no` or empty; so is `helper`."""
    helper: str = ""
    tools: str = ""
    """One a line; so are the next four."""
    supports: str = ""
    keep: str = ""
    renew: str = ""
    steps: str = ""
    film: str = ""


class CardPage(View, frozen=True, kw_only=True):
    head: Head
    standing: Standing
    key: str
    kind: EntryKind
    name: str
    card: JobCard | None
    """None: it has not been reckoned yet, or there is no such work any more; `gone` says which."""
    gone: str
    """A sentence; empty while there is a card."""
    handle: str
    """Of the row that stands for it; empty: none yet."""
    rev: int
    """0: none yet."""
    done: bool
    can: tuple[Can, ...]
    running: RunningWork | None
    """This work, if somebody is at it."""
    typed: JobTyped
    """For the form that changes it."""
    snags: tuple[Choice, ...]
    """Kinds of snag that make sense here."""
    pieces: tuple[str, ...]
    """What may have snapped or be missing: pieces to be carried over and to be renewed."""
    part_choices: tuple[Choice, ...]
    """Its part lines that may turn out wrong, by handle."""
    cover_choices: tuple[Choice, ...]
    job_choices: tuple[Choice, ...]
    """Jobs that may come before it, by handle."""
    question_choices: tuple[Choice, ...]
    loose: tuple[LooseRow, ...]
    """Left at this work and not closed."""


class RemedyOffer(View, frozen=True, kw_only=True):
    """One way to put a component right."""

    component: str
    component_name: str
    remedy: Literal["repair", "genuine", "pattern", "used", "modify", "leave"]
    words: str
    """For a button."""
    price: str
    """In words, by the trade data and the sound value; empty: it costs nothing."""
    wait: str
    """In words; empty: none."""
    usual: bool
    """What most would do."""
    chosen: bool
    """What the record says now."""


class HandsTyped(View, frozen=True, kw_only=True):
    """The working time of the one pair of hands, as it is typed."""

    week: tuple[str, ...]
    """Seven times, Monday first; all empty: not known."""
    days_off: str
    """Days, one a line; a stretch as `2026-12-24 to 2027-01-02`."""
    helper_weekdays: tuple[str, ...]
    helper_days: str
    """As `days_off`."""


class HandsDay(View, frozen=True, kw_only=True):
    """A day to come."""

    date: str
    weekday: str
    usual: int
    """Minutes its weekday has."""
    changed: str
    """Other minutes for this day, as typed; empty: as its weekday."""
    off: bool
    helper: bool
    today: bool


class HandsMachine(View, frozen=True, kw_only=True):
    uid: str
    nickname: str
    turn: int
    """Place in the line, from 1."""
    calendar_rev: int
    same: bool
    """Its week is the one that is shown."""


class HandsPage(View, frozen=True, kw_only=True):
    machines: tuple[HandsMachine, ...]
    """Those that are bought, in their turn; empty: there are none, and nothing can be written down."""
    typed: HandsTyped
    weekdays: tuple[Choice, ...]
    days: tuple[HandsDay, ...]
    """The next three weeks."""
    base_revs: dict[str, int]
    """Machine -> revision of its calendar; goes back with the form."""
