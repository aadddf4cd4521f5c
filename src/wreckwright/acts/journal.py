"""The journal of the whole memory: what was changed on which machine, and the last change that can be taken back."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from wreckwright.acts.page_shapes import JournalLine
from wreckwright.acts.place import Place, memory_if_any
from wreckwright.acts.sent import Sent
from wreckwright.acts.views import View
from wreckwright.acts.writes import Told, undo_change
from wreckwright.errors import NotThere, UsageError

if TYPE_CHECKING:
    from wreckwright.store.types import ChangeLine


class Journal(View, frozen=True, kw_only=True):
    """What was changed."""

    changes: tuple[JournalLine, ...]
    """Newest first."""


def journal(place: Place, uid: str | None = None, *, limit: int) -> Journal:
    """The last `limit` changes of one machine, or of all; none if there is no memory yet. Raises StoreError."""
    store = memory_if_any(place)
    if store is None:
        return Journal(changes=())
    with store.reading() as reader:
        nicknames = {head.uid: head.nickname for head in reader.machines()}
        return Journal(changes=tuple(line_of(one, nicknames) for one in reader.changes(uid, limit=limit)))


def undo(place: Place, uid: str | None, change_id: str | None, sent: Sent) -> Told:
    """Take one change back: the one named, else the last that stands; of one machine, or of all.

    Raises NotThere if there is none, ConflictError if what it touched was changed since, StoreError.
    """
    from wreckwright.store.undo import undoable

    store = memory_if_any(place)
    if store is None:
        raise _nothing(None)
    with store.reading() as reader:
        line = reader.change(change_id) if change_id else undoable(reader, uid)
        name = next((head.nickname for head in reader.machines() if head.uid == uid), None)
    if line is not None and uid is not None and uid not in line.machines:
        raise NotThere(
            f"the change {line.id} did not touch {name or uid}",
            allowed="a change of that machine, or no machine named",
            do="see `wreckwright changes`, which lists them with their ids",
        )
    if line is None and not change_id:
        raise _nothing(name)
    # A change that is not there is told by the store.
    return undo_change(place, line.id if line else str(change_id), sent)


def no_journal(path: str) -> UsageError:
    """What is said to whom asks for the journal of a record file."""
    return UsageError(
        f"{path} is a record file, and files have no journal",
        allowed="the nickname of a machine in the memory",
        do=f"load it (`wreckwright load {path}`) to have its changes written down from then on; "
        "of a file, keep earlier versions yourself",
    )


def line_of(one: ChangeLine, nicknames: Mapping[str, str]) -> JournalLine:
    """`nicknames`: identity of a machine -> its nickname."""
    return JournalLine(
        id=one.id,
        at=one.at,
        who=one.who,
        what=one.what,
        machines=tuple(nicknames.get(uid, uid) for uid in one.machines),
        undone=one.undone_by is not None,
        is_undo=one.undoes is not None,
    )


def _nothing(nickname: str | None) -> NotThere:
    whose = f" of {nickname}" if nickname else ""
    return NotThere(
        f"there is no change{whose} left to take back",
        allowed="a change that stands",
        do="see `wreckwright changes`; one that was taken back can be brought back by taking back the undo",
    )
