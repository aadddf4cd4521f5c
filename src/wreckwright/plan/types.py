"""The shapes of a running order: what there is to plan, a plan, and its usual course on the calendar.

A `Problem` is a rebuild as the search sees it, in S scenarios; with one scenario of usual figures it is also what the
course is laid out on and checked against. Minutes are the mechanic's own, days count from the as-of date (day 0).
What everything means is written down in docs/running-order.md.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import msgspec

from wreckwright.futures.hours import Hours
from wreckwright.futures.rebuild import BoolArray, IntArray

NEVER_DAY = 2**30
"""Later than any day: it cannot be done at all."""

WorkKind = Literal["job", "look", "follow_up"]
StepKind = Literal["job", "look", "follow_up", "gate", "off", "on"]


@dataclass(frozen=True, kw_only=True)
class Work:
    """A job, a look that is taken, or the putting right of a hidden fault."""

    key: str
    """That of its slot (`SlotPlan.key`)."""
    name: str
    kind: WorkKind
    first_stage: int
    """It cannot be put into an earlier stretch (an order that waits for a test, a test that it comes after)."""
    last_stage: int
    """The last stretch in which it may still be done (`Slot.needed_by`)."""
    after: tuple[int, ...] = ()
    """Indices of works that must be done before it, as far as they are present."""
    covers: tuple[int, ...] = ()
    """Covers that must be off; those above them follow."""
    cure_days: int = 0
    helper: bool = False
    """It can only begin on a helper day."""
    may_split: bool = True
    """It may be left half done at the end of an evening. Otherwise it is begun only in an evening in which it can be
    ended, as far as any evening is long enough."""
    shows: tuple[int, ...] = ()
    """Follow-ups (indices) that it brings to light where they are present."""
    shut: tuple[int, ...] = ()
    """Covers that must be back on for it, as far as the test of its stretch wants them on; what lies beneath them
    follows. Only the course keeps this: it moves no end (docs/running-order.md)."""


@dataclass(frozen=True, kw_only=True)
class CoverWork:
    key: str
    """Cover id; its two movements have the keys `off:<id>` and `on:<id>`."""
    name: str
    under: tuple[int, ...] = ()
    off_at_start: bool = False
    helper: bool = False


@dataclass(frozen=True, kw_only=True)
class Test:
    """The question that ends a stretch; the last one ends the rebuild."""

    key: str
    """`gate:<id>`."""
    name: str
    covers_off: tuple[int, ...] = ()
    covers_on: tuple[int, ...] = ()
    """What lies beneath them follows; for the last test all covers are on."""
    helper: bool = False
    shows: tuple[int, ...] = ()
    """Follow-ups (indices) that it brings to light where they are present."""


@dataclass(frozen=True, kw_only=True)
class Held:
    """An order that is placed when a test has been passed."""

    work: int
    test: int
    days: IntArray
    """[S] from the day of the yes until the part is here."""


@dataclass(frozen=True, kw_only=True)
class Problem:
    """S scenarios, J works, C covers, T tests (stretch t ends with test t), D days of the calendar."""

    works: tuple[Work, ...]
    covers: tuple[CoverWork, ...]
    tests: tuple[Test, ...]
    minutes: IntArray
    """[S, J]"""
    present: BoolArray
    """[S, J] False: there is no such work in this scenario (the hidden thing is sound; a part never comes and it is
    left undone)."""
    off_minutes: IntArray
    """[S, C]"""
    on_minutes: IntArray
    """[S, C]"""
    test_minutes: IntArray
    """[S, T]"""
    release_day: IntArray
    """[S, J] from this day on its parts are here and its outside answers have come; of a follow-up: 0."""
    lead_days: IntArray
    """[S, J] of a follow-up: days from its discovery until its parts are here; otherwise 0."""
    test_release_day: IntArray
    """[S, T] as `release_day`, of the tests themselves."""
    held: tuple[Held, ...]
    way_days: IntArray
    """[S, T] where the test ends in no at first: days of waiting for all ways round that are tried; otherwise 0."""
    way_minutes: IntArray
    """[S, T] minutes of those ways and of the test made again; 0: yes at once."""
    hours: Hours
    """The calendar with the attendance of each scenario."""
    helper_day: BoolArray | None = None
    """[D]; None: nobody waits for a helper."""
    begin_minute: IntArray | None = None
    """[D] minute of each evening at which it is this machine's turn (before it, others are at work); None: 0."""
    ends_at: IntArray | None = None
    """[S] the test whose no ends the rebuild in that scenario, as no way round helps; T: none does. Such a scenario
    counts with the minutes worked so far. None: none ends so."""
    says: BoolArray | None = None
    """[S, E] whether what could show a follow-up really shows it (a look can overlook it): one entry for each of
    `shows` of the works, then of the tests, in their order. None: it shows whatever is present."""

    @property
    def n_scenarios(self) -> int:
        return int(self.minutes.shape[0])


@dataclass(frozen=True, kw_only=True)
class Weights:
    """What a plan is judged by, per scenario and then averaged: all in minutes of own working time. Where a test ends
    the rebuild, there is no finish, and hands-on minutes count up to there."""

    finish: float = 1.0
    first_test: float = 0.3
    hands_on: float = 1.0


USUAL_WEIGHTS = Weights()


@dataclass(frozen=True, kw_only=True)
class Plan:
    """Which stretch each work is done in, and who goes first when several can be done."""

    stages: Mapping[str, int]
    """Key of every work -> its stretch."""
    order: tuple[str, ...]
    """Keys of all works, tests (`gate:`) and movements of covers (`off:`, `on:`); the first that can be done is
    done."""


class Piece(msgspec.Struct, frozen=True, kw_only=True):
    """Part of an evening: minutes counted from the beginning of that evening's planned time."""

    day: int
    from_minute: int
    to_minute: int


class Step(msgspec.Struct, frozen=True, kw_only=True):
    key: str
    """Of the work, `gate:...`, `off:...` or `on:...`."""
    kind: StepKind
    stage: int
    pieces: tuple[Piece, ...]
    """In time order; empty for what takes no minutes, which then happens at `day`."""
    day: int
    """The day on which it ends."""


class Course(msgspec.Struct, frozen=True, kw_only=True):
    """A plan laid out on the calendar with usual figures: everything goes well and arrives when it usually does."""

    steps: tuple[Step, ...]
    """In the order in which they are begun."""
    finish_day: int | None
    """None: not within the calendar."""


ReasonCode = Literal[
    "missing", "twice", "too_short", "before_part", "before_predecessor", "before_cure", "wrong_stretch",
    "cover_on", "cover_order", "cover_off_at_test", "left_off", "test_too_early", "overlap", "day_off", "too_long",
    "no_helper", "split", "others_turn", "unknown", "end_differs",
]


class Reason(msgspec.Struct, frozen=True, kw_only=True):
    """Why a course cannot be kept."""

    code: ReasonCode
    key: str
    """Of the step that is wrong."""
    words: str
    """What is wrong, with the day and what it collides with; a sentence."""
