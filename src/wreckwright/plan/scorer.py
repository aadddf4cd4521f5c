"""Stretch by stretch: the score of several plans in all scenarios at once (docs/running-order.md, The closed form).

Axes: B plans, S scenarios, n works of the stretch, C covers, T tests, G finds.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from wreckwright.futures.hours import NEVER_CLOCK
from wreckwright.futures.rebuild import BoolArray, IntArray, LongArray
from wreckwright.plan.tables import MINUTES, Index, Table, moment_of, pack
from wreckwright.plan.types import Weights


@dataclass(frozen=True, kw_only=True)
class Scores:
    """B plans."""

    finish: LongArray
    """[B, S]"""
    tests: LongArray
    """[B, S, T]"""
    hands_on: LongArray
    """[B, S, T] up to each test, itself included."""

    def weighed(self, weights: Weights, *, end: LongArray, ends_at: IntArray | None) -> npt.NDArray[np.float64]:
        """[B] as `Weights` says; `end` [S]: what lies after the end of the calendar counts as that."""
        n_tests = self.tests.shape[2]
        if ends_at is None:
            finish, hands_on = np.minimum(self.finish, end).mean(axis=1), self.hands_on[:, :, -1].mean(axis=1)
        else:
            goes_on = np.flatnonzero(ends_at == n_tests)
            finish = np.zeros(len(self.finish))
            if len(goes_on):
                finish = np.minimum(self.finish, end)[:, goes_on].mean(axis=1)
            until = np.minimum(ends_at, n_tests - 1)
            hands_on = self.hands_on[:, np.arange(len(until)), until].mean(axis=1)
        first = np.minimum(self.tests[:, :, 0], end).mean(axis=1)
        return np.asarray(weights.finish * finish + weights.first_test * first + weights.hands_on * hands_on)


def scores(table: Table, stages: npt.NDArray[np.integer]) -> Scores:
    """`stages` [B, J], each within the range of its work."""
    return _Run(table, stages).play()


class _Run:
    """One reckoning; what is true at the beginning of the stretch that is next."""

    def __init__(self, table: Table, stages: npt.NDArray[np.integer]) -> None:
        problem, covers = table.problem, table.covers
        self.table, self.stages = table, stages
        n_plans, n_scenarios = len(stages), problem.n_scenarios
        n_tests, n_covers = len(problem.tests), len(problem.covers)
        self.clock: LongArray = np.zeros((n_plans, n_scenarios), np.int64)
        self.hands_on: LongArray = np.zeros((n_plans, n_scenarios), np.int64)
        self.off: BoolArray = np.broadcast_to(covers.off_at_start, (n_plans, n_scenarios, n_covers)).copy()
        self.tests: LongArray = np.zeros((n_plans, n_scenarios, n_tests), np.int64)
        self.hands_on_by_test = self.tests.copy()
        self.column = np.arange(n_scenarios)[:, None]
        known = np.flatnonzero(table.known)
        member = (stages[:, None, known] == np.arange(n_tests)[:, None]).astype(np.float32)
        self.wanted: BoolArray = (member @ covers.opening[known].astype(np.float32) > 0.5) | covers.test_opening
        """[B, T, C] off at some time in the stretch, for what is known."""
        self.known_minutes: LongArray = (
            member.astype(np.float64) @ table.minutes[:, known].T.astype(np.float64)
        ).astype(np.int64)
        """[B, T, S] of all that is known in each stretch."""
        self.off_minutes, self.on_minutes = problem.off_minutes.astype(np.int64), problem.on_minutes.astype(np.int64)
        self.released = {t: np.zeros((0, 0, 0), np.int64) for t in range(n_tests)}
        finds = table.finds
        self.has_finds = len(finds.work) > 0
        self.find_minutes = np.zeros((n_scenarios, finds.most))
        self.find_minutes[finds.scenario, finds.place] = finds.minutes
        self.find_stage = np.full((n_plans, len(finds.work)), n_tests, np.intp)
        self.find_release: LongArray = np.broadcast_to(finds.release, (n_plans, len(finds.work))).copy()
        self.gap: LongArray | None = None
        """[B, S] minutes for which a way round lets the hands rest, before this stretch."""
        self.before_gap: LongArray = self.clock
        self.place = np.full(len(problem.works), -1, np.intp)

    def play(self) -> Scores:
        for stage in range(len(self.table.problem.tests)):
            self._stretch(stage)
        return Scores(finish=self.clock, tests=self.tests, hands_on=self.hands_on_by_test)

    def _stretch(self, k: int) -> None:
        table, finds, problem = self.table, self.table.finds, self.table.problem
        there = self.stages == k
        columns = np.flatnonzero(there.any(axis=0) & table.known)
        moving = columns[table.moving[columns]]
        heads, ends_late = self._moved(k, moving, there[:, None, moving]) if len(moving) else (None, None)
        wanted = np.broadcast_to(self.wanted[:, k, None, :], self.off.shape)
        all_minutes = self.known_minutes[:, k]
        here = np.zeros((len(self.stages), 0), bool)
        if self.has_finds:
            self._discover(k, columns, there, heads)
            self._one_by_another(k)
            here = self.find_stage == k
            if here.any():
                in_place = self._in_place(here)
                wanted = wanted | self._opened(in_place)
                all_minutes = all_minutes + np.matmul(
                    in_place.transpose(1, 0, 2).astype(np.float64), self.find_minutes[:, :, None]
                )[:, :, 0].T.astype(np.int64)
                ends_late = self._cured_finds(here, ends_late)
        closing = table.covers.closing[k]
        going_off = wanted & ~self.off
        bare = wanted | self.off
        going_on = bare & closing
        self.off = bare & ~closing
        on_minutes = going_on * self.on_minutes
        covers = (going_off * self.off_minutes).sum(axis=2) + on_minutes.sum(axis=2)
        self.hands_on += all_minutes + covers
        ready = self.clock + all_minutes + covers
        if self.gap is not None:
            ready -= self._used_gap(k, columns, there, self.gap)
        earliest = self.clock.min(axis=0)[:, None]
        late = columns[~table.moving[columns]]
        late = late[(table.heads[:, late] > earliest).any(axis=0)]
        if len(late) or heads is not None or here.any():
            n_late, n_moving, n_finds = len(late), len(moving), finds.most if here.any() else 0
            packed = np.empty((*self.clock.shape, n_late + n_moving + n_finds + len(problem.covers)), np.int64)
            np.multiply(table.packed[:, late], there[:, None, late], out=packed[:, :, :n_late])
            if heads is not None:
                minutes = table.minutes[:, moving] * there[:, None, moving]
                packed[:, :, n_late : n_late + n_moving] = pack(heads, minutes)
            if n_finds:
                found = packed[:, :, n_late + n_moving : n_late + n_moving + n_finds]
                found[:] = 0
                found[:, finds.scenario, finds.place] = pack(self.find_release, finds.minutes) * here
            on_heads = self._on_heads(k, columns, moving, there, heads, here, earliest)
            packed[:, :, n_late + n_moving + n_finds :] = pack(on_heads * going_on, on_minutes)
            ready = np.maximum(ready, last_block(packed))
        if ends_late is not None:
            ready = np.maximum(ready, ends_late)
        self._test(k, np.minimum(ready, NEVER_CLOCK))

    def _moved(self, k: int, moving: Index, member: BoolArray) -> tuple[LongArray, LongArray | None]:
        """Heads [B, S, m] of the works `moving`, with orders held back and curing counted; and [B, S] when the last of
        the stretch has cured, None if nothing cures."""
        table, clock, place = self.table, self.table.clock, self.place
        place[moving] = np.arange(len(moving))
        heads = table.heads[:, moving] * member
        minutes = table.minutes[:, moving] * member
        for t, (works, _) in enumerate(table.held[:k]):
            at = np.flatnonzero(place[works] >= 0)
            if len(at):
                here = place[works[at]]
                heads[:, :, here] = np.maximum(heads[:, :, here], self.released[t][:, :, at] * member[:, :, here])
        for before, after in table.levels:
            kept = np.flatnonzero((place[before] >= 0) & (place[after] >= 0))
            if not len(kept):
                continue
            source, target = place[before[kept]], place[after[kept]]
            ends = heads[:, :, source] + minutes[:, :, source]
            cure = table.cure[before[kept]]
            cured = np.flatnonzero(cure)
            if len(cured):
                latest = np.maximum(heads[:, :, source[cured]], self.clock[:, :, None]) + minutes[:, :, source[cured]]
                ends[:, :, cured] = np.maximum(ends[:, :, cured], clock.later(self.column, latest, cure[cured]))
            ends *= member[:, :, source] & member[:, :, target]
            first = np.flatnonzero(np.diff(target, prepend=-1))
            target = target[first]
            heads[:, :, target] = np.maximum(heads[:, :, target], np.maximum.reduceat(ends, first, axis=2))
        curing = np.flatnonzero((table.cure > 0) & (place >= 0))
        late: LongArray | None = None
        if len(curing):
            at = place[curing]
            ends = np.maximum(heads[:, :, at], self.clock[:, :, None]) + minutes[:, :, at]
            late = (clock.later(self.column, ends, table.cure[curing]) * member[:, :, at]).max(axis=2)
        place[moving] = -1
        return heads, late

    def _discover(self, k: int, columns: Index, there: BoolArray, heads: LongArray | None) -> None:
        """What the works of the stretch bring to light: when, and in which stretch it is put right."""
        table, finds, place = self.table, self.table.finds, self.place
        place[columns] = np.arange(len(columns))
        at = np.flatnonzero(place[finds.entry_work] >= 0)
        place[columns] = -1
        if not len(at):
            return
        find, work = finds.entry_find[at], finds.entry_work[at]
        scenario = finds.scenario[find]
        ends = np.maximum(self.clock[:, scenario], table.heads[scenario, work])
        if heads is not None:
            moves = np.flatnonzero(table.moving[work])
            moving = columns[table.moving[columns]]
            place[moving] = np.arange(len(moving))
            ends[:, moves] = np.maximum(ends[:, moves], heads[:, scenario[moves], place[work[moves]]])
            place[moving] = -1
        ends += table.minutes[scenario, work]
        ends[~there[:, work]] = NEVER_CLOCK
        first = np.flatnonzero(np.diff(find, prepend=-1))
        self._found(k, find[first], np.minimum.reduceat(ends, first, axis=1))

    def _one_by_another(self, k: int) -> None:
        """What the putting right of one thing brings to light of others, and so on."""
        finds, last_test = self.table.finds, len(self.table.problem.tests)
        pairs = np.arange(len(finds.chain_by))
        while len(pairs):
            shown, by = finds.chain_find[pairs], finds.chain_by[pairs]
            now = (self.find_stage[:, by] == k) & (self.find_stage[:, shown] == last_test)
            now &= self.find_release[:, by] < NEVER_CLOCK
            kept = now.any(axis=0)
            pairs, shown, by, now = pairs[kept], shown[kept], by[kept], now[:, kept]
            if len(pairs):
                ends = np.maximum(self.find_release[:, by], self.clock[:, finds.scenario[by]]) + finds.minutes[by]
                np.minimum(ends, NEVER_CLOCK - 1, out=ends)
                ends[~now] = NEVER_CLOCK
                first = np.flatnonzero(np.diff(shown, prepend=-1))
                self._found(k, shown[first], np.minimum.reduceat(ends, first, axis=1))

    def _found(self, k: int, find: Index, when: LongArray) -> None:
        """Finds `find` [g] come to light in stretch `k` at `when` [B, g], `NEVER_CLOCK`: they do not."""
        finds = self.table.finds
        new = (when < NEVER_CLOCK) & (self.find_stage[:, find] == len(self.table.problem.tests))
        if not new.any():
            return
        first, later = self._stages_of_finds(k)
        stage = np.where(
            (first[:, finds.work[find]] == k) & self._bare_now(k, find), k, later[:, finds.work[find]]
        )
        self.find_stage[:, find] = np.where(new, stage, self.find_stage[:, find])
        here = np.maximum(when, self.table.clock.later(finds.scenario[find], when, finds.lead[find]))
        self.find_release[:, find] = np.where(
            new, np.maximum(self.find_release[:, find], here), self.find_release[:, find]
        )

    def _stages_of_finds(self, k: int) -> tuple[Index, Index]:
        """[B, J] first stretch in which a follow-up that comes to light in stretch `k` may be put right; and where that
        is done, if its covers are not off now: where they are off anyway, or else in the first."""
        works, covers, last_test = self.table.problem.works, self.table.covers, len(self.table.problem.tests) - 1
        latest: IntArray = np.array([work.last_stage for work in works], np.int32)
        latest[latest < k] = last_test
        first: Index = np.minimum(np.maximum(self.stages, k), latest).astype(np.intp)
        chosen = first.copy()
        size = covers.opening.sum(axis=1)
        for stage in range(last_test, k - 1, -1):
            anyway = self.wanted[:, stage].astype(np.float32) @ covers.opening.T.astype(np.float32) > size - 0.5
            chosen = np.where(anyway & (stage >= first) & (stage <= latest), stage, chosen)
        return first, chosen

    def _bare_now(self, k: int, find: Index) -> BoolArray:
        """[B, g] whether all covers of the finds are off in this stretch, other finds counted."""
        finds = self.table.finds
        bare = self.wanted[:, k, None, :] | self.off
        here = self.find_stage == k
        if here.any():
            bare = bare | self._opened(self._in_place(here))
        shut: BoolArray = ~bare[:, finds.scenario[find]]
        shut &= self.table.covers.opening[finds.work[find]]
        open_all: BoolArray = np.all(~shut, axis=2)
        return open_all

    def _in_place(self, here: BoolArray) -> BoolArray:
        """[B, S, most] the finds `here` [B, G] by scenario."""
        finds = self.table.finds
        in_place: BoolArray = np.zeros((*self.clock.shape, finds.most), bool)
        in_place[:, finds.scenario, finds.place] = here
        return in_place

    def _opened(self, in_place: BoolArray) -> BoolArray:
        """[B, S, C] covers that the finds `in_place` [B, S, most] want off."""
        opened = np.matmul(in_place.transpose(1, 0, 2).astype(np.float32), self.table.finds.opening) > 0.5
        wanted: BoolArray = opened.transpose(1, 0, 2)
        return wanted

    def _cured_finds(self, here: BoolArray, late: LongArray | None) -> LongArray | None:
        finds = self.table.finds
        curing = np.flatnonzero((finds.cure > 0) & here.any(axis=0))
        if not len(curing):
            return late
        scenario = finds.scenario[curing]
        ends = np.maximum(self.find_release[:, curing], self.clock[:, scenario]) + finds.minutes[curing]
        cured = self.table.clock.later(scenario, ends, finds.cure[curing]) * here[:, curing]
        latest = np.zeros_like(self.clock) if late is None else late
        first = np.flatnonzero(np.diff(scenario, prepend=-1))
        rows = scenario[first]
        latest[:, rows] = np.maximum(latest[:, rows], np.maximum.reduceat(cured, first, axis=1))
        return latest

    def _on_heads(
        self, k: int, columns: Index, moving: Index, there: BoolArray, heads: LongArray | None, here: BoolArray,
        earliest: LongArray,
    ) -> LongArray:
        """[B, S, C] a moment before which each cover cannot go back on, by what is done behind it."""
        table, covers, finds, place = self.table, self.table.covers, self.table.finds, self.place
        found: LongArray = np.zeros(self.off.shape, np.int64)
        place[columns] = np.arange(len(columns))
        pairs = np.flatnonzero((place[covers.pair_work] >= 0) & covers.closing[k][covers.pair_cover])
        place[columns] = -1
        moves = pairs[table.moving[covers.pair_work[pairs]]]
        pairs = pairs[(covers.pair_head[:, pairs] > earliest).any(axis=0)]
        if len(pairs):
            after = covers.pair_head[:, pairs] * there[:, None, covers.pair_work[pairs]]
            first = np.flatnonzero(np.diff(covers.pair_cover[pairs], prepend=-1))
            found[:, :, covers.pair_cover[pairs[first]]] = np.maximum.reduceat(after, first, axis=2)
        if heads is not None and len(moves):
            place[moving] = np.arange(len(moving))
            work = covers.pair_work[moves]
            after = heads[:, :, place[work]] + table.minutes[:, work] + covers.pair_chain[:, moves]
            after *= there[:, None, work]
            place[moving] = -1
            first = np.flatnonzero(np.diff(covers.pair_cover[moves], prepend=-1))
            at = covers.pair_cover[moves[first]]
            found[:, :, at] = np.maximum(found[:, :, at], np.maximum.reduceat(after, first, axis=2))
        if here.any() and len(finds.pair_find):
            flat = found.reshape(len(found), -1)
            after = (self.find_release[:, finds.pair_find] + finds.pair_after) * here[:, finds.pair_find]
            first = np.flatnonzero(np.diff(finds.pair_at, prepend=-1))
            at = finds.pair_at[first]
            flat[:, at] = np.maximum(flat[:, at], np.maximum.reduceat(after, first, axis=1))
        return found

    def _used_gap(self, k: int, columns: Index, there: BoolArray, gap: LongArray) -> LongArray:
        """[B, S] minutes of this stretch that were done while a way round was waited for (`gap`)."""
        table, used = self.table, np.zeros_like(self.clock)
        rows = np.flatnonzero(gap.any(axis=0))
        apart = ~(table.covers.opening[columns] & table.covers.closing[k - 1]).any(axis=1) & ~table.moving[columns]
        early = columns[apart]
        if len(early) and len(rows):
            scenario = rows[:, None]
            in_time = table.heads[scenario, early] <= self.before_gap[:, rows, None]
            in_time &= there[:, None, early]
            used[:, rows] = np.minimum(gap[:, rows], (in_time * table.minutes[scenario, early]).sum(axis=2))
        return used

    def _test(self, k: int, ready: LongArray) -> None:
        """The question at the end of the stretch, with all it brings."""
        table, problem = self.table, self.table.problem
        takes = problem.test_minutes[:, k].astype(np.int64)
        done = np.maximum(ready, table.test_release[:, k]) + takes
        self.hands_on += takes
        if self.has_finds:
            done = self._shown_by_test(k, done, takes)
        days, way = problem.way_days[:, k].astype(np.int64), problem.way_minutes[:, k].astype(np.int64)
        self.gap = None
        if days.any() or way.any():
            rows = np.arange(problem.n_scenarios)
            begun = np.where(days > 0, table.clock.later(rows, done, days), done)
            self.gap, self.before_gap = np.minimum(begun, NEVER_CLOCK) - done, begun
            done = begun + way
            self.hands_on += way
        self.clock = np.minimum(done, NEVER_CLOCK)
        self.tests[:, :, k] = self.clock
        self.hands_on_by_test[:, :, k] = self.hands_on
        works, wait = table.held[k]
        if len(works):
            self.released[k] = table.clock.later(self.column, self.clock[:, :, None], wait)
            self._held_finds(k, works)

    def _shown_by_test(self, k: int, done: LongArray, takes: LongArray) -> LongArray:
        """What only the test shows is put right, and the test made again, where it belongs before the test."""
        finds = self.table.finds
        shown = np.flatnonzero(finds.shown_by_test[k])
        unknown = self.find_stage == len(self.table.problem.tests)
        if not unknown[:, shown].any():
            return done
        self._found(k, shown, np.where(unknown[:, shown], done[:, finds.scenario[shown]], NEVER_CLOCK))
        self._one_by_another(k)
        again = unknown & (self.find_stage <= k)
        if not again.any():
            return done
        in_place = self._in_place(again)
        release, minutes = np.zeros((2, *in_place.shape), np.int64)
        release[:, finds.scenario, finds.place] = self.find_release * again
        minutes[:, finds.scenario, finds.place] = finds.minutes * again
        opened = self._opened(in_place)
        closing = self.table.covers.closing[k]
        going_off, bare = opened & ~self.off, opened | self.off
        covers = (going_off * self.table.problem.off_minutes + (bare & closing) * self.table.problem.on_minutes).sum(2)
        self.off = bare & ~closing
        more: LongArray = np.where(in_place.any(axis=2), minutes.sum(axis=2) + covers + takes, 0)
        self.hands_on += more
        passed: LongArray = np.maximum(done, release.max(axis=2)) + more
        return passed

    def _held_finds(self, k: int, works: Index) -> None:
        finds = self.table.finds
        for column, work in enumerate(works.tolist()):
            mine = np.flatnonzero(finds.work == work)
            if len(mine):
                self.find_release[:, mine] = np.maximum(
                    self.find_release[:, mine], self.released[k][:, finds.scenario[mine], column]
                )


def last_block(packed: LongArray) -> LongArray:
    """Largest, over all works of the last axis, of its head plus the minutes of all whose head is not before it.

    `packed`: heads and minutes (`tables.pack`); sorted in place.

    >>> heads, minutes = np.array([[[0, 50, 10]]]), np.array([[[5, 20, 30]]])
    >>> last_block(pack(heads, minutes)).tolist()
    [[70]]
    """
    packed.sort(axis=2)
    done = packed & MINUTES
    np.cumsum(done, axis=2, out=done)
    packed = moment_of(packed)
    packed[:, :, 1:] -= done[:, :, :-1]
    last: LongArray = done[:, :, -1] + packed.max(axis=2)
    return last
