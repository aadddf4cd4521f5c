"""A problem as arrays, for scoring many plans: what does not depend on the plan is worked out once.

Axes: S scenarios, J works, C covers, T tests. A *find* is a follow-up in a scenario in which it is present: there are
few of them, so they are kept as a list of G pairs (scenario, work), and not as a table.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from wreckwright.futures.hours import NEVER_CLOCK
from wreckwright.futures.rebuild import BoolArray, IntArray, LongArray
from wreckwright.plan.links import lines_upward, openings, topological
from wreckwright.plan.types import Problem

Index = npt.NDArray[np.intp]
Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class Clock:
    """From minutes to days and back in every scenario, by look-up."""

    start: LongArray
    """[S * (D + 1)] first minute of each day; `NEVER_CLOCK` from the end of the calendar on."""
    days: int
    day_of_minute: npt.NDArray[np.int16]
    share: Floats
    """[S]"""

    def later(self, scenario: Index, clock: LongArray, days: LongArray) -> LongArray:
        """First minute of the day `days` after that on which a piece of work ends at `clock`; all three broadcast."""
        planned = (clock * 1000.0 - 0.5) / self.share[scenario]
        np.minimum(planned, len(self.day_of_minute) - 1, out=planned)
        day = self.day_of_minute.take(planned.astype(np.int64), mode="clip").astype(np.int64)
        day[clock <= 0] = 0
        return self.begin(scenario, day + days)

    def begin(self, scenario: Index, day: LongArray) -> LongArray:
        begun: LongArray = self.start.take(np.minimum(day, self.days) + scenario * (self.days + 1))
        return begun


@dataclass(frozen=True, kw_only=True)
class Covers:
    """Which covers are wanted off by what."""

    opening: BoolArray
    """[J, C] off for the work, those above included."""
    test_opening: BoolArray
    """[T, C]"""
    closing: BoolArray
    """[T, C] on for the test."""
    off_at_start: BoolArray
    """[C]"""
    pair_work: Index
    """[N] of all pairs (work, cover in its opening), sorted by cover."""
    pair_cover: Index
    pair_chain: LongArray
    """[S, N] minutes of the covers that go back on between the work and the cover."""
    pair_head: LongArray
    """[S, N] a moment before which the cover cannot go back on, by that work; 0 for works whose head depends on the
    plan, and for follow-ups."""


@dataclass(frozen=True, kw_only=True)
class FindTable:
    """G finds, N entries by which a known work shows one."""

    scenario: Index
    work: Index
    place: Index
    """[G] among the finds of its scenario."""
    most: int
    """Most finds of one scenario."""
    minutes: LongArray
    release: LongArray
    """[G] clock from which on it could be begun, had it been known."""
    lead: LongArray
    cure: LongArray
    opening: npt.NDArray[np.float32]
    """[S, most, C]"""
    entry_find: Index
    """[N] ascending."""
    entry_work: Index
    chain_find: Index
    """[M] ascending: of all pairs by which one find shows another, the one shown."""
    chain_by: Index
    shown_by_test: BoolArray
    """[T, G]"""
    pair_find: Index
    """[P] of all pairs (find, cover in its opening), sorted by scenario and cover."""
    pair_at: Index
    """[P] scenario * C + cover."""
    pair_after: LongArray
    """[P] minutes of the find, and of the covers that go back on between it and the cover."""


@dataclass(frozen=True, kw_only=True)
class Table:
    problem: Problem
    clock: Clock
    covers: Covers
    known: BoolArray
    """[J] job or look."""
    minutes: LongArray
    """[S, J] 0 where absent."""
    heads: LongArray
    """[S, J] a moment before which the work cannot be begun under any plan."""
    moving: BoolArray
    """[J] its head depends on the plan, or it cures."""
    packed: LongArray
    """[S, J] heads and minutes in one number, see `pack`."""
    levels: tuple[tuple[Index, Index], ...]
    """Links (before, after) along which a moment that depends on the plan moves on, so that each level can be done at
    once after the one before it."""
    held: tuple[tuple[Index, LongArray], ...]
    """By test: works that wait for an order placed after it, and [S, works] how long."""
    cure: LongArray
    """[J] days; 0 for follow-ups (`FindTable.cure`)."""
    finds: FindTable
    test_release: LongArray
    """[S, T]"""
    end: LongArray
    """[S] last minute of the calendar."""


_MINUTE_BITS = 24
MINUTES = (1 << _MINUTE_BITS) - 1
"""A piece of work takes no more than this."""


def pack(moment: LongArray, minutes: LongArray) -> LongArray:
    """A moment and the minutes of a piece of work as one number, so that both are sorted at once by the moment."""
    packed: LongArray = moment << _MINUTE_BITS
    packed |= minutes
    return packed


def moment_of(packed: LongArray) -> LongArray:
    moment: LongArray = packed >> _MINUTE_BITS
    return moment


def table_of(problem: Problem, *, dropped: frozenset[tuple[int, int]] = frozenset()) -> Table:
    """`dropped`: links (before, after) that are not to be kept: the former is done in a later stretch."""
    hours, works = problem.hours, problem.works
    n_scenarios, n_works = problem.minutes.shape
    days, calendar = hours.calendar.days, hours.calendar
    rows = np.arange(n_scenarios)
    start = hours.start(rows, np.broadcast_to(np.arange(days + 1), (n_scenarios, days + 1)))
    clock = Clock(
        start=start.reshape(-1), days=days, day_of_minute=calendar.day_of_minute,
        share=hours.attendance_permille.astype(np.float64),
    )
    minutes = np.where(problem.present, problem.minutes, 0).astype(np.int64)
    known = np.array([work.kind != "follow_up" for work in works], bool).reshape(n_works)
    cure = np.array([work.cure_days if work.kind != "follow_up" else 0 for work in works], np.int64).reshape(n_works)
    after = [[i for i in work.after if (i, j) not in dropped and known[i]] for j, work in enumerate(works)]
    column = rows[:, None]
    heads = clock.begin(column, _with_help(problem, problem.release_day, [work.helper for work in works]))
    turn = topological(after)
    for j in turn:
        for i in after[j]:
            ends = heads[:, i] + minutes[:, i]
            if cure[i]:
                ends = np.maximum(ends, clock.later(rows, ends, cure[i]))
            heads[:, j] = np.maximum(heads[:, j], ends)
    np.minimum(heads, NEVER_CLOCK, out=heads)
    held = []
    for t in range(len(problem.tests)):
        mine: dict[int, LongArray] = {}
        for order in problem.held:
            if order.test == t:
                days_to_come = order.days.astype(np.int64)
                mine[order.work] = np.maximum(mine.get(order.work, days_to_come), days_to_come)
        held.append((
            np.array(list(mine), np.intp),
            np.stack(list(mine.values()), axis=1) if mine else np.zeros((n_scenarios, 0), np.int64),
        ))
    levels = _levels(after, turn, known, cure, {h.work for h in problem.held})
    moving = cure > 0
    for _, targets in levels:
        moving[targets] = True
    moving[[order.work for order in problem.held]] = True
    moving &= known
    covers = _covers(problem, np.where(known & ~moving, heads + minutes, 0), known & ~moving)
    return Table(
        problem=problem, clock=clock, covers=covers, known=known, minutes=minutes, heads=heads, moving=moving,
        packed=pack(heads, minutes), levels=levels, held=tuple(held), cure=cure,
        finds=_finds(problem, known, minutes, heads, covers),
        test_release=clock.begin(
            column, _with_help(problem, problem.test_release_day, [test.helper for test in problem.tests])
        ),
        end=hours.end_of_calendar,
    )


def _with_help(problem: Problem, release_day: IntArray, helper: list[bool]) -> LongArray:
    """`release_day` [S, n], for what takes two the first helper day from then on."""
    days = release_day.astype(np.int64)
    if problem.helper_day is None or not any(helper):
        return days
    last = len(problem.helper_day)
    when = np.append(np.where(problem.helper_day, np.arange(last), last), last)
    following = np.minimum.accumulate(when[::-1])[::-1]
    return np.where(helper, np.where(days < last, following[np.minimum(days, last)], days), days)


def _levels(
    after: list[list[int]], turn: list[int], known: BoolArray, cure: LongArray, held: set[int]
) -> tuple[tuple[Index, Index], ...]:
    level = [0] * len(after)
    links: dict[int, list[tuple[int, int]]] = {}
    moves = set(held)
    for j in turn:
        mine = [i for i in after[j] if known[j] and (i in moves or cure[i])]
        if mine:
            moves.add(j)
            level[j] = 1 + max(level[i] for i in mine)
            links.setdefault(level[j], []).extend((i, j) for i in mine)
    pairs = [np.array(links[k], np.intp) for k in sorted(links)]
    return tuple((pair[:, 0], pair[:, 1]) for pair in pairs)


def _covers(problem: Problem, ends: LongArray, fixed: BoolArray) -> Covers:
    opening, test_opening, closing = openings(problem)
    pair_cover, pair_work = np.nonzero(opening.T)
    chains = _chains(problem)
    upward = lines_upward(problem)
    chain = np.zeros((problem.n_scenarios, len(pair_work)), np.int64)
    for n, (x, j) in enumerate(zip(pair_cover.tolist(), pair_work.tolist(), strict=True)):
        for y in np.flatnonzero(opening[j]).tolist():
            if y != x and x in upward[y]:
                np.maximum(chain[:, n], chains[y, x], out=chain[:, n])
    return Covers(
        opening=opening, test_opening=test_opening, closing=closing,
        off_at_start=np.array([cover.off_at_start for cover in problem.covers], bool),
        pair_work=pair_work, pair_cover=pair_cover, pair_chain=chain,
        pair_head=(ends[:, pair_work] + chain) * fixed[pair_work],
    )


def _chains(problem: Problem) -> dict[tuple[int, int], LongArray]:
    """(cover, one above it) -> [S] longest minutes of putting on that cover and those between, the upper left out."""
    on = problem.on_minutes.astype(np.int64)
    found: dict[tuple[int, int], LongArray] = {}
    for y in topological([list(cover.under) for cover in problem.covers]):
        for u in problem.covers[y].under:
            found[y, u] = np.maximum(found.get((y, u), on[:, y]), on[:, y])
            for (a, x), chain in list(found.items()):
                if a == u:
                    through = on[:, y] + chain
                    found[y, x] = np.maximum(found.get((y, x), through), through)
    return found


def _finds(
    problem: Problem, known: BoolArray, minutes: LongArray, heads: LongArray, covers: Covers
) -> FindTable:
    n_scenarios, n_covers, n_tests = problem.n_scenarios, len(problem.covers), len(problem.tests)
    entries = [(j, f) for j, work in enumerate(problem.works) for f in work.shows]
    n_of_works = len(entries)
    entries += [(t, f) for t, test in enumerate(problem.tests) for f in test.shows]
    says = problem.says if problem.says is not None else np.ones((n_scenarios, len(entries)), bool)
    there = problem.present & ~known
    scenario, work = np.nonzero(there)
    place = np.concatenate([np.arange(k) for k in there.sum(axis=1)]) if len(work) else np.zeros(0, np.intp)
    most = int(there.sum(axis=1).max(initial=0))
    number = np.full(there.shape, -1, np.intp)
    number[scenario, work] = np.arange(len(work))
    pairs = [
        (int(number[s, f]), j)
        for e, (j, f) in enumerate(entries[:n_of_works]) if known[j]
        for s in np.flatnonzero(says[:, e] & there[:, f]).tolist()
    ]
    pairs.sort()
    chain = sorted(
        (int(number[s, f]), int(number[s, j]))
        for e, (j, f) in enumerate(entries[:n_of_works]) if not known[j] and j != f
        for s in np.flatnonzero(says[:, e] & there[:, f] & there[:, j]).tolist()
    )
    by_test = np.zeros((n_tests, len(work)), bool)
    for e, (t, f) in enumerate(entries[n_of_works:], start=n_of_works):
        for s in np.flatnonzero(says[:, e] & there[:, f]).tolist():
            by_test[t, number[s, f]] = True
    opening = np.zeros((n_scenarios, most, n_covers), np.float32)
    opening[scenario, place] = covers.opening[work]
    chain_of = {
        (int(j), int(x)): n
        for n, (j, x) in enumerate(zip(covers.pair_work.tolist(), covers.pair_cover.tolist(), strict=True))
    }
    at = sorted(
        (int(s) * n_covers + x, g)
        for g, (s, f) in enumerate(zip(scenario.tolist(), work.tolist(), strict=True))
        for x in np.flatnonzero(covers.opening[f]).tolist()
    )
    pair_find = np.array([g for _, g in at], np.intp)
    pair_at = np.array([a for a, _ in at], np.intp)
    after = np.array(
        [minutes[scenario[g], work[g]] + covers.pair_chain[scenario[g], chain_of[int(work[g]), a % n_covers]]
         for a, g in at], np.int64,
    )
    cures = np.array([entry.cure_days for entry in problem.works], np.int64).reshape(len(problem.works))
    return FindTable(
        scenario=scenario, work=work, place=place.astype(np.intp), most=most, minutes=minutes[scenario, work],
        release=heads[scenario, work], lead=problem.lead_days[scenario, work].astype(np.int64), cure=cures[work],
        opening=opening, entry_find=np.array([g for g, _ in pairs], np.intp),
        entry_work=np.array([j for _, j in pairs], np.intp), chain_find=np.array([g for g, _ in chain], np.intp),
        chain_by=np.array([by for _, by in chain], np.intp), shown_by_test=by_test, pair_find=pair_find,
        pair_at=pair_at, pair_after=after,
    )
