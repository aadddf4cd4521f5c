"""How long the owner's jobs take compared with what was expected of them, learned from jobs that are finished.

For a finished job of kind k, done in d minutes where e were expected at the owner's stated pace p, ln(d / (e p)) is
taken as normal about a figure of its kind, ln f_k, with the standard deviation `JOB_LOG_SD`; before anything is
finished ln f_k is normal about 0 (the stated pace holds) with `KIND_LOG_SD`. After n jobs with the mean log m its mean
is

    n m / (n + JOB_LOG_SD**2 / KIND_LOG_SD**2),

the usual precision-weighted mean of a normal with a normal prior (A. Gelman et al., Bayesian Data Analysis, 3rd ed.,
2.5, from memory); f_k is the exponential of it. So one job moves it by a third of what it says, ten by five sixths.
Both figures are judgement.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from wreckwright.record.types import Job, JobKind, Machine, PartLine
from wreckwright.trade.steps import MAIN_STEP, steps_of
from wreckwright.trade.types import JobStep, Trade

MENDING_KINDS = frozenset({"repair", "fit", "adjust", "clean"})
"""Kinds of job that put a component right."""
CLOSED_STATES = frozenset({"closed_up", "proved"})
"""States of a job that is finished."""
REPAIR_MINUTES_FACTOR = 1.6
"""A repair takes longer than fitting a part (judgement)."""
MENDING_REMEDIES = frozenset({"repair", "modify"})
JOB_LOG_SD = 0.35
"""Spread of one job about what is expected of it (judgement)."""
KIND_LOG_SD = 0.25
"""Spread of owners' pace about the trade's times (judgement)."""


def way_of(remedy: str) -> str:
    """`mend` or `buy`: which steps of the trade data a remedy takes."""
    return "mend" if remedy in MENDING_REMEDIES else "buy"


def likely_minutes(trade: Trade, component: str, remedy: str) -> float:
    """The trade's minutes for putting a component right by a remedy, its covers apart."""
    factor = REPAIR_MINUTES_FACTOR if remedy in MENDING_REMEDIES else 1.0
    return trade.components[component].fit_minutes * factor


def pace_by_kind(machine: Machine, trade: Trade, *, pace: float) -> Mapping[JobKind, float]:
    """Kind of job -> factor on what is expected at the stated pace; only kinds of which something is finished.

    `pace`: the owner's stated factor, above 0. The record's names must be known to the trade data.
    """
    logs: dict[JobKind, list[float]] = {}
    for job in machine.jobs:
        if job.state not in CLOSED_STATES or not job.done_minutes:
            continue
        expected, kind = _expected(job, machine, trade)
        if expected > 0.0:
            logs.setdefault(kind, []).append(math.log(job.done_minutes / (expected * pace)))
    prior = (JOB_LOG_SD / KIND_LOG_SD) ** 2
    return {kind: math.exp(sum(found) / (len(found) + prior)) for kind, found in sorted(logs.items())}


def _expected(job: Job, machine: Machine, trade: Trade) -> tuple[float, JobKind]:
    """Likely minutes that were expected of a job, 0 where nothing says; and its kind."""
    component, step = _component_and_step(job, machine, trade)
    kind: JobKind = job.kind
    likely = 0.0
    if component:
        remedy = _remedy(job, component, machine, trade)
        likely = likely_minutes(trade, component, remedy)
        if step:
            # A row that stands for a step of the trade data is of that step's kind, whatever its own says.
            wanted = MAIN_STEP[way_of(remedy)] if step == "main" else step
            rows = [row for row in steps_of(trade, component, way_of(remedy)) if row.step == wanted]
            if not rows and job.minutes is None:
                return 0.0, kind
            if rows:
                kind = rows[0].kind
                with_it = _told_with_it(job, machine, component, rows[0], trade) if step == "main" else 0.0
                likely *= rows[0].share + with_it
    return (job.minutes.likely if job.minutes is not None else likely), kind


def _told_with_it(job: Job, machine: Machine, component: str, main: JobStep, trade: Trade) -> float:
    """Share of the steps before the main one of which the record has no row: whoever says that it is fitted need not
    say that it was taken off before, and then the minutes told are those of all of it."""
    told = {row.stands_for for row in machine.jobs}
    return sum(
        step.share for step in steps_of(trade, component, main.way)
        if step.order < main.order and f"{job.stands_for}:{step.step}" not in told
    )


def _component_and_step(job: Job, machine: Machine, trade: Trade) -> tuple[str, str]:
    """The component a job is done to, and the step that its row stands for: `main`, another, or none (all of it)."""
    if not job.stands_for:
        return (job.component if job.kind in MENDING_KINDS and job.component in trade.components else ""), ""
    head, _, step = job.stands_for.partition(":")
    if head in trade.components:
        return head, step or "main"
    if head == "part":
        handle, _, step = step.partition(":")
        line = next((part for part in machine.parts if part.id == handle), None)
        if line is not None and line.component in trade.components:
            return line.component, step or "main"
    return "", ""


def _remedy(job: Job, component: str, machine: Machine, trade: Trade) -> str:
    """As far as the record says; else by what was done."""
    for row in machine.remedies:
        if row.component == component and row.remedy != "leave":
            return row.remedy
    lines: list[PartLine] = [part for part in machine.parts if part.component == component]
    for part in lines:
        if part.remedy:
            return part.remedy
    if lines:
        return "genuine"
    return "repair" if job.kind == "repair" else trade.components[component].usual_remedy
