"""Toy machines with no question or one, at the bench or away from it: the tree of all worlds, leaf by leaf.

All expected values here are hand-worked, in the comments beside them. Every toy has an unbroken row of equal evenings
and full attendance, so that with m minutes an evening day d starts at clock m * d, and a moment at clock c > 0 belongs
to day ceil(c / m) - 1.
"""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest

from tests.futures.toy_worlds import (
    ENDING,
    NOW,
    ON_DISCOVERY,
    Simulate,
    evenings,
    mean,
    on_both,
    policy_of,
    rebuild_of,
    rows,
    tree,
    worlds_of,
)
from wreckwright.futures.rebuild import (
    FINISHED,
    GATE_NO,
    NEVER_CAME,
    STOPPED_BY_RULE,
    BenchGate,
    CoverNode,
    Exposes,
    Line,
    OutsideGate,
    Rebuild,
    Slot,
    Source,
    Worlds,
)

# A machine with no question asked.
#
# 120 minutes an evening, day d starts at 120 d. One cover: 10 minutes off, 20 on. A job under it (60 minutes, costs
# 300) shows whether a hidden component is bad (odds 1 to 1). If so a follow-up under the same cover (90 minutes,
# costs 500) needs a part, ordered when found: 8000, 5 days; odds 2 good : 1 wrong at first (4 days more, 1000 more) :
# 1 never (known on day 10, half of the price comes back). Unfitted parts fetch 600 per mille. The stage ends with a
# gate slot of no minutes.


def plain_machine() -> Rebuild:
    return rebuild_of(
        slots=[
            Slot(name="strip", kind="job", covers=(0,), exposes=(Exposes(component=0),)),
            Slot(name="put right", kind="follow_up", covers=(0,), lines=(0,), component=0),
            Slot(name="end", kind="gate"),
        ],
        gates=[BenchGate(name="end", stage=0, slot=2)],
        covers=(CoverNode(name="cover"),),
        lines=(
            Line(
                name="part",
                slot=1,
                sources=(
                    Source(name="slow", cancel_days=10, refund_permille=500, resale_permille=600),
                    Source(name="dear", cancel_days=10),
                ),
            ),
        ),
        components=("hidden",),
        cumulative_minutes=evenings(20, 120),
    )


PLAIN_LEAVES = tree({"sound": 1, "bad": 1}, {"good": 2, "wrong": 1, "never": 1})


def plain_worlds(rebuild: Rebuild) -> Worlds:
    return worlds_of(
        rebuild,
        PLAIN_LEAVES,
        minutes=[60, 90, 0, 10, 20],
        cries=lambda leaf: [leaf[0] == "bad"],
        lead_days=lambda leaf: [[-1 if leaf[1] == "never" else 5, 3]],
        wrong=lambda leaf: [[leaf[1] == "wrong", False]],
        second_lead_days=[[4, 4]],
        wrong_minor=[[1000, 1000]],
        price_minor=[[8000, 12000]],
        slot_minor=[300, 500, 0],
    )


