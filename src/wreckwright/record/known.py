"""A record with everything filled in: what is known, what was taken instead of what is not, and why.

`resolve` (in `wreckwright.record.resolve`) makes a `Known` from a record and the trade data; all later rooms read
this and never the bare record, so that a default is chosen, and named, in one place only.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass

from wreckwright.record.types import ChangedDay, Gate, Job, JobKind, Machine, PartLine, RemedyName
from wreckwright.trade.types import Component, MachineClass

YES_IN_THE_END = frozenset({"yes", "way_round"})
"""Answers after which a gate is asked no more."""
PAIRING_GATES = frozenset({"chip_read", "unit_learns"})
"""Questions whose answer lapses when what is behind them is renewed: a new coded key or unit must be taught anew."""
PAIRING_STEP = "pair"
"""The step by which a renewed key or unit is taught."""


@dataclass(frozen=True, kw_only=True)
class RecordGuess:
    """A default that moves money, time or chances and was used because the record does not say otherwise."""

    field: str
    """Field of the record that would replace it, e.g. `market.sound_value_minor`."""
    value: str
    """What was taken, readable, with its unit."""
    basis: str
    """`common practice`, `judgement` or a source."""


@dataclass(frozen=True, kw_only=True)
class KnownBad:
    """A component that the owner found bad, surely enough to be put on the list of work."""

    component: str
    severity: int
    """1 looks, 2 works badly, 3 can hurt; the worst of all findings on this component."""
    missing: bool
    sure: float
    """0..1, of the surest finding."""
    handle: str
    """Handle of the first finding that says so."""
    condition: str
    """In the owner's words."""


@dataclass(frozen=True, kw_only=True)
class Known:
    """One machine, resolved. Money in minor units of `machine.currency`, chances 0..1, dates as dates."""

    machine: Machine
    trade_class: MachineClass
    as_of: dt.date
    absent: frozenset[str]
    """Components that this class of machine does not have."""
    bad: tuple[KnownBad, ...]
    """Found bad and not yet put right, one entry per component, in the order of the findings."""
    put_right: frozenset[str]
    """Found bad once, and mended or replaced since (a part line `fitted`, a mending job closed up or proved): what was
    found still speaks for what happened to the machine, but the component itself counts as sound from now on."""
    likelihoods: Mapping[str, tuple[float, float]]
    """Component -> (likelihood of all that was seen of it if it was sound, if bad); several pieces multiplied."""
    fine: frozenset[str]
    """Looked at and found sound; these also have their likelihoods."""
    signs_seen: tuple[str, ...]
    signs_absent: tuple[str, ...]
    """Sign ids; absent = looked for and not there. A sign in neither is not known."""
    told: tuple[str, ...]
    """What is said to have happened to it (`Machine.what_hit`)."""
    sound_value_minor: tuple[int, int, int]
    """Low, likely, high."""
    weekday_minutes: tuple[int, int, int, int, int, int, int]
    """Monday first."""
    days_off: tuple[dt.date, ...]
    changed: tuple[ChangedDay, ...]
    """Single days with other minutes than their weekday, in order; a day off stays off."""
    attendance: float
    attendance_known: bool
    workshop_hour_minor: int
    hour_value_minor: int
    wanted_pay_minor: int
    holding_day_minor: int
    accepted_loss_chance: float
    days_to_sell: float
    selling_share: float
    brand: str
    """Title brand id of the trade data."""
    bought: bool
    price_minor: int | None
    fees_minor: int | None
    """None: not known; for an auction lot the trade's fee steps stand in."""
    at_auction: bool
    freight_minor: int
    sunk_minor: int
    """Money already gone by `as_of`; see `wreckwright.record.sunk`."""
    age_years: int
    pace: float
    """Factor on working times: 1 = the trade's own times, 1.5 = half as long again."""
    pace_by_kind: Mapping[JobKind, float]
    """Kind of job -> a further factor on its working times, learned from finished jobs (`record.pace`); kinds of which
    nothing is finished are not in it."""
    mirrored: bool
    gates: tuple[Gate, ...]
    """The record's gates, and those answered by `key_starts_it`, `turns_over` and `papers_right`."""
    remedies: Mapping[str, RemedyName]
    parts: tuple[PartLine, ...]
    """`paid_minor` counts what the purse says has been paid for the line or has come back."""
    jobs: tuple[Job, ...]
    guesses: tuple[RecordGuess, ...]


def name_shown(component: Component, known: Known) -> str:
    """The component's name in the owner's words, UK or US."""
    return component.name_us if known.machine.owner.words == "us" else component.name_uk
