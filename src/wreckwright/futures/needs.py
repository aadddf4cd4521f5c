"""From a record to what there is to do: needs (pieces of work with their parts), before any of it is numbered.

A *need* is one thing to look at or to do: with its minutes, its parts and where they may come from, the covers it wants
off and the gate that waits for it. Known needs come from findings and the owner's own jobs, each thing to put right in
its steps; hidden ones from the chances of damage, each as a whole. Everything here is a description with three-point
figures; the draws are made in `futures.world_draws`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from wreckwright.futures.batch_needs import batch_needs, batch_of_component
from wreckwright.futures.before import in_order
from wreckwright.futures.job_minutes import LEAST_MINUTES_LEFT, MINUTES_SPREAD, band_about, minutes_left
from wreckwright.futures.job_steps import steps_of_need
from wreckwright.futures.need_types import Need, Needs, money_mean
from wreckwright.futures.own_work import errand_needs, own_jobs, own_parts, standard_needs
from wreckwright.futures.rows import GONE_STATES, Rows, gate_id_of, rows_of
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
from wreckwright.futures.worth import gate_that_waits, stops, worth_left
from wreckwright.record.known import YES_IN_THE_END, Known, KnownBad, name_shown
from wreckwright.record.pace import REPAIR_MINUTES_FACTOR, likely_minutes
from wreckwright.record.part_lines import superseded
from wreckwright.record.remedies import default_remedy
from wreckwright.record.types import Job
from wreckwright.trade.types import Component, Trade

__all__ = [
    "GONE_STATES", "LEAST_MINUTES_LEFT", "MINUTES_SPREAD", "REPAIR_MINUTES_FACTOR", "Need", "Needs",
    "default_remedy", "gate_id_of", "gate_that_waits", "money_mean", "needs_of", "worth_left",
]

HIDDEN_COST_COVERED = 0.98
MOST_FOLLOW_UPS = 60
HIDDEN_CURE_DAYS: Mapping[str, int] = {"repair": 1}
"""Paint, sealant and adhesive want a night (common practice); of what is known, the trade's steps say it."""


def needs_of(known: Known, trade: Trade, chance: Mapping[str, float]) -> Needs:
    """All needs of a machine. `chance`: component -> chance that it is bad, all evidence counted."""
    answered = _answered(known)
    gate_components = frozenset(
        component for gate in trade.gates.values() if gate.id not in answered for component in gate.fails_with
    )
    rows = rows_of(known)
    batches = batch_of_component(known)
    settled: set[str] = set(known.absent) | set(gate_components) | set(known.put_right)
    found_bad = {bad.component: bad for bad in known.bad if bad.component not in settled}
    remedies, not_left = _remedies(known, trade, rows, found_bad)
    have: list[Need] = []
    left = 0.0
    left_alone: set[str] = set()
    for name, bad in found_bad.items():
        component = trade.components[name]
        if remedies[name] == "leave":
            left += worth_left(component, known)
            left_alone.add(name)
            continue
        have += steps_of_need(
            _component_need(known, trade, component, remedies[name], rows, rows.mending.get(name), hidden=False),
            known=known, trade=trade, rows=rows, missing=bad.missing,
            fitted=rows.fitted(name) and not rows.live(name), batch=batches.get(name),
        )
    found = frozenset(found_bad.keys() - left_alone)
    jobs, used = own_jobs(known, trade, rows, found)
    have += _tests_left(known, trade, rows)
    have += jobs
    have += own_parts(known, trade, rows, used | superseded(known.parts), found | left_alone, batches)
    # What the owner means to renew or mend anyway is bought once, whether it turns out bad or not.
    settled |= found_bad.keys() | {need.component for need in have if need.renews}
    settled |= {line.component for line in known.parts if line.state not in GONE_STATES}
    hidden, small = _hidden_needs(known, trade, chance, settled | _answered_components(known, trade))
    have += standard_needs(known, trade, rows) + errand_needs(known, trade, rows)
    have = batch_needs(known, trade, rows, have)
    have = in_order(have, known=known, trade=trade, rows=rows, found=found)
    return Needs(
        known=tuple(have), hidden=hidden, small=small, left_as_is_minor=round(left), gate_components=gate_components,
        lump_mean=(
            sum(chance[component] * money for component, (money, _) in small.items()),
            sum(chance[component] * minutes for component, (_, minutes) in small.items()),
        ),
        not_left=not_left,
    )


