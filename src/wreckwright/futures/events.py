"""What happens to the futures that a common step has set aside: waits, discoveries, gates, ways round, stops."""

from __future__ import annotations

import numpy as np

from wreckwright.futures.conditions import with_helper
from wreckwright.futures.epochs import visit
from wreckwright.futures.hours import NEVER_CLOCK
from wreckwright.futures.layout_lines import Index
from wreckwright.futures.rebuild import (
    DISCOVERY,
    FINISHED,
    GATE_FAILED,
    GATE_NO,
    GATE_PASSED,
    OFF_CALENDAR,
    BoolArray,
    LongArray,
)
from wreckwright.futures.state import CRIES, FORETELLS, QUESTION, WAITS, State


def settle(state: State) -> None:
    """Look at every row that was set aside; afterwards each is over or can go on."""
    rows = np.flatnonzero(state.still & ~state.over)
    state.still[rows] = False
    marks = state.marks[rows]
    waiting = rows[(marks & WAITS) != 0]
    if len(waiting):
        _wait(state, waiting)
    ended = rows[(marks & (CRIES | FORETELLS | QUESTION)) != 0]
    if len(ended):
        _ended(state, ended)
    stop_due(state, rows)


def stop_due(state: State, rows: Index) -> None:
    """Rule 1: the stop moment has come."""
    rows = rows[~state.over[rows] & (state.stop_clock[rows] <= state.clock[rows])]
    if len(rows):
        day = np.maximum(state.day(rows), state.stop_day[rows])
        state.end(rows, state.stop_status[rows], state.stop_reason[rows], day)


def off_calendar(state: State, rows: Index) -> None:
    """Not finished when the calendar ends; what cannot be finished is not begun."""
    worked = state.clock[rows] - state.idle[rows]
    state.clock[rows] = state.end_of_calendar[rows]
    state.idle[rows] = state.clock[rows] - worked
    state.end(rows, OFF_CALENDAR, -1, state.hours.calendar.days)


def _wait(state: State, rows: Index) -> None:
    """Rule 3: nothing can be done now; go on to the next release."""
    layout, out, days = state.layout, state.out, state.hours.calendar.days
    n = layout.n_columns
    ready_but_for_release = state.held_up.take(rows, axis=0)[:, :n] <= 0
    release = np.where(ready_but_for_release, state.release.take(rows, axis=0)[:, :n], np.int16(days))
    with_helper(state, rows, release)
    until = state.hours.start(state.future[rows], release.min(axis=1, initial=days))
    nothing = (until == NEVER_CLOCK) & (state.stop_clock[rows] == NEVER_CLOCK)
    off_calendar(state, rows[nothing])
    stopped = ~nothing & (state.stop_clock[rows] <= until)
    _idle(state, rows[stopped], state.stop_clock[rows[stopped]])
    on = ~nothing & ~stopped
    rows, release, until = rows[on], release[on], until[on]
    waited = _idle(state, rows, until)
    # Days without planned work start at the same minute as the next; columns stand in order of rank.
    future = state.future[rows]
    column = (release <= state.hours.begun(future, until)[:, None]).argmax(axis=1)
    booked = layout.work_of[column]
    for position in reversed(range(layout.outside.shape[1])):
        gate = layout.outside[column, position]
        answer = (gate >= 0) & (state.outside_start[future, gate] == until)
        booked = np.where(answer, len(layout.columns) + gate, booked)
    out.waited_minutes[future, booked] += waited
    out.last_wait[future] = booked
    if state.log is not None:
        state.log.waits.append((future, until, waited, booked))


def _idle(state: State, rows: Index, until: LongArray) -> LongArray:
    waited = until - state.clock[rows]
    state.clock[rows] = until
    state.idle[rows] += waited
    return waited


