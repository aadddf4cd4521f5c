"""When to stop: a rule per decision epoch, fitted by regression on the futures, and what the right to stop is worth.

The method is least-squares Monte Carlo (Longstaff and Schwartz 2001, from memory), cross-fitted; choices and measured
bias are in docs/decisions/stop-rule.md. Sunk money never enters: at an epoch both ways share all that went before.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from wreckwright.futures.ledger import Way, settle, stopped_at
from wreckwright.futures.policy import Policy
from wreckwright.futures.rebuild import BoolArray, IntArray
from wreckwright.futures.scene import Futures
from wreckwright.futures.simulate import simulate

FloatArray = npt.NDArray[np.float64]

MIN_REACHED = 100
"""An epoch reached by fewer futures gets no rule."""
FULL_FEATURES_FROM = 2000
"""Futures, and futures that reach the epoch, from which the squares are used besides the constant and x, y, z."""
KEEP_OVER_SE = 1.0
"""A rule is kept at an epoch if its cross-fitted gain there is above this many standard errors: a rule that fires on
noise costs more than it brings."""
USED_OVER_SE = 2.0
"""The right to stop is counted only if its whole cross-fitted gain is above this many standard errors."""
RIDGE = 1e-6
"""On standardised features: enough to settle collinear ones, too little to move a figure."""


@dataclass(frozen=True, kw_only=True)
class StopEpoch:
    """What the cross-fitted rule does at one epoch that has a rule."""

    epoch: int
    """3 * stage + kind."""
    reached: float
    """Share of all futures that come to it."""
    stopped: float
    """Share of all futures that are stopped there."""
    spend_if_stopped_minor: int | None
    """Median money known to be still to spend, where stopped; None: never stopped."""
    spend_if_carried_on_minor: int | None


@dataclass(frozen=True, kw_only=True)
class StopValue:
    """Carrying on with the right to stop, against carrying on without. F futures; worth = cash less own hours."""

    policy: Policy
    """The policy played, with the rule fitted on all futures; without a rule if none is worth it."""
    hour_value_minor: int
    used: bool
    """The right to stop is clearly worth something; `way` and `worth_minor` count it only then."""
    way: Way
    """Cross-fitted."""
    worth_minor: FloatArray
    """[F] cross-fitted."""
    mean_minor: float
    se_minor: float
    without_mean_minor: float
    """Mean worth without any stopping."""
    gain_minor: float
    """Cross-fitted worth of the right to stop, whether it is used or not."""
    gain_se_minor: float
    in_sample_gain_minor: float
    """The same, fitted and valued on the same futures."""
    stop_epoch: IntArray
    """[F] epoch at which the cross-fitted rule stops a future, -1: none; whether used or not."""
    epochs: tuple[StopEpoch, ...]


def unstopped(futures: Futures) -> Futures:
    """The same futures, played without any stop rule."""
    if not futures.policy.stop:
        return futures
    policy = replace(futures.policy, stop={})
    played = futures.played_unstopped or simulate(futures.rebuild, futures.worlds, policy, ends=_has_trail(futures))
    return replace(futures, policy=policy, played=played, played_unstopped=None)


def _has_trail(futures: Futures) -> bool:
    """Whoever asked for it once wants it of what is played again too."""
    return futures.played.trail is not None


def with_stop_rule(futures: Futures, stop: StopValue) -> Futures:
    """The same futures, played with the rule of `stop` (fitted on them, so slightly rosy)."""
    free = unstopped(futures)
    if not stop.policy.stop:
        return free
    played = simulate(free.rebuild, free.worlds, stop.policy, ends=_has_trail(free))
    return replace(free, policy=stop.policy, played=played, played_unstopped=free.played)


def fit_stop_rule(futures: Futures, *, hour_value_minor: int | None = None) -> StopValue:
    """Fit a stop rule on `futures` and value it.

    `hour_value_minor` [minor units an hour, >= 0]: what an own hour counts; absent: the owner's. A rule says: stop at
    this epoch if the predicted worth of carrying on less the worth of stopping there is below 0. Backward over the
    epochs; the target is what carrying on came to in each future under the later rules. Three fits: on each half (even
    and odd futures), valued on the other half, and on all, which is the rule that is returned.
    """
    hour_value = futures.hour_value_minor if hour_value_minor is None else hour_value_minor
    futures = unstopped(futures)
    carried = settle(futures, hour_value_minor=hour_value).way
    fit = _Backward(futures, carried, hour_value)
    for epoch in reversed(range(futures.played.epoch_reached.shape[1])):
        fit.step(epoch)
    return fit.result()


class _Backward:
    """The state of the backward pass. Row 0 and 1: fitted on even, on odd futures; row 2: fitted on all."""

    def __init__(self, futures: Futures, carried: Way, hour_value_minor: int) -> None:
        self.futures = futures
        self.hour_value_minor = hour_value_minor
        self.carried = carried
        n = futures.played.status.shape[0]
        even = np.arange(n) % 2 == 0
        self.train: tuple[BoolArray, ...] = (even, ~even, np.ones(n, dtype=np.bool_))
        self.without = carried.worth_minor(hour_value_minor)
        self.worth = np.stack([self.without] * 3)
        self.stop_epoch = np.full((3, n), -1, dtype=np.int32)
        # Own minutes so far tell which of two epochs came first, should they not come in the order of their numbers.
        self.stop_minutes = np.full((3, n), np.iinfo(np.int64).max)
        self.rules: dict[int, tuple[float, ...]] = {}

    def step(self, epoch: int) -> None:
        played = self.futures.played
        reached = played.epoch_reached[:, epoch]
        if int(reached.sum()) < MIN_REACHED:
            return
        way = stopped_at(self.futures, epoch, hour_value_minor=self.hour_value_minor)
        stopping = way.worth_minor(self.hour_value_minor)
        features = played.epoch_features[:, epoch, :]
        minutes = played.epoch_minutes[:, epoch]
        full = min(reached.shape[0], int(reached.sum())) >= FULL_FEATURES_FROM
        width = features.shape[1] if full else min(4, features.shape[1])
        coefficients = []
        stops = []
        for row, train in enumerate(self.train):
            live = reached & (self.stop_minutes[row] >= minutes)
            use = live & train
            if int(use.sum()) < MIN_REACHED // 4:
                return
            found = _fit(features[use], self.worth[row, use] - stopping[use], width)
            coefficients.append(found)
            stops.append(live & (_predict(features, found) < 0.0))
        loss = np.where(self.train[0], self.worth[1], self.worth[0]) - stopping
        gain = np.where(np.where(self.train[0], stops[1], stops[0]), -loss, 0.0)
        if gain.mean() <= KEEP_OVER_SE * _se(gain):
            return
        self.rules[epoch] = tuple(float(c) for c in coefficients[2])
        for row, stop in enumerate(stops):
            self.worth[row, stop] = stopping[stop]
            self.stop_epoch[row, stop] = epoch
            self.stop_minutes[row, stop] = minutes[stop]

    def result(self) -> StopValue:
        even = self.train[0]
        crossed = np.where(even, self.worth[1], self.worth[0])
        stop_epoch = np.where(even, self.stop_epoch[1], self.stop_epoch[0]).astype(np.int32)
        gain = crossed - self.without
        used = bool(self.rules) and float(gain.mean()) > USED_OVER_SE * _se(gain)
        worth = crossed if used else self.without
        rules: Mapping[int, tuple[float, ...]] = dict(sorted(self.rules.items())) if used else {}
        return StopValue(
            policy=replace(self.futures.policy, stop=rules),
            hour_value_minor=self.hour_value_minor,
            used=used,
            way=self._way(stop_epoch) if used else self.carried,
            worth_minor=worth,
            mean_minor=float(worth.mean()),
            se_minor=_se(worth),
            without_mean_minor=float(self.without.mean()),
            gain_minor=float(gain.mean()),
            gain_se_minor=_se(gain),
            in_sample_gain_minor=float((self.worth[2] - self.without).mean()),
            stop_epoch=stop_epoch,
            epochs=tuple(self._epoch(epoch, stop_epoch) for epoch in sorted(self.rules)),
        )

    def _way(self, stop_epoch: IntArray) -> Way:
        """The carried-on way, with the rows of every stop put in."""
        columns = {name: getattr(self.carried, name).copy() for name in Way.__dataclass_fields__}
        for epoch in sorted(self.rules):
            rows = stop_epoch == epoch
            way = stopped_at(self.futures, epoch, hour_value_minor=self.hour_value_minor)
            for name, column in columns.items():
                column[rows] = getattr(way, name)[rows]
        return Way(**columns)

    def _epoch(self, epoch: int, stop_epoch: IntArray) -> StopEpoch:
        played = self.futures.played
        reached = played.epoch_reached[:, epoch]
        stopped = stop_epoch == epoch
        # A future stopped before would not have come to this epoch.
        carried = reached & ~stopped & ~((stop_epoch >= 0) & (stop_epoch < epoch))
        spend = played.epoch_features[:, epoch, 1] * 100_000.0
        return StopEpoch(
            epoch=epoch, reached=float(reached.mean()), stopped=float(stopped.mean()),
            spend_if_stopped_minor=_median(spend[stopped]), spend_if_carried_on_minor=_median(spend[carried]),
        )


def _fit(features: FloatArray, target: FloatArray, width: int) -> FloatArray:
    """Coefficients of all features (those past `width`, and those that do not vary, 0), on their own scale.

    Standardised, with a touch of ridge: neither the scale of money nor two features that say the same upset it.
    """
    coefficients = np.zeros(features.shape[1])
    mean = features[:, 1:width].mean(axis=0)
    spread = features[:, 1:width].std(axis=0)
    varies = np.flatnonzero(spread > 1e-9 * np.maximum(1.0, np.abs(mean)))
    centre = float(target.mean())
    if varies.size:
        z = (features[:, 1:width][:, varies] - mean[varies]) / spread[varies]
        gram = z.T @ z + RIDGE * z.shape[0] * np.eye(varies.size)
        slope = np.linalg.solve(gram, z.T @ (target - centre)) / spread[varies]
        coefficients[1 + varies] = slope
        centre -= float(slope @ mean[varies])
    coefficients[0] = centre
    return coefficients


def _predict(features: FloatArray, coefficients: FloatArray) -> FloatArray:
    """Summed from left to right, as the simulator does."""
    total: FloatArray = features[:, 0] * coefficients[0]
    for column in range(1, features.shape[1]):
        total = total + features[:, column] * coefficients[column]
    return total


def _se(values: FloatArray) -> float:
    return float(values.std(ddof=1) / np.sqrt(values.shape[0])) if values.shape[0] > 1 else 0.0


def _median(values: FloatArray) -> int | None:
    return round(float(np.median(values))) if values.size else None
