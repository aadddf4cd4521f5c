"""Small machines whose futures are worked out minute by minute in the text of each test.

hand-worked: all expected values in this file. Unless said otherwise every evening has 60 planned minutes and all of
them are worked, so that day d is minutes 60 d to 60 d + 60, the last of which still belongs to it.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.futures.small_machine import NEAR, Small
from wreckwright.futures.policy import ON_DISCOVERY
from wreckwright.futures.rebuild import (
    DISCOVERY,
    FINISHED,
    GATE_FAILED,
    GATE_NO,
    GATE_PASSED,
    NEVER_CAME,
    OFF_CALENDAR,
    STOPPED_BY_RULE,
    Worlds,
)


def one(array: np.ndarray) -> object:
    """The only future's entry."""
    return array[0].tolist()


def test_work_runs_on_into_the_next_evening() -> None:
    # 50 minutes of bleeding, then 30 of riding: 0-50-80. Minute 80 lies in the second evening, day 1.
    small = Small()
    small.job("bleed", 50)
    small.gate("ride", 30)
    played = small.play()
    assert (one(played.status), one(played.clock), one(played.day)) == (FINISHED, 80, 1)
    assert one(played.hands_on_minutes) == 80
    assert one(played.gate_day) == [1]


def test_with_half_the_evenings_worked_it_takes_twice_the_days() -> None:
    # Half of 60 planned minutes is 30. The job's 50 minutes are 100 planned ones, day 1 (60 < 100 <= 120); the ride
    # ends at 80 own, 160 planned minutes: day 2.
    small = Small()
    small.job("bleed", 50)
    small.gate("ride", 30)

    def half(worlds: Worlds) -> None:
        worlds.attendance_permille[:] = 500

    played = small.play(change=half)
    assert (one(played.clock), one(played.day)) == (80, 2)


def test_the_last_minute_of_an_evening_belongs_to_it() -> None:
    small = Small()
    small.job("bleed", 40)
    small.gate("ride", 20)
    assert one(small.play().day) == 0


def test_what_cannot_end_within_the_calendar_is_not_begun() -> None:
    # Two evenings, 120 minutes. After 100 a test of 30 would end at 130: the future ends at 120, on day 2 (= D).
    small = Small(evenings=(60, 60))
    small.job("bleed", 100)
    small.gate("ride", 30)
    played = small.play()
    assert (one(played.status), one(played.clock), one(played.day)) == (OFF_CALENDAR, 120, 2)
    assert one(played.hands_on_minutes) == 100
    assert one(played.done) == [True, False]


def failing_gate() -> Small:
    small = Small()
    small.job("fit", 40, minor=100)
    small.gate("start", 20, minor=50, ways=["rebuild it"])
    small.job("rebuild it", 30, minor=70, kind="fallback")
    return small


def no(worlds: Worlds) -> None:
    worlds.gate_ok[:] = False
    worlds.fallback_days[:] = 3
    worlds.fallback_minor[:] = 400


def test_a_gate_says_no_and_its_way_round_works() -> None:
    # fit 0-40, start 40-60 (day 0): no. The way round is begun on day 0 for 400, can start on day 3 = minute 180: 120
    # minutes of waiting. 180-210 rebuild, 210-230 start again: yes, day 3.
    played = failing_gate().play(change=no)
    assert (one(played.status), one(played.clock), one(played.day)) == (FINISHED, 230, 3)
    assert one(played.hands_on_minutes) == 40 + 20 + 30 + 20
    assert one(played.waited_minutes) == [0, 0, 120]
    assert one(played.fell_back) == [True]
    # fit 100, start twice 50, rebuild 70, begun for 400.
    assert one(played.out_minor) == 100 + 2 * 50 + 70 + 400
    assert one(played.resale_minor) == 0
    # At the no, on day 0: 150 spent in 60 minutes; the test is still to be done (50 money, 20 minutes), the way round
    # not yet begun.
    assert one(played.epoch_reached) == [False, True, False]
    assert (played.epoch_day[0, GATE_FAILED], played.epoch_out_minor[0, GATE_FAILED]) == (0, 150)
    assert played.epoch_minutes[0, GATE_FAILED] == 60
    x, y = 50 / 100_000, 20 / 600
    assert played.epoch_features[0, GATE_FAILED].tolist() == [1, x, y, 0, x * x, y * y, 0]


