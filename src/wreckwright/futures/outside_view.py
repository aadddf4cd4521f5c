"""The outside view: what the owner's finished machines say about the bill and the time of the next one.

A forecast added up from parts and jobs forgets what nobody lists: the second order, the clips, the evening lost to a
rounded screw. Machines that are finished show it. Each is set against what a middling owner's machine of the same kind
of ratio comes to, and a middling owner's bill is `f0` times our forecast:

    y_i = ln f0 + ln(r_i / middling r)

with r = (what it was) / (what its owner expected) where that was noted, else the bill as a share of the price, or the
months. Around the owner's own habit m

    y_i ~ N(m, s_i^2)   for each finished machine,
    m   ~ N(ln f0, tau^2)   before anything is known of the owner,

so that after n machines m ~ N(m_n, v_n) with 1/v_n = 1/tau^2 + sum 1/s_i^2 and
m_n = v_n (ln f0 / tau^2 + sum y_i / s_i^2), and the next machine's factor is log-normal with mean m_n and variance
v_n + s^2 (A. Gelman et al., Bayesian Data Analysis, section 2.5, normal data with known variance, from memory).

Where no expectation was noted the damage itself varies too, and s_i is larger: such a machine counts for less.

One wild machine must not turn everything over: beyond `HOLD_DOWN` times s_i from the fitted middle a machine pulls no
harder than at that distance (errors normal in the middle, with exponential tails; P. J. Huber, "Robust estimation of
a location parameter", Ann. Math. Statist. 35, 1964). If all machines agree, the middle goes to them and none is held
down. The figures of the priors are judgement, with reasons in docs/decisions/outside-view.md.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from wreckwright.futures.band import FloatArray, LogNormal
from wreckwright.futures.draws import normals
from wreckwright.record.types import Finished

HOLD_DOWN = 1.5
LEAST_RATIO = 0.05
"""Less than a twentieth of the middling owner's (nothing was spent, say) is read as a twentieth."""


@dataclass(frozen=True, kw_only=True)
class OverrunPrior:
    """What is believed of an owner's overrun before any machine of theirs is known. All spreads are of logarithms."""

    middle: float
    """f0: a middling owner's bill or time as a multiple of our forecast."""
    owner_sd: float
    """tau: how much owners differ."""
    machine_sd: float
    """s: how much machines of one owner differ around the owner's habit."""
    damage_sd: float
    """How much more they differ where the owner noted no expectation."""


MONEY_PRIOR = OverrunPrior(middle=1.25, owner_sd=0.40, machine_sd=0.30, damage_sd=0.70)
TIME_PRIOR = OverrunPrior(middle=1.20, owner_sd=0.40, machine_sd=0.35, damage_sd=0.60)


@dataclass(frozen=True, kw_only=True)
class OutsideView:
    """Overrun factors for the next machine: bill and time of a forecast are multiplied by them."""

    money: LogNormal
    time: LogNormal
    n: int
    """Number of finished machines it rests on; 0: our guess alone."""


@dataclass(frozen=True, kw_only=True)
class OverrunDraws:
    """One draw a future, shape [n] each."""

    money: FloatArray
    time: FloatArray


def fit_overrun(
    finished: Sequence[Finished],
    *,
    prior_money: OverrunPrior = MONEY_PRIOR,
    prior_time: OverrunPrior = TIME_PRIOR,
    reference_spend_share: float,
    reference_months: float,
    reference_overrun_money: float | None = None,
    reference_overrun_time: float | None = None,
) -> OutsideView:
    """Fit both factors to the owner's finished machines; without any, the prior comes back.

    Parameters, all above 0, say what a middling owner's machine comes to: `reference_spend_share` the bill as a share
    of the price it sells for; `reference_months` from purchase to sale; `reference_overrun_money` and
    `reference_overrun_time` the final bill and time as a multiple of what the owner expected. An owner's list leaves
    out more than our forecast does (small parts, hidden damage), so the latter are above f0; None: the owner expects
    what we forecast, and they are f0. An expected spend of 0 counts as not noted. Raises: ValueError outside that.

    >>> view = fit_overrun([], reference_spend_share=0.25, reference_months=5.0)
    >>> round(view.money.median, 2), round(view.money.sd, 2), view.n
    (1.25, 0.5, 0)
    """
    middling_money = prior_money.middle if reference_overrun_money is None else reference_overrun_money
    middling_time = prior_time.middle if reference_overrun_time is None else reference_overrun_time
    references = (reference_spend_share, reference_months, middling_money, middling_time)
    if not all(0.0 < reference < math.inf for reference in references):
        raise ValueError(f"references {references}: a share, months and two overruns above 0 are needed")
    money: list[tuple[float, float]] = []
    time: list[tuple[float, float]] = []
    for machine in finished:
        if machine.expected_spend_minor:
            ratio = machine.spent_minor / machine.expected_spend_minor / middling_money
            money.append(_point(ratio, prior_money, noted=True))
        else:
            ratio = machine.spent_minor / machine.sold_minor / reference_spend_share
            money.append(_point(ratio, prior_money, noted=False))
        if machine.expected_months:
            time.append(_point(machine.months / machine.expected_months / middling_time, prior_time, noted=True))
        else:
            time.append(_point(machine.months / reference_months, prior_time, noted=False))
    return OutsideView(money=_next_machine(money, prior_money), time=_next_machine(time, prior_time), n=len(finished))


def overrun_draws(view: OutsideView, *, seed: int, n: int) -> OverrunDraws:
    """One overrun factor for money and one for time in each of `n` futures, independent of each other.

    >>> view = OutsideView(money=LogNormal(0.2, 0.5), time=LogNormal(0.2, 0.5), n=0)
    >>> draws = overrun_draws(view, seed=1, n=3)
    >>> draws.money.shape, bool((draws.money > 0.0).all())
    ((3,), True)
    """
    return OverrunDraws(
        money=view.money.at(normals(seed=seed, purpose="common", key="overrun money", n=n)),
        time=view.time.at(normals(seed=seed, purpose="common", key="overrun time", n=n)),
    )


def _point(ratio_to_middling: float, prior: OverrunPrior, *, noted: bool) -> tuple[float, float]:
    """What the machine says of the owner's habit, and the standard deviation with which it says so."""
    sd = prior.machine_sd if noted else math.hypot(prior.machine_sd, prior.damage_sd)
    return math.log(prior.middle * max(ratio_to_middling, LEAST_RATIO)), sd


def _next_machine(points: Sequence[tuple[float, float]], prior: OverrunPrior) -> LogNormal:
    middle = math.log(prior.middle)
    variance = prior.owner_sd**2
    # Each round weighs the machines by their distance from the last middle. The sum that is minimised is convex, so
    # the rounds close in on its one lowest point; some tens are enough, and the count is a backstop.
    for _ in range(500):
        precision = 1.0 / prior.owner_sd**2
        pull = math.log(prior.middle) / prior.owner_sd**2
        for y, sd in points:
            weight = min(1.0, HOLD_DOWN * sd / abs(y - middle)) if y != middle else 1.0
            precision += weight / sd**2
            pull += weight * y / sd**2
        moved = abs(pull / precision - middle)
        middle, variance = pull / precision, 1.0 / precision
        if moved < 1e-12:
            break
    return LogNormal(middle, math.sqrt(variance + prior.machine_sd**2))
