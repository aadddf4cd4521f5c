"""What the tests of the memory's use cases share: a place with a machine in it, and who sends what."""

from __future__ import annotations

import dataclasses
import datetime as dt
import shutil
from pathlib import Path
from typing import Any

from wreckwright.acts.ask import read_machine
from wreckwright.acts.machines import load_record
from wreckwright.acts.place import Place, make_folder, memory
from wreckwright.acts.safe import backup_all
from wreckwright.acts.sent import Sent
from wreckwright.acts.writes import Told
from wreckwright.record.types import Machine
from wreckwright.store.types import RowKey

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
AT = dt.datetime(2026, 11, 25, 19, 30, 12, 345678, tzinfo=dt.UTC)
SENT = Sent(who="the bench", at=AT)
THISTLE = """\
nickname = "Thistle"
machine_class = "naked"
year = 2016
as_of = 2026-11-20
findings = ["left mirror gone"]

[purchase]
bought = true
price_minor = 80000

[[parts]]
id = "p1"
component = "mirror_l"
name = "Left mirror"
state = "ordered"
ordered_on = 2026-11-10

[[jobs]]
id = "j1"
name = "True the wheel"
component = "front_wheel"
kind = "repair"

[[taps]]
what = "snag"
note = "rear brake drags"
"""


def sending(op: str, body: str = "one", who: str = "telephone ab12", *, person: bool = False) -> Sent:
    return Sent(who=who, person=person, device="ab12", op=op, body_hash=body, at=AT)


MADE: dict[str, tuple[bytes, str]] = {}
"""Record -> the database with it in, and its identity: making tables takes ten times as long as copying a file."""


def thistle(folder: Path, text: str = THISTLE) -> tuple[Place, str]:
    """A place with Thistle in it, and her identity; her record lies beside it."""
    file = folder / "thistle.toml"
    file.write_text(text, encoding="utf-8")
    place = Place(folder / "data")
    if text not in MADE:
        uid = load_record(place, file, sent=SENT).uid
        MADE[text] = backup_all(place, folder / "made").read_bytes(), uid
        shutil.rmtree(folder / "made")
        return place, uid
    database, uid = MADE[text]
    make_folder(place.folder)
    place.database.write_bytes(database)
    place.database.chmod(0o600)
    return place, uid


def machine(place: Place, uid: str) -> Machine:
    return read_machine(place, uid)


def row(place: Place, uid: str, kind: str, handle: str = "") -> Any:
    """The row as it is stored: (rev, fields)."""
    with memory(place).reading() as reader:
        stored = reader.row(RowKey(machine=uid, kind=kind, handle=handle or kind))
    assert stored is not None
    return stored.rev, dict(stored.fields)


def rev(place: Place, uid: str, kind: str, handle: str = "") -> int:
    found: int = row(place, uid, kind, handle)[0]
    return found


def journal(place: Place) -> list[str]:
    """What was done, newest first."""
    with memory(place).reading() as reader:
        return [line.what for line in reader.changes(limit=1000)]


def as_replayed(told: Told) -> Told:
    """What the same sending must be told when it comes again."""
    return dataclasses.replace(told, replayed=True)
