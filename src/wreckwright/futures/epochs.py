"""Decision epochs: what is known at a moment, and whether the policy stops there; docs/simulator.md, section Stop."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from wreckwright.futures.layout import Counts, Index
from wreckwright.futures.rebuild import STOPPED_BY_RULE, BoolArray, LongArray
from wreckwright.futures.state import State

Floats = npt.NDArray[np.float64]


def visit(state: State, rows: Index, kind: int, stage: Index, day: LongArray) -> None:
    """Visit epoch (`stage`, `kind`) in `rows`, as far as it has not been visited; end the futures that stop there."""
    out = state.out
    epoch = 3 * stage + kind
    first = ~out.epoch_reached[state.future[rows], epoch]
    rows, epoch, day = rows[first], epoch[first], day[first]
    if not len(rows):
        return
    future = state.future[rows]
    held_up, ordered = state.held_up.take(rows, axis=0), state.ordered(rows, day)
    minor, minutes = _ahead(state, future, held_up, ordered)
    x, y, z = minor / 100_000, minutes / 600, day / 30
    features = np.stack([np.ones(len(rows)), x, y, z, x * x, y * y, z * z], axis=1)
    out.epoch_reached[future, epoch] = True
    out.epoch_day[future, epoch] = day
    out.epoch_out_minor[future, epoch] = state.out_minor(rows, day)
    out.epoch_resale_minor[future, epoch] = state.resale(rows, held_up, ordered)
    out.epoch_minutes[future, epoch] = state.clock[rows] - state.idle[rows]
    out.epoch_features[future, epoch] = features
    for asked, coefficients in state.policy.stop.items():
        here = epoch == asked
        if here.any():
            worth = _product(features[here], coefficients)
            stopping = np.flatnonzero(here)[worth < 0]
            state.end(rows[stopping], STOPPED_BY_RULE, asked, day[stopping])


def _product(features: Floats, coefficients: tuple[float, ...]) -> Floats:
    """Summed from left to right, so that every program that follows the rules gets the same last digit."""
    total = features[:, 0] * coefficients[0]
    for i in range(1, len(coefficients)):
        total = total + features[:, i] * coefficients[i]
    return total


def _ahead(state: State, future: Index, held_up: Counts, ordered: BoolArray) -> tuple[Floats, Floats]:
    """Known money still to spend and known minutes still to work, as the policy expects them; whole numbers."""
    layout = state.layout
    ahead = held_up[:, : layout.n_columns] < layout.done_weight
    known = np.empty(ahead.shape, bool)
    known[:] = layout.counted
    known[:, layout.follow_column] = state.assigned.take(future, axis=0) >= 0
    known[:, layout.fallback_column] = state.begun.take(future, axis=0)
    ahead &= known
    # In floats because that is faster; sums of whole numbers below 2**53 are exact in any order.
    work = ahead.astype(np.float64) @ layout.means
    unordered = (ahead.take(layout.line_column, axis=1) & ~ordered).astype(np.float64) @ layout.line_mean_minor
    return work[:, 0] + unordered, work[:, 1]
