"""Only what nothing names is swept, and only when it is old. All expected values are hand-worked."""

from __future__ import annotations

import os
import sqlite3
from pathlib import Path

from tests.acts.kept import EXAMPLES, SENT, thistle
from wreckwright.acts.machines import load_record
from wreckwright.acts.orphans import WEEK_S, sweep_photographs
from wreckwright.acts.photographs import keep
from wreckwright.acts.place import Place, forget_open
from wreckwright.acts.safe import backup_all
from wreckwright.acts.sent import Sent
from wreckwright.acts.writes import tap, undo_change
from wreckwright.store.photos import photo_path, photos

PNG = b"\x89PNG\r\n\x1a\n" + bytes(30)


def aged(place: Place, data: bytes, days: float) -> str:
    sha = keep(place, data)
    path = photo_path(place.photos, sha)
    then = path.stat().st_mtime - days * 24 * 3600
    os.utime(path, (then, then))
    return sha


def began_long_ago(place: Place) -> None:
    with sqlite3.connect(place.database) as raw:
        raw.execute("UPDATE change SET at = '2020-01-01 00:00:00.000000'")


def kept(place: Place) -> set[str]:
    return {sha for sha, _ in photos(place.photos)}


def test_only_what_is_old_and_nowhere_named_goes(tmp_path: Path) -> None:
    place, uid = thistle(tmp_path)
    named, undone, orphan, young = (
        aged(place, PNG + bytes([i]), days) for i, days in enumerate((30.0, 30.0, 8.0, 6.0))
    )
    tap(place, uid, "snag", "", (named,), SENT)
    told = tap(place, uid, "bag", "", (undone,), SENT)
    assert told.change_id is not None
    undo_change(place, told.change_id, SENT)
    assert kept(place) == {named, undone, orphan, young}
    began_long_ago(place)
    assert sweep_photographs(place) == 1
    assert kept(place) == {named, undone, young}
    assert sweep_photographs(place, older_than_s=5 * 24 * 3600) == 1 and kept(place) == {named, undone}


def test_what_a_copy_names_stays(tmp_path: Path) -> None:
    place, uid = thistle(tmp_path)
    sha = aged(place, PNG, 30)
    tap(place, uid, "snag", "", (sha,), SENT)
    copy = backup_all(place)
    with sqlite3.connect(place.database) as raw:
        # As after going back to a copy made before the tap.
        for table in ("row_image", "operation", "record_row"):
            raw.execute(f"DELETE FROM {table}")
    began_long_ago(place)
    assert sweep_photographs(place) == 0 and kept(place) == {sha}
    copy.unlink()
    assert sweep_photographs(place) == 1


def test_a_copy_that_cannot_be_read_stops_it(tmp_path: Path) -> None:
    place, _ = thistle(tmp_path)
    sha = aged(place, PNG, 30)
    place.backups.mkdir(exist_ok=True)
    began_long_ago(place)
    (place.backups / "damaged-20261125T193012Z.sqlite").write_bytes(b"rubbish")
    assert sweep_photographs(place) == 0 and kept(place) == {sha}


def test_without_a_memory_there_is_nothing_to_sweep(tmp_path: Path) -> None:
    assert sweep_photographs(Place(tmp_path / "none")) == 0
    assert WEEK_S == 604_800 and not (tmp_path / "none").exists()


def test_what_is_older_than_the_memory_stays(tmp_path: Path) -> None:
    """As where the database was lost, or a new computer has its photographs before its machines are put back."""
    place, uid = thistle(tmp_path)
    sha = aged(place, PNG, 30)
    tap(place, uid, "snag", "", (sha,), SENT)
    place.database.unlink()
    forget_open(place)
    load_record(place, EXAMPLES / "bramble.toml", sent=Sent(who="the bench"))
    assert sweep_photographs(place) == 0 and kept(place) == {sha}
