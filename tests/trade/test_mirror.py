"""The generic map for a machine laid out the other way round."""

from __future__ import annotations

import re

from hypothesis import given, settings
from hypothesis import strategies as st

from wreckwright.trade.load import load_trade
from wreckwright.trade.mirror import mirror_trade
from wreckwright.trade.types import Trade
from wreckwright.trade.validate import check_trade

BASE = load_trade()
TURNED = load_trade(mirrored=True)
MOVED = frozenset(row.id for row in TURNED.components.values() if row.when_mirrored != "stays")


def chance(trade: Trade, cause: str, component: str) -> float:
    return next(
        (link.chance.mid for link in trade.cause_links if (link.cause, link.component) == (cause, component)), 0.0
    )


def test_twice_is_the_same_data_again(trade: Trade) -> None:
    assert mirror_trade(mirror_trade(trade)) == trade
    assert mirror_trade(trade) == TURNED


@settings(max_examples=15, deadline=None)
@given(data=st.data())
def test_twice_is_the_same_with_any_model_pack(data: st.DataObject) -> None:
    base = BASE
    component = data.draw(st.sampled_from(sorted(base.components)))
    link = data.draw(st.sampled_from(base.cause_links))
    check = data.draw(st.sampled_from(sorted(base.checks)))
    ends = sorted(data.draw(st.lists(st.floats(0, 1), min_size=3, max_size=3)))
    pack = {
        "components": [{
            "id": component,
            "covers": data.draw(st.lists(st.sampled_from(sorted(base.covers)), unique=True, max_size=3)),
            "fit_minutes": data.draw(st.floats(0, 500)),
            "look_how": data.draw(st.sampled_from(["Look at the left and the right end", "Left one first", "Look"])),
        }],
        "checks": [{
            "id": check, "covers": data.draw(st.lists(st.sampled_from(sorted(base.covers)), unique=True, max_size=3)),
        }],
    }
    if link.component not in base.latents:
        pack["cause_links"] = [{
            "cause": link.cause, "component": link.component,
            "chance_low": ends[0], "chance_mid": ends[1], "chance_high": ends[2],
        }]
    own = load_trade(packs=[pack])
    assert mirror_trade(mirror_trade(own)) == own


def test_turned_data_hold_together() -> None:
    check_trade(TURNED)


def test_what_is_held_in_the_hands_stays(trade: Trade) -> None:
    # common practice: throttle and front brake are on the right, the clutch on the left, on every machine.
    hands = (
        "lever_clutch lever_brake_front grip_l throttle_grip_r switch_cluster_l switch_cluster_r master_cyl_front"
        " clutch_perch"
    )
    for name in hands.split():
        assert TURNED.components[name] == trade.components[name]
        assert chance(TURNED, "lowside_left", name) == chance(trade, "lowside_left", name)


def test_single_parts_change_side_and_their_chances_go_with_them(trade: Trade) -> None:
    # hand-worked from the links: a slide on the left bends the lever that is on the left.
    before = {name: trade.components[name].side for name in ("shift_lever", "brake_pedal", "exhaust_can", "water_pump")}
    assert before == {"shift_lever": "left", "brake_pedal": "right", "exhaust_can": "right", "water_pump": "left"}
    for name, side in before.items():
        assert TURNED.components[name].side == {"left": "right", "right": "left"}[side]
        assert chance(TURNED, "lowside_left", name) == chance(trade, "lowside_right", name)
        assert chance(TURNED, "struck_side_right", name) == chance(trade, "struck_side_left", name)
        assert chance(TURNED, "frontal_impact", name) == chance(trade, "frontal_impact", name)


def test_engine_covers_swap_what_they_are(trade: Trade) -> None:
    left, right = TURNED.components["engine_cover_l"], TURNED.components["engine_cover_r"]
    assert (left.side, right.side) == ("left", "right")
    assert left.name_uk == trade.components["engine_cover_r"].name_uk
    assert (left.covers, right.covers) == (("clutch_cover_off",), ("alternator_cover_off",))
    # A left-hand slide still grinds the left-hand cover, whichever it is.
    assert chance(TURNED, "lowside_left", "engine_cover_l") == chance(trade, "lowside_right", "engine_cover_r")
    assert ("engine_cover_r", "alternator") in {(row.if_bad, row.then) for row in TURNED.knock_ons}
    assert "engine_cover_r" in {seen.component for seen in TURNED.checks["cover_l_off"].detects}
    assert TURNED.carry_overs["engine_cover_r"].pieces == trade.carry_overs["engine_cover_l"].pieces
    assert TURNED.covers["alternator_cover_off"].under[0] == "fairing_r_off"


def test_covers_named_by_side_keep_their_side_in_their_names() -> None:
    for name, word in (("fairing_l_off", "Left"), ("fairing_r_off", "Right"), ("hanger_l_off", "Left")):
        assert TURNED.covers[name].name.startswith(word)
    assert "engine_cover_l" in TURNED.covers["fairing_l_off"].exposes
    assert "water_pump" in TURNED.covers["fairing_r_off"].exposes


def test_moved_parts_stand_at_the_other_flank(trade: Trade) -> None:
    assert "shift_lever" in trade.stations["left_flank"].components
    assert "shift_lever" in TURNED.stations["right_flank"].components
    assert "engine_cover_l" in TURNED.stations["left_flank"].components


def test_left_and_right_in_turned_texts_always_mean_the_side(trade: Trade) -> None:
    # The word right must never mean "proper" in a row that is turned: these are all there are.
    turned_rows = [row for row in trade.components.values() if row.id in MOVED]
    texts = [text for row in turned_rows for text in (row.look_how, row.bad_looks_like, row.practice, row.name_uk)]
    texts += [text for name in ("fairing_l_off", "fairing_r_off", "hanger_l_off", "hanger_r_off")
              for text in (trade.covers[name].name, trade.covers[name].caution)]
    assert {text for text in texts if re.search(r"\b(left|right)\b", text, re.IGNORECASE)} == {
        "Look behind for cracks, compare angle with right", "Look behind for cracks, compare angle with left",
        "Footrest hanger, left", "Footrest hanger, right", "Left side panel or fairing off",
        "Right side panel or fairing off", "Left footrest hanger off", "Right footrest hanger off",
    }
    assert TURNED.components["rearset_l"].look_how == "Look behind for cracks, compare angle with right"


def test_symmetric_parts_are_as_likely_on_either_side(trade: Trade) -> None:
    # regression of a rule of the map: left and right slides are mirror images for parts fitted on both sides.
    for stem in ("mirror", "engine_cover", "fork_tube", "fairing", "peg"):
        for cause in ("lowside", "standstill_drop", "struck_side"):
            assert chance(trade, f"{cause}_left", f"{stem}_l") == chance(trade, f"{cause}_right", f"{stem}_r")
            assert chance(trade, f"{cause}_left", f"{stem}_r") == chance(trade, f"{cause}_right", f"{stem}_l")
