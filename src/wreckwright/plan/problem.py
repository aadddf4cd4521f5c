"""From a rebuild and its worlds under a policy to what the search sees: works, covers, tests, in S scenarios."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from wreckwright.errors import AnswerError
from wreckwright.futures.compile import Compiled
from wreckwright.futures.hours import Calendar, Hours
from wreckwright.futures.policy import NEVER, ON_DISCOVERY, Policy
from wreckwright.futures.purchases import purchases
from wreckwright.futures.rebuild import BoolArray, IntArray, LongArray, Rebuild, Slot, Worlds
from wreckwright.futures.rebuild_check import upward
from wreckwright.plan.compare import some_of
from wreckwright.plan.found import finds
from wreckwright.plan.links import topological
from wreckwright.plan.types import NEVER_DAY, CoverWork, Held, Problem, Test, Work, WorkKind

Rows = Sequence[int] | npt.NDArray[np.intp]
_WORK_KINDS: dict[str, WorkKind] = {"job": "job", "look": "look", "follow_up": "follow_up"}


def problem_of(
    compiled: Compiled | Rebuild, keys: Sequence[str] | None, worlds: Worlds, policy: Policy, *,
    rows: Rows | None = None,
) -> Problem:
    """The rebuild as the search sees it, in the futures `rows` of `worlds` (all of them if None).

    `keys`: one per slot, then one per cover; None: those of `compiled` (of a bare rebuild: its names, tests with
    `gate:` before them). The policy says which looks are taken, where parts are ordered from and when; its stages and
    ranks are not read, except to see who could be told first of what is hidden.

    What is left undone is here a work of no minutes that has its turn when that is known. What never comes and cannot
    be done without has `NEVER_DAY`. A test that ends in no and cannot be brought to a yes goes on as if the last way
    round had helped, and stands in `ends_at`.
    Raises: AnswerError if there are not as many keys as slots and covers, or a key stands twice.
    """
    rebuild = compiled.rebuild if isinstance(compiled, Compiled) else compiled
    slot_keys, cover_keys = _keys(compiled, keys)
    chosen = worlds if rows is None else some_of(worlds, rows)
    bought = purchases(rebuild, chosen, policy)
    n, n_stages, slots = chosen.n, rebuild.n_stages, rebuild.slots
    stage_of_gate = {gate.slot: gate.stage for gate in rebuild.bench_gates}
    columns = [
        j for j, slot in enumerate(slots)
        if slot.kind in ("job", "follow_up") or (slot.kind == "look" and policy.looks[j])
    ]
    place = {j: index for index, j in enumerate(columns)}
    follow_up = {slot.component: place[j] for j, slot in enumerate(slots) if slot.kind == "follow_up"}
    outside = _outside_days(rebuild, chosen)
    gates = [gate.slot for gate in rebuild.bench_gates]

    undone = np.zeros((n, len(slots)), bool)
    release = np.zeros((n, len(slots)), np.int64)
    lead = np.zeros((n, len(slots)), np.int64)
    held: dict[tuple[int, int], IntArray] = {}
    first = [0] * len(slots)
    for index, line in enumerate(rebuild.lines):
        j, never, days = line.slot, bought.never[:, index], bought.days[:, index]
        trigger = -1 if line.already_ordered else policy.line_trigger[index]
        if trigger == NEVER:
            if slots[j].essential:
                release[:, j] = NEVER_DAY
            else:
                undone[:, j] = True
            continue
        if slots[j].essential:
            days = np.where(never, NEVER_DAY, days)
        else:
            undone[:, j] |= never
        if trigger == ON_DISCOVERY:
            lead[:, j] = np.maximum(lead[:, j], days)
        elif 0 <= trigger < n_stages and j in place:
            first[j] = max(first[j], trigger + 1)
            wait = np.minimum(days, NEVER_DAY).astype(np.int32)
            held[place[j], trigger] = np.maximum(held.get((place[j], trigger), wait), wait)
        elif trigger >= n_stages:
            release[:, j] = np.maximum(release[:, j], outside[:, trigger - n_stages] + days)
        else:
            release[:, j] = np.maximum(release[:, j], days)
    for j, slot in enumerate(slots):
        for o in slot.outside:
            release[:, j] = np.maximum(release[:, j], outside[:, o])
        first[j] = max([first[j], *(stage_of_gate[i] + 1 for i in slot.after if i in stage_of_gate)])
        first[j] = max(first[j], _closed_from(rebuild, _shut(compiled, j)))
    for j in topological([[slot.part_of] if slot.part_of >= 0 else [] for slot in slots]):
        holder = slots[j].part_of
        if holder in place and (slots[holder].kind != "follow_up" or slots[j].kind == "follow_up"):
            undone[:, j] |= undone[:, holder]
    day = np.minimum(release, NEVER_DAY).astype(np.int32)
    found = finds(rebuild, chosen, policy, undone)
    minutes = np.where(undone, 0, chosen.minutes[:, : len(slots)]).astype(np.int32)
    n_covers = len(rebuild.covers)
    way_days, way_minutes, ends_at = _ways(rebuild, chosen)
    present = np.ones((n, len(columns)), bool)
    for component, index in follow_up.items():
        present[:, index] = found.known[:, component]

    def shows(slot: Slot) -> tuple[int, ...]:
        return tuple(follow_up[entry.component] for entry in slot.exposes)

    kept = [*columns, *gates]
    entries = [e for j in kept for e in found.entries_of[j]]
    return Problem(
        works=tuple(
            Work(
                key=slot_keys[j], name=slots[j].name, kind=_WORK_KINDS[slots[j].kind], first_stage=first[j],
                last_stage=max(first[j], slots[j].needed_by),
                after=tuple(dict.fromkeys(place[i] for i in slots[j].after if i in place)),
                covers=slots[j].covers, cure_days=slots[j].cure_days, helper=slots[j].helper,
                may_split=_may_split(compiled, j), shows=shows(slots[j]), shut=_shut(compiled, j),
            )
            for j in columns
        ),
        covers=tuple(
            CoverWork(
                key=cover_keys[x], name=cover.name, under=cover.under, off_at_start=cover.off_at_start,
                helper=cover.helper,
            )
            for x, cover in enumerate(rebuild.covers)
        ),
        tests=tuple(
            Test(
                key=slot_keys[gate.slot], name=gate.name, covers_off=slots[gate.slot].covers, covers_on=gate.covers_on,
                helper=slots[gate.slot].helper, shows=shows(slots[gate.slot]),
            )
            for gate in rebuild.bench_gates
        ),
        minutes=minutes[:, columns],
        present=present,
        off_minutes=chosen.minutes[:, len(slots) : len(slots) + n_covers],
        on_minutes=chosen.minutes[:, len(slots) + n_covers :],
        test_minutes=minutes[:, gates],
        release_day=day[:, columns],
        lead_days=np.minimum(lead, NEVER_DAY).astype(np.int32)[:, columns],
        test_release_day=day[:, gates],
        held=tuple(Held(work=work, test=test, days=days) for (work, test), days in held.items()),
        way_days=way_days,
        way_minutes=way_minutes,
        hours=Hours(
            calendar=Calendar(cumulative_minutes=rebuild.cumulative_minutes),
            attendance_permille=chosen.attendance_permille.astype(np.int64),
        ),
        helper_day=rebuild.helper_day,
        begin_minute=getattr(compiled, "begin_minute", None),
        ends_at=ends_at,
        says=found.says[:, entries],
    )


def usual_problem(
    compiled: Compiled | Rebuild, keys: Sequence[str] | None, worlds: Worlds, policy: Policy
) -> Problem:
    """One scenario of usual figures: the median of all minutes and of the share of evenings worked; parts and answers
    from outside take their median time, given that they come; every test ends in yes; of what is hidden nothing shows.
    """
    rebuild = compiled.rebuild if isinstance(compiled, Compiled) else compiled

    def median(values: npt.NDArray[np.integer]) -> IntArray:
        usual: IntArray = np.rint(np.median(values, axis=0, keepdims=True)).astype(np.int32)
        return usual

    def given_it_comes(values: npt.NDArray[np.integer]) -> IntArray:
        """[1, n] median of what is not -1 in each column; 0 where nothing is."""
        there = (values >= 0).sum(axis=0)
        late_last = np.sort(np.where(values >= 0, values, NEVER_DAY), axis=0)
        column = np.arange(values.shape[1])
        low, high = late_last[np.maximum(there - 1, 0) // 2, column], late_last[there // 2 % len(values), column]
        usual: IntArray = np.where(there > 0, np.rint((low + high) / 2.0), 0).astype(np.int32)[None]
        return usual

    def all_of(values: BoolArray, value: bool) -> BoolArray:
        return np.full_like(values[:1], value)

    bought = purchases(rebuild, worlds, policy)
    days = np.where(bought.never, -1, bought.days)
    lead = np.zeros_like(worlds.lead_days[:1])
    if days.shape[1]:
        # What the chosen source, a second parcel and a change of source come to is put into the first lead.
        lead[:] = given_it_comes(days)[:, :, None]
    usual = replace(
        worlds,
        minutes=median(worlds.minutes),
        attendance_permille=np.maximum(median(worlds.attendance_permille), 1),
        cries=all_of(worlds.cries, False), foretells=all_of(worlds.foretells, False),
        gate_ok=all_of(worlds.gate_ok, True), fallback_ok=all_of(worlds.fallback_ok, True),
        fallback_days=worlds.fallback_days[:1], fallback_minor=worlds.fallback_minor[:1],
        outside_days=given_it_comes(_outside_days(rebuild, worlds, never=-1)),
        outside_ok=all_of(worlds.outside_ok, True),
        outside_fallback_ok=worlds.outside_fallback_ok[:1], outside_fallback_days=worlds.outside_fallback_days[:1],
        outside_fallback_minor=worlds.outside_fallback_minor[:1],
        lead_days=lead, wrong=all_of(worlds.wrong, False), second_lead_days=worlds.second_lead_days[:1],
        wrong_minor=worlds.wrong_minor[:1], price_minor=worlds.price_minor[:1], slot_minor=worlds.slot_minor[:1],
    )
    no_plan_b = replace(policy, plan_b_source=tuple(-1 for _ in rebuild.lines))
    return problem_of(compiled, keys, usual, no_plan_b)


def slot_keys_of(compiled: Compiled | Rebuild, keys: Sequence[str] | None) -> tuple[list[str], list[str]]:
    """Keys of all slots, and of all covers."""
    return _keys(compiled, keys)


def _keys(compiled: Compiled | Rebuild, keys: Sequence[str] | None) -> tuple[list[str], list[str]]:
    rebuild = compiled.rebuild if isinstance(compiled, Compiled) else compiled
    n_slots, n_covers = len(rebuild.slots), len(rebuild.covers)
    if keys is not None:
        if len(keys) != n_slots + n_covers:
            raise AnswerError(
                f"The running order was given {len(keys)} keys",
                f"Allowed: {n_slots + n_covers}, one per slot, then one per cover",
                "Give a key to each",
            )
        slot_keys, cover_keys = list(keys[:n_slots]), list(keys[n_slots:])
    elif isinstance(compiled, Compiled):
        slot_keys, cover_keys = [plan.key for plan in compiled.slots], list(compiled.covers)
    else:
        slot_keys = [f"gate:{slot.name}" if slot.kind == "gate" else slot.name for slot in rebuild.slots]
        cover_keys = [cover.name for cover in rebuild.covers]
    for what, named in (("work", slot_keys), ("cover", cover_keys)):
        twice = next((key for index, key in enumerate(named) if key in named[:index]), None)
        if twice is not None:
            raise AnswerError(
                f"Two pieces of {what} have the key {twice!r}", "Allowed: every key once", "Give one another key"
            )
    return slot_keys, cover_keys


def _may_split(compiled: Compiled | Rebuild, slot: int) -> bool:
    need = compiled.slots[slot].need if isinstance(compiled, Compiled) else None
    return bool(getattr(need, "may_split", True))


def _closed_from(rebuild: Rebuild, shut: tuple[int, ...]) -> int:
    """The first stretch whose test wants all of these covers on; the last one wants all."""
    lines = upward(rebuild.covers)
    last = rebuild.n_stages - 1
    return next(
        (t for t, gate in enumerate(rebuild.bench_gates) if all(not lines[x].isdisjoint(gate.covers_on) for x in shut)),
        last,
    ) if shut else 0


def _shut(compiled: Compiled | Rebuild, slot: int) -> tuple[int, ...]:
    need = compiled.slots[slot].need if isinstance(compiled, Compiled) else None
    if need is None or not isinstance(compiled, Compiled):
        return ()
    return tuple(compiled.covers.index(cover) for cover in need.shut if cover in compiled.covers)


def _outside_days(rebuild: Rebuild, worlds: Worlds, *, never: int = NEVER_DAY) -> LongArray:
    """[F, O] day of the yes, ways round included; `never` where there is none within the calendar."""
    end = len(rebuild.cumulative_minutes) - 1
    days = np.full((worlds.n, len(rebuild.outside_gates)), never, np.int64)
    for o, gate in enumerate(rebuild.outside_gates):
        lost = worlds.outside_days[:, o] < 0
        day = np.where(lost, end, worlds.outside_days[:, o]).astype(np.int64)
        open_still = np.ones(worlds.n, bool)
        yes = worlds.outside_ok[:, o] & ~lost
        for way in range(gate.n_fallbacks + 1):
            now = open_still & yes & (day < end)
            days[now, o] = day[now]
            open_still &= ~yes
            if way < gate.n_fallbacks:
                day = day + worlds.outside_fallback_days[:, o, way]
                yes = worlds.outside_fallback_ok[:, o, way]
    return days


def _ways(rebuild: Rebuild, worlds: Worlds) -> tuple[IntArray, IntArray, IntArray]:
    """[F, T] days and minutes of all ways round that are tried, the test made again included; [F] the test whose no
    ends the rebuild, T where none does."""
    days = np.zeros((worlds.n, rebuild.n_stages), np.int32)
    minutes = np.zeros((worlds.n, rebuild.n_stages), np.int32)
    ends_at = np.full(worlds.n, rebuild.n_stages, np.int32)
    column = {j: b for b, j in enumerate(j for j, slot in enumerate(rebuild.slots) if slot.kind == "fallback")}
    for t, gate in enumerate(rebuild.bench_gates):
        no = ~worlds.gate_ok[:, t]
        for j in gate.fallbacks:
            days[no, t] += worlds.fallback_days[no, column[j]]
            minutes[no, t] += worlds.minutes[no, j]
            no &= ~worlds.fallback_ok[:, column[j]]
        again = ~worlds.gate_ok[:, t] & bool(gate.fallbacks)
        minutes[again, t] += worlds.minutes[again, gate.slot]
        ends_at[no & (ends_at == rebuild.n_stages)] = t
    return days, minutes, ends_at


