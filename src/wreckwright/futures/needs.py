"""From a record to what there is to do: needs (pieces of work with their parts), before any of it is numbered.

A *need* is one thing to put right, to look at or to do: with its minutes, its parts and where they may come from, the
covers it wants off and the gate that waits for it. Known needs come from findings and the owner's own jobs; hidden ones
from the chances of damage. Everything here is a description with three-point figures; the draws are made in
`futures.worlds`.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from wreckwright.futures.band import Z90, lognormal_from_band
from wreckwright.record.known import Known
from wreckwright.record.types import Job, PartLine
from wreckwright.trade.types import Component, Trade

Band3 = tuple[float, float, float]
"""Low, likely, high: 10 %, 50 % and 90 % points."""

HIDDEN_COST_COVERED = 0.98
MOST_FOLLOW_UPS = 60
GONE_STATES = frozenset({"fitted", "sent_back", "refused", "refunded", "sold"})
ORDERED_STATES = frozenset({"deposit_paid", "ordered", "shipped", "part_arrived"})
BUYING_REMEDIES = ("genuine", "pattern", "used")
MINUTES_SPREAD = 0.35
"""Standard deviation of the log of a job's minutes about what the trade says (judgement)."""


@dataclass(frozen=True, kw_only=True)
class Supply:
    """One way to get a part. `lead_class` empty: genuine, through the mixture of supply by the machine's age."""

    remedy: str
    lead_class: str
    price_minor: Band3
    cancel_days: int
    refund_permille: int
    resale_permille: int


@dataclass(frozen=True, kw_only=True)
class PartNeed:
    key: str
    name: str
    supplies: tuple[Supply, ...]
    already_ordered: bool = False
    here: bool = False
    waited_days: int = 0
    sunk_minor: int = 0
    held_until: str = ""
    plan_b: int = -1
    plan_b_after_days: int = -1
    kept_back: bool = False


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
    check: str = ""


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


def band_mean(band: Band3) -> float:
    return lognormal_from_band(*band).mean


def times(band: Band3, other: Band3) -> Band3:
    """Product of two independent bands: medians multiply, log spreads add in quadrature on each side."""
    middle = band[1] * other[1]
    down = math.hypot(math.log(band[1] / band[0]), math.log(other[1] / other[0]))
    up = math.hypot(math.log(band[2] / band[1]), math.log(other[2] / other[1]))
    return (middle * math.exp(-down), middle, middle * math.exp(up))


def scaled(band: Band3, factor: float) -> Band3:
    return (band[0] * factor, band[1] * factor, band[2] * factor)


def needs_of(known: Known, trade: Trade, chance: Mapping[str, float]) -> Needs:
    """All needs of a machine. `chance`: component -> chance that it is bad, all evidence counted."""
    gate_components = frozenset(
        component
        for gate in trade.gates.values()
        for component in gate.fails_with
        if gate.id not in _answered(known)
    )
    own_jobs = {job.component: job for job in known.jobs if job.component}
    lines = _lines_by_component(known)
    have: list[Need] = []
    left = 0.0
    settled: set[str] = set(known.absent) | set(gate_components) | set(known.put_right)
    for bad in known.bad:
        if bad.component in settled:
            continue
        settled.add(bad.component)
        component = trade.components[bad.component]
        remedy = known.remedies.get(bad.component) or _line_remedy(lines.get(bad.component, ())) or default_remedy(
            component, severity=bad.severity, missing=bad.missing
        )
        if _is_done(component, lines, own_jobs):
            continue
        if remedy == "leave":
            left += worth_left(component, known)
            continue
        have.append(_component_need(known, trade, component, remedy, lines, own_jobs.get(component.id), hidden=False))
    settled |= {need.component for need in have}
    have.extend(_own_needs(known, trade, settled, lines))
    hidden, small = _hidden_needs(known, trade, chance, settled | _answered_components(known, trade))
    have.extend(_standard_needs(known, trade))
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


