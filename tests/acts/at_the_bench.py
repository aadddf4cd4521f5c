"""A machine in the middle of its rebuild, and the law that every act of doing obeys."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from tests.acts.kept import SENT, as_replayed, journal, sending, thistle
from wreckwright.acts.machines import load_record
from wreckwright.acts.place import Place, memory
from wreckwright.acts.sent import Sent
from wreckwright.acts.writes import Told, undo_change
from wreckwright.record.types import Job, Machine

BENCH = """\
nickname = "Thistle"
machine_class = "naked"
year = 2016
as_of = 2026-11-20
market.sound_value_minor = 400000

[purchase]
bought = true
price_minor = 80000

[[findings]]
id = "f1"
component = "lever_brake_front"
condition = "bent"

[[findings]]
id = "f2"
component = "fork_tube_l"
condition = "bent"

[[parts]]
id = "p1"
component = "lever_brake_front"
state = "here"
remedy = "pattern"

[[parts]]
id = "p2"
component = "battery"
state = "ordered"
ordered_on = 2026-11-10
supplier = "the shop at the corner"

[[parts]]
id = "p3"
name = "tank badge"
state = "here"

[[jobs]]
id = "j1"
name = "True the wheel"
component = "front_wheel"
kind = "repair"
parts = ["p3"]

[[jobs]]
id = "j2"
name = "Clean the chain"
kind = "clean"

[[errands]]
id = "e1"
kind = "trip"
words = "the inspection"
wants = ["rolls"]

[[batches]]
id = "b1"
name = "black paint"
components = ["side_stand"]
"""
"""A brake lever whose part is here, a fork tube that nobody has touched, own parts and jobs, a trip and a batch."""
BURDOCK = """\
nickname = "Burdock"
machine_class = "tourer"
year = 2011
purchase = { bought = true }

[[jobs]]
id = "j7"
name = "Sew the seat"
"""


def bench(folder: Path, more: str = "") -> tuple[Place, str]:
    return thistle(folder, BENCH + more)


def second(place: Place, folder: Path, text: str) -> str:
    """Another machine in the same memory; its identity."""
    file = folder / "second.toml"
    file.write_text(text, encoding="utf-8")
    return load_record(place, file, sent=SENT).uid


def all_machines(place: Place) -> dict[str, Machine]:
    with memory(place).reading() as reader:
        return {head.uid: reader.machine(head.uid) for head in reader.machines()}


def as_one(place: Place, act: Callable[[Sent], Told], op: str = "operation1") -> Told:
    """Do it, and see that it is one change, counts once when it is sent twice, and is taken back whole by undo and
    brought back whole; afterwards it is done."""
    before, lines = all_machines(place), len(journal(place))
    told = act(sending(op))
    after = all_machines(place)
    assert told.change_id is not None and after != before
    assert journal(place)[0] == told.said and len(journal(place)) == lines + 1
    assert act(sending(op)) == as_replayed(told)
    assert all_machines(place) == after
    undo = undo_change(place, told.change_id, SENT)
    assert all_machines(place) == before
    undo_change(place, str(undo.change_id), SENT)
    assert all_machines(place) == after
    return told


def nothing_written(place: Place, act: Callable[[], object], kind: type[Exception]) -> Exception:
    """It is refused with this error, and nothing of it is kept."""
    before, lines = all_machines(place), len(journal(place))
    try:
        act()
    except kind as error:
        assert all_machines(place) == before and len(journal(place)) == lines
        return error
    raise AssertionError(f"no {kind.__name__}")


def job_of(machine: Machine, key: str) -> Job:
    return next(job for job in machine.jobs if job.stands_for == key)
