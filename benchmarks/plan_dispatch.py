"""One scenario of a plan laid out by plain dispatch, minute by minute. Shares no code with the planner.

From here comes the score that the search and the solver are compared by, and the hint of the solver.
"""

from __future__ import annotations

import heapq
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from wreckwright.plan.types import NEVER_DAY, Problem, Weights


@dataclass(frozen=True, kw_only=True)
class Played:
    """One scenario laid out by plain dispatch: times in own working minutes from the as-of date."""

    begin: Mapping[str, int]
    """Of works and tests by key, of movements of covers by `off:<key>:<stretch>`, `on:<key>:<stretch>`."""
    finish: int
    tests: tuple[int, ...]
    hands_on: int

    def score(self, weights: Weights) -> float:
        return weights.finish * self.finish + weights.first_test * self.tests[0] + weights.hands_on * self.hands_on


class Facts:
    """What follows from the problem alone. Own expansion of covers and own arithmetic of days."""

    def __init__(self, problem: Problem) -> None:
        if problem.n_scenarios != 1 or problem.way_days.any() or problem.way_minutes.any():
            raise ValueError("the certificate is for one scenario in which every test ends in yes")
        if (problem.helper_day is not None and not problem.helper_day.all()) or not all(
            work.may_split for work in problem.works
        ):
            raise ValueError("the certificate knows neither helpers nor work that must not be split")
        self.problem = problem
        n_covers = len(problem.covers)
        up = [{x} for x in range(n_covers)]
        for _ in range(n_covers):
            up = [line.union(*(up[u] for x in line for u in problem.covers[x].under)) for line in up]
        self.works = [j for j in range(len(problem.works)) if problem.present[0, j]]
        self.opening = {j: set[int]().union(*(up[x] for x in problem.works[j].covers)) for j in self.works}
        last = len(problem.tests) - 1
        self.closing = [
            set(range(n_covers)) if t == last else {x for x in range(n_covers) if up[x] & set(test.covers_on)}
            for t, test in enumerate(problem.tests)
        ]
        self.opened_for_test = [set[int]().union(*(up[x] for x in test.covers_off)) for test in problem.tests]
        planned = problem.hours.calendar.cumulative_minutes.tolist()
        share = int(problem.hours.attendance_permille[0])
        self.start = [-(-minutes * share // 1000) for minutes in planned]
        self.release = [self._clock(int(day)) for day in problem.release_day[0]]
        self.test_release = [self._clock(int(day)) for day in problem.test_release_day[0]]
        self.minutes = problem.minutes[0].tolist()
        self.test_minutes = problem.test_minutes[0].tolist()
        self.off, self.on = problem.off_minutes[0].tolist(), problem.on_minutes[0].tolist()

    def _clock(self, day: int) -> int:
        if day >= NEVER_DAY or day >= len(self.start) - 1:
            raise ValueError(f"something comes only on day {day}, behind the calendar")
        return int(self.start[day])

    def day(self, clock: int) -> int:
        """On which a piece of work that ends at `clock` ends."""
        return max(int(np.searchsorted(self.start, clock, side="left")) - 1, 0)

    def moves(self, stages: Mapping[int, int]) -> tuple[list[set[int]], list[set[int]], list[set[int]]]:
        """Covers wanted off, taken off and put on in each stretch."""
        off = {x for x, cover in enumerate(self.problem.covers) if cover.off_at_start}
        wanted, taken, put = [], [], []
        for t in range(len(self.problem.tests)):
            demand = self.opened_for_test[t].union(*(self.opening[j] for j in self.works if stages[j] == t))
            wanted.append(demand)
            taken.append(demand - off)
            off |= demand
            put.append(off & self.closing[t])
            off -= self.closing[t]
        return wanted, taken, put


def played(problem: Problem, stages: Mapping[str, int]) -> Played:
    """Dispatch: whatever can be done is done at once, what has the longest cure behind it first.

    Without cures every such order has the same finish, the least there is for these stretches; with them it is a good
    one.
    """
    return dispatched(Facts(problem), stages)


def dispatched(facts: Facts, stages: Mapping[str, int]) -> Played:
    problem = facts.problem
    stage = {j: stages[problem.works[j].key] for j in facts.works}
    wanted, taken, put = facts.moves(stage)
    begin: dict[str, int] = {}
    ended: dict[int, int] = {}
    tests: list[int] = []
    clock = hands_on = 0
    for t, test in enumerate(problem.tests):
        opened_at = clock
        nodes: dict[str, tuple[int, int, int]] = {}  # name -> minutes, release, cure days
        before: dict[str, list[tuple[str, int]]] = {}  # name -> (what it comes after, days of cure between)
        here = [j for j in facts.works if stage[j] == t]
        for x in taken[t]:
            nodes[f"off:{x}"] = (facts.off[x], opened_at, 0)
            before[f"off:{x}"] = [(f"off:{u}", 0) for u in problem.covers[x].under if u in taken[t]]
        for x in put[t]:
            nodes[f"on:{x}"] = (facts.on[x], opened_at, 0)
            before[f"on:{x}"] = [
                *((f"on:{y}", 0) for y, cover in enumerate(problem.covers) if x in cover.under and y in put[t]),
                *((f"work:{j}", 0) for j in here if x in facts.opening[j]),
                *((f"off:{x}", 0) for _ in [0] if x in taken[t]),
            ]
        for j in here:
            work = problem.works[j]
            release = max(opened_at, facts.release[j])
            for held in problem.held:
                if held.work == j:
                    release = max(release, facts.start[facts.day(tests[held.test]) + int(held.days[0])])
            for i in work.after:
                if i in ended:
                    cure = problem.works[i].cure_days
                    release = max(release, facts.start[facts.day(ended[i]) + cure] if cure else ended[i])
                elif i in stage and stage[i] > t:
                    raise ValueError(f"{work.key} comes before {problem.works[i].key}, which it comes after")
            nodes[f"work:{j}"] = (facts.minutes[j], release, work.cure_days)
            before[f"work:{j}"] = [
                *((f"off:{x}", 0) for x in facts.opening[j] if x in taken[t]),
                *((f"work:{i}", problem.works[i].cure_days) for i in work.after if stage.get(i) == t),
            ]
        clock = _dispatch(facts, nodes, before, clock, begin, ended, t)
        release = facts.test_release[t]
        for j in here:
            if problem.works[j].cure_days:
                release = max(release, facts.start[facts.day(ended[j]) + problem.works[j].cure_days])
        begin[test.key] = max(clock, release)
        clock = begin[test.key] + facts.test_minutes[t]
        tests.append(clock)
        hands_on += facts.test_minutes[t] + sum(minutes for minutes, _, _ in nodes.values())
    return Played(begin=begin, finish=clock, tests=tuple(tests), hands_on=hands_on)


def _dispatch(
    facts: Facts, nodes: Mapping[str, tuple[int, int, int]], before: Mapping[str, list[tuple[str, int]]], clock: int,
    begin: dict[str, int], ended: dict[int, int], stretch: int,
) -> int:
    after: dict[str, list[tuple[str, int]]] = {name: [] for name in nodes}
    for name, many in before.items():
        for other, cure in many:
            after[other].append((name, cure))
    tail: dict[str, tuple[int, int]] = {}

    def tail_of(name: str) -> tuple[int, int]:
        """Days of cure, then minutes, still to come behind it."""
        if name not in tail:
            behind = max((tail_of(other) for other, _ in after[name]), default=(0, 0))
            tail[name] = behind[0] + nodes[name][2], behind[1] + nodes[name][0]
        return tail[name]

    left = {name: len(before[name]) for name in nodes}
    release = {name: nodes[name][1] for name in nodes}
    waiting = [(release[name], name) for name in nodes if not left[name]]
    heapq.heapify(waiting)
    ready: list[tuple[tuple[int, int], str]] = []
    while waiting or ready:
        while waiting and waiting[0][0] <= clock:
            name = heapq.heappop(waiting)[1]
            days, minutes = tail_of(name)
            heapq.heappush(ready, ((-days, -minutes), name))
        if not ready:
            clock = waiting[0][0]
            continue
        name = heapq.heappop(ready)[1]
        kind, number = name.split(":")
        key = facts.problem.works[int(number)].key if kind == "work" else (
            f"{kind}:{facts.problem.covers[int(number)].key}:{stretch}"
        )
        begin[key] = clock
        clock += nodes[name][0]
        if kind == "work":
            ended[int(number)] = clock
        for other, cure in after[name]:
            free = facts.start[facts.day(clock) + cure] if cure else clock
            release[other] = max(release[other], free)
            left[other] -= 1
            if not left[other]:
                heapq.heappush(waiting, (release[other], other))
    return clock


def latest_that_pays(problem: Problem, stages: Mapping[str, int], *, weights: Weights | None = None) -> int:
    """Whatever ends later than this clock cannot be better than `stages`, even if each cover that it wants is moved
    only once and its first test comes as early as work and waits allow."""
    facts, weights = Facts(problem), weights or Weights()
    score = dispatched(facts, stages).score(weights)
    once = set[int]().union(*facts.opening.values(), *facts.opened_for_test)
    least = sum(facts.minutes[j] for j in facts.works) + sum(facts.test_minutes)
    least += sum(facts.off[x] * (not facts.problem.covers[x].off_at_start) + facts.on[x] for x in once)
    must = [j for j in facts.works if problem.works[j].last_stage == 0]
    releases = {0, *(facts.release[j] for j in must)}
    heads = [r + sum(facts.minutes[i] for i in must if facts.release[i] >= r) for r in releases]
    first = facts.test_minutes[0] + max(facts.test_release[0], *heads)
    return int((score - weights.first_test * first - weights.hands_on * least) / weights.finish)
