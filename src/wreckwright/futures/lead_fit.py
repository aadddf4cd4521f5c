"""A log-normal lead time fitted to the owner's own orders, those still open included."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wreckwright.errors import WreckwrightError
from wreckwright.futures.band import FloatArray


@dataclass(frozen=True, kw_only=True)
class LeadFit:
    """Maximum-likelihood log-normal through an order history, with the variances of its two parameters."""

    mu: float
    sigma: float
    var_mu: float
    cov_mu_sigma: float
    var_sigma: float


def fit_lead(*, arrived_days: Sequence[float], waiting_days: Sequence[float] = ()) -> LeadFit:
    """Log-normal fitted to waits that ended (`arrived_days`) and to orders still open after `waiting_days`.

    An open order counts with the chance of having waited so long (right-censored). The log-likelihood is concave in
    1/sigma and mu/sigma (R. J. Olsen, "Note on the uniqueness of the maximum likelihood estimator for the Tobit model",
    Econometrica 46, 1978), so Newton's steps, halved where they overshoot, find its one top. Variances come from the
    observed information. No share of never is fitted: a handful of orders cannot tell it from a long wait.

    Valid: all days above 0; at least two arrivals that differ, or two arrivals of one length and a longer open order.
    Raises: WreckwrightError outside that.

    >>> fit = fit_lead(arrived_days=[385.0, 427.0, 490.0, 705.0])
    >>> round(math.exp(fit.mu), 1)
    488.2
    """
    arrived = np.log(_positive_days(arrived_days, "arrived"))
    waiting = np.log(_positive_days(waiting_days, "still waiting"))
    spread = arrived.size >= 2 and (arrived.max() > arrived.min() or bool((waiting > arrived.max()).any()))
    if not spread:
        raise WreckwrightError(
            f"{arrived.size} arrivals do not show how much waits of this kind spread",
            "at least two arrivals of different length",
            "Use the trade data's lead time until more orders have come",
        )
    return _newton_fit(arrived, waiting)


def _newton_fit(arrived: FloatArray, waiting: FloatArray) -> LeadFit:
    from scipy.special import log_ndtr

    def loglik(g: float, h: float) -> float:
        if h <= 0.0:
            return -math.inf
        came = arrived.size * math.log(h) - 0.5 * ((h * arrived - g) ** 2).sum()
        return float(came + log_ndtr(g - h * waiting).sum())

    def slopes(g: float, h: float) -> tuple[FloatArray, FloatArray]:
        """Gradient and Hessian of the log-likelihood in g = mu/sigma and h = 1/sigma."""
        r = h * arrived - g
        w = h * waiting - g
        # Inverse Mills ratio phi(w) / Phi(-w), by logarithms.
        mills = np.exp(-0.5 * w**2 - 0.5 * math.log(2.0 * math.pi) - log_ndtr(-w))
        bend = mills * (mills - w)
        gradient = np.array([r.sum() + mills.sum(), arrived.size / h - (r * arrived).sum() - (mills * waiting).sum()])
        cross = arrived.sum() + (bend * waiting).sum()
        hessian = np.array(
            [
                [-arrived.size - bend.sum(), cross],
                [cross, -arrived.size / h**2 - (arrived**2).sum() - (bend * waiting**2).sum()],
            ]
        )
        return gradient, hessian

    everything = np.concatenate([arrived, waiting])
    h = 1.0 / max(float(everything.std()), 0.1)
    g = h * float(everything.mean())
    for _ in range(200):
        gradient, hessian = slopes(g, h)
        step = np.linalg.solve(hessian, -gradient)
        before, scale = loglik(g, h), 1.0
        while loglik(g + scale * step[0], h + scale * step[1]) < before - 1e-12 * abs(before) and scale > 1e-9:
            scale /= 2.0
        g, h = g + scale * step[0], h + scale * step[1]
        if scale * float(np.abs(step).max()) < 1e-12 * max(abs(g), h):
            break
    _, hessian = slopes(g, h)
    # mu = g/h, sigma = 1/h: at the top the information carries over by the Jacobian alone.
    jacobian = np.array([[1.0 / h, -g / h**2], [0.0, -1.0 / h**2]])
    covariance = jacobian @ np.linalg.inv(-hessian) @ jacobian.T
    return LeadFit(
        mu=float(g / h),
        sigma=float(1.0 / h),
        var_mu=float(covariance[0, 0]),
        cov_mu_sigma=float(covariance[0, 1]),
        var_sigma=float(covariance[1, 1]),
    )


def _positive_days(days: Sequence[float], what: str) -> FloatArray:
    out = np.asarray(days, dtype=np.float64)
    if not ((out > 0.0) & np.isfinite(out)).all():
        raise WreckwrightError(
            f"{what}: {list(days)} holds a wait that is not above 0 days",
            "waits above 0 days",
            "Mend the order history",
        )
    return out
