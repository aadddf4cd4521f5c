"""A copy of the whole memory, and the way back, while others have it open; nothing is taken back unseen."""

from __future__ import annotations

import os
import random
import sqlite3
import threading
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from tests.store.databases import TEASEL, ask, dump, first_schema, order, teasel
from wreckwright.errors import StoreError
from wreckwright.store import copying
from wreckwright.store.backup import backup, restore
from wreckwright.store.copying import examine
from wreckwright.store.engine import Store, open_store
from wreckwright.store.migrate import migrate

WHAT = "SELECT what FROM change WHERE seq = 9"


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    folder = tmp_path / "data"
    folder.mkdir()
    with open_store(first_schema(folder / "wreckwright.sqlite"), create=False) as opened:
        migrate(opened, backups=None)
        yield opened


@pytest.fixture
def living(store: Store) -> Path:
    assert store.path is not None
    return store.path


@pytest.fixture
def copy(store: Store, tmp_path: Path) -> Path:
    target = tmp_path / "copy.sqlite"
    backup(store, target)
    return target


def names(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir()} - {"wreckwright.sqlite-wal", "wreckwright.sqlite-shm"}


# ---- Backup --------------------------------------------------------------------------------------------------------


def test_a_backup_is_one_file_that_says_the_same(living: Path, copy: Path) -> None:
    assert dump(copy) == dump(living)
    assert examine(copy) == "0002"
    # Published: byte 18 and 19 of a database file are 1 when it needs no log beside it (SQLite file format, 1.3.3).
    assert copy.read_bytes()[18:20] == b"\1\1"
    assert names(copy.parent) == {"copy.sqlite", "data"}
    assert copy.stat().st_mode & 0o777 == 0o600


