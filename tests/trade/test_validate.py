"""Broken data are refused, each with what is wrong, what is allowed and what to do."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pytest

from wreckwright.errors import TradeDataError
from wreckwright.trade.load import load_trade
from wreckwright.trade.types import Trade
from wreckwright.trade.validate import check_trade


def component(**cells: Any) -> Mapping[str, Any]:
    return {"components": [{"id": "radiator", **cells}]}


def band(name: str, low: Any, mid: Any, high: Any) -> dict[str, Any]:
    return {f"{name}_low": low, f"{name}_mid": mid, f"{name}_high": high}


BROKEN: dict[str, tuple[Mapping[str, Any], str]] = {
    # one cell
    "word for a number": (component(fit_minutes="an hour"), "fit_minutes is 'an hour'"),
    "negative minutes": (component(fit_minutes=-3), "fit_minutes is -3"),
    "not a number": (component(fit_minutes=float("nan")), "a finite number"),
    "infinite": (component(fit_minutes="inf"), "a finite number"),
    "truth value for a number": (component(fit_minutes=True), "fit_minutes is True"),
    "chance above one": (component(wear_chance_high=1.2), "wear_chance_high is 1.2"),
    "band out of order": (component(**band("wear_chance", 0.5, 0.2, 0.6)), "low <= mid <= high"),
    "half a step": (component(price_step=2.5), "a whole number"),
    "step out of range": (component(price_step=8), "from 1 to 7"),
    "unknown choice": (component(ride="maybe"), "'stop', 'limit', 'none'"),
    "neither yes nor no": (component(hidden="perhaps"), "yes or no"),
    "empty name": (component(name_uk="  "), "text that is not empty"),
    "number for a name": (component(name_uk=5), "allowed is text"),
    "pairs that are none": ({"checks": [{"id": "tyre_date", "blocked_over": "water_flood"}]}, "a=0.1"),
    "way round with a wrong chance": (
        {"gates": [{"id": "turns", "ways_round": [{"name": "x", "chance": 2, "price_step": 1, "price_factor": 1,
                                                   "lead_class": "importer", "minutes": 1}]}]},
        "chance is 2",
    ),
    "way round that is no list": ({"gates": [{"id": "turns", "ways_round": "none"}]}, "a list of tables"),
    # references
    "unknown cover": (component(covers=["radiator_of"]), "Did you mean 'radiator_off'"),
    "unknown lead class": (component(lead_class="warehouse"), "lead class"),
    "unknown heading": (component(fit_to_ride="brake"), "Did you mean 'brakes'"),
    "unknown mirror": (component(mirror="radiater"), "mirror names 'radiater'"),
    "mirror that does not mirror": (component(mirror="shock"), "name each other"),
    "swaps alone": ({"components": [{"id": "peg_l", "when_mirrored": "swaps"}]}, "does not swap with it"),
    "unknown partner of a cause": ({"causes": [{"id": "lowside_left", "may_combine_with": ["hail"]}]}, "'hail'"),
    "cause that combines with itself": (
        {"causes": [{"id": "lowside_left", "may_combine_with": ["lowside_left"]}]}, "stands there twice",
    ),
    "link from an unknown cause": (
        {"cause_links": [{"cause": "lowside_lef", "component": "radiator", **band("chance", 0, 0.1, 0.2)}]},
        "'lowside_left'",
    ),
    "link to an unknown component": (
        {"cause_links": [{"cause": "lowside_left", "component": "radiater", **band("chance", 0, 0.1, 0.2)}]},
        "'radiator'",
    ),
    "severity of an unknown cause": (
        {"severities": [{"cause": "lowside_lef", "name": "odd", "weight": 1, "logodds_shift": 0}]}, "'lowside_left'",
    ),
    "ratio for an unknown component": (
        {"sign_ratios": [{"sign": "coolant_stain", "component": "radiater", "ratio": 2}]}, "'radiator'",
    ),
    "chance of an unknown sign": (
        {"sign_chances": [{"sign": "coolant_stains", "cause": "frontal_impact", "chance": 0.5}]}, "'coolant_stain'",
    ),
    "told of an unknown hit": ({"told": [{"hit": "above", "cause": "only_worn", "chance": 0}]}, "kind of hit"),
    "check after an unknown one": ({"checks": [{"id": "tyre_date", "only_after": ["walk_roun"]}]}, "'walk_round'"),
    "check rough for no gate": ({"checks": [{"id": "tyre_date", "rough_for": "turn"}]}, "'turns'"),
    "check of an unknown component": (
        {"check_detects": [{"check": "tyre_date", "component": "tyre", "sensitivity": 0.9, "false_alarm": 0.1}]},
        "'tyres'",
    ),
    "pieces of an unknown component": ({"carry_over": [{"component": "radiater", "pieces": "cap"}]}, "'radiator'"),
    "cover under an unknown one": ({"covers": [{"id": "tank_off", "under": "seat_of"}]}, "'seat_off'"),
    "cover that exposes nothing known": ({"covers": [{"id": "tank_off", "exposes": "fuel pum"}]}, "'fuel_pump'"),
    "gate that fails with nothing known": ({"gates": [{"id": "turns", "fails_with": ["top_en"]}]}, "'top_end'"),
    "gate with an unknown caution": ({"gates": [{"id": "turns", "cautions": ["flood"]}]}, "caution or legal row"),
    "outside gate without a wait": ({"gates": [{"id": "papers", "lead_class": ""}]}, "lead class"),
    "rough check of another gate": ({"gates": [{"id": "turns", "rough_check": "ask_papers"}]}, "name each other"),
    "caution for nothing": ({"cautions": [{"id": "springs", "applies_to": ["shock_ou"]}]}, "'shock_out'"),
    "class without an unknown part": ({"classes": [{"id": "naked", "absent_components": ["rack"]}]}, "component"),
    "station with an unknown sign": ({"stations": [{"id": "seat_up", "signs": ["milky_oi"]}]}, "'milky_oil'"),
    "share of an unknown supply": (
        {"supply": [{"machine_age_from_years": 0, "lead_class": "import", "share": 0}]}, "'importer'",
    ),
    "parent of one part": (
        {"common_parents": [{"id": "fork_pair_bend", "members": ["fork_tube_l"]}]}, "two known components",
    ),
    "parent named like a part": (
        {"common_parents": [{"id": "subframe", "name": "x", "members": ["peg_l", "peg_r"], "share_both": 0.1}]},
        "an id of its own",
    ),
    # sums and orders
    "causes above one": ({"causes": [{"id": "lowside_left", **band("chance", 0.2, 0.4, 0.5)}]}, "at most 1"),
    "a cause named only_worn": (
        {"causes": [{"id": "only_worn", "name": "x", "is_impact": False, **band("chance", 0, 0, 0)}]},
        "Rename the cause",
    ),
    "severities beyond one": (
        {"severities": [{"cause": "lowside_left", "name": "usual", "weight": 0.9}]}, "the weights add up to",
    ),
    "told beyond one": ({"told": [{"hit": "left", "cause": "only_worn", "chance": 0.9}]}, "told, cause only_worn"),
    "supply beyond one": (
        {"supply": [{"machine_age_from_years": 10, "lead_class": "importer", "share": 0.9}]}, "supply, age 10",
    ),
    "ninety percent below the median": ({"lead_classes": [{"id": "importer", "p90_days": 2}]}, "above median_days"),
    "price steps that fall": (
        {"price_steps": [{"step": 2, **band("new_share_of_sound_value", 0.3, 0.4, 0.5)}]}, "rise from step to step",
    ),
    "looks that tell nothing": (
        {"check_detects": [{"check": "tyre_date", "component": "tyres", "sensitivity": 0.05}]}, "is not above",
    ),
    "block that nothing lifts": (
        {"checks": [{"id": "tyre_date", "blocked_over": {"water_flood": 0.1}}]}, "unblocked_by",
    ),
    "two gates in one place": ({"gates": [{"id": "runs", "order": 0}]}, "bench order"),
    "cover off and on for one test": ({"gates": [{"id": "straight", "covers_on": ["seat_off"]}]}, "must be off"),
    "ride-stop without a heading": (component(fit_to_ride=""), "heading of the fit-to-ride list"),
    "remedy that is ruled out": (component(usual_remedy="pattern", pattern_ok="no"), "rules out"),
    "one word for two parts": (component(synonyms="radiator; silencer"), "the word 'silencer'"),
    "one word for two classes": ({"classes": [{"id": "naked", "synonyms": "sport"}]}, "'sport' stands there twice"),
    "ninth station": (
        {"stations": [{"id": "above", "order": 8, "name": "Above it", "components": "", "signs": ""}]}, "1 to 8",
    ),
    "part at no station": ({"stations": [{"id": "on_knees", "components": "oil_pan"}]}, "stands at no station"),
    "part at two stations": (
        {"stations": [{"id": "on_knees", "components": "oil_pan; exhaust_header; engine_oil; crankcase; seat"}]},
        "'seat' stands there twice",
    ),
    # circles
    "covers in a circle": (
        {"covers": [{"id": "seat_off", "under": "tank_off"}]}, "covers: the rows go round in a circle",
    ),
    "checks in a circle": (
        {"checks": [{"id": "walk_round", "only_after": "tank_air"}]}, "walk_round < tank_air < walk_round",
    ),
    "knock-ons in a circle": (
        {"knock_ons": [{"if_bad": "tail_plastics", "then": "subframe", **band("chance", 0.1, 0.2, 0.3)}]},
        "tail_plastics",
    ),
}


@pytest.mark.parametrize(("pack", "says"), BROKEN.values(), ids=BROKEN.keys())
def test_broken_data_are_refused(pack: Mapping[str, Any], says: str) -> None:
    with pytest.raises(TradeDataError) as caught:
        load_trade(packs=[pack])
    assert says in str(caught.value)
    assert caught.value.what and caught.value.allowed and caught.value.do


def test_the_circle_is_named_in_full() -> None:
    pack = {"knock_ons": [{"if_bad": "tail_plastics", "then": "subframe", **band("chance", 0.1, 0.2, 0.3)}]}
    with pytest.raises(TradeDataError) as caught:
        load_trade(packs=[pack])
    # hand-worked: the shortest way round is the new row and the one from the subframe to the tail.
    assert "tail_plastics < subframe < tail_plastics" in str(caught.value) or (
        "subframe < tail_plastics < subframe" in str(caught.value)
    )


def test_a_component_without_a_check_is_refused(trade: Trade) -> None:
    pack = {"components": [{**_whole_row(), "id": "bell"}]}
    with pytest.raises(TradeDataError, match="no check looks at it"):
        load_trade(packs=[pack])
    pack["check_detects"] = [{"check": "walk_round", "component": "bell", "sensitivity": 0.9, "false_alarm": 0.1}]
    check_trade(load_trade(packs=[pack]))


def _whole_row() -> dict[str, Any]:
    return {
        "name_uk": "Bell", "name_us": "Bell", "zone": "controls", "side": "middle", "ride": "none", "run": "none",
        "looks_0_3": 0, "hidden": True, "seen_from": "walk_round", "look_minutes": 1, "look_how": "Ring it",
        "bad_looks_like": "Silent", "practice": "replace", "used_ok": "ok", "pattern_ok": "ok", "repairable": False,
        "price_step": 1, "usual_remedy": "pattern", "lead_class": "aftermarket_stock", "fit_minutes": 5,
        **band("wear_chance", 0.0, 0.01, 0.02),
    }
