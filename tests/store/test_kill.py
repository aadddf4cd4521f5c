"""Programs that write are killed at any moment, and write at the same time.

What this shows: whatever was acknowledged is there, once, after a process died (SIGKILL) in the middle of anything, and
the database is sound. What it does not show: that the same holds when the power goes. A killed process loses nothing
that it has handed to the operating system; a machine without power does. For that one has to rely on SQLite with
`PRAGMA synchronous=FULL`, and on a disk that does what it says: see "Atomic Commit In SQLite"
(https://www.sqlite.org/atomiccommit.html, the chapter "Things That Can Go Wrong"), and for how SQLite itself is tried
with simulated losses of power "How SQLite Is Tested" (https://www.sqlite.org/testing.html, "Crash Testing").
"""

from __future__ import annotations

import os
import random
import subprocess
import sys
import threading
import time
from collections import Counter
from collections.abc import Mapping
from pathlib import Path
from typing import NamedTuple

import pytest

import tests.store.writer as writer
from tests.store.stores import assert_whole, new_store
from wreckwright.store.engine import Store, open_store

ROOT = Path(__file__).resolve().parents[2]
STREAMS = (("phone", "tablet"), ("bench", "office"))
"""Devices, by the program that writes for them."""
EACH = 250
KILLED_ROUNDS = 8


class Answer(NamedTuple):
    change_id: str
    handle: str
    replayed: bool


class Child:
    """A writing program, and what it has acknowledged."""

    def __init__(self, path: Path, count: int, *, shared: bool, starts: Mapping[str, int]) -> None:
        self.answers: dict[tuple[str, int], Answer] = {}
        self.process = subprocess.Popen(
            [
                sys.executable,
                "-P",
                str(Path(writer.__file__)),
                str(path),
                str(count),
                str(int(shared)),
                *(f"{stream}:{start}" for stream, start in starts.items()),
            ],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            env={**os.environ, "PYTHONPATH": f"{ROOT / 'src'}{os.pathsep}{ROOT}"},
        )
        self.listener = threading.Thread(target=self._listen)
        self.listener.start()

    def _listen(self) -> None:
        assert self.process.stdout is not None
        for line in self.process.stdout:
            # A word cut off by the kill is no acknowledgement.
            if line.endswith(b"\n"):
                stream, number, change_id, handle, replayed = line.decode().split()
                self.answers[stream, int(number)] = Answer(change_id, handle, replayed == "1")

    def kill_after(self, answers: int, then_s: float) -> None:
        end = time.monotonic() + 60
        while len(self.answers) < answers and self.process.poll() is None and time.monotonic() < end:
            time.sleep(0.0005)
        time.sleep(then_s)
        self.process.kill()

    def end(self) -> tuple[int, str]:
        """Exit code and what it complained about."""
        self.listener.join()
        assert self.process.stderr is not None
        complaints = self.process.stderr.read().decode()
        code = self.process.wait()
        self.process.stderr.close()
        assert self.process.stdout is not None
        self.process.stdout.close()
        return code, complaints


def taps(store: Store) -> Counter[str]:
    """Note of each tap -> how often it is there. The odometers must agree with them."""
    found: Counter[str] = Counter()
    with store.reading() as reader:
        for head in reader.machines():
            machine = reader.machine(head.uid)
            assert machine.odometer == len(machine.taps), "a write counted twice, or half"
            found.update(tap.note for tap in machine.taps)
    return found


@pytest.mark.skipif(sys.platform == "win32", reason="SIGKILL is not known there")
def test_a_thousand_acknowledged_writes_through_many_kills(tmp_path: Path) -> None:
    path = tmp_path / "wreckwright.sqlite"
    new_store(path).close()
    chance = random.Random(20261125)
    acknowledged: dict[tuple[str, int], Answer] = {}
    kills = replays = 0
    unanswered: set[str] = set()
    next_of = {stream: 0 for streams in STREAMS for stream in streams}
    for number in range(1000):
        last = number >= KILLED_ROUNDS
        children = [
            Child(path, EACH, shared=False, starts={stream: next_of[stream] for stream in streams})
            for streams in STREAMS
        ]
        if not last:
            killers = [
                threading.Thread(target=child.kill_after, args=(chance.randint(1, 60), chance.uniform(0, 0.02)))
                for child in children
            ]
            for killer in killers:
                killer.start()
            for killer in killers:
                killer.join()
        for child in children:
            code, complaints = child.end()
            assert complaints == ""
            assert code == (0 if last else -9)
            kills += code == -9
            assert not acknowledged.keys() & child.answers.keys(), "sent again after it was acknowledged"
            acknowledged |= child.answers
            replays += sum(answer.replayed for answer in child.answers.values())
        next_of = {stream: sum(one == stream for one, _ in acknowledged) for stream in next_of}
        with open_store(path, create=False) as store:
            there = taps(store)
            with store.engine.connect() as connection:
                assert connection.exec_driver_sql("PRAGMA integrity_check").scalars().all() == ["ok"]
        sure = {f"{stream}-{of_stream}" for stream, of_stream in acknowledged}
        under_way = {f"{stream}-{following}" for stream, following in next_of.items()}
        assert all(there[note] == 1 for note in sure)
        assert all(there[note] in (0, 1) for note in under_way)
        assert there.keys() <= sure | under_way
        unanswered |= there.keys() - sure
        if last:
            break
    assert len(acknowledged) == 4 * EACH == 1000
    assert kills == 2 * KILLED_ROUNDS
    # Written, and killed before the word of it: these must have been answered from what was stored, and no others.
    assert replays == len(unanswered) > 0
    with open_store(path, create=False) as store:
        assert_whole(store)
        for (stream, of_stream), answer in acknowledged.items():
            outcome = writer.send(store, stream, of_stream, shared=False)
            assert outcome.replayed
            assert (outcome.change_id, outcome.result["handle"]) == (answer.change_id, answer.handle)
        with store.reading() as reader:
            told = {line.id: line.what for line in reader.changes(limit=10_000)}
        assert told == {answer.change_id: f"{name[0]}-{name[1]}" for name, answer in acknowledged.items()}
        assert sum(taps(store).values()) == 1000


def test_two_programs_write_to_one_machine_at_once_and_nothing_is_lost(tmp_path: Path) -> None:
    path = tmp_path / "wreckwright.sqlite"
    new_store(path).close()
    each = 30
    children = [Child(path, each, shared=True, starts=dict.fromkeys(streams, 0)) for streams in STREAMS]
    for child in children:
        assert child.end() == (0, "")
    answers = [answer for child in children for answer in child.answers.values()]
    assert len(answers) == 4 * each and not any(answer.replayed for answer in answers)
    assert len({answer.handle for answer in answers}) == len(answers), "a handle was given out twice"
    with open_store(path, create=False) as store:
        assert taps(store) == {
            f"{stream}-{number}": 1 for child in STREAMS for stream in child for number in range(each)
        }
        assert_whole(store)
        with store.reading() as reader:
            order = [line.who for line in reader.changes(limit=10_000)]
    # They really were at it at the same time: the streams are mixed, not one after the other.
    assert sum(one != other for one, other in zip(order, order[1:], strict=False)) > 4
