"""Questions to one machine: the use cases behind the commands. They own files, clock and the order of steps.

A face builds a `Question`, calls one of the functions here, and shows the `Reply`.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import os
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, TypeVar

import msgspec
from msgspec.structs import replace

from wreckwright.acts.files import open_checked
from wreckwright.acts.find import find_machine
from wreckwright.acts.packs import read_pack
from wreckwright.acts.place import Place, Tell, memory, quiet
from wreckwright.acts.shared_hands import Shared, shared_hands
from wreckwright.acts.shown import checked, names_of, refused, shown
from wreckwright.acts.views import Checked, Reply, Shown
from wreckwright.errors import RecordError, WreckwrightError
from wreckwright.record.faults import as_problem
from wreckwright.record.known import Known
from wreckwright.record.resolve import resolve
from wreckwright.record.rules import rule_faults
from wreckwright.record.types import Machine
from wreckwright.settings import FUTURES
from wreckwright.trade.load import load_trade
from wreckwright.trade.mirror import mirror_trade
from wreckwright.trade.types import Trade

if TYPE_CHECKING:
    from wreckwright.acts.plan_ahead import Ahead
    from wreckwright.answers.plan_types import Evening, JobCard, RunningOrder
    from wreckwright.answers.types import Bid, FitList, Foresight, Verdict
    from wreckwright.futures.scene import Futures

Result = TypeVar("Result")


@dataclass(frozen=True, kw_only=True)
class Question:
    """Which machine, on which day, with which figures of the owner's, and how finely."""

    machine: str | os.PathLike[str]
    """A record file, or the nickname of a machine in the memory."""
    place: Place | None = None
    """Where the memory is; None: `machine` is a file."""
    as_of: dt.date | None = None
    """Overrides the record's own day; without either the answer holds for today."""
    packs: tuple[str | os.PathLike[str], ...] = ()
    n_futures: int = FUTURES.default


@dataclass(frozen=True, kw_only=True)
class Opened:
    """A record that has been read, checked and filled in, with the trade data that fit it."""

    known: Known
    trade: Trade
    booked: Callable[[int, Tell], Mapping[dt.date, int]] = field(default=lambda n_futures, tell: {})
    """Minutes of each evening that machines with an earlier turn take; those without a plan are planned for it, in so
    many futures."""

    def reply(self, answer: Result) -> Reply[Result]:
        return Reply(answer=answer, names=names_of(self.known, self.trade))


def open_machine(question: Question, *, today: Callable[[], dt.date] = dt.date.today) -> Opened:
    """Raises RecordError, TradeDataError, NotThere or StoreError."""
    trade = load_trade(packs=[read_pack(pack) for pack in question.packs])
    found = find_machine(question.machine, question.place)
    if found.is_file or question.place is None:
        # Checked here, while the lines of the file are known.
        machine = open_checked(found.path, trade)
        return fill_in(machine, trade, as_of=question.as_of or machine.as_of or today(), name=found.name)
    place = question.place

    def filled(machine: Machine, name: str) -> Opened:
        return fill_in(machine, trade, as_of=question.as_of or machine.as_of or today(), name=name)

    def booked(n_futures: int, tell: Tell) -> Mapping[dt.date, int]:
        from wreckwright.acts.plan_ahead import plan_ahead

        def plan(shared: Shared) -> RunningOrder | None:
            name = shared.machine.nickname
            tell(f"{name}: goes first, and is planned before")
            try:
                other = filled(shared.machine, name)
                return plan_ahead(other.known, other.trade, n=n_futures, booked=shared.booked).running_order()
            except WreckwrightError:
                # What is wrong with it is told where it is asked about; it cannot hold up the others.
                return None

        return shared_hands(place, found.uid, plan=plan).booked

    return dataclasses.replace(filled(shared_hands(place, found.uid).machine, found.name), booked=booked)


def fill_in(machine: Machine, trade: Trade, *, as_of: dt.date, name: str) -> Opened:
    """A machine filled in for a day; `name` is said in errors.

    Raises RecordError if what stands in the record does not fit that day, or is not known to the trade data; places are
    named by the handles of the rows.
    """
    if machine.mirrored and not trade.mirrored:
        trade = mirror_trade(trade)
    if as_of != machine.as_of:
        faults = rule_faults(replace(machine, as_of=as_of))
        problems = [as_problem(fault, raw=msgspec.to_builtins(machine), lines={}) for fault in faults]
        if problems:
            raise RecordError(problems, name=name)
    return Opened(known=resolve(machine, trade, as_of=as_of), trade=trade)


