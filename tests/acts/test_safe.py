"""Copies of all that is kept: whole, of one moment, and good for putting everything back."""

from __future__ import annotations

import datetime as dt
import os
import shutil
import sqlite3
import threading
from pathlib import Path

import pytest

from tests.acts.kept import AT, SENT, machine, thistle
from wreckwright.acts.machines import machines
from wreckwright.acts.photographs import keep, shown
from wreckwright.acts.place import Place, forget_open, memory
from wreckwright.acts.safe import backup_all, find_copy, restore_all
from wreckwright.acts.writes import tap
from wreckwright.errors import NotThere, StoreError

PNG = b"\x89PNG\r\n\x1a\n" + bytes(30)


def at() -> dt.datetime:
    return AT


def test_a_copy_goes_into_the_folder_of_copies(tmp_path: Path) -> None:
    place, _ = thistle(tmp_path)
    keep(place, PNG)
    told: list[str] = []
    first = backup_all(place, tell=told.append, now=at)
    second = backup_all(place, now=at)
    assert first == place.backups / "wreckwright-20261125T193012Z.sqlite"
    assert second.name == "wreckwright-20261125T193012Z-2.sqlite"
    assert told == [f"All machines were copied to {first}"]
    # The photographs lie beside it anyway.
    assert sorted(one.name for one in place.backups.iterdir()) == sorted([first.name, second.name])
    assert sqlite3.connect(first).execute("PRAGMA integrity_check").fetchone() == ("ok",)


def test_a_copy_elsewhere_takes_the_photographs_that_are_not_there_yet(tmp_path: Path) -> None:
    place, _ = thistle(tmp_path)
    sha = keep(place, PNG)
    told: list[str] = []
    backup_all(place, tmp_path / "disk", tell=told.append)
    other = keep(place, PNG + b"2")
    backup_all(place, tmp_path / "disk", tell=told.append)
    assert ["1 photograph that were" in one for one in told] == [True, True]
    kept = {one.stem: one.read_bytes() for one in (tmp_path / "disk" / "photos").rglob("*.png")}
    assert kept == {sha: PNG, other: PNG + b"2"}


def test_a_damaged_photograph_is_told_and_does_not_replace_a_whole_one(tmp_path: Path) -> None:
    place, _ = thistle(tmp_path)
    sha = keep(place, PNG)
    copy = backup_all(place, tmp_path / "disk")
    original, copied = (next(folder.rglob("*.png")) for folder in (place.photos, tmp_path / "disk"))
    copied.write_bytes(PNG[:-1])
    told: list[str] = []
    restore_all(place, copy, told.append)
    assert original.read_bytes() == PNG
    assert f"The photograph {copied} is damaged, and was not copied" in told
    # The next copy puts it right, as it is of another length than the whole one.
    backup_all(place, tmp_path / "disk")
    assert copied.read_bytes() == PNG and copied.stem == sha


def test_with_nothing_to_copy_nothing_is_made(tmp_path: Path) -> None:
    with pytest.raises(NotThere, match="there is no memory"):
        backup_all(Place(tmp_path / "data"), tmp_path / "disk")
    assert list(tmp_path.iterdir()) == []


def test_what_was_copied_is_put_back_and_what_was_there_is_kept(tmp_path: Path) -> None:
    place, uid = thistle(tmp_path)
    before = machine(place, uid)
    copy = backup_all(place)
    tap(place, uid, "snag", "after the copy", (), SENT)
    after = machine(place, uid)
    told: list[str] = []
    kept = restore_all(place, copy, told.append)
    assert machine(place, uid) == before
    assert kept is not None and told[0] == f"What was there before is kept in {kept}"
    restore_all(place, kept, told.append)
    assert machine(place, uid) == after


def test_all_is_put_back_on_another_computer(tmp_path: Path) -> None:
    place, uid = thistle(tmp_path)
    sha = keep(place, PNG)
    backup_all(place, tmp_path / "disk", now=lambda: AT)
    tap(place, uid, "snag", "the newest", (), SENT)
    backup_all(place, tmp_path / "disk", now=lambda: AT + dt.timedelta(seconds=1))
    fresh = Place(tmp_path / "other" / "data")
    told: list[str] = []
    assert restore_all(fresh, tmp_path / "disk", told.append) is None
    assert machine(fresh, uid) == machine(place, uid)
    assert [one.read_bytes() for one in fresh.photos.rglob("*.png")] == [PNG]
    assert told[-1].endswith("-20261125T193013Z.sqlite, with 1 photograph".replace("-2026", "wreckwright-2026"))
    with pytest.raises(StoreError):
        # It is here, and is not a picture that can be shown: nothing else is wrong with it.
        restore_all(fresh, tmp_path / "none.sqlite")
    assert sha in {one.stem for one in fresh.photos.rglob("*.png")}


