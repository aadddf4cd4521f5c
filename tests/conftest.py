"""Settings for all tests: hypothesis repeats the same examples on every run, and a slow machine is no failure."""

from __future__ import annotations

from hypothesis import settings

settings.register_profile("repeatable", derandomize=True, deadline=None)
settings.load_profile("repeatable")
