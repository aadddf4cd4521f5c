"""What bench_plan.py measures plans by: cover time and what it is compared with, days and clocks, intervals."""

from __future__ import annotations

import numpy as np

from wreckwright.futures.rebuild import FINISHED, IntArray, LongArray, Played, Rebuild, Worlds
from wreckwright.plan.types import Course, Problem


def earliest(problem: Problem) -> dict[str, int]:
    """Every work as early as it and what it comes after allow."""
    stages = {work.key: work.first_stage for work in problem.works}
    moved = True
    while moved:
        moved = False
        for work in problem.works:
            least = max([stages[work.key], *(stages[problem.works[i].key] for i in work.after)])
            if least > stages[work.key]:
                stages[work.key], moved = least, True
    return stages


def cover_minutes(course: Course) -> int:
    return sum(
        piece.to_minute - piece.from_minute
        for step in course.steps if step.kind in ("off", "on") for piece in step.pieces
    )


def _openings(problem: Problem) -> list[tuple[frozenset[int], int, int]]:
    """Of each work that is there: covers in the way, first and last stretch."""
    up = [frozenset([x]) for x in range(len(problem.covers))]
    for _ in problem.covers:
        up = [line.union(*(up[u] for x in line for u in problem.covers[x].under)) for line in up]
    stages = earliest(problem)
    return [
        (frozenset[int]().union(*(up[x] for x in work.covers)), stages[work.key], work.last_stage)
        for j, work in enumerate(problem.works) if problem.present[0, j]
    ]


def _off_and_on(problem: Problem, opening: frozenset[int]) -> int:
    return sum(int(problem.off_minutes[0, x] + problem.on_minutes[0, x]) for x in opening)


def cover_minutes_one_by_one(problem: Problem) -> int:
    """Everything in the way of a job comes off for it and goes on again."""
    return sum(_off_and_on(problem, opening) for opening, _, _ in _openings(problem))


def cover_minutes_by_cover(problem: Problem) -> int:
    """All jobs behind the same covers in one go, as far as some stretch is allowed to all of them; then closed up."""
    total = 0
    groups: dict[frozenset[int], list[tuple[int, int]]] = {}
    for opening, first, last in _openings(problem):
        groups.setdefault(opening, []).append((last, first))
    for opening, ranges in groups.items():
        opened, at = 0, -1
        for last, first in sorted(ranges):  # as few stretches as meet all ranges: the earliest end first
            if first > at:
                opened, at = opened + 1, last
        total += opened * _off_and_on(problem, opening)
    return total


def next_evening(course: Course) -> tuple[str, ...]:
    """Keys of what the first evening with anything in it holds."""
    first = min((piece.day for step in course.steps for piece in step.pieces), default=-1)
    return tuple(step.key for step in course.steps if any(piece.day == first for piece in step.pieces))


def finish_days(outcome: Played) -> IntArray:
    return outcome.day[outcome.status == FINISHED]


def clock_of(rebuild: Rebuild, worlds: Worlds, days: IntArray) -> LongArray:
    """Own working minutes by the beginning of a day."""
    planned = rebuild.cumulative_minutes[np.maximum(days, 0)].astype(np.int64)
    clock: LongArray = planned * worlds.attendance_permille // 1000
    return clock


def wilson(share: float, n: int, z: float = 1.96) -> tuple[float, float]:
    """95 % interval of a share."""
    middle = (share + z * z / (2 * n)) / (1 + z * z / n)
    half = z * np.sqrt(share * (1 - share) / n + z * z / (4 * n * n)) / (1 + z * z / n)
    return float(middle - half), float(middle + half)
