"""Who sent what, when, and from where: what every use case that writes is given."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from wreckwright.store.types import Operation


def _now() -> dt.datetime:
    return dt.datetime.now(dt.UTC)


@dataclass(frozen=True, kw_only=True)
class Sent:
    """`who` is what the journal shows, such as a person's name or "the command line".

    With `device` and `op`, the same sending counts once however often it arrives; `body_hash` tells whether it is the
    same (SHA-256 of what was sent).
    """

    who: str
    person: bool = False
    """True: `who` is the name of a person, and is written into new rows."""
    device: str = ""
    op: str = ""
    body_hash: str = ""
    at: dt.datetime = field(default_factory=_now)
    """When; with a time zone."""
    over: Mapping[tuple[str, str], int] = field(default_factory=dict)
    """(kind, handle) -> revision of rows that were changed meanwhile, as the sender has now seen them and writes over
    them. What the sender changed is still told by the revision the form was made from; all else stays."""

    @property
    def moment(self) -> dt.datetime:
        """`at` in UTC, to the second."""
        return self.at.astimezone(dt.UTC).replace(microsecond=0)

    def operation(self) -> Operation | None:
        if not (self.device and self.op):
            return None
        from wreckwright.store.types import Operation

        return Operation(device=self.device, op=self.op, body_hash=self.body_hash)

    def signature(self) -> dict[str, Any]:
        """The fields of a new row that say who wrote it and when."""
        by = {"by": self.who[:80]} if self.person and self.who else {}
        return by | {"at": self.moment.isoformat().replace("+00:00", "Z")}
