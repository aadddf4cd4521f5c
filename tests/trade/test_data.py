"""What the packaged tables say, against their sources and against the rules of the map."""

from __future__ import annotations

import math
import re
from collections import defaultdict
from pathlib import Path

import pytest

from wreckwright.trade.tables import TABLES
from wreckwright.trade.types import Band, Trade

DOCS = Path(__file__).parents[2] / "docs"
Z90 = 1.2815515655446004
"""independent (scipy.stats.norm.ppf): 90 % point of the standard normal distribution."""


def chance(trade: Trade, cause: str, component: str) -> float:
    return next(
        (link.chance.mid for link in trade.cause_links if (link.cause, link.component) == (cause, component)), 0.0
    )


def rows_with_basis(trade: Trade) -> list[tuple[str, str]]:
    groups = [
        trade.components, trade.causes, trade.signs, trade.checks, trade.covers, trade.carry_overs, trade.renew_withs,
        trade.lead_classes, trade.price_steps, trade.job_times, trade.brand_discounts, trade.money, trade.cautions,
        trade.legal, trade.gates, trade.fit_items, trade.classes, trade.stations, trade.mounted_on, trade.preconditions,
    ]
    rows = [(str(name), row.basis) for group in groups for name, row in group.items()]
    for row in (*trade.cause_links, *trade.knock_ons, *trade.told, *trade.supply_shares, *trade.fee_steps):
        rows.append((repr(row)[:80], row.basis))
    rows += [(step.words, step.basis) for steps in trade.job_steps.values() for step in steps]
    rows += [(row.id, row.basis) for row in (*trade.parking, *trade.after_ride)]
    rows += [(cause.id, level.basis) for cause in trade.causes.values() for level in cause.severities]
    rows += [(check.id, seen.basis) for check in trade.checks.values() for seen in check.detects]
    return rows


# --- where figures come from -------------------------------------------------------------------------------------


def test_every_row_says_where_it_comes_from_and_cites_only_known_sources(trade: Trade) -> None:
    for name, basis in rows_with_basis(trade):
        known = [source for source in trade.sources if source in basis]
        assert known or "judgement" in basis or "common practice" in basis, (name, basis)


def test_every_source_says_how_much_of_it_was_read(trade: Trade) -> None:
    assert len(trade.sources) == 46
    for text in trade.sources.values():
        assert " Read: " in text and " Used for: " in text


def test_the_sources_page_names_every_source(trade: Trade) -> None:
    page = (DOCS / "sources.md").read_text(encoding="utf-8")
    assert [source for source in trade.sources if f"| {source} |" not in page] == []


def test_collision_partners_of_the_sources_page_add_up() -> None:
    # published (MAIDS final report, table 3.4): nine kinds of partner, 921 crashes; percentages as printed there.
    page = (DOCS / "sources.md").read_text(encoding="utf-8")
    row = next(line for line in page.splitlines() if line.startswith("| Collision partner"))
    row = row.split("; single-vehicle")[0]
    counts = [int(number) for number in re.findall(r"[a-z] (\d+)\b", row.split(":", 1)[1])]
    assert len(counts) == 9 and sum(counts) == 921
    shares = re.findall(r"(\d+) \((\d+\.\d) %\)", row)
    assert len(shares) == 6
    for count, percent in shares:
        assert 100 * int(count) / 921 == pytest.approx(float(percent), abs=0.06)


def test_no_row_promises_safety(trade: Trade) -> None:
    texts = [repr(row) for group in (trade.checks, trade.gates, trade.cautions, trade.legal, trade.fit_items,
                                     trade.components, trade.covers) for row in group.values()]
    assert [text for text in texts if re.search(r"\b(un)?safe", text, re.IGNORECASE)] == []


# --- published figures carried in rows ---------------------------------------------------------------------------


def test_uk_categories(trade: Trade) -> None:
    # published (Salvage Code of Practice since 1 Oct 2017, as reported by a trade page)
    text = trade.legal["salvage_category"].text
    for category in ("A scrap", "B break", "S repairable structural", "N repairable non-structural"):
        assert category in text


def test_odometer_rule(trade: Trade) -> None:
    # published (49 CFR 580.17): model year 2010 and older exempt after 10 years, 2011 on after 20.
    assert "2010 or older exempt after 10 years, 2011 on after 20 years" in trade.legal["odometer"].text


