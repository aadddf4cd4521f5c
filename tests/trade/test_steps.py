"""The steps of work: they add up, stand in an order a careful rebuilder keeps, and say so in words."""

from __future__ import annotations

import re
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wreckwright.errors import TradeDataError
from wreckwright.trade.load import load_trade
from wreckwright.trade.mirror import mirror_trade
from wreckwright.trade.steps import MAIN_STEP, step_words, steps_of
from wreckwright.trade.types import JobStep, Trade

BASE, TURNED = load_trade(), load_trade(mirrored=True)
WAYS = ("buy", "mend")
EVERY = [(component, way) for component in BASE.components for way in WAYS]


def names(component: str, way: str = "buy", trade: Trade = BASE) -> list[str]:
    return [step.step for step in steps_of(trade, component, way)]


def step(component: str, name: str, way: str = "buy") -> JobStep:
    return next(row for row in steps_of(BASE, component, way) if row.step == name)


@pytest.mark.parametrize("data", [BASE, TURNED], ids=["usual", "mirrored"])
def test_shares_of_every_component_add_up_to_one(data: Trade) -> None:
    # law: the minutes of a remedy are divided, none are lost (also where there is nothing to carry over).
    for component, way in EVERY:
        steps = steps_of(data, component, way)
        assert sum(row.share for row in steps) == pytest.approx(1.0, abs=1e-9), (component, way)
        assert all(row.share > 0.0 for row in steps)


@given(st.sampled_from(EVERY), st.booleans())
def test_shares_add_up_whatever_is_carried_over(which: tuple[str, str], with_pieces: bool) -> None:
    component, way = which
    carry = dict(BASE.carry_overs)
    if not with_pieces:
        carry.pop(component, None)
    data = BASE.__class__(**{**{name: getattr(BASE, name) for name in BASE.__struct_fields__}, "carry_overs": carry})
    steps = steps_of(data, component, way)
    assert sum(row.share for row in steps) == pytest.approx(1.0, abs=1e-9)
    assert [row for row in steps if row.only_with_pieces and component not in carry] == []
    assert [row.step for row in steps].count(MAIN_STEP[way]) == 1


def test_every_row_belongs_to_a_component() -> None:
    for (component, way), steps in BASE.job_steps.items():
        assert component == "" or component in BASE.components
        assert all(row.component == component and row.way == way for row in steps)


def test_what_arrives_is_measured_before_it_is_fitted() -> None:
    # common practice: on arrival a part is compared, measured, tried on dry; fluids, fuel and papers are not tried on.
    untried = {c for c in BASE.components if "try_on" not in names(c)}
    assert untried == {
        "coolant_fluid", "engine_oil", "brake_fluid", "fuel_condition", "frame_number", "title_papers",
        "odometer_record",
    }
    for component in BASE.components.keys() - untried:
        first = steps_of(BASE, component, "buy")[0]
        assert (first.step, first.kind, first.wants_part, first.uncovered) == ("try_on", "check", True, False)
        # judgement: trying on is a small part of the work; an axle's is the measuring.
        assert first.share <= 0.3


def test_main_steps_need_the_part_and_its_covers() -> None:
    # common practice: nothing is fitted behind a cover that is on; what has no covers is uncovered anyway.
    for component, row in BASE.components.items():
        main = step(component, "fit")
        assert main.wants_part
        if row.covers and row.zone != "papers" and component not in ("fuel_condition", "brake_fluid", "small_parts"):
            assert main.uncovered, component


def test_taking_off_comes_before_and_proving_after() -> None:
    # hand-worked order of any job: off, pieces over, on, adjust or bleed, prove.
    rank = {"try_on": 0, "strip": 1, "charge": 1, "carry_over": 2, "lubricate": 3, "fit": 4, "mend": 4, "fit_back": 5,
            "bleed": 6, "adjust": 6, "pair": 6, "test": 7}
    for component, way in EVERY:
        ranks = [rank[name] for name in names(component, way)]
        assert ranks == sorted(ranks), (component, way, names(component, way))


def test_what_is_mended_off_the_machine_is_taken_off_first() -> None:
    for component in BASE.components:
        steps = {row.step: row for row in steps_of(BASE, component, "mend")}
        if BASE.components[component].zone == "papers" or component == "engine_mounts":
            continue
        assert steps["strip"].uncovered, component
        assert steps["mend"].wants_part
        # A part that is its own cover stays off while it is mended, so its cover cannot go on in between.
        if component in ("radiator", "exhaust_can", "headlamp", "fairing_l", "front_wheel", "engine_cover_l"):
            assert steps["mend"].uncovered


