"""The process that reckons: it imports the numeric libraries once, and then answers for one machine after another.

It is told a machine's identity and today's date, reads the record from the store by itself, and says on the way what it
is doing. It writes nothing. It ends when nobody listens any more.
"""

from __future__ import annotations

import datetime as dt
import os
import signal
import threading
import traceback
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from multiprocessing import parent_process
from multiprocessing.connection import Connection, wait
from typing import TYPE_CHECKING

import msgspec

from wreckwright.acts.place import Place, memory_if_any
from wreckwright.acts.reckon_cache import AnswerCache
from wreckwright.acts.reckon_inputs import NOTHING_BOOKED, input_hash, reckoned_part
from wreckwright.acts.reckon_shapes import Answers
from wreckwright.acts.shared_hands import Shared, all_machines, latest_order, share
from wreckwright.errors import NotThere, WreckwrightError
from wreckwright.record.types import Machine
from wreckwright.settings import TRACE_VARIABLE
from wreckwright.trade.types import Trade

if TYPE_CHECKING:
    from wreckwright.acts.ask import Opened
    from wreckwright.acts.plan_ahead import Ahead
    from wreckwright.answers.types import Bid, Verdict

PLANNING_FROM, PLANNING_UNTIL = 0.15, 0.8
"""Shares of a reckoning between which the search for a plan lies."""
EARLY_FUTURES = 2000

Tell = Callable[[str, float], None]
"""Called with a few words and the share that is done (0 to 1) at the start of each step."""


@dataclass(frozen=True, kw_only=True)
class Setup:
    """What the process is given when it starts."""

    place: Place
    trade: Trade
    """As loaded, not mirrored."""
    common: str
    """From `common_inputs`."""
    n_futures: int


@dataclass(frozen=True, kw_only=True)
class Step:
    words: str
    share: float


@dataclass(frozen=True, kw_only=True)
class Done:
    input_hash: str
    answers: bytes
    """`Answers` as JSON."""


@dataclass(frozen=True, kw_only=True)
class Early:
    """Provisional answers, while the search for a better plan goes on."""

    input_hash: str
    answers: bytes
    """`Answers` as JSON."""


@dataclass(frozen=True, kw_only=True)
class Failed:
    """`input_hash` empty: the record could not be read."""

    input_hash: str
    words: str


Message = Step | Early | Done | Failed


def run(connection: Connection, setup: Setup) -> None:
    """Answer until the other end is closed. The body of the process."""
    _leave_ctrl_c_to_the_parent()
    _end_with_the_parent()

    def tell(words: str, share: float) -> None:
        connection.send(Step(words=words, share=share))

    def early(name: str, answers: Answers) -> None:
        connection.send(Early(input_hash=name, answers=msgspec.json.encode(answers)))

    # Out of memory: what is left of this process is not to be trusted; the parent starts a new one.
    with suppress(EOFError, BrokenPipeError, ConnectionResetError, MemoryError):
        _import_the_heavy()
        while True:
            uid, today = connection.recv()
            connection.send(_answer(uid, today, setup, tell, early))


def _answer(
    uid: str, today: dt.date, setup: Setup, tell: Tell, early: Callable[[str, Answers], None]
) -> Message:
    name = ""
    try:
        tell("reading the record", 0.0)
        at = dt.datetime.now(dt.UTC)
        shared, change, former = _inputs(setup.place, uid)
        machine = shared.machine
        day = machine.as_of or today
        name = input_hash(machine, day=day, common=setup.common, booked=shared.booked)
        asked = Asked(
            machine=machine, trade=setup.trade, day=day, at=at, change=change, input_hash=name,
            n_futures=setup.n_futures, booked=shared.booked,
        )
        if former is not None and former.input_hash != name and former.running_order is not None:
            tell("mending the plan", 0.05)
            early(name, mended(asked, former))
        return Done(input_hash=name, answers=msgspec.json.encode(reckon(asked, tell=tell)))
    except WreckwrightError as error:
        return Failed(input_hash=name, words=str(error))
    except (MemoryError, BrokenPipeError, ConnectionResetError):
        raise
    except Exception as error:
        if os.environ.get(TRACE_VARIABLE):
            traceback.print_exc()
        said = " ".join(str(error).split())
        return Failed(
            input_hash=name,
            words=(
                "Sorry: this is a fault of the program, not of your record. Nothing was changed. "
                f"{type(error).__name__}{f': {said}' if said else ''}."
            ),
        )


@dataclass(frozen=True, kw_only=True)
class Asked:
    """One machine, and all that its answers are reckoned from."""

    machine: Machine
    trade: Trade
    """As loaded; mirrored where the machine needs it."""
    day: dt.date
    at: dt.datetime
    change: str
    input_hash: str
    n_futures: int
    booked: Mapping[dt.date, int] = field(default_factory=lambda: NOTHING_BOOKED)