@on_both
def test_no_gate_part_ordered_when_found(play: Simulate) -> None:
    rebuild = plain_machine()
    policy = policy_of(rebuild, line_trigger=(ON_DISCOVERY,))
    played = play(rebuild, plain_worlds(rebuild), policy)
    # sound: off 0-10, strip -70, on -90, finished at 90 on day 0. Hands 90, out 300.
    # bad: at 70 on day 0 the part is ordered; the cover stays off.
    #   good: arrives day 5 = 600. Waits 530. 600-690 put right, -710 cover on, finished 710; day ceil(710/120)-1 = 5.
    #         Hands 10+60+90+20 = 180. Out 300+8000+500 = 8800.
    #   wrong: arrives day 9 = 1080, waits 1010; finished 1190; 1190/120 = 9.9: day 9. Out 300+9000+500 = 9800.
    #   never: known day 10 = 1200: stop there, day 10 (although the moment 1200 itself is the last of day 9). Nothing
    #         is booked as waiting. Hands 70. Out 300 + 8000 - 4000 = 4300. Resale 600 per mille of 4000 = 2400.
    sound = (FINISHED, 90, 0, 90, 300, 0)
    # hand-worked
    assert rows(
        played, PLAIN_LEAVES, "status", "clock", "day", "hands_on_minutes", "out_minor", "resale_minor"
    ) == {
        ("sound", "good"): sound,
        ("sound", "wrong"): sound,
        ("sound", "never"): sound,
        ("bad", "good"): (FINISHED, 710, 5, 180, 8800, 0),
        ("bad", "wrong"): (FINISHED, 1190, 9, 180, 9800, 0),
        ("bad", "never"): (NEVER_CAME, 1200, 10, 70, 4300, 2400),
    }
    # Sum over odds of 8: 4 sound, 2 good, 1 wrong, 1 never.
    # Out 4 x 300 + 2 x 8800 + 9800 + 4300 = 32900; waiting 2 x 530 + 1010 = 2070; finished 7 of 8.
    # hand-worked
    assert mean(PLAIN_LEAVES, played.out_minor) == Fraction(32900, 8)
    assert mean(PLAIN_LEAVES, played.waited_minutes[:, 1]) == Fraction(2070, 8)
    assert played.waited_minutes.sum() == played.waited_minutes[:, 1].sum()
    assert mean(PLAIN_LEAVES, played.status == FINISHED) == Fraction(7, 8)
    assert played.reason.tolist() == [-1, -1, -1, -1, -1, 0]
    assert played.order_day[:, 0].tolist() == [-1, -1, -1, 0, 0, 0]


@on_both
def test_no_gate_plan_b_after_six_days(play: Simulate) -> None:
    rebuild = plain_machine()
    policy = policy_of(
        rebuild, line_trigger=(ON_DISCOVERY,), plan_b_source=(1,), plan_b_after_days=(6,)
    )
    played = play(rebuild, plain_worlds(rebuild), policy)
    # good: 5 days are in time, as before.
    # wrong: it would be 9 days; changed on day 6. Paid 8000+1000 less half, and 12000: 16500. Arrives day 6+3 = 9, the
    #   day on which the right one would have come: finished at 1190 as before. Out 300+16500+500 = 17300.
    # never: the end of patience, day 6, comes before the cancel day 10. Paid 8000-4000+12000 = 16000, arrives day 9.
    #   Out 16800.
    # Out 4 x 300 + 2 x 8800 + 17300 + 16800 = 52900.
    # hand-worked
    all_rows = rows(played, PLAIN_LEAVES, "status", "clock", "out_minor")
    assert {leaf: row for leaf, row in all_rows.items() if leaf[0] == "bad"} == {
        ("bad", "good"): (FINISHED, 710, 8800),
        ("bad", "wrong"): (FINISHED, 1190, 17300),
        ("bad", "never"): (FINISHED, 1190, 16800),
    }
    assert mean(PLAIN_LEAVES, played.out_minor) == Fraction(52900, 8)


@on_both
def test_no_gate_plan_b_only_when_it_is_clear_that_it_never_comes(play: Simulate) -> None:
    rebuild = plain_machine()
    policy = policy_of(rebuild, line_trigger=(ON_DISCOVERY,), plan_b_source=(1,))
    played = play(rebuild, plain_worlds(rebuild), policy)
    # wrong: left to come, as without plan B: 9800, day 9.
    # never: changed on day 10, arrives day 13 = 1560; + 90 + 20 = 1670, day 13. Out 300 + 4000 + 12000 + 500 = 16800.
    # hand-worked
    assert rows(played, PLAIN_LEAVES, "clock", "day", "out_minor")["bad", "wrong"] == (1190, 9, 9800)
    assert rows(played, PLAIN_LEAVES, "clock", "day", "out_minor")["bad", "never"] == (1670, 13, 16800)