def worth_left(component: Component, known: Known) -> float:
    """What a buyer takes off for it when it is left as it is: 0.6 % of sound value per step of looks, at least one step
    (judgement)."""
    return 0.006 * max(component.looks_0_3, 1) * known.sound_value_minor[1]


def price_band(component: Component, remedy: str, known: Known, trade: Trade) -> Band3:
    """Three-point price of one part, minor units: price step times sound value, by source."""
    step = trade.price_steps[component.price_step]
    share = step.new_share_of_sound_value
    new: Band3 = scaled((share.low, share.mid, share.high), float(known.sound_value_minor[1]))
    if remedy == "used":
        return times(new, (step.used_factor.low, step.used_factor.mid, step.used_factor.high))
    if remedy == "pattern":
        return times(new, (step.pattern_factor.low, step.pattern_factor.mid, step.pattern_factor.high))
    return new


def _answered(known: Known) -> frozenset[str]:
    """Gate templates whose question is already yes (or yes by a way round)."""
    return frozenset(gate.template or gate.id for gate in known.gates if gate.answer in ("yes", "way_round"))


def _answered_components(known: Known, trade: Trade) -> set[str]:
    return {c for gate_id in _answered(known) if gate_id in trade.gates for c in trade.gates[gate_id].fails_with}


def _lines_by_component(known: Known) -> dict[str, tuple[PartLine, ...]]:
    grouped: dict[str, list[PartLine]] = {}
    for line in known.parts:
        if line.component:
            grouped.setdefault(line.component, []).append(line)
    return {component: tuple(rows) for component, rows in grouped.items()}


def _line_remedy(lines: Iterable[PartLine]) -> str:
    return next((line.remedy for line in lines if line.remedy and line.state not in GONE_STATES), "")


def _is_done(component: Component, lines: Mapping[str, tuple[PartLine, ...]], own_jobs: Mapping[str, Job]) -> bool:
    job = own_jobs.get(component.id)
    if job is not None:
        return job.state in ("closed_up", "proved")
    rows = lines.get(component.id, ())
    return bool(rows) and all(line.state == "fitted" for line in rows)


def _component_need(
    known: Known, trade: Trade, component: Component, remedy: str, lines: Mapping[str, tuple[PartLine, ...]],
    job: Job | None, *, hidden: bool, chance: float = 1.0,
) -> Need:
    minutes = _minutes(component, remedy, job)
    parts: tuple[PartNeed, ...] = ()
    materials: Band3 = (0.0, 0.0, 0.0)
    rows = tuple(line for line in lines.get(component.id, ()) if line.state not in GONE_STATES)
    if rows:
        parts = tuple(_line_need(known, trade, component, line, remedy) for line in rows)
    elif remedy in BUYING_REMEDIES:
        parts = (_fresh_part(known, trade, component, remedy),)
    price = price_band(component, remedy if remedy in BUYING_REMEDIES else "genuine", known, trade)
    small_stuff = trade.money["small_stuff_share"].figure.mid
    if remedy in ("repair", "modify"):
        share = trade.money["repair_factor"].figure
        materials = times(price, (share.low, share.mid, share.high))
    else:
        materials = scaled(price, small_stuff)
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
        before_gate=(job.before_gate if job is not None and job.before_gate else gate_that_waits(component)),
        essential="stop" in (component.ride, component.run),
        worth_minor=round(worth_left(component, known)),
        cure_days=job.cure_days if job is not None else CURE_DAYS.get(remedy, 0),
        after=job.after if job is not None else (),
    )


REPAIR_MINUTES_FACTOR = 1.6
"""A repair takes longer than fitting a part (judgement)."""
CURE_DAYS: Mapping[str, int] = {"repair": 1}
"""Paint, sealant and adhesive want a night (common practice)."""


def gate_that_waits(component: Component) -> str:
    """The earliest gate that cannot be tried while this is bad."""
    if component.run == "stop":
        return "runs"
    return "fit_to_ride"


