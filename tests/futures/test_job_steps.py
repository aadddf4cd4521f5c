"""One remedy in its steps: who waits for whom, who holds the part, what a row of the record changes."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from tests.futures.made_known import SLID, TRADE, known
from wreckwright.futures.need_types import Need, money_mean
from wreckwright.futures.needs import needs_of
from wreckwright.futures.supplies import band_mean
from wreckwright.record.pace import likely_minutes
from wreckwright.trade.types import JobStep, Trade

EVEN = {component: 0.1 for component in TRADE.components}


def a_step(step: str, order: int, share: float, **rest: Any) -> JobStep:
    kinds = {"try_on": "check", "strip": "strip", "test": "test", "mend": "repair"}
    plain: dict[str, Any] = {"kind": kinds.get(step, "fit"), "wants_part": False, "uncovered": False}
    return JobStep(
        component="", step=step, order=order, share=share, words=f"{step} {{part}}", basis="made up",
        **{**plain, "way": "buy", **rest},
    )


BUY = (
    a_step("try_on", 1, 0.1, wants_part=True),
    a_step("strip", 2, 0.2, uncovered=True),
    a_step("carry_over", 3, 0.15, wants_part=True, uncovered=True, only_with_pieces=True),
    a_step("fit", 4, 0.45, wants_part=True, uncovered=True),
    a_step("test", 5, 0.1),
)
MEND = (
    a_step("strip", 1, 0.2, uncovered=True, way="mend"),
    a_step("mend", 2, 0.5, cure_days=1, way="mend"),
    a_step("fit_back", 3, 0.2, uncovered=True, way="mend"),
    a_step("test", 4, 0.1, way="mend"),
)
PLAIN: Trade = replace(TRADE, job_steps={("", "buy"): BUY, ("", "mend"): MEND})
"""The trade data with the same few steps for everything, so that what is expected can be worked out by hand."""


def steps(text: str, component: str = "front_wheel", *, trade: Trade = PLAIN) -> Mapping[str, Need]:
    found = {need.key: need for need in needs_of(known(text), trade, EVEN).known}
    return {key: need for key, need in found.items() if need.component == component}


def row(key: str, **fields: object) -> str:
    lines = "".join(f"{name} = {str(value).lower() if isinstance(value, bool) else value}\n" for name, value in
                    fields.items())
    return f'\n[[jobs]]\nid = "row-{key.replace(":", "-")}"\nname = "row of {key}"\nstands_for = "{key}"\n{lines}'


def test_measuring_and_taking_off_do_not_wait_for_each_other_and_fitting_waits_for_both() -> None:
    # hand-worked; the wheel has pieces to carry over, so that step is there
    found = steps(SLID)
    assert list(found) == [
        "front_wheel:try_on", "front_wheel:strip", "front_wheel:carry_over", "front_wheel", "front_wheel:test"
    ]
    after = {key.rpartition(":")[2]: set(need.after) for key, need in found.items()}
    assert after["try_on"] == after["strip"] == set()
    assert after["carry_over"] == {"front_wheel:try_on", "front_wheel:strip"}
    assert after["front_wheel"] == {"front_wheel:try_on", "front_wheel:strip", "front_wheel:carry_over"}
    assert "front_wheel" in after["test"]


def test_the_first_step_that_wants_the_part_holds_its_line_and_the_others_stand_or_fall_with_it() -> None:
    found = steps(SLID)
    assert [key for key, need in found.items() if need.parts] == ["front_wheel:try_on"]
    assert {need.part_of for need in found.values()} == {"front_wheel:try_on"}
    assert {need.group for need in found.values()} == {"front_wheel"}
    # Only the main step makes it sound, is worth something and costs materials.
    assert [key for key, need in found.items() if need.renews] == ["front_wheel"]
    assert [key for key, need in found.items() if need.worth_minor] == ["front_wheel"]
    assert [key for key, need in found.items() if need.materials_minor[1]] == ["front_wheel"]


def test_mending_cures_before_it_is_fitted_back() -> None:
    found = steps(SLID + '\n[[remedies]]\ncomponent = "front_wheel"\nremedy = "repair"\n')
    assert list(found) == ["front_wheel:strip", "front_wheel", "front_wheel:fit_back", "front_wheel:test"]
    assert found["front_wheel"].cure_days == 1
    assert "front_wheel" in found["front_wheel:fit_back"].after
    assert not any(need.parts for need in found.values())
    # Nothing is held by another step where there is no line.
    assert all(need.part_of == key for key, need in found.items())


def test_covers_are_off_only_for_the_steps_that_want_it() -> None:
    found = steps(SLID)
    covers = TRADE.components["front_wheel"].covers
    assert covers
    assert {key.rpartition(":")[2]: need.covers for key, need in found.items()} == {
        "try_on": (), "strip": covers, "carry_over": covers, "front_wheel": covers, "test": ()
    }


def test_what_is_missing_is_not_taken_off() -> None:
    found = steps(SLID, "mirror_r")
    assert list(found) == ["mirror_r:try_on", "mirror_r", "mirror_r:test"]
    # hand-worked: 0.45, 0.2 for what is not taken off, and 0.15 as there is no old one to move pieces from
    assert "mirror_r" in TRADE.carry_overs
    whole = likely_minutes(TRADE, "mirror_r", "genuine")
    assert found["mirror_r"].minutes[1] == pytest.approx(0.8 * whole)


@given(
    st.sampled_from(sorted(c.id for c in TRADE.components.values() if c.zone != "papers" and c.wear_chance.mid < 1.0)),
    st.sampled_from(["genuine", "pattern", "used", "repair", "modify"]),
    st.booleans(),
)
def test_steps_take_and_cost_together_what_the_remedy_takes_and_costs(
    component: str, remedy: str, missing: bool
) -> None:
    # law, for the steps that ship with the program: shares sum to 1, whatever is left out
    text = SLID.replace('"right mirror gone"', f'{{ component = "{component}", missing = {str(missing).lower()} }}')
    text += f'\n[[remedies]]\ncomponent = "{component}"\nremedy = "{remedy}"\n'
    made = known(text)
    if component in {c for gate in TRADE.gates.values() for c in gate.fails_with}:
        return
    group = [need for need in needs_of(made, TRADE, EVEN).known if need.component == component]
    assert group
    mean = sum(band_mean(need.minutes) for need in group)
    likely = likely_minutes(TRADE, component, remedy)
    # independent: the mean of a log-normal with the log spread of 0.35 is exp(0.35^2 / 2) times its median
    assert mean == pytest.approx(likely * 1.06315, rel=1e-4)
    assert sum(1 for need in group if need.renews) == 1
    assert sum(len(need.parts) for need in group) == (1 if remedy in ("genuine", "pattern", "used") else 0)
    assert sum(money_mean(need) for need in group) > 0.0


def test_a_closed_row_takes_its_step_away_and_nobody_waits_for_it_any_more() -> None:
    found = steps(SLID + row("front_wheel:strip", state='"closed_up"'))
    assert "front_wheel:strip" not in found
    assert found["front_wheel:carry_over"].after == ("front_wheel:try_on",)
    # The line goes to the next step that wants it, once measuring is done.
    found = steps(SLID + row("front_wheel:try_on", state='"proved"'))
    assert [key for key, need in found.items() if need.parts] == ["front_wheel:carry_over"]


def test_a_row_of_a_step_changes_that_step_alone() -> None:
    plain = steps(SLID)
    changed = steps(
        SLID
        + row("front_wheel:strip", minutes="{ low = 10, likely = 20, high = 40 }", done_minutes=5, helper=True,
              may_split=False, covers='["seat_off"]', cure_days=3, state='"open"')
    )
    strip = changed["front_wheel:strip"]
    # hand-worked: less 5
    assert strip.minutes == (5.0, 15.0, 35.0)
    assert (strip.helper, strip.may_split, strip.covers, strip.cure_days) == (True, False, ("seat_off",), 3)
    assert strip.name == "row of front_wheel:strip"
    for key, need in plain.items():
        if key != "front_wheel:strip":
            assert changed[key] == need


def test_a_main_step_that_is_closed_up_leaves_its_test_and_one_that_is_proved_leaves_nothing() -> None:
    line = '\n[[parts]]\ncomponent = "front_wheel"\nremedy = "used"\nstate = "fitted"\n'
    found = steps(SLID + line + row("front_wheel", state='"closed_up"'))
    assert list(found) == ["front_wheel:test"]
    whole = likely_minutes(TRADE, "front_wheel", "used")
    assert found["front_wheel:test"].minutes[1] == pytest.approx(0.1 * whole)
    assert not found["front_wheel:test"].renews
    assert steps(SLID + line + row("front_wheel", state='"proved"')) == {}
    tested = row("front_wheel:test", state='"proved"')
    assert steps(SLID + line + row("front_wheel", state='"closed_up"') + tested) == {}


def test_what_is_fitted_has_been_taken_off_and_measured_whatever_its_line_says() -> None:
    line = '\n[[parts]]\ncomponent = "front_wheel"\nremedy = "used"\nstate = "here"\n'
    assert list(steps(SLID + line + row("front_wheel", state='"closed_up"'))) == ["front_wheel:test"]
    assert steps(SLID + line + row("front_wheel", state='"proved"')) == {}


def test_a_step_that_is_done_puts_nothing_right_by_itself() -> None:
    done = row("front_wheel:carry_over", state='"closed_up"', kind='"fit"', component='"front_wheel"')
    assert "front_wheel" in {bad.component for bad in known(SLID + done).bad}
    assert "front_wheel" in steps(SLID + done)


def test_a_part_line_of_no_finding_has_steps_of_its_own() -> None:
    text = SLID + '\n[[parts]]\nid = "lamp"\ncomponent = "headlamp"\nremedy = "used"\nstate = "here"\n'
    found = steps(text, "headlamp")
    assert list(found)[0] == "part:lamp:try_on"
    assert "part:lamp" in found
    assert {need.group for need in found.values()} == {"part:lamp"}
    assert [key for key, need in found.items() if need.parts] == ["part:lamp:try_on"]
    assert "part:lamp:try_on" not in steps(text + row("part:lamp:try_on", state='"closed_up"'), "headlamp")


def test_owners_minutes_for_the_whole_are_shared_out_and_what_is_done_comes_off_the_whole() -> None:
    job = (
        '\n[[jobs]]\nid = "rim"\nname = "true the rim"\ncomponent = "front_wheel"\ndone_minutes = 20\n'
        "minutes = { low = 30, likely = 50, high = 90 }\ncure_days = 2\n"
    )
    found = steps(SLID + job)
    # hand-worked: (50 - 20) x 0.45, and 30 x 0.2
    assert found["front_wheel"].minutes[1] == pytest.approx(13.5)
    assert found["front_wheel:strip"].minutes[1] == pytest.approx(6.0)
    assert (found["front_wheel"].cure_days, found["front_wheel:strip"].cure_days) == (2, 0)


def test_checks_and_tests_are_done_in_one_go() -> None:
    assert {key.rpartition(":")[2]: need.may_split for key, need in steps(SLID).items()} == {
        "try_on": False, "strip": True, "carry_over": True, "front_wheel": True, "test": False
    }


def test_a_battery_is_charged_and_tried_when_it_has_come_before_it_is_fitted() -> None:
    # common practice; with the steps that ship with the program
    text = SLID.replace('"right mirror gone"', '"battery flat"')
    found = steps(text, "battery", trade=TRADE)
    assert [need.key for need in found.values() if need.parts] == ["battery:try_on"]
    assert "battery:charge" in found["battery"].after
    assert found["battery:charge"].cure_days == 1
    assert found["battery:charge"].kind_of_work == "test"
    assert "battery" in found["battery:test"].after


def test_the_pace_of_a_kind_lengthens_the_steps_of_that_kind_only() -> None:
    slow = '\n[[jobs]]\nid = "old"\nname = "old"\nkind = "strip"\nstate = "proved"\ndone_minutes = 200\n' \
        "minutes = { low = 50, likely = 100, high = 150 }\n"
    plain, slowed = steps(SLID), steps(SLID + slow)
    factor = known(SLID + slow).pace_by_kind["strip"]
    assert factor > 1.2
    for key, need in plain.items():
        expected = need.minutes[1] * (factor if need.kind_of_work == "strip" else 1.0)
        assert slowed[key].minutes[1] == pytest.approx(expected)


def test_what_is_proved_with_everything_in_its_place_names_what_must_be_back_on() -> None:
    """Common practice: a cooling system is tested full, a chain is set with the wheel in."""
    text = SLID.replace('"front rim dinged"', '{ component = "chain_sprockets" }, "front rim dinged"')
    found = {need.key: need for need in needs_of(known(text), TRADE, {name: 0.1 for name in TRADE.components}).known}
    pump = found["water_pump:test"]
    # Before the first start, for which the coolant is in and the pump cover on; the fairing may wait.
    assert set(pump.shut) == {"coolant_drained", "water_pump_cover_off"} and pump.before_gate == "runs"
    chain = found["chain_sprockets:adjust"]
    # The engine is started with the chain off: it is set before the last question.
    assert {"chain_off", "rear_wheel_out"} <= set(chain.shut) and chain.before_gate == "fit_to_ride"
    assert found["front_wheel:test"].shut == ("front_wheel_out",)
    assert all(not need.shut for need in found.values() if need.renews)
