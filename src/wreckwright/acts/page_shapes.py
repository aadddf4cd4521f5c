"""What the pages show: plain values without identity, no HTML, fit to be written as JSON.

Conventions: `handle` and `rev` name a row and the revision that was looked at (a form that edits it sends it back as
its base); `uid` names a machine in the store; names and words are in the owner's language (UK or US); money is in minor
units of `Head.currency`; instants are UTC unless said otherwise; an empty text means that there is nothing to say.
"""

from __future__ import annotations

import datetime as dt
from typing import Any, Literal

from wreckwright.acts.reckon_shapes import Moved, Reckoned, State
from wreckwright.acts.views import CheckedProblem, View
from wreckwright.answers.types import RestsOn

FindingState = Literal["bad", "missing", "fine", "unclear"]


class Head(View, frozen=True, kw_only=True):
    """What every page of one machine says at its top."""

    uid: str
    nickname: str
    about: str
    """e.g. `2019 tourer, Orrendal Packhorse 770`"""
    currency: str
    bought: bool
    undecided: int
    """Taps on the heap that nobody has sorted out."""
    as_of: str
    """ISO date for which answers hold."""
    as_of_fixed: bool
    """True: the record names that day; False: it is today."""
    problems: tuple[CheckedProblem, ...] = ()
    """What the program cannot understand in this record; empty as a rule. No answer can be given until it is put
    right, but everything else works."""


class Choice(View, frozen=True, kw_only=True):
    """One line of a list to choose from."""

    value: str
    words: str


class MachineLine(View, frozen=True, kw_only=True):
    uid: str
    nickname: str
    about: str
    bought: bool
    sentence: str
    """The verdict in a sentence; for a lot the most to pay; before there is one, how far the reckoning is."""
    next_words: str
    """Empty until it has been reckoned."""
    next_why: str
    reckon_state: State
    stale: bool
    """True: sentence and next step are those of the record before the last change."""
    undecided: int


class MachinesPage(View, frozen=True, kw_only=True):
    machines: tuple[MachineLine, ...]
    """In the owner's order."""


class MachinePage(View, frozen=True, kw_only=True):
    head: Head
    reckoned: Reckoned
    moved: tuple[Moved, ...]
    """What the last reckoning changed, weightiest first; empty when nothing moved by more than other draws would."""
    moved_by: tuple[str, ...]
    """What was written between the two reckonings, newest first, in the words of the journal."""


class StationLine(View, frozen=True, kw_only=True):
    id: str
    order: int
    name: str
    found: int
    """Findings on it, "fine" not counted."""
    fine: bool
    """The rest of what is seen from here was looked at and is fine."""
    next: bool
    """The next one to go to: neither findings nor "fine"."""


class WalkPage(View, frozen=True, kw_only=True):
    head: Head
    stations: tuple[StationLine, ...]
    """In walking order."""
    elsewhere: tuple[FindingRow, ...]
    """Findings that belong to no station: hidden parts, whole sides, words that were not understood."""
    photos: tuple[str, ...]
    """Photographs of the log, such as those with which the machine was written down."""


class ComponentLine(View, frozen=True, kw_only=True):
    id: str
    name: str
    found: str
    """The worst that was found of it, in words; empty: nothing was noted."""
    severity: str
    """`looks`, `works badly`, `can hurt`, `missing`, `fine`; empty: nothing was noted."""
    level: int
    """0 nothing noted or fine, 1 looks, 2 works badly or missing, 3 can hurt."""
    handle: str
    """Handle of that finding; empty: none."""
    more: int
    """Further findings on it; those that say "fine" are not counted."""


class RegionPart(View, frozen=True, kw_only=True):
    """A region of a station's view and the components in it."""

    id: str
    name: str
    components: tuple[ComponentLine, ...]
    level: int
    """The highest of its components."""


class SignLine(View, frozen=True, kw_only=True):
    """A sign that can be seen at a station."""

    id: str
    text: str
    seen: Literal["", "seen", "not there"]
    """Empty: nobody has said."""
    handle: str
    rev: int
    """0: there is no row of it."""


