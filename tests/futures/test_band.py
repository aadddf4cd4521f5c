"""Three-point estimates as distributions."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate, stats

from wreckwright.errors import WreckwrightError
from wreckwright.futures.band import Z90, LogNormal, lognormal_from_band

bands = st.tuples(st.floats(0.01, 1e6), st.floats(1.0, 9.9), st.floats(1.0, 50.0)).map(
    lambda b: (b[0], b[0] * b[1], b[0] * b[1] * b[2])
)


@given(band=bands)
def test_ten_fifty_and_ninety_percent_points_are_the_three_figures(band: tuple[float, float, float]) -> None:
    z = stats.norm.ppf([0.1, 0.5, 0.9])
    assert lognormal_from_band(*band).at(z) == pytest.approx(band, rel=1e-9)


@given(band=bands, low=st.floats(-8, 8), high=st.floats(-8, 8))
def test_a_larger_normal_never_gives_less(band: tuple[float, float, float], low: float, high: float) -> None:
    low, high = sorted((low, high))
    first, second = lognormal_from_band(*band).at(np.array([low, high]))
    assert first <= second


def test_an_even_band_is_the_plain_lognormal() -> None:
    # hand-worked: 20, 60, 180 is even in ratio (3 down, 3 up), so sigma = ln 3 / 1.28155 = 0.857252
    band = lognormal_from_band(20.0, 60.0, 180.0)
    assert band.log_sd_below == pytest.approx(0.857252, abs=1e-6)
    u = np.linspace(0.001, 0.999, 101)
    # independent (scipy.stats.lognorm)
    assert band.at(stats.norm.ppf(u)) == pytest.approx(stats.lognorm(s=math.log(3) / Z90, scale=60).ppf(u), rel=1e-9)
    assert band.mean == pytest.approx(stats.lognorm(s=math.log(3) / Z90, scale=60).mean(), rel=1e-9)


@pytest.mark.parametrize("low_likely_high", [(60.0, 90.0, 240.0), (10.0, 90.0, 95.0), (5.0, 5.0, 50.0)])
def test_mean_of_a_lopsided_band(low_likely_high: tuple[float, float, float]) -> None:
    band = lognormal_from_band(*low_likely_high)
    # independent (scipy quadrature over the normal density, either side of the bend)
    parts = [integrate.quad(lambda z: stats.norm.pdf(z) * float(band.at(np.array(z))), *side)[0]
             for side in ((-12, 0), (0, 12))]
    assert band.mean == pytest.approx(sum(parts), rel=1e-7)


def test_low_of_nothing_is_read_as_a_tenth_of_likely() -> None:
    assert lognormal_from_band(0.0, 50.0, 80.0) == lognormal_from_band(5.0, 50.0, 80.0)


def test_a_band_without_width_is_certain() -> None:
    assert lognormal_from_band(7.0, 7.0, 7.0).at(np.array([-3.0, 0.0, 3.0])).tolist() == [7.0, 7.0, 7.0]
    assert lognormal_from_band(0.0, 0.0, 0.0).at(np.array([-3.0, 3.0])).tolist() == [0.0, 0.0]


@pytest.mark.parametrize("band", [(5.0, 4.0, 6.0), (1.0, 4.0, 3.0), (-1.0, 2.0, 3.0), (1.0, math.nan, 2.0),
                                  (1.0, 2.0, math.inf)])
def test_a_band_out_of_order_is_refused(band: tuple[float, float, float]) -> None:
    with pytest.raises(WreckwrightError, match=r"is out of order.*low <= likely <= high.*Give the three figures"):
        lognormal_from_band(*band)


def test_a_likely_figure_of_nothing_is_refused() -> None:
    with pytest.raises(WreckwrightError, match=r"the band 0.0, 0.0, 9.0 says that most likely it is nothing"):
        lognormal_from_band(0.0, 0.0, 9.0)


def test_lognormal_points_and_mean() -> None:
    view = LogNormal(math.log(1.25), 0.5)
    # independent (scipy.stats.lognorm)
    frozen = stats.lognorm(s=0.5, scale=1.25)
    assert view.low_high == pytest.approx(tuple(frozen.ppf([0.1, 0.9])), rel=1e-9)
    assert view.mean == pytest.approx(frozen.mean(), rel=1e-12)
    assert view.at(np.array([0.0])) == pytest.approx([1.25])


@pytest.mark.parametrize(("mu", "sd"), [(math.nan, 1.0), (0.0, -0.1), (0.0, math.inf)])
def test_a_lognormal_without_sense_is_refused(mu: float, sd: float) -> None:
    with pytest.raises(ValueError, match="both must be finite numbers, sd 0 or more"):
        LogNormal(mu, sd)
