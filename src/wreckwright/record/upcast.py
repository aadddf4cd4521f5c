"""Read records of every format that was ever released.

There is one format so far. A later one adds a pure function here that turns a plain record of the format before into
one of the next; `upcast` runs them in a chain, so each is written once and never changed. A file without `format` is
read as format 1, for ever: the shortest hand-written files need not name it, and every later format will have to.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from wreckwright.record.faults import Fault, shown

CURRENT_FORMAT = 1

Upcaster = Callable[[Mapping[str, Any]], dict[str, Any]]

UPCASTERS: Mapping[int, Upcaster] = {}
"""Format -> function that makes a plain record of the next format from one of this."""


def upcast(
    raw: Mapping[str, Any], *, upcasters: Mapping[int, Upcaster] = UPCASTERS, current: int = CURRENT_FORMAT
) -> dict[str, Any]:
    """The same record in the current format.

    `raw` must have passed `format_fault`. Shape: a plain record in, a plain record out; neither is changed in place.

    >>> upcast({"nickname": "Sorrel"})["format"]
    1
    """
    plain = dict(raw)
    for number in range(plain.get("format", 1), current):
        plain = dict(upcasters[number](plain))
        plain["format"] = number + 1
    plain["format"] = current
    return plain


def format_fault(raw: Mapping[str, Any], *, current: int = CURRENT_FORMAT) -> Fault | None:
    """Why the format number of a plain record cannot be read, or None.

    >>> format_fault({"format": 1}) is None
    True
    """
    number = raw.get("format", 1)
    known = f"a whole number from 1 to {current}"
    if isinstance(number, bool) or not isinstance(number, int) or number < 1:
        return Fault(path=("format",), found=shown(number), allowed=known, do=f"write format = {current}")
    if number > current:
        return Fault(
            path=("format",),
            found=f"format {shown(number)}, newer than this program",
            allowed=known,
            do="open it with a newer version of wreckwright; nothing was read or changed",
        )
    return None