@pytest.mark.parametrize("what", ["none", "empty", "text", "other", "cut", "folder"])
def test_what_is_no_copy_is_refused_and_all_is_as_it_was(tmp_path: Path, what: str) -> None:
    place, uid = thistle(tmp_path)
    source = tmp_path / "source.sqlite"
    if what == "empty":
        source.write_bytes(b"")
    elif what == "text":
        source.write_text("not a database")
    elif what == "other":
        sqlite3.connect(source).execute("CREATE TABLE a (b)").connection.close()
    elif what == "cut":
        whole = backup_all(place, tmp_path / "disk").read_bytes()
        source.write_bytes(whole[: len(whole) // 2])
    elif what == "folder":
        source.mkdir()
    before, files = machine(place, uid), sorted(one.name for one in place.folder.iterdir())
    for data_folder in (place, Place(tmp_path / "fresh")):
        with pytest.raises(StoreError) as caught:
            restore_all(data_folder, source)
        assert caught.value.allowed and caught.value.do
    assert machine(place, uid) == before
    assert sorted(one.name for one in place.folder.iterdir()) == files
    assert not (tmp_path / "fresh").exists()


def test_a_damaged_database_is_put_aside_and_replaced(tmp_path: Path) -> None:
    place, uid = thistle(tmp_path)
    before = machine(place, uid)
    copy = backup_all(place)
    forget_open(place)
    with open(place.database, "r+b") as file:
        # The first page is left; the tables behind it are not.
        file.seek(4096)
        file.write(os.urandom(20_000))
    damaged = place.database.read_bytes()
    told: list[str] = []
    kept = restore_all(place, copy, told.append)
    assert kept is not None and kept.parent == place.backups and kept.name.startswith("damaged-")
    assert kept.read_bytes() == damaged and str(kept) in told[0]
    assert machine(place, uid) == before


def test_copies_of_an_older_schema_are_brought_up_to_date(tmp_path: Path) -> None:
    place, uid = thistle(tmp_path)
    copy = backup_all(place)
    golden = Path(__file__).resolve().parents[1] / "store" / "golden"
    scripts = sorted(golden.glob("*0001*.sql"))
    assert scripts, "the golden file of the first schema is gone"
    older = tmp_path / "older.sqlite"
    with sqlite3.connect(older) as connection:
        connection.executescript(scripts[0].read_text(encoding="utf-8"))
    restore_all(place, older)
    assert machines(place) and uid not in {head.uid for head in machines(place)}
    restore_all(place, copy)
    assert [head.uid for head in machines(place)] == [uid]


def test_a_copy_is_of_one_moment_while_others_write(tmp_path: Path) -> None:
    place, uid = thistle(tmp_path)
    done = threading.Event()
    count = 0

    def write() -> None:
        nonlocal count
        while not done.is_set():
            tap(place, uid, "done", str(count), (), SENT)
            count += 1

    writer = threading.Thread(target=write)
    writer.start()
    try:
        copies = [backup_all(place, tmp_path / "disk") for _ in range(5)]
    finally:
        done.set()
        writer.join()
    assert count > 0
    for copy in copies:
        elsewhere = Place(tmp_path / copy.stem)
        restore_all(elsewhere, copy)
        notes = [int(one.note) for one in machine(elsewhere, uid).taps[1:]]
        assert notes == list(range(len(notes)))
        with memory(elsewhere).reading() as reader:
            # The journal is of the same moment: one entry a tap, one for the load.
            assert len(reader.changes(limit=10_000)) == len(notes) + 1


def test_the_newest_copy_of_a_folder_is_taken(tmp_path: Path) -> None:
    for name in ("wreckwright-20261124T100000Z.sqlite", "wreckwright-20261125T100000Z.sqlite", "other.sqlite"):
        (tmp_path / name).write_bytes(b"")
    assert find_copy(tmp_path).name == "wreckwright-20261125T100000Z.sqlite"
    assert find_copy(tmp_path / "other.sqlite").name == "other.sqlite"


def test_of_several_copies_of_one_second_the_last_is_the_newest(tmp_path: Path) -> None:
    place, _ = thistle(tmp_path)
    # Own rule: by their names alone the first, "...Z.sqlite", would come after "...Z-2.sqlite".
    made = [backup_all(place, tmp_path / "disk", now=lambda: AT) for _ in range(11)]
    assert find_copy(tmp_path / "disk") == made[-1]


def test_with_no_room_for_the_photographs_the_machines_are_those_of_before(tmp_path: Path) -> None:
    place, uid = thistle(tmp_path)
    keep(place, PNG)
    backup_all(place, tmp_path / "disk")
    tap(place, uid, "snag", "after the copy", (), SENT)
    after = machine(place, uid)
    (original,) = place.photos.rglob("*.png")
    # As where the disk is full, or belongs to somebody else: the folder of the photograph cannot be made.
    shutil.rmtree(original.parent)
    original.parent.write_bytes(b"")
    with pytest.raises(StoreError, match="cannot be used"):
        restore_all(place, tmp_path / "disk")
    assert machine(place, uid) == after


def test_a_picture_can_be_shown_after_all_was_put_back(tmp_path: Path) -> None:
    from tests.acts.test_photographs import telling_jpeg

    place, _ = thistle(tmp_path)
    sha = keep(place, telling_jpeg())
    backup_all(place, tmp_path / "disk")
    fresh = Place(tmp_path / "fresh")
    restore_all(fresh, tmp_path / "disk")
    assert shown(fresh, sha, 64) == shown(place, sha, 64)
