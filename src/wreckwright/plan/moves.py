"""Changes to a plan that the search tries: one work, all that lies behind one cover, each with what hangs on it."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from wreckwright.futures.draws import uniforms
from wreckwright.futures.rebuild import IntArray
from wreckwright.plan.links import openings, topological
from wreckwright.plan.types import Problem

FOLLOW_UP_SHARE = 0.08
"""Of the changes tried; where something hidden is put right matters little, as it goes where its covers are off."""
COVER_SHARE, GATHER_SHARE = 0.3, 0.1
"""All work of one stretch behind a cover; all work behind it, from whichever stretch."""
TRIES = 8

Change = dict[int, int]
"""Work -> its new stretch."""


class Luck:
    """Uniform numbers of one keyed stream, one after the other: the same on every machine and in every version.

    >>> first, second = Luck(7), Luck(7)
    >>> bool((first.take(5) == second.take(5)).all()), bool((first.take(5) == second.take(4)[:1]).all())
    (True, False)
    """

    def __init__(self, seed: int, *, block: int = 4096) -> None:
        self._seed, self._block, self._blocks = seed, block, 0
        self._left: npt.NDArray[np.float64] = np.zeros(0)

    def take(self, n: int) -> npt.NDArray[np.float64]:
        """The next `n`."""
        while len(self._left) < n:
            more = uniforms(seed=self._seed, purpose="running order", key=str(self._blocks), n=self._block)
            self._blocks += 1
            self._left = np.concatenate([self._left, more])
        taken, self._left = self._left[:n], self._left[n:]
        return taken


class Moves:
    """Every change keeps each work within its range, and no work before one that it comes after."""

    def __init__(self, problem: Problem) -> None:
        works = problem.works
        self.before = [list(work.after) for work in works]
        self.behind: list[list[int]] = [[] for _ in works]
        for j, before in enumerate(self.before):
            for i in before:
                self.behind[i].append(j)
        order = topological(self.before)
        self.first = [work.first_stage for work in works]
        self.last = [work.last_stage for work in works]
        for j in order:
            self.first[j] = max([self.first[j], *(self.first[i] for i in self.before[j])])
        for j in reversed(order):
            self.last[j] = min([self.last[j], *(self.last[i] for i in self.behind[j])])
        free = [j for j in range(len(works)) if self.first[j] < self.last[j]]
        self.known = [j for j in free if works[j].kind != "follow_up"]
        self.follow_ups = [j for j in free if works[j].kind == "follow_up"]
        opening, _, _ = openings(problem)
        self.covers = [
            found for found in ([j for j in self.known if opening[j, x]] for x in range(len(problem.covers)))
            if len(found) > 1
        ]

    @property
    def none(self) -> bool:
        return not self.known and not self.follow_ups

    def repaired(self, stages: list[int]) -> list[int]:
        """Each work in the stretch of `stages` that is nearest to it and allowed: not before what it comes after."""
        found = list(stages)
        for j in topological(self.before):
            low = max([self.first[j], *(found[i] for i in self.before[j])])
            found[j] = max(low, min(found[j], self.last[j]))
        return found

    def keeps_order(self, stages: IntArray, change: Change) -> bool:
        def stage(j: int) -> int:
            return change[j] if j in change else int(stages[j])

        return all(
            all(stage(i) <= new for i in self.before[j]) and all(stage(i) >= new for i in self.behind[j])
            for j, new in change.items()
        )

    def draw(self, stages: list[int], luck: Luck) -> Change:
        """A change at random; empty if none was found."""
        for _ in range(TRIES):
            kind, which, where = luck.take(3).tolist()
            change = self._drawn(stages, kind, which, where)
            if change:
                return change
        return {}

    def _drawn(self, stages: list[int], kind: float, which: float, where: float) -> Change:
        if self.follow_ups and (kind < FOLLOW_UP_SHARE or not self.known):
            j = self.follow_ups[int(which * len(self.follow_ups))]
            return self._with_all([(j, self._other(j, stages[j], where))], stages)
        if self.covers and kind < FOLLOW_UP_SHARE + COVER_SHARE + GATHER_SHARE:
            works = self.covers[int(which * len(self.covers))]
            chosen = works[int(where * len(works))]
            new = self._other(chosen, stages[chosen], where * len(works) % 1.0)
            if kind < FOLLOW_UP_SHARE + COVER_SHARE:
                works = [j for j in works if stages[j] == stages[chosen]]
            return self._with_all(
                [(j, min(max(new, self.first[j]), self.last[j])) for j in works if stages[j] != new], stages
            )
        j = self.known[int(which * len(self.known))]
        return self._with_all([(j, self._other(j, stages[j], where))], stages)

    def _other(self, j: int, now: int, where: float) -> int:
        """Another stretch of the range of work `j`."""
        new = self.first[j] + int(where * (self.last[j] - self.first[j]))
        return new + 1 if new >= now else new

    def _with_all(self, wanted: list[tuple[int, int]], stages: list[int]) -> Change:
        """What is wanted, with what must come along: earlier what it comes after, later what comes after it."""
        change: Change = {}
        ahead = [(j, new) for j, new in wanted if new != stages[j]]
        while ahead:
            j, new = ahead.pop()
            if j in change:
                if change[j] != new:
                    return {}
                continue
            if not self.first[j] <= new <= self.last[j]:
                return {}
            change[j] = new
            for i in self.before[j]:
                if change.get(i, stages[i]) > new:
                    ahead.append((i, new))
            for i in self.behind[j]:
                if change.get(i, stages[i]) < new:
                    ahead.append((i, new))
        return change