def test_frame_defects_in_the_uk_manual(trade: Trade) -> None:
    # published (MOT inspection manual for motorcycles 6.1.1)
    assert "Major or Dangerous" in trade.legal["roadworthiness"].text


def test_limits_quoted_with_checks(trade: Trade) -> None:
    # published (three workshop manuals): axle run-out 0.2 mm; (two): disc run-out 0.3 mm
    assert "0.2 mm" in trade.checks["axle_slide"].basis
    assert "0.3 mm" in trade.checks["disc_runout"].passes_when
    # published (COMAR 11.14.03.02): reject over 1 inch out of line
    assert "25.4 mm" in trade.checks["string_line"].basis
    # published (workshop manual of a 1300 tourer, p. 1-16): 1.0 V upright, 4.0 V over 70 degrees
    assert "1.0 V upright, 4.0 V over 70 degrees" in trade.checks["tip_cycle"].basis


def test_charging_needs_air(trade: Trade) -> None:
    # published (HSE SR18): 5 to 10 air changes an hour
    assert "5-10 air changes an hour" in trade.cautions["battery"].text


def test_money_that_was_published(trade: Trade) -> None:
    # published (a UK accident repairer's page): salvage 10 % to nearly 50 % of the value before
    stands = trade.money["as_it_stands_share"].figure
    assert (stands.low, stands.high) == (0.1, 0.5)
    # published (Alabama Code 32-8-87): total loss from 75 %
    assert trade.money["total_loss_share_alabama"].figure == Band(0.75, 0.75, 0.75)
    # published (trade articles on cars): rebuilt titles sell 20-40 % lower
    rebuilt = trade.brand_discounts["rebuilt"].share_off
    assert (rebuilt.low, rebuilt.high) == (0.2, 0.4)
    # published (one parts trader's ordering page): back orders are cancelled after 60 days
    assert trade.lead_classes["factory_backorder"].cancel_days == 60
    # published (a salvage yard note): a good used part is usually less than half of new
    assert all(step.used_factor.mid < 0.5 for step in trade.price_steps.values())


def logistic(x: float) -> float:
    return 1.0 / (1.0 + math.exp(-x))


def parts_cost(trade: Trade, cause: str, severity: int) -> float:
    """Expected new parts as a share of sound value, from the links of one cause alone."""
    shift = trade.causes[cause].severities[severity].logodds_shift
    total = 0.0
    for link in trade.cause_links:
        if link.cause == cause and link.component in trade.components and 0.0 < link.chance.mid < 1.0:
            component = trade.components[link.component]
            if component.zone != "papers":
                odds = math.log(link.chance.mid / (1 - link.chance.mid)) + shift
                total += logistic(odds) * trade.price_steps[component.price_step].new_share_of_sound_value.mid
    return total


def test_a_tip_over_can_cost_as_much_as_a_slide(trade: Trade) -> None:
    # published (IAG research on tip-over repair costs): it can; so a hard drop must cost more than a light slide.
    assert parts_cost(trade, "standstill_drop_left", 2) > parts_cost(trade, "lowside_left", 0)
    assert parts_cost(trade, "standstill_drop_left", 1) < parts_cost(trade, "lowside_left", 1)


# --- arithmetic --------------------------------------------------------------------------------------------------


def test_the_fee_on_a_hammer_price_of_twenty_hours(trade: Trade) -> None:
    # hand-worked: 2 x 0.30 + 8 x 0.15 + 10 x 0.09 = 0.6 + 1.2 + 0.9 = 2.7; with flat items 0.8 + 0.4 + 0.6 it is 4.5.
    hammer = 20.0
    ends = [*(step.from_hours for step in trade.fee_steps[1:]), math.inf]
    fee = sum(
        step.rate * max(0.0, min(hammer, end) - step.from_hours)
        for step, end in zip(trade.fee_steps, ends, strict=True)
    )
    assert fee == pytest.approx(2.7, abs=1e-9)
    assert fee + trade.money["fee_flat_hours"].figure.mid == pytest.approx(4.5, abs=1e-9)


def test_median_and_ninety_percent_point_describe_a_log_normal(trade: Trade) -> None:
    # hand-worked: mu = ln 14 = 2.6391, sigma = ln(40/14) / 1.28155 = 0.8192 for specialist work.
    row = trade.lead_classes["specialist_service"]
    mu, sigma = math.log(row.median_days), math.log(row.p90_days / row.median_days) / Z90
    assert (mu, sigma) == (pytest.approx(2.6391, abs=5e-5), pytest.approx(0.8192, abs=5e-5))
    for row in trade.lead_classes.values():
        sigma = math.log(row.p90_days / row.median_days) / Z90
        assert row.median_days * math.exp(sigma * Z90) == pytest.approx(row.p90_days)


