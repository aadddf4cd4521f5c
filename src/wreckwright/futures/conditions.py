"""What lets work begin beside its release: somebody who helps, and the slot with which it stands or falls."""

from __future__ import annotations

import numpy as np

from wreckwright.futures.hours import Days
from wreckwright.futures.layout_lines import Index
from wreckwright.futures.state import TAKES_ALONG, WANTS_HELPER, State


def turned_away(state: State, rows: Index, columns: Index, today: Days) -> Index:
    """Which of `rows` ([n]) would begin work for two ([n] columns) on a day ([n]) on which nobody helps; there it is
    put off until the next helper day."""
    if state.helpers is None:
        return rows[:0]
    wanted = (state.work[state.future[rows], columns, 3] & WANTS_HELPER) != 0
    alone = np.flatnonzero(wanted & ~state.helpers.helper_day[today])
    # Their release has come, so that the helper day is later.
    state.release[rows[alone], columns[alone]] = state.helpers.next_from[today[alone]]
    away: Index = rows[alone]
    return away


def with_helper(state: State, rows: Index, release: Days) -> None:
    """Put off the releases ([n, N]) of work for two until somebody helps; in place."""
    if state.helpers is None:
        return
    future, columns = state.future[rows], state.layout.helper
    wanted = (state.work[future[:, None], columns, 3] & WANTS_HELPER) != 0
    alone = release.take(columns, axis=1)
    release[:, columns] = np.where(wanted, state.helpers.release(future, alone), alone)


def leave_with(state: State, rows: Index, columns: Index) -> None:
    """The slots in `columns` ([n]) have been left undone: so is, from now on, what stands or falls with them."""
    holders = {holder for _, holder in state.layout.part_of}
    for column, holder in state.layout.part_of:
        some = rows[columns == holder]
        some = some[state.held_up[some, column] < state.layout.rows.done_weight]
        future = state.future[some]
        state.left_undone[future, column] = True
        if state.own_release is not None:
            state.release[some, column] = state.own_release[some, column]
        state.work[future, column] = 0
        if column in holders:
            state.work[future, column, 3] = TAKES_ALONG
