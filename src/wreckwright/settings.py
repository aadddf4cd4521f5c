"""The figures a user may choose when asking, with their defaults: one list for the command line, help and checks."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class Setting:
    name: str
    default: int
    least: int
    most: int
    help: str


FUTURES = Setting(
    name="futures",
    default=2000,
    least=200,
    most=20_000,
    help="How many futures to draw; 10000 for a finer answer, about five times as slow.",
)

TRACE_VARIABLE = "WRECKWRIGHT_TRACE"
"""Environment variable; set to anything, a fault of the program shows where it happened."""