def _need_name(component: Component, remedy: str, known: Known) -> str:
    name = component.name_us if known.machine.owner.words == "us" else component.name_uk
    verb = {"repair": "mend", "modify": "modify"}.get(remedy, "fit")
    return f"{verb} {name[0].lower()}{name[1:]}"


def _minutes(component: Component, remedy: str, job: Job | None) -> Band3:
    if job is not None and job.minutes is not None:
        return (job.minutes.low, job.minutes.likely, job.minutes.high)
    likely = component.fit_minutes * (REPAIR_MINUTES_FACTOR if remedy in ("repair", "modify") else 1.0)
    spread = math.exp(Z90 * MINUTES_SPREAD)
    return (likely / spread, likely, likely * spread)


def _supply(known: Known, trade: Trade, component: Component, remedy: str, price: Band3 | None = None) -> Supply:
    if remedy == "used":
        lead_class = "used_online"
    elif remedy == "pattern":
        lead_class = "aftermarket_stock"
    elif remedy in ("repair", "modify"):
        lead_class = "specialist_service"
    elif component.lead_class in ("frame_coded", "official_paper", "specialist_service"):
        lead_class = component.lead_class
    else:
        lead_class = ""
    cancel = trade.lead_classes[lead_class or "factory_backorder"].cancel_days
    postage = 1.0 + trade.money["postage_share"].figure.mid
    money = trade.money
    return Supply(
        remedy=remedy,
        lead_class=lead_class,
        price_minor=price if price is not None else scaled(price_band(component, remedy, known, trade), postage),
        cancel_days=cancel,
        refund_permille=round(1000 * money["refund_share"].figure.mid),
        resale_permille=_resale_permille(trade, remedy),
    )


def _resale_permille(trade: Trade, remedy: str) -> int:
    """What an unfitted part fetches of its price; outside work on the old part cannot be sold again."""
    if remedy not in BUYING_REMEDIES:
        return 0
    return round(1000 * trade.money["resale_share_used" if remedy == "used" else "resale_share_new"].figure.mid)


def _alternatives(component: Component, first: str) -> list[str]:
    allowed = ["genuine"]
    if component.pattern_ok == "ok":
        allowed.append("pattern")
    if component.used_ok != "no":
        allowed.append("used")
    return [first, *(remedy for remedy in allowed if remedy != first)]


def _fresh_part(known: Known, trade: Trade, component: Component, remedy: str) -> PartNeed:
    supplies = tuple(_supply(known, trade, component, source) for source in _alternatives(component, remedy))
    return PartNeed(
        key=component.id,
        name=component.name_us if known.machine.owner.words == "us" else component.name_uk,
        supplies=supplies,
        plan_b=1 if len(supplies) > 1 else -1,
    )


def _line_need(known: Known, trade: Trade, component: Component | None, line: PartLine, remedy: str) -> PartNeed:
    """A part line of the record: what is written there counts, the rest comes from the trade."""
    source = line.remedy or (remedy if remedy in BUYING_REMEDIES else "genuine")
    here = line.state == "here"
    ordered = line.state in ORDERED_STATES or here
    quote: Band3 | None = None
    if line.price_minor is not None:
        to_pay = float(max(line.price_minor - line.paid_minor, 0)) if ordered else float(line.price_minor)
        spread = 1.0 if line.price_is_quote else math.exp(Z90 * 0.2)
        quote = (to_pay / spread, to_pay, to_pay * spread)
    if component is not None:
        supplies = [_supply(known, trade, component, source, quote)]
        others = [r for r in _alternatives(component, source) if r != source]
        if line.plan_b in others:
            others = [line.plan_b, *(r for r in others if r != line.plan_b)]
        supplies += [_supply(known, trade, component, other) for other in others]
    else:
        supplies = [_unnamed_supply(trade, source, quote or (0.0, 0.0, 0.0))]
    if line.lead_class:
        first = supplies[0]
        supplies[0] = Supply(
            remedy=first.remedy, lead_class=line.lead_class, price_minor=first.price_minor,
            cancel_days=trade.lead_classes[line.lead_class].cancel_days,
            refund_permille=first.refund_permille, resale_permille=first.resale_permille,
        )
    waited = max((known.as_of - line.ordered_on).days, 0) if ordered and line.ordered_on is not None else 0
    return PartNeed(
        key=line.id,
        name=line.name or (component.name_uk if component is not None else line.id),
        supplies=tuple(supplies),
        already_ordered=ordered,
        here=here,
        waited_days=waited,
        sunk_minor=line.paid_minor,
        held_until=line.held_until_gate,
        plan_b=1 if len(supplies) > 1 else -1,
        plan_b_after_days=round(line.plan_b_after_days) if line.plan_b_after_days is not None else -1,
        kept_back=line.state == "kept_back",
    )


