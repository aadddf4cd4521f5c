"""What a reckoning hands to the faces. Light: nothing here needs the numeric libraries."""

from __future__ import annotations

import datetime as dt
from typing import Literal

from wreckwright.acts.views import Shown, View
from wreckwright.answers.plan_types import Evening, JobCard, RunningOrder
from wreckwright.answers.types import Bid, FitList, Foresight, NextStep, Verdict

State = Literal["fresh", "running", "waiting", "stopped", "failed", "never"]


class Answers(View, frozen=True, kw_only=True):
    """All answers for one machine, read from one drawing of its futures."""

    shown: Shown
    foresight: Foresight
    verdict: Verdict
    """For a lot not bought: what to do with it once it is here; the bid goes before it."""
    bid: Bid
    """For a machine that is bought: what would have been the most, knowing what is known today."""
    fit: FitList
    next_step: NextStep
    names: dict[str, str]
    """Ids of components and causes -> their names in the owner's words."""
    input_hash: str
    """Names all that went in; the same inputs give the same answers."""
    at: dt.datetime
    """When the record was read for it; UTC."""
    change: str
    """Id of the last change of this machine that is in it; empty: there was none."""
    running_order: RunningOrder | None = None
    """None: a lot that is not bought has none."""
    evening: Evening | None = None
    """What tonight's list is made from; as `running_order`."""
    cards: tuple[JobCard, ...] = ()
    provisional: bool = False
    """From the former plan, mended, and fewer futures: the search for a better one goes on."""


class Reckoned(View, frozen=True, kw_only=True):
    """How far the answers for one machine are."""

    state: State
    """`fresh`: `answers` hold for the record as it is now. `running`, `waiting` (for another machine's turn).
    `stopped`: by the owner. `failed`: `why` says what is wrong. `never`: nobody has asked for the record as it is."""
    step: str = ""
    """While running: what is being done, in words."""
    share: float = 0.0
    """While running: how much is done, 0 to 1."""
    answers: Answers | None = None
    """The latest there are; not those of the record as it is now when `stale`."""
    stale: bool = False
    before: Answers | None = None
    """The answers before those: what has moved is told against them."""
    why: str = ""
    """`failed` or `stopped`: what is wrong, what is allowed, what to do; sentences."""


class Moved(View, frozen=True, kw_only=True):
    """A key figure that the last reckoning changed by more than other draws would."""

    name: str
    before: str
    now: str
