"""What must hold of every result, whatever is played. The rebuilds are the random ones of the comparison with the twin,
and, where a law only holds without surprises, plain ones made here.
"""

from __future__ import annotations

from dataclasses import fields, replace
from itertools import pairwise

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.futures.random_rebuilds import random_case, without_stops
from tests.futures.small_machine import Small
from wreckwright.futures.purchases import purchases
from wreckwright.futures.rebuild import FINISHED, GATE_NO, STOPPED_BY_RULE, Played, Worlds
from wreckwright.futures.simulate import simulate

SEEDS = st.integers(1_000_000, 2_000_000)


NOT_BY_FUTURE = ("extra", "end_clock", "trail")


def pick(whole: Worlds | Played, futures: np.ndarray | slice) -> dict[str, np.ndarray]:
    return {f.name: getattr(whole, f.name)[futures] for f in fields(whole) if f.name not in NOT_BY_FUTURE}


def assert_same(one: dict[str, np.ndarray], other: dict[str, np.ndarray]) -> None:
    for name, values in one.items():
        assert values.dtype == other[name].dtype, name
        assert np.array_equal(values, other[name]), name


@given(SEEDS, st.randoms(use_true_random=False))
@settings(max_examples=25)
def test_futures_can_be_played_in_any_order(seed: int, random) -> None:  # type: ignore[no-untyped-def]
    case = random_case(seed, futures=12)
    order = np.array(random.sample(range(12), 12))
    played = simulate(case.rebuild, case.worlds, case.policy)
    shuffled = simulate(case.rebuild, Worlds(**pick(case.worlds, order)), case.policy)
    assert_same(pick(played, order), pick(shuffled, slice(None)))


@given(SEEDS, st.integers(1, 11))
@settings(max_examples=25)
def test_the_first_futures_do_not_depend_on_the_later_ones(seed: int, n: int) -> None:
    case = random_case(seed, futures=12)
    played = simulate(case.rebuild, case.worlds, case.policy)
    first = simulate(case.rebuild, Worlds(**pick(case.worlds, slice(n))), case.policy)
    assert_same(pick(played, slice(n)), pick(first, slice(None)))


@given(SEEDS, st.integers(1, 40), st.integers(0, 1000))
@settings(max_examples=25)
def test_how_many_are_played_together_changes_nothing(seed: int, block_futures: int, patience_permille: int) -> None:
    case = random_case(seed, futures=30)
    played = simulate(case.rebuild, case.worlds, case.policy)
    other = simulate(
        case.rebuild, case.worlds, case.policy, block_futures=block_futures, patience_permille=patience_permille
    )
    assert_same(pick(played, slice(None)), pick(other, slice(None)))


@given(SEEDS)
@settings(max_examples=60)
def test_who_is_helped_every_day_waits_for_nobody(seed: int) -> None:
    case = random_case(seed, futures=8)
    every_day = np.ones(len(case.rebuild.cumulative_minutes) - 1, bool)
    helped, alone = (
        simulate(replace(case.rebuild, helper_day=days), case.worlds, case.policy) for days in (every_day, None)
    )
    assert_same(pick(helped, slice(None)), pick(alone, slice(None)))


