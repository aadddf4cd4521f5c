"""Policies compared in the simulator, future by future."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from wreckwright.futures.hours import Calendar, Hours
from wreckwright.futures.policy import Policy
from wreckwright.futures.rebuild import FINISHED, OFF_CALENDAR, Played, Rebuild, Worlds
from wreckwright.futures.simulate import simulate
from wreckwright.plan.types import Weights


def worse_by(
    rebuild: Rebuild, worlds: Worlds, base: Policy, others: Sequence[Policy], weights: Weights
) -> tuple[int, float, float]:
    """(index of the best of `others`, by how many minutes it is worse than `base`, standard error of that).

    Below 0: better. Paired by future: finish where both go on to the end or the calendar ends, first test where both
    pass it, hands-on minutes always.
    """
    before = simulate(rebuild, worlds, base)
    hours = Hours(
        calendar=Calendar(cumulative_minutes=rebuild.cumulative_minutes),
        attendance_permille=worlds.attendance_permille.astype(np.int64),
    )
    found = [_minutes_more(hours, before, simulate(rebuild, worlds, other), weights) for other in others]
    best = min(range(len(found)), key=lambda n: float(found[n].mean()))
    more = found[best]
    error = float(more.std(ddof=1) / np.sqrt(len(more))) if len(more) > 1 else np.inf
    return best, float(more.mean()), error


def _minutes_more(hours: Hours, before: Played, after: Played, weights: Weights) -> npt.NDArray[np.float64]:
    """[F] by which `after` is worse, so that its mean is the difference of the means."""
    to_the_end = np.isin(before.status, (FINISHED, OFF_CALENDAR)) & np.isin(after.status, (FINISHED, OFF_CALENDAR))
    passed = (before.gate_day[:, 0] >= 0) & (after.gate_day[:, 0] >= 0)
    rows = np.arange(len(passed))
    first = [hours.start(rows, played.gate_day[:, 0]) for played in (before, after)]
    more = weights.hands_on * (after.hands_on_minutes - before.hands_on_minutes)
    for weight, both, difference in (
        (weights.finish, to_the_end, after.clock - before.clock), (weights.first_test, passed, first[1] - first[0]),
    ):
        if both.any():
            more = more + weight * np.where(both, difference, 0) * (len(both) / int(both.sum()))
    return np.asarray(more, np.float64)


def some_of(worlds: Worlds, rows: Sequence[int] | npt.NDArray[np.intp]) -> Worlds:
    """The futures `rows`."""
    index = np.asarray(rows, np.intp)
    return Worlds(**{name: getattr(worlds, name)[index] for name in Worlds.__dataclass_fields__})
