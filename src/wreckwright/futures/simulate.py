"""The lock-step simulator: one policy played through all futures at once, by the rules of docs/simulator.md.

Every future takes its next piece of work in the same array operations; what is rare (a wait, a find, a gate) is set
aside and looked at together with others of its kind. The state is explained in `futures.layout`, the measured reasons
in docs/decisions/lock-step-simulator.md.
"""

from __future__ import annotations

from dataclasses import fields, replace
from typing import TypeVar

import numpy as np

from wreckwright.errors import AnswerError
from wreckwright.futures.conditions import leave_with, turned_away
from wreckwright.futures.events import off_calendar, settle, stop_due
from wreckwright.futures.hours import NEVER_CLOCK, Calendar, last_begun
from wreckwright.futures.layout import lay_out
from wreckwright.futures.layout_lines import Index
from wreckwright.futures.policy import Policy, check_policy
from wreckwright.futures.rebuild import LongArray, Played, Rebuild, Worlds
from wreckwright.futures.rebuild_check import check_rebuild
from wreckwright.futures.state import CURES, MARK_BITS, STOPS, TAKES_ALONG, State
from wreckwright.futures.trail import Log, with_trail
from wreckwright.futures.worlds import check_worlds

_Arrays = TypeVar("_Arrays", Worlds, Played)

BLOCK_FUTURES = 4000
"""Futures played together: enough to spread the cost of a step, few enough for the rows to stay close at hand."""
PATIENCE_PERMILLE = 200
"""Share of the rows that may be set aside before they are looked at."""
STRIKE_OUT_PERMILLE = 120
"""Share of the rows that may be over before they are struck out."""


def simulate(
    rebuild: Rebuild,
    worlds: Worlds,
    policy: Policy,
    *,
    ends: bool = False,
    block_futures: int = BLOCK_FUTURES,
    patience_permille: int = PATIENCE_PERMILLE,
) -> Played:
    """Play `policy` through every future. Pure: the same arguments give the same result, whatever the last two are.

    `ends` asks for `Played.end_clock` and `Played.trail` besides, which takes a little longer (all else is the same).
    `block_futures` (from 1) and `patience_permille` (0 to 1000) only change the time it takes.

    Raises `AnswerError` when the rebuild, the futures or the policy cannot be played, with the first reason found.

    Two evenings of 60 minutes, a job of 50 and a road test of 30:

    >>> from wreckwright.futures.rebuild import BenchGate, Slot
    >>> from wreckwright.futures.worlds import calm_worlds
    >>> rebuild = Rebuild(
    ...     slots=(Slot(name="bleed the brake", kind="job", mean_minutes=50),
    ...            Slot(name="road test", kind="gate", mean_minutes=30)),
    ...     covers=(), bench_gates=(BenchGate(name="road test", stage=0, slot=1),), outside_gates=(), lines=(),
    ...     components=(), cumulative_minutes=np.array([0, 60, 120]), big_find_minor=0, as_it_stands_minor=(0, 0),
    ...     part_out_minor=0)
    >>> policy = Policy(line_source=(), line_trigger=(), plan_b_source=(), plan_b_after_days=(), stage=(0, 0),
    ...     rank=(0, 1), looks=(True, True))
    >>> played = simulate(rebuild, calm_worlds(rebuild, 2), policy)
    >>> played.clock.tolist(), played.day.tolist()
    ([80, 80], [1, 1])
    """
    if block_futures < 1 or not 0 <= patience_permille <= 1000:
        raise AnswerError(
            f"The futures cannot be played in blocks of {block_futures} with a patience of {patience_permille}",
            "Allowed: blocks from 1 and a patience of 0 to 1000 per mille",
            "Leave both out",
        )
    _refuse("rebuild", check_rebuild(rebuild))
    _refuse("policy", check_policy(rebuild, policy))
    _refuse("futures", check_worlds(rebuild, worlds))
    layout, calendar = lay_out(rebuild, policy), Calendar(cumulative_minutes=rebuild.cumulative_minutes)
    played = _blank(rebuild, worlds.n)
    logs: list[Log] = []
    for first in range(0, worlds.n, block_futures):
        part = slice(first, first + block_futures)
        log = Log(layout, min(block_futures, worlds.n - first)) if ends else None
        logs += [log] if log else []
        state = State(layout, calendar, rebuild, _part(worlds, part), policy, _part(played, part), log)
        stop_due(state, state.future)
        while len(state.future):
            _in_step(state, patience_permille)
            state.strike_out()
    return with_trail(played, layout, logs) if ends else played


def _refuse(name: str, reasons: list[str]) -> None:
    if reasons:
        more = f" (and {len(reasons) - 1} more)" if len(reasons) > 1 else ""
        found, _, rest = reasons[0].partition("; allowed: ")
        allowed, _, do = rest.partition("; ")
        raise AnswerError(
            f"The {name} cannot be played: {found}{more}",
            f"Allowed: {allowed}" if allowed else "",
            do[:1].upper() + do[1:],
        )


