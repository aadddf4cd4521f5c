"""Quantiles, chances, shares of spread, and their standard errors."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wreckwright.answers.spread import (
    chance_of,
    highest_price,
    mean_se,
    money_bins,
    money_spread,
    quantile_se,
    ratio_se,
    variance_share,
)


def test_quantile_is_a_value_that_is_not_exceeded_in_that_share() -> None:
    values = np.arange(1, 11, dtype=np.int64)
    # hand-worked: of 1..10, half are at most 5, eight tenths at most 8
    assert [quantile_se(values, p)[0] for p in (0.0, 0.2, 0.5, 0.8, 1.0)] == [1, 2, 5, 8, 10]


@given(st.lists(st.integers(-1000, 1000), min_size=1, max_size=50), st.floats(0.01, 1.0))
def test_quantile_law(values: list[int], p: float) -> None:
    found, _ = quantile_se(np.asarray(values, dtype=np.int64), p)
    assert sum(v <= found for v in values) >= p * len(values) - 1e-6
    assert sum(v < found for v in values) < p * len(values)


def test_standard_errors_tell_how_much_other_draws_would_change_the_figure() -> None:
    # independent (numpy, repeated draws): spread of the estimate over 400 repetitions, within 15 %
    rng = np.random.default_rng(11)
    draws = rng.standard_normal((400, 1000))
    for p in (0.2, 0.5, 0.8):
        estimates = np.array([quantile_se(row, p) for row in draws])
        assert estimates[:, 1].mean() == pytest.approx(estimates[:, 0].std(), rel=0.15)
    means = np.array([mean_se(row) for row in draws])
    assert means[:, 1].mean() == pytest.approx(means[:, 0].std(), rel=0.15)
    hours = 40 + 10 * rng.random((400, 1000))
    ratios = np.array([ratio_se(500 * h + 3000 * z, h) for h, z in zip(hours, draws, strict=True)])
    assert ratios[:, 1].mean() == pytest.approx(ratios[:, 0].std(), rel=0.15)


def test_chance_and_its_error() -> None:
    happens = np.arange(1000) < 200
    found = chance_of(happens)
    # hand-worked: sqrt(.2 x .8 / 1000) = .01265; no certainty out of 50 futures: p = .5 / 51
    assert (found.chance, found.words) == (0.2, "about 2 in 10")
    assert found.chance_se == pytest.approx(0.01265, abs=2e-5)
    assert chance_of(np.zeros(50, dtype=bool)).chance_se == pytest.approx(math.sqrt(0.5 / 51 * 50.5 / 51 / 50))


def test_variance_share_of_a_sum_of_two() -> None:
    # hand-worked: y = 2 a + b with a, b independent and of variance 1: shares 4/5 and 1/5; binning a normal into 20
    # equal parts loses 1.3 % of its variance (computed here with scipy from the conditional means of the parts)
    from scipy.stats import norm

    edges = norm.pdf(norm.ppf(np.linspace(0, 1, 21)))
    kept = 20 * float((np.diff(edges) ** 2).sum())
    rng = np.random.default_rng(2)
    a, b = rng.standard_normal((2, 20_000))
    share, se = variance_share(a, 2 * a + b)
    assert share == pytest.approx(0.8 * kept, abs=4 * se)
    assert variance_share(b, 2 * a + b)[0] == pytest.approx(0.2 * kept, abs=0.02)
    assert 0.97 < kept < 1.0


def test_variance_share_of_a_yes_or_no() -> None:
    # hand-worked: y = 10 x, x yes in 30 %: all of it; y = 10 x + noise of variance 2.1 (= 10^2 x .21 / 10): 10/11
    rng = np.random.default_rng(4)
    x = (rng.random(20_000) < 0.3) * 1.0
    assert variance_share(x, 10 * x)[0] == pytest.approx(1.0)
    share, se = variance_share(x, 10 * x + math.sqrt(2.1) * rng.standard_normal(20_000))
    assert share == pytest.approx(10 / 11, abs=4 * se)


def test_no_effect_gives_no_share_on_average() -> None:
    # law: without the correction the mean would be 19 / 499 = 3.8 %
    rng = np.random.default_rng(6)
    raw = [variance_share(*rng.standard_normal((2, 500))) for _ in range(200)]
    assert np.mean([share for share, _ in raw]) < 0.012
    assert variance_share(np.ones(100), np.arange(100.0)) == (0.0, 0.0)
    assert variance_share(np.arange(100.0), np.ones(100)) == (0.0, 0.0)


def test_variance_share_error_covers_other_draws() -> None:
    # independent (numpy, repeated draws): within 40 %, as a jackknife over ten parts is itself uncertain
    rng = np.random.default_rng(8)
    found = []
    for _ in range(150):
        a, b = rng.standard_normal((2, 1000))
        found.append(variance_share(a, a + b))
    shares = np.array(found)
    assert shares[:, 1].mean() == pytest.approx(shares[:, 0].std(), rel=0.4)


def test_bins_hold_everything() -> None:
    values = np.random.default_rng(1).integers(-500_000, 900_000, 5000)
    bins = money_bins(values)
    assert sum(b.share for b in bins) == pytest.approx(1.0)
    assert all(a.to_minor == b.from_minor for a, b in zip(bins, bins[1:], strict=False))
    assert sum(b.share for b in money_bins(np.full(10, 7, dtype=np.int64))) == pytest.approx(1.0)


def test_money_spread_in_order() -> None:
    spread = money_spread(np.random.default_rng(1).integers(-500_000, 900_000, 5000))
    assert spread.p20_minor <= spread.p50_minor <= spread.p80_minor


@given(st.integers(-5, 200), st.integers(0, 100))
def test_highest_price_is_the_last_that_holds(limit: int, ceiling: int) -> None:
    found = highest_price(lambda price: price <= limit, ceiling=ceiling)
    assert found == (None if limit < 0 else min(limit, ceiling))
