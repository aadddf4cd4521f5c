"""Write one change. This is the only writer of the tables; the rules stand in docs/memory.md.

All of it happens in one transaction that holds the write lock from its first look: the operation is looked up, the
draft is made from what is there, brought together with what others did meanwhile, checked, and written together with
its journal entry and the stored answer. Whatever raises on the way leaves no trace.
"""

from __future__ import annotations

import datetime as dt
import json
import secrets
from collections.abc import Callable, Mapping
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from wreckwright.errors import OperationError
from wreckwright.record.upcast import CURRENT_FORMAT
from wreckwright.store import schema
from wreckwright.store.engine import Store
from wreckwright.store.read import Reader
from wreckwright.store.rows import canonical, nickname_key
from wreckwright.store.settle import Check, Settled, Step, settle
from wreckwright.store.types import Draft, Fields, Operation, Outcome, RowKey


def apply(
    store: Store,
    *,
    who: str,
    at: dt.datetime,
    draft: Callable[[Reader], Draft],
    check: Check,
    operation: Operation | None = None,
    undoes: str | None = None,
) -> Outcome:
    """Carry out one use case: all that `draft` wants to be written, as one change, or nothing.

    `at`: an aware moment. `draft` looks through the reader and says what it wants; it may raise. `check` is given each
    machine as it would become and raises if it must not. `operation`: the same one again gives the stored answer.
    `undoes`: id of the change that this one takes back. A draft that changes nothing writes no journal entry
    (`change_id` None), but its operation counts as carried out.

    Raises ConflictError, NotThere, NicknameTaken, RecordError, OperationError, StoreError; nothing is written then.
    """
    if at.utcoffset() is None:
        raise ValueError(f"a moment without a zone: {at!r}")
    with store.writing() as connection:
        reader = Reader(connection)
        if operation is not None and (stored := _carried_out(reader, operation)) is not None:
            return stored
        wanted = draft(reader)
        settled = settle(reader, wanted, check)
        # Through its text, so that the first answer is the same as every later one.
        result = canonical(wanted.result)
        change_id = secrets.token_hex(8) if settled.steps else None
        if change_id is not None:
            _write_machines(connection, settled.nicknames)
            _write_rows(connection, settled.steps)
            _write_journal(connection, settled, change_id, at=at, who=who, what=wanted.what, undoes=undoes)
        if operation is not None:
            connection.execute(
                sa.insert(schema.operation).values(
                    device=operation.device,
                    op=operation.op,
                    body_hash=operation.body_hash,
                    at=at,
                    result=result,
                    change_id=change_id,
                )
            )
    return Outcome(change_id=change_id, result=json.loads(result), replayed=False)


def _carried_out(reader: Reader, operation: Operation) -> Outcome | None:
    before = reader.carried_out(operation)
    if before is None:
        return None
    body_hash, change_id, result = before
    if body_hash != operation.body_hash:
        raise OperationError(
            f"The entry {operation.op} came before, and with something else in it",
            allowed="the same entry again, or another one under an id of its own",
            do="Open the page again and enter it anew; nothing was written",
        )
    return Outcome(change_id=change_id, result=result, replayed=True)


def _write_machines(connection: Connection, nicknames: Mapping[str, str | None]) -> None:
    table = schema.machine
    if not nicknames:
        return
    known = set(connection.execute(sa.select(table.c.uid).where(table.c.uid.in_(nicknames))).scalars())
    # First all old nicknames go, so that two machines can change theirs with each other.
    connection.execute(sa.update(table).where(table.c.uid.in_(known)).values(nickname_key=None))
    end = connection.execute(sa.select(sa.func.coalesce(sa.func.max(table.c.place), -1))).scalar_one() + 1
    for uid, nickname in nicknames.items():
        if nickname is None:
            continue
        names = {"nickname": nickname, "nickname_key": nickname_key(nickname)}
        if uid in known:
            connection.execute(sa.update(table).where(table.c.uid == uid).values(**names))
        else:
            connection.execute(sa.insert(table).values(uid=uid, place=end, **names))
            end += 1


def _write_rows(connection: Connection, steps: tuple[Step, ...]) -> None:
    table = schema.record_row
    new = [_names(step.key) | _state(step) for step in steps if step.was is None]
    if new:
        connection.execute(sa.insert(table), new)
    # A bound name may not be that of a column which is set.
    old = [
        {f"key_{name}": value for name, value in _names(step.key).items()} | _state(step)
        for step in steps
        if step.was is not None
    ]
    if old:
        here = [table.c[name] == sa.bindparam(f"key_{name}") for name in ("machine", "kind", "handle")]
        connection.execute(
            sa.update(table).where(*here).values({name: sa.bindparam(name) for name in ("place", "rev", "body")}), old
        )


def _write_journal(
    connection: Connection,
    settled: Settled,
    change_id: str,
    *,
    at: dt.datetime,
    who: str,
    what: str,
    undoes: str | None,
) -> None:
    seq = connection.execute(sa.select(sa.func.coalesce(sa.func.max(schema.change.c.seq), 0))).scalar_one() + 1
    connection.execute(sa.insert(schema.change).values(id=change_id, seq=seq, at=at, who=who, what=what, undoes=undoes))
    images = [
        _names(step.key)
        | {
            "change_id": change_id,
            "rev": _rev(step),
            "place": step.place,
            "before": _text(step.was.fields if step.was else None),
            "after": _text(step.fields),
            "record_format": CURRENT_FORMAT,
        }
        for step in settled.steps
    ]
    connection.execute(sa.insert(schema.row_image), images)


def _names(key: RowKey) -> dict[str, Any]:
    return {"machine": key.machine, "kind": key.kind, "handle": key.handle}


def _state(step: Step) -> dict[str, Any]:
    return {"place": step.place, "rev": _rev(step), "body": _text(step.fields)}


def _rev(step: Step) -> int:
    return step.was.rev + 1 if step.was else 1


def _text(fields: Fields | None) -> str | None:
    return None if fields is None else canonical(fields)
