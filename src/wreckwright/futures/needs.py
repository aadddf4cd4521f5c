"""From a record to what there is to do: needs (pieces of work with their parts), before any of it is numbered.

A *need* is one thing to put right, to look at or to do: with its minutes, its parts and where they may come from, the
covers it wants off and the gate that waits for it. Known needs come from findings and the owner's own jobs; hidden ones
from the chances of damage. Everything here is a description with three-point figures; the draws are made in
`futures.world_draws`.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

from wreckwright.futures.band import Z90
from wreckwright.futures.supplies import (
    BUYING_REMEDIES,
    Band3,
    PartNeed,
    band_mean,
    fresh_part,
    line_need,
    remedy_price,
    scaled,
)
from wreckwright.record.evidence import CLOSED_STATES, MENDING_KINDS
from wreckwright.record.known import YES_IN_THE_END, Known, name_shown
from wreckwright.record.types import Job, PartLine
from wreckwright.trade.types import Component, Trade

HIDDEN_COST_COVERED = 0.98
MOST_FOLLOW_UPS = 60
GONE_STATES = frozenset({"fitted", "sent_back", "refused", "refunded", "sold"})
MINUTES_SPREAD = 0.35
"""Standard deviation of the log of a job's minutes about what the trade says (judgement)."""


@dataclass(frozen=True, kw_only=True)
class Need:
    """`kind` is that of its slot: job, look or follow_up."""

    key: str
    name: str
    kind: str
    component: str = ""
    chance: float = 1.0
    remedy: str = ""
    minutes: Band3 = (0.0, 0.0, 0.0)
    materials_minor: Band3 = (0.0, 0.0, 0.0)
    parts: tuple[PartNeed, ...] = ()
    covers: tuple[str, ...] = ()
    before_gate: str = ""
    essential: bool = True
    worth_minor: int = 0
    """What the finished machine fetches less if this is left undone."""
    cure_days: int = 0
    after: tuple[str, ...] = ()
    """Keys of needs that come before; a job that is finished already stands for none."""
    renews: bool = True
    """Afterwards the component counts as sound; false for work that leaves it as it was."""


@dataclass(frozen=True, kw_only=True)
class Needs:
    known: tuple[Need, ...]
    hidden: tuple[Need, ...]
    """Follow-ups with a slot of their own, dearest expected first."""
    small: Mapping[str, tuple[float, float]]
    """Hidden components without a slot: money (minor units) and minutes if bad; they become one lump."""
    lump_mean: tuple[float, float] = (0.0, 0.0)
    """Expected money (minor units) and minutes of that lump, before it is known what is bad."""
    left_as_is_minor: int = 0
    """What the sale loses by findings that are left as they are."""
    gate_components: frozenset[str] = field(default_factory=frozenset)


def needs_of(known: Known, trade: Trade, chance: Mapping[str, float]) -> Needs:
    """All needs of a machine. `chance`: component -> chance that it is bad, all evidence counted."""
    answered = _answered(known)
    gate_components = frozenset(
        component for gate in trade.gates.values() if gate.id not in answered for component in gate.fails_with
    )
    own_jobs = _mending_jobs(known)
    lines = _lines_by_component(known)
    have: list[Need] = []
    left = 0.0
    left_alone: set[str] = set()
    settled: set[str] = set(known.absent) | set(gate_components) | set(known.put_right)
    for bad in known.bad:
        if bad.component in settled:
            continue
        settled.add(bad.component)
        component = trade.components[bad.component]
        remedy = known.remedies.get(bad.component) or _line_remedy(lines.get(bad.component, ())) or default_remedy(
            component, severity=bad.severity, missing=bad.missing
        )
        if remedy == "leave":
            left += worth_left(component, known)
            left_alone.add(bad.component)
            continue
        have.append(_component_need(known, trade, component, remedy, lines, own_jobs.get(component.id), hidden=False))
    found = {need.component for need in have}
    have.extend(_own_needs(known, trade, found, found | left_alone))
    # What the owner means to renew or mend anyway is bought once, whether it turns out bad or not.
    settled |= {need.component for need in have if need.renews}
    settled |= {line.component for line in known.parts if line.state not in GONE_STATES}
    hidden, small = _hidden_needs(known, trade, chance, settled | _answered_components(known, trade))
    have.extend(_standard_needs(known, trade))
    key_of = {f"job:{job.id}": component for component, job in own_jobs.items() if component in found}
    have = [replace(need, after=tuple(key_of.get(key, key) for key in need.after)) for need in have]
    return Needs(
        known=tuple(have), hidden=hidden, small=small, left_as_is_minor=round(left), gate_components=gate_components,
        lump_mean=(
            sum(chance[component] * money for component, (money, _) in small.items()),
            sum(chance[component] * minutes for component, (_, minutes) in small.items()),
        ),
    )