def test_a_gate_says_no_and_no_way_round_is_left() -> None:
    def nothing_helps(worlds: Worlds) -> None:
        no(worlds)
        worlds.fallback_ok[:] = False

    # As above up to 210, day 3; the rebuild does not help, and there is no other way.
    played = failing_gate().play(change=nothing_helps)
    assert (one(played.status), one(played.reason)) == (GATE_NO, 0)
    assert (one(played.clock), one(played.day)) == (210, 3)
    assert one(played.done) == [True, False, True]
    assert one(played.gate_day) == [-1]


def test_while_a_way_round_waits_the_next_stage_goes_on_where_the_test_allows() -> None:
    # Start needs the seat on, and with it the tank under it. fit 0-20, start 20-30: no; the way round waits for day 1.
    # Meanwhile "wire" (stage 1, no covers) 30-50; "hose" (stage 1, under the tank) has to wait. 50-60 wait. 60-70 way
    # round, 70-80 start: yes. Stage 1: seat off 80-81, tank off 81-82, hose 82-92, tank on 92-93, seat on 93-94,
    # ride 94-104.
    small = Small()
    small.cover("seat", off=1, on=1)
    small.cover("tank", off=1, on=1, under=["seat"])
    small.job("fit", 20)
    small.gate("start", 10, ways=["way"], covers_on=["seat"])
    small.job("way", 10, kind="fallback")
    small.job("hose", 10, stage=1, covers=["tank"])
    small.job("wire", 20, stage=1)
    small.gate("ride", 10)

    def change(worlds: Worlds) -> None:
        worlds.gate_ok[:, 0] = False
        worlds.fallback_days[:] = 1

    played = small.play(change=change)
    assert (one(played.status), one(played.clock)) == (FINISHED, 104)
    assert one(played.gate_day) == [1, 1]
    assert played.waited_minutes[0, small.work("way")] == 10
    assert played.waited_minutes.sum() == 10
    # Everything once, the test twice: 20 + 2 * 10 + 10 + 10 + 20 + 10 and four movements of covers.
    assert one(played.hands_on_minutes) == 94


def test_a_look_that_foretells_the_no_begins_the_way_round_early() -> None:
    # feel 0-5 (day 0) foretells the no: the way round can start on day 1 = 60. fit 5-45, wait 15, way 60-70, start
    # 70-90.
    small = Small()
    small.job("feel", 5, kind="look", rough_gate=0)
    small.job("fit", 40)
    small.gate("start", 20, ways=["way"])
    small.job("way", 10, kind="fallback")

    def change(worlds: Worlds) -> None:
        worlds.gate_ok[:] = False
        worlds.foretells[:, 0] = True
        worlds.fallback_days[:] = 1

    played = small.play(change=change)
    assert (one(played.status), one(played.clock)) == (FINISHED, 90)
    # The question was answered with yes at the only test.
    assert one(played.epoch_reached) == [False, False, False]
    assert one(played.fell_back) == [True]


def two_openings() -> Small:
    small = Small()
    small.cover("seat", off=2, on=3)
    small.cover("tank", off=5, on=7, under=["seat"])
    small.job("plug", 30, covers=["tank"])
    small.gate("start", 20, covers_on=["seat"])
    small.job("wire", 25, covers=["tank"], stage=1)
    small.gate("ride", 15)
    return small


def test_a_cover_is_opened_twice_because_a_test_in_between_needs_it_on() -> None:
    # seat off 0-2, tank off 2-7, plug 7-37, tank on 37-44, seat on 44-47, start 47-67 (day 1);
    # seat off 67-69, tank off 69-74, wire 74-99, tank on 99-106, seat on 106-109, ride 109-124 (day 2).
    played = two_openings().play()
    assert (one(played.status), one(played.clock), one(played.day)) == (FINISHED, 124, 2)
    assert one(played.gate_day) == [1, 2]
    assert one(played.hands_on_minutes) == 124


def test_the_same_work_in_one_stage_opens_the_cover_once() -> None:
    # seat off 0-2, tank off 2-7, plug 7-37, wire 37-62, tank on 62-69, seat on 69-72, start 72-92, ride 92-107.
    small = two_openings()
    played = small.play(policy={"stage": (0, 0, 0, 1)})
    assert (one(played.status), one(played.clock)) == (FINISHED, 107)


