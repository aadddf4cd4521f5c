"""Bring together what two writers did to one row. Pure; the rule stands in docs/memory.md."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from wreckwright.store.rows import same
from wreckwright.store.types import Fields


@dataclass(frozen=True, kw_only=True)
class Clash:
    """A field that was changed on both sides, to different values. None: absent."""

    field: str
    base: Any
    now: Any
    wanted: Any


@dataclass(frozen=True, kw_only=True)
class Merged:
    fields: dict[str, Any]
    """The row as it is to be, if there are no conflicts; absent fields are absent, none is None."""
    conflicts: tuple[Clash, ...]


def merge(base: Fields | None, now: Fields, wanted: Fields) -> Merged:
    """What the row `now` becomes, of which the writer saw `base` and wants some fields to be as in `wanted`.

    In `wanted`, None stands for "absent"; fields not named stay as they are now. `base` None: it is not known what the
    writer saw, so any difference is a conflict.

    >>> merge({"a": 1, "b": 1}, {"a": 1, "b": 2}, {"a": 3}).fields
    {'a': 3, 'b': 2}
    >>> merge({"a": 1}, {"a": 2}, {"a": 3}).conflicts
    (Clash(field='a', base=1, now=2, wanted=3),)
    """
    fields = dict(now)
    conflicts = []
    for name, value in wanted.items():
        is_now, was = now.get(name), None if base is None else base.get(name)
        if same(is_now, value):
            continue
        if base is None or not same(is_now, was):
            conflicts.append(Clash(field=name, base=was, now=is_now, wanted=value))
        elif value is None:
            del fields[name]
        else:
            fields[name] = value
    return Merged(fields=fields, conflicts=tuple(conflicts))
