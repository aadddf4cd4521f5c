"""The undecided heap: what was told in passing, and what it may be sorted into."""

from __future__ import annotations

import datetime as dt

from wreckwright.acts.heap import PARTS_OPEN
from wreckwright.acts.page_record import Today, component_choices, name_of, page_record, row_words
from wreckwright.acts.page_shapes import Choice, HeapPage, TapRow
from wreckwright.acts.writes import TAPS
from wreckwright.record.evidence import CLOSED_STATES
from wreckwright.record.types import Machine
from wreckwright.store.read import Reader
from wreckwright.trade.types import Trade

LAST_DECIDED = 10


def heap_page(reader: Reader, trade: Trade, uid: str, *, today: Today = dt.date.today) -> HeapPage:
    """What lies on the heap of a machine. Raises NotThere."""
    record = page_record(reader, trade, uid, today=today)
    machine = record.machine
    if machine is None:
        return HeapPage(head=record.head, taps=(), decided=(), open_jobs=(), open_parts=(), components=())
    words = row_words(machine, record.trade)
    rows = [
        TapRow(
            handle=tap.id, rev=record.rev(tap.id), what=tap.what, what_words=TAPS[tap.what], note=tap.note,
            photos=tap.photos, by=tap.by, at=tap.at, became=words.get(tap.became, tap.became),
        )
        for tap in machine.taps
    ]
    decided = [row for row, tap in zip(rows, machine.taps, strict=True) if tap.decided]
    return HeapPage(
        head=record.head,
        taps=tuple(row for row, tap in zip(rows, machine.taps, strict=True) if not tap.decided),
        decided=tuple(reversed(decided[-LAST_DECIDED:])),
        open_jobs=_open_jobs(machine), open_parts=_open_parts(machine, record.trade),
        components=component_choices(machine, record.trade),
    )


def _open_jobs(machine: Machine) -> tuple[Choice, ...]:
    return tuple(
        Choice(value=job.id, words=f"{job.name} ({job.state.replace('_', ' ')})")
        for job in machine.jobs
        if job.state not in CLOSED_STATES
    )


def _open_parts(machine: Machine, trade: Trade) -> tuple[Choice, ...]:
    found = []
    for part in machine.parts:
        if part.state in PARTS_OPEN:
            component = trade.components.get(part.component)
            name = part.name or (name_of(component, machine) if component else part.id)
            found.append(Choice(value=part.id, words=f"{name} ({part.state.replace('_', ' ')})"))
    return tuple(found)