@on_both
def test_no_gate_part_ordered_on_suspicion(play: Simulate) -> None:
    rebuild = plain_machine()
    played = play(rebuild, plain_worlds(rebuild), policy_of(rebuild))
    # Ordered on day 0 whether needed or not. Found on day 0 too, so the bad branches are as before; the sound ones
    # end with a part too much in the house (finished: no resale counted): out 300 + 8000, 300 + 9000, 300 + 4000.
    # That the part never comes does not hurt where nothing calls for it.
    # Out 2 x 8300 + 9300 + 4300 + 2 x 8800 + 9800 + 4300 = 61900.
    # hand-worked
    assert played.status.tolist() == [FINISHED] * 5 + [NEVER_CAME]
    assert played.out_minor.tolist() == [8300, 9300, 4300, 8800, 9800, 4300]
    assert mean(PLAIN_LEAVES, played.out_minor) == Fraction(61900, 8)


# A machine with one question.
#
# 120 minutes an evening. Stage 0: a job of 200 minutes, then the test of 30; yes with odds 3 : 2. After a no there is
# one way round: 5000, can be begun 4 days later, 60 minutes, helps with odds 1 : 1, then the test is done again.
# Stage 1: painting, 40 minutes; fitting a part, 100 minutes: 10000, 6 days, unfitted worth 700 per mille. Nothing
# asked at the end.


def one_gate_machine() -> Rebuild:
    return rebuild_of(
        slots=[
            Slot(name="build up", kind="job", needed_by=0),
            Slot(name="test", kind="gate", needed_by=0, mean_minor=100),
            Slot(name="way round", kind="fallback", needed_by=0),
            Slot(name="paint", kind="job", stage=1, needed_by=1, mean_minutes=40),
            Slot(name="fit", kind="job", stage=1, needed_by=1, lines=(0,), mean_minutes=100),
            Slot(name="end", kind="gate", stage=1, needed_by=1),
        ],
        gates=[
            BenchGate(name="test", stage=0, slot=1, fallbacks=(2,)),
            BenchGate(name="end", stage=1, slot=5),
        ],
        lines=(
            Line(
                name="part",
                slot=4,
                sources=(Source(name="shop", cancel_days=9, resale_permille=700, mean_minor=9900),),
            ),
        ),
        cumulative_minutes=evenings(30, 120),
    )


ONE_GATE_LEAVES = tree({"yes": 3, "no": 2}, {"helps": 1, "does not": 1})


def one_gate_worlds(rebuild: Rebuild) -> Worlds:
    return worlds_of(
        rebuild,
        ONE_GATE_LEAVES,
        minutes=[200, 30, 60, 40, 100, 0],
        gate_ok=lambda leaf: [leaf[0] == "yes", True],
        fallback_ok=lambda leaf: [leaf[1] == "helps"],
        fallback_days=[4],
        fallback_minor=[5000],
        lead_days=[[6]],
        price_minor=[[10000]],
    )


@on_both
def test_one_gate_part_ordered_at_once(play: Simulate) -> None:
    rebuild = one_gate_machine()
    played = play(rebuild, one_gate_worlds(rebuild), policy_of(rebuild))
    # The part arrives on day 6 = 720.
    # yes: 0-200, test -230 (day 1), paint -270, waits 450, fit 720-820, finished 820 on day 6. Out 10000.
    # no: way round begun on day 1, can start on day 5 = 600. Painting meanwhile 230-270 (no cover of the test is
    #     touched), waits 330, way round 600-660.
    #   helps: test 660-690 (day 5), waits 30, fit 720-820: the same day as without the no. Out 15000.
    #   does not: over at 660 on day 5. Out 15000, resale 7000.
    yes = (FINISHED, 820, 6, 10000, 0)
    # hand-worked
    assert rows(played, ONE_GATE_LEAVES, *ENDING) == {
        ("yes", "helps"): yes,
        ("yes", "does not"): yes,
        ("no", "helps"): (FINISHED, 820, 6, 15000, 0),
        ("no", "does not"): (GATE_NO, 660, 5, 15000, 7000),
    }
    # Odds of 10: yes 6, helps 2, does not 2. Net out (6 x 10000 + 2 x 15000 + 2 x 8000) / 10.
    # hand-worked
    assert mean(ONE_GATE_LEAVES, played.out_minor - played.resale_minor) == Fraction(106000, 10)
    assert played.waited_minutes[2].tolist() == [0, 0, 330, 0, 30, 0]
    assert played.gate_day.tolist() == [[1, 6], [1, 6], [5, 6], [-1, -1]]
    assert played.fell_back.tolist() == [[False, False]] * 2 + [[True, False]] * 2
    assert played.done[3].tolist() == [True, False, True, True, False, False]


