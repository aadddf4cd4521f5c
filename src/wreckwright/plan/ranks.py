"""Who goes first, once it is settled in which stretch everything is done.

The order hardly changes when the rebuild is finished (docs/running-order.md): it decides what is known early, what has
time to cure, and whether an evening reads like one thought. Within each stretch: first what is tried on as soon as it
is here; then what shows suspects, by the waiting it can save for each minute it takes; then what other work or a test
must wait for after it, longest first; then what can be reached without taking anything more off.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

import numpy as np

from wreckwright.plan.closed_form import stage_row
from wreckwright.plan.links import lines_upward, openings, topological
from wreckwright.plan.types import NEVER_DAY, Problem

Habit = Literal["show_first", "cure_first"]
"""Which of the two goes first: what shows suspects, or what has to cure."""
TRY_ON = ":try_on"
LONGEST_LEAD_DAYS = 365
"""A part that never comes does not make the look at it worth more than this."""


def order_of(problem: Problem, stages: Mapping[str, int], *, habit: Habit = "show_first") -> tuple[str, ...]:
    """Keys of all works, movements of covers (`off:`, `on:`) and tests; the first that can be done is done.

    A cover comes off just before the first work that wants it off; covers go back on when nothing else can be done.
    Raises: AnswerError if a work has no stretch, or one outside its range.
    """
    row = stage_row(problem, stages)
    works, covers = problem.works, problem.covers
    opening, _, _ = openings(problem)
    masks = [sum(1 << x for x in np.flatnonzero(opening[j]).tolist()) for j in range(len(works))]
    usual_off = np.median(problem.off_minutes, axis=0).tolist() if problem.n_scenarios else []
    worth, tail, cures = _worth_of_showing(problem), _tails(problem, row.tolist()), _curing(problem)
    upper_first = topological([list(cover.under) for cover in covers])
    upward = lines_upward(problem)
    off_now = sum(1 << x for x, cover in enumerate(covers) if cover.off_at_start)
    emitted_off: set[int] = set()
    order: list[str] = []

    def extra(j: int) -> float:
        wanted = masks[j] & ~off_now
        return sum(usual_off[x] for x in range(len(covers)) if wanted >> x & 1) if wanted else 0.0

    def standing(j: int) -> tuple[int, float]:
        if works[j].key.endswith(TRY_ON):
            return 0, -tail[j]
        showing, curing = (1, 2) if habit == "show_first" else (2, 1)
        if worth[j] > 0.0 or works[j].kind == "look":
            return showing, -worth[j]
        if cures[j]:
            return curing, -tail[j]
        return 3, 0.0

    for stage in range(len(problem.tests)):
        mine = [j for j in range(len(works)) if row[j] == stage]
        place = {j: standing(j) for j in mine}
        waits = {j: [i for i in works[j].after if row[i] == stage] for j in mine}
        # What must come before something urgent is as urgent as that.
        for j in reversed(topological([waits.get(j, []) for j in range(len(works))])):
            for i in waits.get(j, []):
                place[i] = min(place[i], place[j])
        left = set(mine)
        while left:
            free = [j for j in left if not any(i in left for i in waits[j])]
            j = min(free, key=lambda j: (*place[j], extra(j), -tail[j], j))
            left.discard(j)
            for x in upper_first:
                if masks[j] >> x & 1 and x not in emitted_off:
                    emitted_off.add(x)
                    order.append(f"off:{covers[x].key}")
            if works[j].kind != "follow_up":  # most are not there
                off_now |= masks[j]
            order.append(works[j].key)
    order += [f"off:{covers[x].key}" for x in upper_first if x not in emitted_off]
    beneath_first = sorted(range(len(covers)), key=lambda x: (-len(upward[x]), x))
    # What is tested closed up comes as soon as it is closed: a wheel is spun while it is in and still off the ground.
    left_shut = {
        works[j].key: {x for x in range(len(covers)) if not upward[x].isdisjoint(works[j].shut)}
        for j in range(len(works)) if works[j].shut
    }
    tested = [key for key in order if key in left_shut]
    order = [key for key in order if key not in left_shut]
    for x in beneath_first:
        order.append(f"on:{covers[x].key}")
        for key in tested:
            left_shut[key].discard(x)
        order += [key for key in tested if not left_shut[key]]
        tested = [key for key in tested if left_shut[key]]
    order += tested
    order += [test.key for test in problem.tests]
    return tuple(order)


def _worth_of_showing(problem: Problem) -> list[float]:
    """Expected days of waiting that begin when the work is done, for each minute it takes."""
    lead = np.where(problem.lead_days >= NEVER_DAY, LONGEST_LEAD_DAYS, problem.lead_days) + 1.0
    entry, found = 0, []
    minutes = problem.minutes.mean(axis=0) if problem.n_scenarios else np.zeros(len(problem.works))
    for j, work in enumerate(problem.works):
        days = 0.0
        for f in work.shows:
            says = problem.says[:, entry] if problem.says is not None else True
            days += float((problem.present[:, f] * lead[:, f] * says).mean())
            entry += 1
        found.append(days / max(1.0, float(minutes[j])))
    return found


def _tails(problem: Problem, row: list[int]) -> list[float]:
    """Minutes of the longest chain after each work in its stretch, days of curing as the minutes planned on them."""
    planned = problem.hours.calendar.cumulative_minutes
    a_day = float(planned[-1]) / max(1, problem.hours.calendar.days)
    minutes = problem.minutes.mean(axis=0)
    behind: list[list[int]] = [[] for _ in problem.works]
    for j, work in enumerate(problem.works):
        for i in work.after:
            if row[i] == row[j]:
                behind[i].append(j)
    tail = [work.cure_days * a_day for work in problem.works]
    for j in topological(behind):
        tail[j] += max((float(minutes[i]) + tail[i] for i in behind[j]), default=0.0)
    return tail


def _curing(problem: Problem) -> list[bool]:
    """Whether it cures, or something that comes after it does."""
    found = [work.cure_days > 0 for work in problem.works]
    for j in reversed(topological([list(work.after) for work in problem.works])):
        if found[j]:
            for i in problem.works[j].after:
                found[i] = True
    return found
