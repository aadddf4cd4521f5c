"""What finished jobs teach of the owner's pace."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wreckwright.record.file import read_record
from wreckwright.record.pace import JOB_LOG_SD, KIND_LOG_SD, pace_by_kind
from wreckwright.record.types import Machine
from wreckwright.trade.load import load_trade
from wreckwright.trade.steps import steps_of

TRADE = load_trade()
HEAD = 'nickname = "S"\nmachine_class = "naked"\nyear = 2019\n'


def machine(*jobs: str, head: str = HEAD) -> Machine:
    rows = "".join(f'[[jobs]]\nid = "x{i}"\nname = "x"\n{job}\n' for i, job in enumerate(jobs))
    return read_record((head + rows).encode())


def done(minutes: float, *, kind: str = "strip", likely: float = 100.0, state: str = "proved") -> str:
    return (
        f'kind = "{kind}"\nstate = "{state}"\ndone_minutes = {minutes}\n'
        f"minutes = {{ low = {likely / 2}, likely = {likely}, high = {likely * 2} }}"
    )


def test_nothing_finished_teaches_nothing() -> None:
    assert pace_by_kind(machine(), TRADE, pace=1.0) == {}
    still_open = [done(200.0, state="open"), 'kind = "strip"\nstate = "proved"', done(0.0)]
    assert pace_by_kind(machine(*still_open), TRADE, pace=1.0) == {}


def test_one_job_moves_it_by_a_third_and_ten_by_five_sixths() -> None:
    # hand-worked: prior precision against that of one job is (0.35 / 0.25)^2 = 1.96
    assert (JOB_LOG_SD / KIND_LOG_SD) ** 2 == pytest.approx(1.96)
    one = pace_by_kind(machine(done(200.0)), TRADE, pace=1.0)
    assert one == {"strip": pytest.approx(2.0 ** (1 / 2.96))}
    ten = pace_by_kind(machine(*[done(200.0)] * 10), TRADE, pace=1.0)
    assert ten == {"strip": pytest.approx(2.0 ** (10 / 11.96))}


def test_it_comes_on_top_of_the_stated_pace() -> None:
    # hand-worked: at twice the trade's time, 200 minutes for 100 are just as expected
    assert pace_by_kind(machine(done(200.0)), TRADE, pace=2.0) == {"strip": pytest.approx(1.0)}


def test_kinds_are_kept_apart() -> None:
    found = pace_by_kind(machine(done(200.0), done(50.0, kind="test")), TRADE, pace=1.0)
    assert found["strip"] > 1.0 > found["test"]


def test_a_step_is_measured_against_the_trades_figure_for_it_and_is_of_its_kind() -> None:
    (step,) = [one for one in steps_of(TRADE, "front_wheel", "buy") if one.step == "carry_over"]
    expected = step.share * TRADE.components["front_wheel"].fit_minutes
    line = '\n[[parts]]\nid = "p"\ncomponent = "front_wheel"\nremedy = "used"\n'
    # The row says `check`, which is not what is done in that step.
    text = f'kind = "check"\nstands_for = "{{}}"\nstate = "closed_up"\ndone_minutes = {2 * expected}'
    for key in ("front_wheel:carry_over", "part:p:carry_over"):
        found = pace_by_kind(machine(text.format(key) + line), TRADE, pace=1.0)
        # hand-worked: twice as long, one job
        assert found == {step.kind: pytest.approx(2.0 ** (1 / 2.96))}


def test_minutes_told_of_the_fitting_alone_are_those_of_all_that_came_before_it() -> None:
    steps = steps_of(TRADE, "headlamp", "buy")
    at = [step.step for step in steps].index("fit")
    assert at >= 2
    whole = TRADE.components["headlamp"].fit_minutes

    def told(minutes: float, *before: str) -> float:
        rows = [f'kind = "fit"\nstate = "closed_up"\nstands_for = "headlamp:{step}"' for step in before]
        main = f'kind = "fit"\nstate = "closed_up"\nstands_for = "headlamp"\ndone_minutes = {minutes}'
        return pace_by_kind(machine(*rows, main), TRADE, pace=1.0)["fit"]

    # hand-worked: nothing but the fitting was told, so its minutes are those of taking off and trying on as well
    assert told(whole * sum(step.share for step in steps[: at + 1])) == pytest.approx(1.0)
    # with rows of their own, whether timed or not, they are no part of it
    assert told(whole * steps[at].share, *(step.step for step in steps[:at])) == pytest.approx(1.0)


def test_the_mending_of_a_component_is_measured_against_the_whole_of_it() -> None:
    minutes = TRADE.components["rear_caliper"].fit_minutes
    job = f'kind = "repair"\ncomponent = "rear_caliper"\nstate = "closed_up"\ndone_minutes = {minutes * 1.6}'
    # hand-worked: a repair takes 1.6 times as long as fitting; so long it took
    assert pace_by_kind(machine(job), TRADE, pace=1.0) == {"repair": pytest.approx(1.0)}


def test_work_of_which_nobody_said_what_to_expect_teaches_nothing() -> None:
    unknown = 'kind = "clean"\nstate = "proved"\ndone_minutes = 500'
    step = 'stands_for = "front_wheel:no_such"\nstate = "proved"\ndone_minutes = 500'
    assert pace_by_kind(machine(unknown, step), TRADE, pace=1.0) == {}


@given(st.lists(st.floats(1.0, 10_000.0), min_size=1, max_size=8), st.floats(0.2, 5.0))
def test_the_factor_lies_between_one_and_what_was_seen(minutes: list[float], pace: float) -> None:
    # law: shrunk towards 1, never beyond it
    logs = [math.log(one / (100.0 * pace)) for one in minutes]
    mean = sum(logs) / len(logs)
    (factor,) = pace_by_kind(machine(*map(done, minutes)), TRADE, pace=pace).values()
    assert min(0.0, mean) - 1e-9 <= math.log(factor) <= max(0.0, mean) + 1e-9
