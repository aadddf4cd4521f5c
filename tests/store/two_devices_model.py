"""What two devices should find in the memory, worked out in a few lists: the oracle of test_two_devices.

Written from the rules in docs/memory.md, not from the program: a row is a list of versions, a version knows which state
it is, an undo brings an old state back. Nothing here is a database.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

Name = tuple[str, str]
"""Kind and handle of a row."""


@dataclass(frozen=True)
class Version:
    state: int
    """Two versions of one state are equal in everything; an undo brings a state back, all else makes a new one."""
    place: int
    fields: Mapping[str, Any] | None


NEVER = Version(0, 0, None)
NEW = -1
"""State of a version that is not written yet."""
PREFIX = {"taps": "tap", "findings": "f"}


@dataclass(frozen=True)
class Edit:
    row: Name
    base_rev: int
    fields: Mapping[str, Any]


@dataclass(frozen=True)
class Take:
    row: Name
    base_rev: int


@dataclass(frozen=True)
class Add:
    kind: str
    fields: Mapping[str, Any]


@dataclass(frozen=True)
class Undo:
    change: int
    """Number of the change in the order of the journal."""


Body = tuple[Edit | Take | Add, ...] | Undo


@dataclass(frozen=True)
class Done:
    change: int | None
    """Number of the change; None: nothing was different."""
    handles: tuple[str, ...]


@dataclass
class Change:
    rows: dict[Name, tuple[int, int]]
    """Row -> revision before and after."""
    undoes: int | None = None


class Refused(Exception):
    """Somebody else changed the same."""


@dataclass
class Model:
    rows: dict[Name, list[Version]] = field(default_factory=dict)
    changes: list[Change] = field(default_factory=list)
    states: int = 0

    def version(self, row: Name) -> Version:
        return (self.rows.get(row) or [NEVER])[-1]

    def at(self, row: Name, rev: int) -> Version:
        return self.rows[row][rev - 1] if rev else NEVER

    def living(self) -> dict[Name, tuple[int, int, Mapping[str, Any]]]:
        """Row -> revision, place, fields."""
        return {
            row: (len(versions), versions[-1].place, versions[-1].fields)
            for row, versions in self.rows.items()
            if versions[-1].fields is not None
        }

    def undone(self, number: int) -> bool:
        return any(
            other.undoes == number and not self.undone(index)
            for index, other in enumerate(self.changes)
            if index > number
        )

    def carry_out(self, body: Body) -> Done:
        """Raises Refused, and is as before then."""
        wanted: dict[Name, Version] = {}
        handles: list[str] = []
        if isinstance(body, Undo):
            wanted = self._taken_back(body.change)
        else:
            for one in body:
                if isinstance(one, Edit):
                    wanted[one.row] = self._edited(one)
                elif isinstance(one, Take):
                    wanted[one.row] = self._taken(one)
                else:
                    handles.append(self._add(one, wanted))
        return self._write(wanted, tuple(handles), undoes=body.change if isinstance(body, Undo) else None)

    def _write(self, wanted: Mapping[Name, Version], handles: tuple[str, ...], undoes: int | None) -> Done:
        rows = {}
        for row, version in wanted.items():
            before = self.version(row)
            if before.fields == version.fields and (before.fields is None or before.place == version.place):
                continue
            if version.state == NEW:
                self.states += 1
                version = replace(version, state=self.states)
            versions = self.rows.setdefault(row, [])
            rows[row] = (len(versions), len(versions) + 1)
            versions.append(version)
        if not rows:
            return Done(None, handles)
        self.changes.append(Change(rows, undoes))
        return Done(len(self.changes) - 1, handles)

    def _add(self, add: Add, wanted: dict[Name, Version]) -> str:
        """Puts the new row into `wanted`; gives its handle. Every handle ever given out stays a row here."""
        of_kind = {row for row in self.rows.keys() | wanted.keys() if row[0] == add.kind}
        handle = f"{PREFIX[add.kind]}{len(of_kind) + 1}"
        places = [
            one.place for one in (wanted.get(row) or self.version(row) for row in of_kind) if one.fields is not None
        ]
        fields = {"id": handle, **add.fields}
        wanted[add.kind, handle] = Version(NEW, max(places, default=-1) + 1, fields)
        return handle

    def _edited(self, edit: Edit) -> Version:
        now, seen = self.version(edit.row), self.at(edit.row, edit.base_rev)
        if now.fields is None or seen.fields is None:
            raise Refused
        fields = dict(now.fields)
        for name, value in edit.fields.items():
            if now.fields.get(name) == value:
                continue
            if now.fields.get(name) != seen.fields.get(name):
                raise Refused
            fields[name] = value
        return Version(NEW, now.place, {name: value for name, value in fields.items() if value is not None})

    def _taken(self, take: Take) -> Version:
        now = self.version(take.row)
        if now.fields is not None and len(self.rows[take.row]) != take.base_rev:
            raise Refused
        return Version(NEW, now.place, None)

    def _taken_back(self, number: int) -> dict[Name, Version]:
        rows = self.changes[number].rows
        if any(self.version(row).state != self.at(row, after).state for row, (_, after) in rows.items()):
            raise Refused
        back = {}
        for row, (before, _) in rows.items():
            version = self.at(row, before)
            # A row taken away keeps the place where it stood.
            back[row] = version if version.fields is not None else replace(version, place=self.version(row).place)
        return back
