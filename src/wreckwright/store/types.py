"""What goes into the store and what comes out of it: plain values, no database.

A machine's record is kept as rows. A row is named by its machine, its kind (the list of the record it stands in, or one
of the five single parts of a record) and its handle. Its fields are the plain values of the record
(`msgspec.to_builtins`); a field that is not known is absent, never null.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

Fields = Mapping[str, Any]
"""Fields of one row -> plain JSON values. In a `Put`, None stands for "this field is to be absent"."""

SINGLE_KINDS = ("machine", "purchase", "market", "calendar", "owner")
"""Kinds of which a machine has one row; its handle is the kind."""


@dataclass(frozen=True, kw_only=True, order=True)
class RowKey:
    machine: str
    """Identity of the machine in this store; the record's own `uid` if it had one."""
    kind: str
    """Name of a list of the record (`findings`, `parts`, ...) or one of `SINGLE_KINDS`."""
    handle: str


@dataclass(frozen=True, kw_only=True)
class BareRow:
    """A row of a record that is not (yet) stored."""

    kind: str
    handle: str
    place: int
    """Order within its list, from 0."""
    fields: Fields


@dataclass(frozen=True, kw_only=True)
class StoredRow:
    key: RowKey
    place: int
    rev: int
    """1 when it was first written, one more with every change; a number is never used twice for a row."""
    fields: Fields


@dataclass(frozen=True, kw_only=True)
class Put:
    """Make a row, or give some of its fields the values named here; fields not named stay as they are."""

    key: RowKey
    fields: Fields
    base_rev: int
    """Revision of the row that the writer saw; 0: the writer saw no such row."""
    place: int | None = None
    """None: as it is, or at the end of its list."""


@dataclass(frozen=True, kw_only=True)
class Remove:
    key: RowKey
    base_rev: int


@dataclass(frozen=True, kw_only=True)
class Draft:
    """What one use case wants to be written."""

    what: str
    """One sentence for the journal."""
    writes: tuple[Put | Remove, ...]
    result: Mapping[str, Any] = field(default_factory=dict)
    """Plain JSON; kept with the operation, and given again when the operation comes again."""


@dataclass(frozen=True, kw_only=True)
class Operation:
    """One tap or one form on one device. The same operation counts once, however often it arrives."""

    device: str
    op: str
    body_hash: str
    """SHA-256 of what was sent; another body under the same `op` is refused."""


@dataclass(frozen=True, kw_only=True)
class Outcome:
    change_id: str | None
    """None: everything was already as wanted."""
    result: Mapping[str, Any]
    replayed: bool
    """True: this operation had been carried out before; nothing was written now."""


@dataclass(frozen=True, kw_only=True)
class MachineHead:
    uid: str
    nickname: str
    place: int
    """The owner's order, from 0."""


@dataclass(frozen=True, kw_only=True)
class ChangeLine:
    """One entry of the journal."""

    id: str
    at: dt.datetime
    """In UTC."""
    who: str
    what: str
    machines: tuple[str, ...]
    undoes: str | None
    """Id of the change that this one took back."""
    undone_by: str | None
    """Id of the change that took this one back and still stands."""


@dataclass(frozen=True, kw_only=True)
class RowImage:
    """What one change did to one row."""

    key: RowKey
    rev: int
    """Revision after the change."""
    place: int
    before: Fields | None
    """None: the row was not there."""
    after: Fields | None
    """None: the row was taken away."""
    record_format: int