def _remedies(
    known: Known, trade: Trade, rows: Rows, found_bad: Mapping[str, KnownBad]
) -> tuple[dict[str, str], dict[str, str]]:
    """Component found bad -> its remedy; and the missing mounts that were meant to be left -> what is to be fitted on
    each: nothing can be fitted on what is not there."""
    chosen: dict[str, str] = {}
    usual: dict[str, str] = {}
    for name, bad in found_bad.items():
        usual[name] = _line_remedy(rows, name) or default_remedy(
            trade.components[name], severity=bad.severity, missing=bad.missing
        )
        chosen[name] = known.remedies.get(name) or usual[name]
    not_left: dict[str, str] = {}
    to_fit = [name for name, remedy in chosen.items() if remedy != "leave"]
    to_fit += [job.component for job in rows.mending.values() if job.component not in found_bad]
    to_fit += [name for name in rows.lines if rows.live(name) and name not in found_bad]
    while to_fit:
        name = to_fit.pop()
        row = trade.mounted_on.get(name)
        for mount in row.mounts if row is not None else ():
            if chosen.get(mount) == "leave" and found_bad[mount].missing:
                chosen[mount] = usual[mount]
                not_left[mount] = name
                to_fit.append(mount)
    return chosen, not_left


def _tests_left(known: Known, trade: Trade, rows: Rows) -> list[Need]:
    """What was put right by a step that is closed up but not proved still wants the steps that come after it."""
    found: list[Need] = []
    for name in trade.components:
        row = rows.standing.get(name)
        if row is None or row.state != "closed_up" or name not in known.put_right:
            continue
        lines = rows.lines.get(name, ())
        remedy = known.remedies.get(name) or next((line.remedy for line in lines if line.remedy), None)
        if remedy is None or remedy == "leave":
            # The line that was fitted need not say how; a row of kind repair says that it was mended.
            remedy = "repair" if row.kind == "repair" and not rows.fitted(name) else "genuine"
        whole = _component_need(known, trade, trade.components[name], remedy, rows, None, hidden=False)
        found += steps_of_need(
            replace(whole, parts=(), materials_minor=(0.0, 0.0, 0.0)), known=known, trade=trade, rows=rows,
            after_main=True,
        )
    return found


def _answered(known: Known) -> frozenset[str]:
    """Gate templates whose question is already yes (or yes by a way round)."""
    return frozenset(gate.template or gate.id for gate in known.gates if gate.answer in YES_IN_THE_END)


def _answered_components(known: Known, trade: Trade) -> set[str]:
    return {c for gate_id in _answered(known) if gate_id in trade.gates for c in trade.gates[gate_id].fails_with}


def _line_remedy(rows: Rows, component: str) -> str:
    """What the part lines say is done; a line without a remedy says at least that it is not left as it is."""
    live = rows.live(component)
    return next((line.remedy for line in live if line.remedy), "genuine" if live else "")


def _component_need(
    known: Known, trade: Trade, component: Component, remedy: str, rows: Rows, job: Job | None, *, hidden: bool,
    chance: float = 1.0,
) -> Need:
    """The putting right of a component as a whole. `job`: the owner's row that mends it, if there is one."""
    parts: tuple[PartNeed, ...] = ()
    live = () if hidden else rows.live(component.id)
    if live:
        parts = tuple(line_need(known, trade, component, line, remedy) for line in live)
    elif remedy in BUYING_REMEDIES and (hidden or not rows.fitted(component.id)):
        parts = (fresh_part(known, trade, component, remedy),)
    price = remedy_price(component, remedy, known, trade)
    # A repair without a line of its own is materials as a whole; with one, the line is the repair.
    whole = remedy in ("repair", "modify") and not live
    materials: Band3 = price if whole else scaled(price, trade.money["small_stuff_share"].figure.mid)
    if job is not None and job.cost_minor:
        materials = (float(job.cost_minor),) * 3
    minutes = band_about(likely_minutes(trade, component.id, remedy))
    if job is not None:
        minutes = minutes_left(job, minutes, kind=job.kind, paces=known.pace_by_kind)
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
        essential=stops(component),
        worth_minor=round(worth_left(component, known)),
        cure_days=HIDDEN_CURE_DAYS.get(remedy, 0),
        group=component.id,
        part_of=component.id,
        job=job,
    )


def _need_name(component: Component, remedy: str, known: Known) -> str:
    name = name_shown(component, known)
    verb = {"repair": "mend", "modify": "modify"}.get(remedy, "fit")
    return f"{verb} {name[0].lower()}{name[1:]}"


def _hidden_needs(
    known: Known, trade: Trade, chance: Mapping[str, float], settled: set[str]
) -> tuple[tuple[Need, ...], dict[str, tuple[float, float]]]:
    """Components that may be bad: the dearest expected ones get a slot each, until 98 % of the expected cost or 60."""
    hour = max(known.hour_value_minor, known.workshop_hour_minor // 4)
    nothing = Rows(standing={}, mending={}, lines={})
    weighed: list[tuple[float, Need, float, float]] = []
    for component in trade.components.values():
        p = chance.get(component.id, 0.0)
        if component.id in settled or p <= 0.0 or component.zone == "papers":
            continue
        remedy = known.remedies.get(component.id) or default_remedy(component, severity=2, missing=False)
        if remedy == "leave":
            continue
        need = _component_need(known, trade, component, remedy, nothing, None, hidden=True, chance=p)
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
