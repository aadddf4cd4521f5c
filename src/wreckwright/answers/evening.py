"""All that tonight's list is made from: what is left of the plan, as it can be done on one evening."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterator
from graphlib import TopologicalSorter

import numpy as np

from wreckwright.answers.card_facts import WHEN_LOOSENED
from wreckwright.answers.chains import tail_minutes
from wreckwright.answers.fit import fit
from wreckwright.answers.next_questions import Case, about_gate, look_before_start
from wreckwright.answers.part_lines import lines_in_record, missing_words
from wreckwright.answers.plan_types import Evening, EveningCover, EveningLoose, EveningWork
from wreckwright.answers.plan_words import counted, day_after, listed, small
from wreckwright.answers.words import in_ten
from wreckwright.futures.compile import SlotPlan
from wreckwright.futures.draw import Drawn
from wreckwright.futures.gates import GateNeed
from wreckwright.futures.looks import TELEPHONE, Look
from wreckwright.futures.need_types import Need
from wreckwright.futures.policy import NEVER
from wreckwright.futures.worth import LAST_GATE
from wreckwright.plan.links import lines_upward, shut_for
from wreckwright.plan.make import Planned
from wreckwright.record.known import name_shown
from wreckwright.record.pace import way_of
from wreckwright.record.types import LooseEnd, PartLine
from wreckwright.trade.steps import steps_of
from wreckwright.trade.types import Trade

LUMP = "lump"
"""The many small hidden things: nobody can set about them."""
LATE_OR_ALONE = "late_or_alone"
"""Caution of the trade data for tired hands and for whoever works alone."""
LATE_HEADINGS = frozenset({"brakes", "steering"})
"""Headings of the fit-to-ride list that are no work for late at night (common practice)."""
TRY_ON = "try_on"
LOOSE_WORDS = {"loose": "something left finger-tight", "bag": "a bag of screws", "rags": "rags in ports"}


def evening(
    drawn: Drawn, planned: Planned, trade: Trade, *, date: dt.date | None = None, helper_here: bool | None = None
) -> Evening:
    """One evening of one machine (absent: the as-of date), from which `tonight` makes a list for any hours.

    `helper_here`: whether somebody helps that evening; absent: by the helper days of the record. Where it names none,
    work for two waits for nobody (and the caution for whoever works alone is given all the same).
    Today a part counts as here when the record says so; on a later day, when it is usually there by then.
    """
    desk = _Desk(drawn, planned, trade, date or drawn.known.as_of)
    rebuild = drawn.compiled.rebuild
    help_known = True
    if helper_here is None:
        helper_here = rebuild.helper_day is None or bool(rebuild.helper_day[desk.day])
        help_known = rebuild.helper_day is not None
    bench = drawn.compiled.bench
    place = {key: index for index, key in enumerate(planned.plan.order)}
    works = sorted(
        (*desk.works(), *desk.tests(), *desk.ways_round()), key=lambda work: place.get(work.key, -1)
    )
    minutes = rebuild.cumulative_minutes
    return Evening(
        nickname=drawn.known.machine.nickname, date=desk.date.isoformat(), stage=0,
        question=bench[0].question if bench else "", works=tuple(works), covers=tuple(desk.covers()),
        loose=tuple(map(_loose, (end for end in drawn.known.machine.loose_ends if not end.closed))),
        helper_here=helper_here, planned_minutes=int(minutes[desk.day + 1] - minutes[desk.day]),
        next_arrival=desk.next_arrival(), help_known=help_known,
    )


def _loose(end: LooseEnd) -> EveningLoose:
    words = end.words.strip() or LOOSE_WORDS[end.what]
    return EveningLoose(handle=end.id, what=end.what, words=words, count=end.count)


class _Desk:
    """One machine and one day, as every entry is read from them."""

    def __init__(self, drawn: Drawn, planned: Planned, trade: Trade, date: dt.date) -> None:
        self.drawn, self.planned, self.trade, self.date = drawn, planned, trade, date
        self.day = (date - drawn.known.as_of).days
        self.problem = planned.problem_usual
        self.compiled = drawn.compiled
        # What was answered no wants a way round, and no first answer.
        asked = [need.id for need in drawn.compiled.bench[:1] if not need.answered_no]
        self.next_question = asked[0] if asked else ""
        self.slot = {plan.key: index for index, plan in enumerate(drawn.compiled.slots)}
        self.tail = tail_minutes(self.problem, planned.plan.stages)
        self.case = Case(
            known=drawn.known, trade=trade, damage=drawn.chance, cause_chance=drawn.cause_chance,
            bench=drawn.compiled.bench, outside=drawn.compiled.outside,
        )
        self.lines = lines_in_record(drawn)
        self.above = lines_upward(self.problem)
        self.off = frozenset(cover.key for cover in self.problem.covers if cover.off_at_start)
        self.shut = shut_for(self.problem)
        self.listed = [j for j, work in enumerate(self.problem.works) if self._is_listed(j, work.key)]
        late = trade.cautions.get(LATE_OR_ALONE)
        self.late_words = late.text if late is not None else ""
        self.alone_at = frozenset(late.applies_to) if late is not None else frozenset()
        # Before which question each work must be done: its own last stretch, or that of what comes after it.
        self.needed_by = self._needed_by()

    def _is_listed(self, j: int, key: str) -> bool:
        """It is there, somebody can do it, and it is not given up because its part is not bought."""
        if key == LUMP or not self.problem.present[0, j]:
            return False
        look = self.compiled.slots[self.slot[key]].look
        if look is not None and TELEPHONE in self.trade.checks[look.check].tools:
            # A call is no work for the evening; it stands among the errands.
            return False
        slot = self.compiled.rebuild.slots[self.slot[key]]
        lines = slot.lines if slot.part_of < 0 else self.compiled.rebuild.slots[slot.part_of].lines
        return not any(
            self.planned.policy.line_trigger[line] == NEVER and not self.compiled.lines[line].already_ordered
            for line in lines
        )

    def _needed_by(self) -> dict[int, int]:
        works = self.problem.works
        found = {j: work.last_stage for j, work in enumerate(works)}
        graph = {j: [i for i, work in enumerate(works) if j in work.after] for j in found}
        for j in TopologicalSorter(graph).static_order():
            found[j] = min([found[j], *(found[i] for i in graph[j])])
        return found

    def works(self) -> Iterator[EveningWork]:
        works, stages, tests = self.problem.works, self.planned.plan.stages, self.problem.tests
        listed = set(self.listed)
        for j in self.listed:
            work = works[j]
            index = self.slot[work.key]
            plan = self.compiled.slots[index]
            waits = self._waits(j, index, plan)
            line = self._arrived(index, plan)
            covers = self._opening(work.covers)
            after = [works[i].key for i in self._before(j, listed)]
            if work.first_stage > 0:
                after.append(tests[work.first_stage - 1].key)
            yield EveningWork(
                key=work.key, name=work.name, kind=work.kind, minutes=float(self.problem.minutes[0, j]),
                log_sd=self._log_sd(index), stage=stages[work.key], ready=not waits, waits_for=waits,
                after=tuple(after), covers=covers, covers_on=self._shut(j, stages[work.key]),
                may_split=work.may_split, helper=work.helper,
                for_gate=self.needed_by[j] == 0, tail_minutes=self.tail[work.key],
                part=line.id if line is not None else "",
                last_return=line.last_return_on.isoformat()
                if line is not None and line.last_return_on is not None else "",
                caution=self._caution(plan, covers), film=self._film(plan.need),
                cure_days=work.cure_days, begun=plan.need is not None and _begun(plan.need), late=self._late(plan.need),
                alone=self._alone(covers), shows=self._shows(plan.look),
                rough=self._is_rough(plan.look),
            )

    def tests(self) -> Iterator[EveningWork]:
        stages = self.planned.plan.stages
        for t, test in enumerate(self.problem.tests):
            index = self.slot[test.key]
            need = self.compiled.bench[t]
            before = [self.problem.works[j].key for j in self.listed if stages[self.problem.works[j].key] <= t]
            if t > 0:
                before.append(self.problem.tests[t - 1].key)
            before += [one.key for one in self.ways_round() if one.key.startswith(f"way:{need.id}:")]
            waits = self._test_waits(t, index, need)
            covers = self._opening(test.covers_off)
            last = t == len(self.problem.tests) - 1
            closing = self._closing(range(len(self.problem.covers)) if last else test.covers_on)
            yield EveningWork(
                key=test.key, name=test.name, kind="gate", minutes=float(self.problem.test_minutes[0, t]),
                log_sd=self._log_sd(index), stage=t, ready=not waits, waits_for=waits, after=tuple(before),
                covers=covers, covers_on=closing, may_split=False, helper=test.helper, for_gate=True,
                tail_minutes=self.tail[test.key], alone=self._alone(covers),
                caution=next(iter(self._cautions(*about_gate(self.case, need), about=covers)), ""),
            )

    def ways_round(self) -> Iterator[EveningWork]:
        """The first way round of a question that was answered no, where it is work of one's own."""
        for t, need in enumerate(self.compiled.bench):
            key = f"way:{need.id}:0"
            if not need.answered_no or key not in self.slot:
                continue
            minutes = float(np.median(self.drawn.worlds.minutes[:, self.slot[key]]))
            if minutes <= 0.0:
                continue
            yield EveningWork(
                key=key, name=need.ways[0].name, kind="job", minutes=minutes, log_sd=self._log_sd(self.slot[key]),
                stage=t, ready=True, waits_for="", after=(), covers=(), covers_on=(), may_split=True, helper=False,
                for_gate=t == 0, tail_minutes=self.tail[f"gate:{need.id}"],
                caution=next(iter(self._cautions(*about_gate(self.case, need), about=())), ""),
            )

    def covers(self) -> Iterator[EveningCover]:
        problem = self.problem
        order = TopologicalSorter({x: cover.under for x, cover in enumerate(problem.covers)}).static_order()
        for x in order:
            cover = problem.covers[x]
            row = self.trade.covers[cover.key]
            yield EveningCover(
                id=cover.key, name=cover.name, off=cover.off_at_start, minutes_off=float(problem.off_minutes[0, x]),
                minutes_on=float(problem.on_minutes[0, x]), helper=cover.helper, caution=row.caution,
                under=tuple(problem.covers[y].key for y in cover.under), name_on=row.name_on,
            )

    def next_arrival(self) -> str:
        """The order that is usually here first."""
        found: list[tuple[int, str]] = []
        for j in self.listed:
            index = self.slot[self.problem.works[j].key]
            names = tuple(
                self.compiled.lines[line].name for line in self.compiled.rebuild.slots[index].lines
                if self.compiled.lines[line].already_ordered and not self.compiled.lines[line].here
            )
            day = int(self.problem.release_day[0, j])
            if names and self.day < day < len(self.compiled.rebuild.cumulative_minutes):
                found.append((day, listed(names)))
        if not found:
            return ""
        day, names_words = min(found)
        return f"{names_words}, usually by {day_after(self.drawn.known.as_of.isoformat(), day)}"

    def _before(self, j: int, listed: Collection[int]) -> tuple[int, ...]:
        """What comes before it; through what is not listed, to what comes before that."""
        found: dict[int, None] = {}
        left = list(self.problem.works[j].after)
        while left:
            i = left.pop()
            if i in listed:
                found[i] = None
            elif self.problem.present[0, i]:
                left.extend(self.problem.works[i].after)
        return tuple(sorted(found))

    def _waits(self, j: int, index: int, plan: SlotPlan) -> str:
        """What it cannot begin before, in words; empty: nothing."""
        held = [held for held in self.problem.held if held.work == j]
        if self.day > 0 and not held and self.problem.release_day[0, j] <= self.day:
            return ""
        missing = missing_words(self.drawn, self.planned.policy, index)
        if missing:
            return listed(missing)
        if plan.look is not None and self.case.does_harm(self.trade.checks[plan.look.check]):
            return "a look that does no harm: it may have been wet, burnt or long stored"
        if self.problem.release_day[0, j] > self.day:
            return counted(int(self.problem.release_day[0, j]) - self.day, "day")
        return ""

    def _test_waits(self, t: int, index: int, need: GateNeed) -> str:
        if need.id == LAST_GATE:
            known = self.drawn.known
            ready = fit(known.machine, self.trade, damage=self.drawn.chance, as_of=known.as_of)
            if not ready.all_proved:
                left = sum(entry.state != "proved" for entry in ready.items)
                return f"{counted(left, 'heading')} of the fit-to-ride list to be proved"
        if need.wants_runners:
            check = look_before_start(self.case)
            if check is not None:
                return f"a look without which nobody starts it ({check.name})"
        if self.day > 0 and self.problem.test_release_day[0, t] <= self.day:
            return ""
        return listed(missing_words(self.drawn, self.planned.policy, index))

    def _arrived(self, index: int, plan: SlotPlan) -> PartLine | None:
        """The part line that is here and is tried on by this slot."""
        if plan.need is None or plan.need.step != TRY_ON:
            return None
        rows = (self.lines.get(line) for line in self.compiled.rebuild.slots[index].lines)
        return next((row for row in rows if row is not None and row.state == "here"), None)

    def _opening(self, covers: Collection[int]) -> tuple[str, ...]:
        wanted = {above for x in covers for above in self.above[x]}
        return tuple(cover.key for x, cover in enumerate(self.problem.covers) if x in wanted)

    def _shut(self, j: int, stage: int) -> tuple[str, ...]:
        wanted = self.shut[j][stage]
        return tuple(cover.key for x, cover in enumerate(self.problem.covers) if x in wanted)

    def _closing(self, covers: Collection[int]) -> tuple[str, ...]:
        """These and everything that lies beneath them."""
        wanted = set(covers)
        return tuple(cover.key for x, cover in enumerate(self.problem.covers) if wanted.intersection(self.above[x]))

    def _log_sd(self, index: int) -> float:
        minutes = self.drawn.worlds.minutes[:, index]
        worked = minutes[minutes > 0]
        return float(np.log(worked).std()) if worked.size else 0.0

    def _cautions(self, *first: str, about: Collection[str]) -> tuple[str, ...]:
        """As the next step says them, but for the one about late and alone, which depends on the evening."""
        found = self.case.cautions(*first, about=tuple(about))
        return tuple(text for text in found if text != self.late_words)

    def _caution(self, plan: SlotPlan, covers: Collection[str]) -> str:
        opened = [cover for cover in covers if cover not in self.off]
        if plan.look is not None:
            check = self.trade.checks[plan.look.check]
            return next(iter(self._cautions(check.caution, about=(check.id, *opened))), "")
        component = plan.need.component if plan.need is not None else ""
        found = self._cautions(about=(component, *opened) if component else opened)
        if plan.need is not None and plan.need.step == "try_on":
            loosened = {row.text for row in self.trade.cautions.values() if row.id in WHEN_LOOSENED}
            found = tuple(text for text in found if text not in loosened)
        return next(iter(found), "")

    def _is_rough(self, look: Look | None) -> bool:
        return look is not None and bool(look.rough_for) and look.rough_for == self.next_question

    def _shows(self, look: Look | None) -> str:
        """The likeliest fault of those that it would show."""
        if look is None:
            return ""
        chance, absent = self.drawn.chance, self.drawn.known.absent
        seen = {
            one.component: one.sensitivity * chance.get(one.component, 0.0)
            for one in self.trade.checks[look.check].detects if one.component not in absent
        }
        name = max(seen, key=lambda one: (seen[one], one), default="")
        row = self.trade.components.get(name)
        if row is None or seen[name] <= 0.0:
            return ""
        shown = small(name_shown(row, self.drawn.known))
        return f"a fault of the {shown} (chance: {in_ten(min(chance[name], 1.0))}, trade judgement)"

    def _late(self, need: Need | None) -> str:
        row = self.trade.components.get(need.component) if need is not None else None
        if need is None or row is None or need.kind_of_work == "check":
            return ""
        return self.late_words if row.fit_to_ride in LATE_HEADINGS else ""

    def _alone(self, covers: Collection[str]) -> str:
        opened = any(cover in self.alone_at and cover not in self.off for cover in covers)
        return self.late_words if opened else ""

    def _film(self, need: Need | None) -> str:
        if need is None:
            return ""
        if need.job is not None and need.job.film:
            return need.job.film
        if not need.step or not need.component:
            return ""
        steps = steps_of(self.trade, need.component, way_of(need.remedy))
        return next((step.film for step in steps if step.step == need.step), "")


def _begun(need: Need) -> bool:
    job = need.job
    return job is not None and (job.state == "open" or job.started_at is not None or bool(job.done_minutes))
