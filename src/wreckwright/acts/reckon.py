"""Answers for all machines, reckoned in the background and kept.

One child process reckons for one machine after another (see `reckon_child`); a thread here hands it its work and
listens. The process that shows the pages never imports the numeric libraries.

The newest record wins: what is shown as fresh was reckoned from the record as it is at this moment, which is found out
by hash whenever somebody looks. A record that was changed while it was being reckoned is reckoned again.
"""

from __future__ import annotations

import atexit
import datetime as dt
import multiprocessing
import signal
import threading
from collections.abc import Callable
from dataclasses import dataclass
from multiprocessing.connection import Connection, wait
from typing import TYPE_CHECKING

import msgspec

from wreckwright.acts.checks import trade_data
from wreckwright.acts.moved import moved
from wreckwright.acts.place import Place, memory_if_any
from wreckwright.acts.reckon_cache import AnswerCache
from wreckwright.acts.reckon_child import Done, Early, Failed, Message, Setup, Step, run
from wreckwright.acts.reckon_inputs import common_inputs, input_hash
from wreckwright.acts.reckon_shapes import Answers, Moved, Reckoned, State
from wreckwright.acts.shared_hands import Kept, all_machines, latest_order, share
from wreckwright.errors import NotThere, RecordError, WreckwrightError
from wreckwright.record.types import Machine
from wreckwright.settings import FUTURES
from wreckwright.trade.types import Trade

if TYPE_CHECKING:
    from multiprocessing.context import SpawnProcess

__all__ = ["Answers", "Moved", "Reckoned", "Reckoner", "State", "moved"]

TRIES = 2
"""A process that dies (killed, out of memory) is tried once more before that is said."""
PATIENCE_S = 5.0
"""How long a process that was told to end is waited for before it is killed, in seconds."""
STOPPED = "Stopped. Have it reckoned again when you want an answer; the last one, if any, is still shown."
DIED = (
    "The reckoning ended without a word, twice: the computer may be short of memory, or somebody ended the process. "
    "Close other programs, then have it reckoned again."
)
DISK_FULL = "The answers cannot be kept: {reason}. Make room on the disk, then have it reckoned again."


FAULT = "Sorry: this is a fault of the program, not of your record. Nothing was changed. {name}: {said}."


@dataclass(kw_only=True)
class _Job:
    """The reckoning that is on."""

    uid: str
    step: str = "starting"
    share: float = 0.0
    stopped: bool = False


@dataclass(frozen=True, kw_only=True)
class _Mark:
    """How the last reckoning of a machine ended, if not well. Holds for one state of the record only."""

    state: State
    input_hash: str
    why: str


@dataclass(frozen=True, kw_only=True)
class _Child:
    process: SpawnProcess
    connection: Connection


