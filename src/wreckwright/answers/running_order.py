"""All work on the calendar: the plan in its usual course, and how the futures spread about it."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping

import numpy as np
import numpy.typing as npt

from wreckwright.answers.after_ride import after_ride
from wreckwright.answers.batches import batches
from wreckwright.answers.errands import errands
from wreckwright.answers.foresight import finish_days
from wreckwright.answers.parcels import parcels
from wreckwright.answers.parking import LONG_DAYS, long_wait
from wreckwright.answers.part_lines import missing_words
from wreckwright.answers.plan_types import LongWait, OrderEntry, Parcel, RunningOrder, Stretch
from wreckwright.answers.plan_words import counted, listed, small, work_words
from wreckwright.answers.spread import quantile_se
from wreckwright.answers.types import DayQuantile
from wreckwright.answers.words import date_after, in_ten_futures, rests_on
from wreckwright.futures.binding import Binding
from wreckwright.futures.draw import Drawn
from wreckwright.futures.hours import Calendar, Hours
from wreckwright.futures.rebuild import FINISHED
from wreckwright.futures.scene import Futures
from wreckwright.plan.check import check
from wreckwright.plan.hands import booked_of
from wreckwright.plan.links import lines_upward
from wreckwright.plan.make import Planned
from wreckwright.plan.types import Course, Problem, Step
from wreckwright.trade.types import Trade

P80 = 0.8


def running_order(
    futures: Futures, planned: Planned, drawn: Drawn, trade: Trade, binding: Binding
) -> RunningOrder:
    """The plan on the calendar.

    `futures` must have been played under `planned.policy`; with `simulate(..., ends=True)` every entry says by when it
    is done 8 times in 10. `binding`: `futures.binding.binding_shares` of the same.
    """
    problem, course = planned.problem_usual, planned.course
    desk = _Desk(futures, planned, drawn, trade)
    finish = finish_days(futures)
    stretches = desk.stretches()
    opened = sum(_minutes(step) for step in course.steps if step.kind in ("off", "on"))
    one_by_one = one_by_one_minutes(problem)
    open_keys = frozenset(work.key for j, work in enumerate(problem.works) if problem.present[0, j])
    broken = tuple(reason.words for reason in check(problem, course))
    of_lines = parcels(futures, drawn, binding, order=tuple(step.key for step in course.steps))
    return RunningOrder(
        nickname=futures.nickname, as_of=futures.as_of, rests_on=rests_on(futures), stretches=stretches,
        parcels=of_lines, finish=finish.p50 if finish is not None else None,
        finish_p80=finish.p80 if finish is not None else None,
        first_gate=stretches[0].when if stretches else None, cover_hours=opened / 60.0,
        cover_hours_one_by_one=one_by_one / 60.0, broken=broken,
        long_wait=_long_wait(drawn, trade, problem, course), batches=batches(drawn.known, trade, open_keys=open_keys),
        errands=errands(
            futures, drawn, trade, line_share=binding.line_share.tolist(), gate_share=binding.outside_share.tolist(),
            open_keys=open_keys,
        ),
        after_ride=after_ride(drawn.known, trade), order=planned.plan.order, stages=dict(planned.plan.stages),
        booked=booked_minutes(
            course, futures.as_of, attendance_permille=int(problem.hours.attendance_permille[0])
        ), notes=_notes(drawn, problem, course, broken),
        why=_why(futures, stretches, of_lines, binding, opened, one_by_one),
    )


def booked_minutes(course: Course, as_of: str, *, attendance_permille: int) -> tuple[tuple[str, int, int], ...]:
    """(date, from minute, to minute) of the planned evenings that are taken, in time order.

    A course is written in minutes really worked; at an attendance below 1 they take more planned ones.

    >>> from wreckwright.plan.types import Piece
    >>> pieces = (Piece(day=0, from_minute=0, to_minute=30), Piece(day=0, from_minute=30, to_minute=50))
    >>> course = Course(steps=(Step(key="a", kind="job", stage=0, pieces=pieces, day=0),), finish_day=0)
    >>> booked_minutes(course, "2025-03-01", attendance_permille=500)
    (('2025-03-01', 0, 100),)
    """
    begin = dt.date.fromisoformat(as_of)
    first: dict[dt.date, int] = {}
    for piece in (piece for step in course.steps for piece in step.pieces):
        day = begin + dt.timedelta(days=piece.day)
        first[day] = min(piece.from_minute, first.get(day, piece.from_minute))
    taken = booked_of([course], begin, attendance_permille=(attendance_permille,))
    return tuple((day.isoformat(), first[day], until) for day, until in taken.items())


def one_by_one_minutes(problem: Problem) -> float:
    """Minutes for covers in the first scenario if every piece of work and every test opened and closed for itself."""
    above = lines_upward(problem)
    both = problem.off_minutes[0] + problem.on_minutes[0]
    openings = [work.covers for j, work in enumerate(problem.works) if problem.present[0, j] and problem.minutes[0, j]]
    openings += [test.covers_off for test in problem.tests]
    return float(sum(both[x] for covers in openings for x in {y for cover in covers for y in above[cover]}))


def _minutes(step: Step) -> int:
    return sum(piece.to_minute - piece.from_minute for piece in step.pieces)


class _Desk:
    """What every entry is read from."""

    def __init__(self, futures: Futures, planned: Planned, drawn: Drawn, trade: Trade) -> None:
        self.futures, self.planned, self.drawn, self.trade = futures, planned, drawn, trade
        problem = planned.problem_usual
        self.problem = problem
        self.slot = {plan.key: index for index, plan in enumerate(drawn.compiled.slots)}
        self.name = {work.key: work.name for work in problem.works} | {test.key: test.name for test in problem.tests}
        self.place = {work.key: j for j, work in enumerate(problem.works)}
        self.above = lines_upward(problem)
        self.by_p80 = self._by_p80()

    def _by_p80(self) -> Mapping[str, str]:
        """Key of each piece of work and test -> date by which it is done 8 times in 10, given that it is done."""
        played = self.futures.played
        if played.end_clock is None:
            return {}
        hours = Hours(
            calendar=Calendar(cumulative_minutes=self.futures.rebuild.cumulative_minutes),
            attendance_permille=self.futures.worlds.attendance_permille.astype(np.int64),
        )
        found = {}
        for key, index in self.slot.items():
            rows = np.flatnonzero(played.end_clock[:, index] >= 0)
            if rows.size:
                days = hours.day(rows, played.end_clock[rows, index])
                found[key] = date_after(self.futures.as_of, int(quantile_se(days, P80)[0]))
        return found

    def stretches(self) -> tuple[Stretch, ...]:
        steps = self.planned.course.steps
        found = []
        for t, test in enumerate(self.problem.tests):
            own = [step for step in steps if step.stage == t]
            gate = next((step for step in own if step.key == test.key), None)
            half, most = gate_days(self.futures, t)
            found.append(Stretch(
                gate=test.key, question=test.name, when=half, when_p80=most,
                usual_date=date_after(self.futures.as_of, gate.day) if gate is not None else "",
                entries=tuple(map(self.entry, own)),
            ))
        return tuple(found)

    def entry(self, step: Step) -> OrderEntry:
        as_of = self.futures.as_of
        first = step.pieces[0].day if step.pieces else step.day
        covers: tuple[int, ...] = ()
        if step.kind in ("off", "on"):
            cover = self.trade.covers[step.key.split(":", 1)[1]]
            name = cover.name_on if step.kind == "on" and cover.name_on else cover.name
            waits = ""
        else:
            name = self.name[step.key]
            waits = self._waits(step, first)
            covers = self._opening(step.key)
        return OrderEntry(
            key=step.key, name=name, kind=step.kind, minutes=float(_minutes(step)), from_date=date_after(as_of, first),
            to_date=date_after(as_of, step.day), by_p80=self.by_p80.get(step.key, ""), waits_for=waits,
            covers=tuple(self.problem.covers[x].name for x in covers),
        )

    def _opening(self, key: str) -> tuple[int, ...]:
        j = self.place.get(key)
        test = next((test for test in self.problem.tests if test.key == key), None)
        covers = self.problem.works[j].covers if j is not None else test.covers_off if test is not None else ()
        wanted = {y for x in covers for y in self.above[x]}
        return tuple(x for x in range(len(self.problem.covers)) if x in wanted)

    def _waits(self, step: Step, first: int) -> str:
        """What it cannot begin before: of a part, an answer, curing and a helper, whatever is not there at once."""
        found = list(missing_words(self.drawn, self.planned.policy, self.slot[step.key]))
        j = self.place.get(step.key)
        if j is not None:
            work = self.problem.works[j]
            curing = [self.problem.works[i] for i in work.after
                      if self.problem.works[i].cure_days > 0 and self.problem.present[0, i]]
            found += [f"{counted(one.cure_days, 'day')} after '{one.name}'" for one in curing]
            if work.helper and self.problem.helper_day is not None and first > 0:
                found.append("a day with a helper")
        return listed(tuple(found))


def gate_days(futures: Futures, stage: int) -> tuple[DayQuantile | None, DayQuantile | None]:
    """Days by which the question that ends `stage` is passed half of the time and 8 times in 10, given that it is
    passed; None: no future passes it."""
    days = futures.played.gate_day[:, stage]
    passed = days[days >= 0]
    if not passed.size:
        return None, None
    return _quantile(passed, 0.5, futures.as_of), _quantile(passed, P80, futures.as_of)


def _quantile(days: npt.NDArray[np.int32], p: float, as_of: str) -> DayQuantile:
    value, se = quantile_se(days.astype(np.float64), p)
    date = date_after(as_of, int(value))
    return DayQuantile(days=int(value), date=date, days_se=se if math.isfinite(se) else None, words=date)


def _long_wait(drawn: Drawn, trade: Trade, problem: Problem, course: Course) -> LongWait | None:
    """The first time in the usual course at which it stands so long that something is to be done before."""
    off = {cover.key for cover in problem.covers if cover.off_at_start}
    last = 0
    for step in course.steps:
        first = step.pieces[0].day if step.pieces else step.day
        if first - last >= LONG_DAYS:
            until = date_after(drawn.known.as_of.isoformat(), first)
            found = long_wait(drawn.known, trade, days=first - last, until=until, covers_off=off)
            if found is not None:
                return found
        if step.kind == "off":
            off.add(step.key.split(":", 1)[1])
        elif step.kind == "on":
            off.discard(step.key.split(":", 1)[1])
        last = max(last, step.day)
    return None


def _notes(drawn: Drawn, problem: Problem, course: Course, broken: tuple[str, ...]) -> tuple[str, ...]:
    notes = ["It is laid out for a usual course: everything takes its usual time, and every question ends in yes."]
    notes += [
        f"'{need.question}' was answered no: the usual course does not count its ways round, the days by which it is "
        "passed half of the time and 8 times in 10 do."
        for need in drawn.compiled.bench if need.answered_no
    ]
    if not drawn.known.machine.purchase.bought:
        notes.insert(0, "It is not bought: this is how it would go if it were bought today.")
    if course.finish_day is None:
        notes.append("It does not end within the calendar; what comes after it is not shown.")
        alone = _nobody_to_help(drawn, problem, course)
        if alone:
            notes.append(f"'{alone}' takes two, and nobody helps on any later day: say when somebody does.")
    if broken:
        notes.append(f"This plan cannot be kept as it stands: {broken[0]}")
    return tuple(notes)


def _nobody_to_help(drawn: Drawn, problem: Problem, course: Course) -> str:
    """What is left out of the course because no helper day comes after it ends; empty: nothing."""
    helper_day = drawn.compiled.rebuild.helper_day
    last = max((step.day for step in course.steps), default=0)
    if helper_day is None or helper_day[last + 1 :].any():
        return ""
    kept = {step.key for step in course.steps}
    needs = [(test.key, test.name) for test in problem.tests if test.helper]
    needs += [(w.key, w.name) for j, w in enumerate(problem.works) if w.helper and problem.present[0, j]]
    needs += [(f"off:{cover.key}", cover.name) for cover in problem.covers if cover.helper and not cover.off_at_start]
    return next((name for key, name in needs if key not in kept), "")


def _why(
    futures: Futures, stretches: tuple[Stretch, ...], of_lines: tuple[Parcel, ...], binding: Binding, opened: float,
    one_by_one: float,
) -> str:
    """What drives it: the first question, what the end waits for, what opening once saves."""
    parts = []
    if stretches and stretches[0].when is not None:
        parts.append(f"In half of the futures '{stretches[0].question}' is answered by {stretches[0].when.words}.")
    bound = max(of_lines, key=lambda parcel: parcel.share, default=None)
    waits = [(binding.work_share, "nothing but the work"), (binding.cure_share, "something that cures"),
             (binding.helper_share, "a day with a helper"), (binding.way_round_share, "a way round")]
    if bound is not None:
        name = f"the {small(bound.name)}" if bound.kind == "part" else f"the answer to '{bound.name}'"
        waits.append((bound.share, name))
    share, what = max(waits)
    if share > 0.0 and bool((futures.played.status == FINISHED).any()):
        parts.append(f"The end waits for {what} in {in_ten_futures(min(share, 1.0))}.")
    if one_by_one >= 1.0:
        parts.append(
            f"Covers take {work_words(opened)}; {work_words(one_by_one)} if every job opened and closed for itself."
        )
    return " ".join(parts) or "Nothing is left to be done."