def default_remedy(component: Component, *, severity: int, missing: bool) -> str:
    """What most would do: leave mere looks that cost nothing to leave, mend what can be mended, else the usual."""
    if severity == 1 and not missing:
        if component.ride == "none":
            return "leave"
        if component.repairable:
            return "repair"
    if missing and component.usual_remedy in ("repair", "leave", "modify"):
        return "used" if component.used_ok != "no" else "genuine"
    return component.usual_remedy


def money_mean(need: Need) -> float:
    """Expected money of one need, minor units: materials, and each part from its first source."""
    return band_mean(need.materials_minor) + sum(band_mean(part.supplies[0].price_minor) for part in need.parts)


def worth_left(component: Component, known: Known) -> float:
    """What a buyer takes off for it when it is left as it is: 0.6 % of sound value per step of looks, at least one step
    (judgement)."""
    return 0.006 * max(component.looks_0_3, 1) * known.sound_value_minor[1]


def _answered(known: Known) -> frozenset[str]:
    """Gate templates whose question is already yes (or yes by a way round)."""
    return frozenset(gate.template or gate.id for gate in known.gates if gate.answer in YES_IN_THE_END)


def _answered_components(known: Known, trade: Trade) -> set[str]:
    return {c for gate_id in _answered(known) if gate_id in trade.gates for c in trade.gates[gate_id].fails_with}


def _lines_by_component(known: Known) -> dict[str, tuple[PartLine, ...]]:
    grouped: dict[str, list[PartLine]] = {}
    for line in known.parts:
        if line.component:
            grouped.setdefault(line.component, []).append(line)
    return {component: tuple(rows) for component, rows in grouped.items()}


def _mending_jobs(known: Known) -> dict[str, Job]:
    """Component -> the first open job that mends it; what was found bad there is put right by that job. Other jobs on
    the same component (strip, check, a second one) are work of their own."""
    found: dict[str, Job] = {}
    for job in known.jobs:
        if job.component and job.kind in MENDING_KINDS and job.state not in CLOSED_STATES:
            found.setdefault(job.component, job)
    return found


def _line_remedy(lines: Iterable[PartLine]) -> str:
    """What the part lines say is done; a line without a remedy says at least that it is not left as it is."""
    live = [line for line in lines if line.state not in GONE_STATES]
    return next((line.remedy for line in live if line.remedy), "genuine" if live else "")


def gate_id_of(known: Known, name: str) -> str:
    """Gate id for a name in the record, which may be the handle of a gate there or the id of a template."""
    return {gate.id: gate.template or gate.id for gate in known.gates}.get(name, name)


