"""Rows of the record as the needs see them: which piece of work each job row is, and which are finished."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass

from wreckwright.record.known import Known
from wreckwright.record.pace import CLOSED_STATES, MENDING_KINDS
from wreckwright.record.part_lines import superseded
from wreckwright.record.types import Job, PartLine

GONE_STATES = frozenset({"fitted", "sent_back", "refused", "refunded", "sold"})
"""States of a part line that is no more waited for."""


@dataclass(frozen=True, kw_only=True)
class Rows:
    standing: Mapping[str, Job]
    """Key of a piece of work made from the trade data -> the row that stands for it."""
    mending: Mapping[str, Job]
    """Component -> the first open job that mends it and stands for no step; what was found bad there is put right by
    that job. Other jobs on the same component (strip, check, a second one) are work of their own."""
    lines: Mapping[str, tuple[PartLine, ...]]
    """Component -> its part lines, in the order of the record."""

    def done(self, key: str) -> bool:
        """The row that stands for it is closed."""
        row = self.standing.get(key)
        return row is not None and row.state in CLOSED_STATES

    def open_row(self, key: str) -> Job | None:
        row = self.standing.get(key)
        return row if row is not None and row.state not in CLOSED_STATES else None

    def live(self, component: str) -> tuple[PartLine, ...]:
        return tuple(line for line in self.lines.get(component, ()) if line.state not in GONE_STATES)

    def fitted(self, component: str) -> bool:
        return any(line.state == "fitted" for line in self.lines.get(component, ()))


def rows_of(known: Known) -> Rows:
    standing: dict[str, Job] = {}
    mending: dict[str, Job] = {}
    for job in known.jobs:
        if job.stands_for:
            standing.setdefault(job.stands_for, job)
        elif job.component and job.kind in MENDING_KINDS and job.state not in CLOSED_STATES:
            mending.setdefault(job.component, job)
    lines: dict[str, list[PartLine]] = {}
    over = superseded(known.parts)
    for line in known.parts:
        if line.component and line.id not in over:
            lines.setdefault(line.component, []).append(line)
    return Rows(
        standing=standing, mending=mending, lines={component: tuple(rows) for component, rows in lines.items()}
    )


def keys_of_jobs(known: Known, rows: Rows, found: frozenset[str]) -> dict[str, str]:
    """Handle of each job row -> key of the work that it is. `found`: components whose findings are work."""
    keys = {job.id: job.stands_for or f"job:{job.id}" for job in known.jobs}
    for component, job in rows.mending.items():
        if component in found:
            keys[job.id] = component
    return keys


def gate_id_of(known: Known, name: str) -> str:
    """Gate id for a name in the record, which may be the handle of a gate there or the id of a template."""
    return {gate.id: gate.template or gate.id for gate in known.gates}.get(name, name)


def day_number(as_of: dt.date, day: dt.date) -> int:
    """Days from the as-of date; never below 0."""
    return max((day - as_of).days, 0)