@on_both
def test_one_gate_part_held_until_the_answer(play: Simulate) -> None:
    rebuild = one_gate_machine()
    played = play(rebuild, one_gate_worlds(rebuild), policy_of(rebuild, line_trigger=(0,)))
    # yes: ordered on day 1, arrives day 7 = 840: fit -940, day 7. Out 10000.
    # no, helps: ordered on day 5, arrives day 11 = 1320: fit -1420, day 11. Out 15000.
    # no, does not: never ordered: out 5000, nothing to sell.
    yes = (FINISHED, 940, 7, 10000, 0)
    # hand-worked
    assert rows(played, ONE_GATE_LEAVES, *ENDING) == {
        ("yes", "helps"): yes,
        ("yes", "does not"): yes,
        ("no", "helps"): (FINISHED, 1420, 11, 15000, 0),
        ("no", "does not"): (GATE_NO, 660, 5, 5000, 0),
    }
    # Holding back saves the 3000 that resale would lose, in 2 of 10: (106000 - 2 x 3000) / 10; and costs among the
    # finished 1 day in 6 of 8 and 5 days in 2 of 8: 16 days over 8.
    # hand-worked
    assert mean(ONE_GATE_LEAVES, played.out_minor - played.resale_minor) == Fraction(100000, 10)
    at_once = play(rebuild, one_gate_worlds(rebuild), policy_of(rebuild))
    later = np.where(played.status == FINISHED, played.day - at_once.day, 0)
    assert mean(ONE_GATE_LEAVES, later) == Fraction(16, 10)
    assert played.order_day[:, 0].tolist() == [1, 1, 5, -1]


@on_both
def test_one_gate_stop_rule_at_the_no(play: Simulate) -> None:
    rebuild = one_gate_machine()
    # Epoch 3 x 0 + 1. At the no, on day 1, are still to do: test (100), paint, fit, end; the way round is not begun.
    # Known money: held 100 + 9900 = 10000, x = 0.1; at once 100, x = 0.001. Known minutes 140. z = 1/30.
    # Rule: stop if 0.05 - x < 0.
    rule = {1: (0.05, -1.0, 0.0, 0.0, 0.0, 0.0, 0.0)}
    held = play(rebuild, one_gate_worlds(rebuild), policy_of(rebuild, line_trigger=(0,), stop=rule))
    # hand-worked
    assert rows(held, ONE_GATE_LEAVES, *ENDING)["no", "helps"] == (STOPPED_BY_RULE, 230, 1, 0, 0)
    assert rows(held, ONE_GATE_LEAVES, *ENDING)["no", "does not"] == (STOPPED_BY_RULE, 230, 1, 0, 0)
    assert held.reason.tolist() == [-1, -1, 1, 1]
    assert not held.fell_back.any()
    y = 140 / 600
    # hand-worked
    np.testing.assert_allclose(
        held.epoch_features[2, 1], [1, 0.1, y, 1 / 30, 0.01, y * y, 1 / 900], rtol=1e-12, atol=0
    )
    # The same rule lets the other buyer go on: the part is paid already, so little is still to spend.
    at_once = play(rebuild, one_gate_worlds(rebuild), policy_of(rebuild, stop=rule))
    assert at_once.status.tolist() == [FINISHED, FINISHED, FINISHED, GATE_NO]
    assert at_once.epoch_features[2, 1, 1] == pytest.approx(0.001, rel=1e-12)
    assert at_once.epoch_out_minor[:, 1].tolist() == [0, 0, 10000, 10000]
    assert at_once.epoch_resale_minor[:, 1].tolist() == [0, 0, 7000, 7000]
    assert at_once.epoch_minutes[:, 1].tolist() == [0, 0, 230, 230]


