"""What the end waits for: in each finished future, the last wait, and back from there to what brought it about.

From its last wait to the end one pair of hands is busy without a break, so that the end comes earlier by as much as
that wait ends earlier. What ended it is asked backwards along `Played.trail`: a part that came, an answer from outside,
a day on which somebody helps - or a cure or a way round, and then what ended the last wait before that began.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from wreckwright.futures.hours import Calendar, Hours
from wreckwright.futures.layout_lines import Floats, Index, padded
from wreckwright.futures.policy import NOW, ON_DISCOVERY, Policy
from wreckwright.futures.purchases import purchases
from wreckwright.futures.rebuild import FINISHED, BoolArray, IntArray, LongArray, Played, Rebuild, Trail, Worlds
from wreckwright.futures.simulate import simulate

CURE, WAY_ROUND, HELPER, WORK = 0, 1, 2, 3
"""What the end waits for where it is neither a part nor an answer from outside."""


@dataclass(frozen=True, kw_only=True)
class Binding:
    """What the end waits for in the finished ones of F futures. L lines, O outside gates.

    All shares together are 1 where anything is finished, otherwise 0.
    """

    n_finished: int
    cause: IntArray
    """[F] a line; or L + outside gate; or L + O + CURE, WAY_ROUND, HELPER or WORK; -1: not finished."""
    line_share: Floats
    """[L]"""
    outside_share: Floats
    """[O]"""
    cure_share: float
    """A cure, before which nothing was waited for."""
    way_round_share: float
    """A way round a test's no, before which nothing was waited for."""
    helper_share: float
    work_share: float
    """Nothing but the work itself: no wait at all."""
    line_on_chain: Floats
    """[L] share in which the line is waited for somewhere on the way back, be it before the test on which another part
    is ordered; these do not add up to 1."""
    day_earlier_minutes: Floats
    """[L] own minutes by which the finished futures end earlier on average if every delivery of the line takes a day
    less. To first order: as if nothing else came in between, and a day further back were a day at the end."""


def binding_shares(rebuild: Rebuild, worlds: Worlds, policy: Policy, played: Played) -> Binding:
    """What the end waits for in `played`, which must be what `policy` makes of `worlds`.

    Played again if it was played without `ends=True`. Raises `AnswerError` as `simulate` does.

    A job of 30 minutes that can only begin when its part is here, in two futures, in one of which it is here at once:

    >>> from dataclasses import replace
    >>> from wreckwright.futures.rebuild import BenchGate, Line, Slot, Source
    >>> from wreckwright.futures.worlds import calm_worlds
    >>> rebuild = Rebuild(
    ...     slots=(Slot(name="fit the lever", kind="job", lines=(0,), mean_minutes=30), Slot(name="ride", kind="gate")),
    ...     covers=(), bench_gates=(BenchGate(name="ride", stage=0, slot=1),), outside_gates=(), components=(),
    ...     lines=(Line(name="lever", slot=0, sources=(Source(name="near", cancel_days=9),)),),
    ...     cumulative_minutes=np.arange(0, 1200, 60), big_find_minor=0, as_it_stands_minor=(0, 0), part_out_minor=0)
    >>> worlds = replace(calm_worlds(rebuild, 2), lead_days=np.array([[[0]], [[5]]], np.int32))
    >>> policy = Policy(line_source=(0,), line_trigger=(-1,), plan_b_source=(-1,), plan_b_after_days=(-1,),
    ...     stage=(0, 0), rank=(0, 1), looks=(True, True))
    >>> binding = binding_shares(rebuild, worlds, policy, simulate(rebuild, worlds, policy))
    >>> binding.line_share.tolist(), binding.work_share, binding.day_earlier_minutes.tolist()
    ([0.5], 0.5, [30.0])
    """
    if played.end_clock is None or played.trail is None:
        played = simulate(rebuild, worlds, policy, ends=True)
    assert played.end_clock is not None and played.trail is not None
    back = _WayBack(rebuild, worlds, policy, played, played.end_clock, played.trail)
    finished = np.flatnonzero(played.status == FINISHED)
    back.walk(finished)
    n_lines, n_outside, n = len(rebuild.lines), len(rebuild.outside_gates), len(finished)
    counted = np.bincount(back.cause[finished], minlength=n_lines + n_outside + 4)
    share: Floats = counted / max(n, 1)
    cure, way_round, helper, work = share[n_lines + n_outside :].tolist()
    gain = np.where(back.on_chain, back.gain[:, None], 0)[finished]
    return Binding(
        n_finished=n,
        cause=back.cause,
        line_share=share[:n_lines],
        outside_share=share[n_lines : n_lines + n_outside],
        cure_share=cure,
        way_round_share=way_round,
        helper_share=helper,
        work_share=work,
        line_on_chain=back.on_chain[finished].sum(axis=0) / max(n, 1),
        day_earlier_minutes=gain.sum(axis=0) / max(n, 1),
    )


