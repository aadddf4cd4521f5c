"""The journal of one machine: what was changed, by whom, and what can be taken back."""

from __future__ import annotations

import datetime as dt

import msgspec

from wreckwright.acts.journal import line_of
from wreckwright.acts.page_record import Today, head_of
from wreckwright.acts.page_shapes import ChangeRow, ChangesPage
from wreckwright.store.read import Reader
from wreckwright.store.undo import untouched
from wreckwright.trade.types import Trade

SHOWN = 50
NO_ANSWER_READS = frozenset({"taps", "log"})
"""Kinds of rows that move no answer."""


def changes_page(
    reader: Reader, trade: Trade, uid: str, *, limit: int = SHOWN, today: Today = dt.date.today
) -> ChangesPage:
    """The last changes of a machine, newest first. Raises NotThere."""
    head = head_of(reader, trade, uid, today=today)
    nicknames = {one.uid: one.nickname for one in reader.machines()}
    lines = reader.changes(uid, limit=limit)
    free = untouched(reader, lines)
    return ChangesPage(head=head, changes=tuple(
        ChangeRow(**msgspec.structs.asdict(line_of(one, nicknames)), can_undo=one.undone_by is None and one.id in free)
        for one in lines
    ))


def changes_between(reader: Reader, uid: str, *, after: str, until: str) -> tuple[str, ...]:
    """What was written after change `after` up to change `until` that may move an answer, newest first; sentences.

    Empty ids: from the beginning, to the end. If `until` is not later than `after` (an undo brought an old state
    back), all since `after`.
    """
    lines = reader.changes(uid, limit=SHOWN)
    ids = [line.id for line in lines]
    stop = ids.index(after) if after in ids else len(ids)
    start = ids.index(until) if until in ids[:stop] else 0
    return tuple(
        line.what for line in lines[start:stop]
        if not all(image.key.kind in NO_ANSWER_READS for image in reader.images(line.id))
    )
