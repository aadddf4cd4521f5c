"""Databases for the tests of migration and backup: the golden one of the first schema, and looks into any."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

from wreckwright.record.file import read_record
from wreckwright.record.types import Machine

GOLDEN = Path(__file__).with_name("golden")

TEASEL, BURDOCK, FENNEL = "f3a1c07e5b2d9468", "90b7e4d2116fac35", "0b52ce98137fd46a"
"""Machines of the golden database in the order in which they were taken in; Burdock was taken away again."""
ARRIVED, TOOK_AWAY_F2, NOTED_F3 = "88a31ef2cda4c3f8", "f1d98589a62d3223", "22b2facb47c65206"
"""Changes of the golden database; a later one changed what NOTED_F3 wrote."""


def first_schema(path: Path) -> Path:
    """The golden database of schema 0001 as the file `path`."""
    with closing(sqlite3.connect(path)) as connection:
        connection.executescript((GOLDEN / "schema_0001.sql").read_text(encoding="utf-8"))
    return path


def teasel() -> Machine:
    return read_record((GOLDEN / "teasel.toml").read_bytes())


def dump(path: Path) -> list[str]:
    """All that a database says, as text."""
    with closing(sqlite3.connect(path)) as connection:
        return list(connection.iterdump())


def ask(path: Path, sql: str) -> list[tuple[object, ...]]:
    with closing(sqlite3.connect(path)) as connection:
        return connection.execute(sql).fetchall()


def order(path: Path, sql: str) -> None:
    """Carry out one statement, as an interfering hand would."""
    with closing(sqlite3.connect(path)) as connection:
        connection.execute(sql)
        connection.commit()
