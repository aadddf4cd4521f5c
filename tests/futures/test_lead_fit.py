"""Log-normal lead times fitted to orders that came and orders still open."""

from __future__ import annotations

import json
import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import optimize, stats

from wreckwright.errors import WreckwrightError
from wreckwright.futures.lead_fit import fit_lead

CASE = json.loads((Path(__file__).parents[1] / "data" / "lead_times.json").read_text(encoding="utf-8"))[
    "censored_lognormal"
]
WAITING = [CASE["suspended"]["at_days"]] * CASE["suspended"]["count"]


def loglik(mu: float, sigma: float, arrived: list[float], waiting: list[float]) -> float:
    came = stats.norm.logpdf(np.log(arrived), mu, sigma).sum()
    return float(came + stats.norm.logsf(np.log(waiting), mu, sigma).sum() if waiting else came)


def test_censored_fit_of_a_published_sample() -> None:
    fit = fit_lead(arrived_days=CASE["arrived_days"], waiting_days=WAITING)
    # published (data of Meeker and Escobar 1998, p. 199; covariance as printed by the reference example)
    printed = CASE["published_covariance"]
    assert fit.var_mu == pytest.approx(printed["var_mu"], abs=1e-4)
    assert fit.cov_mu_sigma == pytest.approx(printed["cov_mu_sigma"], abs=1e-4)
    assert fit.var_sigma == pytest.approx(printed["var_sigma"], abs=1e-4)
    # independent (two programs; the sigma of 0.543 printed by the example is a misprint)
    assert fit.sigma == pytest.approx(CASE["sigma_two_programs"], abs=1e-4)
    # independent (scipy Nelder-Mead on the likelihood written with scipy.stats.norm)
    best = optimize.minimize(
        lambda x: -loglik(x[0], math.exp(x[1]), CASE["arrived_days"], WAITING), [6.0, 0.0],
        method="Nelder-Mead", options={"xatol": 1e-9, "fatol": 1e-12, "maxiter": 5000},
    )
    assert fit.mu == pytest.approx(best.x[0], abs=1e-6)
    assert fit.sigma == pytest.approx(math.exp(best.x[1]), abs=1e-6)


def test_without_open_orders_the_fit_is_mean_and_deviation_of_the_logarithms() -> None:
    days = [385.0, 427.0, 490.0, 705.0]
    fit = fit_lead(arrived_days=days)
    # hand-worked: maximum likelihood of a normal is the mean and the deviation with n, variances sigma^2/n, sigma^2/2n
    logs = np.log(days)
    assert fit.mu == pytest.approx(logs.mean(), rel=1e-10)
    assert fit.sigma == pytest.approx(logs.std(), rel=1e-10)
    assert fit.var_mu == pytest.approx(logs.var() / 4, rel=1e-8)
    assert fit.var_sigma == pytest.approx(logs.var() / 8, rel=1e-8)
    assert fit.cov_mu_sigma == pytest.approx(0.0, abs=1e-10)


waits = st.floats(0.2, 2000.0)


@settings(max_examples=60)
@given(arrived=st.lists(waits, min_size=3, max_size=12), waiting=st.lists(waits, max_size=8))
def test_no_nearby_parameters_fit_better(arrived: list[float], waiting: list[float]) -> None:
    if np.log(arrived).std() < 0.02:
        return
    fit = fit_lead(arrived_days=arrived, waiting_days=waiting)
    top = loglik(fit.mu, fit.sigma, arrived, waiting)
    # independent (likelihood by scipy.stats.norm, looked at on a small ring around the fit)
    for angle in np.linspace(0, 2 * np.pi, 8, endpoint=False):
        d_mu, d_sigma = 0.02 * fit.sigma * np.cos(angle), 0.02 * fit.sigma * np.sin(angle)
        assert loglik(fit.mu + d_mu, fit.sigma + d_sigma, arrived, waiting) <= top + 1e-9


def test_an_open_order_pulls_the_fit_towards_longer_waits() -> None:
    without = fit_lead(arrived_days=[5.0, 9.0, 14.0])
    with_open = fit_lead(arrived_days=[5.0, 9.0, 14.0], waiting_days=[60.0])
    assert with_open.mu > without.mu
    assert with_open.sigma > without.sigma


@pytest.mark.parametrize(("arrived", "waiting"), [([], []), ([5.0], []), ([5.0, 5.0], []), ([5.0, 5.0], [4.0]),
                                                  ([], [5.0, 9.0])])
def test_too_little_history_is_refused(arrived: list[float], waiting: list[float]) -> None:
    with pytest.raises(WreckwrightError, match="at least two arrivals of different length.*Use the trade data's"):
        fit_lead(arrived_days=arrived, waiting_days=waiting)


@pytest.mark.parametrize("days", [[0.0, 4.0], [-2.0, 4.0], [math.nan, 4.0]])
def test_a_wait_of_no_days_is_refused(days: list[float]) -> None:
    with pytest.raises(WreckwrightError, match="holds a wait that is not above 0 days"):
        fit_lead(arrived_days=days)
