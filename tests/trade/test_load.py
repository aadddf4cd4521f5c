"""Packaged tables in, model packs over them."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from wreckwright.errors import TradeDataError, WreckwrightError
from wreckwright.trade.load import OWN_FIGURES, load_trade, read_csv
from wreckwright.trade.tables import TABLES
from wreckwright.trade.types import Trade

DOCS = Path(__file__).parents[2] / "docs"


def test_the_same_data_twice(trade: Trade) -> None:
    assert load_trade() == trade


def test_a_pack_changes_what_it_names_and_nothing_else(trade: Trade) -> None:
    own = load_trade(packs=[{"components": [{"id": "radiator", "fit_minutes": 35, "covers": ["radiator_swing"]}]}])
    changed, before = own.components["radiator"], trade.components["radiator"]
    assert (changed.fit_minutes, changed.covers, changed.basis) == (35.0, ("radiator_swing",), OWN_FIGURES)
    assert (changed.price_step, changed.wear_chance, changed.synonyms) == (
        before.price_step, before.wear_chance, before.synonyms,
    )
    assert {k: v for k, v in own.components.items() if k != "radiator"} == {
        k: v for k, v in trade.components.items() if k != "radiator"
    }
    assert own.checks == trade.checks


def test_a_pack_may_name_its_own_basis() -> None:
    own = load_trade(packs=[{"money": [{"id": "attendance", "figure_mid": 0.7, "basis": "my last twelve months"}]}])
    assert own.money["attendance"].basis == "my last twelve months"


def test_the_later_pack_wins() -> None:
    packs = [{"covers": [{"id": "tank_off", "minutes_off": minutes}]} for minutes in (5, 9)]
    assert load_trade(packs=packs).covers["tank_off"].minutes_off == 9.0


def test_cells_may_be_text_as_in_a_spreadsheet() -> None:
    typed = {
        "id": "tyre_date", "minutes": 4, "tools": ["gauge", "lamp"], "blocked_over": {"water_flood": 0.2},
        "unblocked_by": ["loom_walk"],
    }
    as_text = {
        "id": "tyre_date", "minutes": "4", "tools": "gauge; lamp", "blocked_over": "water_flood=0.2",
        "unblocked_by": "loom_walk",
    }
    assert load_trade(packs=[{"checks": [typed]}]) == load_trade(packs=[{"checks": [as_text]}])


def test_a_row_keyed_by_two_columns_is_changed_in_place(trade: Trade) -> None:
    row = {"cause": "lowside_left", "component": "peg_l", "chance_low": 0.1, "chance_mid": 0.2, "chance_high": 0.3}
    own = load_trade(packs=[{"cause_links": [row]}])
    assert len(own.cause_links) == len(trade.cause_links)
    changed = [link for link in own.cause_links if (link.cause, link.component) == ("lowside_left", "peg_l")]
    assert [link.chance.mid for link in changed] == [0.2]


def test_whole_numbers_find_their_row_written_either_way() -> None:
    for step in (2, "2"):
        assert load_trade(packs=[{"price_steps": [{"step": step, "word": "little"}]}]).price_steps[2].word == "little"


def test_new_rows_need_all_their_columns() -> None:
    row = {
        "id": "top_box_plate", "name_uk": "Top-box plate", "name_us": "Top-case plate", "zone": "bodywork",
        "side": "middle", "ride": "none", "run": "none", "looks_0_3": 1, "hidden": True, "seen_from": "walk_round",
        "look_minutes": 1, "look_how": "Look", "bad_looks_like": "Cracked", "practice": "replace", "used_ok": "ok",
        "pattern_ok": "ok", "repairable": False, "price_step": 2, "usual_remedy": "used", "lead_class": "used_online",
        "fit_minutes": 10, "wear_chance_low": 0.01, "wear_chance_mid": 0.02, "wear_chance_high": 0.05,
    }
    seen = {"check": "walk_round", "component": "top_box_plate", "sensitivity": 0.9, "false_alarm": 0.02}
    own = load_trade(packs=[{"components": [row], "check_detects": [seen]}])
    assert own.components["top_box_plate"].synonyms == ()
    with pytest.raises(TradeDataError, match="lacks practice, zone"):
        short = {name: cell for name, cell in row.items() if name not in ("zone", "practice")}
        load_trade(packs=[{"components": [short], "check_detects": [seen]}])


def test_a_new_cause_that_is_told_of_and_weighed_is_taken_in() -> None:
    pack = {
        "causes": [{"id": "hail", "name": "Hail", "is_impact": True, "chance_low": 0.005, "chance_mid": 0.01,
                    "chance_high": 0.02, "may_combine_with": ["long_storage"]}],
        "severities": [{"cause": "hail", "name": "usual", "weight": 1, "logodds_shift": 0}],
        "told": [{"hit": "unknown", "cause": "hail", "chance": 1}],
    }
    own = load_trade(packs=[pack])
    assert own.causes["hail"].may_combine_with == ("long_storage",)
    # Signs that say nothing of it are as likely under it as under any other cause.
    assert own.signs["stop_lug_marked"].chance_given_cause["hail"] == 0.01


REFUSED: dict[str, tuple[Mapping[str, Any], str]] = {
    "unknown table": ({"component": []}, "'components'"),
    "table that is no list": ({"components": {"id": "radiator"}}, r"written \[\[components\]\]"),
    "row that is no table": ({"components": ["radiator"]}, "a row is 'radiator'"),
    "unknown column": ({"components": [{"id": "radiator", "fit_minuts": 3}]}, "'fit_minutes'"),
    "unknown id": ({"components": [{"id": "radiatr", "fit_minutes": 3}]}, "'radiator'"),
    "unknown pair": (
        {"knock_ons": [{"if_bad": "subframe", "then": "tail_plastic", "chance_mid": 0.5}]}, "tail_plastics",
    ),
    "row given twice": ({"money": [{"id": "attendance"}, {"id": "attendance"}]}, "stands in the model pack twice"),
}


@pytest.mark.parametrize(("pack", "says"), REFUSED.values(), ids=REFUSED.keys())
def test_packs_that_are_refused(pack: Mapping[str, Any], says: str) -> None:
    with pytest.raises(TradeDataError, match=says) as caught:
        load_trade(packs=[pack])
    assert isinstance(caught.value, WreckwrightError)
    assert caught.value.what and caught.value.allowed and caught.value.do


CSV = {
    "column missing": ("component,pieces\nseat,clips\n", "Put right: basis"),
    "column too many": ("component,pieces,basis,note\nseat,clips,judgement,x\n", "Put right: note"),
    "column twice": ("component,pieces,basis,basis\n", "Put right: basis"),
    "row too long": ("component,pieces,basis\nseat,clips,judgement,too much\n", "line 2: 4 cells"),
    "empty file": ("", "(none)"),
}


@pytest.mark.parametrize(("content", "says"), CSV.values(), ids=CSV.keys())
def test_files_that_are_refused(content: str, says: str) -> None:
    with pytest.raises(TradeDataError) as caught:
        read_csv(TABLES["renew_with"], content)
    assert says in str(caught.value)


@settings(max_examples=40, deadline=None)
@given(
    st.dictionaries(
        st.sampled_from([*TABLES, "about", "nonsense"]),
        st.recursive(
            st.none() | st.booleans() | st.floats() | st.text(max_size=5) | st.sampled_from(["radiator", "id"]),
            lambda inner: st.lists(inner, max_size=3)
            | st.dictionaries(st.sampled_from(["id", "basis", "component", "x"]), inner),
            max_leaves=6,
        ),
        min_size=1, max_size=2,
    )
)
def test_whatever_a_pack_holds_the_answer_is_data_or_our_own_error(pack: dict[str, Any]) -> None:
    try:
        load_trade(packs=[pack])
    except TradeDataError as error:
        assert str(error)


def test_the_model_pack_of_the_guide_loads_and_does_what_the_guide_says(trade: Trade) -> None:
    guide = (DOCS / "trade-data.md").read_text(encoding="utf-8")
    pack = tomllib.loads(guide.split("```toml", 1)[1].split("```", 1)[0])
    own = load_trade(packs=[pack])
    assert own != trade
    for table, rows in pack.items():
        if table == "components":
            for row in rows:
                assert own.components[row["id"]] != trade.components[row["id"]]


def test_the_guide_names_every_file() -> None:
    guide = (DOCS / "trade-data.md").read_text(encoding="utf-8")
    missing = [name for name in TABLES if f"`{name}.{'toml' if name == 'gates' else 'csv'}`" not in guide]
    assert missing == []