def _component_need(
    known: Known, trade: Trade, component: Component, remedy: str, lines: Mapping[str, tuple[PartLine, ...]],
    job: Job | None, *, hidden: bool, chance: float = 1.0,
) -> Need:
    minutes = _minutes(component, remedy, job)
    parts: tuple[PartNeed, ...] = ()
    materials: Band3 = (0.0, 0.0, 0.0)
    rows = tuple(line for line in lines.get(component.id, ()) if line.state not in GONE_STATES)
    if rows:
        parts = tuple(line_need(known, trade, component, line, remedy) for line in rows)
    elif remedy in BUYING_REMEDIES and not any(line.state == "fitted" for line in lines.get(component.id, ())):
        parts = (fresh_part(known, trade, component, remedy),)
    price = remedy_price(component, remedy, known, trade)
    # A repair without a line of its own is materials as a whole; with one, the line is the repair.
    whole = remedy in ("repair", "modify") and not rows
    materials = price if whole else scaled(price, trade.money["small_stuff_share"].figure.mid)
    if job is not None and job.cost_minor:
        materials = (float(job.cost_minor),) * 3
    return Need(
        key=component.id,
        name=_need_name(component, remedy, known),
        kind="follow_up" if hidden else "job",
        component=component.id,
        chance=chance,
        remedy=remedy,
        minutes=minutes,
        materials_minor=materials,
        parts=parts,
        covers=job.covers if job is not None and job.covers else component.covers,
        before_gate=gate_id_of(known, job.before_gate) if job is not None and job.before_gate
        else gate_that_waits(component),
        essential=_stops(component),
        worth_minor=_worth(component, known),
        cure_days=job.cure_days if job is not None else CURE_DAYS.get(remedy, 0),
        after=tuple(f"job:{handle}" for handle in job.after) if job is not None else (),
    )


REPAIR_MINUTES_FACTOR = 1.6
"""A repair takes longer than fitting a part (judgement)."""
LEAST_MINUTES_LEFT = 0.1
"""Of a job that is still open although all its time has been worked, this share is still to do (judgement)."""
CURE_DAYS: Mapping[str, int] = {"repair": 1}
"""Paint, sealant and adhesive want a night (common practice)."""


def gate_that_waits(component: Component) -> str:
    """The earliest gate that cannot be tried while this is bad."""
    if component.run == "stop":
        return "runs"
    return "fit_to_ride"


def _need_name(component: Component, remedy: str, known: Known) -> str:
    name = name_shown(component, known)
    verb = {"repair": "mend", "modify": "modify"}.get(remedy, "fit")
    return f"{verb} {name[0].lower()}{name[1:]}"


def _minutes(component: Component, remedy: str, job: Job | None) -> Band3:
    likely = component.fit_minutes * (REPAIR_MINUTES_FACTOR if remedy in ("repair", "modify") else 1.0)
    return _job_minutes(job, likely)


def _job_minutes(job: Job | None, likely: float) -> Band3:
    """Minutes still to work: the owner's figures before the trade's `likely`, less what is done already."""
    spread = math.exp(Z90 * MINUTES_SPREAD)
    band: Band3 = (likely / spread, likely, likely * spread)
    if job is None:
        return band
    if job.minutes is not None:
        band = (job.minutes.low, job.minutes.likely, job.minutes.high)
    done = job.done_minutes or 0.0
    low, middle, high = (max(minutes - done, LEAST_MINUTES_LEFT * minutes) for minutes in band)
    return (low, middle, high)


def _own_needs(known: Known, trade: Trade, found: set[str], spoken_for: set[str]) -> list[Need]:
    """The owner's own jobs, and part lines that belong to no finding.

    `found`: components whose findings are work already, with their mending job and their lines. `spoken_for`: those,
    and the ones that are left as they are.
    """
    taken = {job.id for component, job in _mending_jobs(known).items() if component in found}
    by_handle = {line.id: line for line in known.parts if line.component not in found}
    used: set[str] = set()
    needs: list[Need] = []
    for job in known.jobs:
        if job.state in CLOSED_STATES or job.id in taken:
            continue
        rows = [by_handle[handle] for handle in dict.fromkeys(job.parts) if handle in by_handle and handle not in used]
        used |= {row.id for row in rows}
        component = trade.components.get(job.component)
        needs.append(
            Need(
                key=f"job:{job.id}", name=job.name, kind="job", component=job.component,
                minutes=_job_minutes(job, component.fit_minutes if component is not None else 60.0),
                materials_minor=(float(job.cost_minor),) * 3,
                parts=tuple(
                    line_need(known, trade, trade.components.get(row.component), row, "genuine")
                    for row in rows if row.state not in GONE_STATES
                ),
                covers=job.covers or (component.covers if component is not None else ()),
                before_gate=gate_id_of(known, job.before_gate) if job.before_gate else _waits(component),
                essential=_stops(component), worth_minor=_worth(component, known),
                cure_days=job.cure_days, after=tuple(f"job:{handle}" for handle in job.after),
                renews=job.kind in MENDING_KINDS,
            )
        )
    for line in known.parts:
        if line.id in used or line.state in GONE_STATES or line.component in spoken_for:
            continue
        component = trade.components.get(line.component)
        name = line.name or (component.name_uk if component is not None else line.id)
        needs.append(
            Need(
                key=f"part:{line.id}", name=f"fit {name}", kind="job", component=line.component,
                minutes=_job_minutes(None, component.fit_minutes if component is not None else 30.0),
                parts=(line_need(known, trade, component, line, line.remedy or "genuine"),),
                covers=component.covers if component is not None else (),
                before_gate=_waits(component), essential=_stops(component), worth_minor=_worth(component, known),
            )
        )
    return needs