def test_engine_mounts_come_out_one_at_a_time_with_the_engine_held() -> None:
    # common practice: nobody takes all of them off first, so there is no step that does.
    for way in WAYS:
        rows = steps_of(BASE, "engine_mounts", way)
        assert not {"strip", "carry_over"} & {row.step for row in rows}
        main = next(row for row in rows if row.step == MAIN_STEP[way])
        assert "one at a time" in main.words and main.uncovered
        assert main.steps[0].startswith("Engine held from below")
        assert rows[-1].uncovered  # the support stays until every bolt is tight and marked


def test_brakes_are_bled_and_hold_pressure_at_the_end() -> None:
    # common practice: whatever opens the brake is bled and then held hard for a minute before it is moved.
    for component in ("master_cyl_front", "rear_master_cyl", "front_calipers", "rear_caliper", "brake_hoses"):
        for way in WAYS:
            if way == "mend" and not BASE.components[component].repairable:
                continue
            assert names(component, way)[-2:] == ["bleed", "test"]
    assert names("abs_modulator")[-2:] == ["bleed", "test"]
    assert "maker's" in step("abs_modulator", "bleed").words
    for component in ("lever_brake_front", "brake_pedal", "brake_fluid", "brake_hoses", "front_calipers"):
        last = steps_of(BASE, component, "buy")[-1]
        assert last.kind == "test" and any("hard for a minute" in line for line in last.steps)


@pytest.mark.parametrize("lever", ["lever_clutch", "lever_brake_front"])
def test_the_pivot_bush_is_carried_over_before_the_lever_is_fitted(lever: str) -> None:
    # common practice, and what goes wrong when it is forgotten: the lever has play or binds.
    carry = step(lever, "carry_over")
    assert names(lever).index("carry_over") < names(lever).index("fit")
    assert "bush" in BASE.carry_overs[lever].pieces
    assert any("bush" in line and "before the lever goes in" in line for line in carry.steps)


def test_a_cable_is_lubricated_until_it_shows_at_the_far_end_before_it_is_fitted() -> None:
    for way, fits in (("buy", "fit"), ("mend", "fit_back")):
        rows = steps_of(BASE, "control_cables", way)
        oiled = next(at for at, row in enumerate(rows) if "lubricate" in row.words)
        assert "until it shows at the far end" in rows[oiled].words
        assert oiled < [row.step for row in rows].index(fits)
    assert any("snaps shut" in line for line in step("control_cables", "test").steps)


def test_a_battery_is_charged_and_loaded_before_it_is_fitted() -> None:
    charge = step("battery", "charge")
    assert names("battery").index("charge") < names("battery").index("fit")
    assert (charge.kind, charge.wants_part, charge.cure_days) == ("test", True, 1)
    assert any("takes no charge" in line and "goes back" in line for line in charge.steps)


@pytest.mark.parametrize("component", ["immobiliser", "ignition_lock", "lock_set", "control_unit"])
def test_coded_parts_are_paired_after_fitting_and_the_pairing_may_fail(component: str) -> None:
    assert names(component)[-2:] == ["pair", "test"]
    assert "authorised" in step(component, "pair").words
    assert any("can end in no" in line for line in step(component, "pair").steps)
    # The question behind it stands among the gates, with ways round after a no.
    assert any(component in gate.fails_with and gate.ways_round for gate in BASE.gates.values())


@pytest.mark.parametrize("component", ["radiator", "water_pump", "coolant_hoses", "coolant_fluid"])
def test_cooling_holds_pressure_cold(component: str) -> None:
    assert "hold pressure, cold" in steps_of(BASE, component, "buy")[-1].words


def test_wheels_run_true_before_anything_is_moved_over() -> None:
    assert "run-out" in step("front_wheel", "try_on").words
    assert names("rear_wheel").index("try_on") < names("rear_wheel").index("carry_over")
    assert any("slack" in row.words for row in steps_of(BASE, "chain_sprockets", "buy"))


def test_a_part_that_is_its_own_cover_is_not_taken_off_twice() -> None:
    # hand-worked: "Radiator off" is the movement that takes the radiator off.
    for component in ("radiator", "seat", "headlamp", "front_wheel", "exhaust_can", "top_clamp", "battery"):
        assert "strip" not in names(component)
    # These have no cover that is they themselves: taking them off is work of its own.
    assert "strip" in names("cowl_bracket") and "strip" in names("brake_hoses")


