"""What a key of work means for one machine: which row of the record stands for it, which parts and covers it has.

Keys are those of docs/running-order.md. Light: nothing is drawn, and nothing here needs the numeric libraries.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Literal

from wreckwright.acts.checks import words_for
from wreckwright.acts.finding_form import component_words
from wreckwright.errors import EntryError, NotThere
from wreckwright.record.against_trade import hit_side, read_finding_row
from wreckwright.record.evidence import KNOWN_BAD_FROM
from wreckwright.record.faults import nearest, one_of, shown
from wreckwright.record.pace import CLOSED_STATES, MENDING_KINDS, way_of
from wreckwright.record.part_lines import superseded
from wreckwright.record.remedies import default_remedy
from wreckwright.record.types import Job, JobKind, Machine, PartLine, RemedyName
from wreckwright.record.words import Match
from wreckwright.trade.steps import MAIN_STEP, WAYS, step_words
from wreckwright.trade.steps import steps_of as steps_by_trade
from wreckwright.trade.types import JobStep, Trade

WorkIs = Literal[
    "main", "step", "job", "part", "standard", "errand", "after", "batch", "look", "gate", "way", "off", "on", "lump"
]
LIVE_STATES = ("wanted", "kept_back", "deposit_paid", "ordered", "shipped", "part_arrived", "here")
"""States of a part line that is still going to be fitted."""
LUMP = "lump"
"""Key of what is reckoned with for all small things that may be hidden."""
AT_THE_BENCH = ("main", "step", "job", "part", "standard", "errand", "after")
"""What is done by hand and written down as a job."""
_PREFIXES: tuple[WorkIs, ...] = (
    "job", "part", "standard", "errand", "after", "batch", "look", "gate", "way", "off", "on",
)


@dataclass(frozen=True, kw_only=True)
class Work:
    key: str
    what: WorkIs
    target: str
    """Behind the colon: handle, or id in the trade data; of a step its component."""
    name: str
    """As in the record if it has a row there, else by the trade data; begins with a capital."""
    component: str = ""
    group: str = ""
    """Key of the main step of the remedy that it is a step of; empty where there are no steps."""
    step: JobStep | None = None
    job: Job | None = None
    """The row that stands for it."""
    lines: tuple[PartLine, ...] = ()
    """Its part lines, of any state."""
    covers: tuple[str, ...] = ()
    """Covers that must be off for it; those above them are not named."""
    kind: JobKind = "fit"

    @property
    def done(self) -> bool:
        return self.job is not None and self.job.state in CLOSED_STATES

    @property
    def rights(self) -> bool:
        """Whether its component is right afterwards, and its parts are fitted."""
        return self.what in ("main", "part") or (self.what == "job" and self.kind in MENDING_KINDS)


def work_of(key: str, machine: Machine, trade: Trade) -> Work:
    """Raises NotThere for a key that means nothing here."""
    head, _, tail = key.partition(":")
    if key == LUMP:
        return Work(key=key, what="lump", target="", name="The many small things")
    what = next((one for one in _PREFIXES if one == head), None)
    if what is None or not tail:
        return _of_a_component(key, head, tail, machine, trade)
    makers = {"job": _own_job, "part": _own_part, "look": _look, "gate": _gate, "way": _gate, "batch": _batch}
    if what in makers:
        return makers[what](key, tail, machine, trade)
    if what in ("off", "on"):
        return _cover(key, head, tail, trade)
    job = standing_for(key, machine)
    if what == "errand":
        errand, _, want = tail.partition(":")
        row = next((one for one in machine.errands if one.id == errand), None)
        if row is None:
            raise _nothing(key, (f"errand:{one.id}" for one in machine.errands))
        precondition = trade.preconditions.get(want)
        if precondition is None:
            raise _nothing(key, (f"errand:{row.id}:{one}" for one in row.wants))
        name = f"{precondition.job}, for: {row.words}"
        return Work(
            key=key, what="errand", target=errand, name=_named(job, name), job=job, kind="check",
            covers=job.covers if job else (),
        )
    if what == "after":
        again = next((one for one in trade.after_ride if one.id == tail), None)
        if again is None:
            raise _nothing(key, (f"after:{one.id}" for one in trade.after_ride))
        return Work(key=key, what="after", target=tail, name=_named(job, again.words), job=job, kind="check")
    if tail not in trade.job_times:
        raise _nothing(key, (f"standard:{one}" for one in trade.job_times))
    return Work(
        key=key, what="standard", target=tail, name=_named(job, trade.job_times[tail].name), job=job, kind="check",
        covers=job.covers if job else (),
    )


def bench_work(key: str, machine: Machine, trade: Trade) -> Work:
    """The same of what can be begun, stopped and done. Raises NotThere, and EntryError for a key of something else."""
    work = work_of(key, machine, trade)
    if work.what in AT_THE_BENCH:
        return work
    do = {
        "gate": "answer it with yes or no",
        "way": "answer the question once the way round is gone: yes, no or way round",
        "look": "say that nothing was found, or write down what was found",
        "off": "say that the cover is off",
        "on": "say that the cover is on",
        "batch": "say that it is away, or that it is back",
        "lump": "write down what was found; it becomes work of its own",
    }[work.what]
    what = {
        "gate": "a question", "way": "a way round a question", "look": "a look", "off": "a cover coming off",
        "on": "a cover going on", "batch": "work done elsewhere", "lump": "no single thing",
    }[work.what]
    raise EntryError(
        f"key: {shown(key)} is {what} ({work.name})", allowed="a job at the bench", do=do, field="key"
    )


def standing_for(key: str, machine: Machine) -> Job | None:
    """The row of the record in which it is written what became of the work with this key."""
    return next((one for one in machine.jobs if one.stands_for == key), None)


def steps_of(work: Work, machine: Machine, trade: Trade) -> tuple[JobStep, ...]:
    """All steps of the remedy that a piece of work belongs to, in their order; none where there are none."""
    if not work.group:
        return ()
    if work.group == work.component:
        return _steps_now(work.component, machine, trade)
    return steps_by_trade(trade, work.component, way_of(work.lines[0].remedy or "genuine"))


def _steps_now(component: str, machine: Machine, trade: Trade) -> tuple[JobStep, ...]:
    return steps_by_trade(trade, component, way_of(remedy_now(component, machine, trade)))


def step_key(group: str, step: JobStep) -> str:
    return group if is_main(step) else f"{group}:{step.step}"


def is_main(step: JobStep) -> bool:
    """The step that puts the component right."""
    return step.step == MAIN_STEP[step.way]


def remedy_now(component: str, machine: Machine, trade: Trade) -> RemedyName:
    """What is done about a component: as chosen, else as its part lines say, else what most would do."""
    for row in reversed(machine.remedies):
        if row.component == component:
            return row.remedy
    over = superseded(machine.parts)
    live = [
        line for line in machine.parts
        if line.component == component and line.state in (*LIVE_STATES, "wrong") and line.id not in over
    ]
    if live:
        return next((line.remedy for line in live if line.remedy), "genuine")
    severity, missing = found_bad(component, machine) or (2, False)
    return default_remedy(trade.components[component], severity=severity, missing=missing)


def found_bad(component: str, machine: Machine) -> tuple[int, bool] | None:
    """(worst severity, missing) of what was surely found of a component; None: nothing bad."""
    words, side = words_for(machine), hit_side(machine)
    worst: tuple[int, bool] | None = None
    for finding in machine.findings:
        match = read_finding_row(finding, words, assume_side=side)
        if not isinstance(match, Match) or component not in match.components:
            continue
        if finding.looked_fine or match.fine or finding.sure < KNOWN_BAD_FROM:
            continue
        now = (match.severity, match.missing)
        worst = now if worst is None else (max(worst[0], now[0]), worst[1] or now[1])
    return worst


def above(covers: Iterable[str], trade: Trade) -> tuple[str, ...]:
    """Covers with all that must come off before them, those above first, each once.

    >>> from wreckwright.acts.checks import trade_data
    >>> above(["battery_out"], trade_data())
    ('seat_off', 'battery_out')
    """
    found: dict[str, None] = {}

    def visit(cover: str) -> None:
        row = trade.covers.get(cover)
        if row is None or cover in found:
            return
        for one in row.under:
            visit(one)
        found[cover] = None

    for cover in covers:
        visit(cover)
    return tuple(found)


def pieces_of(component: str, machine: Machine, trade: Trade, job: Job | None = None) -> tuple[str, ...]:
    """What belongs to a component and can snap or be missing: carried over from the old one, or renewed with it."""
    carry, renew = trade.carry_overs.get(component), trade.renew_withs.get(component)
    own = (*job.keep, *job.renew) if job else ()
    return tuple(dict.fromkeys((*own, *(carry.pieces if carry else ()), *(renew.pieces if renew else ()))))


def _of_a_component(key: str, component: str, step_id: str, machine: Machine, trade: Trade) -> Work:
    row = trade.components.get(component)
    if row is None:
        raise _nothing(key, _keys(machine, trade))
    steps = _steps_now(component, machine, trade)
    # A remedy that was changed meanwhile has left steps behind that a row may still stand for.
    every = (*steps, *(one for way in WAYS for one in steps_by_trade(trade, component, way)))
    step = next((one for one in every if (one.step == step_id if step_id else is_main(one))), None)
    if step is None:
        raise _nothing(key, (step_key(component, one) for one in steps))
    job = standing_for(key, machine)
    main = not step_id
    if job is None and main:
        job = _mending_job(component, machine)
    return Work(
        key=key, what="main" if main else "step", target=component,
        name=_named(job, step_name(component, step, machine, trade)), component=component, group=component,
        step=step, job=job,
        lines=tuple(one for one in machine.parts if one.component == component),
        covers=job.covers if job is not None and job.covers else row.covers if step.uncovered else (),
        kind=job.kind if job is not None else step.kind,
    )


def step_name(component: str, step: JobStep, machine: Machine, trade: Trade) -> str:
    """What is done in a step, with the names in it."""
    return step_words(step, part=component_words(component, machine, trade), pieces=pieces_to_keep(component, trade))


def pieces_to_keep(component: str, trade: Trade) -> tuple[str, ...]:
    row = trade.carry_overs.get(component)
    return row.pieces if row else ()


def _mending_job(component: str, machine: Machine) -> Job | None:
    """An own job that mends a component stands for the main step, as it does in the plan."""
    own = [
        one for one in machine.jobs
        if one.component == component and not one.stands_for and one.kind in MENDING_KINDS
        and one.state not in CLOSED_STATES
    ]
    return own[0] if own and found_bad(component, machine) else None


def _own_job(key: str, handle: str, machine: Machine, trade: Trade) -> Work:
    job = next((one for one in machine.jobs if one.id == handle), None)
    if job is None:
        raise _nothing(key, (f"job:{one.id}" for one in machine.jobs))
    component = trade.components.get(job.component)
    return Work(
        key=key, what="job", target=handle, name=_named(job, job.name), component=job.component, job=job,
        lines=tuple(one for one in machine.parts if one.id in job.parts),
        covers=job.covers or (component.covers if component else ()), kind=job.kind,
    )


def _own_part(key: str, target: str, machine: Machine, trade: Trade) -> Work:
    """The fitting of an own part line, or (`part:p2:try_on`) another step of it."""
    handle, _, step_id = target.partition(":")
    line = next((one for one in machine.parts if one.id == handle), None)
    if line is None:
        raise _nothing(key, (f"part:{one.id}" for one in machine.parts))
    component = trade.components.get(line.component)
    job = standing_for(key, machine)
    name = line_name(line, machine, trade)
    said, covers = f"fit {name}", component.covers if component else ()
    step = None
    if step_id:
        steps = steps_by_trade(trade, line.component, way_of(line.remedy or "genuine")) if component else ()
        step = next((one for one in steps if one.step == step_id), None)
        if step is None:
            raise _nothing(key, (f"part:{handle}:{one.step}" for one in steps if not is_main(one)))
        said = step_words(step, part=name, pieces=pieces_to_keep(line.component, trade))
        covers = covers if step.uncovered else ()
    return Work(
        key=key, what="step" if step else "part", target=handle, name=_named(job, said), component=line.component,
        group=f"part:{handle}" if component else "", step=step, job=job, lines=(line,),
        covers=job.covers if job is not None and job.covers else covers,
        kind=job.kind if job is not None else step.kind if step else "fit",
    )


def line_name(line: PartLine, machine: Machine, trade: Trade) -> str:
    name = line.name or (component_words(line.component, machine, trade) if line.component else line.id)
    return name[:1].lower() + name[1:]


def _look(key: str, check: str, machine: Machine, trade: Trade) -> Work:
    row = trade.checks.get(check)
    if row is None:
        raise _nothing(key, (f"look:{one}" for one in trade.checks))
    return Work(key=key, what="look", target=check, name=row.name, covers=row.covers, kind="check")


def _gate(key: str, tail: str, machine: Machine, trade: Trade) -> Work:
    name = tail.partition(":")[0]
    own = next((one for one in machine.gates if name in (one.id, one.template)), None)
    template = trade.gates.get(own.template if own else name)
    if own is None and template is None:
        known = (*trade.gates, *(one.id for one in machine.gates))
        raise _nothing(key, (f"gate:{one}" for one in known))
    question = (own.question if own else "") or (template.question if template else name)
    what: WorkIs = "way" if key.startswith("way:") else "gate"
    return Work(key=key, what=what, target=name, name=question, kind="test")


def _batch(key: str, handle: str, machine: Machine, trade: Trade) -> Work:
    row = next((one for one in machine.batches if one.id == handle), None)
    if row is None:
        raise _nothing(key, (f"batch:{one.id}" for one in machine.batches))
    return Work(key=key, what="batch", target=handle, name=row.name)


def _cover(key: str, head: str, cover: str, trade: Trade) -> Work:
    row = trade.covers.get(cover)
    if row is None:
        raise _nothing(key, (f"{head}:{one}" for one in trade.covers))
    return Work(key=key, what="off" if head == "off" else "on", target=cover, name=row.name, covers=(cover,))


def _named(job: Job | None, name: str) -> str:
    said = job.name if job is not None else name
    return said[:1].upper() + said[1:]


def _keys(machine: Machine, trade: Trade) -> Iterator[str]:
    yield from trade.components
    yield from (f"job:{one.id}" for one in machine.jobs if not one.stands_for)
    yield from (f"part:{one.id}" for one in machine.parts)


def _nothing(key: str, known: Iterable[str]) -> NotThere:
    names = list(known)
    near = nearest(key, names)
    return NotThere(
        f"there is no work with the key {shown(key)}",
        allowed="a key as the running order shows it: a component, a step of it, job:..., part:..., look:..., gate:...",
        do=f"name {one_of(near)}" if near else "look at the running order again; it may have been taken out meanwhile",
    )