def test_a_cover_that_the_test_does_not_need_stays_off() -> None:
    # The first test needs no cover on: the tank stays off over it. seat off 2, tank off 7, plug 37, start 57, wire 82,
    # tank on 89, seat on 92, ride 107.
    small = two_openings()
    small.gates[0]["covers_on"] = ()
    assert one(small.play().clock) == 107


def test_paint_has_to_cure() -> None:
    # paint 0-10 on day 0 cures 2 days: polish not before day 2 = minute 120. wash 10-40, wait 80, polish 120-130,
    # test 130-150 (day 2). The paint's cure also holds up the test, but only until 120.
    small = Small()
    small.job("paint", 10, cure_days=2)
    small.job("polish", 10, after=["paint"])
    small.job("wash", 30)
    small.gate("test", 20)
    played = small.play()
    assert (one(played.clock), one(played.day)) == (150, 2)
    assert one(played.waited_minutes) == [0, 80, 0, 0]


def test_the_test_waits_for_the_cure_of_the_last_work() -> None:
    # paint 0-10, test not before 120: 120-140. Without planned minutes on day 1 the wait is 50 minutes long.
    small = Small(evenings=(60, 0, 60, 60))
    small.job("paint", 10, cure_days=2)
    small.gate("test", 20)
    played = small.play()
    assert (one(played.clock), one(played.day)) == (80, 2)
    assert one(played.waited_minutes) == [0, 50]


def never_comes(essential: bool = True, **part: int) -> Small:
    small = Small()
    small.part("lever", lead=(-1, 3), **part)
    small.job("wash", 50)
    small.job("fit lever", 20, parts=["lever"], essential=essential, minor=30)
    small.gate("ride", 20)
    return small


def test_a_part_without_which_it_cannot_be_finished_never_comes() -> None:
    # wash 0-50. The near source gives up after 4 days: the future ends at minute 240 on day 4, and nobody waited for a
    # thing. 1000 paid, 80 % come back: 200 out; half of that is what the order is still worth.
    played = never_comes().play()
    assert (one(played.status), one(played.reason)) == (NEVER_CAME, 0)
    assert (one(played.clock), one(played.day)) == (240, 4)
    assert one(played.hands_on_minutes) == 50
    assert one(played.out_minor) == 200
    assert one(played.resale_minor) == 100
    assert not played.waited_minutes.any()


def test_plan_b_brings_the_part() -> None:
    # Changed after 2 days to the far source, which takes 3: there on day 5 = minute 300. fit 300-320, ride 320-340 (day
    # 5). Paid 1000 - 800 + 1500, and 30 at the fitting.
    played = never_comes(plan_b=1, after=2).play()
    assert (one(played.status), one(played.clock), one(played.day)) == (FINISHED, 340, 5)
    assert one(played.waited_minutes) == [0, 250, 0]
    assert one(played.out_minor) == 1700 + 30


def test_plan_b_only_when_it_is_clear_that_it_never_comes() -> None:
    # Given up after 4 days, 3 more: day 7 = minute 420, ride ends at 460.
    assert one(never_comes(plan_b=1, after=-1).play().clock) == 460


def test_what_is_not_essential_is_left_undone() -> None:
    # On day 4 = minute 240 it is clear; the fitting takes no time and costs nothing, ride 240-260. The order can be
    # sold.
    played = never_comes(essential=False).play()
    assert (one(played.status), one(played.clock)) == (FINISHED, 260)
    assert one(played.left_undone) == [False, True, False]
    assert one(played.done) == [True, True, True]
    assert one(played.out_minor) == 200
    assert one(played.hands_on_minutes) == 70


def test_a_held_order_is_placed_when_the_gate_is_passed_and_not_at_all_when_it_is_not() -> None:
    # start 0-20 (day 0): the rim is ordered on day 0, comes after 2 days, minute 120: fit 120-150, ride 150-170.
    small = Small()
    small.part("rim", lead=(2,), trigger=0)
    small.gate("start", 20)
    small.job("fit rim", 30, parts=["rim"], stage=1)
    small.gate("ride", 20)
    played = small.play()
    assert (one(played.clock), one(played.order_day), one(played.out_minor)) == (170, [0], 1000)
    # The decision after the gate is taken before the order: nothing spent yet, 1000 for the rim still ahead, 30 + 20
    # minutes ahead.
    assert played.epoch_out_minor[0, GATE_PASSED] == 0
    assert played.epoch_features[0, GATE_PASSED, :4].tolist() == [1, 1000 / 100_000, 50 / 600, 0]

    def change(worlds: Worlds) -> None:
        worlds.gate_ok[:, 0] = False

    played = small.play(change=change)
    assert (one(played.status), one(played.reason), one(played.clock)) == (GATE_NO, 0, 20)
    assert (one(played.order_day), one(played.out_minor)) == ([-1], 0)


