"""What there is to do, from findings, lines, jobs and chances."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.futures.made_known import SLID, TRADE, known
from wreckwright.futures.band import Z90
from wreckwright.futures.needs import MOST_FOLLOW_UPS, default_remedy, needs_of, worth_left
from wreckwright.futures.supplies import PartNeed, band_mean, price_band, times

RECORD = known()
EVEN = {component: 0.1 for component in TRADE.components}


def known_keys(text: str) -> dict[str, Any]:
    return {need.key: need for need in needs_of(known(text), TRADE, EVEN).known}


def parts_of(text: str, component: str) -> tuple[PartNeed, ...]:
    """The part lines of all steps of one component."""
    return tuple(part for need in needs_of(known(text), TRADE, EVEN).known if need.component == component
                 for part in need.parts)


def minutes_of(text: str, component: str) -> tuple[float, ...]:
    """Three points of all steps of one component together."""
    bands = [need.minutes for need in needs_of(known(text), TRADE, EVEN).known if need.component == component]
    return tuple(sum(points) for points in zip(*bands, strict=True))


def test_product_of_two_bands_has_the_product_of_medians_and_added_log_variances() -> None:
    # hand-worked: log sd ln(2)/z each, so the product spreads by sqrt(2) ln 2
    low, middle, high = times((5.0, 10.0, 20.0), (0.5, 1.0, 2.0))
    assert middle == pytest.approx(10.0)
    assert high == pytest.approx(10.0 * math.exp(math.sqrt(2.0) * math.log(2.0)))
    assert low == pytest.approx(10.0 / math.exp(math.sqrt(2.0) * math.log(2.0)))


def test_mean_of_an_even_band_is_the_log_normal_mean() -> None:
    # published (any text on the log-normal): mean = median exp(sigma^2 / 2); sigma = ln(high / median) / z(0.9)
    sigma = math.log(2.0) / Z90
    assert band_mean((5.0, 10.0, 20.0)) == pytest.approx(10.0 * math.exp(sigma**2 / 2.0))


def test_every_finding_becomes_work_with_a_part_or_materials() -> None:
    found = known_keys(SLID)
    for component in ("mirror_r", "water_pump", "front_wheel"):
        need = found[component]
        assert parts_of(SLID, component) or need.materials_minor[1] > 0.0
        assert need.minutes[1] > 0.0


def test_mere_looks_on_something_that_stops_no_ride_are_left_and_lower_the_sale() -> None:
    text = SLID.replace('"right mirror gone"', '{ component = "fairing_r", severity = 1, condition = "scratched" }')
    needs = needs_of(known(text), TRADE, EVEN)
    assert "fairing_r" not in {need.key for need in needs.known}
    assert needs.left_as_is_minor == round(worth_left(TRADE.components["fairing_r"], known(text)))
    # hand-worked: three steps of looks at 0.6 % of 6,400.00
    assert TRADE.components["fairing_r"].looks_0_3 == 3
    assert needs.left_as_is_minor == 11520


@pytest.mark.parametrize(
    ("component", "severity", "missing", "remedy"),
    [
        # common practice: looks alone are left where nothing rides on them; what is gone cannot be mended
        ("fairing_r", 1, False, "leave"),
        ("fuel_tank_shell", 2, False, TRADE.components["fuel_tank_shell"].usual_remedy),
        ("fuel_tank_shell", 2, True, "used"),
    ],
)
def test_default_remedy(component: str, severity: int, missing: bool, remedy: str) -> None:
    assert default_remedy(TRADE.components[component], severity=severity, missing=missing) == remedy


def test_owner_remedy_wins() -> None:
    text = SLID + '\n[[remedies]]\ncomponent = "front_wheel"\nremedy = "repair"\n'
    assert known_keys(text)["front_wheel"].remedy == "repair"


def test_a_quote_is_certain_and_postage_is_not_added_to_it() -> None:
    text = SLID + '\n[[parts]]\ncomponent = "front_wheel"\nremedy = "used"\nprice_minor = 19500\n'
    (part,) = parts_of(text, "front_wheel")
    assert part.supplies[0].price_minor == (19500.0, 19500.0, 19500.0)
    assert not part.already_ordered


def test_an_open_order_counts_what_is_still_to_pay_and_how_long_it_has_been_waited_for() -> None:
    text = SLID + (
        '\n[[parts]]\ncomponent = "front_wheel"\nremedy = "used"\nprice_minor = 19500\npaid_minor = 5000\n'
        "state = \"ordered\"\nordered_on = 2026-10-21\n"
    )
    (part,) = parts_of(text, "front_wheel")
    # hand-worked: 195.00 - 50.00 to pay; 21 October to 20 November is 30 days
    assert part.supplies[0].price_minor[1] == 14500.0
    assert part.waited_days == 30
    assert part.already_ordered
    assert part.sunk_minor == 5000


def test_a_fitted_part_leaves_nothing_to_do() -> None:
    text = SLID + '\n[[parts]]\ncomponent = "front_wheel"\nremedy = "used"\nstate = "fitted"\n'
    needs = needs_of(known(text), TRADE, EVEN)
    assert "front_wheel" not in {need.key for need in needs.known}
    assert "front_wheel" not in {need.component for need in needs.hidden}


def test_an_own_job_takes_over_minutes_and_covers() -> None:
    text = SLID + (
        '\n[[jobs]]\nid = "rim"\nname = "true the rim"\ncomponent = "front_wheel"\n'
        "minutes = { low = 30, likely = 50, high = 90 }\n"
    )
    found = known_keys(text)
    # The owner's minutes are those of the whole: all steps together take no more and no less.
    assert minutes_of(text, "front_wheel") == pytest.approx((30.0, 50.0, 90.0))
    assert "job:rim" not in found


def test_hidden_components_keep_98_percent_of_the_expected_cost_and_the_rest_is_one_lump() -> None:
    needs = needs_of(known(), TRADE, EVEN)
    assert 0 < len(needs.hidden) <= MOST_FOLLOW_UPS
    slots = {need.component for need in needs.hidden}
    assert not slots & set(needs.small)
    lump = sum(EVEN[c] * money for c, (money, _) in needs.small.items())
    assert needs.lump_mean[0] == pytest.approx(lump)


def test_components_behind_a_question_are_the_questions_business() -> None:
    needs = needs_of(known(), TRADE, EVEN)
    assert {"frame_head", "frame_spars"} <= needs.gate_components
    assert not needs.gate_components & {need.component for need in (*needs.hidden, *needs.known)}


def test_an_answered_question_takes_its_components_as_sound() -> None:
    needs = needs_of(known(extra='turns_over = "yes"\n'), TRADE, EVEN)
    everywhere = {need.component for need in (*needs.hidden, *needs.known)} | set(needs.small)
    assert not everywhere & set(TRADE.gates["turns"].fails_with)


@given(st.sampled_from(sorted(TRADE.components)), st.sampled_from(["genuine", "pattern", "used"]))
def test_prices_are_ordered_bands_and_cheaper_sources_are_cheaper(component: str, remedy: str) -> None:
    low, middle, high = price_band(TRADE.components[component], remedy, RECORD, TRADE)
    assert 0.0 < low <= middle <= high
    assert middle <= price_band(TRADE.components[component], "genuine", RECORD, TRADE)[1]


PART = '\n[[parts]]\nid = "w"\ncomponent = "front_wheel"\nremedy = "used"\n'


def first_line(text: str) -> PartNeed:
    return parts_of(text, "front_wheel")[0]


def test_what_the_purse_paid_for_a_part_is_not_paid_again() -> None:
    text = SLID + PART + (
        'state = "ordered"\nprice_minor = 19500\n'
        '[[purse]]\ndate = 2026-11-01\nwhat = "rim"\nout_minor = 19500\npays = "w"\n'
    )
    part = first_line(text)
    # hand-worked: 195.00 asked, 195.00 paid
    assert part.supplies[0].price_minor == (0.0, 0.0, 0.0)
    assert part.sunk_minor == 19500


def test_a_part_on_the_shelf_without_a_price_costs_nothing_more() -> None:
    assert first_line(SLID + PART + 'state = "here"\n').supplies[0].price_minor == (0.0, 0.0, 0.0)


def test_what_has_been_paid_comes_off_the_trades_price_of_an_order_without_one() -> None:
    fresh = first_line(SLID + PART + 'state = "ordered"\n').supplies[0].price_minor
    paid = first_line(SLID + PART + 'state = "deposit_paid"\npaid_minor = 5000\n').supplies[0].price_minor
    # hand-worked: each point of the band less 50.00
    assert paid == tuple(max(0.0, price - 5000.0) for price in fresh)


def test_a_part_that_came_wrong_is_bought_once_more() -> None:
    part = first_line(SLID + PART + 'state = "wrong"\nprice_minor = 19500\npaid_minor = 19500\n')
    # hand-worked: the first 195.00 are gone, another 195.00 are to pay
    assert part.supplies[0].price_minor[1] == 19500.0


def test_a_fitted_part_whose_job_is_still_open_is_not_bought_again() -> None:
    text = SLID + PART + 'state = "fitted"\n[[jobs]]\nid = "b"\nname = "bleed"\ncomponent = "front_wheel"\n'
    assert parts_of(text, "front_wheel") == ()
    # Nothing is tried on or moved over any more; all its minutes are still there.
    assert [key for key in known_keys(text) if key.startswith("front_wheel")] == ["front_wheel", "front_wheel:test"]
    assert minutes_of(text, "front_wheel")[1] == pytest.approx(TRADE.components["front_wheel"].fit_minutes)


def test_a_strip_job_done_or_a_second_job_does_not_swallow_the_fault() -> None:
    stripped = SLID + (
        '\n[[jobs]]\nid = "off"\nname = "wheel out"\nkind = "strip"\nstate = "closed_up"\ncomponent = "front_wheel"\n'
    )
    assert "front_wheel" in known_keys(stripped)
    two = SLID + "".join(
        f'\n[[jobs]]\nid = "{name}"\nname = "{name}"\ncomponent = "front_wheel"\ncost_minor = {cost}\n'
        for name, cost in (("true", 4000), ("paint", 6000))
    )
    found = known_keys(two)
    assert found["front_wheel"].materials_minor[1] == 4000.0
    assert found["job:paint"].materials_minor[1] == 6000.0


def test_a_part_line_on_mere_looks_is_bought_unless_the_owner_says_leave() -> None:
    text = SLID.replace('"right mirror gone"', '{ component = "fairing_r", severity = 1, condition = "scratched" }')
    line = '\n[[parts]]\nid = "fr"\ncomponent = "fairing_r"\nstate = "ordered"\nprice_minor = 9000\n'
    assert [part.key for part in parts_of(text + line, "fairing_r")] == ["fairing_r"]
    leave = '[[remedies]]\ncomponent = "fairing_r"\nremedy = "leave"\n'
    assert "fairing_r" not in known_keys(text + line + leave)


def test_an_own_job_or_line_on_a_part_behind_a_question_is_kept() -> None:
    text = SLID + (
        '\n[[jobs]]\nid = "head"\nname = "straighten the head"\nkind = "repair"\ncomponent = "frame_head"\n'
        'cost_minor = 40000\n[[parts]]\nid = "cu"\ncomponent = "control_unit"\nstate = "ordered"\nprice_minor = 30000\n'
    )
    found = known_keys(text)
    assert found["job:head"].materials_minor[1] == 40000.0
    assert "part:cu" in found


def test_what_is_renewed_anyway_is_not_bought_a_second_time_when_it_turns_out_bad() -> None:
    def hidden(text: str) -> set[str]:
        needs = needs_of(known(text), TRADE, EVEN)
        return {need.component for need in needs.hidden} | set(needs.small)

    assert "battery" in hidden(SLID)
    job = '\n[[jobs]]\nid = "b"\nname = "new battery"\nkind = "{}"\ncomponent = "battery"\n'
    assert "battery" not in hidden(SLID + job.format("fit"))
    assert "battery" in hidden(SLID + job.format("check"))
    assert "battery" not in hidden(SLID + '\n[[parts]]\ncomponent = "battery"\nstate = "ordered"\n')


def test_a_part_line_belongs_to_one_job_only() -> None:
    text = SLID + PART + "".join(
        f'[[jobs]]\nid = "{name}"\nname = "{name}"\nparts = ["w", "bolt"]\n' for name in ("a", "b")
    ) + '[[parts]]\nid = "bolt"\nname = "bolt"\n'
    keys = [part.key for need in needs_of(known(text), TRADE, EVEN).known for part in need.parts]
    assert keys.count("front_wheel") == 1
    assert keys.count("line:bolt") == 1


def test_a_repair_with_a_line_of_its_own_is_not_charged_as_a_repair_besides() -> None:
    text = SLID.replace('"front rim dinged"', '"rear caliper seized"')
    line = '\n[[parts]]\ncomponent = "rear_caliper"\nremedy = "repair"\n'
    plain = known_keys(text + '\n[[remedies]]\ncomponent = "rear_caliper"\nremedy = "repair"\n')["rear_caliper"]
    lined = known_keys(text + line)["rear_caliper"]
    whole = plain.materials_minor[1]
    # hand-worked: the line is the repair, with postage; small stuff beside it as for any part
    money = TRADE.money
    price = parts_of(text + line, "rear_caliper")[0].supplies[0].price_minor[1]
    assert price == pytest.approx(whole * (1.0 + money["postage_share"].figure.mid))
    small = lined.materials_minor[1]
    assert small == pytest.approx(whole * money["small_stuff_share"].figure.mid)


def test_minutes_worked_already_are_not_worked_again() -> None:
    job = (
        '\n[[jobs]]\nid = "x"\nname = "x"\nstate = "open"\nminutes = { low = 30, likely = 50, high = 90 }\n'
        "done_minutes = 40\n"
    )
    # hand-worked: less 40, and never less than a tenth of each
    assert known_keys(SLID + job)["job:x"].minutes == (3.0, 10.0, 50.0)


def test_a_gate_may_be_named_by_its_handle() -> None:
    text = SLID + (
        '\n[[gates]]\nid = "head"\ntemplate = "straight"\n[[jobs]]\nid = "x"\nname = "x"\nbefore_gate = "head"\n'
    )
    assert known_keys(text)["job:x"].before_gate == "straight"


def test_jobs_come_after_jobs_whatever_their_place_in_the_file() -> None:
    text = SLID + (
        '\n[[jobs]]\nid = "paint"\nname = "paint"\nafter = ["rim"]\n'
        '[[jobs]]\nid = "rim"\nname = "true the rim"\ncomponent = "front_wheel"\nafter = ["wash"]\n'
        '[[jobs]]\nid = "wash"\nname = "wash"\n'
    )
    found = known_keys(text)
    assert found["job:paint"].after == ("front_wheel",)
    assert "job:wash" in found["front_wheel"].after
    # It is taken apart after that, but measured when it comes.
    assert "job:wash" in found["front_wheel:carry_over"].after
    assert found["front_wheel:try_on"].after == ()


def test_an_own_job_that_stops_no_ride_does_not_end_the_project() -> None:
    text = SLID + '\n[[parts]]\nid = "pad"\nname = "tank pad"\n[[jobs]]\nid = "x"\nname = "x"\nparts = ["pad"]\n'
    assert not known_keys(text)["job:x"].essential


def test_a_piece_is_as_needed_as_the_part_that_waits_for_it() -> None:
    piece = SLID + """
[[parts]]
id = "piece"
name = "impeller"
[[jobs]]
name = "fit the impeller"
id = "small"
stands_for = "part:piece"
"""
    needed = piece + """
[[jobs]]
name = "move it over"
stands_for = "water_pump:carry_over"
parts = ["piece"]
after = ["small"]
"""
    alone, with_pump = known_keys(piece)["part:piece"], known_keys(needed)["part:piece"]
    assert (alone.essential, alone.before_gate) == (False, "fit_to_ride")
    # A pump without its impeller starts no engine.
    assert (with_pump.essential, with_pump.before_gate) == (True, "runs")


def test_fluids_are_on_every_shelf() -> None:
    # Common practice: oil, coolant and brake fluid are bought round the corner.
    for fluid in ("engine_oil", "coolant_fluid", "brake_fluid"):
        text = SLID.replace('"front rim dinged"', f'{{ component = "{fluid}" }}')
        (part,) = parts_of(text, fluid)
        assert part.supplies[0].lead_class == "dealer_stock"