def read_machine(place: Place, uid: str) -> Machine:
    """The record of a machine in the memory. Raises NotThere, StoreError."""
    with memory(place).reading() as reader:
        return reader.machine(uid)


def futures_of(opened: Opened, *, n_futures: int, tell: Tell = quiet) -> Futures:
    return ahead_of(opened, n_futures=n_futures, tell=tell).futures


def ahead_of(opened: Opened, *, n_futures: int, tell: Tell = quiet) -> Ahead:
    """The machine's plan, played through that many futures. Raises AnswerError."""
    # The numeric libraries are imported only when futures are wanted.
    from wreckwright.acts.plan_ahead import plan_ahead

    booked = opened.booked(n_futures, tell)
    tell(f"{opened.known.machine.nickname}: planning, and drawing {n_futures:,} futures")
    return plan_ahead(opened.known, opened.trade, n=n_futures, booked=booked)


def check(question: Question) -> Checked:
    """Whether the record can be used; its problems are part of the result, not an error."""
    try:
        opened = open_machine(question)
    except RecordError as error:
        return refused(question.machine, error)
    return checked(question.machine, opened.known)


def show(question: Question) -> Shown:
    """The record as it was understood."""
    opened = open_machine(question)
    return shown(opened.known, opened.trade)


def foresight(question: Question, *, tell: Tell = quiet) -> Reply[Foresight]:
    """What is ahead if the plan is kept."""
    from wreckwright.answers.foresight import foresight as read

    opened = open_machine(question)
    return opened.reply(read(futures_of(opened, n_futures=question.n_futures, tell=tell)))


def verdict(question: Question, *, tell: Tell = quiet) -> Reply[Verdict]:
    """Carry on, sell it as it stands, or part it out."""
    from wreckwright.answers.verdict import verdict as read

    opened = open_machine(question)
    futures = futures_of(opened, n_futures=question.n_futures, tell=tell)
    tell(f"{opened.known.machine.nickname}: weighing the right to stop")
    return opened.reply(read(futures))


def bid(question: Question, *, tell: Tell = quiet) -> Reply[Bid]:
    """The most that should be paid."""
    from wreckwright.answers.bid import bid as read

    opened = open_machine(question)
    return opened.reply(read(futures_of(opened, n_futures=question.n_futures, tell=tell)))


def running_order(question: Question, *, tell: Tell = quiet) -> Reply[RunningOrder]:
    """All work on the calendar."""
    opened = open_machine(question)
    return opened.reply(ahead_of(opened, n_futures=question.n_futures, tell=tell).running_order())


def evening(question: Question, *, tell: Tell = quiet) -> Reply[Evening]:
    """What tonight's list is made from."""
    opened = open_machine(question)
    return opened.reply(ahead_of(opened, n_futures=question.n_futures, tell=tell).evening())


def cards(question: Question, *, tell: Tell = quiet) -> Reply[tuple[JobCard, ...]]:
    """A card for every piece of work."""
    opened = open_machine(question)
    return opened.reply(ahead_of(opened, n_futures=question.n_futures, tell=tell).cards())


def fit(question: Question) -> Reply[FitList]:
    """What has been proved by hand before anybody rides it."""
    from wreckwright.futures.damage import Evidence
    from wreckwright.futures.map_error import map_replicates

    opened = open_machine(question)
    known = opened.known
    evidence = Evidence(
        likelihoods=known.likelihoods,
        signs_seen=known.signs_seen,
        signs_absent=known.signs_absent,
        told=known.told,
    )
    replicates = map_replicates(opened.trade, absent=known.absent, evidence=evidence, seed=known.machine.seed)
    return opened.reply(fit_of(opened, damage=replicates.chance))


def fit_of(opened: Opened, *, damage: Mapping[str, float]) -> FitList:
    from wreckwright.answers.fit import fit as read

    known = opened.known
    # What was put right is not suspected any more; it still has to be proved.
    left = {component: 0.0 if component in known.put_right else chance for component, chance in damage.items()}
    return read(known.machine, opened.trade, damage=left, as_of=known.as_of)
