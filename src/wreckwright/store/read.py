"""Look into the database within one transaction. Nothing here writes."""

from __future__ import annotations

import datetime as dt
import json
import re
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from wreckwright.errors import NotThere
from wreckwright.record.faults import shown
from wreckwright.record.rules import HANDLE_PREFIX
from wreckwright.record.types import Machine
from wreckwright.store.rows import KINDS, machine_of, nickname_key
from wreckwright.store.schema import change, machine, operation, record_row, row_image
from wreckwright.store.types import ChangeLine, Fields, MachineHead, Operation, RowImage, RowKey, StoredRow

_ORDER = {kind: at for at, kind in enumerate(KINDS)}
_MOST_DIGITS = 9
_AT_ONCE = 500
"""Values in one IN list: databases have an upper bound on parameters."""


@dataclass(frozen=True, kw_only=True)
class KeptRow:
    """A row that is or was: `fields` None means it has been taken away."""

    key: RowKey
    place: int
    rev: int
    fields: Fields | None


class Reader:
    """The database as it stood at the first look of this transaction (a writer's own writes included)."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection

    def machines(self) -> tuple[MachineHead, ...]:
        """All machines, in the owner's order."""
        found = self._connection.execute(
            sa.select(machine.c.uid, machine.c.nickname, machine.c.place)
            .where(machine.c.nickname_key.is_not(None))
            .order_by(machine.c.place, machine.c.uid)
        )
        return tuple(MachineHead(uid=uid, nickname=nickname, place=place) for uid, nickname, place in found)

    def head(self, uid: str) -> MachineHead:
        """Raises NotThere if there is no such machine, or it was taken away."""
        found = self._connection.execute(sa.select(machine).where(machine.c.uid == uid)).one_or_none()
        if found is None or found.nickname_key is None:
            raise NotThere(
                f"The machine {found.nickname} has been taken away" if found else f"There is no machine {shown(uid)}",
                allowed="one of the machines in the memory",
                do="Take back the change that took it away" if found else "Choose one from the list of machines",
            )
        return MachineHead(uid=found.uid, nickname=found.nickname, place=found.place)

    def find(self, nickname: str) -> str | None:
        """Identity of the machine of this nickname; capitals and spaces around it make no difference."""
        found: str | None = self._connection.execute(
            sa.select(machine.c.uid).where(machine.c.nickname_key == nickname_key(nickname))
        ).scalar_one_or_none()
        return found

    def machine(self, uid: str) -> Machine:
        """The record of a machine. Raises NotThere."""
        self.head(uid)
        return machine_of(self.rows(uid))

    def rows(self, uid: str) -> tuple[StoredRow, ...]:
        """The rows of a machine in the order of its record; none if there is no such machine."""
        found = self._connection.execute(
            sa.select(record_row).where(record_row.c.machine == uid, record_row.c.body.is_not(None))
        )
        rows = [_stored(one) for one in found]
        return tuple(sorted(rows, key=lambda row: (_ORDER[row.key.kind], row.place, row.key.handle)))

    def row(self, key: RowKey) -> StoredRow | None:
        """None: there is no such row, or it was taken away."""
        found = self._connection.execute(
            sa.select(record_row).where(*_is(record_row, key), record_row.c.body.is_not(None))
        ).one_or_none()
        return None if found is None else _stored(found)

    def kept(self, uid: str) -> Mapping[RowKey, KeptRow]:
        """Every row that this machine ever had, also those taken away."""
        found = self._connection.execute(sa.select(record_row).where(record_row.c.machine == uid))
        return {row.key: row for row in map(_kept, found)}

    def next_handle(self, uid: str, kind: str, *, besides: Collection[str] = ()) -> str:
        """A handle for a new row of this kind: never used in this machine before, nor one of `besides`.

        `besides` are handles given out before within the same draft.
        """
        known = self._connection.execute(sa.select(record_row.c.handle).where(record_row.c.machine == uid)).scalars()
        pattern = re.compile(rf"{HANDLE_PREFIX[kind]}(\d{{1,{_MOST_DIGITS}}})", re.ASCII)
        numbers = [int(hit[1]) for hit in map(pattern.fullmatch, (*known, *besides)) if hit]
        return f"{HANDLE_PREFIX[kind]}{max(numbers, default=0) + 1}"

    def changes(self, uid: str | None = None, limit: int = 50) -> tuple[ChangeLine, ...]:
        """The last `limit` entries of the journal, of one machine or of all, newest first."""
        wanted = sa.select(change).order_by(change.c.seq.desc()).limit(limit)
        if uid is not None:
            wanted = wanted.where(change.c.id.in_(sa.select(row_image.c.change_id).where(row_image.c.machine == uid)))
        return self._lines(self._connection.execute(wanted).all())

    def change(self, change_id: str) -> ChangeLine | None:
        found = self._lines(self._connection.execute(sa.select(change).where(change.c.id == change_id)).all())
        return found[0] if found else None

    def images(self, change_id: str) -> tuple[RowImage, ...]:
        """What a change did, row by row."""
        found = self._connection.execute(sa.select(row_image).where(row_image.c.change_id == change_id))
        images = [_image(one) for one in found]
        return tuple(sorted(images, key=lambda image: (image.key.machine, _ORDER[image.key.kind], image.key.handle)))

    def revisions(self, uid: str) -> Mapping[RowKey, tuple[tuple[int, str], ...]]:
        """Row of a machine -> its revisions, oldest first, each with the id of the change that made it."""
        made: dict[RowKey, tuple[tuple[int, str], ...]] = {}
        found = self._connection.execute(
            sa.select(row_image.c.kind, row_image.c.handle, row_image.c.rev, row_image.c.change_id)
            .where(row_image.c.machine == uid)
            .order_by(row_image.c.rev)
        )
        for kind, handle, rev, change_id in found:
            key = RowKey(machine=uid, kind=kind, handle=handle)
            made[key] = (*made.get(key, ()), (rev, change_id))
        return made

    def image(self, key: RowKey, rev: int) -> RowImage | None:
        """What made the row's revision `rev`."""
        found = self._connection.execute(
            sa.select(row_image).where(*_is(row_image, key), row_image.c.rev == rev)
        ).one_or_none()
        return None if found is None else _image(found)

    def history(self, key: RowKey) -> tuple[tuple[RowImage, str], ...]:
        """All that was ever done to a row, oldest first, each with the id of its change."""
        found = self._connection.execute(
            sa.select(row_image).where(*_is(row_image, key)).order_by(row_image.c.rev)
        ).all()
        return tuple((_image(one), one.change_id) for one in found)

    def undoers(self) -> tuple[tuple[str, str], ...]:
        """(change, the change that was made to take it back), oldest first, whether they still stand or not."""
        found = self._connection.execute(
            sa.select(change.c.undoes, change.c.id).where(change.c.undoes.is_not(None)).order_by(change.c.seq)
        )
        return tuple((undone, undoer) for undone, undoer in found)

    def carried_out(self, wanted: Operation) -> tuple[str, str | None, dict[str, Any]] | None:
        """Body hash, change and result of an operation that came before; None if it did not.

        Also of one that came from another device, if it is the very same: a browser that has lost its cookie is a new
        device, and sends what it never had an answer to once more.
        """
        own = (operation.c.device == wanted.device) & (operation.c.op == wanted.op)
        same = (operation.c.op == wanted.op) & (operation.c.body_hash == wanted.body_hash)
        for one in (own, same):
            found = self._connection.execute(sa.select(operation).where(one).limit(1)).one_or_none()
            if found is not None:
                return found.body_hash, found.change_id, json.loads(found.result)
        return None

    def begun(self) -> dt.datetime | None:
        """When the first change was made; None if there is none."""
        found: dt.datetime | None = self._connection.execute(
            sa.select(change.c.at).order_by(change.c.seq).limit(1)
        ).scalar_one_or_none()
        return found

    def photos(self) -> set[str]:
        """Hashes of all photographs named by any row, as it is or ever was: what an undo could bring back."""
        bodies = sa.union_all(
            sa.select(record_row.c.body).where(record_row.c.body.is_not(None)),
            sa.select(row_image.c.before).where(row_image.c.before.is_not(None)),
            sa.select(row_image.c.after).where(row_image.c.after.is_not(None)),
        )
        named: set[str] = set()
        for body in self._connection.execute(bodies).scalars():
            fields = json.loads(body)
            named.update(fields.get("photos", ()))
            if fields.get("photo_sha256"):
                named.add(fields["photo_sha256"])
        return named

    def _lines(self, found: Sequence[sa.Row[Any]]) -> tuple[ChangeLine, ...]:
        ids = [one.id for one in found]
        touched: dict[str, list[str]] = {}
        for some in _some_at_once(ids):
            pairs = self._connection.execute(
                sa.select(row_image.c.change_id, row_image.c.machine)
                .where(row_image.c.change_id.in_(some))
                .distinct()
                .order_by(row_image.c.machine)
            )
            for change_id, uid in pairs:
                touched.setdefault(change_id, []).append(uid)
        standing = self._undone_by()
        return tuple(
            ChangeLine(
                id=one.id,
                at=one.at,
                who=one.who,
                what=one.what,
                machines=tuple(sorted(touched.get(one.id, ()))),
                undoes=one.undoes,
                undone_by=standing.get(one.id),
            )
            for one in found
        )

    def _undone_by(self) -> Mapping[str, str]:
        """Change -> the one that took it back and has not been taken back itself."""
        standing: dict[str, str] = {}
        # Newest first: whatever took an undo back came after it, so it has been settled already.
        for undone, undoer in reversed(self.undoers()):
            if undoer not in standing:
                standing[undone] = undoer
        return standing


def _is(table: sa.Table, key: RowKey) -> tuple[sa.ColumnElement[bool], ...]:
    return (table.c.machine == key.machine, table.c.kind == key.kind, table.c.handle == key.handle)


def _some_at_once(ids: Sequence[str]) -> Iterator[Sequence[str]]:
    for start in range(0, len(ids), _AT_ONCE):
        yield ids[start : start + _AT_ONCE]


def _key(one: sa.Row[Any]) -> RowKey:
    return RowKey(machine=one.machine, kind=one.kind, handle=one.handle)


def _fields(body: str | None) -> Fields | None:
    plain: Fields | None = None if body is None else json.loads(body)
    return plain


def _stored(one: sa.Row[Any]) -> StoredRow:
    return StoredRow(key=_key(one), place=one.place, rev=one.rev, fields=json.loads(one.body))


def _kept(one: sa.Row[Any]) -> KeptRow:
    return KeptRow(key=_key(one), place=one.place, rev=one.rev, fields=_fields(one.body))


def _image(one: sa.Row[Any]) -> RowImage:
    return RowImage(
        key=_key(one),
        rev=one.rev,
        place=one.place,
        before=_fields(one.before),
        after=_fields(one.after),
        record_format=one.record_format,
    )
