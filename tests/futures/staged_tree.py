"""A staged machine that is small enough to be solved exactly, and a plain sampler of its futures.

Stage k: 20 days, `COST[k]` paid; on the way a hidden fault of 0, 300.00 or 800.00 is found (50 / 30 / 20 %), to be
paid at the very end; then the question, yes with `YES[k]`; after a no a way round (30 days, `ROUND[k]`), which works
with `ROUND_OK`, else the project ends. Whoever stops or ends sells as it stands, by the questions passed. A day costs
0.50.

Nothing here is shared with the code under test: the value is by backward induction over (stage, faults found so far).
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

import numpy as np

from tests.answers.toys import toy_futures, toy_rebuild
from wreckwright.futures.rebuild import DISCOVERY, GATE_FAILED, GATE_PASSED
from wreckwright.futures.scene import Futures

STAGES = 4
COST = (30_000, 40_000, 35_000, 25_000)
YES = (0.80, 0.70, 0.85, 0.90)
ROUND = (25_000, 45_000, 30_000, 20_000)
ROUND_OK = 0.6
FAULTS = (0, 30_000, 80_000)
FAULT_CHANCE = (0.5, 0.3, 0.2)
SALE = 330_000
AS_IT_STANDS = (70_000, 100_000, 130_000, 160_000, 0)
HOLD = 50

Rule = Callable[[int, int, int, int], bool]
"""(epoch, faults found so far, day) -> stop? Its last argument is the known money still to spend."""


def still_to_spend(stage_from: int, found: int) -> int:
    return sum(COST[stage_from:]) + found


def exact(*, rule: Rule | None = None, may_stop: bool = True) -> float:
    """Mean cash from the start. Without `rule` the best of stopping and carrying on is taken at each epoch."""

    def decide(epoch: int, found: int, day: int, spend: int, carry: float, stop: float) -> float:
        if not may_stop:
            return carry
        if rule is None:
            return max(carry, stop)
        return stop if rule(epoch, found, day, spend) else carry

    @cache
    def stage_value(k: int, found: int, day: int) -> float:
        total = 0.0
        for fault, chance in zip(FAULTS, FAULT_CHANCE, strict=True):
            now = found + fault
            carry = -COST[k] - 20 * HOLD + question(k, now, day + 20)
            if fault:
                carry = decide(3 * k + DISCOVERY, now, day, still_to_spend(k, now), carry, AS_IT_STANDS[k])
            total += chance * carry
        return total

    @cache
    def question(k: int, found: int, day: int) -> float:
        again = -ROUND[k] - 30 * HOLD
        again += ROUND_OK * passed(k, found, day + 30) + (1.0 - ROUND_OK) * AS_IT_STANDS[k]
        no = decide(3 * k + GATE_FAILED, found, day, still_to_spend(k + 1, found), again, AS_IT_STANDS[k])
        return YES[k] * passed(k, found, day) + (1.0 - YES[k]) * no

    @cache
    def passed(k: int, found: int, day: int) -> float:
        if k == STAGES - 1:
            return float(SALE - found)
        carry = stage_value(k + 1, found, day)
        return decide(3 * k + GATE_PASSED, found, day, still_to_spend(k + 1, found), carry, AS_IT_STANDS[k + 1])

    return stage_value(0, 0, 0)


def sampled(n: int, *, seed: int, hour_minutes: int = 600) -> Futures:
    """Futures of the staged machine, played to the end without stopping."""
    rng = np.random.default_rng(seed)
    epochs = 3 * STAGES
    alive = np.ones(n, dtype=bool)
    day = np.zeros(n, dtype=np.int64)
    out = np.zeros(n, dtype=np.int64)
    found = np.zeros(n, dtype=np.int64)
    minutes = np.zeros(n, dtype=np.int64)
    gate_day = np.full((n, STAGES), -1)
    reached = np.zeros((n, epochs), dtype=bool)
    epoch_day, epoch_out, epoch_minutes = (np.zeros((n, epochs), dtype=np.int64) for _ in range(3))
    features = np.zeros((n, epochs, 7))

    def visit(epoch: int, rows: np.ndarray, stage_from: int) -> None:
        reached[rows, epoch] = True
        epoch_day[rows, epoch] = day[rows]
        epoch_out[rows, epoch] = out[rows]
        epoch_minutes[rows, epoch] = minutes[rows]
        x = (sum(COST[stage_from:]) + found[rows]) / 100_000.0
        y = np.full(x.shape, (STAGES - stage_from) * hour_minutes / 600.0)
        z = day[rows] / 30.0
        features[rows, epoch] = np.stack([np.ones_like(x), x, y, z, x * x, y * y, z * z], axis=1)

    for k in range(STAGES):
        fault = rng.choice(FAULTS, size=n, p=FAULT_CHANCE)
        found += np.where(alive, fault, 0)
        minutes += alive * 10
        visit(3 * k + DISCOVERY, alive & (fault > 0), k)
        out += np.where(alive, COST[k], 0)
        day += alive * 20
        minutes += alive * (hour_minutes - 10)
        no = alive & (rng.random(n) >= YES[k])
        visit(3 * k + GATE_FAILED, no, k + 1)
        out += np.where(no, ROUND[k], 0)
        day += no * 30
        dead = no & (rng.random(n) >= ROUND_OK)
        alive &= ~dead
        gate_day[alive, k] = day[alive]
        if k < STAGES - 1:
            visit(3 * k + GATE_PASSED, alive, k + 1)
    out += np.where(alive, found, 0)
    return toy_futures(
        n, rebuild=toy_rebuild(stages=STAGES, as_it_stands_minor=AS_IT_STANDS), status=np.where(alive, 0, 1), day=day,
        out_minor=out, hands_on_minutes=minutes, gate_day=gate_day, epoch_reached=reached, epoch_day=epoch_day,
        epoch_out_minor=epoch_out, epoch_minutes=epoch_minutes, epoch_features=features, sale_minor=SALE,
        holding_day_minor=HOLD, part_out_minor=-1,
    )
