"""What a database reports, in the words of a StoreError: what is wrong, what is allowed, what to do."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from typing import NamedTuple

import sqlalchemy as sa

from wreckwright.errors import StoreError


class _Trouble(NamedTuple):
    what: str
    allowed: str
    do: str


_NOTHING_WRITTEN = "Nothing was written"
_BUSY = _Trouble(
    "is in use by another program, and stayed so while we waited",
    "one writer at a time",
    "Try again in a moment; if it stays so, close the other program that has it open. " + _NOTHING_WRITTEN,
)
_FULL = _Trouble(
    "cannot grow: the disk is full",
    "some free space where the data folder lies",
    "Make room on that disk and do it again. " + _NOTHING_WRITTEN,
)
_CLOSED = _Trouble(
    "cannot be written",
    "a file and a folder that you may write to",
    "Check whose the data folder is, and that the disk is not set to reading only. " + _NOTHING_WRITTEN,
)
_UNOPENED = _Trouble(
    "cannot be opened",
    "a file that you may read and write, in a folder that is there",
    "Check the name of the data folder and whose it is",
)
_DAMAGED = _Trouble(
    "is damaged, or is no database of this program",
    "the file wreckwright.sqlite as this program left it",
    "Put it aside and restore the newest backup",
)
_DISK = _Trouble(
    "cannot be read or written: the disk reports an error",
    "a disk that works",
    "Check the disk and its cable, then make a backup elsewhere. " + _NOTHING_WRITTEN,
)
_TABLES = _Trouble(
    "has not the tables that this program expects",
    "a memory that has been brought up to date",
    "Open it with the version that wrote it, or restore a backup",
)
_AWAY = _Trouble(
    "does not answer",
    "a database server that is running and lets you in",
    "Check the address, the name and the password, and that the server is running. " + _NOTHING_WRITTEN,
)

_SQLITE = {
    sqlite3.SQLITE_BUSY: _BUSY,
    sqlite3.SQLITE_LOCKED: _BUSY,
    sqlite3.SQLITE_PROTOCOL: _BUSY,
    sqlite3.SQLITE_FULL: _FULL,
    sqlite3.SQLITE_READONLY: _CLOSED,
    sqlite3.SQLITE_PERM: _CLOSED,
    sqlite3.SQLITE_AUTH: _CLOSED,
    sqlite3.SQLITE_CANTOPEN: _UNOPENED,
    sqlite3.SQLITE_CORRUPT: _DAMAGED,
    sqlite3.SQLITE_NOTADB: _DAMAGED,
    sqlite3.SQLITE_IOERR: _DISK,
}
_POSTGRESQL = {
    "08": _AWAY,
    "28": _AWAY,
    "3D": _AWAY,
    "40": _BUSY,
    "42P01": _TABLES,
    "42703": _TABLES,
    "53": _FULL,
    "55": _BUSY,
    "57": _AWAY,
    "58": _DISK,
}
"""First signs of an SQLSTATE -> trouble; the longest that fits counts."""


@contextmanager
def in_words(name: str) -> Iterator[None]:
    """Troubles of the database `name` inside become StoreErrors; faults of the program stay what they are."""
    try:
        yield
    except (sa.exc.DBAPIError, sqlite3.Error) as error:
        cause = error.orig if isinstance(error, sa.exc.DBAPIError) else error
        trouble = _of_sqlite(cause) if isinstance(cause, sqlite3.Error) else _of_postgresql(cause)
        if trouble is None:
            raise
        raise StoreError(f"The memory {name} {trouble.what}", trouble.allowed, trouble.do) from error


def _of_sqlite(error: sqlite3.Error) -> _Trouble | None:
    # The low byte is the plain code, the rest says more closely where it arose. Errors of the driver have none.
    code = getattr(error, "sqlite_errorcode", None)
    if code is None:
        return None
    if code & 0xFF == sqlite3.SQLITE_ERROR and ("no such table" in str(error) or "no such column" in str(error)):
        return _TABLES
    return _SQLITE.get(code & 0xFF)


def _of_postgresql(error: BaseException | None) -> _Trouble | None:
    state = getattr(error, "sqlstate", None)
    if state is None:
        # A connection that never came about has no state.
        return _AWAY if type(error).__name__ in ("OperationalError", "ConnectionTimeout") else None
    return next((_POSTGRESQL[state[:length]] for length in (5, 2) if state[:length] in _POSTGRESQL), None)
