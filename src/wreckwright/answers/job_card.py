"""One card for every piece of work: all that is needed at the bench, under five heads."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

import numpy as np

from wreckwright.answers.card_facts import (
    FASTENED_WITH,
    CoverMinutes,
    bags_for,
    cautions_for,
    check_limit,
    covers_back_on,
    covers_off,
    limits_for,
    opening,
    supports_for,
    torques_for,
)
from wreckwright.answers.plan_types import CardPart, CardTorque, JobCard, Minutes3
from wreckwright.answers.plan_words import listed, small, some
from wreckwright.futures.compile import SlotPlan
from wreckwright.futures.draw import Drawn
from wreckwright.futures.gates import GateNeed
from wreckwright.futures.looks import Look
from wreckwright.futures.need_types import Need
from wreckwright.futures.rows import GONE_STATES, Rows, rows_of
from wreckwright.futures.worth import LAST_GATE
from wreckwright.plan.types import Course
from wreckwright.record.known import Known, name_shown
from wreckwright.record.pace import way_of
from wreckwright.record.types import JobState, PartLine
from wreckwright.trade.steps import MAIN_STEP, step_words, steps_of
from wreckwright.trade.types import GateTemplate, JobStep, Trade

NO_ESTIMATES: Mapping[str, CardTorque] = MappingProxyType({})
STATE_WORDS: Mapping[JobState, str] = {
    "not_yet": "not yet", "can_be_done": "can be done", "open": "open", "closed_up": "closed up", "proved": "proved",
}
MOVES_PIECES = frozenset({"strip", "carry_over"})
PUTS_ON = frozenset({"fit", "fit_back"})
GUARDS_SAID = "_guard"
"""Ends the id of a caution that says the guards of a question in one sentence."""


def job_cards(
    drawn: Drawn, trade: Trade, *, course: Course | None = None,
    torque_estimates: Mapping[str, CardTorque] = NO_ESTIMATES,
) -> tuple[JobCard, ...]:
    """A card for each job, each look that is taken and each test of one machine, in the order of its slots.

    `torque_estimates`: by the handle of a fastening or the id of a component; none of them is shown where the ride
    depends on the thread. `course` adds when a piece of work usually has its turn. Minutes are the 10, 50 and 90 %
    points of what was drawn, at the owner's pace. What is hidden, fallbacks and covers by themselves have no card.
    """
    bench = _Bench(drawn=drawn, trade=trade, course=course, estimates=torque_estimates)
    found = []
    for at, plan in enumerate(drawn.compiled.slots):
        if plan.need is not None and plan.need.kind == "job":
            found.append(_job(bench, at, plan.need))
        elif plan.look is not None:
            found.append(_look(bench, at, plan.look))
        elif plan.gate is not None and plan.way is None:
            found.append(_test(bench, at, plan.gate))
    return tuple(found)


@dataclass(frozen=True, kw_only=True)
class _Bench:
    """What all cards of one machine read."""

    drawn: Drawn
    trade: Trade
    course: Course | None
    estimates: Mapping[str, CardTorque]
    known: Known = field(init=False)
    rows: Rows = field(init=False)
    off_now: frozenset[str] = field(init=False)
    covers: Mapping[str, CoverMinutes] = field(init=False)
    openings: Mapping[str, tuple[str, frozenset[str], str]] = field(init=False)
    """Key of a job or look -> its name, the covers off for it, and its group."""
    begins: Mapping[str, int] = field(init=False)

    def __post_init__(self) -> None:
        def put(name: str, value: object) -> None:
            object.__setattr__(self, name, value)

        known, compiled = self.drawn.known, self.drawn.compiled
        put("known", known)
        put("rows", rows_of(known))
        put("off_now", frozenset(opening(self.trade, known.machine.covers_off)))
        n, c = len(compiled.slots), len(compiled.covers)
        usual = np.median(self.drawn.worlds.minutes[:, n : n + 2 * c], axis=0) if c else np.zeros(0)
        put("covers", {
            name: CoverMinutes(off=float(usual[at]), on=float(usual[c + at])) for at, name in enumerate(compiled.covers)
        })
        put("openings", {
            plan.key: (self.name(at), frozenset(opening(self.trade, _covers_of(plan))), _group_of(plan))
            for at, plan in enumerate(compiled.slots)
            if plan.look is not None or (plan.need is not None and plan.need.kind == "job")
        })
        steps = self.course.steps if self.course is not None else ()
        put("begins", {step.key: step.pieces[0].day if step.pieces else step.day for step in steps})

    def minutes(self, at: int) -> Minutes3:
        low, likely, high = np.quantile(self.drawn.worlds.minutes[:, at], [0.1, 0.5, 0.9])
        return Minutes3(low=float(low), likely=float(likely), high=float(high))

    def name(self, at: int) -> str:
        return self.drawn.compiled.rebuild.slots[at].name

    def turn(self, key: str) -> str:
        """When it usually has its turn, as a sentence."""
        if key not in self.begins:
            return ""
        return f"In the usual course it has its turn on {self.known.as_of + dt.timedelta(days=self.begins[key])}."

    def while_open(self, key: str) -> tuple[tuple[str, str], ...]:
        """Other work for which no further cover comes off."""
        _, here, group = self.openings[key]
        return tuple(
            (other, name) for other, (name, covers, other_group) in self.openings.items()
            if other != key and other_group != group and covers and covers <= here
        )

    def question(self, gate_id: str) -> str:
        return next((gate.question for gate in self.drawn.compiled.bench if gate.id == gate_id), "")


def _covers_of(plan: SlotPlan) -> tuple[str, ...]:
    if plan.need is not None:
        return plan.need.covers
    return plan.look.covers if plan.look is not None else ()


def _group_of(plan: SlotPlan) -> str:
    return (plan.need.group if plan.need is not None else "") or plan.key


def _job(bench: _Bench, at: int, need: Need) -> JobCard:
    trade, known, job = bench.trade, bench.known, need.job
    step = _step_of(trade, need)
    covers = opening(trade, need.covers)
    still_on = [name for name in covers if name not in bench.off_now]
    puts_on = step is None or step.step in PUTS_ON or step.kind == "fit"
    moves = step is None or step.step in (MOVES_PIECES if _has_carry_over(trade, need) else PUTS_ON)
    main = step is None or step.step in {*PUTS_ON, MAIN_STEP[way_of(need.remedy)]}
    carry, renew = trade.carry_overs.get(need.component), trade.renew_withs.get(need.component)
    threads = [need.component] if puts_on and need.component else []
    threads += [part for name in covers for part in FASTENED_WITH.get(name, ())]
    film = (job.film if job is not None else "") or (step.film if step is not None else "")
    return JobCard(
        key=need.key, name=bench.name(at), kind="job", component=need.component, minutes=bench.minutes(at),
        done_minutes=(job.done_minutes or 0.0) if job is not None else 0.0, state=_state(bench, need),
        began_at=job.started_at.isoformat() if job is not None and job.started_at is not None else "",
        handle=job.id if job is not None else "",
        why=_why(bench, need),
        cautions=cautions_for(trade, {need.component, *covers}, only_tried=need.step == "try_on"),
        supports=_both(job.supports if job is not None else (), supports_for(trade, covers)),
        tools=_both(job.tools if job is not None else (), step.tools if step is not None else ()),
        look_first=(),
        helper=need.helper or any(trade.covers[name].helper for name in still_on),
        off=covers_off(trade, covers, bench.off_now, bench.covers),
        steps=(job.steps if job is not None else ()) or (step.steps if step is not None else ()),
        parts=_parts(bench, need),
        keep=(job.keep if job is not None else ()) or (carry.pieces if carry is not None and moves else ()),
        renew=(job.renew if job is not None else ()) or (renew.pieces if renew is not None and main else ()),
        while_open=bench.while_open(need.key) if covers else (),
        bags=bags_for(known, need.key, need.group or need.key),
        back_on=covers_back_on(trade, covers, bench.off_now, bench.covers),
        torques=torques_for(known, trade, threads, bench.estimates),
        limits=limits_for(known, trade, need.component, checks=step is not None and step.kind in ("check", "test")),
        film=(film,) if film else (), may_split=need.may_split, cure_days=need.cure_days,
        siblings=_siblings(bench, need),
        basis=step.basis if step is not None else "your own" if job is not None else "common practice",
    )


def _has_carry_over(trade: Trade, need: Need) -> bool:
    return any(step.step == "carry_over" for step in steps_of(trade, need.component, way_of(need.remedy)))


def _both(own: tuple[str, ...], trades: tuple[str, ...]) -> tuple[str, ...]:
    """The owner's words before the trade's, nothing twice."""
    return tuple(dict.fromkeys((*own, *trades)))


def _step_of(trade: Trade, need: Need) -> JobStep | None:
    if not need.step or not need.component:
        return None
    return next((step for step in steps_of(trade, need.component, way_of(need.remedy)) if step.step == need.step), None)


def _state(bench: _Bench, need: Need) -> str:
    """What the record says; where it says nothing, whether anything holds it up."""
    job = need.job
    if job is not None and job.started_at is not None:
        return STATE_WORDS["open"]
    if job is not None and job.state != "not_yet":
        return STATE_WORDS[job.state]
    # The other steps of a remedy wait for its parts through the step that holds them.
    waits = any(key in bench.openings for key in need.after) or any(not part.here for part in need.parts)
    return STATE_WORDS["not_yet" if waits else "can_be_done"]


def _why(bench: _Bench, need: Need) -> str:
    bad = next((one for one in bench.known.bad if one.component == need.component), None)
    said = []
    if bad is not None:
        said.append(f"Found {'missing' if bad.missing else 'bad'}: {bad.condition}." if bad.condition else "Found bad.")
    wanted = bench.trade.preconditions.get(need.key.rpartition(":")[2]) if need.key.startswith("errand:") else None
    if wanted is not None:
        said.append(f"Before the trip: {wanted.question}")
    question = bench.question(need.before_gate)
    if question:
        said.append(f"It comes before the question: {question}")
    waits = tuple(bench.openings[key][0] for key in need.after if key in bench.openings)
    if waits:
        said.append(f"First: {listed(waits)}.")
    said.append(bench.turn(need.key))
    return " ".join(filter(None, said))


def _parts(bench: _Bench, need: Need) -> tuple[CardPart, ...]:
    """Part lines of the record that belong to it; a part that is not written down yet stands there without a handle."""
    known = bench.known
    own = set(need.job.parts) if need.job is not None else set()
    of_part = need.key.removeprefix("part:") if need.key.startswith("part:") else ""
    rows = [
        line for line in known.parts
        if line.state not in GONE_STATES
        and (line.id in own or line.id == of_part or (bool(need.step) and line.component == need.component))
    ]
    found = [_part(line, known, bench.trade) for line in rows]
    if not found:
        found = [CardPart(handle="", name=part.name, state="not written down yet") for part in need.parts]
    return tuple(found)


def _part(line: PartLine, known: Known, trade: Trade) -> CardPart:
    component = trade.components.get(line.component)
    name = line.name or (name_shown(component, known) if component is not None else line.id)
    return CardPart(
        handle=line.id, name=name, state=line.state.replace("_", " "),
        last_return=line.last_return_on.isoformat() if line.last_return_on is not None else "",
    )


def _siblings(bench: _Bench, need: Need) -> tuple[tuple[str, str, bool], ...]:
    if not need.step or not need.component:
        return ()
    trade, way = bench.trade, way_of(need.remedy)
    carry = trade.carry_overs.get(need.component)
    part = name_shown(trade.components[need.component], bench.known)
    found = []
    for step in steps_of(trade, need.component, way):
        key = need.group if step.step == MAIN_STEP[way] else f"{need.group}:{step.step}"
        if key in bench.openings:
            found.append((key, bench.openings[key][0], False))
        elif bench.rows.done(key):
            name = step_words(step, part=part, pieces=carry.pieces if carry is not None else ())
            found.append((key, bench.rows.standing[key].name or name, True))
    return tuple(found)


def _look(bench: _Bench, at: int, look: Look) -> JobCard:
    trade, check = bench.trade, bench.trade.checks[look.check]
    key = f"look:{look.check}"
    covers = opening(trade, look.covers)
    shows = tuple(small(name_shown(trade.components[name], bench.known)) for name in sorted(look.detects))
    why = f"It may show before money is spent: {some(shows, most=6)}." if shows else ""
    if look.rough_for:
        why = " ".join(filter(None, (f"A quick answer beforehand: {bench.question(look.rough_for)}", why)))
    cautions = cautions_for(trade, {look.check, *covers})
    return JobCard(
        key=key, name=bench.name(at), kind="look", component="", minutes=bench.minutes(at), done_minutes=0.0,
        state=STATE_WORDS["can_be_done"], began_at="", handle="",
        why=" ".join(filter(None, (why, bench.turn(key)))),
        cautions=tuple(dict.fromkeys((*cautions, *((check.caution,) if check.caution else ())))),
        supports=supports_for(trade, covers), tools=check.tools,
        look_first=tuple(trade.checks[name].name for name in check.only_after),
        helper=any(trade.covers[name].helper for name in covers if name not in bench.off_now),
        off=covers_off(trade, covers, bench.off_now, bench.covers), steps=(), parts=(), keep=(), renew=(),
        while_open=bench.while_open(key) if covers else (), bags=bags_for(bench.known, key, key),
        back_on=covers_back_on(trade, covers, bench.off_now, bench.covers), torques=torques_for(
            bench.known, trade, [part for name in covers for part in FASTENED_WITH.get(name, ())], bench.estimates
        ),
        limits=(check_limit(check),), film=(), may_split=True, cure_days=0, siblings=(), basis=check.basis,
    )


def _test(bench: _Bench, at: int, gate: GateNeed) -> JobCard:
    trade = bench.trade
    key = f"gate:{gate.id}"
    template = trade.gates.get(gate.id)
    covers = opening(trade, gate.covers_off)
    # With a cover that must be on, whatever lies behind it must be on; what lies over it need not.
    behind = {name for name in bench.off_now if set(opening(trade, (name,))) & set(gate.covers_on)}
    closing = tuple(name for name in opening(trade, sorted(behind)) if name in behind)
    steps: tuple[str, ...] = ()
    if gate.id == LAST_GATE:
        steps = tuple(f"{item.name}: {item.how_proved}" for item in trade.fit_items.values())
    return JobCard(
        key=key, name=bench.name(at), kind="gate", component="", minutes=bench.minutes(at), done_minutes=0.0,
        state=STATE_WORDS["not_yet" if _something_before(bench, at) else "can_be_done"], began_at="", handle="",
        why=" ".join(filter(None, ("It ends the stretch: what comes after it waits for a yes.", bench.turn(key)))),
        cautions=cautions_for(trade, covers, _cautions_of(template)),
        supports=supports_for(trade, covers), tools=(), look_first=template.guards if template is not None else (),
        helper=template is not None and template.helper,
        off=covers_off(trade, covers, bench.off_now, bench.covers), steps=steps, parts=(), keep=(), renew=(),
        while_open=(), bags=bags_for(bench.known, key, key),
        back_on=covers_back_on(trade, closing, bench.off_now, bench.covers), torques=(), limits=(), film=(),
        may_split=False, cure_days=0, siblings=(),
        basis=template.basis if template is not None else "your own",
    )


def _cautions_of(gate: GateTemplate | None) -> tuple[str, ...]:
    """The cautions of a question, without the one that says its guards: they stand as what is looked at first."""
    if gate is None:
        return ()
    return tuple(one for one in gate.cautions if not (gate.guards and one.endswith(GUARDS_SAID)))


def _something_before(bench: _Bench, at: int) -> bool:
    """Work of its stretch, an earlier question or an answer from outside is still to come."""
    slots, plans = bench.drawn.compiled.rebuild.slots, bench.drawn.compiled.slots
    here = slots[at]
    return bool(here.outside) or any(
        (slot.kind == "gate" and slot.stage < here.stage)
        or (slot.kind == "job" and not plan.is_lump and slot.needed_by <= here.stage)
        for slot, plan in zip(slots, plans, strict=True)
    )
