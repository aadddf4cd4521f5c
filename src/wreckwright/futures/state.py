"""The state of a block of futures in play, and the small steps that change it.

Two ways of counting: a **row** is a place among the futures still played here (futures that have ended are struck out
now and then, so rows move up); a **future** is the place in the block, which stays. `State.future` leads from one to
the other. Releases are kept as days: every release is the start of one.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from wreckwright.futures.hours import NEVER_CLOCK, Calendar, Days, HelperDays, Hours
from wreckwright.futures.layout import Layout
from wreckwright.futures.layout_lines import Floats, Index, LineGroup, SlotLines
from wreckwright.futures.layout_rows import Counts
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
from wreckwright.futures.trail import Log

CRIES, FORETELLS, QUESTION, CURES, WAITS, STOPS = 1, 2, 4, 8, 16, 32
"""Marks: what is to be looked at when a piece of work has ended (or, WAITS, when none can begin)."""
MARK_BITS = 6
WANTS_HELPER, TAKES_ALONG = 1, 2
"""Signs: what is to be looked at when a piece of work is about to begin, or (TAKES_ALONG) when it has been left undone
and others stand or fall with it."""


class State:
    """A block of futures, from the as-of date on. Arrays of rows: [R]; of futures: [F]; sizes as in `Layout`."""

    def __init__(
        self,
        layout: Layout,
        calendar: Calendar,
        rebuild: Rebuild,
        worlds: Worlds,
        policy: Policy,
        out: Played,
        log: Log | None = None,
    ) -> None:
        n = worlds.n
        self.log = log
        self.layout, self.rebuild, self.policy, self.worlds, self.out = layout, rebuild, policy, worlds, out
        self.hours = Hours(calendar=calendar, attendance_permille=worlds.attendance_permille.astype(np.int64))
        # --- by row ---
        self.future: Index = np.arange(n)
        self.held_up: Counts = np.empty((n, layout.width), layout.rows.at_start.dtype)
        self.held_up[:] = layout.rows.at_start
        self.release: Days = np.zeros((n, layout.width), np.int16)
        self.attendance = self.hours.attendance_permille.astype(np.float64)
        self.clock: LongArray = np.zeros(n, np.int64)
        self.idle: LongArray = np.zeros(n, np.int64)
        self.stage: Index = np.zeros(n, np.intp)
        self.money: LongArray = np.zeros((n, 2), np.int64)
        """[R, 2] paid, and what the lines ordered and not fitted would fetch; what has its own day (`dated`) apart."""
        self.ahead: Floats = np.empty((n, 2))
        """[R, 2] expected money and minutes of known work that is not done; lines triggered by outside gates apart."""
        self.ahead[:] = layout.ahead_at_start
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
        self.assigned = np.full((n, len(layout.follow_column)), -1, np.int16)
        """[F, H] stage to which the follow-up has been assigned; -1: not called."""
        bought = purchases(rebuild, worlds, policy)
        self.hopeless: BoolArray = bought.never & layout.lines.essential
        self.known_days = bought.days
        self.ready_days: Days = self._days(np.where(self.hopeless, calendar.days, bought.days))
        resale = (bought.paid_minor + layout.lines.sunk_minor) * layout.lines.resale_permille // 1000
        self.line_money: LongArray = np.stack([bought.paid_minor, resale], axis=2)
        """[F, L, 2] paid for each line, and what it fetches unfitted."""
        self.helpers = None
        if len(layout.helper) and rebuild.helper_day is not None:
            self.helpers = HelperDays(hours=self.hours, helper_day=rebuild.helper_day)
        self._work(bought.never)
        self._outside_gates()
        self.own_release: Days | None = None
        """[R, W] releases without waiting for a helper; kept only where such work may yet be left undone."""
        self.gate_orders = [self._order_of(group) for group in layout.lines.on_gate]
        self._first_orders()
        if self.helpers is not None and not {column for column, _ in layout.part_of}.isdisjoint(layout.helper.tolist()):
            self.own_release = self.release.copy()

    def _days(self, days: npt.NDArray[np.integer]) -> Days:
        """In 16 bits; all that lies behind the calendar is never."""
        kept: Days = np.minimum(days, self.hours.calendar.days).astype(np.int16)
        return kept

    def _work(self, never: BoolArray) -> None:
        """What each piece of work takes, costs and may bring about; work that is left undone does none of it."""
        layout, worlds, n = self.layout, self.worlds, self.worlds.n
        n_columns, slot_columns = layout.n_columns, layout.columns[: layout.n_slots]
        undone = np.zeros((n, n_columns + 2), bool)
        for index in np.flatnonzero(~layout.lines.essential).tolist():
            undone[:, layout.lines.column[index]] |= layout.lines.never[index] | never[:, index]
        self.left_undone = undone
        largest = max(self.line_money.max(initial=0) * (1 + len(layout.lines.column)), worlds.slot_minor.max(initial=0))
        work: npt.NDArray[Any] = np.zeros((n, n_columns + 2, 4), np.int32 if largest < 2**31 else np.int64)
        minutes_and_marks, cost, resale = work[:, :, 0], work[:, :, 1], work[:, :, 2]
        minutes_and_marks[:, :n_columns] = worlds.minutes.take(layout.work_of, axis=1)
        minutes_and_marks <<= MARK_BITS
        minutes_and_marks[:, layout.cure_days > 0] |= CURES
        cost[:, slot_columns] = worlds.slot_minor
        own_day = {index for index, _ in layout.lines.on_outside}
        for index, column in enumerate(layout.lines.column.tolist()):
            if index not in own_day:
                resale[:, column] -= self.line_money[:, index, 1]
        work[:, layout.helper, 3] = WANTS_HELPER
        if undone.any():
            work[undone] = 0
        for _, holder in layout.part_of:
            work[:, holder, 3] |= np.where(undone[:, holder], TAKES_ALONG, 0)
        minutes_and_marks[:, (layout.gate_of_column >= 0) | (layout.fallback_of_column >= 0)] |= QUESTION
        minutes_and_marks[:, layout.wait_column] = WAITS
        self.cries = np.ascontiguousarray(worlds.cries & ~undone.take(layout.entry_column, axis=1))
        for e, column in enumerate(layout.entry_column.tolist()):
            minutes_and_marks[:, column] |= np.where(self.cries[:, e], CRIES, 0)
        for column in np.flatnonzero(layout.rough_gate >= 0).tolist():
            foretells = worlds.foretells[:, layout.work_of[column]] & ~undone[:, column]
            minutes_and_marks[:, column] |= np.where(foretells, FORETELLS, 0)
        self.work = work
        """[F, N + 2, 4] of each column's work: minutes and below them, in `MARK_BITS` bits, its marks; its cost; minus
        what its lines would fetch unfitted; its signs (side by side, so that they are fetched in one go)."""

    def _outside_gates(self) -> None:
        """Answers of the outside gates, known beforehand: releases, stop moments, money with its day."""
        layout, worlds, rebuild, days = self.layout, self.worlds, self.rebuild, self.hours.calendar.days
        n, n_outside = worlds.n, len(rebuild.outside_gates)
        self.outside_yes: LongArray = np.full((n, n_outside), -1, np.int64)
        self.dated: list[tuple[LongArray, LongArray]] = []
        """Day ([F], -1: not at all) and what is paid then ([F]), settled beforehand."""
        for o, gate in enumerate(rebuild.outside_gates):
            day = worlds.outside_days[:, o].astype(np.int64)
            yes = worlds.outside_ok[:, o] & (day >= 0)
            day = np.where(day < 0, days, day)
            for r in range(gate.n_fallbacks):
                self.dated.append((np.where(yes, -1, day), worlds.outside_fallback_minor[:, o, r]))
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

    def _order_of(self, group: LineGroup) -> tuple[LongArray, Days, BoolArray]:
        """Money of the lines of the group together ([F, 2]), days until each slot has its lines ([F, p]), and whether
        any of them never comes that its slot cannot do without ([F])."""
        ready = np.zeros((self.worlds.n, len(group.columns)), np.int16)
        for index, place in zip(group.lines.tolist(), group.place.tolist(), strict=True):
            np.maximum(ready[:, place], self.ready_days[:, index], out=ready[:, place])
        return self.line_money[:, group.lines].sum(axis=1), ready, np.any(self.hopeless[:, group.lines], axis=1)

    def _first_orders(self) -> None:
        """Lines ordered at the start, and those whose outside gate, and so whose day, is known."""
        layout, rows, order_day = self.layout, self.future, self.out.order_day
        at_once = layout.lines.at_once
        order_day[:] = -1
        order_day[:, at_once.lines] = 0
        money, ready, _ = self._order_of(at_once)
        self.money += money
        for place, column in enumerate(at_once.columns.tolist()):
            self._put_off(column, ready[:, place])
        for index, o in layout.lines.on_outside:
            column, day = layout.lines.column[index], self.outside_yes[:, o]
            order_day[:, index] = day
            self._put_off(column, np.where(day < 0, self.hours.calendar.days, day + self.ready_days[:, index]))
            self.held_up[:, column] -= 1
            self.dated.append((day, self.line_money[:, index, 0]))
        lines = sorted([*at_once.lines.tolist(), *(index for index, _ in layout.lines.on_outside)])
        self.miss(rows, np.broadcast_to(np.array(lines, np.intp), (len(rows), len(lines))))

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
        for release in (self.release, self.own_release):
            if release is not None:
                release[rows, columns] = np.maximum(release[rows, columns], self._days(day))

    def order_on_gate(self, rows: Index, k: int, day: LongArray) -> None:
        """Order what waits for bench gate `k`. That the lines no longer hold their slots up is part of `next_stage`."""
        group, future = self.layout.lines.on_gate[k], self.future[rows]
        if not len(group.lines):
            return
        money, ready, hopeless = self.gate_orders[k]
        self.out.order_day[future[:, None], group.lines] = day[:, None]
        self.money[rows] += money.take(future, axis=0)
        self.ahead[rows, 0] -= group.mean_minor
        if len(group.uncertain):
            known = self._called(future[:, None], group.uncertain[None, :])
            self.ahead[rows, 0] -= known @ self.layout.lines.mean_minor[group.uncertain]
        self.hold(rows[:, None], group.columns, day[:, None] + ready.take(future, axis=0))
        missing = np.flatnonzero(hopeless[future])
        if len(missing):
            self.miss(rows[missing], np.broadcast_to(group.lines, (len(missing), len(group.lines))))

    def order_one(self, rows: Index, line: Index, day: LongArray) -> None:
        """Order one line in each row, on the discovery that calls for it."""
        future, column = self.future[rows], self.layout.lines.column[line]
        self.out.order_day[future, line] = day
        self.money[rows] += self.line_money[future, line]
        self.held_up[rows, column] -= 1
        self.hold(rows, column, day + self.ready_days[future, line])
        missing = np.flatnonzero(self.hopeless[future, line])
        if len(missing):
            self.miss(rows[missing], line[missing, None])

    def _called(self, future: Index, lines: Index) -> BoolArray:
        """Whether the lines are for a follow-up that has been called or a way round that has been begun."""
        component, fallback = self.layout.lines.component[lines], self.layout.lines.fallback[lines]
        called = np.zeros(np.broadcast_shapes(future.shape, lines.shape), bool)
        if self.assigned.size:
            called |= (component >= 0) & (self.assigned[future, component] >= 0)
        if self.begun.size:
            called |= (fallback >= 0) & self.begun[future, fallback]
        return called

    def miss(self, rows: Index, lines: Index) -> None:
        """Set the stop moment where one of the ordered `lines` ([n, m] by row) never comes and is wanted."""
        some = np.flatnonzero(self.hopeless[self.future[rows][:, None], lines].any(axis=1))
        if not len(some):
            return
        rows, lines, future = rows[some], lines[some], self.future[rows[some]][:, None]
        order_day = self.out.order_day[future, lines]
        wanted = self.layout.lines.wanted[lines] | self._called(future, lines)
        missed = self.hopeless[future, lines] & wanted & (order_day >= 0)
        known = order_day + self.known_days[future, lines]
        clock = np.maximum(self.hours.start(self.future[rows], known), self.clock[rows, None])
        clock[~missed] = NEVER_CLOCK
        first, at = np.argmin(clock, axis=1), np.arange(len(rows))
        self.set_stop(rows, clock[at, first], known[at, first], NEVER_CAME, lines[at, first])

    def call(self, rows: Index, columns: Index, own: SlotLines, which: Index) -> None:
        """Slots that were only possible become known work: they lie ahead, and their lines ([which] of `own`) that were
        ordered before are looked at."""
        future, lines = self.future[rows], self.layout.lines
        self.ahead[rows] += self.layout.means.take(columns, axis=0)
        waiting = own.on_gate[which]
        if waiting.shape[1]:
            unordered = (waiting >= 0) & (self.out.order_day[future[:, None], waiting] < 0)
            self.ahead[rows, 0] += np.where(unordered, lines.mean_minor[waiting], 0).sum(axis=1)
        earlier = own.others[which]
        some = np.flatnonzero((earlier >= 0).any(axis=1))
        if len(some):
            # Filled up with the first line: a line that is looked at twice changes nothing.
            earlier = np.where(earlier < 0, earlier[:, :1], earlier)[some]
            self.miss(rows[some], earlier)

    def crying(self, future: Index, entries: Index) -> BoolArray:
        """[n, m] whether the expose `entries` ([n, m]) of each future cry for something not yet known."""
        crying: BoolArray = self.cries.ravel().take((future * self.cries.shape[1])[:, None] + entries, mode="clip")
        return crying

    def begin(self, rows: Index, slots: Index) -> None:
        """The slots ([n]) become active."""
        self.held_up[rows] += self.layout.rows.activate.take(slots, axis=0)

    def reopen(self, rows: Index, columns: Index) -> None:
        """Gate slots ([n]) become undone; what their end cost stays paid."""
        self.held_up[rows] -= self.layout.rows.effect.take(columns, axis=0)
        self.money[rows, 1] -= self.work[self.future[rows], columns, 2]
        self.ahead[rows] += self.layout.means.take(columns, axis=0)

    def begin_fallback(self, rows: Index, gates: Index, day: LongArray) -> None:
        """The next way round of `gates` ([n]) is begun; each has one left."""
        layout, future = self.layout, self.future[rows]
        fallback = layout.fallbacks[gates, self.n_begun[future, gates]]
        self.n_begun[future, gates] += 1
        self.begun[future, fallback] = True
        if self.log is not None:
            self.log.begun_clock[future, fallback] = self.clock[rows]
        self.fallbacks_active[future] += 1
        self.out.fell_back[future, gates] = True
        self.money[rows, 0] += self.worlds.fallback_minor[future, fallback]
        column = layout.fallback_column[fallback]
        self.begin(rows, layout.work_of[column])
        self.hold(rows, column, day + self.worlds.fallback_days[future, fallback])
        self.call(rows, column, layout.lines.of_fallback, fallback)

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

    def money_on(self, rows: Index, day: LongArray) -> LongArray:
        """[n, 2] all money out by `day`, and what the lines ordered by then and not fitted would fetch."""
        future, money = self.future[rows], self.money.take(rows, axis=0)
        for when, paid in self.dated:
            happened = (when[future] >= 0) & (when[future] <= day)
            money[:, 0] += np.where(happened, paid[future], 0)
        for index, o in self.layout.lines.on_outside:
            when, column = self.outside_yes[future, o], self.layout.lines.column[index]
            # A slot can be done before the day of its order where days without planned work stand in between.
            unfitted = (self.held_up[rows, column] < self.layout.rows.done_weight) | self.left_undone[future, column]
            ordered = (when >= 0) & (when <= day)
            money[:, 1] += np.where(ordered & unfitted, self.line_money[future, index, 1], 0)
        return money

    def ahead_on(self, rows: Index, day: LongArray) -> Floats:
        """[n, 2] expected money and minutes of known work that is not done on `day`; whole numbers."""
        future, lines, ahead = self.future[rows], self.layout.lines, self.ahead.take(rows, axis=0)
        for index, o in lines.on_outside:
            when, column = self.outside_yes[future, o], lines.column[index]
            known = lines.certain[index] | self._called(future, np.full(len(rows), index))
            waiting = known & (self.held_up[rows, column] < self.layout.rows.done_weight)
            waiting &= (when < 0) | (when > day)
            ahead[:, 0] += np.where(waiting, lines.mean_minor[index], 0)
        return ahead

    # --- rows that are over ---

    def strike_out(self) -> None:
        """Write down what is left to write of the futures that are over, and take their rows out."""
        layout, out = self.layout, self.out
        rows = np.flatnonzero(self.over)
        future = self.future[rows]
        day = out.day[future].astype(np.int64)
        slot_columns = layout.columns[: layout.n_slots]
        done = self.held_up.take(rows, axis=0).take(slot_columns, axis=1) >= layout.rows.done_weight
        out.done[future] = done
        out.left_undone[future] |= done & self.left_undone.take(future, axis=0).take(slot_columns, axis=1)
        out.known_bad[future] = self.assigned[future] >= 0
        money = self.money_on(rows, day)
        out.out_minor[future] = money[:, 0]
        out.resale_minor[future] = np.where(out.status[future] == FINISHED, 0, money[:, 1])
        order_day = out.order_day[future]
        out.order_day[future] = np.where(order_day <= day[:, None], order_day, -1)
        keep = np.flatnonzero(~self.over)
        for name in (*_BY_ROW, "own_release") if self.own_release is not None else _BY_ROW:
            setattr(self, name, getattr(self, name).take(keep, axis=0))


_BY_ROW = (
    "future held_up release attendance clock idle stage money ahead end_of_calendar stop_clock stop_day stop_status "
    "stop_reason limit ended_column marks still over"
).split()
