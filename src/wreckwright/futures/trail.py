"""What happened when: written down as futures are played, if it was asked for (`simulate(..., ends=True)`)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from wreckwright.futures.layout import Layout
from wreckwright.futures.layout_lines import Index
from wreckwright.futures.rebuild import LongArray, Played, Trail


class Log:
    """A block of F futures; sizes as in `Layout`."""

    def __init__(self, layout: Layout, n: int) -> None:
        self.ends: LongArray = np.full((n, layout.n_columns + 2), -1, np.int64)
        """[F, N + 2] clock at which each column's work last ended; the last two columns mean nothing."""
        self.waits: list[tuple[Index, LongArray, LongArray, Index]] = []
        """Futures, clocks at the end of the wait, its minutes, and where it was booked."""
        self.called_clock: LongArray = np.full((n, len(layout.follow_column)), -1, np.int64)
        self.begun_clock: LongArray = np.full((n, len(layout.fallback_column)), -1, np.int64)


def with_trail(played: Played, layout: Layout, logs: Sequence[Log]) -> Played:
    """The result with what the blocks (in order, none left out) have written down, side by side."""
    nothing = np.zeros(0, np.int64)
    waits: list[tuple[Index, ...]] = [(nothing, nothing, nothing, nothing)]
    first = 0
    for log in logs:
        waits += [(future + first, *rest) for future, *rest in log.waits]
        first += len(log.ends)
    future, clock, minutes, booked = (np.concatenate(one) for one in zip(*waits, strict=True))
    # The log stands in the order of play; a future's waits follow each other in time.
    order = np.argsort(future, kind="stable")

    def stacked(arrays: list[LongArray], width: int) -> LongArray:
        whole: LongArray = np.concatenate([np.zeros((0, width), np.int64), *arrays])
        return whole

    trail = Trail(
        wait_future=future[order].astype(np.int32),
        wait_clock=clock[order],
        wait_minutes=minutes[order],
        wait_column=booked[order].astype(np.int32),
        called_clock=stacked([log.called_clock for log in logs], len(layout.follow_column)),
        begun_clock=stacked([log.begun_clock for log in logs], len(layout.fallback_column)),
    )
    ends = stacked([log.ends for log in logs], layout.n_columns + 2)
    return replace(played, end_clock=ends.take(layout.columns, axis=1), trail=trail)
