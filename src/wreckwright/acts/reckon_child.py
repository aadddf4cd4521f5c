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
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from multiprocessing import parent_process
from multiprocessing.connection import Connection, wait

import msgspec

from wreckwright.acts.place import Place, memory_if_any
from wreckwright.acts.reckon_inputs import input_hash, reckoned_part
from wreckwright.acts.reckon_shapes import Answers
from wreckwright.errors import NotThere, WreckwrightError
from wreckwright.record.types import Machine
from wreckwright.settings import TRACE_VARIABLE
from wreckwright.trade.types import Trade

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
class Failed:
    """`input_hash` empty: the record could not be read."""

    input_hash: str
    words: str


Message = Step | Done | Failed


def run(connection: Connection, setup: Setup) -> None:
    """Answer until the other end is closed. The body of the process."""
    _leave_ctrl_c_to_the_parent()
    _end_with_the_parent()

    def tell(words: str, share: float) -> None:
        connection.send(Step(words=words, share=share))

    # Out of memory: what is left of this process is not to be trusted; the parent starts a new one.
    with suppress(EOFError, BrokenPipeError, ConnectionResetError, MemoryError):
        _import_the_heavy()
        while True:
            uid, today = connection.recv()
            connection.send(_answer(uid, today, setup, tell))


def _answer(uid: str, today: dt.date, setup: Setup, tell: Tell) -> Message:
    name = ""
    try:
        tell("reading the record", 0.0)
        at = dt.datetime.now(dt.UTC)
        machine, change = _machine(setup.place, uid)
        day = machine.as_of or today
        name = input_hash(machine, day=day, common=setup.common)
        answers = reckon(
            machine, setup.trade, day=day, at=at, change=change, input_hash=name, n_futures=setup.n_futures, tell=tell
        )
        return Done(input_hash=name, answers=msgspec.json.encode(answers))
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


def reckon(
    machine: Machine, trade: Trade, *, day: dt.date, at: dt.datetime, change: str, input_hash: str, n_futures: int,
    tell: Tell,
) -> Answers:
    """All answers from one drawing of futures. `trade` as loaded; mirrored here where the machine needs it.

    Raises WreckwrightError where the record cannot be answered from.
    """
    from wreckwright.acts.ask import fill_in, fit_of, futures_of
    from wreckwright.acts.checks import check_machine
    from wreckwright.acts.shown import names_of, shown
    from wreckwright.answers.bid import bid
    from wreckwright.answers.foresight import foresight
    from wreckwright.answers.next_step import next_step
    from wreckwright.answers.verdict import verdict

    machine = reckoned_part(machine)
    check_machine(trade)(machine)
    opened = fill_in(machine, trade, as_of=day, name=machine.nickname)
    tell(f"drawing {n_futures:,} futures", 0.2)
    futures = futures_of(opened, n_futures=n_futures)
    tell("reading what is ahead", 0.85)
    ahead = foresight(futures)
    tell("weighing the right to stop", 0.9)
    weighed, most = verdict(futures), bid(futures)
    tell("looking for the next step", 0.95)
    ready = fit_of(opened, damage=futures.damage)
    return Answers(
        shown=shown(opened.known, opened.trade), foresight=ahead, verdict=weighed, bid=most, fit=ready,
        next_step=next_step(
            opened.known, opened.trade, damage=futures.damage, cause_chance=futures.scenario, verdict=weighed, bid=most,
            fit=ready,
        ),
        names=dict(names_of(opened.known, opened.trade)), input_hash=input_hash, at=at,
        change=change,
    )


def _machine(place: Place, uid: str) -> tuple[Machine, str]:
    """The record as it is, and the last change that is in it."""
    store = memory_if_any(place)
    if store is None:
        raise NotThere(
            f"There is no machine {uid!r} any more", allowed="a machine that was put down",
            do="Go back to the list of machines",
        )
    with store.reading() as reader:
        machine = reader.machine(uid)
        changes = reader.changes(uid, limit=1)
    return machine, changes[0].id if changes else ""


def _import_the_heavy() -> None:
    import scipy.special  # noqa: F401

    import wreckwright.acts.ask
    import wreckwright.answers.bid
    import wreckwright.answers.foresight
    import wreckwright.answers.next_step
    import wreckwright.answers.verdict
    import wreckwright.futures.draw
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
