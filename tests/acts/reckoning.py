"""What the tests of reckoning share: a place with machines, and waiting for a state."""

from __future__ import annotations

import os
import signal
import time
from collections.abc import Callable
from pathlib import Path

from tests.acts.kept import EXAMPLES, SENT
from wreckwright.acts.machines import load_record
from wreckwright.acts.place import Place
from wreckwright.acts.reckon import Reckoned, Reckoner
from wreckwright.acts.writes import FindingForm, note_finding

FEW = 200
"""Futures; enough to see that it is done."""
PATIENCE_S = 150.0
"""On a busy machine."""


def place_with(folder: Path, *names: str) -> tuple[Place, tuple[str, ...]]:
    """A place with some of the examples in it, and their identities."""
    place = Place(folder / "data")
    return place, tuple(load_record(place, EXAMPLES / f"{name}.toml", sent=SENT).uid for name in names)


def until(wanted: Callable[[], bool], what: str, *, every_s: float = 0.03) -> None:
    deadline = time.monotonic() + PATIENCE_S
    while not wanted():
        assert time.monotonic() < deadline, f"in vain waited for: {what}"
        time.sleep(every_s)


def settled(reckoner: Reckoner, uid: str) -> Reckoned:
    """What it comes to once nothing is running or waiting."""
    until(lambda: reckoner.look(uid).state not in ("running", "waiting"), f"the reckoning of {uid}")
    return reckoner.look(uid)


def child_pid(reckoner: Reckoner) -> int:
    until(lambda: reckoner._child is not None, "a child process")
    child = reckoner._child
    assert child is not None and child.process.pid is not None
    return child.process.pid


def frozen(reckoner: Reckoner, uid: str) -> int:
    """The process that reckons for a machine, held in the middle of it: it has read the record, and has not answered.

    Its record may have been marked for that more than once: on a busy machine it may be done before it is held.
    """
    for _ in range(20):
        reckoner.want(uid)
        until(lambda: "running order" in (reckoner._job.step if reckoner._job else ""), "the drawing", every_s=0.002)
        pid = child_pid(reckoner)
        os.kill(pid, signal.SIGSTOP)
        # What it had sent before it was held arrives.
        time.sleep(0.05)
        if reckoner.look(uid).state == "running":
            return pid
        os.kill(pid, signal.SIGCONT)
        settled(reckoner, uid)
        note_finding(reckoner._place, uid, FindingForm(what="seat torn"), SENT)
    raise AssertionError("it was always done before it could be held")


def is_gone(pid: int) -> bool:
    """No such process, not even a zombie."""
    return not Path(f"/proc/{pid}").exists()
