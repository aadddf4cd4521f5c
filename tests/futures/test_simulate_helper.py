"""Work for two, work that stands or falls with other work, and the trail: worked out minute by minute.

hand-worked: all expected values in this file. As in `test_simulate_by_hand`, every evening has 60 planned minutes and
all are worked unless said otherwise.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.futures.small_machine import Small
from tests.futures.twin import twin_simulate
from wreckwright.futures.rebuild import FINISHED, NEVER_CAME, OFF_CALENDAR, Played, Worlds


def one(array: np.ndarray) -> object:
    """The only future's entry."""
    return array[0].tolist()


def engine() -> Small:
    """Somebody helps on days 3 and 6."""
    small = Small(helped=(3, 6))
    small.job("drain", 20)
    small.job("lift engine", 50, helper=True)
    small.gate("ride", 10)
    return small


def test_work_for_two_begins_on_a_helper_day_and_goes_on_alone() -> None:
    # drain 0-20; the lift waits for day 3 = minute 180: 160 minutes. 180-230, ride 230-240, the last minute of day 3.
    played = engine().play()
    assert (one(played.status), one(played.clock), one(played.day)) == (FINISHED, 240, 3)
    assert one(played.waited_minutes) == [0, 160, 0]
    assert one(played.last_wait) == 1
    # It need not end on that day: 150 minutes 180-330 run into days 4 and 5.
    small = engine()
    small.slots["lift engine"]["minutes"] = 150
    assert (one(small.play().clock), one(small.play().day)) == (340, 5)


def test_it_may_begin_with_the_last_minute_of_a_helper_evening_but_not_after_it() -> None:
    # Somebody helps on day 0. drain ends at 59: the lift 59-109. With 60 the evening is over: nobody helps any more.
    small = engine()
    small.helped = (0,)
    small.slots["drain"]["minutes"] = 59
    assert (one(small.play().status), one(small.play().clock)) == (FINISHED, 119)
    small.slots["drain"]["minutes"] = 60
    played = small.play()
    assert (one(played.status), one(played.clock), one(played.done)) == (OFF_CALENDAR, 600, [True, False, False])
    # Help on day 1 is there at minute 60, when day 0 has just ended.
    small.helped = (1,)
    assert one(small.play().clock) == 120


def test_nobody_waits_where_no_helper_days_are_known() -> None:
    small = engine()
    small.helped = None
    assert one(small.play().clock) == 80
    assert one(small.play().last_wait) == -1


def test_other_work_goes_on_while_the_helper_is_waited_for() -> None:
    # drain 0-20, then the lift is passed over: wash 20-60, wait 120, lift 180-230, ride 240.
    small = engine()
    small.job("wash", 40)
    played = small.play(rank=["drain", "lift engine", "wash"])
    assert (one(played.clock), one(played.waited_minutes)) == (240, [0, 120, 0, 0])


def test_help_on_a_day_without_work_is_no_help() -> None:
    # Day 3 has no minutes: at its start (180) day 4 has begun. The lift waits for day 6, which is minute 300.
    small = engine()
    small.evenings = (60, 60, 60, 0, 60, 60, 60, 60)
    played = small.play()
    assert (one(played.clock), one(played.waited_minutes)) == (360, [0, 280, 0])


def test_who_works_half_the_evenings_meets_the_helper_on_the_same_day() -> None:
    # 30 own minutes an evening: day 3 begins at minute 90. drain 0-20, lift 90-140, ride 150: 300 planned, day 4.
    def half(worlds: Worlds) -> None:
        worlds.attendance_permille[:] = 500

    played = engine().play(change=half)
    assert (one(played.clock), one(played.day), one(played.waited_minutes)) == (150, 4, [0, 70, 0])


def test_a_part_that_comes_after_the_helper_waits_for_the_next_one() -> None:
    # The sling comes on day 4 = minute 240; the next help is on day 6 = 360: one wait of 340, for help.
    small = Small(helped=(3, 6))
    small.part("sling", lead=(4,))
    small.job("drain", 20)
    small.job("lift engine", 50, helper=True, parts=["sling"])
    small.job("wait for me", 10, after=["lift engine"])
    small.gate("ride", 10)
    played = small.play(ends=True)
    assert (one(played.clock), one(played.waited_minutes)) == (430, [0, 340, 0, 0])
    assert played.trail is not None
    assert (played.trail.wait_clock.tolist(), played.trail.wait_minutes.tolist()) == ([360], [340])


def tank(helped: tuple[int, ...]) -> Small:
    small = Small(helped=helped)
    small.cover("tank", off=10, on=5, helper=True)
    small.job("wash", 15)
    small.job("plug", 20, covers=["tank"])
    small.gate("ride", 10)
    return small


def test_a_cover_for_two_comes_off_and_goes_on_only_with_help() -> None:
    # wash 0-15, wait for day 2 = 120: 105 minutes, booked on taking the tank off. Off 120-130, plug 130-150, on
    # 150-155 (still day 2), ride 165.
    small = tank((2,))
    played = small.play(ends=True)
    assert (one(played.status), one(played.clock)) == (FINISHED, 165)
    assert played.waited_minutes[0, small.work("tank off")] == 105 == played.waited_minutes.sum()
    assert one(played.last_wait) == small.work("tank off")
    # plug takes 60 now: 130-190, on day 3; putting it on waits for day 5 = 300. On 300-305, ride 315.
    small = tank((2, 5))
    small.slots["plug"]["minutes"] = 60
    played = small.play(ends=True)
    assert one(played.clock) == 315
    assert played.waited_minutes[0, [small.work("tank off"), small.work("tank on")]].tolist() == [105, 110]
    assert played.end_clock is not None and one(played.end_clock) == [15, 190, 315, 130, 305]


