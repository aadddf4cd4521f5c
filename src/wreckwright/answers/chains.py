"""How much comes after each piece of work: the longest chain, waiting counted as the working time that passes."""

from __future__ import annotations

from collections.abc import Mapping
from graphlib import TopologicalSorter

from wreckwright.plan.types import Problem

AHEAD_DAYS = 28
"""Working minutes of a day are taken as the mean over so many days from today: four whole weeks."""


def minutes_a_day(problem: Problem) -> float:
    """Own working minutes of a usual day, days without work counted in, in the first scenario."""
    planned = problem.hours.calendar.cumulative_minutes
    days = min(AHEAD_DAYS, len(planned) - 1)
    return float(planned[days]) / days * float(problem.hours.attendance_permille[0]) / 1000.0


def tail_minutes(problem: Problem, stages: Mapping[str, int]) -> dict[str, float]:
    """Key of each work and test -> length [minutes] of the longest chain of work that comes after it.

    What cures, and what is ordered after a test, counts with the minutes that are worked on a usual day. Of work that
    is not there in the first scenario nothing is counted. `stages`: key of every work -> its stretch.
    """
    a_day = minutes_a_day(problem)
    works, tests = problem.works, problem.tests
    minutes = {work.key: float(problem.minutes[0, j]) for j, work in enumerate(works) if problem.present[0, j]}
    minutes |= {test.key: float(problem.test_minutes[0, t]) for t, test in enumerate(tests)}
    after: dict[str, list[tuple[str, float]]] = {key: [] for key in minutes}
    for work in works:
        if work.key not in minutes:
            continue
        cures = work.cure_days * a_day
        for i in work.after:
            if works[i].key in minutes:
                after[works[i].key].append((work.key, works[i].cure_days * a_day))
        after[work.key].append((tests[stages[work.key]].key, cures))
        if work.first_stage > 0:
            after[tests[work.first_stage - 1].key].append((work.key, 0.0))
    for earlier, later in zip(tests, tests[1:], strict=False):
        after[earlier.key].append((later.key, 0.0))
    for held in problem.held:
        if works[held.work].key in minutes:
            after[tests[held.test].key].append((works[held.work].key, float(held.days[0]) * a_day))
    tails: dict[str, float] = {}
    for key in TopologicalSorter({key: [one for one, _ in then] for key, then in after.items()}).static_order():
        tails[key] = max((wait + minutes[one] + tails[one] for one, wait in after[key]), default=0.0)
    return tails
