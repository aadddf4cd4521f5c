"""From needs to numbered slots: order of jobs."""

from __future__ import annotations

from tests.futures.made_known import SLID, TRADE, known
from wreckwright.futures.draw import draw, draw_futures
from wreckwright.futures.rebuild import Slot


def slots(text: str) -> dict[str, tuple[int, Slot]]:
    compiled = draw(known(text), TRADE, n=20).compiled
    return {plan.key: (index, compiled.rebuild.slots[index]) for index, plan in enumerate(compiled.slots)}


def test_a_job_waits_for_the_jobs_it_names_wherever_they_stand() -> None:
    found = slots(SLID + (
        '\n[[jobs]]\nid = "paint"\nname = "paint"\nafter = ["rim"]\n'
        '[[jobs]]\nid = "rim"\nname = "true the rim"\ncomponent = "front_wheel"\nafter = ["wash"]\n'
        '[[jobs]]\nid = "wash"\nname = "wash"\n[[jobs]]\nid = "old"\nname = "old"\nstate = "proved"\n'
    ))
    assert found["job:paint"][1].after == (found["front_wheel"][0],)
    assert found["front_wheel"][1].after == (found["job:wash"][0],)


def test_what_comes_before_a_job_is_needed_by_the_same_gate() -> None:
    # hand-worked: `turns` is the first question, so all three belong to the first stage
    found = slots(SLID + (
        '\n[[jobs]]\nid = "a"\nname = "a"\n[[jobs]]\nid = "b"\nname = "b"\nafter = ["a"]\n'
        '[[jobs]]\nid = "c"\nname = "c"\nafter = ["b"]\nbefore_gate = "turns"\n'
    ))
    assert [found[f"job:{name}"][1].stage for name in "abc"] == [0, 0, 0]
    assert [found[f"job:{name}"][1].needed_by for name in "abc"] == [0, 0, 0]


def test_what_lies_over_a_cover_that_is_off_is_off_too() -> None:
    compiled = draw(known(extra='covers_off = ["battery_out"]\n'), TRADE, n=20).compiled
    off = {compiled.covers[i] for i, node in enumerate(compiled.rebuild.covers) if node.off_at_start}
    # hand-worked: the battery lies under the seat
    assert TRADE.covers["battery_out"].under == ("seat_off",)
    assert {"battery_out", "seat_off"} <= off
    assert draw_futures(known(extra='covers_off = ["battery_out"]\n'), TRADE, n=20).played.status.shape == (20,)
