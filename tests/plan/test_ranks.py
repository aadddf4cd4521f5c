from __future__ import annotations

from dataclasses import replace

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from tests.plan.calm_cases import course_case
from tests.plan.small_problems import Job, small_problem
from wreckwright.plan.ranks import order_of
from wreckwright.plan.types import CoverWork
from wreckwright.plan.types import Test as PlanTest

COVERS = (CoverWork(key="seat", name="seat"), CoverWork(key="tank", name="tank", under=(0,)))


@given(st.integers(0, 300))
def test_every_key_stands_once_and_nothing_before_what_it_needs(seed: int) -> None:
    problem, plan = course_case(seed)
    order = order_of(problem, plan.stages)
    wanted = [work.key for work in problem.works] + [test.key for test in problem.tests]
    wanted += [f"{move}:{cover.key}" for cover in problem.covers for move in ("off", "on")]
    assert sorted(order) == sorted(wanted)  # law
    place = {key: n for n, key in enumerate(order)}
    for work in problem.works:
        for i in work.after:
            if plan.stages[problem.works[i].key] <= plan.stages[work.key]:
                assert place[problem.works[i].key] < place[work.key]
        for x in work.covers:
            assert place[f"off:{problem.covers[x].key}"] < place[work.key]
    for cover in problem.covers:
        for u in cover.under:
            assert place[f"off:{problem.covers[u].key}"] < place[f"off:{cover.key}"]
            assert place[f"on:{cover.key}"] < place[f"on:{problem.covers[u].key}"]
    tests = [place[test.key] for test in problem.tests]
    assert tests == sorted(tests) and order[-1] == problem.tests[-1].key


def test_try_on_then_what_shows_then_what_cures_then_what_is_open() -> None:
    jobs = [
        Job(key="hose", covers=(1,)), Job(key="paint", cure=3), Job(key="lamp:try_on"), Job(key="horn"),
        Job(key="look:spark", kind="look", covers=(1,), shows=(5,)), Job(key="pump", kind="follow_up", lead=9),
        Job(key="mirror"),
    ]
    problem = small_problem(jobs, covers=COVERS, off=[5, 5], on=[5, 5])
    stages = {job.key: 0 for job in jobs}
    # hand-worked: the tank is open for the look, so the hose is as near as horn and mirror
    assert order_of(problem, stages)[:9] == (
        "lamp:try_on", "off:seat", "off:tank", "look:spark", "paint", "hose", "horn", "pump", "mirror",
    )
    cure_first = order_of(problem, stages, habit="cure_first")
    assert cure_first[:2] == ("lamp:try_on", "paint")


def test_the_longer_wait_that_a_look_can_save_for_its_minutes_goes_first() -> None:
    jobs = [
        Job(key="long look", kind="look", minutes=40, shows=(3,)), Job(key="short look", kind="look", shows=(3,)),
        Job(key="far look", kind="look", minutes=20, shows=(4,)), Job(key="near", kind="follow_up", lead=3),
        Job(key="far", kind="follow_up", lead=30),
    ]
    problem = small_problem(jobs)
    order = order_of(problem, {job.key: 0 for job in jobs})
    # hand-worked, days for a minute: 31 / 20, 4 / 10, 4 / 40
    assert [key for key in order if key.endswith("look")] == ["far look", "short look", "long look"]
    sound = replace(problem, says=np.zeros((1, 3), bool))
    assert [key for key in order_of(sound, {job.key: 0 for job in jobs}) if key.endswith("look")][0] == "long look"


def test_what_something_urgent_waits_for_is_as_urgent_and_earlier_stretches_go_first() -> None:
    jobs = [
        Job(key="late", cure=5, first=1, last=1), Job(key="plain"), Job(key="strip"),
        Job(key="mend", cure=4, after=(2,)),
    ]
    tests = (PlanTest(key="gate:a", name="a"), PlanTest(key="gate:b", name="b"))
    problem = small_problem(jobs, tests=tests, test_minutes=[10, 10])
    order = order_of(problem, {"late": 1, "plain": 0, "strip": 0, "mend": 0})
    assert order == ("strip", "mend", "plain", "late", "gate:a", "gate:b")  # hand-worked
