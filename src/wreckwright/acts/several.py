"""What one act writes into several rows, of one machine or more, as one change."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from wreckwright.acts.checks import check_row
from wreckwright.acts.sent import Sent
from wreckwright.acts.writes import new_row

if TYPE_CHECKING:
    from wreckwright.store.read import Reader
    from wreckwright.store.types import Put, Remove


def day_told(sent: Sent) -> dt.date:
    """The day on which it was told, by the clock of this computer."""
    return sent.at.astimezone().date()


class Several:
    """Gathers writes so that each row is written once. What an act changes by a tap goes over whatever stands there
    now: such a tap says how things are, not how a form was edited."""

    def __init__(self, reader: Reader, sent: Sent) -> None:
        self._reader = reader
        self._sent = sent
        self._new: dict[tuple[str, str, str], dict[str, Any]] = {}
        self._put: dict[tuple[str, str, str], tuple[dict[str, Any], int]] = {}
        self._gone: dict[tuple[str, str, str], int] = {}

    def new(self, uid: str, kind: str, fields: Mapping[str, Any]) -> str:
        """A new row at the end of its list; its handle. Raises EntryError."""
        plain = {name: value for name, value in fields.items() if value is not None}
        check_row(kind, plain)
        given = [handle for machine, _, handle in self._new if machine == uid]
        handle = self._reader.next_handle(uid, kind, besides=given)
        self._new[uid, kind, handle] = plain
        return handle

    def put(
        self, uid: str, kind: str, handle: str, fields: Mapping[str, Any], *, base_rev: int | None = None
    ) -> None:
        """Give a row's fields these values; None: absent. `base_rev` None: over what stands there now.

        A row that this very act has made takes them as well. Raises EntryError.
        """
        check_row(kind, fields)
        key = (uid, kind, handle)
        if key in self._new:
            made = self._new[key] | dict(fields)
            self._new[key] = {name: value for name, value in made.items() if value is not None}
            return
        before, rev = self._put.get(key, ({}, None))
        if rev is None:
            rev = base_rev if base_rev is not None else self._rev(key)
        self._put[key] = (before | dict(fields), rev)

    def remove(self, uid: str, kind: str, handle: str) -> None:
        key = (uid, kind, handle)
        self._put.pop(key, None)
        self._gone[key] = self._rev(key)

    def writes(self) -> list[Put | Remove]:
        from wreckwright.store.types import Put, Remove, RowKey

        def key(row: tuple[str, str, str]) -> RowKey:
            return RowKey(machine=row[0], kind=row[1], handle=row[2])

        return [
            *(new_row(*row, fields, self._sent) for row, fields in self._new.items()),
            *(Put(key=key(row), fields=fields, base_rev=rev) for row, (fields, rev) in self._put.items() if fields),
            *(Remove(key=key(row), base_rev=rev) for row, rev in self._gone.items()),
        ]

    def _rev(self, row: tuple[str, str, str]) -> int:
        from wreckwright.store.types import RowKey

        stored = self._reader.row(RowKey(machine=row[0], kind=row[1], handle=row[2]))
        return stored.rev if stored else 0
