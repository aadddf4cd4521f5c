"""The state of a block of futures in play, and the small steps that change it.

Two ways of counting: a **row** is a place among the futures still played here (futures that have ended are struck out
now and then, so rows move up); a **future** is the place in the block, which stays. `State.future` leads from one to
the other. Releases are kept as days: every release is the start of one.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from wreckwright.futures.hours import NEVER_CLOCK, Calendar, Days, Hours
from wreckwright.futures.layout import Counts, Index, Layout, LineGroup
from wreckwright.futures.policy import Policy
from wreckwright.futures.purchases import purchases
from wreckwright.futures.rebuild import (
    FINISHED,
    GATE_NO,
    NEVER_CAME,
    BoolArray,
    LongArray,
    Played,
    Rebuild,
    Worlds,
)

CRIES, FORETELLS, QUESTION, CURES, WAITS, STOPS = 1, 2, 4, 8, 16, 32
"""Marks: what is to be looked at when a piece of work has ended (or, WAITS, when none can begin)."""


class State:
    """A block of futures, from the as-of date on. Arrays of rows: [R]; of futures: [F]; sizes as in `Layout`."""

    def __init__(
        self, layout: Layout, calendar: Calendar, rebuild: Rebuild, worlds: Worlds, policy: Policy, out: Played
    ) -> None:
        n = worlds.n
        self.layout, self.rebuild, self.policy, self.worlds, self.out = layout, rebuild, policy, worlds, out
        self.hours = Hours(calendar=calendar, attendance_permille=worlds.attendance_permille.astype(np.int64))
        # --- by row ---
        self.future: Index = np.arange(n)
        self.held_up: Counts = np.empty((n, layout.width), layout.at_start.dtype)
        self.held_up[:] = layout.at_start
        self.release: Days = np.zeros((n, layout.width), np.int16)
        self.attendance = self.hours.attendance_permille.astype(np.float64)
        self.clock: LongArray = np.zeros(n, np.int64)
        self.idle: LongArray = np.zeros(n, np.int64)
        self.stage: Index = np.zeros(n, np.intp)
        self.paid: LongArray = np.zeros(n, np.int64)
        self.end_of_calendar = self.hours.end_of_calendar
        self.stop_clock: LongArray = np.full(n, NEVER_CLOCK, np.int64)
        self.stop_day: LongArray = np.zeros(n, np.int64)
        self.stop_status = np.zeros(n, np.int8)
        self.stop_reason: LongArray = np.full(n, -1, np.int64)
        self.limit: LongArray = self.end_of_calendar.copy()
        """A piece of work that ends later than this runs into the stop moment or off the calendar."""
        self.ended_column: Index = np.zeros(n, np.intp)
        self.marks: npt.NDArray[np.uint8] = np.zeros(n, np.uint8)
        self.still: BoolArray = np.zeros(n, bool)
        """Takes no part in the common step: to be looked at, or over."""
        self.over: BoolArray = np.zeros(n, bool)
        # --- by future ---
        self.gate_yes: BoolArray = worlds.gate_ok.copy()
        self.n_begun: Index = np.zeros((n, rebuild.n_stages), np.intp)
        self.begun: BoolArray = np.zeros((n, len(layout.fallback_column)), bool)
        self.fallbacks_active: Index = np.zeros(n, np.intp)
        self.began_early: BoolArray = np.zeros(n, bool)
        self.assigned: npt.NDArray[np.int8] = np.full((n, len(layout.follow_column)), -1, np.int8)
        """[F, H] stage to which the follow-up has been assigned; -1: not called."""
        bought = purchases(rebuild, worlds, policy)
        self.hopeless: BoolArray = bought.never & layout.line_essential
        self.may_miss = bool(self.hopeless.any())
        self.known_days = bought.days
        self.ready_days: Days = self._days(np.where(self.hopeless, calendar.days, bought.days))
        self.line_minor = bought.paid_minor
        resale = (bought.paid_minor + layout.line_sunk_minor) * layout.line_resale_permille // 1000
        self.resale_minor: LongArray = resale
        self._work(bought.never)
        self._outside_gates()
        self.gate_orders = [self._order_of(group) for group in layout.on_gate]
        self._first_orders()

    def _days(self, days: npt.NDArray[np.integer]) -> Days:
        """In 16 bits; all that lies behind the calendar is never."""
        kept: Days = np.minimum(days, self.hours.calendar.days).astype(np.int16)
        return kept

    def _work(self, never: BoolArray) -> None:
        """What each piece of work takes, costs and may bring about; work that is left undone does none of it."""
        layout, worlds, n = self.layout, self.worlds, self.worlds.n
        n_columns, slot_columns = layout.n_columns, layout.columns[: layout.n_slots]
        undone = np.zeros((n, n_columns + 2), bool)
        for index in np.flatnonzero(~layout.line_essential).tolist():
            undone[:, layout.line_column[index]] |= True if index in layout.never_ordered else never[:, index]
        self.left_undone = undone
        self.line_left: BoolArray = undone[:, layout.line_column]
        self.minutes = np.zeros((n, n_columns + 2), np.int32)
        np.take(worlds.minutes, layout.work_of, axis=1, out=self.minutes[:, :n_columns], mode="clip")
        self.slot_minor = np.zeros((n, n_columns + 2), np.int64)
        self.slot_minor[:, slot_columns] = worlds.slot_minor
        self.cries = worlds.cries & ~undone[:, layout.entry_column]
        self.marks_of = np.empty((n, n_columns + 2), np.uint8)
        self.marks_of[:] = np.where(layout.cure_days > 0, CURES, 0)
        if undone.any():
            self.minutes[undone] = 0
            self.slot_minor[undone] = 0
            self.marks_of[undone] = 0
        question = (layout.gate_of_column >= 0) | (layout.fallback_of_column >= 0)
        self.marks_of[:, question] |= QUESTION
        self.marks_of[:, layout.wait_column] = WAITS
        for e, column in enumerate(layout.entry_column.tolist()):
            self.marks_of[:, column] |= np.where(self.cries[:, e], CRIES, 0).astype(np.uint8)
        for j, slot in enumerate(self.rebuild.slots):
            if slot.rough_gate >= 0:
                column = slot_columns[j]
                foretells = worlds.foretells[:, j] & ~undone[:, column]
                self.marks_of[:, column] |= np.where(foretells, FORETELLS, 0).astype(np.uint8)
        self.pays = bool(self.slot_minor.any())

    def _outside_gates(self) -> None:
        """Answers of the outside gates, known beforehand: releases, stop moments, money with its day."""
        layout, worlds, rebuild, days = self.layout, self.worlds, self.rebuild, self.hours.calendar.days
        n, n_outside = worlds.n, len(rebuild.outside_gates)
        self.outside_yes: LongArray = np.full((n, n_outside), -1, np.int64)
        self.dated_day: list[LongArray] = []
        self.dated_minor: list[LongArray] = []
        for o, gate in enumerate(rebuild.outside_gates):
            day = worlds.outside_days[:, o].astype(np.int64)
            yes = worlds.outside_ok[:, o] & (day >= 0)
            day = np.where(day < 0, days, day)
            for r in range(gate.n_fallbacks):
                self.dated_day.append(np.where(yes, -1, day))
                self.dated_minor.append(worlds.outside_fallback_minor[:, o, r])
                day = np.where(yes, day, day + worlds.outside_fallback_days[:, o, r])
                yes = yes | worlds.outside_fallback_ok[:, o, r]
            self.outside_yes[:, o] = np.where(yes, day, -1)
            no = np.flatnonzero(~yes)
            self.set_stop(no, self.hours.start(no, day[no]), day[no], GATE_NO, rebuild.n_stages + o)
        answered = np.where(self.outside_yes < 0, days, self.outside_yes)
        self.outside_start = self.hours.start(self.future, answered)
        for position in range(layout.outside.shape[1]):
            for column in np.flatnonzero(layout.outside[:, position] >= 0).tolist():
                self._put_off(column, answered[:, layout.outside[column, position]])

    def _order_of(self, group: LineGroup) -> tuple[LongArray, Days]:
        """What the lines of the group cost together ([F]), and after how many days each slot has its lines ([F, p])."""
        ready = np.zeros((self.worlds.n, len(group.columns)), np.int16)
        for index, place in zip(group.lines.tolist(), group.place.tolist(), strict=True):
            np.maximum(ready[:, place], self.ready_days[:, index], out=ready[:, place])
        return self.line_minor[:, group.lines].sum(axis=1), ready

    def _first_orders(self) -> None:
        """Lines ordered at the start, and those whose outside gate, and so whose day, is known."""
        layout, rows, order_day = self.layout, self.future, self.out.order_day
        order_day[:] = -1
        order_day[:, layout.at_once.lines] = 0
        minor, ready = self._order_of(layout.at_once)
        self.paid += minor
        for place, column in enumerate(layout.at_once.columns.tolist()):
            self._put_off(column, ready[:, place])
        for index, o in layout.on_outside:
            column, day = layout.line_column[index], self.outside_yes[:, o]
            order_day[:, index] = day
            self._put_off(column, np.where(day < 0, self.hours.calendar.days, day + self.ready_days[:, index]))
            self.held_up[:, column] -= 1
            self.dated_day.append(day)
            self.dated_minor.append(self.line_minor[:, index])
        if self.may_miss:
            lines = sorted([*layout.at_once.lines.tolist(), *(index for index, _ in layout.on_outside)])
            self.miss(rows, np.array(lines, np.intp))

    def _put_off(self, column: int, day: npt.NDArray[np.integer]) -> None:
        np.maximum(self.release[:, column], self._days(day), out=self.release[:, column])

    # --- steps, for some rows at a time ---

    def set_stop(self, rows: Index, clock: LongArray, day: LongArray, status: int, reason: int | Index) -> None:
        """Set the stop moment of `rows` where it is earlier than the one already set."""
        sooner = clock < self.stop_clock[rows]
        chosen = rows[sooner]
        self.stop_clock[chosen] = clock[sooner]
        self.stop_day[chosen] = day[sooner]
        self.stop_status[chosen] = status
        self.stop_reason[chosen] = reason if isinstance(reason, int) else reason[sooner]
        self.limit[chosen] = np.minimum(self.end_of_calendar[chosen], clock[sooner] - 1)

    def hold(self, rows: Index, columns: Index, day: npt.NDArray[np.integer]) -> None:
        """The slots in `columns` are not released before `day`. Arrays of one shape, or that broadcast to one;
        no (row, column) may come twice."""
        self.release[rows, columns] = np.maximum(self.release[rows, columns], self._days(day))

    def order_on_gate(self, rows: Index, k: int, day: LongArray) -> None:
        """Order what waits for bench gate `k`. That the lines no longer hold their slots up is part of `next_stage`."""
        group, future = self.layout.on_gate[k], self.future[rows]
        if not len(group.lines):
            return
        minor, ready = self.gate_orders[k]
        self.out.order_day[future[:, None], group.lines] = day[:, None]
        self.paid[rows] += minor[future]
        self.hold(rows[:, None], group.columns, day[:, None] + ready.take(future, axis=0))
        if self.may_miss:
            self.miss(rows, group.lines)

    def order_one(self, rows: Index, line: Index, day: LongArray) -> None:
        """Order one line in each row."""
        future, column = self.future[rows], self.layout.line_column[line]
        self.out.order_day[future, line] = day
        self.paid[rows] += self.line_minor[future, line]
        self.held_up[rows, column] -= 1
        self.hold(rows, column, day + self.ready_days[future, line])
        if self.may_miss:
            self.miss(rows, line[:, None])

    def miss(self, rows: Index, lines: Index) -> None:
        """Set the stop moment where one of the ordered `lines` ([m], or [n, m] by row) never comes and is wanted."""
        layout, future = self.layout, self.future[rows][:, None]
        hopeless = self.hopeless[future, lines]
        some = np.flatnonzero(hopeless.any(axis=1))
        if not len(some):
            return
        rows, future, hopeless = rows[some], future[some], hopeless[some]
        lines = np.broadcast_to(lines, (len(hopeless), hopeless.shape[1])) if lines.ndim == 1 else lines[some]
        component, order_day = layout.line_component[lines], self.out.order_day[future, lines]
        called, fallback = np.zeros(lines.shape, bool), layout.line_fallback[lines]
        if self.assigned.size:
            called |= (component >= 0) & (self.assigned[future, component] >= 0)
        if self.begun.size:
            called |= (fallback >= 0) & self.begun[future, fallback]
        missed = hopeless & (layout.line_wanted[lines] | called) & (order_day >= 0)
        known = order_day + self.known_days[future, lines]
        clock = np.maximum(self.hours.start(self.future[rows], known), self.clock[rows, None])
        clock[~missed] = NEVER_CLOCK
        first, at = np.argmin(clock, axis=1), np.arange(len(rows))
        self.set_stop(rows, clock[at, first], known[at, first], NEVER_CAME, lines[at, first])

    def miss_earlier(self, rows: Index, lines: Index) -> None:
        """The same for lines ([n, m] by row, -1: none) of slots that only now are wanted."""
        some = (lines >= 0).any(axis=1)
        if self.may_miss and some.any():
            # Filled up with the first line: a line that is looked at twice changes nothing.
            self.miss(rows[some], np.where(lines < 0, lines[:, :1], lines)[some])

    def begin(self, rows: Index, slots: Index) -> None:
        """The slots ([n]) become active."""
        self.held_up[rows] += self.layout.activate.take(slots, axis=0)

    def begin_fallback(self, rows: Index, gates: Index, day: LongArray) -> None:
        """The next way round of `gates` ([n]) is begun; each has one left."""
        layout, future = self.layout, self.future[rows]
        fallback = layout.fallbacks[gates, self.n_begun[future, gates]]
        self.n_begun[future, gates] += 1
        self.begun[future, fallback] = True
        self.fallbacks_active[future] += 1
        self.out.fell_back[future, gates] = True
        self.paid[rows] += self.worlds.fallback_minor[future, fallback]
        column = layout.fallback_column[fallback]
        self.begin(rows, layout.work_of[column])
        self.hold(rows, column, day + self.worlds.fallback_days[future, fallback])
        self.miss_earlier(rows, layout.fallback_ordered[fallback])

    def end(
        self, rows: Index, status: int | npt.NDArray[np.int8], reason: int | LongArray, day: int | LongArray
    ) -> None:
        """These futures are over; their rows stay as they are from now on."""
        future, out = self.future[rows], self.out
        out.status[future] = status
        out.reason[future] = reason
        out.day[future] = day
        out.clock[future] = self.clock[rows]
        out.hands_on_minutes[future] = self.clock[rows] - self.idle[rows]
        self.over[rows] = True
        self.still[rows] = True
        self.limit[rows] = NEVER_CLOCK

    def day(self, rows: Index) -> LongArray:
        """Today."""
        return self.hours.day(self.future[rows], self.clock[rows])

    # --- money at a moment; `held_up` ([n, W]) are the rows of the same name ---

    def out_minor(self, rows: Index, day: LongArray) -> LongArray:
        """All money out by `day`."""
        future = self.future[rows]
        total = self.paid[rows]
        for when, minor in zip(self.dated_day, self.dated_minor, strict=True):
            total += np.where((when[future] >= 0) & (when[future] <= day), minor[future], 0)
        return total

    def ordered(self, rows: Index, day: LongArray) -> BoolArray:
        """[n, L] ordered by `day`."""
        order_day = self.out.order_day.take(self.future[rows], axis=0)
        return (order_day >= 0) & (order_day <= day.astype(np.int32)[:, None])

    def resale(self, rows: Index, held_up: Counts, ordered: BoolArray) -> LongArray:
        """What the `ordered` lines ([n, L]) fetch that are not fitted."""
        layout, future = self.layout, self.future[rows]
        unfitted = held_up.take(layout.line_column, axis=1) < layout.done_weight
        unfitted |= self.line_left.take(future, axis=0)
        unfitted &= ordered
        resale: LongArray = (self.resale_minor.take(future, axis=0) * unfitted).sum(axis=1)
        return resale

    # --- rows that are over ---

    def strike_out(self) -> None:
        """Write down what is left to write of the futures that are over, and take their rows out."""
        layout, out = self.layout, self.out
        rows = np.flatnonzero(self.over)
        future, held_up = self.future[rows], self.held_up[rows]
        day = out.day[future].astype(np.int64)
        slot_columns = layout.columns[: layout.n_slots]
        done = held_up.take(slot_columns, axis=1) >= layout.done_weight
        out.done[future] = done
        out.left_undone[future] |= done & self.left_undone.take(future, axis=0).take(slot_columns, axis=1)
        out.known_bad[future] = self.assigned[future] >= 0
        out.out_minor[future] = self.out_minor(rows, day)
        resale = self.resale(rows, held_up, self.ordered(rows, day))
        out.resale_minor[future] = np.where(out.status[future] == FINISHED, 0, resale)
        order_day = out.order_day[future]
        out.order_day[future] = np.where(order_day <= day[:, None], order_day, -1)
        keep = np.flatnonzero(~self.over)
        for name in _BY_ROW:
            setattr(self, name, getattr(self, name).take(keep, axis=0))


_BY_ROW = (
    "future held_up release attendance clock idle stage paid end_of_calendar stop_clock stop_day stop_status "
    "stop_reason limit ended_column marks still over"
).split()
