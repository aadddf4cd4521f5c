"""Open the database, and give out transactions: one of many readers, or the one writer.

SQLite: the driver begins no transaction by itself, so every one is begun here, by name. A reader's plain BEGIN sees one
state of the database from its first look to its end; a writer's BEGIN IMMEDIATE takes the write lock before the first
look, for a reader that wants to write later can be refused at once however long it would have waited. With WAL neither
keeps the other waiting. With synchronous=FULL a commit has reached the disk before it is acknowledged.

PostgreSQL: a reader's snapshot is that of REPEATABLE READ; the writer locks the journal before its first look.

What the database reports (busy, full, damaged, not to be written) becomes a StoreError in `troubles.py`.
"""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType

import sqlalchemy as sa
from sqlalchemy import event
from sqlalchemy.engine import URL, Connection, Engine, make_url
from sqlalchemy.pool import QueuePool

from wreckwright.errors import StoreError
from wreckwright.store.read import Reader
from wreckwright.store.troubles import in_words

WAIT_MS = 10_000
"""How long one waits for another writer before giving up, in milliseconds."""

_WRITES = "wreckwright_writes"
_KEPT_OPEN = 4


class Store:
    """An open database. May be shared by threads; each transaction has a connection of its own."""

    def __init__(self, engine: Engine, *, path: Path | None) -> None:
        self.engine = engine
        self.path = path
        """File of an SQLite database; None for PostgreSQL."""

    @property
    def name(self) -> str:
        """How it is called in messages."""
        return str(self.path) if self.path else self.engine.url.render_as_string(hide_password=True)

    @contextmanager
    def reading(self) -> Iterator[Reader]:
        """A reader that sees one state of the database, whatever is written meanwhile."""
        with in_words(self.name), self.engine.connect() as connection, connection.begin():
            yield Reader(connection)

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """The one writer's transaction: all of it, or nothing if anything is raised inside.

        For `apply` and the migrations only; everything else is written through `apply`.
        """
        with (
            in_words(self.name),
            self.engine.connect().execution_options(**{_WRITES: True}) as connection,
            connection.begin(),
        ):
            yield connection

    def close(self) -> None:
        """Close the connections that are not in use; the store opens new ones if it is used again."""
        self.engine.dispose()

    def __enter__(self) -> Store:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()


def open_store(path: Path, *, create: bool, wait_ms: int = WAIT_MS) -> Store:
    """The SQLite database in the file `path`. Tables are made by `migrate`, not here.

    `create` false: a file that is not there is an error, and none is made. `wait_ms`: longest wait for another writer.
    Raises StoreError if it cannot be opened or is no database.
    """
    path = path.absolute()
    if create:
        _make_file(path)
    elif not path.exists():
        raise StoreError(
            f"There is no memory at {path}",
            allowed="the file that holds the machines, wreckwright.sqlite in the data folder",
            do="Name another data folder, or take in a first machine, which makes the file",
        )

    def connect() -> sqlite3.Connection:
        # mode=rw: a file that has vanished while we are at work is an error, and is not made anew without tables.
        # isolation_level=None: the driver neither begins nor commits by itself; see _begin.
        connection = sqlite3.connect(
            f"{path.as_uri()}?mode=rw",
            uri=True,
            timeout=wait_ms / 1000,
            isolation_level=None,
            check_same_thread=False,
        )
        try:
            connection.execute("PRAGMA foreign_keys=ON")
            connection.execute("PRAGMA synchronous=FULL")
            # Only macOS knows this one: there a plain fsync does not reach the disk.
            connection.execute("PRAGMA fullfsync=ON")
        except BaseException:
            connection.close()
            raise
        return connection

    # Connections are kept, as WAL is folded in and taken away whenever the last one closes, which costs more than
    # the write; there is no upper bound, for a writer must not wait for a reader to give its connection back.
    engine = sa.create_engine(
        URL.create("sqlite", database=str(path)),
        creator=connect,
        poolclass=QueuePool,
        pool_size=_KEPT_OPEN,
        max_overflow=-1,
    )
    event.listen(engine, "begin", _begin)
    store = Store(engine, path=path)
    try:
        with in_words(store.name):
            _use_wal(engine, wait_ms=wait_ms)
    except BaseException:
        engine.dispose()
        raise
    return store


def open_url(url: str) -> Store:
    """The PostgreSQL database at `url` (`postgresql://user@host/name`). Raises StoreError if it cannot be used."""
    try:
        parsed = make_url(url)
    except sa.exc.ArgumentError:
        raise _no_such_url() from None
    if parsed.get_backend_name() != "postgresql":
        raise _no_such_url()
    try:
        engine = sa.create_engine(
            parsed.set(drivername="postgresql+psycopg"),
            isolation_level="REPEATABLE READ",
            pool_pre_ping=True,
            connect_args={"options": f"-c lock_timeout={WAIT_MS}"},
        )
    except ImportError:
        raise StoreError(
            "PostgreSQL is asked for, and the package psycopg is not installed",
            do="Install wreckwright with its extra postgresql, or use the file in the data folder",
        ) from None
    event.listen(engine, "begin", _begin)
    store = Store(engine, path=None)
    with store.reading():
        return store


def _make_file(path: Path) -> None:
    """An empty file, which is an empty database, for its owner's eyes only."""
    try:
        path.touch(mode=0o600, exist_ok=True)
    except OSError as error:
        raise StoreError(
            f"The memory {path} cannot be made ({error.strerror})",
            allowed="a file in a folder that is there and that you may write to",
            do="Check the name of the data folder and whose it is",
        ) from error


def _no_such_url() -> StoreError:
    # Neither the address nor a part of it is repeated: there may be a password in it.
    return StoreError(
        "The address of the database cannot be used",
        allowed="an address like postgresql://user@host/name",
        do="Check the address; an SQLite file is named by its data folder instead",
    )


def _begin(connection: Connection) -> None:
    writes = connection.get_execution_options().get(_WRITES, False)
    if connection.dialect.name == "sqlite":
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")
    elif writes:
        # Before the first look, so that the snapshot is taken when the lock is held. Readers are not kept waiting.
        connection.exec_driver_sql("LOCK TABLE change IN EXCLUSIVE MODE")


def _use_wal(engine: Engine, *, wait_ms: int) -> None:
    """Turn the write-ahead log on; the file remembers. Where the file system has no shared memory it stays as it is."""
    end = time.monotonic() + wait_ms / 1000
    while True:
        raw = engine.raw_connection()
        try:
            raw.cursor().execute("PRAGMA journal_mode=WAL").fetchall()
            return
        except sqlite3.OperationalError as error:
            # Two programs that open a new file at the same moment: SQLite answers at once here, without waiting.
            if error.sqlite_errorcode & 0xFF != sqlite3.SQLITE_BUSY or time.monotonic() > end:
                raise
            time.sleep(0.01)
        finally:
            raw.close()
