"""Toy machines with two stages or two questions: the tree of all worlds, leaf by leaf.

All expected values here are hand-worked, in the comments beside them. Every toy has an unbroken row of equal evenings
and full attendance, so that with m minutes an evening day d starts at clock m * d, and a moment at clock c > 0 belongs
to day ceil(c / m) - 1.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from tests.futures.toy_worlds import (
    ENDING,
    NOW,
    Leaf,
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
from wreckwright.futures.policy import Policy
from wreckwright.futures.rebuild import (
    FINISHED,
    GATE_NO,
    BenchGate,
    CoverNode,
    Exposes,
    Line,
    Played,
    Rebuild,
    Slot,
    Source,
    Worlds,
)

# A machine with two questions.
#
# 100 minutes an evening. Stage 0: job A 150 minutes (costs 1000), test 0 of 50 (200), yes 2 : 1, no way round.
# Stage 1: job B 80 minutes with part 0 (6000, 3 days, ordered on passing test 0, unfitted 500 per mille), test 1 of
# 20 (300 each time), yes 1 : 1; two ways round: the first 1500, 2 days, 40 minutes, helps 1 : 2; the second 4000, 5
# days, 60 minutes, helps 1 : 1.
# Stage 2: job C 120 minutes with part 1 (20000, 4 days, unfitted 250 per mille). Nothing asked at the end.
# Odds in all 3 x 2 x 3 x 2 = 36: no at test 0: 12; yes, yes: 12; first way helps: 4; second helps: 4; neither: 4.

TWO_GATE_LEAVES = tree(
    {"yes": 2, "no": 1},
    {"yes": 1, "no": 1},
    {"first helps": 1, "first does not": 2},
    {"second helps": 1, "second does not": 1},
)


def two_gate_machine() -> Rebuild:
    return rebuild_of(
        slots=[
            Slot(name="A", kind="job", needed_by=0),
            Slot(name="test 0", kind="gate", needed_by=0),
            Slot(name="B", kind="job", stage=1, needed_by=1, lines=(0,)),
            Slot(name="test 1", kind="gate", stage=1, needed_by=1),
            Slot(name="first way", kind="fallback", stage=1, needed_by=1),
            Slot(name="second way", kind="fallback", stage=1, needed_by=1),
            Slot(name="C", kind="job", stage=2, needed_by=2, lines=(1,)),
            Slot(name="end", kind="gate", stage=2, needed_by=2),
            Slot(name="rough look", kind="look", needed_by=0, rough_gate=1),
        ],
        gates=[
            BenchGate(name="test 0", stage=0, slot=1),
            BenchGate(name="test 1", stage=1, slot=3, fallbacks=(4, 5)),
            BenchGate(name="end", stage=2, slot=7),
        ],
        lines=(
            Line(name="part 0", slot=2, sources=(Source(name="shop", cancel_days=9, resale_permille=500),)),
            Line(name="part 1", slot=6, sources=(Source(name="shop", cancel_days=9, resale_permille=250),)),
        ),
        cumulative_minutes=evenings(60, 100),
    )


def two_gate_worlds(rebuild: Rebuild) -> Worlds:
    return worlds_of(
        rebuild,
        TWO_GATE_LEAVES,
        minutes=[150, 50, 80, 20, 40, 60, 120, 0, 30],
        foretells=lambda leaf: [False] * 8 + [leaf[1] == "no"],
        gate_ok=lambda leaf: [leaf[0] == "yes", leaf[1] == "yes", True],
        fallback_ok=lambda leaf: [leaf[2] == "first helps", leaf[3] == "second helps"],
        fallback_days=[2, 5],
        fallback_minor=[1500, 4000],
        lead_days=[[3], [4]],
        price_minor=[[6000], [20000]],
        slot_minor=[1000, 200, 0, 300, 0, 0, 0, 0, 0],
    )


def two_gate_policy(rebuild: Rebuild, *, part_1_trigger: int, look: bool) -> Policy:
    # The look, if used, comes first of all; else the order of the numbers.
    rank = (1, 2, 3, 4, 5, 6, 7, 8, 0)
    return policy_of(rebuild, line_trigger=(0, part_1_trigger), looks=(True,) * 8 + (look,), rank=rank)


def by_ending(leaf: Leaf) -> str:
    if leaf[0] == "no":
        return "no at test 0"
    if leaf[1] == "yes":
        return "yes"
    if leaf[2] == "first helps":
        return "first way"
    return "second way" if leaf[3] == "second helps" else "neither"


def assert_two_gates(played: Played, expected: Mapping[str, tuple[int, ...]]) -> None:
    got = rows(played, TWO_GATE_LEAVES, *ENDING)
    assert got == {leaf: expected[by_ending(leaf)] for leaf in TWO_GATE_LEAVES}


@on_both
def test_two_gates_second_part_held(play: Simulate) -> None:
    rebuild = two_gate_machine()
    policy = two_gate_policy(rebuild, part_1_trigger=1, look=False)
    played = play(rebuild, two_gate_worlds(rebuild), policy)
    # A 0-150, test 0 -200 (day 1). No: over, out 1200. Yes: part 0 ordered on day 1, there on day 4 = 400: waits 200,
    # B -480, test 1 -500 (day 4), out 1200 + 6000 + 300 = 7500.
    # yes: part 1 ordered on day 4, there on day 8: waits 300, C 800-920, day 9, out 27500.
    # no: first way begun on day 4, from day 6 on: waits 100, 600-640. C is called meanwhile, its part not yet ordered.
    #   helps: test -660, day 6; part 1 there on day 10: C 1000-1120, day 11. Out 7500 + 1500 + 300 + 20000 = 29300.
    #   does not: second way begun on day 6, from day 11 on: 1100-1160, day 11.
    #     helps: test -1180, day 11; part 1 there on day 15: C 1500-1620, day 16. Out 7500 + 5500 + 300 + 20000 = 33300.
    #     does not: over at 1160, day 11, out 7500 + 5500 = 13000; part 0 fitted, part 1 never ordered: nothing to sell.
    # hand-worked
    assert_two_gates(
        played,
        {
            "no at test 0": (GATE_NO, 200, 1, 1200, 0),
            "yes": (FINISHED, 920, 9, 27500, 0),
            "first way": (FINISHED, 1120, 11, 29300, 0),
            "second way": (FINISHED, 1620, 16, 33300, 0),
            "neither": (GATE_NO, 1160, 11, 13000, 0),
        },
    )
    # 12 x 1200 + 12 x 27500 + 4 x (29300 + 33300 + 13000) = 646800; finished 20 of 36;
    # days of the finished 12 x 9 + 4 x 11 + 4 x 16 = 216.
    # hand-worked
    assert mean(TWO_GATE_LEAVES, played.out_minor) == Fraction(646800, 36)
    assert mean(TWO_GATE_LEAVES, played.status == FINISHED) == Fraction(20, 36)
    assert mean(TWO_GATE_LEAVES, np.where(played.status == FINISHED, played.day, 0)) == Fraction(216, 36)
    expected_reason = {"no at test 0": 0, "neither": 1}
    assert played.reason.tolist() == [expected_reason.get(by_ending(leaf), -1) for leaf in TWO_GATE_LEAVES]


@on_both
def test_two_gates_second_part_at_once(play: Simulate) -> None:
    rebuild = two_gate_machine()
    policy = two_gate_policy(rebuild, part_1_trigger=NOW, look=False)
    played = play(rebuild, two_gate_worlds(rebuild), policy)
    # Part 1 is there on day 4. No at test 0: out 21200, resale 5000.
    # yes: C 500-620, day 6. no: C meanwhile 500-620; the first way is free from 600 on: 620-660 (day 6).
    #   helps: test -680; C is done: finished 680, day 6, out 29300.
    #   does not: second way from day 11: 1100-1160; helps: test -1180, finished, day 11, out 33300.
    #     does not: over at 1160, day 11, out 33000; part 1 has been fitted meanwhile: nothing to sell.
    # hand-worked
    assert_two_gates(
        played,
        {
            "no at test 0": (GATE_NO, 200, 1, 21200, 5000),
            "yes": (FINISHED, 620, 6, 27500, 0),
            "first way": (FINISHED, 680, 6, 29300, 0),
            "second way": (FINISHED, 1180, 11, 33300, 0),
            "neither": (GATE_NO, 1160, 11, 33000, 0),
        },
    )
    # Net out 12 x 16200 + 12 x 27500 + 4 x (29300 + 33300 + 33000) = 906800; days 12 x 6 + 4 x 6 + 4 x 11 = 140.
    # hand-worked
    assert mean(TWO_GATE_LEAVES, played.out_minor - played.resale_minor) == Fraction(906800, 36)
    assert mean(TWO_GATE_LEAVES, np.where(played.status == FINISHED, played.day, 0)) == Fraction(140, 36)


@on_both
def test_two_gates_rough_look_foretells_the_no(play: Simulate) -> None:
    rebuild = two_gate_machine()
    policy = two_gate_policy(rebuild, part_1_trigger=1, look=True)
    played = play(rebuild, two_gate_worlds(rebuild), policy)
    # Look 0-30. If test 1 will say no, the first way is begun on day 0 (1500), from day 2 = 200 on.
    # A -180, test 0 -230 (day 2; it goes before the way round). No at test 0: over at 230, day 2; the 1500 are lost
    #   where test 1 would have said no: out 1200 or 2700.
    # Yes: part 0 ordered on day 2, there on day 5 = 500.
    # yes at test 1: waits 270, B -580, test 1 -600 (day 5); part 1 there on day 9: C 900-1020, day 10, out 27500.
    # no: first way 230-270 (day 2).
    #   helps: waits 230 for part 0, B 500-580, test 1 -600: its only test, yes. C 900-1020, day 10.
    #     Out 7500 + 1500 + 20000 = 29000.
    #   does not: second way begun on day 2, from day 7 = 700 on. B 500-580, waits 120, 700-760 (day 7).
    #     helps: test -780 (day 7), part 1 there on day 11: C 1100-1220, day 12. Out 7500 + 5500 + 20000 = 33000.
    #     does not: over at 760, day 7. Out 1200 + 6000 + 5500 = 12700.
    got = rows(played, TWO_GATE_LEAVES, *ENDING)
    expected = {
        "yes": (FINISHED, 1020, 10, 27500, 0),
        "first way": (FINISHED, 1020, 10, 29000, 0),
        "second way": (FINISHED, 1220, 12, 33000, 0),
        "neither": (GATE_NO, 760, 7, 12700, 0),
    }
    # hand-worked
    for leaf, row in got.items():
        if leaf[0] == "no":
            assert row == (GATE_NO, 230, 2, 1200 if leaf[1] == "yes" else 2700, 0)
        else:
            assert row == expected[by_ending(leaf)]
    # The look costs the lucky a day (9 -> 10) and saves the unlucky 1 and 4 days and a second test of 300.
    # Out 6 x 1200 + 6 x 2700 + 12 x 27500 + 4 x (29000 + 33000 + 12700) = 652200.
    # hand-worked
    assert mean(TWO_GATE_LEAVES, played.out_minor) == Fraction(652200, 36)
    assert not played.epoch_reached[:, 3 * 1 + 1].any()


# Two finds at one moment: the second sees what the first opens.
#
# 100 minutes an evening, two stages without questions, one cover (5 minutes off, 5 on), which must be on at the end of
# both. A job of stage 0 (40 minutes, no covers) shows two bad components. Their follow-ups P and Q (10 minutes each)
# lie under the cover, and so does the only job of stage 1, R (10 minutes). Q is needed by the end of stage 1.


@pytest.mark.parametrize("p_needed_by", [0, 1])
@on_both
def test_two_finds_share_one_opening(play: Simulate, p_needed_by: int) -> None:
    rebuild = rebuild_of(
        slots=[
            Slot(name="see", kind="job", needed_by=0, exposes=(Exposes(component=0), Exposes(component=1))),
            Slot(name="P", kind="follow_up", needed_by=p_needed_by, covers=(0,), component=0),
            Slot(name="Q", kind="follow_up", needed_by=1, covers=(0,), component=1),
            Slot(name="end 0", kind="gate", needed_by=0),
            Slot(name="R", kind="job", stage=1, needed_by=1, covers=(0,)),
            Slot(name="end 1", kind="gate", stage=1, needed_by=1),
        ],
        gates=[
            BenchGate(name="end 0", stage=0, slot=3, covers_on=(0,)),
            BenchGate(name="end 1", stage=1, slot=5),
        ],
        covers=(CoverNode(name="cover"),),
        components=("p", "q"),
        cumulative_minutes=evenings(5, 100),
    )
    leaves = tree({"only": 1})
    worlds = worlds_of(rebuild, leaves, minutes=[40, 10, 10, 0, 10, 0, 5, 5], cries=[True, True])
    policy = policy_of(rebuild)
    stop = replace(policy, stop={2: (-1.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)})
    # P needed by the end of stage 0: it opens the cover now, and Q goes with it: 40, off 45, P 55, Q 65, on 70.
    #   Stage 0 over at 70; then off, R, on: 90.
    # P needed by the end of stage 1: it waits for R's opening, and so does Q. Stage 0 over at 40; off, P, Q, R, on: 80.
    # hand-worked
    clock_of_stage_0, clock = (70, 90) if p_needed_by == 0 else (40, 80)
    assert play(rebuild, worlds, stop).clock.tolist() == [clock_of_stage_0]
    assert play(rebuild, worlds, policy).clock.tolist() == [clock]
