"""Bring a database up to date, with a copy made before, in one transaction.

The steps lie in `versions/`, one file each; the first four signs of its name are the number of the schema it leads to.
Alembic runs them. It is loaded only when there is something to do: looking takes a millisecond.
"""

from __future__ import annotations

import datetime as dt
import sqlite3
import threading
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import sqlalchemy as sa
from sqlalchemy import event
from sqlalchemy.engine import URL, Connection
from sqlalchemy.pool import NullPool

from wreckwright.errors import StoreError
from wreckwright.store.copying import OUR_TABLES, copy_database
from wreckwright.store.engine import Store
from wreckwright.store.troubles import in_words

VERSIONS = Path(__file__).with_name("versions")

WAIT_MS = 120_000
"""How long to wait for another program that is migrating the same database, in milliseconds."""

_ONE_RUN_AT_A_TIME = threading.Lock()
"""Steps find their transaction through a global of Alembic, so threads take turns, also on different databases."""

_NOTE = "alembic_version"
_LOCK = 0x77726563
"""Number of the lock that keeps two programs from migrating one PostgreSQL database at once: "wrec"."""


def known() -> tuple[str, ...]:
    """Numbers of all schemas that this program knows, oldest first; the last one is its own.

    >>> known()[:2]
    ('0001', '0002')
    """
    return tuple(sorted(path.name[:4] for path in VERSIONS.glob("[0-9][0-9][0-9][0-9]_*.py")))


def pending(store: Store) -> tuple[str, ...]:
    """Numbers of the schemas that the database has still to go through; none: it is up to date. Writes nothing.

    Raises StoreError if the database is newer than the program, or is not one of this program.
    """
    with in_words(store.name), store.engine.connect() as connection, connection.begin():
        return _after(_schema(connection, store.name), store.name)


def migrate(store: Store, *, backups: Path | None) -> Path | None:
    """Bring the database up to date; gives the path of the copy made before, None if none was needed.

    The copy goes into the folder `backups` (made if it is not there) under a name such as
    `wreckwright-20261125T193000Z-before-0002.sqlite`. It is not needed if there was nothing to do, if the database is
    new, or if `backups` is None: the caller has a copy. A PostgreSQL database is backed up by its own tools.
    All steps are one transaction: on any error the database is as it was. Programs that start at the same time
    wait for each other, and one of them migrates.
    Raises StoreError.
    """
    if not pending(store):
        return None
    with in_words(store.name), _alone(store) as connection:
        # Asked once more: another program may have been quicker.
        before = _schema(connection, store.name)
        steps = _after(before, store.name)
        if not steps:
            return None
        copy = _copy(store, backups, steps[-1]) if before and backups and store.path else None
        try:
            _run(connection, steps[-1])
            _check_references(connection)
        except Exception as error:
            where = f"a copy from before is {copy}" if copy else "there was no need of a copy"
            raise StoreError(
                f"{store.name} could not be brought from schema {before or 'none'} to {steps[-1]}"
                f" ({type(error).__name__}: {' '.join(str(error).split())[:300]})",
                allowed="A database as this program left it, and some free space where it lies",
                do=f"Nothing was changed, and {where}; go on with the version that wrote it, and report this",
            ) from error
    return copy


def _schema(connection: Connection, name: str) -> str:
    """Number of the schema the database is in; empty: it has no tables yet."""
    tables = set(sa.inspect(connection).get_table_names())
    if not tables:
        return ""
    numbers = connection.scalars(sa.text(f"SELECT version_num FROM {_NOTE}")).all() if _NOTE in tables else []
    if len(numbers) != 1 or not tables >= OUR_TABLES:
        raise StoreError(
            f"{name} is a database of something else (its tables: {', '.join(sorted(tables)[:6])})",
            allowed="A database made by this program, or an empty one",
            do="Name another data folder; nothing was changed",
        )
    return str(numbers[0])


def _after(schema: str, name: str) -> tuple[str, ...]:
    numbers = known()
    if schema and schema not in numbers:
        raise StoreError(
            f"{name} has schema {schema}, and this program knows none after {numbers[-1]}",
            allowed=f"Schema {numbers[0]} to {numbers[-1]}",
            do="Open it with a newer version of wreckwright; nothing was changed",
        )
    return tuple(number for number in numbers if number > schema)


@contextmanager
def _alone(store: Store) -> Iterator[Connection]:
    """One transaction in which nobody else writes; kept as a whole, or not at all if anything is raised."""
    if store.path is None:
        # READ COMMITTED: what is seen must be what the program before us left, not what was there while we waited.
        with store.engine.connect().execution_options(isolation_level="READ COMMITTED") as connection:
            with connection.begin():
                connection.execute(sa.select(sa.func.pg_advisory_xact_lock(_LOCK)))
                yield connection
        return
    path = store.path

    def connect() -> sqlite3.Connection:
        # isolation_level=None: left to itself the driver would begin no transaction before the first row is written, so
        # that tables made before that would stay. Foreign keys are off, since to change a table SQLite makes a new one
        # and drops the old one, and that must not touch what points at it.
        connection = sqlite3.connect(f"{path.as_uri()}?mode=rw", uri=True, timeout=WAIT_MS / 1000, isolation_level=None)
        for pragma in ("foreign_keys=OFF", "synchronous=FULL", "fullfsync=ON"):
            connection.execute(f"PRAGMA {pragma}")
        return connection

    engine = sa.create_engine(URL.create("sqlite", database=str(path)), creator=connect, poolclass=NullPool)
    event.listen(engine, "begin", lambda connection: connection.exec_driver_sql("BEGIN IMMEDIATE"))
    with engine.connect() as connection, connection.begin():
        yield connection


def _copy(store: Store, backups: Path, last: str) -> Path:
    """A copy of the database as it is committed, in the folder `backups`."""
    stamp = dt.datetime.now(dt.UTC).strftime("%Y%m%dT%H%M%SZ")
    stem = f"wreckwright-{stamp}-before-{last}"
    try:
        backups.mkdir(parents=True, exist_ok=True, mode=0o700)
    except OSError as error:
        raise StoreError(
            f"The folder {backups} for the copy made before cannot be made ({error.strerror})",
            allowed="A folder that you may write to",
            do="See to that folder and start again; nothing was changed",
        ) from error
    target = backups / f"{stem}.sqlite"
    number = 2
    while target.exists():
        target = backups / f"{stem}-{number}.sqlite"
        number += 1
    with closing(store.engine.raw_connection()) as pooled:
        source = pooled.driver_connection
        assert isinstance(source, sqlite3.Connection)
        copy_database(source, target)
    return target


def _run(connection: Connection, last: str) -> None:
    """Run the steps up to `last` inside the transaction that is open."""
    from alembic.config import Config
    from alembic.runtime.environment import EnvironmentContext
    from alembic.script import ScriptDirectory

    scripts = ScriptDirectory(str(VERSIONS), version_locations=[str(VERSIONS)])
    environment = EnvironmentContext(Config(), scripts, fn=lambda revision, _: scripts._upgrade_revs(last, revision))
    with _ONE_RUN_AT_A_TIME, environment:
        environment.configure(connection=connection)
        with environment.begin_transaction():
            environment.run_migrations()


def _check_references(connection: Connection) -> None:
    """Raises ValueError if a row points at nothing: SQLite did not look while foreign keys were off."""
    if connection.dialect.name == "sqlite":
        broken = connection.exec_driver_sql("PRAGMA foreign_key_check").first()
        if broken is not None:
            raise ValueError(f"a row of {broken[0]} points at nothing in {broken[2]}")