class Reckoner:
    """Answers for the machines of one place. May be called from any thread; nothing here waits for a reckoning.

    Close it, or use it in a `with` statement: the child process ends with it.
    """

    def __init__(
        self, place: Place, *, trade: Trade | None = None, n_futures: int = FUTURES.default,
        today: Callable[[], dt.date] = dt.date.today,
    ) -> None:
        self._place = place
        self._today = today
        trade = trade_data() if trade is None else trade
        self._common = common_inputs(trade, n_futures=n_futures)
        self._setup = Setup(place=place, trade=trade, common=self._common, n_futures=n_futures)
        self._cache = AnswerCache(place.answers)
        self._lock = threading.Lock()
        self._queue: list[str] = []
        self._marks: dict[str, _Mark] = {}
        self._early: dict[str, Answers] = {}
        """Provisional answers, until those that were searched for are there."""
        self._kept: tuple[str, Kept] = ("", ())
        """All machines as of a change of the memory."""
        self._job: _Job | None = None
        self._child: _Child | None = None
        self._thread: threading.Thread | None = None
        self._closed = False
        self._roused = False
        self._woken, self._wake = multiprocessing.Pipe(duplex=False)
        atexit.register(self.close)

    def __enter__(self) -> Reckoner:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def want(self, uid: str, *, first: bool = False) -> None:
        """See to it that there will be answers for the record of this machine as it is now.

        Costs nothing when there are, or when they are being reckoned. `first`: the owner asks for it. Then it goes
        before all that waits, and it is reckoned also if it was stopped, or went wrong, with this same record; without
        `first` such a one is left alone, so a page may call this whenever it is shown.
        Raises NotThere.
        """
        try:
            now = self._hash(uid, self._machine(uid))
        except RecordError:
            # Rows that are no record: `look` says so.
            return
        with self._lock:
            if self._closed:
                return
            if self._cache.use_again(uid, now):
                self._marks.pop(uid, None)
                if uid in self._queue:
                    self._queue.remove(uid)
                return
            mark = self._marks.get(uid)
            if mark is not None and mark.input_hash == now and not first:
                return
            self._marks.pop(uid, None)
            if self._running(uid):
                # If the record has changed meanwhile this is noticed at its end, and it is reckoned again.
                return
            self._enqueue(uid, first=first)

    def look(self, uid: str) -> Reckoned:
        """How far the answers for a machine are. Raises NotThere."""
        try:
            machine = self._machine(uid)
        except RecordError as error:
            return Reckoned(state="failed", why=str(error))
        return self.look_at(uid, machine)

    def look_at(self, uid: str, machine: Machine) -> Reckoned:
        """The same for somebody who has the record at hand."""
        now = self._hash(uid, machine)
        with self._lock:
            early = self._early.get(uid)
            kept = self._cache.kept(uid)
            mark = self._marks.get(uid)
            job = self._job if self._running(uid) else None
            waiting = uid in self._queue
        fresh = next((one for one in kept if one.input_hash == now), None)
        if early is not None and early.input_hash != now:
            early = None
        answers = fresh or early or (kept[0] if kept else None)
        before = next((one for one in kept if one is not answers), None)
        stale = fresh is None and early is None and answers is not None
        state: State = "never"
        step, share, why = "", 0.0, ""
        if fresh is not None:
            state = "fresh"
        elif job is not None:
            state, step, share = "running", job.step, job.share
        elif waiting:
            state = "waiting"
        elif mark is not None and mark.input_hash == now:
            state, why = mark.state, mark.why
        return Reckoned(
            state=state, step=step, share=share, answers=answers, stale=stale, before=before, why=why
        )

    def stop(self, uid: str) -> None:
        """End the reckoning of a machine, or take it out of the queue. It stays stopped until its record changes, or
        `want(uid, first=True)`. Does nothing if it is neither running nor waiting."""
        now = self._hash_now(uid)
        with self._lock:
            running = self._running(uid)
            if not running and uid not in self._queue:
                return
            if now:
                self._marks[uid] = _Mark(state="stopped", input_hash=now, why=STOPPED)
            if uid in self._queue:
                self._queue.remove(uid)
            if running and self._job is not None:
                self._job.stopped = True
                if self._child is not None:
                    self._child.process.terminate()

    def close(self) -> None:
        """End the child process and the thread, and wait until both are gone. May be called twice."""
        with self._lock:
            if self._closed:
                return
            self._closed = True
            self._queue.clear()
            if self._job is not None:
                self._job.stopped = True
            if self._child is not None:
                self._child.process.terminate()
            self._rouse()
            thread = self._thread
        atexit.unregister(self.close)
        if thread is not None:
            thread.join(2 * PATIENCE_S)
        self._wake.close()
        self._woken.close()

    # ---- what the store says -------------------------------------------------------------------------------------

    def _machine(self, uid: str) -> Machine:
        store = memory_if_any(self._place)
        if store is None:
            raise NotThere(
                f"There is no machine {uid!r}: nothing is kept in {self._place.folder} yet",
                allowed="a machine that was put down",
                do="Put down a machine first",
            )
        with store.reading() as reader:
            return reader.machine(uid)

    def _hash(self, uid: str, machine: Machine) -> str:
        shared = share(uid, machine, self._machines(), order_of=lambda other: latest_order(self._cache, other))
        return input_hash(
            shared.machine, day=machine.as_of or self._today(), common=self._common, booked=shared.booked
        )

    def _machines(self) -> Kept:
        """All machines; read anew only after something was written."""
        store = memory_if_any(self._place)
        if store is None:
            return ()
        with store.reading() as reader:
            changes = reader.changes(limit=1)
            last = changes[0].id if changes else ""
            change, kept = self._kept
            if change != last:
                kept = all_machines(reader)
                self._kept = (last, kept)
        return kept

    def _hash_now(self, uid: str) -> str:
        """That of the record as it is; empty if it was taken away meanwhile or cannot be read any more."""
        try:
            return self._hash(uid, self._machine(uid))
        except WreckwrightError:
            return ""

    # ---- under the lock ------------------------------------------------------------------------------------------

    def _running(self, uid: str) -> bool:
        return self._job is not None and self._job.uid == uid and not self._job.stopped

    def _enqueue(self, uid: str, *, first: bool) -> None:
        if uid in self._queue:
            if not first:
                return
            self._queue.remove(uid)
        self._queue.insert(0 if first else len(self._queue), uid)
        if self._thread is None:
            self._thread = threading.Thread(target=self._work, name="reckoner", daemon=True)
            self._thread.start()
        self._rouse()

    def _rouse(self) -> None:
        if not self._roused:
            self._roused = True
            self._wake.send_bytes(b".")

    # ---- the thread ----------------------------------------------------------------------------------------------

    def _work(self) -> None:
        _hold_ctrl_c_back()
        while True:
            with self._lock:
                if self._closed:
                    break
                job = self._job = _Job(uid=self._queue.pop(0)) if self._queue else None
            if job is None:
                self._sleep()
                continue
            try:
                self._reckon(job)
            except Exception as error:
                # A fault here must not leave all other machines waiting for ever.
                self._fail(job, FAULT.format(name=type(error).__name__, said=error))
            finally:
                with self._lock:
                    self._job = None
        self._let_go()

    def _sleep(self) -> None:
        """Until something is wanted, or the child has died (then it is buried: nobody leaves a zombie)."""
        child = self._child
        ready = wait([self._woken, *([child.process.sentinel] if child else [])])
        if self._woken in ready:
            with self._lock:
                self._woken.recv_bytes()
                self._roused = False
        if child is not None and child.process.sentinel in ready:
            self._let_go()

    def _reckon(self, job: _Job) -> None:
        for _ in range(TRIES):
            message = self._ask(job)
            if job.stopped:
                # Whatever state it is in: it was told to end.
                self._let_go()
                return
            if isinstance(message, Done):
                self._keep(job, message)
                return
            if isinstance(message, Failed):
                self._fail(job, message.words, input_hash=message.input_hash)
                return
            self._let_go()
        self._fail(job, DIED)

    def _ask(self, job: _Job) -> Message | None:
        """Have the child reckon, and follow what it says. None: it has died."""
        try:
            child = self._living_child(job)
            if child is None:
                return None
            child.connection.send((job.uid, self._today()))
            while True:
                message: Message = child.connection.recv()
                if isinstance(message, Early):
                    early = msgspec.json.decode(message.answers, type=Answers)
                    with self._lock:
                        self._early[job.uid] = early
                elif isinstance(message, Step):
                    with self._lock:
                        job.step, job.share = message.words, message.share
                else:
                    return message
        except (EOFError, OSError):
            return None

    def _living_child(self, job: _Job) -> _Child | None:
        """The child, started if there is none. None: the job was stopped before it began."""
        child = self._child
        if child is not None and child.process.is_alive():
            return child
        self._let_go()
        context = multiprocessing.get_context("spawn")
        ours, theirs = context.Pipe()
        process = context.Process(target=run, args=(theirs, self._setup), name="reckoning", daemon=True)
        process.start()
        # Only with our copy of its end closed do we hear that it has died.
        theirs.close()
        child = _Child(process=process, connection=ours)
        with self._lock:
            self._child = child
            if job.stopped:
                return None
        return child

    def _let_go(self) -> None:
        """End the child, if there is one, and wait until it is gone."""
        with self._lock:
            child, self._child = self._child, None
        if child is None:
            return
        child.connection.close()
        child.process.terminate()
        child.process.join(PATIENCE_S)
        if child.process.exitcode is None:
            child.process.kill()
            child.process.join()
        child.process.close()

    def _keep(self, job: _Job, done: Done) -> None:
        try:
            self._cache.keep(job.uid, done.answers, input_hash=done.input_hash)
        except OSError as error:
            self._fail(job, DISK_FULL.format(reason=error.strerror or error), input_hash=done.input_hash)
            return
        with self._lock:
            self._early.pop(job.uid, None)
        self._again_if_changed(job, done.input_hash)

    def _fail(self, job: _Job, why: str, *, input_hash: str = "") -> None:
        """Note why there is no answer. `input_hash`: of the record it went wrong with; empty: not known."""
        now = self._hash_now(job.uid)
        if input_hash and self._again_if_changed(job, input_hash):
            return
        with self._lock:
            if now and not job.stopped:
                self._marks[job.uid] = _Mark(state="failed", input_hash=now, why=why)

    def _again_if_changed(self, job: _Job, input_hash: str) -> bool:
        """Reckon once more if the record (or the day) is not any more what it was reckoned from."""
        now = self._hash_now(job.uid)
        with self._lock:
            changed = bool(now) and now != input_hash and not job.stopped and not self._closed
            if changed:
                self._job = None
                self._enqueue(job.uid, first=True)
            return changed


def _hold_ctrl_c_back() -> None:
    """Keep SIGINT from this thread and, as that is inherited, from a child that is only just starting."""
    if hasattr(signal, "pthread_sigmask"):
        signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
