"""Compare a plain record (what a TOML or JSON reader gives) with the declared types, and list all that does not fit.

The declarations in `wreckwright.record.types` are the only source of what is allowed: this walks them. The reader of
the types stops at the first thing wrong; a record written by hand often has several, and all are wanted at once.
"""

from __future__ import annotations

import datetime as dt
import math
import re
from collections.abc import Iterator, Mapping
from functools import lru_cache
from typing import Any

from msgspec import inspect

from wreckwright.record.faults import Fault, nearest, one_of, shown
from wreckwright.record.types import Machine
from wreckwright.record.where import Path

EARLIEST, LATEST = dt.date(1900, 1, 1), dt.date(2199, 12, 31)
MOST_ROWS = 10_000
EXTRA_DEEPEST = 8
_EXTRA_LONGEST = 20_000
_WHOLE_LIMIT = 2**63

# Only the long ISO 8601 form: the short and the week forms are read differently by different readers.
_DAY = re.compile(r"\d{4}-\d\d-\d\d", re.ASCII)
_MOMENT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d{1,6})?(Z|[+-]\d\d:\d\d)?", re.ASCII)

_LEAVE_OUT = "leave the field out if it is not known"


def shape_faults(raw: Mapping[str, Any]) -> Iterator[Fault]:
    """All faults of shape of a plain record, in the order of the record.

    >>> [fault.path for fault in shape_faults({"nickname": "Sorrel", "machine_class": "naked", "yaer": 2019})]
    [('yaer',), ('year',)]
    """
    yield from _struct(raw, _root(), ())


@lru_cache(maxsize=1)
def _root() -> inspect.StructType:
    root = inspect.type_info(Machine)
    assert isinstance(root, inspect.StructType)
    return root


@lru_cache(maxsize=1)
def _homes() -> Mapping[str, tuple[str, ...]]:
    """Key -> tables of the record that have it, for keys that were written in the wrong place."""
    homes: dict[str, tuple[str, ...]] = {}
    for field in _root().fields:
        inner = field.type.item_type if isinstance(field.type, inspect.VarTupleType) else field.type
        if isinstance(inner, inspect.StructType):
            for key in inner.fields:
                homes[key.name] = (*homes.get(key.name, ()), field.name)
        homes[field.name] = (*homes.get(field.name, ()), "")
    return homes


def _struct(value: object, kind: inspect.StructType, path: Path) -> Iterator[Fault]:
    if not isinstance(value, Mapping):
        yield Fault(
            path=path,
            found=shown(value),
            allowed="a table of fields: " + one_of(field.name for field in kind.fields),
            do=_write_table(path),
        )
        return
    fields = {field.name: field for field in kind.fields}
    for key, inside in value.items():
        if key not in fields:
            yield _unknown_key(str(key), inside, tuple(fields), path)
        elif key == "extra":
            yield from _extra((*path, key), inside)
        else:
            yield from _any(inside, fields[key].type, (*path, key))
    for field in kind.fields:
        if field.required and field.name not in value:
            yield Fault(
                path=(*path, field.name),
                found="nothing",
                allowed=_allowed(field.type, field.name),
                do=f"add a line: {field.name} = {_example(field.name, field.type)}",
            )


def _write_table(path: Path) -> str:
    name = next((str(step) for step in reversed(path) if isinstance(step, str)), "")
    return (
        f"write its fields under a heading [[{name}]] (or as {{...}})"
        if any(isinstance(step, int) for step in path)
        else (f"write its fields under a heading [{name}]")
    )


def _unknown_key(key: str, value: object, fields: tuple[str, ...], path: Path) -> Fault:
    here = path[0] if path else ""
    homes = [home for home in _homes().get(key, ()) if home != here]
    near = nearest(key, fields) or tuple(field for field in fields if field == f"{key}_minor")
    shown_key = shown(key)
    if f"{key}_minor" in fields:
        do = f"write {key}_minor; money is written in minor units (3450.00 as 345000)"
    elif near:
        do = f"write {near[0]}" + (f" (or {one_of(near[1:])})" if near[1:] else "")
    elif homes:
        do = "move it " + one_of(
            "to the top of the file, before the first [heading]" if home == "" else f"under {home}" for home in homes
        )
    else:
        do = "take it out, or keep it under a table [extra], which is never read"
    return Fault(path=(*path, key), found=f"the unknown field {shown_key}", allowed=one_of(fields, most=60), do=do)


