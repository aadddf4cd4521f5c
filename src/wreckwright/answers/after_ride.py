"""What is looked at again after the first start and the first ride. Light: no numeric library behind it."""

from __future__ import annotations

from wreckwright.answers.plan_types import AfterLine
from wreckwright.answers.plan_words import counted
from wreckwright.record.evidence import CLOSED_STATES
from wreckwright.record.known import Known
from wreckwright.trade.types import AfterRide, Trade

AFTER = "after:"
"""Key of such a look: `after:<id>`; a closed job that stands for it ends it."""
KM_OF_A_MILE = 1.609344
"""Exact (international mile)."""


def after_ride(known: Known, trade: Trade) -> tuple[AfterLine, ...]:
    """All that is to be looked at again, first what is due already; what was done is left out.

    Due by heat cycles (engine warm and cold again) or by distance, whichever comes first. What belongs to a component
    is there only where that component was worked on or is going to be.
    """
    touched = _touched(known)
    done = {job.stands_for for job in known.jobs if job.state in CLOSED_STATES}
    lines = tuple(
        AfterLine(
            key=f"{AFTER}{row.id}", words=row.words, due=_due_words(row, known), is_due=_is_due(row, known),
            cautions=tuple(trade.cautions[name].text for name in row.cautions if name in trade.cautions),
        )
        for row in trade.after_ride
        if f"{AFTER}{row.id}" not in done and (not row.component or row.component in touched)
    )
    return tuple(sorted(lines, key=lambda line: not line.is_due))


def _touched(known: Known) -> frozenset[str]:
    """Components that were found bad, put right, worked on or bought."""
    return (
        known.put_right | {bad.component for bad in known.bad}
        | {job.component for job in known.jobs if job.component} | {line.component for line in known.parts}
    )


def _is_due(row: AfterRide, known: Known) -> bool:
    machine = known.machine
    warm = row.heat_cycles > 0 and (machine.heat_cycles or 0) >= row.heat_cycles
    return warm or (row.distance_km > 0.0 and _ridden_km(known) >= row.distance_km)


def _ridden_km(known: Known) -> float:
    ridden = known.machine.ridden or 0.0
    return ridden * KM_OF_A_MILE if known.machine.odometer_unit == "mi" else ridden


def _due_words(row: AfterRide, known: Known) -> str:
    """Such as `after the first heat cycle or 100 km`."""
    found = []
    if row.heat_cycles == 1:
        found.append("the first heat cycle")
    elif row.heat_cycles > 1:
        found.append(counted(row.heat_cycles, "heat cycle"))
    if row.distance_km > 0.0:
        found.append(_distance(row.distance_km, known.machine.odometer_unit))
    return f"after {' or '.join(found)}" if found else "after the first ride"


def _distance(km: float, unit: str) -> str:
    """In miles to the nearest 10 from 50 on: nobody turns back at the sixty-second."""
    if unit != "mi":
        return f"{km:g} km"
    miles = km / KM_OF_A_MILE
    return f"{10 * round(miles / 10.0) if miles >= 50.0 else max(round(miles), 1)} mi"
