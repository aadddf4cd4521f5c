"""Figures read off many futures, each with its Monte Carlo standard error."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import numpy.typing as npt

from wreckwright.answers.types import ChanceOf, MoneyBin, MoneySpread
from wreckwright.answers.words import in_ten

FloatArray = npt.NDArray[np.float64]
AnyArray = npt.NDArray[np.float64] | npt.NDArray[np.int64] | npt.NDArray[np.int32]

BINS = 20
FOLDS = 10
"""Parts left out in turn for the error of a variance share."""


def mean_se(values: AnyArray) -> tuple[float, float]:
    """Mean and its standard error (0 for a single value).

    >>> mean_se(np.array([1.0, 2.0, 3.0]))
    (2.0, 0.5773502691896258)
    """
    n = values.shape[0]
    return float(values.mean()), float(values.std(ddof=1) / math.sqrt(n)) if n > 1 else 0.0


def quantile_se(values: AnyArray, p: float) -> tuple[float, float]:
    """The value that is not exceeded in the share `p` of `values` (one of them), and its standard error.

    Error: half the distance between the values at `p` -/+ sqrt(p (1 - p) / n), the usual order-statistics interval
    (from memory; distribution-free).

    >>> quantile_se(np.arange(1.0, 101.0), 0.8)
    (80.0, 4.0)
    """
    ordered = np.sort(values)
    n = ordered.shape[0]
    width = math.sqrt(p * (1.0 - p) / n)
    low, mid, high = (float(ordered[_rank(q, n)]) for q in (p - width, p, p + width))
    return mid, (high - low) / 2.0


def chance_of(happens: npt.NDArray[np.bool_]) -> ChanceOf:
    """Share of futures in which it happens; the error is that of a share, with one half added either way, so that a
    chance of 0 or 1 out of few futures does not look certain.

    >>> chance_of(np.array([True, False, False, False])).words
    'about 2 in 10'
    """
    n = happens.shape[0]
    count = int(happens.sum())
    p = count / n
    smooth = (count + 0.5) / (n + 1.0)
    return ChanceOf(chance=p, chance_se=math.sqrt(smooth * (1.0 - smooth) / n), words=in_ten(p))


def money_spread(values: AnyArray) -> MoneySpread:
    """P20, P50, P80 and mean of a sum [minor units]."""
    (p20, se20), (p50, se50), (p80, se80) = (quantile_se(values, p) for p in (0.2, 0.5, 0.8))
    mean, se = mean_se(values)
    return MoneySpread(
        p20_minor=round(p20), p50_minor=round(p50), p80_minor=round(p80), mean_minor=round(mean),
        p20_se_minor=math.ceil(se20), p50_se_minor=math.ceil(se50), p80_se_minor=math.ceil(se80),
        mean_se_minor=math.ceil(se),
    )


def ratio_se(top: AnyArray, bottom: AnyArray) -> tuple[float, float]:
    """Mean of `top` over mean of `bottom` (not 0), and its standard error (linearised).

    >>> ratio_se(np.array([30.0, 60.0]), np.array([1.0, 2.0]))
    (30.0, 0.0)
    """
    ratio = float(top.mean() / bottom.mean())
    left: FloatArray = top.astype(np.float64) - ratio * bottom
    _, se = mean_se(left)
    return ratio, se / abs(float(bottom.mean()))


def variance_share(driver: AnyArray, result: AnyArray) -> tuple[float, float]:
    """Share of the variance of `result` that goes with `driver` alone (first order), 0..1, and its standard error.

    Variance of the means over 20 equally full bins of the driver (its distinct values, if fewer), less what would be
    expected if it had no effect: 1 - (1 - eta^2)(n - 1)/(n - bins), the adjusted correlation ratio (Kelley 1935's
    epsilon squared, from memory). Error: jackknife over ten parts. 0 where either does not vary.

    >>> turns = np.arange(100) % 2
    >>> round(variance_share(turns, 500.0 * turns)[0], 6)
    1.0
    """
    bins = _bins(driver)
    y = result.astype(np.float64)
    part = np.arange(y.shape[0]) % FOLDS
    n_bins = int(bins.max()) + 1
    key = part * n_bins + bins
    size = FOLDS * n_bins
    centred = y - y.mean()
    counts = np.bincount(key, minlength=size).reshape(FOLDS, n_bins).astype(np.float64)
    sums = np.bincount(key, weights=centred, minlength=size).reshape(FOLDS, n_bins)
    squares = np.bincount(part, weights=centred * centred, minlength=FOLDS)
    whole = _adjusted(counts.sum(axis=0), sums.sum(axis=0), float(squares.sum()))
    less = np.array([
        _adjusted(counts.sum(axis=0) - counts[f], sums.sum(axis=0) - sums[f], float(squares.sum() - squares[f]))
        for f in range(FOLDS)
    ])
    se = math.sqrt((FOLDS - 1) / FOLDS * float(((less - less.mean()) ** 2).sum()))
    return min(1.0, max(0.0, whole)), se


def money_bins(values: AnyArray, *, count: int = 24) -> tuple[MoneyBin, ...]:
    """Equal bins from the 1 % to the 99 % point; what lies outside is in the first and the last."""
    low, high = (round(quantile_se(values, p)[0]) for p in (0.01, 0.99))
    edges = np.linspace(low, max(high, low + count), count + 1)
    which = np.clip(np.searchsorted(edges, values, side="right") - 1, 0, count - 1)
    shares = np.bincount(which, minlength=count) / values.shape[0]
    return tuple(
        MoneyBin(from_minor=round(edges[i]), to_minor=round(edges[i + 1]), share=float(shares[i])) for i in range(count)
    )


def highest_price(holds: Callable[[int], bool], *, ceiling: int) -> int | None:
    """Largest whole price in 0..`ceiling` for which `holds`, which once false stays false; None if not even at 0.

    >>> highest_price(lambda price: price * price <= 50, ceiling=1000)
    7
    """
    if not holds(0):
        return None
    low, high = 0, ceiling + 1
    while high - low > 1:
        middle = (low + high) // 2
        if holds(middle):
            low = middle
        else:
            high = middle
    return low


def _rank(p: float, n: int) -> int:
    """Index of the smallest value with at least a share `p` at or below it (the step back guards against rounding)."""
    return min(n - 1, max(0, math.ceil(p * n - 1e-9) - 1))


def _bins(driver: AnyArray) -> npt.NDArray[np.int64]:
    distinct, which = np.unique(driver, return_inverse=True)
    if distinct.shape[0] <= BINS:
        return which.astype(np.int64)
    order = np.argsort(driver, kind="stable")
    bins = np.empty(driver.shape[0], dtype=np.int64)
    bins[order] = np.arange(driver.shape[0]) * BINS // driver.shape[0]
    return bins


def _adjusted(counts: FloatArray, sums: FloatArray, squares: float) -> float:
    n = float(counts.sum())
    full = counts > 0
    bins = float(full.sum())
    total = squares - float(sums.sum()) ** 2 / n
    if total <= 1e-12 * max(1.0, squares) or n <= bins or bins < 2:
        return 0.0
    between = float((sums[full] ** 2 / counts[full]).sum()) - float(sums.sum()) ** 2 / n
    return 1.0 - (1.0 - between / total) * (n - 1.0) / (n - bins)