class StationPage(View, frozen=True, kw_only=True):
    head: Head
    station: StationLine
    regions: tuple[RegionPart, ...]
    signs: tuple[SignLine, ...]
    looked_fine: bool
    mirrored: bool
    """The machine is laid out the other way round, and so is what is seen from here."""
    next_station: str
    """Id of the next station in walking order that has neither findings nor "fine"; empty: there is none."""


class FindingRow(View, frozen=True, kw_only=True):
    handle: str
    rev: int
    name: str
    """What it was understood as, in the owner's words; of a whole zone or side its name; empty: not understood."""
    components: tuple[str, ...]
    """Ids of the components it was understood as."""
    component: str
    """The component as it stands in the record; empty when it is in plain words."""
    words: str
    """Plain words, as written."""
    condition: str
    zone: str
    side: str
    severity: int
    """1 to 3, as understood."""
    severity_words: str
    """`looks`, `works badly`, `can hurt`, `missing` or `fine`"""
    state: FindingState
    sure: float
    suspicion: bool
    """Not sure enough to be work to be done; it counts as evidence."""
    evidence: str
    photos: tuple[str, ...]
    station: str
    """Id of the station it is seen from; empty: none."""
    by: str
    at: dt.datetime | None
    """As written in the record; without a zone it is the owner's local time."""
    assumed: str
    """What was taken without being said; empty: nothing."""
    problem: str
    """`unclear`: what is wrong and what to write instead; empty: it was understood."""


class FindingsPage(View, frozen=True, kw_only=True):
    head: Head
    findings: tuple[FindingRow, ...]
    """In the order of the record."""
    components: tuple[Choice, ...]
    """All components of this machine, by name, for a form."""


class FindingPage(View, frozen=True, kw_only=True):
    """One finding, to be changed."""

    head: Head
    finding: FindingRow
    components: tuple[Choice, ...]


class TapRow(View, frozen=True, kw_only=True):
    handle: str
    rev: int
    what: str
    what_words: str
    note: str
    photos: tuple[str, ...]
    by: str
    at: dt.datetime | None
    became: str
    """What it was sorted into, in words; empty: not sorted out, or a note."""


class HeapPage(View, frozen=True, kw_only=True):
    head: Head
    taps: tuple[TapRow, ...]
    """Undecided, oldest first."""
    decided: tuple[TapRow, ...]
    """Sorted out, newest first; the last few."""
    open_jobs: tuple[Choice, ...]
    """Own jobs that are not finished, by handle."""
    open_parts: tuple[Choice, ...]
    """Part lines that are on their way, here or still wanted, by handle."""
    components: tuple[Choice, ...]


class FactsPage(View, frozen=True, kw_only=True):
    head: Head
    revs: dict[str, int]
    """Of the rows `machine`, `purchase`, `market`, `calendar`, `owner`; 0: there is no such row."""
    values: dict[str, dict[str, Any]]
    """By row: its fields as they stand in the record; what is not known is absent."""
    classes: tuple[Choice, ...]
    brands: tuple[Choice, ...]
    rests_on: tuple[RestsOn, ...]
    """What is guessed because it is not written; empty also when the record cannot be filled in."""


class JournalLine(View, frozen=True, kw_only=True):
    """One change."""

    id: str
    """Names it to `undo --change`."""
    at: dt.datetime
    """UTC."""
    who: str
    what: str
    machines: tuple[str, ...]
    """Nicknames; of a machine that is not there any more its identity."""
    undone: bool
    """It was taken back, and was not brought back."""
    is_undo: bool
    """It took another change back."""


class ChangeRow(JournalLine, frozen=True, kw_only=True):
    can_undo: bool
    """It has not been taken back, and nothing was changed since in the rows it touched."""


class ChangesPage(View, frozen=True, kw_only=True):
    head: Head
    changes: tuple[ChangeRow, ...]
    """Newest first."""
