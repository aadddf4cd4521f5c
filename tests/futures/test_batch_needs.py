"""Parts that are brought away together: what waits for the trip, what it costs, how long it is away."""

from __future__ import annotations

import pytest

from tests.futures.made_known import SLID, TRADE, known
from wreckwright.futures.batch_needs import TRIP_MINUTES
from wreckwright.futures.need_types import Need, money_mean
from wreckwright.futures.needs import needs_of

EVEN = {component: 0.1 for component in TRADE.components}
PANELS = SLID.replace('"right mirror gone"', '"right fairing cracked", "tank dented badly"') + "".join(
    f'\n[[remedies]]\ncomponent = "{name}"\nremedy = "repair"\n' for name in ("fairing_r", "fuel_tank_shell")
)
PAINT = '\n[[batches]]\nid = "paint"\nname = "paint"\ncomponents = ["fairing_r", "fuel_tank_shell"]\ndays = 10\n'


def needs(text: str) -> dict[str, Need]:
    return {need.key: need for need in needs_of(known(text), TRADE, EVEN).known}


def money(found: dict[str, Need]) -> float:
    return sum(money_mean(need) for need in found.values())


def test_what_goes_is_taken_off_before_and_mended_and_fitted_after_the_trip() -> None:
    found = needs(PANELS + PAINT)
    trip = found["batch:paint"]
    assert set(trip.after) == {"fairing_r:strip", "fuel_tank_shell:strip"}
    assert (trip.minutes, trip.cure_days) == (TRIP_MINUTES, 10)
    for component in ("fairing_r", "fuel_tank_shell"):
        assert "batch:paint" in found[component].after
        assert component in found[f"{component}:fit_back"].after
        assert found[component].cure_days == 0
        # hand-worked: looked over when it is back, a tenth of the mending
        alone = needs(PANELS)[component]
        assert found[component].minutes[1] == pytest.approx(0.1 * alone.minutes[1])


def test_a_new_part_is_measured_before_it_goes_and_fitted_when_it_is_back() -> None:
    found = needs(SLID + '\n[[batches]]\nid = "coat"\nname = "powder"\ncomponents = ["front_wheel"]\n')
    assert set(found["batch:coat"].after) == {"front_wheel:try_on"}
    assert "batch:coat" in found["front_wheel"].after
    assert "batch:coat" in found["front_wheel:carry_over"].after
    # It takes as long to fit as ever; away as long as such work usually takes.
    assert found["front_wheel"].minutes == needs(SLID)["front_wheel"].minutes
    assert found["batch:coat"].cure_days == round(TRADE.lead_classes["specialist_service"].median_days)


def test_a_price_for_all_takes_the_place_of_what_each_would_cost_and_a_least_charge_fills_up() -> None:
    alone = needs(PANELS)
    mending = sum(money_mean(alone[name]) for name in ("fairing_r", "fuel_tank_shell"))
    priced = needs(PANELS + PAINT + "price_minor = 30000\nminimum_minor = 35000\n")
    # hand-worked: the least charge is above the price
    assert money(priced) == pytest.approx(money(alone) - mending + 35000.0)
    least = needs(PANELS + PAINT + f"minimum_minor = {round(mending) + 5000}\n")
    assert money(least) == pytest.approx(money(alone) + 5000.0, abs=1.0)
    assert money(needs(PANELS + PAINT + "minimum_minor = 1\n")) == pytest.approx(money(alone))


def test_away_and_back() -> None:
    # hand-worked: brought on 14 November, 6 of 10 days ago
    away = needs(PANELS + PAINT + 'state = "away"\naway_on = 2026-11-14\n')
    assert away["batch:paint"].cure_days == 4
    assert away["batch:paint"].minutes == tuple(0.5 * minutes for minutes in TRIP_MINUTES)
    assert "fairing_r:strip" not in away
    back = needs(PANELS + PAINT + 'state = "back"\naway_on = 2026-11-05\nprice_minor = 30000\n')
    assert "batch:paint" not in back
    assert "fairing_r:strip" not in back
    assert "fairing_r:fit_back" in back
    assert back["fairing_r"].materials_minor == (0.0, 0.0, 0.0)


def test_a_batch_of_which_nothing_is_work_takes_no_trip() -> None:
    assert "batch:coat" not in needs(SLID + '\n[[batches]]\nid = "coat"\nname = "coat"\ncomponents = ["seat"]\n')
