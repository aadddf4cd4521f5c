"""Chains of work, hand-worked: 60 minutes are planned on each day."""

from __future__ import annotations

from typing import Any

import numpy as np

from wreckwright.answers.chains import minutes_a_day, tail_minutes
from wreckwright.futures.hours import Calendar, Hours
from wreckwright.plan.types import Held, Problem, Work
from wreckwright.plan.types import Test as Question


def work(key: str, **over: Any) -> Work:
    return Work(**({"key": key, "name": key, "kind": "job", "first_stage": 0, "last_stage": 1} | over))


def problem(works: tuple[Work, ...], minutes: list[int], *, held: tuple[Held, ...] = (), permille: int = 1000,
            present: list[bool] | None = None) -> Problem:
    tests = (Question(key="gate:a", name="a"), Question(key="gate:b", name="b"))
    nothing = np.zeros((1, len(works)), np.int32)
    none = np.zeros((1, 0), np.int32)
    two = np.zeros((1, 2), np.int32)
    return Problem(
        works=works, covers=(), tests=tests, minutes=np.array([minutes]),
        present=np.array([present or [True] * len(works)]), off_minutes=none, on_minutes=none,
        test_minutes=np.array([[10, 20]]), release_day=nothing, lead_days=nothing, test_release_day=two, held=held,
        way_days=two, way_minutes=two,
        hours=Hours(calendar=Calendar(cumulative_minutes=np.arange(0, 60 * 401, 60)),
                    attendance_permille=np.array([permille])),
    )


def test_a_chain_by_hand() -> None:
    works = (work("strip"), work("paint", after=(0,), cure_days=2), work("fit", after=(1,)), work("late"))
    tails = tail_minutes(problem(works, [30, 40, 50, 5]), {"strip": 0, "paint": 0, "fit": 0, "late": 1})
    # Both tests: 10 + 20. After fit: 30. After paint: two days at 60, 50 of fit, 30. After strip: 40 more.
    assert tails == {"gate:b": 0.0, "gate:a": 20.0, "fit": 30.0, "paint": 200.0, "strip": 240.0, "late": 20.0}


def test_what_cures_holds_up_the_test_as_well() -> None:
    tails = tail_minutes(problem((work("glue", cure_days=3),), [10]), {"glue": 0})
    assert tails["glue"] == 3 * 60 + 10 + 20


def test_what_is_ordered_after_a_test_is_waited_for() -> None:
    works = (work("fit", first_stage=1),)
    tails = tail_minutes(
        problem(works, [50], held=(Held(work=0, test=0, days=np.array([5])),)), {"fit": 1}
    )
    # After the first test: 5 days at 60, 50 of fitting, 20 of the last test.
    assert tails["gate:a"] == 5 * 60 + 50 + 20


def test_what_is_not_there_counts_nothing_and_attendance_does() -> None:
    works = (work("strip", cure_days=1), work("hidden", after=(0,)))
    of = problem(works, [30, 500], present=[True, False], permille=500)
    assert minutes_a_day(of) == 30.0
    assert tail_minutes(of, {"strip": 0, "hidden": 0}) == {"gate:b": 0.0, "gate:a": 20.0, "strip": 30 + 10 + 20}
