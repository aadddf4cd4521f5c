"""What comes before what, and what lies over what: the questions that all parts of the planner ask."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from wreckwright.futures.rebuild import BoolArray
from wreckwright.futures.rebuild_check import upward
from wreckwright.plan.types import Problem


def topological(before: Sequence[Sequence[int]]) -> list[int]:
    """All indices so that each stands after those in its list."""
    order: list[int] = []
    state = [0] * len(before)
    for first in range(len(before)):
        ahead = [first]
        while ahead:
            j = ahead[-1]
            if state[j] == 0:
                state[j] = 1
                ahead.extend(i for i in before[j] if state[i] == 0)
            else:
                ahead.pop()
                if state[j] == 1:
                    state[j] = 2
                    order.append(j)
    return order


def lines_upward(problem: Problem) -> list[frozenset[int]]:
    """Each cover with everything that must be off before it can come off."""
    return upward(problem.covers)


def shut_for(problem: Problem) -> list[list[frozenset[int]]]:
    """[J][T] covers that must be on for each work, were it done in each stretch.

    What work that comes after it wants off again is left out: nobody closes up for a test between two jobs.
    """
    _, _, closing = openings(problem)
    lines, works = lines_upward(problem), problem.works
    later: list[set[int]] = [set() for _ in works]
    for j in reversed(topological([list(work.after) for work in works])):
        for i in works[j].after:
            later[i] |= {j} | later[j]
    found = []
    for j, work in enumerate(works):
        wanted = {x for x in range(len(problem.covers)) if not lines[x].isdisjoint(work.shut)}
        for i in later[j]:
            wanted -= frozenset[int]().union(*(lines[x] for x in works[i].covers))
        found.append([frozenset(x for x in wanted if line[x]) for line in closing])
    return found


def openings(problem: Problem) -> tuple[BoolArray, BoolArray, BoolArray]:
    """[J, C] off for each work, [T, C] off and [T, C] on for each test."""
    n_covers, last = len(problem.covers), len(problem.tests) - 1
    lines = lines_upward(problem)

    def row(covers: tuple[int, ...]) -> list[bool]:
        off = frozenset[int]().union(*(lines[x] for x in covers))
        return [x in off for x in range(n_covers)]

    opening = np.array([row(work.covers) for work in problem.works], bool).reshape(len(problem.works), n_covers)
    test_opening = np.array([row(test.covers_off) for test in problem.tests], bool).reshape(last + 1, n_covers)
    closing = np.array(
        [[t == last or not lines[x].isdisjoint(test.covers_on) for x in range(n_covers)]
         for t, test in enumerate(problem.tests)], bool,
    ).reshape(last + 1, n_covers)
    return opening, test_opening, closing