def _unnamed_supply(trade: Trade, source: str, price: Band3) -> Supply:
    lead_class = {
        "used": "used_online", "pattern": "aftermarket_stock", "genuine": "importer",
    }.get(source, "specialist_service")
    money = trade.money
    return Supply(
        remedy=source, lead_class=lead_class, price_minor=price, cancel_days=trade.lead_classes[lead_class].cancel_days,
        refund_permille=round(1000 * money["refund_share"].figure.mid),
        resale_permille=_resale_permille(trade, source),
    )


def _own_needs(
    known: Known, trade: Trade, settled: set[str], lines: Mapping[str, tuple[PartLine, ...]]
) -> list[Need]:
    """The owner's own jobs, and part lines that belong to no finding."""
    by_handle = {line.id: line for line in known.parts}
    used: set[str] = set()
    found: list[Need] = []
    for job in known.jobs:
        if job.state in ("closed_up", "proved") or (job.component and job.component in settled):
            continue
        rows = [by_handle[handle] for handle in job.parts if handle in by_handle]
        used |= {row.id for row in rows}
        component = trade.components.get(job.component)
        likely = component.fit_minutes if component is not None else 60.0
        minutes = (
            (job.minutes.low, job.minutes.likely, job.minutes.high)
            if job.minutes is not None
            else (likely / math.exp(Z90 * MINUTES_SPREAD), likely, likely * math.exp(Z90 * MINUTES_SPREAD))
        )
        found.append(
            Need(
                key=f"job:{job.id}", name=job.name, kind="job", component=job.component, minutes=minutes,
                materials_minor=(float(job.cost_minor),) * 3,
                parts=tuple(
                    _line_need(known, trade, trade.components.get(row.component), row, "genuine")
                    for row in rows if row.state not in GONE_STATES
                ),
                covers=job.covers or (component.covers if component is not None else ()),
                before_gate=job.before_gate or (gate_that_waits(component) if component is not None else "fit_to_ride"),
                cure_days=job.cure_days, after=tuple(f"job:{handle}" for handle in job.after),
            )
        )
    for line in known.parts:
        if line.id in used or line.state in GONE_STATES or (line.component and line.component in settled):
            continue
        component = trade.components.get(line.component)
        likely = component.fit_minutes if component is not None else 30.0
        spread = math.exp(Z90 * MINUTES_SPREAD)
        name = line.name or (component.name_uk if component is not None else line.id)
        found.append(
            Need(
                key=f"part:{line.id}", name=f"fit {name}", kind="job", component=line.component,
                minutes=(likely / spread, likely, likely * spread),
                parts=(_line_need(known, trade, component, line, line.remedy or "genuine"),),
                covers=component.covers if component is not None else (),
                before_gate=gate_that_waits(component) if component is not None else "fit_to_ride",
                essential=component is not None and "stop" in (component.ride, component.run),
                worth_minor=round(worth_left(component, known)) if component is not None else 0,
            )
        )
    return found


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
        money = band_mean(need.materials_minor) + sum(band_mean(part.supplies[0].price_minor) for part in need.parts)
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