def test_groups_of_parts_bring_the_whole_gross(trade: Trade) -> None:
    # hand-worked: nine shares add up to 1.
    groups = [row.figure.mid for name, row in trade.money.items() if name.startswith("part_out_group_")]
    assert len(groups) == 9
    assert sum(groups) == pytest.approx(1.0)


def test_causes_leave_room_for_a_machine_that_is_only_worn(trade: Trade) -> None:
    # hand-worked: 0.86 for fourteen causes, 0.04 for a bad repair, 0.10 left over.
    total = sum(cause.chance.mid for cause in trade.causes.values())
    assert total == pytest.approx(0.90)
    assert trade.causes["bad_repair"].chance.mid == 0.04


def test_bands_of_chances_are_eight_tenths_in_log_odds(trade: Trade) -> None:
    # hand-worked: logit(0.45) -+ 0.8 gives 0.2688 and 0.6455 (1.1 for causes that are known less).
    for link in trade.cause_links:
        if link.component in trade.latents or trade.components[link.component].id.startswith("fork_tube"):
            continue
        odds = math.log(link.chance.mid / (1 - link.chance.mid))
        for width in (0.8, 1.1):
            low, high = logistic(odds - width), logistic(odds + width)
            if abs(low - link.chance.low) < 6e-4 and abs(high - link.chance.high) < 6e-4:
                break
        else:
            raise AssertionError(link)


# --- rules of the map ---------------------------------------------------------------------------------------------


def test_both_tubes_hang_on_one_common_parent_and_on_nothing_else(trade: Trade) -> None:
    assert trade.latents == ("fork_pair_bend",)
    above = defaultdict(set)
    for row in trade.knock_ons:
        above[row.then].add((row.if_bad, row.chance.mid))
    assert above["fork_tube_l"] == above["fork_tube_r"] == {("fork_pair_bend", 1.0)}


@pytest.mark.parametrize(("cause", "side", "first"), [
    # regression: chances of one tube as first judged, before the pair was given a common parent.
    ("frontal_impact", "l", 0.78), ("frontal_impact", "r", 0.78), ("lowside_left", "l", 0.06),
    ("lowside_left", "r", 0.04), ("struck_side_right", "l", 0.15), ("struck_side_right", "r", 0.2),
])
def test_a_tube_keeps_its_chance(trade: Trade, cause: str, side: str, first: float) -> None:
    parent, own = chance(trade, cause, "fork_pair_bend"), chance(trade, cause, f"fork_tube_{side}")
    assert 1 - (1 - parent) * (1 - own) == pytest.approx(first, abs=1e-9)


def test_a_tube_keeps_its_wear(trade: Trade) -> None:
    # regression: 0.02 as first judged.
    wear = trade.components["fork_tube_l"].wear_chance.mid
    assert 1 - (1 - wear) * (1 - trade.latent_wear["fork_pair_bend"].mid) == pytest.approx(0.02, abs=1e-9)


def test_the_right_fork_tube_knocks_on_as_the_left_does(trade: Trade) -> None:
    after = {tube: {row.then: row.chance for row in trade.knock_ons if row.if_bad == tube}
             for tube in ("fork_tube_l", "fork_tube_r")}
    assert after["fork_tube_l"] == after["fork_tube_r"]


def test_running_without_coolant_reaches_the_top_end(trade: Trade) -> None:
    pairs = {(row.if_bad, row.then) for row in trade.knock_ons}
    for lost_by in ("radiator", "coolant_hoses", "water_pump", "coolant_bottle"):
        assert (lost_by, "coolant_fluid") in pairs
    assert ("coolant_fluid", "top_end") in pairs
    assert chance(trade, "frontal_impact", "top_end") > 0


def test_order_of_chances(trade: Trade) -> None:
    # regression of the map: the silencer is on the right, floods reach the loom, frontal hits reach the head.
    assert chance(trade, "lowside_right", "exhaust_can") > 5 * chance(trade, "lowside_left", "exhaust_can")
    assert chance(trade, "water_flood", "wiring_loom") > chance(trade, "long_storage", "wiring_loom")
    assert chance(trade, "frontal_impact", "frame_head") > chance(trade, "lowside_left", "frame_head")


