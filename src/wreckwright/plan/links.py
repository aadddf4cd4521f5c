"""What comes before what, and what lies over what: the questions that all parts of the planner ask."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from wreckwright.futures.rebuild import BoolArray
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
    found: dict[int, frozenset[int]] = {}
    for x in topological([list(cover.under) for cover in problem.covers]):
        found[x] = frozenset([x]).union(*(found[u] for u in problem.covers[x].under))
    return [found[x] for x in range(len(problem.covers))]


def openings(problem: Problem) -> tuple[BoolArray, BoolArray, BoolArray]:
    """[J, C] off for each work, [T, C] off and [T, C] on for each test."""
    n_covers, last = len(problem.covers), len(problem.tests) - 1
    upward = lines_upward(problem)

    def row(covers: tuple[int, ...]) -> list[bool]:
        off = frozenset[int]().union(*(upward[x] for x in covers))
        return [x in off for x in range(n_covers)]

    opening = np.array([row(work.covers) for work in problem.works], bool).reshape(len(problem.works), n_covers)
    test_opening = np.array([row(test.covers_off) for test in problem.tests], bool).reshape(last + 1, n_covers)
    closing = np.array(
        [[t == last or not upward[x].isdisjoint(test.covers_on) for x in range(n_covers)]
         for t, test in enumerate(problem.tests)], bool,
    ).reshape(last + 1, n_covers)
    return opening, test_opening, closing
