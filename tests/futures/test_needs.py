"""What there is to do, from findings, lines, jobs and chances."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.futures.made_known import SLID, TRADE, known
from wreckwright.futures.band import Z90
from wreckwright.futures.needs import (
    MOST_FOLLOW_UPS,
    band_mean,
    default_remedy,
    needs_of,
    price_band,
    times,
    worth_left,
)

RECORD = known()
EVEN = {component: 0.1 for component in TRADE.components}


def known_keys(text: str) -> dict[str, object]:
    return {need.key: need for need in needs_of(known(text), TRADE, EVEN).known}


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
        assert need.parts or need.materials_minor[1] > 0.0  # type: ignore[attr-defined]
        assert need.minutes[1] > 0.0  # type: ignore[attr-defined]


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
    assert known_keys(text)["front_wheel"].remedy == "repair"  # type: ignore[attr-defined]


def test_a_quote_is_certain_and_postage_is_not_added_to_it() -> None:
    text = SLID + '\n[[parts]]\ncomponent = "front_wheel"\nremedy = "used"\nprice_minor = 19500\n'
    part = known_keys(text)["front_wheel"].parts[0]  # type: ignore[attr-defined]
    assert part.supplies[0].price_minor == (19500.0, 19500.0, 19500.0)
    assert not part.already_ordered


def test_an_open_order_counts_what_is_still_to_pay_and_how_long_it_has_been_waited_for() -> None:
    text = SLID + (
        '\n[[parts]]\ncomponent = "front_wheel"\nremedy = "used"\nprice_minor = 19500\npaid_minor = 5000\n'
        "state = \"ordered\"\nordered_on = 2026-10-21\n"
    )
    part = known_keys(text)["front_wheel"].parts[0]  # type: ignore[attr-defined]
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
    assert found["front_wheel"].minutes == (30.0, 50.0, 90.0)  # type: ignore[attr-defined]
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
