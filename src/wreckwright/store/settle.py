"""Work out what a draft comes to: which rows change into what. Looks, and raises; nothing is written here."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

from wreckwright.errors import ConflictError, FieldConflict, NicknameTaken, NotThere, StoreError
from wreckwright.record.faults import one_of, shown
from wreckwright.record.types import Machine
from wreckwright.store.images import in_current_format
from wreckwright.store.merge import merge
from wreckwright.store.read import KeptRow, Reader
from wreckwright.store.rows import KINDS, checked_machine_of, nickname_key, rows_of, same, without_defaults
from wreckwright.store.types import SINGLE_KINDS, BareRow, Draft, Fields, Put, Remove, RowKey

Check = Callable[[Machine], None]
"""Raises if a machine must not become like this."""


@dataclass(frozen=True, kw_only=True)
class Step:
    """One row that changes."""

    key: RowKey
    was: KeptRow | None
    """None: no such row was ever there."""
    place: int
    fields: Fields | None
    """None: it is taken away."""


@dataclass(frozen=True, kw_only=True)
class Settled:
    steps: tuple[Step, ...]
    nicknames: dict[str, str | None]
    """Machine -> its nickname, None if it is taken away; of the machines whose `machine` row changes."""


@dataclass(frozen=True, kw_only=True)
class _Wish:
    """How one row is to be, by the draft."""

    place: int
    fields: Fields | None


def settle(reader: Reader, draft: Draft, check: Check) -> Settled:
    """What is to be written for `draft`.

    Raises ConflictError (somebody else changed the same), NotThere, NicknameTaken, RecordError (a row has the wrong
    shape), whatever `check` raises, and ValueError for a draft that makes no sense.
    """
    writes = _by_machine(draft)
    conflicts: list[FieldConflict] = []
    wishes = {}
    kept = {}
    for uid, some in writes.items():
        kept[uid] = reader.kept(uid)
        wishes[uid] = _Wisher(reader, uid, kept[uid]).wishes(some, conflicts)
    if conflicts:
        raise _conflict(conflicts)
    steps: list[Step] = []
    nicknames: dict[str, str | None] = {}
    for uid, wished in wishes.items():
        of_this = _steps(uid, kept[uid], wished, check)
        if any(step.key.kind == "machine" for step in of_this):
            nicknames[uid] = next(
                step.fields["nickname"] if step.fields else None for step in of_this if step.key.kind == "machine"
            )
        steps += of_this
    _refuse_same_nicknames(reader, nicknames)
    return Settled(steps=tuple(steps), nicknames=nicknames)


def _by_machine(draft: Draft) -> dict[str, list[Put | Remove]]:
    writes: dict[str, list[Put | Remove]] = {}
    seen: set[RowKey] = set()
    for write in draft.writes:
        key = write.key
        if key in seen:
            raise ValueError(f"two writes of {key} in one draft")
        seen.add(key)
        if key.kind not in KINDS or not key.handle or not key.machine:
            raise ValueError(f"no such kind of row: {key}")
        if key.kind in SINGLE_KINDS and key.handle != key.kind:
            raise ValueError(f"the one row of its kind is called {key.kind}: {key}")
        if isinstance(write, Put) and write.fields.get("id", key.handle) != key.handle:
            raise ValueError(f"the handle of {key} cannot become {write.fields['id']!r}")
        writes.setdefault(key.machine, []).append(write)
    for uid, some in writes.items():
        removed = {write.key.kind for write in some if isinstance(write, Remove)}
        if removed & set(SINGLE_KINDS) and "machine" not in removed:
            raise ValueError(f"single rows of {uid} go only with the whole machine")
    return writes


class _Wisher:
    """Brings the writes of one machine together with what is there now."""

    def __init__(self, reader: Reader, uid: str, kept: Mapping[RowKey, KeptRow]) -> None:
        self.reader = reader
        self.uid = uid
        self.kept = kept
        self.ends: dict[str, int] = {}
        """Kind -> place behind its last row."""
        for row in kept.values():
            if row.fields is not None:
                self.ends[row.key.kind] = max(self.ends.get(row.key.kind, 0), row.place + 1)

    def wishes(self, writes: Iterable[Put | Remove], conflicts: list[FieldConflict]) -> dict[RowKey, _Wish]:
        """Rows named in the draft -> how they are to be; what stands against it goes to `conflicts`."""
        writes = list(writes)
        root = RowKey(machine=self.uid, kind="machine", handle="machine")
        lives = root in self.kept and self.kept[root].fields is not None
        if not lives and not any(isinstance(write, Put) and write.key == root for write in writes):
            self.reader.head(self.uid)  # says whether it was taken away or never was
        wished: dict[RowKey, _Wish] = {}
        for write in writes:
            made = self._put(write, conflicts) if isinstance(write, Put) else self._remove(write, conflicts)
            if made is not None:
                wished[write.key] = made
        if root in wished and wished[root].fields is None:
            for key, row in self.kept.items():
                if row.fields is not None and key not in wished:
                    conflicts.append(self._whole(row, base=None, wanted=None, after_rev=0))
        return wished

    def _put(self, write: Put, conflicts: list[FieldConflict]) -> _Wish | None:
        key, now = write.key, self.kept.get(write.key)
        wanted = without_defaults(key.kind, write.fields)
        if key.kind not in SINGLE_KINDS:
            wanted["id"] = key.handle
        if now is None and write.base_rev:
            raise NotThere(
                f"There is no row {shown(key.handle)} in {key.kind}",
                allowed="a row that is there",
                do="Open the list again; it may have been read from another database",
            )
        if now is None or now.fields is None:
            if now is not None and write.base_rev:
                base = self._base(key, write.base_rev)
                conflicts.append(self._whole(now, base=base and base[0], wanted=wanted, after_rev=write.base_rev))
                return None
            fields = {name: value for name, value in wanted.items() if value is not None}
            return _Wish(place=self._new_place(write), fields=fields)
        if write.base_rev == 0:
            # The writer saw no such row, so it must be the very same one: nothing of it may be lost or come by itself.
            wanted = {name: None for name in now.fields} | wanted
        base_fields, base_place = self._seen(write, now)
        merged = merge(base_fields, now.fields, wanted)
        for clash in merged.conflicts:
            since = self._since(key, clash.field, after_rev=write.base_rev)
            conflicts.append(
                FieldConflict(
                    kind=key.kind,
                    handle=key.handle,
                    field=clash.field,
                    base=clash.base,
                    now=clash.now,
                    wanted=clash.wanted,
                    since=since,
                )
            )
        place = now.place
        if write.place not in (None, place) and write.base_rev and key.kind not in SINGLE_KINDS:
            place = write.place
            if base_place != now.place:
                conflicts.append(
                    FieldConflict(
                        kind=key.kind,
                        handle=key.handle,
                        field="place",
                        base=base_place,
                        now=now.place,
                        wanted=write.place,
                        since=self._since(key, "", after_rev=write.base_rev),
                    )
                )
        return _Wish(place=place, fields=merged.fields)

    def _remove(self, write: Remove, conflicts: list[FieldConflict]) -> _Wish | None:
        now = self.kept.get(write.key)
        if now is None:
            raise NotThere(
                f"There is no row {shown(write.key.handle)} in {write.key.kind}",
                allowed="a row that is there",
                do="Open the list again",
            )
        if now.fields is not None and write.base_rev != now.rev:
            base = self._base(write.key, write.base_rev)
            conflicts.append(self._whole(now, base=base and base[0], wanted=None, after_rev=write.base_rev))
        return _Wish(place=now.place, fields=None)

    def _new_place(self, write: Put) -> int:
        kind = write.key.kind
        if kind in SINGLE_KINDS:
            return 0
        place = self.ends.get(kind, 0) if write.place is None else write.place
        self.ends[kind] = max(self.ends.get(kind, 0), place + 1)
        return place

    def _seen(self, write: Put, now: KeptRow) -> tuple[Fields | None, int | None]:
        """Fields and place that the writer saw; None: nobody can say."""
        if write.base_rev == now.rev:
            return now.fields, now.place
        return self._base(write.key, write.base_rev) or (None, None)

    def _base(self, key: RowKey, rev: int) -> tuple[Fields, int] | None:
        """The row as it was at a revision; None if it was not there, or that cannot be told any more."""
        image = self.reader.image(key, rev) if rev else None
        try:
            image = image and in_current_format(image)
        except StoreError:
            return None
        return None if image is None or image.after is None else (image.after, image.place)

    def _whole(self, now: KeptRow, *, base: Fields | None, wanted: Fields | None, after_rev: int) -> FieldConflict:
        return FieldConflict(
            kind=now.key.kind,
            handle=now.key.handle,
            field="",
            base=base,
            now=now.fields,
            wanted=wanted,
            since=self._since(now.key, "", after_rev=after_rev),
        )

    def _since(self, key: RowKey, field: str, *, after_rev: int) -> str:
        """What the last change of this field (empty: of anything in the row) after a revision was, in its words."""
        for image, change_id in reversed(self.reader.history(key)):
            if image.rev > after_rev and (
                not field or not same((image.before or {}).get(field), (image.after or {}).get(field))
            ):
                line = self.reader.change(change_id)
                return line.what if line else ""
        return ""


def _steps(uid: str, kept: Mapping[RowKey, KeptRow], wished: dict[RowKey, _Wish], check: Check) -> list[Step]:
    """The rows of one machine that change, in their normal form, once the machine has passed the check."""
    after = {
        row.key: _Wish(place=row.place, fields=row.fields) for row in kept.values() if row.fields is not None
    } | wished
    root = RowKey(machine=uid, kind="machine", handle="machine")
    if root in wished and after[root].fields is not None:
        for kind in SINGLE_KINDS:
            key = RowKey(machine=uid, kind=kind, handle=kind)
            if key not in after:
                after[key] = wished[key] = _Wish(place=0, fields={})
    if after[root].fields is None:
        return _changed(kept, wished, {})
    machine = checked_machine_of(
        BareRow(kind=key.kind, handle=key.handle, place=wish.place, fields=wish.fields)
        for key, wish in after.items()
        if wish.fields is not None
    )
    steps = _changed(kept, wished, {(row.kind, row.handle): row.fields for row in rows_of(machine)})
    if steps:
        check(machine)
    return steps


def _changed(
    kept: Mapping[RowKey, KeptRow], wished: Mapping[RowKey, _Wish], normal: Mapping[tuple[str, str], Fields]
) -> list[Step]:
    steps = []
    for key, wish in sorted(wished.items()):
        was = kept.get(key)
        fields = None if wish.fields is None else normal[key.kind, key.handle]
        if was is None or was.fields is None:
            changes = fields is not None
        else:
            changes = fields is None or not same(was.fields, fields) or wish.place != was.place
        if changes:
            steps.append(Step(key=key, was=was, place=wish.place, fields=fields))
    return steps


def _refuse_same_nicknames(reader: Reader, nicknames: dict[str, str | None]) -> None:
    if not nicknames:
        return
    owners = {nickname_key(head.nickname): head.uid for head in reader.machines() if head.uid not in nicknames}
    for uid, nickname in nicknames.items():
        if nickname is not None and owners.setdefault(nickname_key(nickname), uid) != uid:
            raise NicknameTaken(
                f"There is already a machine called {nickname.strip()}",
                allowed="a nickname that no other machine has; capitals and spaces around it make no difference",
                do="Choose another nickname",
                nickname=nickname,
                uid=owners[nickname_key(nickname)],
            )


def _conflict(conflicts: list[FieldConflict]) -> ConflictError:
    # Of a single row the kind is the handle.
    rows = list(dict.fromkeys(" ".join(dict.fromkeys((one.kind, one.handle))) for one in conflicts))
    fields = list(dict.fromkeys(one.field for one in conflicts if one.field))
    what = f"{rows[0]} was" if len(rows) == 1 else f"{len(rows)} rows ({one_of(rows, most=5)}) were"
    return ConflictError(
        f"{what} changed meanwhile" + (f": {', '.join(fields)}" if fields else ""),
        allowed="what was there when you looked, or a change of other fields",
        do="Look at both and choose; nothing was written",
        conflicts=conflicts,
    )
