"""Work that follows from no finding: the owner's own jobs and part lines, what every rebuild has, and errands."""

from __future__ import annotations

from collections.abc import Iterable

from wreckwright.futures.job_minutes import band_about, minutes_left
from wreckwright.futures.job_steps import steps_of_need, with_row
from wreckwright.futures.need_types import Need
from wreckwright.futures.rows import GONE_STATES, Rows, gate_id_of
from wreckwright.futures.supplies import Band3, line_need, scaled
from wreckwright.futures.worth import LAST_GATE, gate_that_waits, stops, worth_left
from wreckwright.record.known import Known
from wreckwright.record.pace import CLOSED_STATES, MENDING_KINDS
from wreckwright.record.types import Batch, Job, PartLine
from wreckwright.trade.types import Component, Trade

OWN_JOB_MINUTES = 60.0
"""An own job on no component of the map, without minutes (judgement)."""
OWN_PART_MINUTES = 30.0
"""Fitting a part of no component of the map (judgement)."""


def own_jobs(known: Known, trade: Trade, rows: Rows, found: frozenset[str]) -> tuple[list[Need], set[str]]:
    """The owner's own jobs, and the handles of the part lines that belong to them.

    `found`: components whose findings are work already, with their mending job and their lines.
    """
    taken = {job.id for component, job in rows.mending.items() if component in found}
    by_handle = {line.id: line for line in known.parts if line.component not in found}
    used: set[str] = set()
    needs: list[Need] = []
    for job in known.jobs:
        if job.stands_for or job.state in CLOSED_STATES or job.id in taken:
            continue
        lines = [by_handle[handle] for handle in dict.fromkeys(job.parts) if handle in by_handle and handle not in used]
        used |= {line.id for line in lines}
        needs.append(_own_job(known, trade, job, lines))
    return needs, used


def _own_job(known: Known, trade: Trade, job: Job, lines: Iterable[PartLine]) -> Need:
    component = trade.components.get(job.component)
    key = f"job:{job.id}"
    likely = component.fit_minutes if component is not None else OWN_JOB_MINUTES
    return Need(
        key=key, name=job.name, kind="job", component=job.component,
        minutes=minutes_left(job, band_about(likely), kind=job.kind, paces=known.pace_by_kind),
        materials_minor=(float(job.cost_minor),) * 3,
        parts=tuple(
            line_need(known, trade, trade.components.get(line.component), line, "genuine")
            for line in lines if line.state not in GONE_STATES
        ),
        covers=job.covers or (component.covers if component is not None else ()),
        before_gate=gate_id_of(known, job.before_gate) if job.before_gate else _waits(component),
        essential=_stops(component), worth_minor=_worth(component, known), cure_days=job.cure_days or 0,
        renews=job.kind in MENDING_KINDS, group=key, part_of=key, helper=job.helper or False,
        may_split=job.may_split is not False, kind_of_work=job.kind, job=job,
    )


def own_parts(
    known: Known, trade: Trade, rows: Rows, used: set[str], spoken_for: frozenset[str], batches: dict[str, Batch]
) -> list[Need]:
    """Part lines that belong to no finding and no own job. `spoken_for`: components that are work or are left as they
    are; `batches`: component -> the batch with which it goes."""
    needs: list[Need] = []
    for line in known.parts:
        key = f"part:{line.id}"
        tested_only = line.state == "fitted" and _is_fitted_only(rows, key)
        if line.id in used or line.component in spoken_for or (line.state in GONE_STATES and not tested_only):
            continue
        component = trade.components.get(line.component)
        # A mere piece is as needed as the part that cannot go on without it.
        serves = component or _needed_for(known, trade, line)
        name = line.name or (component.name_uk if component is not None else line.id)
        whole = Need(
            key=key, name=f"fit {name}", kind="job", component=line.component, remedy=line.remedy or "genuine",
            minutes=band_about(component.fit_minutes if component is not None else OWN_PART_MINUTES),
            parts=(line_need(known, trade, component, line, line.remedy or "genuine"),),
            covers=component.covers if component is not None else (),
            before_gate=_waits(serves), essential=_stops(serves), worth_minor=_worth(component, known),
            group=key, part_of=key,
        )
        if component is not None:
            needs += steps_of_need(
                whole, known=known, trade=trade, rows=rows, batch=batches.get(component.id), after_main=tested_only
            )
        elif not tested_only:
            changed = with_row(whole, known, rows)
            needs += [changed] if changed is not None else []
    return needs


def _needed_for(known: Known, trade: Trade, line: PartLine) -> Component | None:
    """The component whose work names the line among what it needs."""
    jobs = [job for job in known.jobs if line.id in job.parts]
    found = [trade.components.get(job.component or job.stands_for.partition(":")[0]) for job in jobs]
    return next((one for one in found if one is not None), None)


def _is_fitted_only(rows: Rows, key: str) -> bool:
    """Its fitting is closed up, and nobody says that it is proved."""
    row = rows.standing.get(key)
    return row is not None and row.state == "closed_up"


def _waits(component: Component | None) -> str:
    return gate_that_waits(component) if component is not None else LAST_GATE


def _stops(component: Component | None) -> bool:
    return component is not None and stops(component)


def _worth(component: Component | None, known: Known) -> int:
    return round(worth_left(component, known)) if component is not None else 0


def standard_needs(known: Known, trade: Trade, rows: Rows) -> list[Need]:
    """Work that every rebuild has: the build file, and the inspection where the title brand asks for one."""
    found = [_job_time_need(trade, "document_build", "build file: photographs, receipts, torques")]
    if known.brand in ("rebuilt", "structural", "non_structural"):
        fees = trade.money["title_fees_hours"].figure
        found.append(
            _job_time_need(
                trade, "inspection_visit", "inspection visit with papers",
                materials=scaled((fees.low, fees.mid, fees.high), float(known.workshop_hour_minor)),
            )
        )
    return [need for one in found if (need := with_row(one, known, rows)) is not None]


def _job_time_need(trade: Trade, job_time: str, name: str, materials: Band3 = (0.0, 0.0, 0.0)) -> Need:
    hours = trade.job_times[job_time].hours
    key = f"standard:{job_time}"
    return Need(
        key=key, name=name, kind="job", before_gate=LAST_GATE, group=key, part_of=key, kind_of_work="check",
        minutes=(60.0 * hours.low, 60.0 * hours.mid, 60.0 * hours.high), materials_minor=materials,
    )


def errand_needs(known: Known, trade: Trade, rows: Rows) -> list[Need]:
    """What must be done to the machine before a trip with it; what comes first is added in `futures.before`."""
    found: list[Need] = []
    for errand in known.machine.errands:
        if errand.kind != "trip" or errand.done:
            continue
        for want in dict.fromkeys(errand.wants):
            row = trade.preconditions.get(want)
            if row is None:
                continue
            key = f"errand:{errand.id}:{want}"
            need = Need(
                key=key, name=f"{row.job}, for: {errand.words}", kind="job", minutes=band_about(row.minutes),
                before_gate=gate_id_of(known, errand.gate) if errand.gate else LAST_GATE, essential=False,
                renews=False, group=key, part_of=key, kind_of_work="check",
            )
            changed = with_row(need, known, rows)
            found += [changed] if changed is not None else []
    return found
