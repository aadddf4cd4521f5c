"""When a part is there and what was paid, source by source. hand-worked: all values in the table."""

from __future__ import annotations

import numpy as np
import pytest

from tests.futures.random_rebuilds import random_case
from tests.futures.small_machine import Small
from wreckwright.futures.purchases import Purchases, purchases

NEVER = -1
# near: 1000, given up after 4 days, 80 % back. far: 1500, given up after 6 days, half back. A wrong part costs 70 more.
CASES = [
    # what, near, wrong, again, far, plan B, after; there or known after, paid, never
    ("comes", 3, False, 0, 9, False, -1, 3, 1000, False),
    ("comes at once", 0, False, 0, 9, False, -1, 0, 1000, False),
    ("comes wrong and once more", 3, True, 5, 9, False, -1, 8, 1070, False),
    ("never", NEVER, False, 0, 9, False, -1, 4, 200, True),
    ("never, so it cannot be wrong", NEVER, True, 5, 9, False, -1, 4, 200, True),
    # 1070 * 800 // 1000 = 856 come back.
    ("comes wrong and then never", 3, True, NEVER, 9, False, -1, 4, 214, True),
    ("plan B not needed", 3, False, 0, 9, True, 3, 3, 1000, False),
    ("plan B because late by a day", 4, False, 0, 9, True, 3, 3 + 9, 200 + 1500, False),
    ("plan B not by time", 40, False, 0, 9, True, -1, 40, 1000, False),
    ("plan B when it is clear", NEVER, False, 0, 9, True, -1, 4 + 9, 1700, False),
    ("plan B before it is clear", NEVER, False, 0, 9, True, 2, 2 + 9, 1700, False),
    ("plan B, but it was clear before", NEVER, False, 0, 9, True, 30, 4 + 9, 1700, False),
    ("plan B at once", 1, False, 0, 9, True, 0, 0 + 9, 1700, False),
    ("plan B never comes either", NEVER, False, 0, NEVER, True, 2, 2 + 6, 200 + 750, True),
    ("late, and plan B never comes", 20, False, 0, NEVER, True, 5, 5 + 6, 950, True),
    ("wrong and late, so plan B", 3, True, 5, 9, True, 4, 4 + 9, 214 + 1500, False),
]


@pytest.mark.parametrize(
    ("near", "wrong", "again", "far", "plan_b", "after", "days", "paid", "never"),
    [case[1:] for case in CASES],
    ids=[case[0] for case in CASES],
)
def test_one_line(
    near: int, wrong: bool, again: int, far: int, plan_b: bool, after: int, days: int, paid: int, never: bool
) -> None:
    small = Small()
    small.part("lever", lead=(near, far), plan_b=1 if plan_b else -1, after=after)
    small.job("fit", 10, parts=["lever"])
    small.gate("ride", 10)
    worlds = small.worlds()
    worlds.wrong[:, 0, 0] = wrong
    worlds.second_lead_days[:, 0, 0] = again
    worlds.wrong_minor[:] = 70
    bought = purchases(small.rebuild(), worlds, small.policy())
    assert (bought.days.item(), bought.paid_minor.item(), bought.never.item()) == (days, paid, never)


def test_a_wrong_part_from_plan_b_costs_its_own_extra() -> None:
    # Late: 200 stay with near; far is wrong too: 1500 + 70, there after 3 + 9 + 2 days. hand-worked
    small = Small()
    small.part("lever", lead=(5, 9), plan_b=1, after=3)
    small.job("fit", 10, parts=["lever"])
    small.gate("ride", 10)
    worlds = small.worlds()
    worlds.wrong[:, 0, 1] = True
    worlds.second_lead_days[:, 0, 1] = 2
    worlds.wrong_minor[:, 0, 1] = 70
    bought = purchases(small.rebuild(), worlds, small.policy())
    assert (bought.days.item(), bought.paid_minor.item()) == (14, 1770)


def test_every_line_is_bought_by_itself() -> None:
    """Lines with and without plan B side by side give what each gives alone (the same rebuild with one line's
    numbers)."""
    case = random_case(3, futures=40)
    whole = purchases(case.rebuild, case.worlds, case.policy)
    assert whole.days.shape == (40, len(case.rebuild.lines)) and len(case.rebuild.lines) > 3
    assert len(set(np.array(case.policy.plan_b_source) >= 0)) == 2
    for future in (0, 17):
        part = {n: getattr(case.worlds, n)[future : future + 1] for n in case.worlds.__dataclass_fields__}
        one = purchases(case.rebuild, type(case.worlds)(**part), case.policy)
        for name in Purchases.__dataclass_fields__:
            assert np.array_equal(getattr(one, name)[0], getattr(whole, name)[future])


def test_without_lines_nothing_is_bought() -> None:
    small = Small()
    small.gate("ride", 10)
    assert purchases(small.rebuild(), small.worlds(3), small.policy()).days.shape == (3, 0)