def reckon(asked: Asked, *, tell: Tell) -> Answers:
    """All answers from one drawing of futures. Raises WreckwrightError where the record cannot be answered from."""
    from wreckwright.acts.plan_ahead import plan_ahead
    from wreckwright.answers.bid import bid
    from wreckwright.answers.verdict import verdict

    opened = _opened(asked)
    tell("looking for a good running order", PLANNING_FROM)
    ahead = plan_ahead(
        opened.known, opened.trade, n=asked.n_futures, booked=asked.booked,
        tell=lambda share, _: tell(
            "looking for a good running order", PLANNING_FROM + share * (PLANNING_UNTIL - PLANNING_FROM)
        ),
    )
    tell("weighing the right to stop", 0.85)
    weighed, most = verdict(ahead.futures), bid(ahead.futures)
    tell("looking for the next step", 0.95)
    return _answers(asked, opened, ahead, verdict=weighed, bid=most)


def mended(asked: Asked, former: Answers) -> Answers:
    """What can be said at once after something has happened: the former plan, mended, played through fewer futures.

    What to do with the machine and what to pay for it are still those of `former`.
    """
    from wreckwright.acts.plan_ahead import plan_ahead

    opened = _opened(asked)
    ahead = plan_ahead(
        opened.known, opened.trade, n=min(asked.n_futures, EARLY_FUTURES), booked=asked.booked,
        old=former.running_order,
    )
    answers = _answers(asked, opened, ahead, verdict=former.verdict, bid=former.bid)
    return msgspec.structs.replace(answers, provisional=True)


def _opened(asked: Asked) -> Opened:
    from wreckwright.acts.ask import fill_in
    from wreckwright.acts.checks import check_machine

    machine = reckoned_part(asked.machine)
    check_machine(asked.trade)(machine)
    return fill_in(machine, asked.trade, as_of=asked.day, name=machine.nickname)


def _answers(asked: Asked, opened: Opened, ahead: Ahead, *, verdict: Verdict, bid: Bid) -> Answers:
    from wreckwright.acts.ask import fit_of
    from wreckwright.acts.shown import names_of, shown
    from wreckwright.answers.foresight import foresight
    from wreckwright.answers.next_step import next_step

    futures = ahead.futures
    ready = fit_of(opened, damage=futures.damage)
    evening = ahead.evening() if futures.bought else None
    return Answers(
        shown=shown(opened.known, opened.trade), foresight=foresight(futures), verdict=verdict, bid=bid, fit=ready,
        next_step=next_step(
            opened.known, opened.trade, damage=futures.damage, cause_chance=futures.scenario, verdict=verdict, bid=bid,
            fit=ready, evening=evening,
        ),
        names=dict(names_of(opened.known, opened.trade)), input_hash=asked.input_hash, at=asked.at,
        change=asked.change, running_order=ahead.running_order() if futures.bought else None, evening=evening,
        cards=ahead.cards() if futures.bought else (),
    )


def _inputs(place: Place, uid: str) -> tuple[Shared, str, Answers | None]:
    """What the machine is planned on, the last change that is in it, and the answers before."""
    store = memory_if_any(place)
    if store is None:
        raise NotThere(
            f"There is no machine {uid!r} any more", allowed="a machine that was put down",
            do="Go back to the list of machines",
        )
    cache = AnswerCache(place.answers)
    with store.reading() as reader:
        machine = reader.machine(uid)
        changes = reader.changes(uid, limit=1)
        kept = all_machines(reader)
    former = cache.kept(uid)
    return (
        share(uid, machine, kept, order_of=lambda other: latest_order(cache, other)),
        changes[0].id if changes else "",
        former[0] if former else None,
    )


def _import_the_heavy() -> None:
    import scipy.special  # noqa: F401

    import wreckwright.acts.ask
    import wreckwright.acts.plan_ahead
    import wreckwright.answers.bid
    import wreckwright.answers.foresight
    import wreckwright.answers.next_step
    import wreckwright.answers.verdict
    import wreckwright.store.engine  # noqa: F401


def _leave_ctrl_c_to_the_parent() -> None:
    """Ctrl-C reaches every process of the terminal; the parent alone decides what it means.

    The parent starts this process with SIGINT held back, so that none can strike before this line.
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    if hasattr(signal, "pthread_sigmask"):
        signal.pthread_sigmask(signal.SIG_UNBLOCK, {signal.SIGINT})


def _end_with_the_parent() -> None:
    """End at once when the parent is gone, also in the middle of a reckoning."""
    parent = parent_process()
    if parent is None:
        return
    sentinel = parent.sentinel

    def watch() -> None:
        wait([sentinel])
        os._exit(0)

    threading.Thread(target=watch, name="parent", daemon=True).start()
