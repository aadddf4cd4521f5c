"""Copy a database of SQLite as a whole, and tell what a file is before anything trusts it.

SQLite's own backup call copies one state of a database while others read and write it; copying the file would not, as
part of it may still stand in the write-ahead log beside it.
"""

from __future__ import annotations

import os
import secrets
import sqlite3
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

from wreckwright.errors import StoreError
from wreckwright.store.photos import sync_folder
from wreckwright.store.troubles import in_words

WAIT_MS = 10_000
"""How long to wait for whoever is writing, in milliseconds."""

OUR_TABLES = frozenset({"machine", "record_row", "change", "row_image", "operation"})
"""In every database of this program since its first schema."""

_HEADER = b"SQLite format 3\0"
_ANOTHER = "A backup that this program made, or the file wreckwright.sqlite of a data folder"
_CHOOSE = "Choose another file; nothing was changed"


def examine(path: Path) -> str:
    """Number of the schema of the database in `path`, which is whole and made by this program; it is only read.

    Raises StoreError that says what the file is instead.
    """
    if not path.is_file():
        raise StoreError(f"There is no file {path}", allowed=_ANOTHER, do=_CHOOSE)
    try:
        with open(path, "rb") as file:
            header = file.read(100)
    except OSError as error:
        raise StoreError(f"{path} cannot be read ({error.strerror})", allowed=_ANOTHER, do=_CHOOSE) from error
    if not header.startswith(_HEADER):
        raise StoreError(f"{path} is no database of SQLite", allowed=_ANOTHER, do=_CHOOSE)
    try:
        with closing(to_read(path)) as connection:
            return _examined(path, connection)
    except sqlite3.Error as error:
        raise StoreError(f"{path} cannot be read as a database: {error}", allowed=_ANOTHER, do=_CHOOSE) from error


def _examined(path: Path, connection: sqlite3.Connection) -> str:
    found = [line for (line,) in connection.execute("PRAGMA integrity_check(3)")]
    if found != ["ok"]:
        raise _damaged(path, found[0])
    tables = {name for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
    if not tables >= OUR_TABLES | {"alembic_version"}:
        what = f"has other tables ({', '.join(sorted(tables)[:5])})" if tables else "is empty"
        raise StoreError(f"{path} is a database that {what}", allowed=_ANOTHER, do=_CHOOSE)
    if broken := connection.execute("PRAGMA foreign_key_check").fetchone():
        raise _damaged(path, f"a row of {broken[0]} points at nothing in {broken[2]}")
    numbers = [number for (number,) in connection.execute("SELECT version_num FROM alembic_version")]
    if len(numbers) != 1:
        raise _damaged(path, f"it has {len(numbers)} numbers of a schema instead of one")
    return str(numbers[0])


def _damaged(path: Path, why: str) -> StoreError:
    why = " ".join(why.split())
    return StoreError(f"{path} is damaged: {why}", allowed=_ANOTHER, do="Choose an older backup; nothing was changed")


def to_read(path: Path) -> sqlite3.Connection:
    """A connection that leaves the file, and the folder it lies in, as they are wherever SQLite allows that."""
    with open(path, "rb") as file:
        keeps_log = file.read(20)[18:20] == b"\2\2"
    # A database that was last written with a log, and has none beside it now, is open nowhere. To read it in the usual
    # way SQLite would make new files beside it, which fails on a disk that can only be read.
    alone = keeps_log and not path.with_name(f"{path.name}-wal").exists()
    return sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro{'&immutable=1' if alone else ''}", uri=True)


def copy_database(source: sqlite3.Connection, target: Path) -> None:
    """One state of the database `source`, which others may have open, as the new file `target`.

    The copy needs no other file beside it, is found whole by SQLite, is on the disk, and only then has its name.
    Raises StoreError; then there is no `target`.
    """
    if target.exists():
        raise StoreError(
            f"{target} is there already",
            allowed="A new file name: an older copy is not written over",
            do="Choose another name, or take the older one away first",
        )
    part = target.with_name(f".{target.name}.{secrets.token_hex(8)}.part")
    try:
        os.close(os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600))
        with closing(sqlite3.connect(part)) as new:
            source.backup(new, progress=_give_up_after(WAIT_MS), sleep=0.02)
            new.execute("PRAGMA journal_mode=DELETE")
            if (found := new.execute("PRAGMA integrity_check(1)").fetchone()[0]) != "ok":
                raise sqlite3.DatabaseError(found)
        with open(part, "rb+") as file:
            os.fsync(file.fileno())
        os.replace(part, target)
        sync_folder(target.parent)
    except (OSError, sqlite3.Error) as error:
        raise StoreError(
            f"The copy {target} cannot be made: {getattr(error, 'strerror', None) or error}",
            allowed="A whole database, and a folder that is there, with room, and that you may write to",
            do="Choose another folder, or make room; nothing was changed",
        ) from error
    finally:
        part.unlink(missing_ok=True)


def pour(source: Path, target: Path, *, wait_ms: int = WAIT_MS) -> None:
    """Give the living database `target` the contents of `source`, in one transaction.

    Whoever has `target` open reads the old contents to the end of what they are reading, and then the new ones. Nobody
    else may have `source` open. Raises StoreError if somebody writes to `target` for longer than `wait_ms`.
    """
    with in_words(str(target)), closing(sqlite3.connect(source)) as new, closing(_to_write(target)) as living:
        page_bytes = living.execute("PRAGMA page_size").fetchone()[0]
        if new.execute("PRAGMA page_size").fetchone()[0] != page_bytes:
            # A database with a log keeps its size of pages for life.
            new.execute(f"PRAGMA page_size={page_bytes}")
            new.execute("VACUUM")
        new.backup(living, progress=_give_up_after(wait_ms), sleep=0.02)


def _to_write(path: Path) -> sqlite3.Connection:
    # No time-out of its own: the backup call tries again by itself, until `_give_up_after`.
    connection = sqlite3.connect(f"{path.absolute().as_uri()}?mode=rw", uri=True, timeout=0)
    connection.execute("PRAGMA synchronous=FULL")
    connection.execute("PRAGMA fullfsync=ON")
    return connection


def _give_up_after(wait_ms: int) -> Callable[[int, int, int], None]:
    """What is called after each attempt at copying; without it a copy would wait for a lock for ever."""
    end = time.monotonic() + wait_ms / 1000

    def look(status: int, remaining: int, pages: int) -> None:
        if status in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED) and time.monotonic() > end:
            error = sqlite3.OperationalError("database is locked")
            error.sqlite_errorcode = status
            raise error

    return look
