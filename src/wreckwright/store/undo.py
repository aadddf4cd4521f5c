"""Take a change back, by a new change that puts its rows back as they were. The rules stand in docs/memory.md."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence

from wreckwright.errors import ConflictError, FieldConflict, NotThere
from wreckwright.record.faults import shown
from wreckwright.store.apply import apply
from wreckwright.store.engine import Store
from wreckwright.store.images import in_current_format
from wreckwright.store.read import KeptRow, Reader
from wreckwright.store.settle import Check
from wreckwright.store.types import ChangeLine, Draft, Operation, Outcome, Put, Remove, RowImage, RowKey


def undo(
    store: Store, *, change_id: str, who: str, at: dt.datetime, check: Check, operation: Operation | None = None
) -> Outcome:
    """Take back the change `change_id`: a new change, which can be taken back in turn.

    Only if no row of it was changed since; changes that have been taken back do not count. Otherwise ConflictError
    lists the rows that were, each with what the later change was. Raises NotThere for an unknown change, and what
    `apply` raises. The result names the change: {"undoes": change_id}.
    """
    return apply(
        store,
        who=who,
        at=at,
        draft=lambda reader: _taken_back(reader, change_id),
        check=check,
        operation=operation,
        undoes=change_id,
    )


def undoable(reader: Reader, machine: str | None = None) -> ChangeLine | None:
    """The latest change (of one machine) that takes nothing back and stands; None if there is none."""
    limit = 50
    while True:
        lines = reader.changes(machine, limit=limit)
        for line in lines:
            if line.undoes is None and line.undone_by is None:
                return line
        if len(lines) < limit:
            return None
        limit *= 8


def untouched(reader: Reader, lines: Iterable[ChangeLine]) -> frozenset[str]:
    """Ids of those changes that an undo would not refuse for a later change of the same rows.

    It may still refuse one for another reason, such as rows that a machine got after it was taken in.
    """
    lines = tuple(lines)
    undoes = _undoes(reader)
    touched: set[str] = set()
    for uid in {uid for line in lines for uid in line.machines}:
        for made in reader.revisions(uid).values():
            states = _states(made, undoes)
            now = states[made[-1][0]]
            touched |= {change_id for rev, change_id in made if states[rev] != now}
    return frozenset(line.id for line in lines) - touched


def _taken_back(reader: Reader, change_id: str) -> Draft:
    line = reader.change(change_id)
    if line is None:
        raise NotThere(
            f"There is no change {shown(change_id)}",
            allowed="a change that the journal lists",
            do="Open the list of changes and choose there",
        )
    images = [in_current_format(image) for image in reader.images(change_id)]
    kept = {key: row for uid in line.machines for key, row in reader.kept(uid).items()}
    undoes = _undoes(reader)
    made = {key: one for uid in line.machines for key, one in reader.revisions(uid).items()}
    later = []
    for image in images:
        states = _states(made[image.key], undoes)
        if states[image.rev] != states[kept[image.key].rev]:
            later.append(image)
    if later:
        raise _changed_since(reader, line, later, kept)
    return Draft(
        what=_words(reader, line),
        writes=tuple(_back(reader, image, kept[image.key]) for image in images),
        result={"undoes": change_id},
    )


def _back(reader: Reader, image: RowImage, now: KeptRow) -> Put | Remove:
    if image.before is None:
        return Remove(key=image.key, base_rev=now.rev)
    gone = {name: None for name in now.fields or {} if name not in image.before}
    before = reader.image(image.key, image.rev - 1)
    assert before is not None  # every revision of a row has its image
    return Put(
        key=image.key,
        fields={**image.before, **gone},
        base_rev=now.rev if now.fields is not None else 0,
        place=before.place,
    )


def _undoes(reader: Reader) -> Mapping[str, str]:
    """Undo -> the change that it took back."""
    return {undoer: undone for undone, undoer in reader.undoers()}


def _states(made: Sequence[tuple[int, str]], undoes: Mapping[str, str]) -> Mapping[int, int]:
    """Revision of one row -> the state that it is, named by the first revision that had it; 0: never there.

    An undo does not make a new state: it brings back the one before the change that it takes back, and with it all that
    could be undone then. `made`: revisions, oldest first, with the changes that made them.
    """
    rev_of = {change_id: rev for rev, change_id in made}
    states = {0: 0}
    for rev, change_id in made:
        undone = rev_of.get(undoes.get(change_id, ""))
        states[rev] = rev if undone is None else states[undone - 1]
    return states


def _changed_since(
    reader: Reader, line: ChangeLine, images: Iterable[RowImage], kept: dict[RowKey, KeptRow]
) -> ConflictError:
    conflicts = []
    for image in images:
        _, last_id = reader.history(image.key)[-1]
        last = reader.change(last_id)
        conflicts.append(
            FieldConflict(
                kind=image.key.kind,
                handle=image.key.handle,
                field="",
                base=image.after,
                now=kept[image.key].fields,
                wanted=image.before,
                since=last.what if last else "",
            )
        )
    if line.undone_by is not None:
        return ConflictError(
            f"This has been taken back already: {line.what}",
            allowed="a change that still stands",
            do="To bring it back, take back the undo",
            conflicts=conflicts,
        )
    rows = ", ".join(f"{one.kind} {one.handle} ({one.since})" for one in conflicts[:5])
    return ConflictError(
        f"What this change touched was changed again since: {rows}",
        allowed="a change whose rows are still as it left them",
        do="Take back the later changes first, or put it right by hand; nothing was written",
        conflicts=conflicts,
    )


def _words(reader: Reader, line: ChangeLine) -> str:
    """How the new change is called: an undo of an undo of an undo says no more than an undo."""
    back = True
    while line.undoes is not None and (earlier := reader.change(line.undoes)) is not None:
        line, back = earlier, not back
    return f"{'Taken back' if back else 'Brought back'}: {line.what}"
