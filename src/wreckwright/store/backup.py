"""Keep a copy of the whole memory elsewhere, and take one back, while others have it open."""

from __future__ import annotations

import shutil
import sqlite3
import tempfile
import time
from contextlib import closing
from pathlib import Path

import sqlalchemy as sa
from sqlalchemy.pool import NullPool

from wreckwright.errors import StoreError
from wreckwright.store.copying import WAIT_MS, copy_database, examine, pour, to_read
from wreckwright.store.engine import Store, open_store
from wreckwright.store.migrate import known, migrate
from wreckwright.store.read import Reader
from wreckwright.store.troubles import in_words

_WORK = ".restore-"
"""Begins the name of the folder in which a copy is made ready."""
_LEFT_S = 3600.0


def backup(store: Store, target: Path) -> None:
    """One state of the database as the new file `target`, whole and on the disk before it has its name.

    Others may read and write meanwhile. Photographs are files of their own and are not in it.
    Raises StoreError if `target` is there already or cannot be written; then nothing is left behind.
    """
    _file_of(store)
    with closing(store.engine.raw_connection()) as pooled:
        source = pooled.driver_connection
        assert isinstance(source, sqlite3.Connection)
        copy_database(source, target)


def restore(source: Path, store: Store, *, wait_ms: int = WAIT_MS) -> None:
    """Give the living database the contents of the backup `source`, in one step; what it held before is gone.

    `source` is examined first, copied, and the copy brought up to date if its schema is older; `source` itself is not
    changed. So others, who may have the database open, see its old contents or the new ones and nothing between.
    `wait_ms`: longest wait for somebody who is writing, in milliseconds.
    Raises StoreError if `source` is no whole database of this program or is newer than it; then nothing was changed.
    """
    living = _file_of(store)
    if source.exists() and source.samefile(living):
        raise StoreError(
            f"{source} is the memory itself, not a copy of it",
            allowed="A backup that this program made",
            do="Choose a file in the folder backups; nothing was changed",
        )
    schema = examine(source)
    if schema not in known():
        raise StoreError(
            f"{source} has schema {schema}, and this program knows none after {known()[-1]}",
            allowed=f"Schema {known()[0]} to {known()[-1]}",
            do="Take it back with a newer version of wreckwright; nothing was changed",
        )
    try:
        _clear_away(living.parent)
        with tempfile.TemporaryDirectory(prefix=_WORK, dir=living.parent) as folder:
            copy = Path(folder) / living.name
            with closing(to_read(source)) as connection:
                copy_database(connection, copy)
            if schema != known()[-1]:
                with open_store(copy, create=False) as older:
                    migrate(older, backups=None)
            examine(copy)
            pour(copy, living, wait_ms=wait_ms)
    except OSError as error:
        raise StoreError(
            f"{source} cannot be taken back ({error.strerror})",
            allowed="A data folder with room for it, and that you may write to",
            do="Make room or see to the folder; nothing was changed",
        ) from error


def photographs_named(copy: Path) -> set[str]:
    """Hashes of all photographs that the backup `copy` names; it is only read. Raises StoreError if it cannot be."""
    examine(copy)
    engine = sa.create_engine("sqlite://", creator=lambda: to_read(copy), poolclass=NullPool)
    with in_words(str(copy)), engine.connect() as connection:
        return Reader(connection).photos()


def _clear_away(folder: Path) -> None:
    """Take away what a restore left that was killed: a copy of the whole database each. One under way is young."""
    for left in folder.glob(f"{_WORK}*"):
        if left.is_dir() and left.stat().st_mtime < time.time() - _LEFT_S:
            shutil.rmtree(left, ignore_errors=True)


def _file_of(store: Store) -> Path:
    if store.path is None:
        raise StoreError(
            f"{store.name} is kept by a PostgreSQL server, not in a file",
            allowed="The file wreckwright.sqlite of a data folder",
            do="Use the server's own tools, pg_dump and pg_restore; nothing was changed",
        )
    return store.path