def _in_step(state: State, patience_permille: int) -> None:
    """Play until so many rows are over that it pays to strike them out."""
    layout, n = state.layout, len(state.future)
    n_columns, stand_still = layout.n_columns, layout.n_columns + 1
    ready, released = np.empty((2, n, layout.width), bool)
    eights, released_eights = ready.view("<u8"), released.view("<u8")
    any_of_eight, first_eight = np.empty(eights.shape, bool), np.arange(n) * eights.shape[1]
    added = np.empty((n, layout.width), layout.rows.effect.dtype)
    base = state.future * (n_columns + 2)
    work = state.work.reshape(-1, 4)
    ends = state.log.ends.reshape(-1) if state.log else None
    signs, none = bool(len(layout.helper) or layout.part_of), np.zeros(0, np.intp)
    end: LongArray = np.empty(n, np.int64)
    patience = max(1, n * patience_permille // 1000)
    n_over = int(np.count_nonzero(state.over))
    n_aside = int(np.count_nonzero(state.still)) - n_over
    while n_over < n and n_over * 1000 <= n * STRIKE_OUT_PERMILLE:
        np.less_equal(state.held_up, 0, out=ready)
        begun = last_begun(state.hours.calendar, state.clock, state.attendance)
        np.less_equal(state.release, begun[:, None], out=released)
        np.bitwise_and(eights, released_eights, out=eights)
        # The first ready column of each row, looked for eight at a time: in the first eight that are not all zero, the
        # lowest bit set stands for the first of them, and the exponent of that number as a float says which it is.
        np.not_equal(eights, 0, out=any_of_eight)
        column = any_of_eight.argmax(axis=1)
        found = eights.ravel().take(first_eight + column)
        found &= -found
        column *= 8
        column += (found.astype(np.float64).view(np.int64) >> 55) - 127
        np.copyto(column, stand_still, where=state.still)
        at = base + column
        chosen = work.take(at, axis=0)
        signed = np.flatnonzero(chosen[:, 3]) if signs else none
        if len(signed):
            away = turned_away(state, signed, column[signed], begun[signed])
            column[away], chosen[away] = stand_still, 0
        marks = chosen[:, 0] & ((1 << MARK_BITS) - 1)
        np.add(state.clock, chosen[:, 0] >> MARK_BITS, out=end)
        late = off = np.flatnonzero(end > state.limit)
        if len(late):
            off = late[end[late] > state.end_of_calendar[late]]
            marks[late] |= STOPS
            state.limit[late] = NEVER_CLOCK
            column[off], end[off], marks[off] = stand_still, state.clock[off], 0
            chosen[off] = 0
        state.clock, end = end, state.clock
        if ends is not None:
            ends[base + column] = state.clock
        np.take(layout.rows.effect, column, axis=0, out=added, mode="clip")
        np.add(state.held_up, added, out=state.held_up)
        state.money += chosen[:, 1:3]
        state.ahead -= layout.means.take(column, axis=0)
        if len(signed):
            alone = signed[(chosen[signed, 3] & TAKES_ALONG) != 0]
            leave_with(state, alone, column[alone])
        if len(off):
            off_calendar(state, off)
            n_over += len(off)
        marked = np.flatnonzero(marks)
        if len(marked):
            cured = marked[(marks[marked] & CURES) != 0]
            if len(cured):
                _cure(state, cured, column[cured])
            aside = marked[(marks[marked] & ~CURES) != 0]
            state.marks[aside] = marks[aside]
            state.ended_column[aside] = column[aside]
            state.still[aside] = True
            n_aside += len(aside)
        if n_aside and (n_aside >= patience or n_aside + n_over == n):
            settle(state)
            n_aside = 0
            n_over = int(np.count_nonzero(state.over))


def _cure(state: State, rows: Index, column: Index) -> None:
    """Work that has to cure has ended: what comes after it, and its gate, have to wait."""
    layout = state.layout
    until = state.day(rows) + layout.cure_days[column]
    first = layout.cure_start[column]
    count = layout.cure_start[column + 1] - first
    # All (row, target) pairs at once; no pair comes twice, because each row has ended one piece of work.
    nth = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count)
    state.hold(np.repeat(rows, count), layout.cure_target[np.repeat(first, count) + nth], np.repeat(until, count))
    own = layout.is_follow_up[column]
    if own.any():
        state.hold(rows[own], layout.gate_column[state.stage[rows[own]]], until[own])


def _part(whole: _Arrays, part: slice) -> _Arrays:
    """The futures `part` of a `Worlds` or a `Played`: views, no copies."""
    by_future = [f.name for f in fields(whole) if f.name not in ("extra", "end_clock", "trail")]
    return replace(whole, **{name: getattr(whole, name)[part] for name in by_future})


def _blank(rebuild: Rebuild, n: int) -> Played:
    """Nothing has happened yet."""
    n_slots, n_covers, n_stages = len(rebuild.slots), len(rebuild.covers), rebuild.n_stages
    n_epochs = 3 * n_stages
    return Played(
        status=np.zeros(n, np.int8),
        reason=np.full(n, -1, np.int32),
        clock=np.zeros(n, np.int64),
        day=np.zeros(n, np.int32),
        hands_on_minutes=np.zeros(n, np.int64),
        out_minor=np.zeros(n, np.int64),
        resale_minor=np.zeros(n, np.int64),
        gate_day=np.full((n, n_stages), -1, np.int32),
        fell_back=np.zeros((n, n_stages), np.bool_),
        order_day=np.full((n, len(rebuild.lines)), -1, np.int32),
        left_undone=np.zeros((n, n_slots), np.bool_),
        done=np.zeros((n, n_slots), np.bool_),
        known_bad=np.zeros((n, len(rebuild.components)), np.bool_),
        waited_minutes=np.zeros((n, n_slots + 2 * n_covers + len(rebuild.outside_gates)), np.int64),
        last_wait=np.full(n, -1, np.int32),
        epoch_reached=np.zeros((n, n_epochs), np.bool_),
        epoch_day=np.full((n, n_epochs), -1, np.int32),
        epoch_out_minor=np.zeros((n, n_epochs), np.int64),
        epoch_resale_minor=np.zeros((n, n_epochs), np.int64),
        epoch_minutes=np.zeros((n, n_epochs), np.int64),
        epoch_features=np.zeros((n, n_epochs, 7), np.float64),
    )