# A machine with one question asked away from the bench.
#
# 100 minutes an evening. A job of 50 minutes; a second of 70 that needs the yes and a part: 9000, 2 days, unfitted
# worth 400 per mille. The answer comes on day 6, yes 1 : 1; after a no one way round, 2500, 3 days, yes 1 : 1.

OUTSIDE_LEAVES = tree({"yes": 1, "no": 1}, {"way": 1, "no way": 1})


def outside_machine() -> Rebuild:
    return rebuild_of(
        slots=[
            Slot(name="first", kind="job"),
            Slot(name="second", kind="job", lines=(0,), outside=(0,)),
            Slot(name="end", kind="gate"),
        ],
        gates=[BenchGate(name="end", stage=0, slot=2)],
        outside_gates=(OutsideGate(name="papers", n_fallbacks=1),),
        lines=(Line(name="part", slot=1, sources=(Source(name="shop", cancel_days=5, resale_permille=400),)),),
        cumulative_minutes=evenings(40, 100),
    )


def outside_worlds(rebuild: Rebuild) -> Worlds:
    return worlds_of(
        rebuild,
        OUTSIDE_LEAVES,
        minutes=[50, 70, 0],
        outside_days=[6],
        outside_ok=lambda leaf: [leaf[0] == "yes"],
        outside_fallback_ok=lambda leaf: [[leaf[1] == "way"]],
        outside_fallback_days=[[3]],
        outside_fallback_minor=[[2500]],
        lead_days=[[2]],
        price_minor=[[9000]],
    )


@pytest.mark.parametrize("held", [False, True])
@on_both
def test_outside_gate_part_at_once_or_held(play: Simulate, held: bool) -> None:
    rebuild = outside_machine()
    # A trigger counts bench gates first: the outside gate is number 1.
    played = play(rebuild, outside_worlds(rebuild), policy_of(rebuild, line_trigger=(1 if held else NOW,)))
    # First 0-50.
    # at once: part there on day 2.
    #   yes: waits 550 for the gate, 600-670, day 6, out 9000.
    #   no, way: yes on day 9, waits 850: 900-970, day 9, out 11500.
    #   no, no way: last no on day 9: over at 900, day 9, reason 1 bench gate + 0; out 11500, resale 3600; no wait.
    # held: ordered on the day of the yes; the wait ends with the part.
    #   yes: part there on day 8: waits 750 for it, 800-870, day 8, out 9000.
    #   no, way: part there on day 11: waits 1050, 1100-1170, day 11, out 11500. no, no way: out 2500.
    # Net out: at once (9000 x 2 + 11500 + 7900) / 4, held (9000 x 2 + 11500 + 2500) / 4.
    if held:
        yes, way, no_way = (FINISHED, 870, 8, 9000, 0), (FINISHED, 1170, 11, 11500, 0), (GATE_NO, 900, 9, 2500, 0)
        waits_for_part, waits_for_gate = [750, 750, 1050, 0], [0, 0, 0, 0]
        orders, net = [6, 6, 9, -1], Fraction(32000, 4)
    else:
        yes, way, no_way = (FINISHED, 670, 6, 9000, 0), (FINISHED, 970, 9, 11500, 0), (GATE_NO, 900, 9, 11500, 3600)
        waits_for_part, waits_for_gate = [0, 0, 0, 0], [550, 550, 850, 0]
        orders, net = [0, 0, 0, 0], Fraction(37400, 4)
    # hand-worked
    assert rows(played, OUTSIDE_LEAVES, *ENDING) == {
        ("yes", "way"): yes,
        ("yes", "no way"): yes,
        ("no", "way"): way,
        ("no", "no way"): no_way,
    }
    assert played.reason.tolist() == [-1, -1, -1, 1]
    # Columns: three slots, no covers, then the outside gate.
    assert played.waited_minutes.T.tolist() == [[0, 0, 0, 0], waits_for_part, [0, 0, 0, 0], waits_for_gate]
    assert played.order_day[:, 0].tolist() == orders
    assert mean(OUTSIDE_LEAVES, played.out_minor - played.resale_minor) == net