def _ended(state: State, rows: Index) -> None:
    """Slots have ended whose end brings something about; the order is that of docs/simulator.md."""
    layout = state.layout
    column, day = state.ended_column[rows], state.day(rows)
    marks = state.marks[rows]
    gate, fallback = layout.gate_of_column[column], layout.fallback_of_column[column]
    cost, now = _expose(state, rows, column, day, (marks & CRIES) != 0)
    at_gate = gate >= 0
    if at_gate.any():
        # A test that is left undone stays marked, also when it becomes undone again.
        future = state.future[rows[at_gate]]
        left_undone = state.left_undone[future, column[at_gate]]
        state.out.left_undone[future, layout.work_of[column[at_gate]]] |= left_undone
        # What was exposed belongs into this stage: the test is done again after it.
        again = at_gate & now
        state.reopen(rows[again], column[again])
    foretold = np.flatnonzero((marks & FORETELLS) != 0)
    if len(foretold):
        _foretell(state, rows[foretold], layout.rough_gate[column[foretold]], day[foretold])
    tried = np.flatnonzero(fallback >= 0)
    if len(tried):
        _fallback(state, rows[tried], fallback[tried], day[tried])
    big = np.flatnonzero(cost > state.rebuild.big_find_minor)
    if len(big):
        big = big[(state.fallbacks_active[state.future[rows[big]]] == 0) & ~state.over[rows[big]]]
        visit(state, rows[big], DISCOVERY, state.stage[rows[big]], day[big])
    answered = np.flatnonzero(at_gate & ~now & ~state.over[rows])
    if len(answered):
        _gate(state, rows[answered], gate[answered], day[answered])


def _expose(state: State, rows: Index, column: Index, day: LongArray, cries: BoolArray) -> tuple[LongArray, BoolArray]:
    """New finds of each row: what they are expected to cost, and whether any is to be put right in this stage."""
    layout = state.layout
    cost, now = np.zeros(len(rows), np.int64), np.zeros(len(rows), bool)
    crying = np.flatnonzero(cries)
    if not len(crying):
        return cost, now
    entry = layout.entries.take(column[crying], axis=0)
    future = state.future[rows[crying]]
    heard = (entry >= 0) & state.crying(future, entry)
    nth = heard.cumsum(axis=1)
    for count in range(1, int(nth.max()) + 1):
        # The first, second, ... cry of each row, in the order of the entries; only what is new counts.
        some, place = np.nonzero(heard & (nth == count))
        component = layout.entry_component[entry[some, place]]
        new = state.assigned[future[some], component] < 0
        at, component = crying[some[new]], component[new]
        if len(at):
            cost[at] += layout.follow_cost[component]
            now[at] |= _call(state, rows[at], component, day[at])
    return cost, now


def _call(state: State, rows: Index, component: Index, day: LongArray) -> BoolArray:
    """A follow-up is called: assign its stage, begin it if that has come, order its lines. True where it begins now."""
    layout = state.layout
    stage, n_stages = state.stage[rows], state.rebuild.n_stages
    needed_by = layout.follow_needed_by[component]
    last = np.where(needed_by >= stage, needed_by, n_stages - 1)
    earliest = np.minimum(np.maximum(stage, layout.follow_from[component]), last)
    held_up = state.held_up.take(rows, axis=0)
    off = held_up[:, layout.n_columns + 1 : layout.n_columns + 1 + layout.n_covers] != 0
    on_columns = layout.columns[layout.n_slots + layout.n_covers :]
    in_demand = (held_up.take(on_columns, axis=1) & (layout.rows.cover_weight - 1)) > 0
    closed = layout.follow_opening.take(component, axis=0) & ~off & ~in_demand
    open_now = (earliest == stage) & ~closed.any(axis=1)
    later = layout.next_open[component, np.maximum(earliest, stage + 1)]
    assigned = np.where(open_now, stage, np.where(later <= last, later, earliest))
    state.assigned[state.future[rows], component] = assigned
    if state.log is not None:
        state.log.called_clock[state.future[rows], component] = state.clock[rows]
    _hush(state, state.future[rows], component)
    now: BoolArray = assigned == stage
    state.begin(rows[now], layout.follow_slot[component[now]])
    state.call(rows, layout.follow_column[component], layout.lines.of_follow_up, component)
    lines = layout.lines.of_follow_up.on_discovery[component]
    for position in range(lines.shape[1]):
        some = lines[:, position] >= 0
        if some.any():
            state.order_one(rows[some], lines[some, position], day[some])
    return now


