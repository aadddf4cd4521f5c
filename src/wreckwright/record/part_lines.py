"""Part lines that say something of each other. Pure."""

from __future__ import annotations

from collections.abc import Iterable

from wreckwright.record.types import PartLine


def superseded(parts: Iterable[PartLine]) -> frozenset[str]:
    """Handles of lines that came wrong and for which another line has been written since: nothing more is wanted there.

    A line that came wrong and has no other after it is wanted once more. Lines are of one thing if component and name
    are the same; `parts` are in the order of the record.

    >>> wrong, again = PartLine(id="p1", component="seat", state="wrong"), PartLine(id="p2", component="seat")
    >>> superseded([wrong, again]), superseded([again, wrong])
    (frozenset({'p1'}), frozenset())
    """
    lines = list(parts)
    found = set()
    for at, line in enumerate(lines):
        if line.state == "wrong" and any(
            (line.component, line.name) == (later.component, later.name) for later in lines[at + 1 :]
        ):
            found.add(line.id)
    return frozenset(found)