@given(SEEDS)
@settings(max_examples=60)
def test_work_for_two_begins_where_somebody_helps(seed: int) -> None:
    """independent (the rule by its definition, for the last time that each piece of work was done)."""
    case = random_case(seed, futures=8)
    rebuild, planned = case.rebuild, case.rebuild.cumulative_minutes
    if rebuild.helper_day is None:
        return
    played = simulate(rebuild, case.worlds, case.policy, ends=True)
    assert played.end_clock is not None
    wanted = [slot.helper for slot in rebuild.slots] + 2 * [cover.helper for cover in rebuild.covers]
    for f, i in zip(*np.nonzero((played.end_clock >= 0) & np.array(wanted)), strict=True):
        if i < len(rebuild.slots) and played.left_undone[f, i]:
            continue
        began = int(played.end_clock[f, i] - case.worlds.minutes[f, i])
        share = int(case.worlds.attendance_permille[f])
        today = max(d for d in range(len(planned) - 1) if -(-int(planned[d]) * share // 1000) <= began)
        assert rebuild.helper_day[today]


@given(SEEDS)
@settings(max_examples=60)
def test_the_trail_changes_nothing_and_adds_up(seed: int) -> None:
    case = random_case(seed, futures=8)
    played, plain = (simulate(case.rebuild, case.worlds, case.policy, ends=ends) for ends in (True, False))
    assert_same(pick(played, slice(None)), pick(plain, slice(None)))
    assert played.trail is not None and played.end_clock is not None
    waits = played.trail
    booked = np.zeros_like(played.waited_minutes)
    np.add.at(booked, (waits.wait_future, waits.wait_column), waits.wait_minutes)
    assert np.array_equal(booked, played.waited_minutes)
    assert (waits.wait_minutes > 0).all()
    last = np.full(8, -1)
    last[waits.wait_future] = waits.wait_column
    assert np.array_equal(last, played.last_wait)
    for f in range(8):
        ends, minutes = (a[waits.wait_future == f] for a in (waits.wait_clock, waits.wait_minutes))
        # One wait is over before the next one begins.
        assert (ends[:-1] <= (ends - minutes)[1:]).all()
        assert (ends <= played.clock[f]).all()
    done = played.end_clock[:, : len(case.rebuild.slots)] >= 0
    # A test that is to be done again has ended before.
    gates = [gate.slot for gate in case.rebuild.bench_gates]
    assert (played.done <= done).all()
    assert np.array_equal(np.delete(done, gates, axis=1), np.delete(played.done, gates, axis=1))
    assert (played.end_clock.max(axis=1, initial=-1) <= played.clock).all()
    assert np.array_equal(waits.called_clock >= 0, played.known_bad)


def test_no_futures_give_an_empty_result() -> None:
    case = random_case(5)
    played = simulate(case.rebuild, Worlds(**pick(case.worlds, slice(0))), case.policy, ends=True)
    assert played.end_clock is not None and played.trail is not None
    assert played.end_clock.shape == (0, len(case.policy.rank)) and played.trail.wait_clock.shape == (0,)
    assert played.status.shape == (0,) and played.epoch_features.shape == (0, 3 * case.rebuild.n_stages, 7)


@given(SEEDS)
@settings(max_examples=25)
def test_playing_changes_nothing_that_is_handed_in(seed: int) -> None:
    case, untouched = random_case(seed), random_case(seed)
    simulate(case.rebuild, case.worlds, case.policy)
    assert_same(pick(case.worlds, slice(None)), pick(untouched.worlds, slice(None)))
    assert np.array_equal(case.rebuild.cumulative_minutes, untouched.rebuild.cumulative_minutes)


@given(SEEDS)
@settings(max_examples=60)
def test_every_minute_is_worked_or_waited(seed: int) -> None:
    """A future that did not end by jumping to a stop moment or off the calendar has booked its whole clock."""
    case = random_case(seed, futures=8)
    played = simulate(case.rebuild, case.worlds, case.policy)
    booked = played.hands_on_minutes + played.waited_minutes.sum(axis=1)
    bench = (played.status == GATE_NO) & (played.reason < case.rebuild.n_stages)
    whole = (played.status == FINISHED) | bench | (played.status == STOPPED_BY_RULE)
    assert (booked[whole] == played.clock[whole]).all()
    assert (booked <= played.clock).all()
    assert (played.waited_minutes >= 0).all()


@given(SEEDS)
@settings(max_examples=60)
def test_nothing_happens_after_the_end(seed: int) -> None:
    case = random_case(seed, futures=8)
    played = simulate(case.rebuild, case.worlds, case.policy)
    finished = played.status == FINISHED
    # Finished means the last gate was passed, on the last day; nobody is stopped after that.
    assert ((played.gate_day[:, -1] >= 0) == finished).all()
    assert (played.gate_day[finished, -1] == played.day[finished]).all()
    assert (played.reason[finished] == -1).all() and (played.resale_minor[finished] == 0).all()
    last_gate_passed_epoch = 3 * case.rebuild.n_stages - 1
    assert not played.epoch_reached[:, last_gate_passed_epoch].any()
    for day in (played.gate_day, played.epoch_day, played.order_day):
        assert (day <= played.day[:, None]).all()
    for before, after in pairwise(played.gate_day.T):
        assert ((after == -1) | ((before >= 0) & (before <= after))).all()
    assert (played.left_undone <= played.done).all() or any(
        slot.kind == "gate" and not slot.essential for slot in case.rebuild.slots
    )
    stopped = played.status == STOPPED_BY_RULE
    rows, epoch = np.flatnonzero(stopped), played.reason[stopped]
    assert (played.epoch_day[rows, epoch] == played.day[rows]).all()
    assert (played.epoch_out_minor[rows, epoch] == played.out_minor[rows]).all()
    assert (played.epoch_resale_minor[rows, epoch] == played.resale_minor[rows]).all()


@given(SEEDS)
@settings(max_examples=60)
def test_money_out_is_the_sum_of_its_parts(seed: int) -> None:
    """Prices do not steer the play, so each kind of cost can be looked at with all others at nought."""
    case = without_stops(random_case(seed, futures=6))
    kinds = {
        "lines": ("price_minor", "wrong_minor"),
        "slots": ("slot_minor",),
        "ways round": ("fallback_minor",),
        "ways round outside": ("outside_fallback_minor",),
    }
    played = simulate(case.rebuild, case.worlds, case.policy)
    alone = {}
    for kind, kept in kinds.items():
        nought = {
            name: np.zeros_like(getattr(case.worlds, name))
            for names in kinds.values()
            for name in names
            if name not in kept
        }
        alone[kind] = simulate(case.rebuild, replace(case.worlds, **nought), case.policy)
        assert np.array_equal(alone[kind].clock, played.clock)
    lines = np.where(played.order_day >= 0, purchases(case.rebuild, case.worlds, case.policy).paid_minor, 0).sum(axis=1)
    assert np.array_equal(alone["lines"].out_minor, lines)
    total = sum(part.out_minor for part in alone.values())
    # Refunds are rounded down line by line, and only lines are refunded, so the parts add up exactly.
    assert np.array_equal(played.out_minor, total)
    # Work that is done is paid once; a test may have been done more than once.
    paid = np.where(played.done & ~played.left_undone, case.worlds.slot_minor, 0)
    gates = [gate.slot for gate in case.rebuild.bench_gates]
    assert (alone["slots"].out_minor >= paid.sum(axis=1)).all()
    silent = case.worlds.slot_minor.copy()
    silent[:, gates] = 0
    without_gates = simulate(case.rebuild, replace(case.worlds, slot_minor=silent), case.policy)
    paid[:, gates] = 0
    assert np.array_equal(without_gates.out_minor - played.out_minor, paid.sum(axis=1) - alone["slots"].out_minor)


@st.composite
def plain_machines(draw: st.DrawFn) -> tuple[Small, dict[str, tuple[int, int, list[str]]]]:
    """One stage, no covers, cures, doubts or finds: jobs with parts, in an order. Also (minutes, lead, after) by
    job."""
    small = Small(evenings=draw(st.lists(st.integers(0, 90), min_size=3, max_size=10)) * 20)
    jobs: dict[str, tuple[int, int, list[str]]] = {}
    for i in range(draw(st.integers(1, 6))):
        name = f"job {i}"
        minutes, lead = draw(st.integers(0, 120)), draw(st.integers(0, 9))
        after = draw(st.lists(st.sampled_from(sorted(jobs)), max_size=2, unique=True)) if jobs else []
        small.part(f"part {i}", lead=(lead,))
        small.job(name, minutes, parts=[f"part {i}"], after=after)
        jobs[name] = (minutes, lead, after)
    small.gate("ride", draw(st.integers(0, 30)))
    return small, jobs


@given(plain_machines(), st.integers(1, 1000), st.permutations(range(6)))
@settings(max_examples=150)
def test_plain_work_ends_when_the_closed_form_says(
    plain: tuple[Small, dict[str, tuple[int, int, list[str]]]], attendance: int, order: list[int]
) -> None:
    """independent (closed form): one pair of hands that never idles while something can be done ends at
    max over j of r(j) + the work of all i with r(i) >= r(j), r being the release with those before it counted in;
    every order of rank gives the same. The test follows at once.
    """
    small, jobs = plain
    planned = np.cumsum([0, *small.evenings])
    start = [-(-int(m) * attendance // 1000) for m in planned]
    release: dict[str, int] = {}
    for name, (_, lead, after) in jobs.items():
        release[name] = max([start[lead], *(release[b] + jobs[b][0] for b in after)])
    end = max(r + sum(jobs[i][0] for i in jobs if release[i] >= r) for r in release.values())
    clock = end + small.slots["ride"]["minutes"]

    def share(worlds: Worlds) -> None:
        worlds.attendance_permille[:] = attendance

    ranks = [f"job {i}" for i in order if f"job {i}" in jobs]
    played = small.play(change=share, rank=ranks)
    if clock <= int(planned[-1]) * attendance // 1000:
        assert (played.status[0], played.clock[0]) == (FINISHED, clock)
    else:
        assert played.status[0] != FINISHED


@given(plain_machines(), st.lists(st.integers(1, 1000), min_size=1, max_size=5))
@settings(max_examples=100)
def test_who_works_every_planned_minute_is_not_later_than_who_works_a_share(
    plain: tuple[Small, dict[str, tuple[int, int, list[str]]]], shares: list[int]
) -> None:
    """Holds for plain machines (closed form, every term grows when divided by the share). With finds, covers or cures
    more evenings can change what comes first, so no such law holds there."""
    small, _ = plain

    def attend(worlds: Worlds) -> None:
        worlds.attendance_permille[:] = [1000, *shares]

    played = small.play(n=1 + len(shares), change=attend)
    finished = played.status == FINISHED
    assert finished[0] or not finished.any()
    assert (played.day[0] <= played.day[finished]).all()


def test_many_slots_and_deep_covers_do_not_overflow_the_counts() -> None:
    """hand-worked: 40 covers one under the other, 400 jobs of 2 minutes under the last: 40 off, 800, 40 on, 5."""
    small = Small(evenings=(600,) * 5)
    for x in range(40):
        small.cover(f"c{x}", off=1, on=1, under=[f"c{x - 1}"] if x else [])
    for i in range(400):
        small.job(f"j{i}", 2, covers=["c39"], after=[f"j{i - 1}"] if i else [])
    small.gate("ride", 5)
    played = small.play(n=3)
    assert played.clock.tolist() == [885] * 3 and (played.status == FINISHED).all()


def test_the_longest_waits_and_largest_amounts_are_exact() -> None:
    """hand-worked: a wait of a million days is longer than any calendar, not a short one that ran over its 16 bits; and
    10^11 refunded at 800 per mille leaves 2 * 10^10."""
    small = Small(evenings=(60,) * 30_000)
    small.part("rim", lead=(1_000_000,))
    small.part("seal", lead=(-1,))
    small.job("fit", 10, parts=["rim"], essential=False)
    small.job("seal it", 10, parts=["seal"], essential=False)
    small.gate("ride", 5, outside=["papers"])
    small.outside["papers"] = 1

    def change(worlds: Worlds) -> None:
        worlds.outside_days[:] = 1_000_000
        worlds.price_minor[:] = 10**11

    played = small.play(change=change)
    assert (played.status[0], played.clock[0], played.day[0]) == (4, 1_800_000, 30_000)
    assert played.out_minor[0] == 10**11 + 2 * 10**10
    assert played.hands_on_minutes[0] == 0 and played.done[0].tolist() == [False, True, False]
