"""A plan laid out on the calendar, evening by evening, with one scenario's figures.

The first in the plan's order that can be begun is begun. Besides the rules of docs/simulator.md it keeps two that the
simulator does not know: work that must not be left half done is begun only in an evening in which it can be ended, as
far as any evening is long enough; and evenings begin where other machines have ended.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from wreckwright.errors import AnswerError
from wreckwright.plan.closed_form import stage_row
from wreckwright.plan.links import lines_upward, openings, shut_for
from wreckwright.plan.types import NEVER_DAY, Course, Piece, Plan, Problem, Step, StepKind


def course_of(problem: Problem, plan: Plan) -> Course:
    """The course of `plan` in the one scenario of `problem`; tests end in yes at once.

    What the order does not name goes last. Where something cannot be done within the calendar, the course ends there
    and `finish_day` is None. Every course passes `plan.check.check`.
    Raises: AnswerError if the problem has not exactly one scenario, or a work has no stretch of its range.
    """
    if problem.n_scenarios != 1:
        raise AnswerError(
            f"A course was asked for in {problem.n_scenarios} scenarios", "Allowed: one",
            "Choose one, or take the usual figures",
        )
    bench = _Bench(problem, plan)
    while bench.stage < len(problem.tests) and bench.step():
        pass
    finished = bench.stage == len(problem.tests)
    return Course(steps=tuple(bench.steps), finish_day=bench.day if finished else None)


@dataclass(kw_only=True)
class _Piece:
    """A work, a movement of a cover or a test, as something to be begun."""

    key: str
    kind: StepKind
    index: int
    minutes: int
    helper: bool
    may_split: bool = True
    from_day: int = 0
    """Not begun before."""


@dataclass
class _Bench:
    problem: Problem
    plan: Plan
    stage: int = 0
    clock: int = 0
    day: int = 0
    """On which the last step ended."""
    steps: list[Step] = field(default_factory=list)

    def __post_init__(self) -> None:
        problem, none = self.problem, np.zeros(1, np.intp)
        hours = problem.hours
        days = hours.calendar.days
        end = int(hours.end_of_calendar[0])
        starts = hours.start(none, np.arange(days + 1)[None])[0]
        self.starts = np.minimum(starts, end)
        self.end = end
        self.room = np.diff(self.starts)
        self.longest_from = np.maximum.accumulate(self.room[::-1])[::-1]
        self.row = stage_row(problem, self.plan.stages).tolist()
        opening, test_opening, closing = openings(problem)
        self.opening = [frozenset(np.flatnonzero(line).tolist()) for line in opening]
        self.test_opening = [frozenset(np.flatnonzero(line).tolist()) for line in test_opening]
        self.closing = [frozenset(np.flatnonzero(line).tolist()) for line in closing]
        self.beneath = [
            frozenset(y for y, cover in enumerate(problem.covers) if x in cover.under)
            for x in range(len(problem.covers))
        ]
        self.upward = lines_upward(problem)
        self.shut = shut_for(problem)
        self.off = {x for x, cover in enumerate(problem.covers) if cover.off_at_start}
        self.done: dict[int, int] = {}
        self.test_day: dict[int, int] = {}
        self.here = [int(day) for day in problem.release_day[0]]
        self.held: dict[int, list[tuple[int, int]]] = {}
        for order in problem.held:
            self.held.setdefault(order.work, []).append((order.test, int(order.days[0])))
        self.shown = self._shown()
        hidden = {f for shown in self.shown for f in shown}
        self.active = {
            j for j in range(len(problem.works)) if problem.present[0, j] and j not in hidden
        }
        self.pieces = self._in_order()

    def _shown(self) -> list[tuple[int, ...]]:
        """By work: follow-ups that it brings to light in this scenario."""
        problem, entry, found = self.problem, 0, []
        for j, work in enumerate(problem.works):
            mine = []
            for f in work.shows:
                if (
                    problem.works[f].kind == "follow_up" and problem.present[0, j] and problem.present[0, f]
                    and (problem.says is None or problem.says[0, entry]) and f != j
                ):
                    mine.append(f)
                entry += 1
            found.append(tuple(mine))
        # What only another hidden thing would show, which nothing shows itself, is taken as known.
        reached: set[int] = set()
        ahead = [j for j, work in enumerate(problem.works) if work.kind != "follow_up"]
        ahead += [j for j, work in enumerate(problem.works) if work.kind == "follow_up" and not any(
            j in shown for shown in found)]
        while ahead:
            for f in found[ahead.pop()]:
                if f not in reached:
                    reached.add(f)
                    ahead.append(f)
        return [tuple(f for f in shown if f in reached) for shown in found]

    def _in_order(self) -> list[_Piece]:
        problem = self.problem
        pieces = [
            _Piece(
                key=work.key, kind=work.kind, index=j, minutes=int(problem.minutes[0, j]), helper=work.helper,
                may_split=work.may_split,
            )
            for j, work in enumerate(problem.works) if problem.present[0, j]
        ]
        for x, cover in enumerate(problem.covers):
            off, on = int(problem.off_minutes[0, x]), int(problem.on_minutes[0, x])
            pieces.append(_Piece(key=f"off:{cover.key}", kind="off", index=x, minutes=off, helper=cover.helper))
            pieces.append(_Piece(key=f"on:{cover.key}", kind="on", index=x, minutes=on, helper=cover.helper))
        for t, test in enumerate(problem.tests):
            takes = int(problem.test_minutes[0, t])
            pieces.append(_Piece(key=test.key, kind="gate", index=t, minutes=takes, helper=test.helper))
        place = {key: n for n, key in enumerate(self.plan.order)}
        return sorted(pieces, key=lambda piece: place.get(piece.key, len(place)))

    def step(self) -> bool:
        """Do the next piece, now or after a wait; False: there is nothing left within the calendar."""
        today = self._today()
        waiting: list[tuple[int, _Piece]] = []
        demand = self._demand()
        for piece in self.pieces:
            from_day = self._from_day(piece, demand)
            if from_day is None:
                continue
            begins = self._begins(piece, max(from_day, today), today)
            if begins == today and self._fits(piece):
                self._do(piece)
                return True
            if begins == today:
                begins = self._begins(piece, today + 1, today)
            waiting.append((begins, piece))
        soonest = min((day for day, _ in waiting), default=NEVER_DAY)
        if soonest >= len(self.room) or int(self.starts[soonest]) >= self.end:
            return False
        self.clock = max(self.clock, int(self.starts[soonest]))
        return True

    def _today(self) -> int:
        """Day of a piece of work that is begun now; the last day once everything is worked."""
        day = int(np.searchsorted(self.starts, self.clock, side="right")) - 1
        return day if day < len(self.room) else self.day

    def _begins(self, piece: _Piece, day: int, today: int) -> int:
        """First day from `day` on on which `piece` could be begun at the beginning of the evening (today: now)."""
        helper, room = self.problem.helper_day, self.room
        if day >= len(room):
            return NEVER_DAY
        whole = not piece.may_split and piece.minutes <= int(self.longest_from[day])
        for d in range(day, len(room)):
            if d != today and room[d] == 0:
                continue
            if piece.helper and helper is not None and not (d < len(helper) and helper[d]):
                continue
            if whole:
                left = int(self.starts[d + 1]) - max(self.clock, int(self.starts[d]))
                if left < piece.minutes:
                    continue
            return d
        return NEVER_DAY

    def _fits(self, piece: _Piece) -> bool:
        return self.clock + piece.minutes <= self.end

    def _demand(self) -> frozenset[int]:
        """Covers that something of this stretch still wants off."""
        open_works = [self.opening[j] for j in self.active if j not in self.done and self.row[j] <= self.stage]
        return frozenset[int]().union(*open_works, self.test_opening[self.stage])

    def _from_day(self, piece: _Piece, demand: frozenset[int]) -> int | None:
        """Day from which on it could be begun, as things stand; None: something else must be done first."""
        problem, x = self.problem, piece.index
        if piece.kind == "off":
            ready = x not in self.off and x in demand and self.off.issuperset(problem.covers[x].under)
            return 0 if ready else None
        if piece.kind == "on":
            ready = x in self.off and x not in demand and x in self.closing[self.stage]
            return 0 if ready and self.off.isdisjoint(self.beneath[x]) else None
        if piece.kind == "gate":
            return self._test_from(x)
        return self._work_from(x)

    def _work_from(self, j: int) -> int | None:
        work = self.problem.works[j]
        if j in self.done or j not in self.active or self.row[j] > self.stage or not self.off >= self.opening[j]:
            return None
        if not self.off.isdisjoint(self.shut[j][self.stage]):
            return None
        day = self.here[j]
        for i in work.after:
            if i in self.active:
                if i not in self.done:
                    return None
                day = max(day, self._cured(i))
        for test, wait in self.held.get(j, ()):
            if test not in self.test_day:
                return None
            day = max(day, self.test_day[test] + wait)
        return day

    def _test_from(self, t: int) -> int | None:
        if t != self.stage or not self.off >= self.test_opening[t] or not self.off.isdisjoint(self.closing[t]):
            return None
        day = int(self.problem.test_release_day[0, t])
        for j in self.active:
            if self.row[j] <= t:
                if j not in self.done:
                    return None
                day = max(day, self._cured(j))
        return day

    def _cured(self, j: int) -> int:
        """Day on which what comes after the work may begin."""
        cure = self.problem.works[j].cure_days
        return self.done[j] + cure if cure else 0

    def _do(self, piece: _Piece) -> None:
        pieces = self._laid(piece.minutes)
        self.day = pieces[-1].day if pieces else max(self.day, self._today())
        self.steps.append(
            Step(key=piece.key, kind=piece.kind, stage=self.stage, pieces=pieces, day=self.day)
        )
        x = piece.index
        if piece.kind == "off":
            self.off.add(x)
        elif piece.kind == "on":
            self.off.discard(x)
        elif piece.kind == "gate":
            self.test_day[x] = self.day
            self.stage += 1
        else:
            self.done[x] = self.day
            for f in self.shown[x]:
                self._find(f)

    def _laid(self, minutes: int) -> tuple[Piece, ...]:
        found = []
        while minutes > 0:
            day = self._today()
            worked = min(minutes, int(self.starts[day + 1]) - self.clock)
            begin = 0 if self.problem.begin_minute is None else int(self.problem.begin_minute[day])
            first = begin + self.clock - int(self.starts[day])
            found.append(Piece(day=day, from_minute=first, to_minute=first + worked))
            self.clock += worked
            minutes -= worked
        return tuple(found)

    def _find(self, f: int) -> None:
        """A follow-up comes to light: it is put where its covers are off anyway (docs/simulator.md, Exposes)."""
        if f in self.active:
            return
        works, last_test = self.problem.works, len(self.problem.tests) - 1
        latest = works[f].last_stage if works[f].last_stage >= self.stage else last_test
        first = min(max(self.row[f], self.stage), latest)
        self.row[f] = next((s for s in range(first, latest + 1) if self._open_anyway(f, s)), first)
        self.here[f] = max(self.here[f], self.day + int(self.problem.lead_days[0, f]))
        self.active.add(f)

    def _open_anyway(self, f: int, stage: int) -> bool:
        if stage == self.stage:
            return self.opening[f] <= self._demand() | self.off
        wanted = [
            self.opening[j] for j, work in enumerate(self.problem.works)
            if work.kind != "follow_up" and self.row[j] == stage
        ]
        return self.opening[f] <= frozenset[int]().union(*wanted, self.test_opening[stage])