def _waits(component: Component | None) -> str:
    return gate_that_waits(component) if component is not None else "fit_to_ride"


def _stops(component: Component | None) -> bool:
    return component is not None and "stop" in (component.ride, component.run)


def _worth(component: Component | None, known: Known) -> int:
    return round(worth_left(component, known)) if component is not None else 0


def _hidden_needs(
    known: Known, trade: Trade, chance: Mapping[str, float], settled: set[str]
) -> tuple[tuple[Need, ...], dict[str, tuple[float, float]]]:
    """Components that may be bad: the dearest expected ones get a slot each, until 98 % of the expected cost or 60."""
    hour = max(known.hour_value_minor, known.workshop_hour_minor // 4)
    weighed: list[tuple[float, Need, float, float]] = []
    for component in trade.components.values():
        p = chance.get(component.id, 0.0)
        if component.id in settled or p <= 0.0 or component.zone == "papers":
            continue
        remedy = known.remedies.get(component.id) or default_remedy(component, severity=2, missing=False)
        if remedy == "leave":
            continue
        need = _component_need(known, trade, component, remedy, {}, None, hidden=True, chance=p)
        money = money_mean(need)
        minutes = band_mean(need.minutes)
        weighed.append((p * (money + minutes / 60.0 * hour), need, money, minutes))
    weighed.sort(key=lambda entry: (-entry[0], entry[1].key))
    total = sum(entry[0] for entry in weighed)
    kept: list[Need] = []
    small: dict[str, tuple[float, float]] = {}
    covered = 0.0
    for cost, need, money, minutes in weighed:
        if len(kept) < MOST_FOLLOW_UPS and covered < HIDDEN_COST_COVERED * total:
            kept.append(need)
            covered += cost
        else:
            small[need.component] = (money, minutes)
    return tuple(kept), small


def _standard_needs(known: Known, trade: Trade) -> list[Need]:
    """Work that every rebuild has: the build file, and the inspection where the title brand asks for one."""
    found = [_job_time_need(known, trade, "document_build", "build file: photographs, receipts, torques")]
    if known.brand in ("rebuilt", "structural", "non_structural"):
        fees = trade.money["title_fees_hours"].figure
        found.append(
            _job_time_need(
                known, trade, "inspection_visit", "inspection visit with papers",
                materials=scaled((fees.low, fees.mid, fees.high), float(known.workshop_hour_minor)),
            )
        )
    return found


def _job_time_need(known: Known, trade: Trade, job_time: str, name: str, materials: Band3 = (0.0, 0.0, 0.0)) -> Need:
    hours = trade.job_times[job_time].hours
    return Need(
        key=f"standard:{job_time}", name=name, kind="job", before_gate="fit_to_ride",
        minutes=(60.0 * hours.low, 60.0 * hours.mid, 60.0 * hours.high), materials_minor=materials,
    )


def day_number(as_of: dt.date, day: dt.date) -> int:
    """Days from the as-of date; never below 0."""
    return max((day - as_of).days, 0)
