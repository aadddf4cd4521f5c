"""After the first start and the first ride: heat cycles and distance, and what was looked at again."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wreckwright.acts import entry
from wreckwright.acts.place import Place
from wreckwright.acts.sent import Sent
from wreckwright.acts.several import Several
from wreckwright.acts.writes import Told, drafted, write
from wreckwright.errors import EntryError

if TYPE_CHECKING:
    from wreckwright.store.read import Reader
    from wreckwright.store.types import Draft

_MOST_CYCLES = 100_000
_FARTHEST = 5_000_000


def heat_cycle(place: Place, uid: str, sent: Sent) -> Told:
    """The engine has been warm and is cold again, once more. Raises NotThere, EntryError."""

    def draft(reader: Reader) -> Draft:
        before = reader.machine(uid).heat_cycles or 0
        if before >= _MOST_CYCLES:
            raise EntryError(
                f"heat_cycles: {before:,} already", allowed=f"up to {_MOST_CYCLES:,}", do="leave it at that",
                field="heat_cycles",
            )
        several = Several(reader, sent)
        several.put(uid, "machine", "machine", {"heat_cycles": before + 1})
        return drafted(uid, f"Warm and cold again: {_times(before + 1)}", "", several.writes())

    return write(place, draft, sent)


def ridden(place: Place, uid: str, distance: str, sent: Sent) -> Told:
    """How far it has been ridden since the first ride, in all, as typed, in the unit of its odometer.

    Empty: not ridden yet. Raises NotThere, EntryError.
    """
    far = entry.number(distance, "distance", most=_FARTHEST)

    def draft(reader: Reader) -> Draft:
        machine = reader.machine(uid)
        if far == machine.ridden:
            return drafted(uid, "Ridden as far as it was said before", "", [])
        several = Several(reader, sent)
        several.put(uid, "machine", "machine", {"ridden": far})
        said = "Not ridden yet" if far is None else f"Ridden {far:g} {machine.odometer_unit} since the first ride"
        return drafted(uid, said, "", several.writes())

    return write(place, draft, sent)


def _times(count: int) -> str:
    return "once" if count == 1 else f"{count} times"