class _WayBack:
    """Walks back in many futures at once; arrays by future, sizes as in `Binding`."""

    def __init__(
        self, rebuild: Rebuild, worlds: Worlds, policy: Policy, played: Played, end_clock: LongArray, trail: Trail
    ) -> None:
        self.rebuild, self.worlds, self.played, self.end_clock, self.trail = rebuild, worlds, played, end_clock, trail
        calendar = Calendar(cumulative_minutes=rebuild.cumulative_minutes)
        self.hours = Hours(calendar=calendar, attendance_permille=worlds.attendance_permille.astype(np.int64))
        self.ready_days = purchases(rebuild, worlds, policy).days
        slots, n_lines = rebuild.slots, len(rebuild.lines)
        self.other = n_lines + len(rebuild.outside_gates)
        self.lines_of = padded([slot.lines for slot in slots])
        self.cures_of = padded(_cures(rebuild, policy))
        self.cure_days = np.array([slot.cure_days for slot in slots], np.int64)
        fallback_slots = [j for j, slot in enumerate(slots) if slot.kind == "fallback"]
        self.fallback_of = np.full(len(slots), -1, np.intp)
        self.fallback_of[fallback_slots] = np.arange(len(fallback_slots))
        self.trigger = np.array(policy.line_trigger, np.intp)
        self.trigger[[line.already_ordered for line in rebuild.lines]] = NOW
        self.component = np.array([slots[line.slot].component for line in rebuild.lines], np.intp)
        self.gate_slot = np.array([gate.slot for gate in rebuild.bench_gates], np.intp)
        n = worlds.n
        self.cause: IntArray = np.full(n, -1, np.int32)
        self.on_chain: BoolArray = np.zeros((n, n_lines), bool)
        self.gain: LongArray = np.full(n, -1, np.int64)
        """Own minutes by which the last wait ends earlier if what ended it comes a day earlier."""
        self.first_wait = np.searchsorted(trail.wait_future, np.arange(n))
        self.wait_key = trail.wait_future.astype(np.int64) * _FUTURE + trail.wait_clock

    def walk(self, futures: Index) -> None:
        """From the end of each of `futures` back to where nothing was waited for."""
        moment: LongArray = self.played.clock[futures]
        by_the_way = np.full(len(futures), WORK, np.int64)
        while len(futures):
            wait = np.searchsorted(self.wait_key, futures * _FUTURE + moment, side="right") - 1
            waited = wait >= self.first_wait[futures]
            self._name(futures[~waited], self.other + by_the_way[~waited])
            futures, wait, by_the_way = futures[waited], wait[waited], by_the_way[waited]
            futures, moment, by_the_way = self._ended_by(futures, wait, by_the_way)

    def _name(self, futures: Index, cause: Index | int) -> None:
        """The first name found on the way back stays."""
        self.cause[futures] = np.where(self.cause[futures] < 0, cause, self.cause[futures])

    def _ended_by(self, futures: Index, wait: Index, by_the_way: Index) -> tuple[Index, LongArray, Index]:
        """What ended the waits ([n]): where to go on from it, in which futures, and by what way they came there."""
        column, until = self.trail.wait_column[wait], self.trail.wait_clock[wait]
        n_work = self.end_clock.shape[1]
        outside = column >= n_work
        self._name(futures[outside], len(self.rebuild.lines) + column[outside] - n_work)
        at_cover = (column >= len(self.rebuild.slots)) & ~outside
        self._name(futures[at_cover], self.other + HELPER)
        rest = np.flatnonzero(column < len(self.rebuild.slots))
        futures, wait, by_the_way = futures[rest], wait[rest], by_the_way[rest]
        slot, until = column[rest].astype(np.intp), until[rest]
        moment: LongArray = np.full(len(futures), -1, np.int64)
        open_ends = np.ones(len(futures), bool)
        for asked in (self._line, self._way_round, self._cure):
            some = np.flatnonzero(open_ends)
            found, day, go_on, way = asked(futures[some], slot[some], until[some])
            here = some[found]
            self._earlier(futures[here], wait[here], day[found])
            moment[here], open_ends[here] = go_on[found], False
            by_the_way[here] = np.where(by_the_way[here] == WORK, way, by_the_way[here])
        self._name(futures[open_ends], self.other + HELPER)
        on = moment >= 0
        return futures[on], moment[on], by_the_way[on]

    def _earlier(self, futures: Index, wait: Index, day: LongArray) -> None:
        """Note by how much the last wait would end earlier if that which comes on `day` came a day earlier."""
        first = self.gain[futures] < 0
        futures, wait, day = futures[first], wait[first], day[first]
        before = self.hours.start(futures, np.maximum(day - 1, 0))
        self.gain[futures] = np.minimum(self.trail.wait_clock[wait] - before, self.trail.wait_minutes[wait])

    def _line(self, futures: Index, slot: Index, until: LongArray) -> tuple[BoolArray, LongArray, LongArray, int]:
        """Whether a part ended the wait, on which day, and the clock of its order if that hung on something."""
        line = self.lines_of.take(slot, axis=0)
        ordered: LongArray = np.where(line >= 0, self._at(self.played.order_day, futures, line), -1).astype(np.int64)
        day = ordered + self._at(self.ready_days, futures, line)
        came = (ordered >= 0) & (self.hours.start(futures, day) == until[:, None])
        found, which = _first(came)
        line, day = _pick(line, which), _pick(day, which)
        self._name(futures[found], line[found])
        self.on_chain[futures[found], line[found]] = True
        moment: LongArray = np.full(len(futures), -1, np.int64)
        trigger = np.full(len(futures), NOW, np.intp)
        trigger[found] = self.trigger[line[found]]
        on_gate = (trigger >= 0) & (trigger < len(self.gate_slot))
        moment[on_gate] = self.end_clock[futures[on_gate], self.gate_slot[trigger[on_gate]]]
        discovered = trigger == ON_DISCOVERY
        moment[discovered] = self.trail.called_clock[futures[discovered], self.component[line[discovered]]]
        return found, day, moment, WORK

    def _way_round(self, futures: Index, slot: Index, until: LongArray) -> tuple[BoolArray, LongArray, LongArray, int]:
        fallback = self.fallback_of[slot]
        nothing = np.full(len(futures), -1, np.int64)
        if not self.trail.begun_clock.shape[1]:
            return np.zeros(len(futures), bool), nothing, nothing, WAY_ROUND
        begun = self._at(self.trail.begun_clock, futures, fallback[:, None])[:, 0]
        day = self.hours.day(futures, np.maximum(begun, 0))
        day += self._at(self.worlds.fallback_days, futures, fallback[:, None])[:, 0]
        found: BoolArray = (fallback >= 0) & (begun >= 0) & (self.hours.start(futures, day) == until)
        return found, day, begun, WAY_ROUND

    def _cure(self, futures: Index, slot: Index, until: LongArray) -> tuple[BoolArray, LongArray, LongArray, int]:
        before = self.cures_of.take(slot, axis=0)
        ended = self._at(self.end_clock, futures, before)
        counts = (before >= 0) & (ended >= 0) & ~self._at(self.played.left_undone, futures, before)
        row = np.broadcast_to(np.arange(len(futures))[:, None], before.shape)
        day: LongArray = np.zeros(before.shape, np.int64)
        day[counts] = self.hours.day(futures[row[counts]], ended[counts]) + self.cure_days[before[counts]]
        found, which = _first(counts & (self.hours.start(futures, day) == until[:, None]))
        return found, _pick(day, which), _pick(ended, which), CURE

    def _at(self, table: _Table, futures: Index, columns: Index) -> _Table:
        """[n, m] entries of `table` ([F, ...]) in `columns` ([n, m]); any where there is none (-1)."""
        if not table.shape[1]:
            return np.zeros(columns.shape, table.dtype)
        return table[futures[:, None], np.maximum(columns, 0)]