def _any(value: object, kind: inspect.Type, path: Path) -> Iterator[Fault]:
    if isinstance(kind, inspect.UnionType):
        kind = next(one for one in kind.types if not isinstance(one, inspect.NoneType))
    if value is None:
        yield Fault(path=path, found="null", allowed=_allowed(kind, _name(path)), do=_LEAVE_OUT)
    elif isinstance(kind, inspect.StructType):
        yield from _struct(value, kind, path)
    elif isinstance(kind, inspect.VarTupleType):
        yield from _list(value, kind, path)
    elif isinstance(kind, inspect.StrType):
        yield from _text(value, kind, path)
    elif isinstance(kind, inspect.LiteralType):
        if not isinstance(value, str) or value not in kind.values:
            near = nearest(value, map(str, kind.values)) if isinstance(value, str) else ()
            yield Fault(
                path=path,
                found=shown(value),
                allowed=_allowed(kind, _name(path)),
                do=f"write {near[0]}" if near else "write one of these words",
            )
    elif isinstance(kind, inspect.BoolType):
        if not isinstance(value, bool):
            yield Fault(
                path=path, found=shown(value), allowed="true or false", do="write true or false, without quotes"
            )
    elif isinstance(kind, inspect.IntType | inspect.FloatType):
        yield from _number(value, kind, path)
    elif isinstance(kind, inspect.DateType | inspect.DateTimeType):
        yield from _date(value, kind, path)
    else:  # a type nobody has declared yet must not slip through unread
        raise NotImplementedError(f"no check for {kind}")


def _list(value: object, kind: inspect.VarTupleType, path: Path) -> Iterator[Fault]:
    if not isinstance(value, list | tuple):
        yield Fault(
            path=path,
            found=shown(value),
            allowed="a list",
            do=_write_table((*path, 0))
            if isinstance(kind.item_type, inspect.StructType)
            else "write it in square brackets, entries parted by commas",
        )
        return
    if len(value) > MOST_ROWS:
        yield Fault(
            path=path,
            found=f"{len(value)} rows",
            allowed=f"at most {MOST_ROWS} rows",
            do="keep older rows in another file",
        )
        return
    low, high = kind.min_length or 0, kind.max_length or MOST_ROWS
    if not low <= len(value) <= high:
        yield Fault(
            path=path,
            found=shown(value),
            allowed=f"exactly {low} entries" if low == high else f"{low} to {high} entries",
            do="write seven numbers, Monday first; 0 on days without work"
            if _name(path) == "weekday_minutes"
            else "add or take out entries",
        )
    for index, one in enumerate(value):
        yield from _any(one, kind.item_type, (*path, index))


def _text(value: object, kind: inspect.StrType, path: Path) -> Iterator[Fault]:
    allowed = _allowed(kind, _name(path))
    if not isinstance(value, str):
        yield Fault(path=path, found=shown(value), allowed=allowed, do="put it in quotes")
        return
    low, high = kind.min_length or 0, kind.max_length
    if len(value) < low or not value.strip() and low:
        yield Fault(path=path, found=shown(value), allowed=allowed, do="write something in it, or leave the row out")
    elif kind.pattern and not re.search(kind.pattern, value):
        yield Fault(path=path, found=shown(value), allowed=allowed, do=f"write it like {_example(_name(path), kind)}")
    elif high is not None and len(value) > high:
        yield Fault(path=path, found=shown(value), allowed=allowed, do="shorten it; long notes belong in log rows")
    else:
        yield from _characters(value, path, allowed)


def _characters(value: str, path: Path, allowed: str) -> Iterator[Fault]:
    bad = next(
        (
            char
            for char in value
            if (char < " " and char not in "\t\n\r") or char == "\x7f" or "\ud800" <= char <= "\udfff"
        ),
        None,
    )
    if bad is not None:
        yield Fault(
            path=path,
            found=f"{shown(value)}, with the character U+{ord(bad):04X} in it",
            allowed=f"{allowed}, of printable characters, tabs and line ends",
            do="take that character out",
        )


def _number(value: object, kind: inspect.IntType | inspect.FloatType, path: Path) -> Iterator[Fault]:
    name, whole = _name(path), isinstance(kind, inspect.IntType)
    allowed = _allowed(kind, name)
    if isinstance(value, bool) or not isinstance(value, int | float):
        yield Fault(
            path=path,
            found=shown(value),
            allowed=allowed,
            do=f"write a number without quotes, like {_example(name, kind)}",
        )
    elif isinstance(value, float) and not math.isfinite(value):
        yield Fault(path=path, found=shown(value), allowed=allowed, do=_LEAVE_OUT)
    elif whole and isinstance(value, float):
        do = (
            f"write {round(value * 100)} if {value:.2f} is meant (minor units)"
            if name.endswith("_minor")
            else "leave out the decimals"
        )
        yield Fault(path=path, found=shown(value), allowed=allowed, do=do)
    elif (
        (kind.ge is not None and value < kind.ge)
        or (kind.le is not None and value > kind.le)
        or (kind.gt is not None and value <= kind.gt)
        or (kind.lt is not None and value >= kind.lt)
        or abs(value) >= _WHOLE_LIMIT
    ):
        share = (
            f"write {value / 100:g} if {value:g} % is meant"
            if kind.ge == 0.0 and kind.le == 1.0 and 1 < value <= 100
            else ""
        )
        yield Fault(path=path, found=shown(value), allowed=allowed, do=share or "write a number in this range")