def hidden(needed_by: int) -> Small:
    small = Small(big_find_minor=2000)
    small.cover("tank", off=5, on=5)
    small.part("loom", lead=(1,), trigger=ON_DISCOVERY)
    small.job(
        "mend loom",
        20,
        minor=300,
        kind="follow_up",
        component="loom",
        covers=["tank"],
        parts=["loom"],
        needed_by=needed_by,
    )
    small.job("look", 10, kind="look", exposes=["loom"])
    small.gate("start", 20, covers_on=["tank"])
    small.job("wire", 30, covers=["tank"], stage=1)
    small.gate("ride", 10)
    return small


def found(worlds: Worlds) -> None:
    worlds.cries[:] = True


def test_a_find_that_can_wait_is_put_right_when_its_cover_is_off_anyway() -> None:
    # look 0-10 finds the loom; nothing opens the tank in this stage, "wire" will in the next: it waits for stage 1.
    # The loom is ordered on day 0, there on day 1 = 60. start 10-30. Stage 1: tank off 30-35, wire 35-65, mend 65-85,
    # tank on 85-90, ride 90-100.
    played = hidden(needed_by=1).play(change=found)
    assert (one(played.status), one(played.clock), one(played.day)) == (FINISHED, 100, 1)
    assert one(played.gate_day) == [0, 1]
    assert (one(played.known_bad), one(played.order_day)) == ([True], [0])
    assert not played.waited_minutes.any()


def test_a_find_that_the_gate_needs_opens_its_cover_itself() -> None:
    # Needed before the first start: tank off 10-15, wait 45 for the loom, mend 60-80, tank on 80-85, start 85-105 (day
    # 1). Stage 1: tank off 105-110, wire 110-140, tank on 140-145, ride 145-155.
    small = hidden(needed_by=0)
    played = small.play(change=found)
    assert (one(played.clock), one(played.gate_day)) == (155, [1, 2])
    assert played.waited_minutes[0, small.work("mend loom")] == 45


def test_a_big_find_is_a_moment_to_decide() -> None:
    # Expected cost 300 + 1000, the limit is 2000: no decision. With a limit of 1200 it is one; the loom (1000) has just
    # been ordered, the mending (300 and 20 minutes) lies ahead, with 20 + 30 + 10 minutes of other work.
    small = hidden(needed_by=1)
    assert not small.play(change=found).epoch_reached[0, DISCOVERY]
    small.big_find_minor = 1200
    played = small.play(change=found)
    assert played.epoch_reached[0, DISCOVERY]
    assert (played.epoch_out_minor[0, DISCOVERY], played.epoch_resale_minor[0, DISCOVERY]) == (1000, 500)
    assert played.epoch_features[0, DISCOVERY, :4].tolist() == [1, 300 / 100_000, 80 / 600, 0]


@pytest.mark.parametrize(("constant", "stops"), [(-0.003, False), (-0.0031, True)])
def test_the_policy_stops_where_its_rule_falls_below_nought(constant: float, stops: bool) -> None:
    # constant + x with x = 0.003: nought is not below nought.
    small = hidden(needed_by=1)
    small.big_find_minor = 1200
    rule = {DISCOVERY: (constant, 1.0, 0.0, 0.0, 0.0, 0.0, 0.0)}
    played = small.play(change=found, policy={"stop": rule})
    if stops:
        assert (one(played.status), one(played.reason)) == (STOPPED_BY_RULE, DISCOVERY)
        assert (one(played.clock), one(played.day), one(played.resale_minor)) == (10, 0, 500)
    else:
        assert one(played.status) == FINISHED


def test_a_test_that_finds_something_is_done_again_after_it_has_been_put_right() -> None:
    # start 0-20 finds the pump; mend 20-50, start 50-70: finished. Both tests are paid.
    small = Small()
    small.job("mend pump", 30, kind="follow_up", component="pump")
    small.gate("start", 20, minor=7, exposes=["pump"])
    played = small.play(change=found)
    assert (one(played.status), one(played.clock), one(played.out_minor)) == (FINISHED, 70, 14)