def test_signs_of_one_story_share_a_group(trade: Trade) -> None:
    groups = defaultdict(set)
    for sign in trade.signs.values():
        groups[sign.group].add(sign.id)
    assert "coolant_stain" not in groups["scrape_pattern"]
    assert groups["coolant"] == {"coolant_stain", "cooked_engine"}
    assert {"front_wheel_rearward", "fork_ripple_under_clamp", "lamp_dash_off_centre"} <= groups["front_end"]


def test_every_sign_speaks_of_every_cause(trade: Trade) -> None:
    for sign in trade.signs.values():
        assert set(sign.chance_given_cause) == set(trade.causes)


def test_naive_ranking_of_causes(trade: Trade) -> None:
    # regression: the ranking of causes by their signs alone, each sign by itself (first figures of the map).
    def likeliest(*signs: str) -> str:
        weight = {
            cause.id: cause.chance.mid * math.prod(trade.signs[sign].chance_given_cause[cause.id] for sign in signs)
            for cause in trade.causes.values()
        }
        return max(weight, key=lambda cause: weight[cause])

    assert likeliest("front_wheel_rearward", "coolant_stain", "lamp_dash_off_centre") == "frontal_impact"
    assert likeliest("one_side_scrape_left", "long_parallel_grooves") == "lowside_left"
    assert likeliest("water_line_silt", "milky_oil") == "water_flood"
    assert likeliest("lock_forced", "wires_cut_twisted") == "theft_recovery"
    assert likeliest("stale_fuel_smell", "flat_old_tyres_dust") == "long_storage"
    assert likeliest("boxes_of_parts") == "unfinished_stripdown"
    assert likeliest("filler_fresh_paint", "mixed_age_parts") == "bad_repair"


def test_power_stays_off_where_water_or_fire_may_have_been(trade: Trade) -> None:
    # published (trade pages on floods: do not start, battery off); the chances are judgement
    for check in "first_start lights_test key_test fault_read fan_feed tip_cycle charge_test fuel_pressure".split():
        assert trade.checks[check].blocked_over["water_flood"] == 0.1
        assert trade.checks[check].blocked_over["fire_electrical"] == 0.1
        assert trade.checks[check].unblocked_by


def test_no_ride_after_a_frontal_hit_before_the_front_is_measured(trade: Trade) -> None:
    ride = trade.checks["low_speed_ride"]
    assert ride.blocked_over["frontal_impact"] == 0.1
    assert set(ride.unblocked_by) == {"tube_runout", "stem_runout", "head_axis_gauge"}


def test_the_first_start_is_guarded(trade: Trade) -> None:
    # common practice: battery, key, coolant pressure, throttle return and oil leaks before the first start
    before = set(trade.checks["first_start"].only_after)
    assert {"battery_test", "key_test", "pressure_cool", "controls_feel", "cooler_look", "fluids_look"} <= before
    guards = " ".join(trade.gates["runs"].guards)
    for word in "battery|coolant level|pressure|oil|throttle|key|fuel leak|extinguisher|helper".split("|"):
        assert word in guards


def test_gates(trade: Trade) -> None:
    bench = sorted((gate for gate in trade.gates.values() if gate.kind == "bench"), key=lambda gate: gate.order)
    assert [gate.id for gate in bench] == ["turns", "straight", "runs", "fit_to_ride"]
    outside = {gate.id for gate in trade.gates.values() if gate.kind == "outside"}
    assert outside == {"papers", "key_turns", "chip_read", "unit_learns", "numbers_belong"}
    assert trade.gates["runs"].needs_component_run and trade.gates["fit_to_ride"].needs_component_ride
    assert trade.gates["fit_to_ride"].pass_chance == 1.0
    for gate in trade.gates.values():
        assert gate.rough_check, f"{gate.id} has no quick rough version"
        assert not trade.checks[gate.rough_check].covers
        assert trade.checks[gate.rough_check].minutes <= 10


def test_turning_the_engine_is_asked_cheaply(trade: Trade) -> None:
    # common practice: rear wheel in top gear, plugs in, 5 to 10 minutes, nothing taken off
    check = trade.checks["turn_rear_wheel"]
    assert (check.rough_for, check.covers) == ("turns", ())
    assert 5 <= check.minutes <= 10


