"""Lines that came wrong and were ordered once more. Expected values are hand-worked."""

from __future__ import annotations

import pytest

from wreckwright.record.evidence import gather
from wreckwright.record.file import read_record
from wreckwright.record.part_lines import superseded
from wreckwright.record.types import PartLine, PartState
from wreckwright.trade.load import load_trade

BAD = 'nickname = "S"\nmachine_class = "naked"\nyear = 2019\nfindings = ["front rim dinged"]\n'


def line(handle: str, state: PartState = "wanted", component: str = "seat", name: str = "") -> PartLine:
    return PartLine(id=handle, component=component, name=name, state=state)


@pytest.mark.parametrize(
    ("lines", "over"),
    [
        ([line("p1", "wrong")], set()),
        ([line("p1", "wrong"), line("p2")], {"p1"}),
        ([line("p1", "wrong"), line("p2", name="seat cover")], set()),
        ([line("p1", "wrong"), line("p2", component="horn")], set()),
        ([line("p1"), line("p2", "wrong")], set()),
        ([line("p1", "wrong"), line("p2", "wrong"), line("p3", "fitted")], {"p1", "p2"}),
        ([line("p1", "wrong", "", "bush"), line("p2", "ordered", "", "bush")], {"p1"}),
    ],
)
def test_a_later_line_of_the_same_thing_takes_the_place_of_one_that_came_wrong(
    lines: list[PartLine], over: set[str]
) -> None:
    assert superseded(lines) == over


def test_a_wrong_part_that_still_lies_there_does_not_keep_the_component_bad() -> None:
    wrong = '[[parts]]\ncomponent = "front_wheel"\nstate = "wrong"\n'
    fitted = '[[parts]]\ncomponent = "front_wheel"\nstate = "fitted"\n'
    trade = load_trade()
    assert gather(read_record((BAD + wrong + fitted).encode()), trade).put_right == {"front_wheel"}
    # Fitted before it was found to be wrong, and nothing after it: that is wanted once more.
    assert gather(read_record((BAD + fitted + wrong).encode()), trade).put_right == frozenset()