def test_papers_away_from_the_bench() -> None:
    # wash 0-20. The bank answers no on day 1; a declaration for 90 is begun that day and is accepted 2 days later, day
    # 3 = minute 180. plate 180-190, ride 190-200. The wait of 160 minutes is booked on the papers.
    small = Small()
    small.outside["papers"] = 1
    small.job("wash", 20)
    small.job("plate", 10, outside=["papers"])
    small.gate("ride", 10)

    def change(worlds: Worlds) -> None:
        worlds.outside_days[:] = 1
        worlds.outside_ok[:] = False
        worlds.outside_fallback_days[:] = 2
        worlds.outside_fallback_minor[:] = 90

    played = small.play(change=change)
    assert (one(played.status), one(played.clock), one(played.day)) == (FINISHED, 200, 3)
    assert one(played.waited_minutes) == [0, 0, 0, 160]
    assert one(played.out_minor) == 90

    def no_papers(worlds: Worlds) -> None:
        change(worlds)
        worlds.outside_fallback_ok[:] = False

    # The last no comes on day 3: the future ends there. Reason: one bench gate, then outside gate 0.
    played = small.play(change=no_papers)
    assert (one(played.status), one(played.reason)) == (GATE_NO, 1)
    assert (one(played.clock), one(played.day), one(played.hands_on_minutes)) == (180, 3, 20)


def test_a_part_bought_on_suspicion_ends_nothing_unless_it_turns_out_to_be_needed() -> None:
    # The gasket never comes (known on day 4). Nobody needs it unless the look finds the leak: then the future ends at
    # minute 240.
    small = Small()
    small.part("gasket", lead=(-1,))
    small.job("mend leak", 30, kind="follow_up", component="leak", parts=["gasket"])
    small.job("look", 10, kind="look", exposes=["leak"])
    small.gate("ride", 20)
    assert one(small.play().status) == FINISHED
    played = small.play(change=found)
    assert (one(played.status), one(played.reason), one(played.clock)) == (NEVER_CAME, 0, 240)


def test_a_stop_moment_does_not_break_off_what_has_been_begun() -> None:
    # The lever is given up on day 4, minute 240; washing 0-250 goes on to its end, on day 4.
    small = never_comes()
    small.slots["wash"]["minutes"] = 250
    played = small.play()
    assert (one(played.status), one(played.clock), one(played.day)) == (NEVER_CAME, 250, 4)


def test_of_two_parts_that_never_come_the_first_ordered_is_the_reason_if_both_are_known_by_now() -> None:
    # start 0-60, passed on day 0, orders both. The rim is given up after a day: start of day 1 = minute 60, which is
    # now. The hub is given up at once, on day 0, which began before now: also now. So the rim stays the reason, day 1.
    small = Small()
    small.part("rim", lead=(-1,), trigger=0, sources=[replace(NEAR, cancel_days=1)])
    small.part("hub", lead=(-1,), trigger=0, sources=[replace(NEAR, cancel_days=0)])
    small.gate("start", 60)
    small.job("fit rim", 10, stage=1, parts=["rim"])
    small.job("fit hub", 10, stage=1, parts=["hub"])
    small.gate("ride", 10)
    played = small.play()
    assert (one(played.status), one(played.reason)) == (NEVER_CAME, 0)
    assert (one(played.clock), one(played.day)) == (60, 1)


def test_a_look_that_is_not_used_is_not_done_and_its_part_not_ordered() -> None:
    small = Small()
    small.part("probe", lead=(2,))
    small.job("look", 10, kind="look", parts=["probe"])
    small.gate("ride", 20)
    played = small.play(policy={"looks": (False, True)})
    assert (one(played.clock), one(played.out_minor), one(played.order_day)) == (20, 0, [-1])
    assert one(played.done) == [False, True]


def test_the_lowest_rank_goes_first() -> None:
    # Among three jobs that can all be done the second is ranked first; the stop after 10 minutes shows it.
    small = Small(evenings=(10,))
    for name in ("a", "b", "c"):
        small.job(name, 10)
    small.gate("ride", 0)
    assert one(small.play(rank=["b"]).done) == [False, True, False, False]