def test_the_fit_to_ride_list_is_closed(trade: Trade) -> None:
    assert list(trade.fit_items) == [
        "steering", "forks", "frame_head", "brakes", "wheels", "tyres", "axles", "throttle", "chain", "stand",
        "fuel_leaks", "lamps",
    ]
    assert trade.components["throttle_grip_r"].fit_to_ride == "throttle"
    assert trade.components["title_papers"].fit_to_ride == ""


def test_price_words(trade: Trade) -> None:
    words = [trade.price_steps[step].word for step in range(1, 8)]
    assert (words[0], words[-1], len(set(words))) == ("pennies", "dear", 7)


def test_components_that_practice_missed(trade: Trade) -> None:
    new = (
        "horn coolant_bottle quick_shift_sensor attitude_sensor electronic_throttle_grip tyre_pressure_sensors"
        " luggage_rack fuel_tank_inside"
    )
    caused = {link.component for link in trade.cause_links}
    for name in new.split():
        assert name in trade.components and name in caused


def test_single_without_water_has_no_water(trade: Trade) -> None:
    absent = set(trade.classes["single"].absent_components)
    assert {"radiator", "water_pump", "coolant_fluid", "coolant_bottle", "coolant_hoses", "radiator_fan"} <= absent
    assert trade.classes["scooter"].not_covered
    assert not any(row.not_covered for row in trade.classes.values() if row.id != "scooter")
    assert "twin-cylinder tourer" in trade.classes["tourer"].synonyms


def test_eight_stations_in_walking_order(trade: Trade) -> None:
    assert [row.order for row in trade.stations.values()] == list(range(1, 9))
    seen = [name for row in trade.stations.values() for name in row.components]
    assert {row.id for row in trade.components.values() if not row.hidden} <= set(seen)


# --- words --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("word", "component"), [
    # common practice: words of the trade on both sides of the ocean
    ("indicator", "indicator_fr"), ("turn signal", "indicator_fl"), ("blinker", "indicator_fr"),
    ("fender", "front_mudguard"),
    ("mudguard", "front_mudguard"), ("tank", "fuel_tank_shell"), ("clip-ons", "handlebar"), ("bars", "handlebar"),
    ("rear-set", "rearset_r"), ("fairing", "fairing_l"), ("case cover", "engine_cover_r"),
    ("side case", "engine_cover_l"),
    ("silencer", "exhaust_can"), ("muffler", "exhaust_can"), ("water pump cover", "water_pump"),
    ("front rim", "front_wheel"),
    ("rack", "luggage_rack"), ("steering stop", "steering_stop"), ("rear brake", "rear_caliper"),
    ("rust in the tank", "fuel_tank_inside"), ("wheel-speed lead", "wheel_speed_sensors"), ("windshield", "screen"),
    ("triple clamp", "top_clamp"), ("kickstand", "side_stand"), ("harness", "wiring_loom"), ("taillight", "tail_lamp"),
    ("compression", "top_end"), ("reg rec", "regulator"), ("expansion tank", "coolant_bottle"),
])
def test_words_of_the_trade_find_their_part(trade: Trade, word: str, component: str) -> None:
    assert word in trade.components[component].synonyms


def test_synonyms_are_plain_lower_case_and_name_no_side(trade: Trade) -> None:
    for row in trade.components.values():
        assert row.synonyms
        for word in row.synonyms:
            assert word == word.lower().strip()
            assert not re.search(r"\b(left|right)\b", word), (row.id, word)


def test_both_names_are_given_and_differ_where_the_trade_differs(trade: Trade) -> None:
    names = {row.id: (row.name_uk, row.name_us) for row in trade.components.values()}
    assert names["exhaust_can"] == ("Silencer", "Muffler")
    assert names["indicator_fl"] == ("Front indicator, left", "Front turn signal, left")
    assert len({uk for uk, _ in names.values()}) == len(names)


def test_column_names_carry_units() -> None:
    numbers = {
        f"{table.name}.{name}" for table in TABLES.values() for name, column in table.columns.items()
        if column.low is not None and column.high is not None and column.high > 100.0
    }
    bare = [name for name in numbers if not re.search(r"minutes|days|hours|years|_km|cycles", name)]
    assert bare == ["money.figure"]  # the unit of a money row is in its id or its note


def test_money_rows_name_their_unit(trade: Trade) -> None:
    for name, row in trade.money.items():
        assert row.note, name
