"""What the end waits for: by hand, against a plain walk back, and by letting parts come a day earlier."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from math import sqrt

import numpy as np
import pytest

from tests.futures.random_rebuilds import random_case, without_stops
from tests.futures.small_machine import Small
from tests.futures.twin import OneFuture, play_each
from wreckwright.futures.binding import CURE, HELPER, WAY_ROUND, WORK, Binding, binding_shares
from wreckwright.futures.policy import ON_DISCOVERY
from wreckwright.futures.rebuild import FINISHED, Worlds
from wreckwright.futures.simulate import simulate


def calm(worlds: Worlds) -> None:
    pass


def bound(small: Small, change: Callable[[Worlds], None] = calm, n: int = 1) -> Binding:
    worlds = small.worlds(n)
    change(worlds)
    rebuild, policy = small.rebuild(), small.policy()
    return binding_shares(rebuild, worlds, policy, simulate(rebuild, worlds, policy))


def total(binding: Binding) -> float:
    parts = [*binding.line_share, *binding.outside_share]
    return sum(parts) + binding.cure_share + binding.way_round_share + binding.helper_share + binding.work_share


# Hand-worked: evenings of 60 minutes, day d is minute 60 d.


def test_the_part_that_came_last_is_what_the_end_waits_for() -> None:
    # seal on day 2 = 120: fit seal 120-130. rim on day 4 = 240: fit rim 240-250, ride 260. A day less: 180, one evening
    # less (60); the rim alone is on the way back.
    small = Small()
    small.part("rim", lead=(4,))
    small.part("seal", lead=(2,))
    small.job("fit rim", 10, parts=["rim"])
    small.job("fit seal", 10, parts=["seal"])
    small.gate("ride", 10)
    binding = bound(small)
    assert binding.line_share.tolist() == [1, 0] and binding.line_on_chain.tolist() == [1, 0]
    assert binding.day_earlier_minutes.tolist() == [60, 0]
    assert binding.cause.tolist() == [0]


def test_nothing_but_the_work() -> None:
    small = Small()
    small.part("rim", lead=(0,))
    small.job("fit rim", 70, parts=["rim"])
    small.gate("ride", 10)
    binding = bound(small)
    assert (binding.work_share, binding.line_share.tolist(), binding.cause.tolist()) == (1.0, [0], [1 + WORK])


def test_a_part_ordered_after_a_test_that_waited_for_another() -> None:
    # rim on day 2 = 120: 120-130, start 130-140 (day 2), the hub is ordered, there on day 5 = 300: 310, ride 320.
    # The end waits for the hub; had the rim come a day earlier, so had the hub.
    small = Small()
    small.part("rim", lead=(2,))
    small.part("hub", lead=(3,), trigger=0)
    small.job("fit rim", 10, parts=["rim"])
    small.gate("start", 10)
    small.job("fit hub", 10, stage=1, parts=["hub"])
    small.gate("ride", 10)
    binding = bound(small)
    assert (binding.line_share.tolist(), binding.line_on_chain.tolist()) == ([0, 1], [1, 1])
    assert binding.day_earlier_minutes.tolist() == [60, 60]
    earlier = small
    earlier.lines["rim"]["lead"] = (1,)
    assert small.play().clock.tolist() == [260]


def test_a_part_ordered_on_a_find_that_waited_for_another() -> None:
    # The puller comes on day 1: strip 60-70 finds the bearing, ordered on day 1, there on day 4 = 240: mend 250, ride.
    small = Small()
    small.part("puller", lead=(1,))
    small.part("bearing", lead=(3,), trigger=ON_DISCOVERY)
    small.job("strip", 10, parts=["puller"], exposes=["bearing"])
    small.job("mend", 10, kind="follow_up", component="bearing", parts=["bearing"])
    small.gate("ride", 10)

    def found(worlds: Worlds) -> None:
        worlds.cries[:] = True

    binding = bound(small, found)
    assert (binding.line_share.tolist(), binding.line_on_chain.tolist()) == ([0, 1], [1, 1])


@pytest.mark.parametrize(("lead", "line_share", "cure_share"), [(0, 0.0, 1.0), (2, 1.0, 0.0)])
def test_a_cure_stands_for_what_was_waited_for_before_it(lead: int, line_share: float, cure_share: float) -> None:
    # paint cures 3 days before polish. If the paint is there the end waits for the cure, else for the paint.
    small = Small()
    small.part("paint", lead=(lead,))
    small.job("paint", 10, parts=["paint"], cure_days=3)
    small.job("polish", 10, after=["paint"])
    small.gate("ride", 10)
    binding = bound(small)
    assert (binding.line_share.tolist(), binding.cure_share) == ([line_share], cure_share)
    assert binding.cause.tolist() == [0 if lead else 1 + CURE]
    assert binding.day_earlier_minutes.tolist() == [60 * line_share]


def test_the_test_waits_for_a_cure_and_that_for_a_part() -> None:
    small = Small()
    small.part("paint", lead=(2,))
    small.job("paint", 10, parts=["paint"], cure_days=3)
    small.gate("ride", 10)
    assert bound(small).line_share.tolist() == [1]


def test_a_way_round_after_a_test_with_and_without_a_wait_before_it() -> None:
    # start at 10: no; the way round from day 2. In the second future the rim comes on day 1, before the test.
    small = Small()
    small.part("rim", lead=(0,))
    small.job("fit rim", 10, parts=["rim"])
    small.gate("start", 10, ways=["way"])
    small.job("way", 10, kind="fallback")

    def change(worlds: Worlds) -> None:
        worlds.gate_ok[:], worlds.fallback_days[:] = False, 2
        worlds.lead_days[1, 0, :] = 1

    binding = bound(small, change, n=2)
    assert (binding.way_round_share, binding.line_share.tolist()) == (0.5, [0.5])
    assert binding.cause.tolist() == [1 + WAY_ROUND, 0]


def test_answers_from_outside_and_helpers_end_the_way_back() -> None:
    # First: papers on day 5, after the rim of day 2. Second: papers at once; the rim is here on day 2, help on day 3.
    small = Small(helped=(3, 5, 6, 7))
    small.outside["papers"] = 0
    small.part("rim", lead=(2,))
    small.job("lift", 10, helper=True, parts=["rim"])
    small.job("plate", 10, outside=["papers"])
    small.gate("ride", 10)

    def change(worlds: Worlds) -> None:
        worlds.outside_days[:, 0] = [5, 0]

    binding = bound(small, change, n=2)
    assert binding.cause.tolist() == [1, 2 + HELPER]
    assert (binding.outside_share.tolist(), binding.helper_share, binding.line_share.tolist()) == ([0.5], 0.5, [0])


def test_a_cover_that_waits_for_help() -> None:
    small = Small(helped=(2,))
    small.cover("tank", off=5, on=5, helper=True)
    small.job("plug", 10, covers=["tank"])
    small.gate("ride", 10)
    assert bound(small).helper_share == 1.0


def test_only_finished_futures_count() -> None:
    # The rim never comes in the second future.
    small = Small()
    small.part("rim", lead=(4,))
    small.job("fit rim", 10, parts=["rim"])
    small.gate("ride", 10)

    def change(worlds: Worlds) -> None:
        worlds.lead_days[1] = -1

    binding = bound(small, change, n=2)
    assert (binding.n_finished, binding.line_share.tolist(), binding.cause.tolist()) == (1, [1.0], [0, -1])

    def never(worlds: Worlds) -> None:
        worlds.lead_days[:] = -1

    nothing = bound(small, never, n=2)
    assert (nothing.n_finished, total(nothing)) == (0, 0.0)


# Independent: one future at a time, from what the plain twin remembers.


def plain_cause(one: OneFuture) -> tuple[tuple[str, int], set[int]]:
    """What the end of a finished future waits for, and the lines on the way back; docs/simulator.md, the trail."""
    rebuild, slots, moment = one.rebuild, one.rebuild.slots, one.clock
    found: tuple[str, int] | None = None
    way: tuple[str, int] | None = None
    chain: set[int] = set()
    while True:
        before = [wait for wait in one.waits if wait[0] <= moment]
        if not before:
            return found or way or ("work", 0), chain
        until, _, column = before[-1]
        if column >= len(slots) + 2 * len(rebuild.covers):
            return found or ("outside", column - len(slots) - 2 * len(rebuild.covers)), chain
        if column >= len(slots):
            return found or ("helper", 0), chain
        lines = [n for n in slots[column].lines if n in one.order_day and one.line_release(n) == until]
        if lines:
            line = lines[0]
            chain.add(line)
            found = found or ("line", line)
            trigger = one.layout.trigger[line]
            if trigger == ON_DISCOVERY and not rebuild.lines[line].already_ordered:
                moment = one.called_clock[slots[rebuild.lines[line].slot].component]
            elif 0 <= trigger <= one.layout.last_stage and not rebuild.lines[line].already_ordered:
                moment = one.end_clock[rebuild.bench_gates[trigger].slot]
            else:
                return found, chain
            continue
        if one.fallback_release.get(column) == until:
            way = way or ("way round", 0)
            moment = one.begun_clock[one.layout.fallback_column[column]]
            continue
        curing = list(slots[column].after)
        if slots[column].kind == "gate":
            curing += one.held_up_by(one.layout.gate_stage[column])
        ended = [i for i in sorted(curing) if i in one.ended_day and one.cured(i) == until]
        if not ended:
            return found or ("helper", 0), chain
        way = way or ("cure", 0)
        moment = one.end_clock[ended[0]]


def named(binding: Binding, f: int, n_lines: int, n_outside: int) -> tuple[str, int]:
    cause = int(binding.cause[f])
    if cause < n_lines:
        return "line", cause
    if cause < n_lines + n_outside:
        return "outside", cause - n_lines
    return {CURE: "cure", WAY_ROUND: "way round", HELPER: "helper", WORK: "work"}[cause - n_lines - n_outside], 0


def test_the_way_back_agrees_with_a_plain_walk() -> None:
    seen: dict[str, int] = {}
    for seed in range(3_000_000, 3_000_400):
        case = without_stops(random_case(seed, futures=4))
        rebuild = case.rebuild
        played = simulate(rebuild, case.worlds, case.policy, ends=True)
        binding = binding_shares(rebuild, case.worlds, case.policy, played)
        on_chain = np.zeros(len(rebuild.lines))
        for f, one in enumerate(play_each(rebuild, case.worlds, case.policy)):
            if one.status != FINISHED:
                assert binding.cause[f] == -1
                continue
            cause, chain = plain_cause(one)
            assert named(binding, f, len(rebuild.lines), len(rebuild.outside_gates)) == cause, (seed, f)
            on_chain[list(chain)] += 1
            seen[cause[0]] = seen.get(cause[0], 0) + 1
            seen["more than one line"] = seen.get("more than one line", 0) + (len(chain) > 1)
        assert np.allclose(binding.line_on_chain * max(binding.n_finished, 1), on_chain), seed
        assert total(binding) == pytest.approx(1.0 if binding.n_finished else 0.0)
    least = {"line": 100, "outside": 5, "cure": 10, "way round": 1, "helper": 30, "work": 10, "more than one line": 10}
    assert {what: n for what, n in least.items() if seen.get(what, 0) < n} == {}, seen


# Paired: the same futures once more, with one line a day earlier.


def two_stages() -> Small:
    """Six parts before the first test, four ordered when it has been passed; somebody works every day."""
    small = Small(evenings=(60,) * 700)
    for i in range(10):
        small.part(f"part {i}", trigger=-1 if i < 6 else 0)
        small.job(f"fit {i}", 20, parts=[f"part {i}"], stage=int(i >= 6), cure_days=2 if i == 3 else 0)
        if i == 5:
            small.gate("start", 10)
    small.gate("ride", 10)
    return small


def test_a_share_says_what_a_day_earlier_is_worth() -> None:
    """A part's place on the way back foretells how much earlier the same futures end if it comes a day earlier, within
    four standard errors of the paired difference (no other part comes within the same day very often: leads spread over
    weeks). Parts that are on nobody's way back change nothing."""
    small, n = two_stages(), 4_000
    rebuild, policy, worlds = small.rebuild(), small.policy(), small.worlds(n)
    rng = np.random.default_rng(5)
    middle = np.array([40, 35, 30, 25, 5, 1, 45, 30, 20, 1])
    lead = np.exp(np.log(middle) + 0.5 * rng.standard_normal((n, 10))).astype(np.int32) + 1
    worlds = replace(worlds, lead_days=np.repeat(lead[:, :, None], 2, axis=2))
    played = simulate(rebuild, worlds, policy, ends=True)
    assert (played.status == FINISHED).all()
    binding = binding_shares(rebuild, worlds, policy, played)
    assert total(binding) == pytest.approx(1.0)
    rows = []
    for line in range(10):
        earlier = worlds.lead_days.copy()
        earlier[:, line] -= 1
        gained = played.clock - simulate(rebuild, replace(worlds, lead_days=earlier), policy).clock
        rows.append((gained.mean(), gained.std() / sqrt(n), binding.day_earlier_minutes[line]))
    gained, error, foretold = np.array(rows).T
    assert (np.abs(gained - foretold) <= 4 * error + 0.5).all()
    on_chain = binding.line_on_chain > 0
    assert (gained[~on_chain] == 0).all() and (gained[on_chain] > 4 * error[on_chain]).all()
    # Nothing before the test is what the end waits for last, and yet it counts: the parts behind it come after it.
    assert (binding.line_share[:6] == 0).all() and (binding.line_on_chain[:4] > 0.1).all()
    # An evening has 60 minutes: a share of what the end waits for is worth that share of an evening.
    assert np.abs(gained[6:] - 60 * binding.line_share[6:]).max() <= 3.0