def _hush(state: State, future: Index, component: Index) -> None:
    """Only the first cry counts: what else would cry for the component is not looked at any more."""
    layout = state.layout
    entry = layout.entries_for.take(component, axis=0)
    some = np.flatnonzero((entry >= 0) & state.crying(future, entry))
    future, entry = future[some // entry.shape[1]], entry.ravel()[some]
    state.cries[future, entry] = False
    column = layout.entry_column[entry]
    rest = layout.entries.take(column, axis=0)
    quiet = np.flatnonzero(~((rest >= 0) & state.crying(future, rest)).any(axis=1))
    state.work[future[quiet], column[quiet], 0] &= ~CRIES


def _foretell(state: State, rows: Index, gate: Index, day: LongArray) -> None:
    future = state.future[rows]
    open_question = (gate >= state.stage[rows]) & ~state.gate_yes[future, gate]
    some = open_question & (state.n_begun[future, gate] == 0) & (state.layout.n_fallbacks[gate] > 0)
    if some.any():
        state.begin_fallback(rows[some], gate[some], day[some])


def _gate(state: State, rows: Index, gate: Index, day: LongArray) -> None:
    """Tests have ended that are not to be done again for something just found."""
    yes = state.gate_yes[state.future[rows], gate]
    last = gate == state.rebuild.n_stages - 1
    passed = np.flatnonzero(yes & ~last)
    if len(passed):
        _passed(state, rows[passed], gate[passed], day[passed])
    finished = np.flatnonzero(yes & last)
    if len(finished):
        state.out.gate_day[state.future[rows[finished]], gate[finished]] = day[finished]
        state.end(rows[finished], FINISHED, -1, day[finished])
    left = state.n_begun[state.future[rows], gate] < state.layout.n_fallbacks[gate]
    failed = np.flatnonzero(~yes & left)
    if len(failed):
        _failed(state, rows[failed], gate[failed], day[failed])
    no = np.flatnonzero(~yes & ~left)
    if len(no):
        state.end(rows[no], GATE_NO, gate[no], day[no])


def _passed(state: State, rows: Index, gate: Index, day: LongArray) -> None:
    """On into the next stage; the last gate apart."""
    layout = state.layout
    state.out.gate_day[state.future[rows], gate] = day
    state.stage[rows] = gate + 1
    visit(state, rows, GATE_PASSED, gate, day)
    going_on = np.flatnonzero(~state.over[rows])
    rows, gate, day = rows[going_on], gate[going_on], day[going_on]
    future = state.future[rows]
    for k in np.unique(gate).tolist():
        here = gate == k
        state.order_on_gate(rows[here], k, day[here])
    state.held_up[rows] += layout.rows.next_stage.take(gate, axis=0)
    early = np.flatnonzero(state.began_early[future])
    state.held_up[rows[early]] -= layout.rows.early.take(gate[early], axis=0)
    state.began_early[future] = False
    due, component = np.nonzero(state.assigned.take(future, axis=0) == (gate + 1)[:, None])
    nth = np.arange(len(due)) - np.searchsorted(due, due)
    for count in range(int(nth.max(initial=-1)) + 1):
        here = nth == count
        state.begin(rows[due[here]], layout.follow_slot[component[here]])


def _failed(state: State, rows: Index, gate: Index, day: LongArray) -> None:
    """The answer is no and there is a way round left."""
    layout = state.layout
    state.reopen(rows, layout.gate_column[gate])
    visit(state, rows, GATE_FAILED, gate, day)
    going_on = np.flatnonzero(~state.over[rows])
    rows, gate, day = rows[going_on], gate[going_on], day[going_on]
    state.begin_fallback(rows, gate, day)
    first = np.flatnonzero(~state.began_early[state.future[rows]])
    state.held_up[rows[first]] += layout.rows.early.take(gate[first], axis=0)
    state.began_early[state.future[rows]] = True


def _fallback(state: State, rows: Index, fallback: Index, day: LongArray) -> None:
    """A way round has been tried."""
    layout, future = state.layout, state.future[rows]
    gate = layout.fallback_gate[fallback]
    state.fallbacks_active[future] -= 1
    worked = state.worlds.fallback_ok[future, fallback]
    state.gate_yes[future[worked], gate[worked]] = True
    left = ~worked & (state.n_begun[future, gate] < layout.n_fallbacks[gate])
    if left.any():
        state.begin_fallback(rows[left], gate[left], day[left])
    nothing_left = ~worked & ~left
    if nothing_left.any():
        state.end(rows[nothing_left], GATE_NO, gate[nothing_left], day[nothing_left])