def test_words_are_for_a_mechanic() -> None:
    for (component, _), steps in BASE.job_steps.items():
        for row in steps:
            said = step_words(row, part="Front wheel", pieces=("discs", "valve"))
            assert not re.search(r"[{}_]", said), said
            assert "front wheel" in said or component, said
            assert said[0].islower()
            for line in row.steps:
                assert line == line.strip() and len(line) <= 160
                assert not line.endswith((".", ";"))


def test_pieces_are_named() -> None:
    row = step("front_wheel", "carry_over")
    # hand-worked.
    assert step_words(row, part="Front wheel", pieces=("discs", "bearings", "valve")) == (
        "move over to front wheel: discs, bearings and valve"
    )


def test_mirrored_steps_go_with_their_component() -> None:
    assert mirror_trade(TURNED).job_steps == BASE.job_steps
    assert names("engine_cover_r", trade=TURNED) == names("engine_cover_l")
    assert TURNED.mounted_on["brake_pedal"].mounts == ("rearset_l",)
    assert BASE.mounted_on["brake_pedal"].mounts == ("rearset_r",)


OWN = [{"of": "seat", "way": "buy", "step": "fit", "order": 1, "kind": "fit", "words": "fit {part}", "share": 1.0,
        "wants_part": True, "uncovered": True}]


def test_a_pack_gives_a_component_steps_of_its_own() -> None:
    own = load_trade(packs=[{"job_steps": OWN}])
    assert names("seat", trade=own) == ["fit"]
    assert names("seat", "mend", own) == names("seat", "mend")
    assert own.job_steps["seat", "buy"][0].basis == "owner's model pack"


BROKEN: dict[str, tuple[dict[str, Any], str]] = {
    "shares that do not add up": ({"job_steps": [{**OWN[0], "share": 0.9}]}, "the shares add up to 0.9"),
    "no main step": ({"job_steps": [{**OWN[0], "step": "put"}]}, "one step 'fit'"),
    "main step only with pieces": ({"job_steps": [{**OWN[0], "only_with_pieces": True}]}, "always done"),
    "nothing wants the part": ({"job_steps": [{**OWN[0], "wants_part": False}]}, "no step up to 'fit' wants the part"),
    "rows of nothing": ({"job_steps": [{**OWN[0], "of": "seet"}]}, "Did you mean 'seat'"),
    "unknown set": ({"step_sets": [{"component": "seat", "set": "weel"}]}, "Did you mean 'wheel'"),
    "set of an unknown component": ({"step_sets": [{"component": "seet", "set": "wheel"}]}, "Did you mean 'seat'"),
    "same order twice": (
        {"job_steps": [{**OWN[0], "share": 0.5}, {**OWN[0], "step": "test", "share": 0.5}]}, "each order once",
    ),
    "unknown mount": ({"mounted_on": [{"component": "seat", "mounts": ["subfram"]}]}, "Did you mean 'subframe'"),
    "mounts in a circle": ({"mounted_on": [{"component": "frame_spars", "mounts": ["seat"]}]}, "round in a circle"),
    "engine not held": ({"components": [{"id": "engine_mounts", "covers": ["fairing_l_off"]}]}, "engine_support"),
    "engine out unsupported": ({"covers": [{"id": "engine_out", "under": ["tank_off"]}]}, "engine_support"),
    "due by nothing": ({"after_ride": [{"id": "first_service", "distance_km": 0}]}, "one of the two above 0"),
    "after-ride caution unknown": ({"after_ride": [{"id": "first_service", "cautions": ["lift"]}]}, "'lifting'"),
    "unknown precondition": ({"preconditions": [{"id": "flies"}]}, "preconditions, row flies"),
    "precondition of an unknown part": ({"preconditions": [{"id": "rolls", "components": ["wheel"]}]}, "no component"),
    "parking without a when": ({"parking": [{"id": "tank", "when": "raining"}]}, "when is 'raining'"),
}


@pytest.mark.parametrize("case", BROKEN, ids=list(BROKEN))
def test_broken_rows_are_refused(case: str) -> None:
    pack, said = BROKEN[case]
    with pytest.raises(TradeDataError) as refused:
        load_trade(packs=[pack])
    assert said in str(refused.value)
