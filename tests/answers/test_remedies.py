"""What remedies usually cost and how long they take: the middle of what is drawn for a fresh order.

Independent figures: `futures.supplies` for prices, 20,000 draws of `futures.leads` for waits.
"""

from __future__ import annotations

import datetime as dt
import subprocess
import sys

import numpy as np
import pytest

from wreckwright.answers.remedies import remedy_figures, usual_wait
from wreckwright.futures.supplies import fresh_part, remedy_price
from wreckwright.record.file import read_record
from wreckwright.record.remedies import BUYING_REMEDIES
from wreckwright.record.resolve import resolve
from wreckwright.trade.load import load_trade

TRADE = load_trade()
TEXT = b'nickname = "S"\nmachine_class = "naked"\nyear = 2019\nmarket.sound_value_minor = 500000\n'
KNOWN = resolve(read_record(TEXT), TRADE, as_of=dt.date(2026, 11, 20))


def test_prices_are_those_of_the_plan() -> None:
    for component in TRADE.components.values():
        for one in remedy_figures(
            component, TRADE, sound_value_minor=KNOWN.sound_value_minor[1], age_years=7, severity=2, missing=False
        ):
            if one.remedy in BUYING_REMEDIES:
                expected = fresh_part(KNOWN, TRADE, component, one.remedy).supplies[0].price_minor[1]
            elif one.remedy == "leave":
                expected = 0.0
            else:
                expected = remedy_price(component, one.remedy, KNOWN, TRADE)[1]
            assert one.price_minor == round(expected), (component.id, one.remedy)


@pytest.mark.parametrize("age_years", [0, 7, 10, 30])
def test_a_genuine_part_waits_as_the_mixture_for_its_age_does(age_years: int) -> None:
    rng = np.random.default_rng(7)
    steps = {row.machine_age_from_years for row in TRADE.supply_shares}
    from_years = max(step for step in steps if step <= age_years)
    rows = [row for row in TRADE.supply_shares if row.machine_age_from_years == from_years]
    days, never = [], 0.0
    for row in rows:
        lead = TRADE.lead_classes[row.lead_class]
        sigma = np.log(lead.p90_days / lead.median_days) / 1.2815515655446004
        comes = round(200_000 * row.share * (1 - lead.never_chance))
        days.append(np.exp(np.log(lead.median_days) + sigma * rng.standard_normal(comes)))
        never += row.share * lead.never_chance
    drawn = np.concatenate(days)
    median, p90, chance = usual_wait("importer", "genuine", TRADE, age_years=age_years)
    assert chance == pytest.approx(never)
    # Share of the draws below; within 4 standard errors of 200,000 of them (0.0045 and 0.0027).
    assert np.mean(drawn <= median) == pytest.approx(0.5, abs=0.0045)
    assert np.mean(drawn <= p90) == pytest.approx(0.9, abs=0.0027)


def test_what_is_offered() -> None:
    for component in TRADE.components.values():
        for missing in (False, True):
            figures = remedy_figures(
                component, TRADE, sound_value_minor=1, age_years=7, severity=2, missing=missing)
            offered = [one.remedy for one in figures]
            assert figures[0].usual and sum(one.usual for one in figures) == 1 and len(set(offered)) == len(offered)
            # Nobody is told to leave what nobody can ride with.
            if component.ride == "stop":
                assert "leave" not in offered[1:]
            assert not (missing and "repair" in offered)


def test_no_numeric_library_is_loaded_for_it() -> None:
    code = "import sys, wreckwright.answers.remedies; print('numpy' in sys.modules)"
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert said.strip() == "False"