def test_a_cover_without_help_ends_off_the_calendar() -> None:
    played = tank(()).play()
    assert (one(played.status), one(played.clock), one(played.day)) == (OFF_CALENDAR, 600, 10)
    assert one(played.hands_on_minutes) == 15 and played.waited_minutes.sum() == 0


def test_a_test_that_takes_two_waits_for_help_each_time() -> None:
    # Help on day 2 = minute 120: start 120-130 says no. The way round 130-190, on day 3; start again on day 4 = 240.
    small = Small(helped=(2, 4))
    small.gate("push start", 10, ways=["way"], helper=True)
    small.job("way", 10, kind="fallback")

    def no(worlds: Worlds) -> None:
        worlds.gate_ok[:] = False
        worlds.minutes[:, 1] = 60

    played = small.play(change=no)
    assert (one(played.clock), one(played.waited_minutes)) == (250, [120 + 50, 0])


def rim(*, essential: bool = False) -> Small:
    """The rim never comes, as is known on day 4; it is tried on, fitted and trued; the old one is taken off first."""
    small = Small()
    small.part("rim", lead=(-1,))
    small.job("strip", 30, minor=1, part_of="try on")
    small.job("try on", 15, minor=2, after=["strip"], parts=["rim"], essential=essential)
    small.job("fit", 40, minor=4, after=["try on"], part_of="try on", cure_days=9, exposes=["hub"])
    small.job("true", 25, minor=8, after=["fit"], part_of="fit")
    small.job("mend hub", 5, kind="follow_up", component="hub")
    small.gate("ride", 10)
    return small


def found(worlds: Worlds) -> None:
    worlds.cries[:] = True


@pytest.mark.parametrize("lock_step", [True, False])
def test_what_belongs_to_a_part_that_never_comes_is_left_undone_with_it(lock_step: bool) -> None:
    # strip 0-30, before anybody knows. On day 4 = minute 240 the rim is given up: try on, fit and true are left undone
    # at 240, take nothing, cost nothing (1 for the strip, 200 for the order), find nothing and do not cure. ride 250.
    small = rim()
    worlds = small.worlds()
    found(worlds)
    played = small.play(change=found) if lock_step else twin_simulate(small.rebuild(), worlds, small.policy())
    assert (one(played.status), one(played.clock)) == (FINISHED, 250)
    assert one(played.left_undone) == [False, True, True, True, False, False]
    assert one(played.done) == [True, True, True, True, False, True]
    assert (one(played.hands_on_minutes), one(played.out_minor), one(played.known_bad)) == (40, 201, [False])


def test_work_of_an_essential_part_ends_with_the_project() -> None:
    played = rim(essential=True).play(change=found)
    assert (one(played.status), one(played.clock), one(played.left_undone)) == (NEVER_CAME, 240, [False] * 6)


def test_what_comes_before_the_slot_with_the_part_is_done_all_the_same() -> None:
    # "true" may be done before "fit" here: 0-25, then nothing is known yet of the rim.
    small = rim()
    small.slots["true"]["after"] = ()
    played = small.play(change=found)
    assert one(played.left_undone) == [False, True, True, False, False, False]
    assert one(played.hands_on_minutes) == 30 + 25 + 10


def test_work_for_two_that_is_left_undone_needs_no_help() -> None:
    # strip waits for help on day 2 = 120 and is done 120-150; fitting would want help on day 9, but falls away at 240.
    small = rim()
    small.helped = (2, 9)
    for name in ("strip", "try on", "fit", "true"):
        small.slots[name]["helper"] = True
    assert one(small.play(change=found).clock) == 250


def test_work_for_two_that_was_put_off_and_then_falls_away_does_not_wait_any_longer() -> None:
    # "true" can be done from the start but for help, which comes on day 9. At 240 the rim is given up, and so is it.
    small = rim()
    small.helped = (9,)
    small.slots["true"] |= {"after": (), "helper": True, "part_of": "try on"}
    played = small.play(change=found)
    assert (one(played.clock), one(played.left_undone)) == (250, [False, True, True, True, False, False])


def trail(played: Played) -> list[list[int]]:
    assert played.trail is not None
    waits = played.trail
    return np.stack([waits.wait_future, waits.wait_clock, waits.wait_minutes, waits.wait_column]).T.tolist()


def test_the_trail_of_two_futures() -> None:
    # First: fit 0-40 finds the pump at 40; the seal comes on day 2: wait 80, mend 120-130; start 130-150 says no at 150
    # (day 2), the way round from day 3 = 180: wait 30; 180-190, start 190-210. Second: nothing hidden, a yes at 60.
    small = Small()
    small.part("seal", lead=(2,))
    small.job("fit", 40, exposes=["pump"])
    small.job("mend pump", 10, kind="follow_up", component="pump", parts=["seal"])
    small.gate("start", 20, ways=["way"])
    small.job("way", 10, kind="fallback")

    def first_only(worlds: Worlds) -> None:
        worlds.cries[0], worlds.gate_ok[0], worlds.fallback_days[:] = True, False, 1

    played = small.play(n=2, change=first_only, ends=True)
    assert played.clock.tolist() == [210, 60]
    assert trail(played) == [[0, 120, 80, 1], [0, 180, 30, 3]]
    assert played.last_wait.tolist() == [3, -1]
    assert played.end_clock is not None and played.end_clock.tolist() == [[40, 130, 210, 190], [40, -1, 60, -1]]
    assert played.trail is not None
    assert played.trail.called_clock.tolist() == [[40], [-1]]
    assert played.trail.begun_clock.tolist() == [[150], [-1]]


def test_the_trail_is_only_there_where_it_was_asked_for() -> None:
    played = rim().play()
    assert played.end_clock is None and played.trail is None