def _date(value: object, kind: inspect.Type, path: Path) -> Iterator[Fault]:
    moment = isinstance(kind, inspect.DateTimeType)
    allowed = _allowed(kind, _name(path))
    do = f"write it like {_example(_name(path), kind)}"
    if isinstance(value, str):
        written = value
        try:
            if not (_MOMENT if moment else _DAY).fullmatch(written):
                raise ValueError(written)
            value = dt.datetime.fromisoformat(written) if moment else dt.date.fromisoformat(written)
        except ValueError:
            yield Fault(path=path, found=shown(written), allowed=allowed, do=do)
            return
    if isinstance(value, dt.datetime) != moment or not isinstance(value, dt.date):
        yield Fault(path=path, found=shown(value), allowed=allowed, do=do)
    elif not EARLIEST.year <= value.year <= LATEST.year:
        yield Fault(path=path, found=shown(value), allowed=allowed, do="check the year")


def _extra(path: Path, value: object) -> Iterator[Fault]:
    """`extra` may hold anything that both TOML and JSON can write and that comes back equal."""
    if not isinstance(value, Mapping):
        yield Fault(
            path=path,
            found=shown(value),
            allowed="a table of the owner's own fields",
            do="write them under a heading [extra]",
        )
        return
    waiting: list[tuple[Path, object]] = [(path, value)]
    while waiting:
        at, one = waiting.pop()
        if len(at) - len(path) > EXTRA_DEEPEST:
            yield Fault(
                path=path,
                found=f"tables or lists nested more than {EXTRA_DEEPEST} deep",
                allowed=f"at most {EXTRA_DEEPEST} levels",
                do="flatten it, or keep it in a file of its own",
            )
            return
        if isinstance(one, Mapping):
            for key, inside in one.items():
                yield from _characters(str(key), at, "names")
                waiting.append(((*at, str(key)), inside))
        elif isinstance(one, list | tuple):
            waiting.extend(((*at, index), inside) for index, inside in enumerate(one))
        elif isinstance(one, str):
            if len(one) > _EXTRA_LONGEST:
                yield Fault(
                    path=at,
                    found=shown(one),
                    allowed=f"texts of at most {_EXTRA_LONGEST} characters",
                    do="keep it in a file of its own",
                )
            yield from _characters(one, at, "texts")
        elif one is None:
            yield Fault(path=at, found="null", allowed="texts, numbers, true, false, lists and tables", do=_LEAVE_OUT)
        elif isinstance(one, float) and not math.isfinite(one):
            yield Fault(path=at, found=shown(one), allowed="a finite number", do=_LEAVE_OUT)
        elif isinstance(one, int) and abs(one) >= _WHOLE_LIMIT:
            yield Fault(
                path=at, found=shown(one), allowed="whole numbers of at most 18 digits", do="write it in quotes"
            )


def _name(path: Path) -> str:
    return next((step for step in reversed(path) if isinstance(step, str)), "")


def _allowed(kind: inspect.Type, name: str) -> str:
    if isinstance(kind, inspect.UnionType):
        kind = next(one for one in kind.types if not isinstance(one, inspect.NoneType))
    if isinstance(kind, inspect.LiteralType):
        return one_of(str(value) or "'' (nothing)" for value in kind.values)
    if isinstance(kind, inspect.IntType | inspect.FloatType):
        what = "a whole number" if isinstance(kind, inspect.IntType) else "a finite number"
        if name.endswith("_minor"):
            what += " of minor units (cents, pence)"
        mark = "" if name == "year" else ","
        low = (
            f"from {_bound(kind.ge, mark)}"
            if kind.ge is not None
            else f"above {_bound(kind.gt, mark)}"
            if kind.gt is not None
            else ""
        )
        high = f"to {_bound(kind.le, mark)}" if kind.le is not None else ""
        return " ".join(part for part in (what, low, high) if part)
    if isinstance(kind, inspect.StrType):
        if kind.pattern == "^[A-Z]{3}$":
            return "three capital letters of a currency (ISO 4217)"
        size = f"{kind.min_length} to {kind.max_length}" if kind.min_length else f"at most {kind.max_length}"
        return f"a text of {size} characters"
    if isinstance(kind, inspect.DateType | inspect.DateTimeType):
        return f"a {'date and time' if isinstance(kind, inspect.DateTimeType) else 'date'} from {EARLIEST} to {LATEST}"
    if isinstance(kind, inspect.BoolType):
        return "true or false"
    return "a list" if isinstance(kind, inspect.VarTupleType) else "a table of fields"


def _bound(number: float, mark: str) -> str:
    return f"{int(number):{mark}}" if number == int(number) else f"{number:g}"


def _example(name: str, kind: inspect.Type) -> str:
    by_name = {
        "nickname": '"Sorrel"',
        "machine_class": '"adventure"',
        "year": "2019",
        "currency": '"EUR"',
        "id": '"f1"',
    }
    if name in by_name:
        return by_name[name]
    if isinstance(kind, inspect.DateTimeType):
        return "2026-11-20T19:30:00"
    if isinstance(kind, inspect.DateType):
        return "2026-11-20"
    if isinstance(kind, inspect.IntType | inspect.FloatType):
        if name.endswith("_minor"):
            return "345000 (for 3,450.00)"
        return "0.5" if kind.le == 1.0 else "10"
    return '"..."'
