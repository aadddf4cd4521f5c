"""The lock-step simulator and the plain twin play the same futures: every field of the result must agree.

independent (the twin in this folder, written from docs/simulator.md without sight of the simulator):
all expected values here.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, fields

import numpy as np
import pytest

from tests.futures.random_rebuilds import Case, random_case
from tests.futures.twin import OneFuture, gather, play_each, twin_simulate
from tests.futures.twin_layout import (
    ACTIVE,
    DISCOVERY,
    DONE,
    FINISHED,
    GATE_NO,
    GATE_PASSED,
    NEVER_CAME,
    OFF_CALENDAR,
    STOPPED_BY_RULE,
    Bought,
)
from wreckwright.futures.rebuild import Played, Trail
from wreckwright.futures.simulate import simulate

REBUILDS = 1_000
FUTURES_EACH = 3


NO_ARRAYS = ("extra", "trail")


def differences(one: Played, other: Played) -> list[str]:
    """Names of the fields in which two results differ; features may differ by rounding alone."""
    found = []
    assert one.trail is not None and other.trail is not None
    pairs = {f.name: (getattr(one, f.name), getattr(other, f.name)) for f in fields(Played) if f.name not in NO_ARRAYS}
    pairs |= {f.name: (getattr(one.trail, f.name), getattr(other.trail, f.name)) for f in fields(Trail)}
    for name, (a, b) in pairs.items():
        if a.shape != b.shape:
            found.append(f"{name}: shape {a.shape} and {b.shape}")
        elif name == "epoch_features":
            if not np.allclose(a, b, rtol=1e-12, atol=0.0):
                found.append(name)
        elif not np.array_equal(a, b):
            found.append(f"{name}: futures {np.unique(np.nonzero(a != b)[0]).tolist()}")
    return found


@dataclass
class Comparison:
    cases: list[Case]
    lock_step: list[Played]
    disagreements: dict[int, list[str]]
    seen: Counter[str]
    """In how many futures each thing happened."""
    status: Counter[int]


@pytest.fixture(scope="module")
def comparison() -> Comparison:
    result = Comparison([], [], {}, Counter(), Counter())
    for seed in range(REBUILDS):
        case = random_case(seed, futures=FUTURES_EACH)
        played = simulate(case.rebuild, case.worlds, case.policy, ends=True)
        futures = play_each(case.rebuild, case.worlds, case.policy)
        found = differences(played, gather(case.rebuild, futures))
        if found:
            result.disagreements[seed] = found
        result.cases.append(case)
        result.lock_step.append(played)
        for one in futures:
            result.status[one.status] += 1
            result.seen.update(what for what, times in one.seen.items() if times)
            if any(case.rebuild.slots[j].kind == "look" and not used for j, used in enumerate(case.policy.looks)):
                result.seen["look not used"] += 1
            if any(line.already_ordered for line in case.rebuild.lines):
                result.seen["open order"] += 1
            if any(0 <= trigger < case.rebuild.n_stages and line in one.order_day
                   for line, trigger in enumerate(case.policy.line_trigger)):
                result.seen["held order placed on a bench gate"] += 1
            if any(trigger >= case.rebuild.n_stages and line in one.order_day
                   for line, trigger in enumerate(case.policy.line_trigger)):
                result.seen["held order placed on an outside gate"] += 1
    return result


def test_every_field_agrees_on_random_rebuilds(comparison: Comparison) -> None:
    assert len(comparison.cases) == REBUILDS
    assert comparison.disagreements == {}


def test_futures_played_together_do_not_touch_each_other() -> None:
    for seed in range(20_000, 20_012):
        case = random_case(seed, futures=150)
        expected = twin_simulate(case.rebuild, case.worlds, case.policy)
        for how in ({}, {"block_futures": 40, "patience_permille": 0}, {"block_futures": 1}):
            played = simulate(case.rebuild, case.worlds, case.policy, ends=True, **how)
            assert differences(played, expected) == [], (seed, how)


AT_LEAST = {
    "begun with a helper": 500,
    "cover waited for a helper": 150,
    "left undone with its slot": 100,
    "waited for helper": 400,
    "cover opened again": 200,
    "discovery": 1_000,
    "discovery after its gate": 100,
    "discovery at a gate": 200,
    "discovery chain": 120,
    "discovery for a later stage": 300,
    "ended at a stop moment": 500,
    "epoch discovery": 500,
    "epoch gate failed": 300,
    "epoch gate passed": 500,
    "fallback": 300,
    "fallback helped": 150,
    "foretold": 60,
    "foretold in vain": 150,
    "gate failed": 400,
    "gate to be done again": 120,
    "held order placed on a bench gate": 200,
    "held order placed on an outside gate": 200,
    "left undone": 400,
    "look not used": 400,
    "meanwhile work called": 150,
    "meanwhile work done": 100,
    "never comes, of an essential slot": 300,
    "wanted although its part is lost": 20,
    "never comes": 300,
    "never comes, plan B included": 100,
    "open order": 700,
    "outside fallback": 300,
    "outside no": 200,
    "plan B because late": 300,
    "plan B because never": 200,
    "second cry": 600,
    "second fallback": 60,
    "waited for cure or fallback": 500,
    "waited for line": 600,
    "waited for outside gate": 150,
    "wrong part": 500,
}


@pytest.mark.parametrize("what", sorted(AT_LEAST))
def test_the_random_rebuilds_make_it_happen_often_enough(comparison: Comparison, what: str) -> None:
    assert comparison.seen[what] >= AT_LEAST[what]


@pytest.mark.parametrize(
    ("status", "least"),
    [(FINISHED, 300), (GATE_NO, 300), (NEVER_CAME, 150), (STOPPED_BY_RULE, 80), (OFF_CALENDAR, 300)],
)
def test_every_way_to_end_occurs(comparison: Comparison, status: int, least: int) -> None:
    assert comparison.status[status] >= least


# Mutants: the twin with one rule broken. Each must be noticed, or the comparison would prove little.


class CureForgotten(OneFuture):
    def cured(self, i: int) -> float:
        return 0


class CureDoesNotHoldTheGate(OneFuture):
    def cures_for_gate(self, before: list[int]) -> list[float]:
        return []


class UndoneSlotCures(OneFuture):
    def cured(self, i: int) -> float:
        cure_days = self.rebuild.slots[i].cure_days
        return self.start(self.ended_day[i] + cure_days) if cure_days > 0 else 0


class UndoneSlotTakesItsTime(OneFuture):
    def minutes_of(self, j: int, undone: bool) -> int:
        return super().minutes_of(j, False)


class PlanBOneDayLate(OneFuture):
    def plan_b_day(self, lead: int | None, w: int, cancel_days: int) -> int:
        return super().plan_b_day(lead, w, cancel_days) + 1


class PlanBWaitsForTheCancelDay(OneFuture):
    def plan_b_day(self, lead: int | None, w: int, cancel_days: int) -> int:
        return super().plan_b_day(lead, -1 if lead is None else w, cancel_days)


class RefundRoundedUp(OneFuture):
    def refund(self, line: int, s: int, price: int) -> int:
        return -(-price * self.rebuild.lines[line].sources[s].refund_permille // 1000)


class WrongPartIsFree(OneFuture):
    def price(self, line: int, s: int) -> int:
        return int(self.worlds.price_minor[self.f, line, s])


class FittedPartsAreSoldToo(OneFuture):
    def resale(self, d: int) -> int:
        kept = dict(self.state)
        self.state = {j: ACTIVE for j in kept}
        total = super().resale(d)
        self.state = kept
        return total


class OnlyOwnCoversInDemand(OneFuture):
    def demand(self) -> set[int]:
        return {x for j, state in self.state.items() if state == ACTIVE for x in self.rebuild.slots[j].covers}


class EveryCoverGoesBackOn(OneFuture):
    def can_go_on(self, x: int, demand: set[int]) -> bool:
        beneath = [y for y, cover in enumerate(self.rebuild.covers) if x in cover.under]
        return self.off[x] and x not in demand and not any(self.off[y] for y in beneath)


class FollowUpsNeverWaitForAnOpenCover(OneFuture):
    def open_anyway(self, x: int, s: int) -> bool:
        return False


class DemandOfEarlierFollowUpsIgnored(OneFuture):
    def open_anyway(self, x: int, s: int) -> bool:
        if s != self.stage:
            return super().open_anyway(x, s)
        called = [j for j in self.called_now if self.state[j] == ACTIVE]
        for j in called:
            self.state[j] = DONE
        answer = super().open_anyway(x, s)
        for j in called:
            self.state[j] = ACTIVE
        return answer


class GateNotRepeatedAfterAFind(OneFuture):
    def gate_ends(self, j: int, d: int, activated: bool) -> None:
        super().gate_ends(j, d, False)


class NothingMeanwhile(OneFuture):
    def meanwhile(self, k: int) -> None:
        return


class ForetoldAlthoughBegun(OneFuture):
    def foretell(self, j: int, d: int) -> None:
        g = self.rebuild.slots[j].rough_gate
        if self.worlds.foretells[self.f, j] and self.fallbacks_left[g] and not self.gate_yes[g]:
            self.begin_fallback(g, d)


class MomentsBelongToTheNextDay(OneFuture):
    def day(self, c: int) -> int:
        q = -(-c * 1000 // self.attendance)
        return max(d for d in range(self.D) if self.M[d] <= q)


class StartRoundedDown(OneFuture):
    def start(self, d: int) -> float:
        return super().start(d) if d >= self.D else self.M[d] * self.attendance // 1000


class LaterOfEqualStopMomentsWins(OneFuture):
    def set_stop(self, d: int, status: int, reason: int) -> None:
        if self.stop is not None and max(self.start(d), self.clock) == self.stop.clock:
            self.stop = None
        super().set_stop(d, status, reason)


class UncalledFollowUpsAreMissed(OneFuture):
    def is_wanted(self, j: int) -> bool:
        return self.rebuild.slots[j].kind == "follow_up" or super().is_wanted(j)


class LostPartsOfFallbacksAreNotMissed(OneFuture):
    def is_wanted(self, j: int) -> bool:
        return self.rebuild.slots[j].kind != "fallback" and super().is_wanted(j)


class OrdersBeforeTheDecision(OneFuture):
    def visit(self, k: int, kind: int, d: int) -> None:
        if kind == GATE_PASSED:
            self.order_on_gate(k, d)
        super().visit(k, kind, d)


class DiscoveryDecidedWhileAFallbackRuns(OneFuture):
    def visit_discovery(self, d: int) -> None:
        cost = sum(
            self.rebuild.slots[j].mean_minor + sum(self.line_mean(line) for line in self.rebuild.slots[j].lines)
            for j in self.called_now
        )
        if self.big_find(cost):
            self.visit(self.stage, DISCOVERY, d)


class OutsideFallbacksPaidAtOnce(OneFuture):
    def money_out(self, d: int) -> int:
        late = sum(paid for answer in self.outside for begun, paid in answer.begun if begun > d)
        return super().money_out(d) + late


class OutsideWaitsBookedOnTheSlot(OneFuture):
    def booked_on(self, work: int, release: float) -> int:
        return work


class NeverKnownOneDayEarlier(OneFuture):
    def buy(self, line: int) -> Bought:
        bought = super().buy(line)
        if bought.known is not None:
            bought.known = max(0, bought.known - 1)
        return bought


class NobodyWaitsForAHelper(OneFuture):
    def with_helper(self, release: float) -> float:
        return max(release, self.clock)


class CoversMoveWithoutHelp(OneFuture):
    def release_of_cover(self, x: int) -> float:
        return 0


class TheEveningBeforeCountsForTheHelper(OneFuture):
    def today(self, c: int) -> int:
        return self.day(c)


class UndoneWorkWaitsForAHelper(OneFuture):
    def needs_helper(self, j: int) -> bool:
        return self.rebuild.slots[j].helper


class HelperAskedForOnlyOnTheDayOfRelease(OneFuture):
    def with_helper(self, release: float) -> float:
        return super().with_helper(max(release, self.clock)) if release > self.clock else release


class StandsAndFallsAlone(OneFuture):
    def falls_with(self, j: int) -> bool:
        return False


class FallsBeforeItIsKnown(OneFuture):
    def falls_with(self, j: int) -> bool:
        holder = self.rebuild.slots[j].part_of
        return holder >= 0 and self.is_left_undone(holder)


class FirstWaitKept(OneFuture):
    def book_wait(self, work: int, minutes: int, release: float) -> None:
        before = self.last_wait
        super().book_wait(work, minutes, release)
        if before >= 0:
            self.last_wait = before


MUTANTS = [
    NobodyWaitsForAHelper,
    CoversMoveWithoutHelp,
    TheEveningBeforeCountsForTheHelper,
    UndoneWorkWaitsForAHelper,
    HelperAskedForOnlyOnTheDayOfRelease,
    StandsAndFallsAlone,
    FallsBeforeItIsKnown,
    FirstWaitKept,
    CureForgotten,
    CureDoesNotHoldTheGate,
    UndoneSlotCures,
    UndoneSlotTakesItsTime,
    PlanBOneDayLate,
    PlanBWaitsForTheCancelDay,
    RefundRoundedUp,
    WrongPartIsFree,
    FittedPartsAreSoldToo,
    OnlyOwnCoversInDemand,
    EveryCoverGoesBackOn,
    FollowUpsNeverWaitForAnOpenCover,
    DemandOfEarlierFollowUpsIgnored,
    GateNotRepeatedAfterAFind,
    NothingMeanwhile,
    ForetoldAlthoughBegun,
    MomentsBelongToTheNextDay,
    StartRoundedDown,
    LaterOfEqualStopMomentsWins,
    UncalledFollowUpsAreMissed,
    LostPartsOfFallbacksAreNotMissed,
    OrdersBeforeTheDecision,
    DiscoveryDecidedWhileAFallbackRuns,
    OutsideFallbacksPaidAtOnce,
    OutsideWaitsBookedOnTheSlot,
    NeverKnownOneDayEarlier,
]


@pytest.mark.parametrize("mutant", MUTANTS, ids=lambda mutant: mutant.__name__)
def test_a_broken_rule_is_noticed(comparison: Comparison, mutant: type[OneFuture]) -> None:
    cases = zip(comparison.cases, comparison.lock_step, strict=True)
    assert any(
        differences(played, twin_simulate(case.rebuild, case.worlds, case.policy, player=mutant))
        for case, played in cases
    )
