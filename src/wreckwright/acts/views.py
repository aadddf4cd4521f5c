"""What acts hand to the faces: answers with the names in them, and a record as it was understood.

Fields of `Checked` and `Shown` are the keys of `--json`. Money is in minor units of `currency`, dates are ISO strings,
chances 0..1.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Generic, TypeVar

import msgspec

from wreckwright.answers.types import RestsOn

Result = TypeVar("Result")


@dataclass(frozen=True, kw_only=True)
class Reply(Generic[Result]):
    answer: Result
    names: Mapping[str, str]
    """Ids of components and causes -> their names in the owner's words (UK or US)."""


class View(msgspec.Struct, frozen=True, kw_only=True):
    """Base of the views: values without identity."""


class CheckedProblem(View, frozen=True, kw_only=True):
    where: str
    """Line or field path, with the handle of the row."""
    found: str
    allowed: str
    do: str


class Checked(View, frozen=True, kw_only=True):
    """Whether a record can be used, and how much is in it."""

    file: str
    good: bool
    problems: tuple[CheckedProblem, ...]
    """All that was found, in the order of the file; empty when `good`."""
    nickname: str
    """Empty when not `good`, and so are the counts below."""
    rows: dict[str, int]
    """How many rows of each kind there are: findings, parts, jobs, ..."""
    rests_on: tuple[RestsOn, ...]
    """What is not in the record and would be guessed."""


class ShownFinding(View, frozen=True, kw_only=True):
    id: str
    component: str
    """What it was taken for, by its name in the owner's words (UK or US); empty where no part was found bad."""
    words: str
    severity: str
    """`looks`, `works badly` or `can hurt`; `sound` for what was looked at and fine; `missing`."""
    sure: float


class ShownPart(View, frozen=True, kw_only=True):
    id: str
    name: str
    state: str
    price_minor: int | None
    paid_minor: int
    ordered_on: str | None


class ShownGate(View, frozen=True, kw_only=True):
    id: str
    template: str
    """Id of the question in the trade data; empty for an own one."""
    question: str
    kind: str
    """`bench`, `outside`, or empty when neither record nor trade data say."""
    answer: str
    """`unasked`, `yes`, `no` or `way round`."""
    quick_look: str
    """A quick, rough way to an answer, with its minutes; empty once it is answered, or where there is none."""
    look_first: tuple[str, ...]
    """What has to be looked at before the test; empty once it is answered."""
    by_proofs: bool
    """True: no answer closes it, only the proofs of the fit-to-ride list do."""


class ShownJob(View, frozen=True, kw_only=True):
    id: str
    name: str
    state: str


class Shown(View, frozen=True, kw_only=True):
    """A machine's record as it was understood."""

    nickname: str
    maker_and_model: str
    year: int
    machine_class: str
    """Its name in the trade data."""
    as_of: str
    what_hit: tuple[str, ...]
    seen_in: str
    """How closely it has been seen: photographs, walk round, ..."""
    currency: str
    bought: bool
    price_minor: int | None
    sunk_minor: int
    """Money already gone."""
    sound_value_low_minor: int
    sound_value_likely_minor: int
    sound_value_high_minor: int
    findings: tuple[ShownFinding, ...]
    put_right: tuple[str, ...]
    """Components found bad once and mended or replaced since."""
    gates: tuple[ShownGate, ...]
    parts: tuple[ShownPart, ...]
    jobs: tuple[ShownJob, ...]
    """The owner's own jobs; what follows from findings is not listed."""
    proved: tuple[str, ...]
    """Headings of the fit-to-ride list that are proved by hand."""
    week_minutes: int
    """Minutes planned in a week."""
    attendance: float
    """Share of them that is really worked."""
    rests_on: tuple[RestsOn, ...]
