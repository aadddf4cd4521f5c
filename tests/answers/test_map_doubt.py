"""Whether a verdict stands if the map of damage is wrong within its error."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.answers.toys import mixed_futures
from wreckwright.answers.map_doubt import RESTS_ON_THE_MAP_OVER, flip_chance, map_doubt
from wreckwright.answers.verdict import verdict
from wreckwright.futures.scene import MAP_ERROR

Z = np.linspace(-2.0, 2.0, 41)


def test_chance_of_another_choice_is_the_tail_of_the_normal_distribution() -> None:
    # published (any table of the standard normal distribution): P(Z > 1) = .1587, P(Z > 0.5) = .3085
    sell = np.zeros_like(Z)
    assert flip_chance(
        z=Z, worth={"carry_on": 1.0 - Z, "sell_as_it_stands": sell}, best="carry_on"
    ) == pytest.approx(0.1587, abs=0.002)
    assert flip_chance(
        z=Z, worth={"carry_on": 0.5 - Z, "sell_as_it_stands": sell}, best="carry_on"
    ) == pytest.approx(0.3085, abs=0.002)


def test_a_rival_may_win_on_either_side() -> None:
    # hand-worked: beaten above z = 1 by one, below z = -1 by the other: twice .1587
    worth = {"carry_on": np.zeros_like(Z), "sell_as_it_stands": Z - 1.0, "part_out": -Z - 1.0}
    assert flip_chance(z=Z, worth=worth, best="carry_on") == pytest.approx(0.3173, abs=0.004)


@given(st.floats(-3.0, 3.0), st.floats(-2.0, 2.0))
def test_never_outside_0_and_1_and_nothing_flips_without_a_slope(lead: float, slope: float) -> None:
    worth = {"carry_on": lead + slope * Z, "sell_as_it_stands": np.zeros_like(Z)}
    best = "carry_on" if lead >= 0.0 else "sell_as_it_stands"
    assert 0.0 <= flip_chance(z=Z, worth=worth, best=best) <= 0.51  # type: ignore[arg-type]
    flat = {"carry_on": abs(lead) + 0.1 + 0.0 * Z, "sell_as_it_stands": 0.0 * Z}
    assert flip_chance(z=Z, worth=flat, best="carry_on") == 0.0  # type: ignore[arg-type]


def test_without_versions_of_the_map_nothing_is_said() -> None:
    futures = mixed_futures()
    assert MAP_ERROR not in futures.drivers
    assert map_doubt(futures, {}, "carry_on") is None
    assert verdict(futures).map_doubt is None


def test_a_verdict_that_hangs_on_the_map_says_so_and_one_that_does_not_keeps_quiet() -> None:
    futures = mixed_futures()
    n = futures.played.status.shape[0]
    plain = verdict(futures)
    # A map error that has nothing to do with the worths, and one that goes with the best option's lead alone.
    unrelated = np.where(np.arange(n) % 2 == 0, -1.0, 1.0)
    calm = verdict(replace(futures, drivers={MAP_ERROR: unrelated}))
    assert calm.map_doubt is not None
    assert calm.choice == plain.choice
    assert calm.map_doubt.flip_chance < RESTS_ON_THE_MAP_OVER
    assert "how much is damaged" not in calm.why
    assert not any("how much is damaged" in note for note in calm.notes)
    sale = futures.market.sale_minor.astype(float)
    error = -(sale - sale.mean()) / sale.std()
    swung = replace(
        futures, drivers={MAP_ERROR: error},
        market=replace(futures.market, sale_minor=np.maximum(sale - 400_000.0 * error, 0.0).astype(np.int64)),
    )
    shaken = verdict(swung)
    assert shaken.map_doubt is not None
    assert shaken.map_doubt.rests_on_it == (shaken.map_doubt.flip_chance > RESTS_ON_THE_MAP_OVER)
    assert shaken.map_doubt.rests_on_it
    assert "it rests on our guess of how much is damaged" in shaken.why
    assert any("how much is damaged" in note for note in shaken.notes)


def test_nothing_is_called_when_more_maps_than_not_say_otherwise() -> None:
    futures = mixed_futures()
    sale = futures.market.sale_minor.astype(float)
    error = (sale - sale.mean()) / sale.std() + 3.0
    # The futures believe in maps three units off the middle, so the middle itself lies far down the line.
    found = verdict(replace(
        futures, drivers={MAP_ERROR: error},
        market=replace(futures.market, sale_minor=np.maximum(sale + 600_000.0 * (error - 3.0), 0.0).astype(np.int64)),
    ))
    assert found.map_doubt is not None
    assert found.map_doubt.flip_chance > 0.5
    assert found.choice == "too_close_to_call"
    assert found.why.startswith("Too close to call")
