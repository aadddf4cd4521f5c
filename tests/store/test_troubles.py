"""What the database reports, in words; and that nothing is half written then."""

from __future__ import annotations

import os
import sqlite3
import time
from pathlib import Path

import pytest
import sqlalchemy as sa
from sqlalchemy import event

from tests.store.stores import (
    assert_whole,
    everything,
    in_parts,
    made,
    new_store,
    put,
    take_in,
    write,
)
from wreckwright.store.engine import Store, open_store
from wreckwright.store.troubles import in_words
from wreckwright.store.types import Operation

A_TAP = put("tap1", "taps", 0, what="snag")


def on_connect(store: Store, pragma: str) -> None:
    """From now on every connection begins with this."""
    store.engine.dispose()
    event.listen(store.engine, "connect", lambda connection, _: connection.execute(pragma))


def test_a_database_kept_by_another_program_is_told_after_the_wait(tmp_path: Path) -> None:
    path = tmp_path / "a.sqlite"
    with new_store(path, wait_ms=60) as store:
        take_in(store, made())
        other = sqlite3.connect(path, isolation_level=None)
        other.execute("BEGIN IMMEDIATE")
        start = time.monotonic()
        error = in_parts(lambda: write(store, A_TAP))
        assert 0.05 < time.monotonic() - start < 5
        assert "in use by another program" in error.what and "Nothing was written" in error.do
        with store.reading() as reader:
            assert len(reader.changes()) == 1
        other.execute("ROLLBACK")
        other.close()
        write(store, A_TAP)


def test_a_full_disk_is_told_and_nothing_is_half_written(tmp_path: Path) -> None:
    with new_store(tmp_path / "a.sqlite") as store:
        take_in(store, made())
        before = everything(store)
        with store.engine.connect() as connection:
            pages = connection.exec_driver_sql("PRAGMA page_count").scalar_one()
        # The limit makes SQLite report what it reports when the disk is full (SQLITE_FULL).
        on_connect(store, f"PRAGMA max_page_count={pages}")
        much = [put(f"tap{number}", "taps", 0, what="snag", note="x" * 1900) for number in range(20)]
        operation = Operation(device="phone", op="tap-00000001", body_hash="a")
        error = in_parts(lambda: write(store, *much, operation=operation))
        assert "the disk is full" in error.what and "Nothing was written" in error.do
        assert everything(store) == before
        store.engine.dispose()
    with open_store(tmp_path / "a.sqlite", create=False) as store:
        assert not write(store, *much, operation=operation).replayed
        assert_whole(store)


def test_a_database_that_may_only_be_read_is_told(tmp_path: Path) -> None:
    with new_store(tmp_path / "a.sqlite") as store:
        take_in(store, made())
        on_connect(store, "PRAGMA query_only=ON")
        assert "cannot be written" in in_parts(lambda: write(store, A_TAP)).what
        with store.reading() as reader:
            assert len(reader.changes()) == 1


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="for this user nothing is closed")
def test_a_folder_that_is_closed_is_told(tmp_path: Path) -> None:
    tmp_path.chmod(0o500)
    try:
        in_parts(lambda: open_store(tmp_path / "a.sqlite", create=True))
    finally:
        tmp_path.chmod(0o700)


@pytest.mark.parametrize(
    ("code", "what"),
    # published (sqlite.org/rescode.html): the low byte is the primary result code.
    [
        (5, "in use by another program"),
        (261, "in use by another program"),  # SQLITE_BUSY_RECOVERY
        (517, "in use by another program"),  # SQLITE_BUSY_SNAPSHOT
        (13, "the disk is full"),
        (8, "cannot be written"),
        (1544, "cannot be written"),  # SQLITE_READONLY_DIRECTORY
        (14, "cannot be opened"),
        (11, "damaged"),
        (26, "damaged"),
        (10, "reports an error"),
        (1034, "reports an error"),  # SQLITE_IOERR_FSYNC
    ],
)
def test_what_sqlite_reports_is_told_in_words(code: int, what: str) -> None:
    error = sqlite3.OperationalError("cryptic")
    error.sqlite_errorcode = code

    def report() -> None:
        with in_words("a.sqlite"):
            raise error

    told = in_parts(report)
    assert what in told.what and "a.sqlite" in told.what and "cryptic" not in str(told)


def postgresql_error(state: str | None) -> Exception:
    kind = type("OperationalError" if state is None else "DatabaseError", (Exception,), {"sqlstate": state})
    return sa.exc.DBAPIError("SELECT 1", {}, kind("cryptic"))


@pytest.mark.parametrize(
    ("state", "what"),
    # published (PostgreSQL manual, appendix A)
    [
        ("53100", "the disk is full"),
        ("55P03", "in use by another program"),
        ("40P01", "in use by another program"),
        ("57P01", "does not answer"),
        ("08006", "does not answer"),
        ("28P01", "does not answer"),
        ("42P01", "tables"),
        (None, "does not answer"),
    ],
)
def test_what_postgresql_reports_is_told_in_words(state: str | None, what: str) -> None:
    def report() -> None:
        with in_words("the database"):
            raise postgresql_error(state)

    assert what in in_parts(report).what


def test_faults_of_the_program_are_not_dressed_up() -> None:
    for fault in (sqlite3.ProgrammingError("closed"), postgresql_error("23505"), KeyError("x")):
        with pytest.raises(type(fault)), in_words("a.sqlite"):
            raise fault
    syntax = sqlite3.OperationalError("near x: syntax error")
    syntax.sqlite_errorcode = sqlite3.SQLITE_ERROR
    with pytest.raises(sqlite3.OperationalError), in_words("a.sqlite"):
        raise syntax
