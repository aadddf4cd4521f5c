"""Decision epochs: what is known at a moment, and whether the policy stops there; docs/simulator.md, section Stop."""

from __future__ import annotations

import numpy as np

from wreckwright.futures.layout_lines import Floats, Index
from wreckwright.futures.rebuild import STOPPED_BY_RULE, LongArray
from wreckwright.futures.state import State


def visit(state: State, rows: Index, kind: int, stage: Index, day: LongArray) -> None:
    """Visit epoch (`stage`, `kind`) in `rows`, as far as it has not been visited; end the futures that stop there."""
    out = state.out
    epoch = 3 * stage + kind
    first = ~out.epoch_reached[state.future[rows], epoch]
    rows, epoch, day = rows[first], epoch[first], day[first]
    if not len(rows):
        return
    future = state.future[rows]
    ahead, money = state.ahead_on(rows, day), state.money_on(rows, day)
    minor, minutes = ahead[:, 0], ahead[:, 1]
    x, y, z = minor / 100_000, minutes / 600, day / 30
    features = np.stack([np.ones(len(rows)), x, y, z, x * x, y * y, z * z], axis=1)
    out.epoch_reached[future, epoch] = True
    out.epoch_day[future, epoch] = day
    out.epoch_out_minor[future, epoch] = money[:, 0]
    out.epoch_resale_minor[future, epoch] = money[:, 1]
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
