"""The tables, as SQLite and PostgreSQL take them alike. What is done to them: `apply.py` writes, `read.py` reads.

The values of a row are canonical JSON text: it comes back as it was written from both databases, and nothing ever asks
the database to look inside.
"""

from __future__ import annotations

import datetime as dt
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Dialect

NAMES = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s_%(referred_table_name)s",
    "pk": "pk_%(table_name)s",
}
"""How constraints are called: without a name a later migration could not take them off again."""


class UtcMoment(sa.types.TypeDecorator[dt.datetime]):
    """An aware datetime, kept and given back in UTC. SQLite itself would drop the zone."""

    impl = sa.DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: dt.datetime | None, dialect: Dialect) -> dt.datetime | None:
        if value is None:
            return None
        if value.utcoffset() is None:
            raise ValueError(f"a moment without a zone: {value!r}")
        utc = value.astimezone(dt.UTC)
        return utc.replace(tzinfo=None) if dialect.name == "sqlite" else utc

    def process_result_value(self, value: Any, dialect: Dialect) -> dt.datetime | None:
        if value is None:
            return None
        moment: dt.datetime = value
        if moment.tzinfo is None:
            return moment.replace(tzinfo=dt.UTC)
        return moment.astimezone(dt.UTC)


metadata = sa.MetaData(naming_convention=NAMES)

machine = sa.Table(
    "machine",
    metadata,
    sa.Column("uid", sa.Text, primary_key=True),
    sa.Column("nickname", sa.Text, nullable=False),
    # What the nickname is told apart by; NULL once the machine has been taken away, which sets the nickname free.
    sa.Column("nickname_key", sa.Text, nullable=True, unique=True),
    sa.Column("place", sa.Integer, nullable=False),
)

record_row = sa.Table(
    "record_row",
    metadata,
    sa.Column("machine", sa.Text, sa.ForeignKey("machine.uid"), primary_key=True),
    sa.Column("kind", sa.Text, primary_key=True),
    sa.Column("handle", sa.Text, primary_key=True),
    sa.Column("place", sa.Integer, nullable=False),
    sa.Column("rev", sa.Integer, nullable=False),
    # NULL: taken away. The row stays, so that its revisions go on and its handle is not given out again.
    sa.Column("body", sa.Text, nullable=True),
    sa.CheckConstraint("rev >= 1", name="rev"),
)

change = sa.Table(
    "change",
    metadata,
    sa.Column("id", sa.Text, primary_key=True),
    # The order of writing, from 1. `at` is what a device's clock said, and clocks differ.
    sa.Column("seq", sa.Integer, nullable=False, unique=True),
    sa.Column("at", UtcMoment, nullable=False),
    sa.Column("who", sa.Text, nullable=False),
    sa.Column("what", sa.Text, nullable=False),
    sa.Column("undoes", sa.Text, sa.ForeignKey("change.id"), nullable=True, index=True),
)

row_image = sa.Table(
    "row_image",
    metadata,
    sa.Column("machine", sa.Text, primary_key=True),
    sa.Column("kind", sa.Text, primary_key=True),
    sa.Column("handle", sa.Text, primary_key=True),
    sa.Column("rev", sa.Integer, primary_key=True, autoincrement=False),
    sa.Column("change_id", sa.Text, sa.ForeignKey("change.id"), nullable=False, index=True),
    sa.Column("place", sa.Integer, nullable=False),
    sa.Column("before", sa.Text, nullable=True),
    sa.Column("after", sa.Text, nullable=True),
    sa.Column("record_format", sa.Integer, nullable=False),
    sa.ForeignKeyConstraint(
        ["machine", "kind", "handle"], ["record_row.machine", "record_row.kind", "record_row.handle"]
    ),
)

operation = sa.Table(
    "operation",
    metadata,
    sa.Column("device", sa.Text, primary_key=True),
    sa.Column("op", sa.Text, primary_key=True),
    sa.Column("body_hash", sa.Text, nullable=False),
    sa.Column("at", UtcMoment, nullable=False),
    sa.Column("result", sa.Text, nullable=False),
    # NULL: everything was already as wanted.
    sa.Column("change_id", sa.Text, sa.ForeignKey("change.id"), nullable=True),
)
