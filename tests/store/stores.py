"""What the tests of the memory share: stores with tables, small machines, drafts, and a look behind the Reader."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import msgspec
import pytest
import sqlalchemy as sa

from wreckwright.errors import RecordError, StoreError, WreckwrightError
from wreckwright.record.file import as_problems
from wreckwright.record.rules import rule_faults
from wreckwright.record.types import Machine
from wreckwright.store.apply import apply
from wreckwright.store.engine import WAIT_MS, Store, open_store
from wreckwright.store.read import Reader
from wreckwright.store.rows import machine_of, nickname_key, rows_of
from wreckwright.store.schema import metadata
from wreckwright.store.types import (
    BareRow,
    Draft,
    Operation,
    Outcome,
    Put,
    Remove,
    RowKey,
    StoredRow,
)

FINDINGS = [{"id": "f1", "what": "front rim dinged"}, {"id": "f2", "what": "steering stop chipped", "severity": 3}]
TAP = Operation(device="phone", op="tap-00000001", body_hash="a" * 64)
NOON = dt.datetime(2026, 11, 20, 12, 0, tzinfo=dt.UTC)


def new_store(path: Path, *, wait_ms: int = WAIT_MS) -> Store:
    store = open_store(path, create=True, wait_ms=wait_ms)
    with store.writing() as connection:
        metadata.create_all(connection)
    return store


def obeys_rules(machine: Machine) -> None:
    """A check as the program makes it: the rules within a record."""
    faults = list(rule_faults(machine))
    if faults:
        raise RecordError(as_problems(faults, raw=msgspec.to_builtins(machine), lines={}))


def made(nickname: str = "Sorrel", **fields: Any) -> Machine:
    plain = {"nickname": nickname, "machine_class": "tourer", "year": 2019, **fields}
    return msgspec.convert(plain, Machine)


def key(handle: str, kind: str | None = None, uid: str = "m1") -> RowKey:
    return RowKey(machine=uid, kind=kind or handle, handle=handle)


def puts(machine: Machine, uid: str = "m1") -> tuple[Put, ...]:
    return tuple(
        Put(key=key(row.handle, row.kind, uid), fields=row.fields, base_rev=0, place=row.place)
        for row in rows_of(machine)
    )


def removals(reader: Reader, uid: str = "m1") -> tuple[Remove, ...]:
    return tuple(Remove(key=row.key, base_rev=row.rev) for row in reader.rows(uid))


def write(
    store: Store,
    *writes: Put | Remove,
    what: str = "A change",
    result: Mapping[str, Any] | None = None,
    operation: Operation | None = None,
    check: Callable[[Machine], None] = obeys_rules,
    who: str = "Ada",
    at: dt.datetime = NOON,
) -> Outcome:
    return apply(
        store,
        who=who,
        at=at,
        draft=lambda reader: Draft(what=what, writes=writes, result=result or {}),
        check=check,
        operation=operation,
    )


def take_in(store: Store, machine: Machine, uid: str = "m1") -> str:
    change_id = write(store, *puts(machine, uid), what=f"Taken in: {machine.nickname}").change_id
    assert change_id is not None
    return change_id


def put(handle: str, kind: str, base_rev: int, place: int | None = None, **fields: Any) -> Put:
    return Put(key=key(handle, kind), fields=fields, base_rev=base_rev, place=place)


def row(store: Store, handle: str, kind: str | None = None, uid: str = "m1") -> StoredRow:
    with store.reading() as reader:
        found = reader.row(key(handle, kind, uid))
    assert found is not None
    return found


def raw(store: Store, table: str) -> list[dict[str, Any]]:
    """All lines of a table as the database gives them, without the Reader."""
    with store.engine.connect() as connection:
        return [dict(one) for one in connection.execute(metadata.tables[table].select()).mappings()]


def everything(store: Store) -> dict[str, list[dict[str, Any]]]:
    return {table: sorted(raw(store, table), key=str) for table in metadata.tables}


def assert_whole(store: Store) -> None:
    """What must hold after anything: the file is sound, and the journal tells how everything became as it is."""
    if store.path is not None:
        with store.engine.connect() as connection:
            assert connection.exec_driver_sql("PRAGMA integrity_check").scalars().all() == ["ok"]
            assert connection.exec_driver_sql("PRAGMA foreign_key_check").all() == []
    changes = sorted(raw(store, "change"), key=lambda one: one["seq"])
    assert [one["seq"] for one in changes] == list(range(1, len(changes) + 1))
    order = {one["id"]: one["seq"] for one in changes}
    images = sorted(raw(store, "row_image"), key=lambda one: order[one["change_id"]])
    assert {one["change_id"] for one in images} == set(order), "a change that changed nothing"
    state: dict[tuple[str, str, str], dict[str, Any]] = {}
    for image in images:
        name = (image["machine"], image["kind"], image["handle"])
        before = state.get(name)
        assert image["rev"] == (before["rev"] + 1 if before else 1), "a revision was left out or used twice"
        assert image["before"] == (before["body"] if before else None), "the images of a row do not join"
        assert (image["before"], before and before["place"]) != (image["after"], image["place"]), "no difference"
        assert image["before"] is not None or image["after"] is not None
        state[name] = {"place": image["place"], "rev": image["rev"], "body": image["after"]}
    rows = {
        (one["machine"], one["kind"], one["handle"]): {name: one[name] for name in ("place", "rev", "body")}
        for one in raw(store, "record_row")
    }
    assert rows == state, "the journal does not lead to the present state"
    for machine in raw(store, "machine"):
        uid = machine["uid"]
        body = rows[uid, "machine", "machine"]["body"]
        living = [(name, one) for name, one in rows.items() if name[0] == uid and one["body"] is not None]
        if body is None:
            assert machine["nickname_key"] is None and not living
            continue
        assert machine["nickname"] == json.loads(body)["nickname"]
        assert machine["nickname_key"] == nickname_key(machine["nickname"])
        bare = [
            BareRow(kind=name[1], handle=name[2], place=one["place"], fields=json.loads(one["body"]))
            for name, one in living
        ]
        rebuilt = machine_of(bare)
        assert {(one.kind, one.handle): one.fields for one in rows_of(rebuilt)} == {
            (one.kind, one.handle): one.fields for one in bare
        }, "a body is not in its normal form"


def count(store: Store, table: str) -> int:
    with store.engine.connect() as connection:
        return connection.execute(sa.select(sa.func.count()).select_from(metadata.tables[table])).scalar_one()


def refused(store: Store, error: type[Exception], action: Callable[[], object]) -> Any:
    """The error of a refused action; nothing at all may be different afterwards."""
    before = everything(store)
    with pytest.raises(error) as caught:
        action()
    assert everything(store) == before
    if isinstance(caught.value, WreckwrightError):
        assert caught.value.what and caught.value.do
    return caught.value


class Odd(Exception):
    pass


def raises(*_: object) -> Any:
    raise Odd


def in_parts(action: Callable[[], object]) -> StoreError:
    """The StoreError of an action: all three parts are there."""
    with pytest.raises(StoreError) as caught:
        action()
    error = caught.value
    assert error.what and error.allowed and error.do
    return error
