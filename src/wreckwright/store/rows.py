"""A machine as rows, and rows as a machine: equal values both ways. Pure.

Bodies are the parts of a record as plain JSON values, as msgspec makes them: a field at its default is absent. That is
their one normal form, so two bodies mean the same exactly if they are the same (see `same`).
"""

from __future__ import annotations

import json
import unicodedata
from collections.abc import Iterable, Mapping
from functools import lru_cache
from typing import Any

import msgspec

from wreckwright.errors import RecordError
from wreckwright.record.file import as_problems
from wreckwright.record.rules import HANDLE_PREFIX
from wreckwright.record.shape import shape_faults
from wreckwright.record.types import Machine
from wreckwright.store.types import SINGLE_KINDS, BareRow, Fields, StoredRow

KINDS = (*SINGLE_KINDS, *HANDLE_PREFIX)
"""All kinds of rows, in the order of a record."""


def rows_of(machine: Machine) -> tuple[BareRow, ...]:
    """The rows of a machine: the five single ones, then list by list in the order of the record.

    >>> from wreckwright.record.file import read_record
    >>> text = b'nickname = "Sorrel"\\nmachine_class = "tourer"\\nyear = 2019\\nfindings = ["front rim dinged"]'
    >>> rows = rows_of(read_record(text))
    >>> [row.handle for row in rows]
    ['machine', 'purchase', 'market', 'calendar', 'owner', 'f1']
    >>> rows[-1].fields
    {'id': 'f1', 'what': 'front rim dinged'}
    """
    # Not to_builtins: it leaves tuples, which come back from the database as lists.
    plain: dict[str, Any] = msgspec.json.decode(msgspec.json.encode(machine))
    singles = {kind: plain.pop(kind, {}) for kind in SINGLE_KINDS[1:]}
    lists = {kind: plain.pop(kind, ()) for kind in HANDLE_PREFIX}
    return (
        BareRow(kind="machine", handle="machine", place=0, fields=plain),
        *(BareRow(kind=kind, handle=kind, place=0, fields=fields) for kind, fields in singles.items()),
        *(
            BareRow(kind=kind, handle=fields["id"], place=place, fields=fields)
            for kind, listed in lists.items()
            for place, fields in enumerate(listed)
        ),
    )


def machine_of(rows: Iterable[BareRow | StoredRow]) -> Machine:
    """The machine that these rows say; single rows other than `machine` may be missing.

    Raises RecordError, as for a file, if they say none. For rows that have been written once; of rows that come from
    outside `checked_machine_of` also looks at what a machine in memory does not show, such as control characters.
    """
    plain = _plain(rows)
    try:
        return msgspec.convert(plain, Machine)
    except msgspec.ValidationError:
        _refuse_wrong_shapes(plain)
        raise


def checked_machine_of(rows: Iterable[BareRow | StoredRow]) -> Machine:
    """The same, of rows that nobody has looked at yet: RecordError for all that a file would be refused for.

    The rules of a record (`rule_faults`) are not checked here.
    """
    plain = _plain(rows)
    _refuse_wrong_shapes(plain)
    return msgspec.convert(plain, Machine)


def _plain(rows: Iterable[BareRow | StoredRow]) -> dict[str, Any]:
    plain: dict[str, Any] = {}
    lists: dict[str, list[tuple[int, str, Fields]]] = {}
    for row in rows:
        kind, handle = (row.key.kind, row.key.handle) if isinstance(row, StoredRow) else (row.kind, row.handle)
        if kind == "machine":
            plain.update(row.fields)
        elif kind in SINGLE_KINDS:
            plain[kind] = row.fields
        else:
            lists.setdefault(kind, []).append((row.place, handle, row.fields))
    for kind, listed in lists.items():
        plain[kind] = [{**fields, "id": handle} for _, handle, fields in sorted(listed, key=lambda one: one[:2])]
    return plain


def _refuse_wrong_shapes(plain: dict[str, Any]) -> None:
    faults = list(shape_faults(plain))
    if faults:
        raise RecordError(as_problems(faults, raw=plain, lines={}))


def canonical(value: Any) -> str:
    """The one JSON text of a plain value: keys in order, no spaces, no NaN.

    >>> canonical({"b": (1, 2.5), "a": "é"})
    '{"a":"é","b":[1,2.5]}'
    """
    return json.dumps(value, ensure_ascii=False, allow_nan=False, sort_keys=True, separators=(",", ":"))


def same(one: Any, other: Any) -> bool:
    """Whether two plain values are the same: 1 and 1.0 are, a list and a tuple are, true and 1 are not.

    >>> same({"a": [1]}, {"a": (1.0,)}), same(True, 1), same(None, 0)
    (True, False, False)
    """
    if isinstance(one, bool) or isinstance(other, bool):
        return one is other
    if isinstance(one, Mapping) and isinstance(other, Mapping):
        return one.keys() == other.keys() and all(same(value, other[key]) for key, value in one.items())
    if isinstance(one, list | tuple) and isinstance(other, list | tuple):
        return len(one) == len(other) and all(map(same, one, other))
    return bool(one == other)


def without_defaults(kind: str, fields: Fields) -> dict[str, Any]:
    """The same fields in normal form: None ("to be absent") where the value is the field's default.

    Unknown fields stay as they are: `machine_of` refuses them.

    >>> without_defaults("findings", {"severity": 2, "what": "rim dinged"})
    {'severity': None, 'what': 'rim dinged'}
    """
    defaults = _defaults(kind)
    return {name: None if name in defaults and same(value, defaults[name]) else value for name, value in fields.items()}


@lru_cache(maxsize=len(KINDS))
def _defaults(kind: str) -> Mapping[str, Any]:
    """Field -> default as a plain value, of the fields that have one other than None."""
    fields = {field.name: field for field in msgspec.structs.fields(Machine)}
    if kind == "machine":
        own = [field for name, field in fields.items() if name not in KINDS]
    elif kind in SINGLE_KINDS:
        own = list(msgspec.structs.fields(type(fields[kind].default)))
    else:
        own = list(msgspec.structs.fields(msgspec.inspect.type_info(fields[kind].type).item_type.cls))  # type: ignore[attr-defined]
    defaults: dict[str, Any] = {}
    for field in own:
        if field.default_factory is not msgspec.NODEFAULT:
            defaults[field.name] = msgspec.to_builtins(field.default_factory())
        elif field.default is not msgspec.NODEFAULT and field.default is not None:
            defaults[field.name] = msgspec.to_builtins(field.default)
    return defaults


def nickname_key(nickname: str) -> str:
    """What nicknames are told apart by: two machines may not have the same.

    >>> nickname_key(" Sorrel ") == nickname_key("SORREL")
    True
    """
    return unicodedata.normalize("NFC", nickname.strip().casefold())
