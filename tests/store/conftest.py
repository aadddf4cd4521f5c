"""The stores that a test of the memory runs on: SQLite always, PostgreSQL if there is one to be had."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import pytest
import sqlalchemy as sa

from tests.store.stores import assert_whole, new_store
from wreckwright.store.engine import Store, open_url
from wreckwright.store.migrate import migrate
from wreckwright.store.schema import metadata

POSTGRES = "WRECKWRIGHT_TEST_POSTGRES"


@pytest.fixture(params=["sqlite", "postgresql"])
def store(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Store]:
    """An empty database; after the test it is looked at as a whole."""
    if request.param == "sqlite":
        opened = new_store(tmp_path / "wreckwright.sqlite")
    else:
        url = os.environ.get(POSTGRES)
        if not url:
            pytest.skip(f"no PostgreSQL to test on: {POSTGRES} names none (postgresql://user@host/an_empty_database)")
        opened = open_url(url)
        with opened.engine.begin() as connection:
            metadata.drop_all(connection)
            connection.execute(sa.text("DROP TABLE IF EXISTS alembic_version"))
        migrate(opened, backups=None)
    with opened:
        yield opened
        assert_whole(opened)
