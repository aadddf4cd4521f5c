"""A fault found in a record, before its place is turned into words."""

from __future__ import annotations

import difflib
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from wreckwright.errors import Problem
from wreckwright.record.where import Path, handle_at, line_of, place

_LONGEST_SHOWN = 60


@dataclass(frozen=True, kw_only=True)
class Fault:
    """What stands at `path`, what may stand there, what to do."""

    path: Path
    found: str
    allowed: str
    do: str


def as_problem(fault: Fault, *, raw: Any, lines: Mapping[Path, int]) -> Problem:
    """Put the place of a fault into words; `raw` is the plain record (for handles), `lines` may be empty."""
    where = place(fault.path, handle=handle_at(raw, fault.path), line=line_of(lines, fault.path))
    return Problem(where=where, found=fault.found, allowed=fault.allowed, do=fault.do)


def shown(value: object) -> str:
    """A value as it can be shown in a message: short, printable, on one line.

    >>> shown(True), shown('front rim'), shown([1, 2])
    ('true', "'front rim'", 'a list with 2 entries')
    """
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int):
        text = (
            str(value)
            if abs(value) < 10**40
            else f"a whole number of about {round(value.bit_length() * math.log10(2))} digits"
        )
        return text
    if isinstance(value, float):
        return repr(value)
    if isinstance(value, str):
        text = value if len(value) <= _LONGEST_SHOWN else value[: _LONGEST_SHOWN - 20]
        # ascii() for what a terminal could not show (control characters, lone surrogates).
        text = f"'{text}'" if text.isprintable() else ascii(text)
        return text if len(value) <= _LONGEST_SHOWN else f"{text}... ({len(value)} characters)"
    if isinstance(value, Mapping):
        return f"a table with {len(value)} key{'' if len(value) == 1 else 's'}"
    if isinstance(value, list | tuple):
        return f"a list with {len(value)} entr{'y' if len(value) == 1 else 'ies'}"
    if value is None:
        return "null"
    return str(value)


def nearest(word: str, among: Iterable[str], *, count: int = 3, cutoff: float = 0.6) -> tuple[str, ...]:
    """Up to `count` names most like `word`, best first; none if nothing is alike.

    >>> nearest("nickname_", ["nickname", "year"])
    ('nickname',)
    """
    names = sorted(set(among))
    lowered: dict[str, str] = {}
    for name in names:
        lowered.setdefault(name.lower(), name)
    return tuple(
        lowered[hit] for hit in difflib.get_close_matches(word.lower()[:200], list(lowered), n=count, cutoff=cutoff)
    )


def one_of(names: Iterable[str], *, most: int = 14) -> str:
    """`a, b or c`, cut short when there are very many.

    >>> one_of(["km", "mi"])
    'km or mi'
    """
    listed = list(names)
    if len(listed) > most:
        return ", ".join(listed[:most]) + f", ... ({len(listed)} in all)"
    return listed[0] if len(listed) == 1 else ", ".join(listed[:-1]) + " or " + listed[-1] if listed else "none"
