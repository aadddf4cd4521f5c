"""Settings for all tests: hypothesis repeats the same examples on every run, and a slow machine is no failure."""

from __future__ import annotations

import sys
from collections.abc import Iterator

import pytest
from hypothesis import settings

settings.register_profile("repeatable", derandomize=True, deadline=None)
settings.load_profile("repeatable")


@pytest.fixture(autouse=True)
def _memories_are_closed() -> Iterator[None]:
    """A program keeps the one memory it works on open; a run of tests would keep thousands, and run out of files."""
    yield
    place = sys.modules.get("wreckwright.acts.place")
    if place is not None:
        for _, store in list(place._OPEN.values()):
            store.close()
        place._OPEN.clear()
