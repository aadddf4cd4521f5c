from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.futures.made_known import TRADE, known
from wreckwright.errors import AnswerError
from wreckwright.futures.draw import draw, play
from wreckwright.futures.policy import NEVER, NOW, ON_DISCOVERY, Policy
from wreckwright.futures.rebuild import (
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
from wreckwright.futures.worlds import calm_worlds
from wreckwright.plan.problem import problem_of, usual_problem
from wreckwright.plan.types import NEVER_DAY

SHOP = (Source(name="shop", cancel_days=20),)
WHEEL, SPARE, PAINT, LOOK, PUMP, STARTS, RIDE, WAY = range(8)


def rebuild() -> Rebuild:
    """A wheel with a part, a spare that can be left undone and its paint, a look that may show the pump, two tests."""
    return Rebuild(
        slots=(
            Slot(name="wheel", kind="job", stage=1, needed_by=1, lines=(0,), outside=(0,), cure_days=2),
            Slot(name="spare", kind="job", stage=1, needed_by=1, lines=(1,), essential=False),
            Slot(name="paint", kind="job", stage=1, needed_by=1, after=(SPARE, STARTS), part_of=SPARE),
            Slot(name="look", kind="look", needed_by=1, exposes=(Exposes(component=0),), covers=(0,)),
            Slot(name="pump", kind="follow_up", needed_by=1, component=0, lines=(2,)),
            Slot(name="starts", kind="gate", stage=0, needed_by=0),
            Slot(name="ride", kind="gate", stage=1, needed_by=1, exposes=(Exposes(component=0),)),
            Slot(name="push it", kind="fallback", stage=0, needed_by=0),
        ),
        covers=(CoverNode(name="seat", off_at_start=True),),
        bench_gates=(
            BenchGate(name="starts", stage=0, slot=STARTS, covers_on=(0,), fallbacks=(WAY,)),
            BenchGate(name="ride", stage=1, slot=RIDE),
        ),
        outside_gates=(OutsideGate(name="papers", n_fallbacks=1),),
        lines=tuple(Line(name=f"part {n}", slot=slot, sources=SHOP) for n, slot in enumerate((WHEEL, SPARE, PUMP))),
        components=("pump",), cumulative_minutes=np.arange(0, 6060, 60), big_find_minor=0,
        as_it_stands_minor=(0, 0, 0), part_out_minor=0,
    )


def policy(*, triggers: tuple[int, int, int] = (NOW, NOW, ON_DISCOVERY), look: bool = True) -> Policy:
    return Policy(
        line_source=(0,) * 3, line_trigger=triggers, plan_b_source=(-1,) * 3, plan_b_after_days=(-1,) * 3,
        stage=(1, 1, 1, 0, 1, 0, 1, 0), rank=tuple(range(10)), looks=(True, True, True, look, True, True, True, True),
    )


def worlds() -> Worlds:
    """Future 0: all parts on day 7, papers no on day 3 and yes 4 days later. Future 1: the spare never comes, the pump
    is bad, the first test wants a way round of 5 days and 40 minutes, the papers come on day 1."""
    calm = calm_worlds(rebuild(), 2)
    lead = np.full((2, 3, 1), 7, np.int32)
    lead[1, 1] = -1
    minutes = np.array([[10] * 10, [20] * 10], np.int32)
    minutes[1, WAY] = 40
    return replace(
        calm, minutes=minutes, lead_days=lead, outside_days=np.array([[3], [1]], np.int32),
        outside_ok=np.array([[False], [True]]), outside_fallback_ok=np.ones((2, 1, 1), bool),
        outside_fallback_days=np.full((2, 1, 1), 4, np.int32), cries=np.array([[False, False], [True, True]]),
        gate_ok=np.array([[True, True], [False, True]]), fallback_days=np.full((2, 1), 5, np.int32),
    )


def test_everything_of_a_rebuild_has_its_place() -> None:
    problem = problem_of(rebuild(), None, worlds(), policy())
    # hand-worked from the rebuild and worlds above
    assert [work.key for work in problem.works] == ["wheel", "spare", "paint", "look", "pump"]
    assert [test.key for test in problem.tests] == ["gate:starts", "gate:ride"]
    assert problem.release_day.tolist() == [[7, 7, 0, 0, 0], [7, 20, 0, 0, 0]]
    assert problem.minutes.tolist() == [[10] * 5, [20, 0, 0, 20, 20]], "left undone, and its paint with it"
    assert problem.present[:, PUMP].tolist() == [False, True] and problem.lead_days[:, PUMP].tolist() == [7, 7]
    assert problem.works[PAINT].first_stage == 1 and problem.works[PAINT].after == (SPARE,)
    assert problem.works[WHEEL].cure_days == 2 and problem.works[LOOK].shows == (PUMP,)
    assert problem.tests[1].shows == (PUMP,) and problem.says is not None and problem.says.tolist()[1] == [True, True]
    assert problem.way_days.tolist() == [[0, 0], [5, 0]] and problem.way_minutes.tolist() == [[0, 0], [60, 0]]
    assert problem.ends_at is not None and problem.ends_at.tolist() == [2, 2]
    assert problem.covers[0].off_at_start and problem.tests[0].covers_on == (0,)


def test_what_waits_for_a_test_is_held_and_cannot_be_put_before_it() -> None:
    problem = problem_of(rebuild(), None, worlds(), policy(triggers=(0, NOW, 0)))
    held = [(order.work, order.test, order.days.tolist()) for order in problem.held]
    assert held == [(WHEEL, 0, [7, 7]), (PUMP, 0, [7, 7])]
    assert problem.works[WHEEL].first_stage == problem.works[PUMP].first_stage == 1
    # the papers are still waited for: no on day 3 and yes 4 days later, or on day 1
    assert problem.release_day[:, WHEEL].tolist() == [7, 1]


def test_an_order_that_waits_for_the_papers_comes_so_much_later() -> None:
    problem = problem_of(rebuild(), None, worlds(), policy(triggers=(2, NOW, ON_DISCOVERY)))
    assert problem.release_day[:, WHEEL].tolist() == [3 + 4 + 7, 1 + 7]  # hand-worked


def test_what_is_never_ordered_is_left_undone_or_cannot_be_done() -> None:
    problem = problem_of(rebuild(), None, worlds(), policy(triggers=(NEVER, NEVER, ON_DISCOVERY)))
    assert problem.release_day[:, WHEEL].tolist() == [NEVER_DAY] * 2
    assert problem.minutes[:, SPARE].tolist() == [0, 0] and problem.release_day[:, SPARE].tolist() == [0, 0]


def test_a_look_that_is_not_taken_is_no_work_and_shows_nothing() -> None:
    problem = problem_of(rebuild(), None, worlds(), policy(look=False))
    assert "look" not in [work.key for work in problem.works]
    assert problem.present.tolist() == [[True, True, True, False], [True] * 4], "the ride still shows it"
    assert problem.says is not None and problem.says.shape == (2, 1)


def test_a_no_that_nothing_helps_ends_the_rebuild_there() -> None:
    lost = replace(worlds(), fallback_ok=np.zeros((2, 1), bool))
    problem = problem_of(rebuild(), None, lost, policy())
    assert problem.ends_at is not None and problem.ends_at.tolist() == [2, 0]


def test_rows_choose_futures_and_keys_name_work() -> None:
    keys = [f"k{n}" for n in range(8)] + ["seat_off"]
    problem = problem_of(rebuild(), keys, worlds(), policy(), rows=[1])
    assert problem.n_scenarios == 1 and problem.minutes.tolist() == [[20, 0, 0, 20, 20]]
    assert [work.key for work in problem.works] == keys[:5] and problem.covers[0].key == "seat_off"
    with pytest.raises(AnswerError, match="given 3 keys"):
        problem_of(rebuild(), keys[:3], worlds(), policy())
    with pytest.raises(AnswerError, match="the key 'k1'"):
        problem_of(rebuild(), ["k1", *keys[1:]], worlds(), policy())


def test_usual_figures_are_medians_of_what_comes() -> None:
    three = calm_worlds(rebuild(), 3)
    lead = np.array([[[4], [-1], [9]], [[6], [5], [9]], [[20], [9], [9]]], np.int32)
    minutes = np.repeat(np.array([[10], [30], [80]], np.int32), 10, axis=1)
    varied = replace(
        three, lead_days=lead, minutes=minutes, attendance_permille=np.array([500, 700, 1000], np.int32),
        cries=np.ones((3, 2), bool), gate_ok=np.zeros((3, 2), bool), outside_days=np.array([[2], [8], [30]], np.int32),
        outside_fallback_ok=np.ones((3, 1, 1), bool),
    )
    problem = usual_problem(rebuild(), None, varied, policy())
    # hand-worked: medians 6 and, of 5 and 9, 7; the papers on day 8, later than the wheel's part
    assert problem.release_day.tolist() == [[8, 7, 0, 0, 0]]
    assert problem.minutes.tolist() == [[30] * 5] and problem.hours.attendance_permille.tolist() == [700]
    assert not problem.present[0, PUMP] and not problem.way_days.any() and not problem.way_minutes.any()


def test_a_whole_machine_keeps_the_keys_of_its_slots() -> None:
    drawn = draw(known(), TRADE, n=60)
    futures = play(drawn)
    problem = problem_of(drawn.compiled, None, drawn.worlds, futures.policy)
    keys = {plan.key for plan in drawn.compiled.slots}
    assert {work.key for work in problem.works} <= keys
    assert [test.key for test in problem.tests] == [f"gate:{gate.id}" for gate in drawn.compiled.bench]
    assert [cover.key for cover in problem.covers] == list(drawn.compiled.covers)
    assert problem.begin_minute is not None and not problem.begin_minute.any()
    # Whoever finishes has known exactly the hidden faults that are present here.
    done = futures.played.status == 0
    follow_ups = [j for j, work in enumerate(problem.works) if work.kind == "follow_up"]
    assert problem.present[done][:, follow_ups].sum() == futures.played.known_bad[done].sum()  # independent