_Table = npt.NDArray[Any]
_FUTURE = 2**32
"""Larger than any clock, so that a future and a clock make one ascending number."""


def _cures(rebuild: Rebuild, policy: Policy) -> list[list[int]]:
    """[J] slots whose cure may hold up each slot; of a gate also those of its stage and earlier ones."""
    gate_of = {b: gate.stage for gate in rebuild.bench_gates for b in gate.fallbacks}
    cures = []
    for slot in rebuild.slots:
        before = set(slot.after)
        if slot.kind == "gate":
            before |= {
                i
                for i, other in enumerate(rebuild.slots)
                if other.kind == "follow_up" or (other.kind != "gate" and gate_of.get(i, policy.stage[i]) <= slot.stage)
            }
        cures.append(sorted(i for i in before if rebuild.slots[i].cure_days > 0))
    return cures


def _first(found: BoolArray) -> tuple[BoolArray, Index]:
    """[n] whether anything is found in each row of `found` ([n, m]), and where first."""
    if not found.shape[1]:
        return np.zeros(len(found), bool), np.zeros(len(found), np.intp)
    return np.any(found, axis=1), found.argmax(axis=1)


def _pick(table: _Table, which: Index) -> _Table:
    """[n] entry `which` of each row of `table` ([n, m]); -1 where it has none."""
    if not table.shape[1]:
        return np.full(len(table), -1, np.int64)
    return table[np.arange(len(table)), which]