def test_a_backup_has_what_is_committed_and_nothing_of_what_is_not(store: Store, living: Path, tmp_path: Path) -> None:
    order(living, "UPDATE change SET what = 'committed' WHERE seq = 9")
    with closing(sqlite3.connect(living, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        other.execute("UPDATE change SET what = 'in the middle of it' WHERE seq = 9")
        backup(store, tmp_path / "copy.sqlite")
        other.execute("ROLLBACK")
    assert ask(tmp_path / "copy.sqlite", WHAT) == [("committed",)]


def test_backups_made_while_somebody_writes_are_each_one_state(store: Store, living: Path, tmp_path: Path) -> None:
    begun, done = threading.Event(), threading.Event()

    def write() -> None:
        with closing(sqlite3.connect(living, timeout=10, isolation_level=None)) as other:
            turn = 0
            while not done.is_set():
                turn += 1
                other.execute("BEGIN IMMEDIATE")
                other.execute(f"UPDATE change SET who = 'turn {turn}'")
                other.execute(f"UPDATE operation SET result = 'turn {turn}'")
                other.execute("COMMIT")
                begun.set()

    writer = threading.Thread(target=write)
    writer.start()
    begun.wait(30)
    try:
        for number in range(5):
            backup(store, tmp_path / f"{number}.sqlite")
    finally:
        done.set()
        writer.join()
    for number in range(5):
        path = tmp_path / f"{number}.sqlite"
        examine(path)
        ((turn,),) = ask(path, "SELECT who FROM change UNION SELECT result FROM operation")
        assert str(turn).startswith("turn ")


def test_an_older_backup_is_not_written_over(store: Store, copy: Path) -> None:
    before = copy.read_bytes()
    with pytest.raises(StoreError, match="is there already") as caught:
        backup(store, copy)
    assert caught.value.allowed and caught.value.do
    assert copy.read_bytes() == before


def test_a_folder_that_is_not_there_is_told(store: Store, tmp_path: Path) -> None:
    with pytest.raises(StoreError, match="cannot be made: No such file or directory"):
        backup(store, tmp_path / "never" / "copy.sqlite")


@pytest.mark.parametrize("step", ["fsync", "replace"])
def test_a_full_disk_leaves_no_half_backup(
    store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, step: str
) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(copying.os, step, full)
    with pytest.raises(StoreError, match="No space left on device") as caught:
        backup(store, tmp_path / "copy.sqlite")
    assert "nothing was changed" in caught.value.do
    assert names(tmp_path) == {"data"}


# ---- Restore -------------------------------------------------------------------------------------------------------


def test_a_backup_comes_back_while_the_memory_is_open(store: Store, living: Path, copy: Path) -> None:
    with open_store(living, create=False) as other, other.reading() as reader:
        assert reader.machine(TEASEL) == teasel()
        with store.writing() as connection:
            connection.exec_driver_sql(
                "UPDATE machine SET nickname = 'Changed since', nickname_key = 'changed since' || uid"
            )
            connection.exec_driver_sql("DELETE FROM operation")
        with closing(sqlite3.connect(living)) as third:
            assert third.execute("SELECT count(*) FROM operation").fetchone() == (0,)
            restore(copy, store)
            # A connection that was open before sees the restored state with its next look.
            assert third.execute("SELECT count(*) FROM operation").fetchone() == (3,)
        # And one that began to read before goes on seeing the state it began with.
        assert reader.find("Teasel") == TEASEL
    with store.reading() as now:
        assert now.machine(TEASEL) == teasel()
    assert dump(living) == dump(copy)
    assert names(living.parent) == {"wreckwright.sqlite"}
    with store.writing() as connection:
        connection.exec_driver_sql("UPDATE change SET what = 'written after' WHERE seq = 9")
    assert ask(living, WHAT) == [("written after",)]


def test_a_reader_never_sees_anything_between(store: Store, living: Path, copy: Path) -> None:
    # Another state: every sentence of the journal, and every operation's answer, say so.
    with store.writing() as connection:
        connection.exec_driver_sql("UPDATE change SET who = 'now'")
        connection.exec_driver_sql("UPDATE operation SET result = 'now'")
    order(copy, "UPDATE change SET who = 'then'")
    order(copy, "UPDATE operation SET result = 'then'")
    with open_store(living, create=False) as other:
        now = living.with_name("now.sqlite")
        backup(other, now)
    seen: list[object] = []
    done = threading.Event()

    def look() -> None:
        with closing(sqlite3.connect(living, timeout=10)) as reader:
            while not done.is_set():
                seen.append(
                    tuple(reader.execute("SELECT who FROM change UNION SELECT result FROM operation").fetchall())
                )

    watcher = threading.Thread(target=look)
    watcher.start()
    try:
        for source in (copy, now) * 4:
            restore(source, store)
    finally:
        done.set()
        watcher.join()
    assert seen and set(seen) <= {(("now",),), (("then",),)}


def test_a_backup_of_an_older_schema_is_brought_up_to_date(store: Store, living: Path, tmp_path: Path) -> None:
    old = first_schema(tmp_path / "old.sqlite")
    before = old.read_bytes()
    with store.writing() as connection:
        connection.exec_driver_sql("UPDATE change SET what = 'newer'")
    restore(old, store)
    assert examine(living) == "0002"
    with store.reading() as reader:
        assert reader.machine(TEASEL) == teasel()
        assert [head.place for head in reader.machines()] == [0, 2]
    assert ask(living, WHAT) == [("Changed finding f3: can hurt",)]
    assert old.read_bytes() == before
    assert names(tmp_path) == {"data", "old.sqlite"}


def test_a_source_with_a_log_is_left_as_it_is(store: Store, living: Path, copy: Path) -> None:
    """A database of another data folder that was closed in order: no log beside it, and none is made."""
    order(copy, "PRAGMA journal_mode=WAL")
    assert copy.read_bytes()[18:20] == b"\2\2"
    copy.chmod(0o400)
    copy.parent.chmod(0o500)
    try:
        restore(copy, store)
        assert names(copy.parent) == {"copy.sqlite", "data"}
    finally:
        copy.parent.chmod(0o700)
    assert dump(living) == dump(copy)


def test_what_stands_only_in_the_log_of_a_source_comes_along(store: Store, living: Path, copy: Path) -> None:
    order(copy, "PRAGMA journal_mode=WAL")
    with closing(sqlite3.connect(copy)) as other:
        other.execute("PRAGMA wal_autocheckpoint=0")
        other.execute("UPDATE change SET what = 'only in the log' WHERE seq = 9")
        other.commit()
        restore(copy, store)
    assert ask(living, WHAT) == [("only in the log",)]


def test_a_source_with_other_pages_comes_back_too(store: Store, living: Path, copy: Path) -> None:
    with closing(sqlite3.connect(copy)) as other:
        other.execute("PRAGMA page_size=1024")
        other.execute("VACUUM")
    with store.writing() as connection:
        connection.exec_driver_sql("DELETE FROM operation")
    restore(copy, store)
    assert ask(living, "PRAGMA page_size") == [(4096,)]
    assert dump(living) == dump(copy)


def refused(path: Path, how: str) -> Path:
    """Make a file that must not be taken back, from a good copy."""
    if how == "a text":
        path.write_text("not a database, but longer than its header would be. " * 9)
    elif how == "an empty file":
        path.write_bytes(b"")
    elif how == "cut off":
        path.write_bytes(path.read_bytes()[: -3 * 4096])
    elif how == "scribbled over":
        whole = bytearray(path.read_bytes())
        whole[4096 * 2 : 4096 * 6] = random.Random(5).randbytes(4096 * 4)
        path.write_bytes(whole)
    elif how == "a newer schema":
        order(path, "UPDATE alembic_version SET version_num = '0003'")
    elif how == "no number of a schema":
        order(path, "DELETE FROM alembic_version")
    elif how == "a row that points at nothing":
        order(path, "DELETE FROM change WHERE seq = 3")
    elif how == "another program's":
        path.unlink()
        order(path, "CREATE TABLE recipes (name TEXT)")
    elif how == "an empty database":
        path.unlink()
        order(path, "VACUUM")
    elif how == "a folder":
        path.unlink()
        path.mkdir()
    else:
        path.unlink()
    return path


@pytest.mark.parametrize(
    ("how", "words"),
    [
        ("a text", "is no database of SQLite"),
        ("an empty file", "is no database of SQLite"),
        ("cut off", "malformed"),
        ("scribbled over", "is damaged: |malformed"),
        ("a newer schema", "has schema 0003, and this program knows none after 0002"),
        ("no number of a schema", "it has 0 numbers of a schema"),
        ("a row that points at nothing", "is damaged: a row of row_image points at nothing in change"),
        ("another program's", r"has other tables \(recipes\)"),
        ("an empty database", "is a database that is empty"),
        ("a folder", "There is no file"),
        ("nothing", "There is no file"),
    ],
)
def test_what_is_no_good_backup_is_refused_and_nothing_changes(
    store: Store, living: Path, copy: Path, how: str, words: str
) -> None:
    source = refused(copy, how)
    before, bytes_before = dump(living), living.read_bytes()
    with pytest.raises(StoreError, match=words) as caught:
        restore(source, store)
    assert str(source) in caught.value.what
    assert caught.value.allowed
    assert "nothing was changed" in caught.value.do or "newer version" in caught.value.do
    assert (dump(living), living.read_bytes()) == (before, bytes_before)
    assert names(living.parent) == {"wreckwright.sqlite"}


@pytest.mark.parametrize("link", [False, True])
def test_the_memory_itself_is_no_backup_of_it(store: Store, living: Path, tmp_path: Path, link: bool) -> None:
    source = living
    if link:
        source = tmp_path / "looks-like-a-copy.sqlite"
        os.link(living, source)
    with pytest.raises(StoreError, match="is the memory itself"):
        restore(source, store)


def test_a_migration_that_fails_leaves_the_memory_as_it_is(
    store: Store, living: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    old = first_schema(tmp_path / "old.sqlite")
    monkeypatch.setattr("wreckwright.store.migrate._check_references", lambda _: 1 / 0)
    before = dump(living)
    with pytest.raises(StoreError, match="could not be brought from schema 0001 to 0002"):
        restore(old, store)
    assert dump(living) == before
    assert names(living.parent) == {"wreckwright.sqlite"}


def test_who_writes_too_long_is_told_and_nothing_changes(store: Store, living: Path, copy: Path) -> None:
    order(copy, "UPDATE change SET what = 'from the copy'")
    with closing(sqlite3.connect(living, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(StoreError, match="in use by another program"):
            restore(copy, store, wait_ms=50)
        other.execute("ROLLBACK")
    assert ask(living, WHAT) == [("Changed finding f3: can hurt",)]
    assert names(living.parent) == {"wreckwright.sqlite"}


def test_a_short_write_is_waited_for(store: Store, living: Path, copy: Path) -> None:
    order(copy, "UPDATE change SET what = 'from the copy'")
    with closing(sqlite3.connect(living, isolation_level=None, check_same_thread=False)) as other:
        other.execute("BEGIN IMMEDIATE")
        other.execute("UPDATE change SET what = 'short'")
        release = threading.Timer(0.15, lambda: other.execute("COMMIT"))
        release.start()
        restore(copy, store, wait_ms=10_000)
        release.join()
    assert ask(living, WHAT) == [("from the copy",)]


class Elsewhere(Store):
    """A store without a file, as one of PostgreSQL is."""

    def __init__(self, like: Store) -> None:
        super().__init__(like.engine, path=None)


def test_a_server_is_backed_up_by_its_own_tools(store: Store, copy: Path, tmp_path: Path) -> None:
    for wrong in (lambda: backup(Elsewhere(store), tmp_path / "a"), lambda: restore(copy, Elsewhere(store))):
        with pytest.raises(StoreError, match="PostgreSQL server") as caught:
            wrong()
        assert "pg_dump" in caught.value.do


def test_what_a_killed_restore_left_goes_with_the_next_one(store: Store, living: Path, copy: Path) -> None:
    old, young = (living.parent / f".restore-{name}" for name in ("killed", "under-way"))
    for folder in (old, young):
        folder.mkdir()
        (folder / living.name).write_bytes(copy.read_bytes())
    os.utime(old, (1_700_000_000, 1_700_000_000))
    restore(copy, store)
    assert names(living.parent) == {living.name, young.name}
