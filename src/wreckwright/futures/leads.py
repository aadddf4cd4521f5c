"""Waiting for a part: log-normal lead times of which a share never comes.

A lead time T (days from order to arrival) is never with chance `c`, else log-normal with parameters `mu` and `sigma`
(natural logarithm of days). With z(t) = (ln t - mu) / sigma and Phi the normal distribution function,

    S(t) = P(not here after t days) = c + (1 - c) Phi(-z(t)).

This is the mixture cure model of survival analysis (J. W. Boag, "Maximum likelihood estimates of the proportion of
patients cured by cancer therapy", J. R. Stat. Soc. B 11, 1949, from memory), with "never supplied" for "cured".
Having waited t days without the part, everything is conditioned on T > t: never becomes c / S(t), and the wait that is
still to come grows. Formulas are computed from logarithms of tail chances, so they hold far out in the tail.

All functions take arrays or single numbers for days and chances and return arrays that broadcast like their inputs.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from wreckwright.errors import WreckwrightError
from wreckwright.futures.band import Z90

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int32]
Numbers = float | FloatArray

NEVER = -1
"""Stands for "never" where whole days are asked for."""

LONGEST_DAYS = 36_500
"""Waits are cut here (100 years), so that days fit their type; no calendar reaches that far."""


@dataclass(frozen=True)
class LeadTime:
    """Log-normal days with parameters `mu` and `sigma` (of ln days), and the chance that the part never comes.

    Valid: `mu` finite, `sigma` above 0, 0 <= `never_chance` < 1. Raises: WreckwrightError outside that.
    """

    mu: float
    sigma: float
    never_chance: float

    def __post_init__(self) -> None:
        good = math.isfinite(self.mu) and 0.0 < self.sigma < math.inf and 0.0 <= self.never_chance < 1.0
        if not good:
            raise WreckwrightError(
                f"a lead time of mu {self.mu}, sigma {self.sigma}, never-chance {self.never_chance} makes no sense",
                "mu any finite number, sigma above 0, never-chance from 0 to below 1",
                "Give a median above 0 days, a 90 % point above the median, and a chance below 1",
            )

    @classmethod
    def from_days(cls, *, median_days: float, p90_days: float, never_chance: float) -> LeadTime:
        """From the median and the 90 % point of the parts that do come.

        Raises: WreckwrightError unless 0 < median < p90 and 0 <= never_chance < 1.

        >>> lead = LeadTime.from_days(median_days=30.0, p90_days=110.0, never_chance=0.12)
        >>> round(lead.mu, 4), round(lead.sigma, 4)
        (3.4012, 1.0138)
        """
        if not 0.0 < median_days < p90_days < math.inf:
            raise WreckwrightError(
                f"a lead time with median {median_days} and 90 % point {p90_days} days makes no sense",
                "0 < median < 90 % point",
                "Give the days within which half of the parts come, and those within which nine of ten come",
            )
        return cls(math.log(median_days), math.log(p90_days / median_days) / Z90, never_chance)


def survival(*, lead: LeadTime, days: Numbers) -> FloatArray:
    """Chance that the part is not here `days` after ordering, those that never come included. 1 for `days` <= 0.

    >>> lead = LeadTime.from_days(median_days=60.0, p90_days=240.0, never_chance=0.4)
    >>> round(float(survival(lead=lead, days=60.0)), 3)
    0.7
    """
    return np.exp(_log_survival(lead, np.asarray(days, dtype=np.float64), 1.0))


def further_survival(*, lead: LeadTime, waited_days: Numbers, days: Numbers) -> FloatArray:
    """Chance that the part is not here after a further `days`, given that `waited_days` have passed without it.

    S(waited + days) / S(waited). Valid: both 0 or more.

    >>> lead = LeadTime(math.log(12.0), 1.0, 0.0)
    >>> round(float(further_survival(lead=lead, waited_days=60.0, days=30.0)), 3)
    0.408
    """
    waited = _waited(waited_days)
    later = waited + np.asarray(days, dtype=np.float64)
    return np.exp(_log_survival(lead, later, 1.0) - _log_survival(lead, waited, 1.0))


def never_given_waiting(*, lead: LeadTime, waited_days: Numbers) -> FloatArray:
    """Chance that the part never comes, given that `waited_days` have passed without it: c / S(t).

    >>> lead = LeadTime.from_days(median_days=60.0, p90_days=240.0, never_chance=0.4)
    >>> round(float(never_given_waiting(lead=lead, waited_days=120.0)), 2)
    0.72
    """
    return _never_given_waiting(lead, _waited(waited_days), 1.0)


def further_wait_quantile(*, lead: LeadTime, waited_days: Numbers, chance: Numbers) -> FloatArray:
    """Further days within which the part comes with the given chance, after `waited_days` without it.

    Infinite where the chance asked for is more than the chance that it comes at all. Valid: waited 0 or more, `chance`
    from 0 to 1. Raises: ValueError outside that.

    >>> lead = LeadTime(math.log(12.0), 1.0, 0.0)
    >>> round(float(further_wait_quantile(lead=lead, waited_days=0.0, chance=0.5)), 6)
    12.0
    """
    p = np.asarray(chance, dtype=np.float64)
    if not ((p >= 0.0) & (p <= 1.0)).all():
        raise ValueError(f"chance = {chance}: every chance must lie between 0 and 1")
    waited = _waited(waited_days)
    with np.errstate(divide="ignore"):
        log_left = np.log1p(-p) + _log_survival(lead, waited, 1.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        if lead.never_chance == 0.0:
            log_tail = log_left
        else:
            log_tail = np.log((np.exp(log_left) - lead.never_chance) / (1.0 - lead.never_chance))
    total = np.full(np.shape(log_tail), np.inf)
    comes = np.isfinite(log_tail)
    total[comes] = _days_at_log_tail(lead, log_tail[comes], 1.0)
    return np.asarray(np.maximum(total - waited, 0.0))


def hazard(*, lead: LeadTime, days: Numbers) -> FloatArray:
    """Chance a day that the part comes, given that it has not come in `days` (above 0): (1 - c) f(t) / S(t).

    Rises and then falls, for a log-normal; with a share that never comes it falls towards 0 the faster. Plan B wins
    from the day on which the hazard falls through (cost of waiting a day) / (cost of plan B).

    >>> round(float(hazard(lead=LeadTime(math.log(20.0), 1.0, 0.0), days=102.8)), 4)
    0.02
    """
    t = np.asarray(days, dtype=np.float64)
    if not (t > 0.0).all():
        raise ValueError(f"days = {days}: the hazard is defined for days above 0")
    z = (np.log(t) - lead.mu) / lead.sigma
    log_density = -0.5 * z**2 - np.log(t) - math.log(lead.sigma * math.sqrt(2.0 * math.pi))
    return np.exp(math.log1p(-lead.never_chance) + log_density - _log_survival(lead, t, 1.0))


def mean_further_wait(*, lead: LeadTime, waited_days: Numbers) -> FloatArray:
    """Mean further days for a part that does come, after `waited_days` without it.

    exp(mu + sigma^2/2) Phi(sigma - z) / Phi(-z) - t with z = (ln t - mu) / sigma: the mean residual life of the
    log-normal. A part that may never come has no mean wait, and even without that a mean says little about so long
    a tail: show quantiles, use this for checks.

    >>> lead = LeadTime(math.log(12.0), 1.0, 0.0)
    >>> round(float(mean_further_wait(lead=lead, waited_days=30.0)), 2)
    28.7
    """
    from scipy.special import log_ndtr

    t = _waited(waited_days)
    z = _z(lead, t, 1.0)
    return np.asarray(np.exp(lead.mu + lead.sigma**2 / 2.0 + log_ndtr(lead.sigma - z) - log_ndtr(-z)) - t)


def sample_days(
    *, u_time: FloatArray, u_never: FloatArray, lead: LeadTime, waited_days: float = 0.0, delay_factor: Numbers = 1.0
) -> IntArray:
    """Whole days from today until the part is here, one for each future; -1 never.

    A part ordered `waited_days` ago and not yet here is drawn from what is left of the distribution, by the same
    uniforms: it never comes if `u_never` < c / S(t), else T = S^-1(u_time S(t)) with S the survival of parts that do
    come, and T - t days are left. So what never comes when ordered today never comes later on, and a day of waiting
    changes a future's arrival smoothly. Days are rounded up: P(days <= k) is the chance of coming within k days.

    `delay_factor` multiplies all times of its future (a slow supplier); the chance of never is not changed by it. What
    the waiting so far says about the delay factor itself is not taken into account.

    Parameters: uniforms strictly between 0 and 1, shape [n]; `waited_days` 0 or more; `delay_factor` above 0, one
    number or [n]. Returns: int32 [n]. Raises: ValueError if waited is negative.

    >>> lead = LeadTime(math.log(12.0), 1.0, 0.1)
    >>> sample_days(u_time=np.array([0.5, 0.5]), u_never=np.array([0.05, 0.5]), lead=lead).tolist()
    [-1, 12]
    """
    waited = _waited(waited_days)
    factor = np.asarray(delay_factor, dtype=np.float64)
    never = u_never < _never_given_waiting(lead, waited, factor)
    return np.where(never, NEVER, _further_days(u_time, lead, waited, factor)).astype(np.int32)


@dataclass(frozen=True)
class SupplyMix:
    """A part of which it is not known how it is supplied: `shares[i]` of such parts come by `leads[i]`.

    Order the leads from quick to slow. Valid: as many shares as leads, none below 0, sum 1 to within 1e-6. Raises:
    WreckwrightError outside that.
    """

    shares: tuple[float, ...]
    leads: tuple[LeadTime, ...]

    def __post_init__(self) -> None:
        shares = self.shares
        if not (len(shares) == len(self.leads) > 0 and min(shares) >= 0.0 and abs(sum(shares) - 1.0) <= 1e-6):
            raise WreckwrightError(
                f"supply shares {shares} for {len(self.leads)} kinds of supply make no sense",
                "one share for each kind, none below 0, together 1",
                "Mend the shares of supply in the trade data or model pack",
            )


def mix_survival(*, mix: SupplyMix, days: Numbers) -> FloatArray:
    """Chance that a part of unknown supply is not here `days` after ordering.

    >>> quick, slow = LeadTime(0.0, 1.0, 0.0), LeadTime(3.0, 1.0, 0.5)
    >>> round(float(mix_survival(mix=SupplyMix((0.8, 0.2), (quick, slow)), days=1e9)), 3)
    0.1
    """
    terms = [share * survival(lead=lead, days=days) for share, lead in zip(mix.shares, mix.leads, strict=True)]
    return np.asarray(sum(terms[1:], terms[0]))


def mix_weights(*, mix: SupplyMix, waited_days: float, delay_factor: Numbers = 1.0) -> FloatArray:
    """Chance of each kind of supply, given that `waited_days` have passed: share x S(waited), made to sum to 1.

    A part still missing after weeks is hardly one from a shelf. Returns: [..., kinds] with the shape of
    `delay_factor` in front.

    >>> mix = SupplyMix((0.8, 0.2), (LeadTime(0.0, 1.0, 0.0), LeadTime(3.0, 1.0, 0.5)))
    >>> mix_weights(mix=mix, waited_days=20.0).round(3).tolist()
    [0.007, 0.993]
    """
    waited = _waited(waited_days)
    factor = np.asarray(delay_factor, dtype=np.float64)
    columns = [np.broadcast_to(_log_survival(lead, waited, factor), factor.shape) for lead in mix.leads]
    with np.errstate(divide="ignore"):
        logs = np.stack(columns, axis=-1) + np.log(np.asarray(mix.shares, dtype=np.float64))
    weights = np.exp(logs - logs.max(axis=-1, keepdims=True))
    return np.asarray(weights / weights.sum(axis=-1, keepdims=True))


def sample_mix_days(
    *,
    u_class: FloatArray,
    u_time: FloatArray,
    u_never: FloatArray,
    mix: SupplyMix,
    waited_days: float = 0.0,
    delay_factor: Numbers = 1.0,
) -> IntArray:
    """As `sample_days` for a part of unknown supply: `u_class` picks the kind.

    The kinds are weighed anew by the days waited so far (`mix_weights`); a larger `u_class` picks a later kind in the
    order of the mix.

    >>> mix = SupplyMix((0.5, 0.5), (LeadTime(0.0, 1.0, 0.0), LeadTime(3.0, 1.0, 0.5)))
    >>> half = np.array([0.5, 0.5])
    >>> sample_mix_days(u_class=np.array([0.2, 0.9]), u_time=half, u_never=half, mix=mix).tolist()
    [1, 21]
    """
    # At the moment of ordering the delay factor says nothing about the kind of supply.
    weights = mix_weights(mix=mix, waited_days=waited_days, delay_factor=delay_factor if waited_days > 0.0 else 1.0)
    upper = np.cumsum(weights, axis=-1)[..., :-1]
    kind = (u_class[:, None] > upper).sum(axis=1)
    factor = np.broadcast_to(np.asarray(delay_factor, dtype=np.float64), u_class.shape)
    days = np.empty(u_class.shape, dtype=np.int32)
    for index, lead in enumerate(mix.leads):
        here = kind == index
        days[here] = sample_days(
            u_time=u_time[here], u_never=u_never[here], lead=lead, waited_days=waited_days, delay_factor=factor[here]
        )
    return days


def _waited(waited_days: Numbers) -> FloatArray:
    waited = np.asarray(waited_days, dtype=np.float64)
    if not (waited >= 0.0).all():
        raise ValueError(f"waited_days = {waited_days}: days waited so far must be 0 or more")
    return waited


def _z(lead: LeadTime, days: FloatArray, factor: Numbers) -> FloatArray:
    with np.errstate(divide="ignore"):
        return np.asarray((np.log(np.maximum(days, 0.0)) - lead.mu - np.log(factor)) / lead.sigma)


def _log_survival(lead: LeadTime, days: FloatArray, factor: Numbers) -> FloatArray:
    from scipy.special import log_ndtr

    log_tail = math.log1p(-lead.never_chance) + log_ndtr(-_z(lead, days, factor))
    return np.asarray(np.logaddexp(_log_never(lead), log_tail))


def _log_never(lead: LeadTime) -> float:
    return math.log(lead.never_chance) if lead.never_chance > 0.0 else -math.inf


def _never_given_waiting(lead: LeadTime, waited: FloatArray, factor: Numbers) -> FloatArray:
    return np.asarray(np.exp(_log_never(lead) - _log_survival(lead, waited, factor)))


def _days_at_log_tail(lead: LeadTime, log_tail: FloatArray, factor: Numbers) -> FloatArray:
    """Days at which the survival of parts that do come is exp(log_tail)."""
    from scipy.special import ndtri_exp

    return np.asarray(factor * np.exp(lead.mu - lead.sigma * ndtri_exp(log_tail)))


def _further_days(u_time: FloatArray, lead: LeadTime, waited: FloatArray, factor: FloatArray) -> FloatArray:
    from scipy.special import log_ndtr

    log_tail = np.log(u_time) + log_ndtr(-_z(lead, waited, factor))
    further = _days_at_log_tail(lead, log_tail, factor) - waited
    # A part that has not come yet needs at least the day on which it comes, also where rounding eats the difference.
    return np.clip(np.ceil(further), 1, LONGEST_DAYS)
