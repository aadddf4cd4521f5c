"""Lead times of which a share never comes: closed forms against integration, textbook values and frequencies."""

from __future__ import annotations

import json
import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from scipy import integrate, optimize, stats

from wreckwright.errors import WreckwrightError
from wreckwright.futures.draws import uniforms
from wreckwright.futures.leads import (
    LONGEST_DAYS,
    NEVER,
    LeadTime,
    SupplyMix,
    further_survival,
    further_wait_quantile,
    hazard,
    mean_further_wait,
    mix_survival,
    mix_weights,
    never_given_waiting,
    sample_days,
    sample_mix_days,
    survival,
)

PUBLISHED = json.loads((Path(__file__).parents[1] / "data" / "lead_times.json").read_text(encoding="utf-8"))

DISCONTINUED = LeadTime.from_days(median_days=60.0, p90_days=240.0, never_chance=0.40)
BACK_ORDER = LeadTime.from_days(median_days=30.0, p90_days=110.0, never_chance=0.12)
SHELF = LeadTime.from_days(median_days=1.0, p90_days=4.0, never_chance=0.0)
IMPORTER = LeadTime.from_days(median_days=6.0, p90_days=18.0, never_chance=0.03)

leads = st.builds(LeadTime, st.floats(-1.0, 6.0), st.floats(0.2, 2.0), st.floats(0.0, 0.9))


def u(key: str, n: int = 40_000) -> np.ndarray:
    return uniforms(seed=1, purpose="test leads", key=key, n=n)


def test_median_and_ninety_percent_point_give_the_parameters() -> None:
    # hand-worked: ln 30 = 3.4012, ln(110/30)/1.28155 = 1.2993/1.28155 = 1.0138
    assert pytest.approx(3.4012, abs=5e-5) == BACK_ORDER.mu
    assert pytest.approx(1.0138, abs=5e-5) == BACK_ORDER.sigma
    comes = (1 - survival(lead=BACK_ORDER, days=np.array([30.0, 110.0]))) / 0.88
    assert comes == pytest.approx([0.5, 0.9], rel=1e-12)


@given(lead=leads, days=st.floats(0.01, 5000.0))
def test_survival_is_the_mixture(lead: LeadTime, days: float) -> None:
    # independent (scipy.stats.lognorm)
    tail = stats.lognorm(s=lead.sigma, scale=math.exp(lead.mu)).sf(days)
    assert float(survival(lead=lead, days=days)) == pytest.approx(
        lead.never_chance + (1 - lead.never_chance) * tail, rel=1e-9, abs=1e-300
    )


def test_nothing_has_come_before_it_is_ordered() -> None:
    assert survival(lead=BACK_ORDER, days=np.array([-3.0, 0.0])).tolist() == [1.0, 1.0]


def test_survival_of_a_published_sample() -> None:
    case = PUBLISHED["complete_lognormal"]
    logs = np.log(case["days"])
    # independent (inputs published; survival worked out from them)
    lead = LeadTime(float(logs.mean()), float(logs.std(ddof=1)), 0.0)
    assert float(survival(lead=lead, days=case["at_days"])) == pytest.approx(case["survival"], abs=1e-4)


def test_a_discontinued_part_still_missing_after_four_months_probably_never_comes() -> None:
    # hand-worked: z = ln(120/60)/1.0817 = 0.6408, Phi(-z) = 0.2608, S = 0.4 + 0.6 x 0.2608 = 0.5565,
    # 0.4/0.5565 = 0.719
    assert float(never_given_waiting(lead=DISCONTINUED, waited_days=120.0)) == pytest.approx(0.719, abs=0.001)


def test_a_back_order_still_open_after_ten_weeks_is_never_in_four_of_ten() -> None:
    # hand-worked: z = (4.2485 - 3.4012)/1.0138 = 0.8358, Phi(-z) = 0.2016, S = 0.12 + 0.88 x 0.2016 = 0.2974,
    # 0.12/0.2974 = 0.4035
    assert float(never_given_waiting(lead=BACK_ORDER, waited_days=70.0)) == pytest.approx(0.4035, abs=0.0005)


@given(lead=leads, waited=st.floats(0.0, 1000.0), more=st.floats(0.1, 1000.0))
@example(lead=LeadTime(0.0, 0.2, 0.0), waited=829.0, more=1000.0)
def test_waiting_makes_never_likelier(lead: LeadTime, waited: float, more: float) -> None:
    first, second = never_given_waiting(lead=lead, waited_days=np.array([waited, waited + more]))
    assert lead.never_chance * (1 - 1e-12) <= first <= second * (1 + 1e-12) <= 1.0 + 2e-12


@given(lead=leads, waited=st.floats(0.0, 1000.0), days=st.floats(0.0, 1000.0))
def test_further_survival_is_a_ratio_of_survivals(lead: LeadTime, waited: float, days: float) -> None:
    later, now = survival(lead=lead, days=np.array([waited + days, waited]))
    if now > 1e-200:
        assert float(further_survival(lead=lead, waited_days=waited, days=days)) == pytest.approx(later / now, rel=1e-8)


@given(lead=leads, waited=st.floats(0.0, 500.0), chance=st.floats(0.001, 0.999))
def test_quantile_of_the_further_wait_undoes_the_survival(lead: LeadTime, waited: float, chance: float) -> None:
    wait = float(further_wait_quantile(lead=lead, waited_days=waited, chance=chance))
    never = float(never_given_waiting(lead=lead, waited_days=waited))
    if 1 - chance <= never:
        assert wait == math.inf
    elif 1 - chance > never + 1e-6:
        assert float(further_survival(lead=lead, waited_days=waited, days=wait)) == pytest.approx(
            1 - chance, rel=1e-6, abs=1e-9
        )


def test_quantiles_of_the_further_wait_by_hand_and_by_scipy() -> None:
    lead = LeadTime(math.log(20.0), 1.0, 0.0)
    frozen = stats.lognorm(s=1.0, scale=20.0)
    for waited in (0.0, 20.0, 120.0):
        chances = np.array([0.5, 0.8, 0.9])
        # independent (scipy.stats.lognorm)
        expected = frozen.isf((1 - chances) * frozen.sf(waited)) - waited
        assert further_wait_quantile(lead=lead, waited_days=waited, chance=chances) == pytest.approx(expected, rel=1e-9)


def test_the_wait_is_endless_where_more_is_asked_than_ever_comes() -> None:
    waits = further_wait_quantile(lead=DISCONTINUED, waited_days=0.0, chance=np.array([0.0, 0.3, 0.6, 0.61, 1.0]))
    # hand-worked: 30 % of all is half of the 60 % that come, so their median, 60 days; 60 % and more are never reached
    assert waits[1] == pytest.approx(60.0, rel=1e-9)
    assert waits[0] == 0.0
    assert np.isinf(waits[3:]).all()
    assert float(further_wait_quantile(lead=SHELF, waited_days=3.0, chance=1.0)) == math.inf


def test_far_out_in_the_tail_figures_stay_finite_and_right() -> None:
    lead = LeadTime(0.0, 0.2, 0.0)
    # hand-worked: z = ln(3000)/0.2 = 40; the tail chance is under 1e-300, yet the wait for the next half is that of a
    # hazard of about z/(sigma t) = 40.03/(0.2 x 3000) = 0.0667 a day: ln 2/0.0667 = 10.4 days
    wait = float(further_wait_quantile(lead=lead, waited_days=3000.0, chance=0.5))
    assert wait == pytest.approx(math.log(2) * 600 / 40.03, rel=0.01)
    assert float(further_survival(lead=lead, waited_days=3000.0, days=wait)) == pytest.approx(0.5, rel=1e-6)


@pytest.mark.parametrize("lead", [BACK_ORDER, DISCONTINUED, SHELF])
def test_hazard_is_the_falling_rate_of_survival(lead: LeadTime) -> None:
    days = np.array([0.5, 3.0, 20.0, 90.0, 400.0])
    step = 1e-4 * days
    # independent (numerical derivative of the logarithm of survival)
    slope = np.log(survival(lead=lead, days=days - step)) - np.log(survival(lead=lead, days=days + step))
    assert hazard(lead=lead, days=days) == pytest.approx(slope / (2 * step), rel=1e-5)


def test_plan_b_wins_where_the_hazard_falls_through_the_cost_ratio() -> None:
    case = PUBLISHED["switch_to_plan_b"]
    lead = LeadTime(math.log(case["median_days"]), case["sigma"], 0.0)
    level = case["wait_cost_a_day"] / case["plan_b_cost"]
    day = optimize.brentq(lambda s: float(hazard(lead=lead, days=s)) - level, 30.0, 1000.0)
    # independent (first-order condition, found on a grid of 2000 days by another program)
    assert day == pytest.approx(case["switch_day"], abs=0.1)
    # independent (cost itself by quadrature: no nearby day is cheaper)
    frozen = stats.lognorm(s=1.0, scale=20.0)

    def cost(s: float) -> float:
        waiting = integrate.quad(frozen.sf, 0.0, s, limit=200)[0]
        return case["wait_cost_a_day"] * waiting + float(frozen.sf(s)) * case["plan_b_cost"]

    assert cost(day) < min(cost(day - 8.0), cost(day + 8.0))


def test_the_longer_the_wait_the_longer_still_to_wait() -> None:
    case = PUBLISHED["mean_residual_life"]
    lead = LeadTime(math.log(case["median_days"]), case["sigma"], 0.0)
    waited = np.array(case["waited_days"], dtype=np.float64)
    got = mean_further_wait(lead=lead, waited_days=waited)
    # independent (2 million draws by another program agree with these to within 1 %)
    assert got == pytest.approx(case["mean_further_days"], abs=0.011)
    frozen = stats.lognorm(s=case["sigma"], scale=case["median_days"])
    for t, mean in zip(waited, got, strict=True):
        # independent (scipy quadrature of the survival curve)
        area = integrate.quad(frozen.sf, t, np.inf, limit=500)[0]
        assert mean == pytest.approx(area / frozen.sf(t), rel=1e-5)


def test_mean_further_wait_of_a_fresh_order_is_the_mean() -> None:
    # hand-worked: exp(mu + sigma^2/2), the share that never comes left out
    assert float(mean_further_wait(lead=DISCONTINUED, waited_days=0.0)) == pytest.approx(
        60.0 * math.exp(DISCONTINUED.sigma**2 / 2), rel=1e-12
    )


@pytest.mark.parametrize("waited", [0.0, 25.0, 120.0])
@pytest.mark.parametrize("lead", [SHELF, BACK_ORDER, DISCONTINUED])
def test_frequencies_of_sampled_days_are_the_closed_form(lead: LeadTime, waited: float) -> None:
    n = 40_000
    days = sample_days(u_time=u("time"), u_never=u("never"), lead=lead, waited_days=waited)
    assert days.dtype == np.int32
    never = float(never_given_waiting(lead=lead, waited_days=waited))
    assert (days == NEVER).mean() == pytest.approx(never, abs=4 * 0.5 / math.sqrt(n))
    for k in (1, 2, 5, 20, 60, 200):
        # days are rounded up, so "within k days" is exact: no half day to allow for
        expected = 1 - float(further_survival(lead=lead, waited_days=waited, days=float(k)))
        assert ((days != NEVER) & (days <= k)).mean() == pytest.approx(expected, abs=4 * 0.5 / math.sqrt(n))


def test_a_sampled_arrival_by_hand() -> None:
    # hand-worked: 50 days waited for a log-normal with mu = ln 20, sigma = 1: Phi(-ln 2.5) = Phi(-0.91629) = 0.17976;
    # a uniform of 0.5 leaves a tail of 0.08988, z = 1.34146, 20 exp(z) = 76.49 days in all, 26.49 more, so 27
    lead = LeadTime(math.log(20.0), 1.0, 0.0)
    half = np.array([0.5])
    assert sample_days(u_time=half, u_never=half, lead=lead, waited_days=50.0).tolist() == [27]


@given(lead=leads, u_time=st.floats(0.001, 0.999), u_never=st.floats(0.001, 0.999),
       waited=st.floats(0.0, 300.0), more=st.floats(0.0, 300.0))
def test_waiting_keeps_each_future_on_its_track(
    lead: LeadTime, u_time: float, u_never: float, waited: float, more: float
) -> None:
    time, never = np.array([u_time]), np.array([u_never])
    first, second = (int(sample_days(u_time=time, u_never=never, lead=lead, waited_days=t)[0])
                     for t in (waited, waited + more))
    if first == NEVER:
        assert second == NEVER
    if second != NEVER and first < LONGEST_DAYS and second < LONGEST_DAYS:
        # what is still to come arrives no earlier, counted from the day of ordering, than was thought before
        assert waited + more + second >= waited + first - 1


@given(lead=leads, low=st.floats(0.001, 0.999), high=st.floats(0.001, 0.999), waited=st.floats(0.0, 300.0))
def test_a_larger_uniform_is_never_a_longer_wait(lead: LeadTime, low: float, high: float, waited: float) -> None:
    low, high = sorted((low, high))
    sure = np.array([0.9999, 0.9999])
    days = sample_days(u_time=np.array([low, high]), u_never=sure, lead=lead, waited_days=waited)
    if (days != NEVER).all():
        assert days[0] >= days[1] >= 1


def test_a_slow_supplier_stretches_all_times_and_leaves_never_alone() -> None:
    fresh = sample_days(u_time=u("time"), u_never=u("never"), lead=BACK_ORDER, delay_factor=1.7)
    # hand-worked: multiplying a log-normal by 1.7 adds ln 1.7 to mu
    slower = LeadTime(BACK_ORDER.mu + math.log(1.7), BACK_ORDER.sigma, BACK_ORDER.never_chance)
    assert np.abs(fresh - sample_days(u_time=u("time"), u_never=u("never"), lead=slower)).max() <= 1
    assert ((fresh == NEVER) == (u("never") < 0.12)).all()
    waited = sample_days(u_time=u("time"), u_never=u("never"), lead=BACK_ORDER, waited_days=70.0, delay_factor=1.7)
    other = sample_days(u_time=u("time"), u_never=u("never"), lead=slower, waited_days=70.0)
    assert ((waited == NEVER) == (other == NEVER)).all()
    assert np.abs(waited - other).max() <= 1


def test_each_future_has_its_own_delay() -> None:
    lead = LeadTime(math.log(10.0), 1.0, 0.0)
    half = np.full(3, 0.5)
    days = sample_days(u_time=half, u_never=half, lead=lead, delay_factor=np.array([1.0, 2.0, 0.55]))
    # hand-worked: medians 10, 20 and 5.5 days, rounded up (10 may round up to 11 by a hair of arithmetic)
    assert days[1] in (20, 21) and days[0] in (10, 11) and days[2] == 6


def test_absurd_waits_are_cut_at_a_hundred_years() -> None:
    lead = LeadTime(math.log(1e9), 1.0, 0.0)
    assert sample_days(u_time=np.array([0.5]), u_never=np.array([0.5]), lead=lead).tolist() == [LONGEST_DAYS]


MIX = SupplyMix((0.20, 0.60, 0.15, 0.05), (SHELF, IMPORTER, BACK_ORDER, DISCONTINUED))


def test_a_missing_part_is_hardly_one_from_the_shelf() -> None:
    weights = mix_weights(mix=MIX, waited_days=40.0)
    # independent (Bayes' rule with scipy.stats.lognorm)
    tails = [stats.lognorm(s=lead.sigma, scale=math.exp(lead.mu)).sf(40.0) for lead in MIX.leads]
    left = np.array([
        share * (lead.never_chance + (1 - lead.never_chance) * tail)
        for lead, share, tail in zip(MIX.leads, MIX.shares, tails, strict=True)
    ])
    assert weights == pytest.approx(left / left.sum(), rel=1e-9)
    # and what was one in five of all orders is now under one in a thousand
    assert weights[0] < 0.001
    assert mix_weights(mix=MIX, waited_days=0.0) == pytest.approx(MIX.shares)


@pytest.mark.parametrize("waited", [0.0, 40.0])
def test_frequencies_of_a_mixture_are_the_closed_form(waited: float) -> None:
    n = 40_000
    days = sample_mix_days(
        u_class=u("class"), u_time=u("time"), u_never=u("never"), mix=MIX, waited_days=waited
    )
    left = float(mix_survival(mix=MIX, days=waited))
    # hand-worked: 0.6 x 0.03 + 0.15 x 0.12 + 0.05 x 0.40 = 0.056 of all never come
    assert (days == NEVER).mean() == pytest.approx(0.056 / left, abs=4 * 0.5 / math.sqrt(n))
    for k in (2, 7, 30, 120):
        expected = 1 - float(mix_survival(mix=MIX, days=waited + k)) / left
        assert ((days != NEVER) & (days <= k)).mean() == pytest.approx(expected, abs=4 * 0.5 / math.sqrt(n))


def test_kinds_are_weighed_anew_under_the_delay_of_their_own_future() -> None:
    factors = np.array([0.5, 1.0, 3.0])
    weights = mix_weights(mix=MIX, waited_days=25.0, delay_factor=factors)
    for row, factor in zip(weights, factors, strict=True):
        slower = tuple(LeadTime(lead.mu + math.log(factor), lead.sigma, lead.never_chance) for lead in MIX.leads)
        assert row == pytest.approx(mix_weights(mix=SupplyMix(MIX.shares, slower), waited_days=25.0), rel=1e-9)
    days = sample_mix_days(
        u_class=np.array([0.1, 0.5, 0.9]), u_time=np.full(3, 0.5), u_never=np.full(3, 0.99), mix=MIX,
        waited_days=25.0, delay_factor=factors,
    )
    for i, factor in enumerate(factors):
        alone = sample_mix_days(
            u_class=np.array([(0.1, 0.5, 0.9)[i]]), u_time=np.array([0.5]), u_never=np.array([0.99]), mix=MIX,
            waited_days=25.0, delay_factor=factor,
        )
        assert days[i] == alone[0]


def test_shares_of_nothing_are_no_kind_at_all() -> None:
    days = sample_mix_days(
        u_class=u("class", 2000), u_time=u("time", 2000), u_never=u("never", 2000),
        mix=SupplyMix((0.0, 1.0), (SHELF, DISCONTINUED)),
    )
    alone = sample_days(u_time=u("time", 2000), u_never=u("never", 2000), lead=DISCONTINUED)
    assert (days == alone).all()


@pytest.mark.parametrize(("median", "p90", "never"), [(0.0, 5.0, 0.0), (5.0, 5.0, 0.0), (9.0, 5.0, 0.0),
                                                      (-1.0, 5.0, 0.0), (math.nan, 5.0, 0.0), (1.0, math.inf, 0.0)])
def test_a_lead_time_without_spread_is_refused(median: float, p90: float, never: float) -> None:
    with pytest.raises(WreckwrightError, match=r"median .* makes no sense\. 0 < median < 90 % point\. Give the days"):
        LeadTime.from_days(median_days=median, p90_days=p90, never_chance=never)


@pytest.mark.parametrize("never", [-0.1, 1.0, 2.0, math.nan])
def test_a_chance_of_never_outside_its_range_is_refused(never: float) -> None:
    with pytest.raises(WreckwrightError, match=r"never-chance .* makes no sense\..*0 to below 1"):
        LeadTime.from_days(median_days=5.0, p90_days=9.0, never_chance=never)


def test_arguments_outside_their_range_are_refused() -> None:
    half = np.array([0.5])
    with pytest.raises(ValueError, match="waited_days = -1.0: days waited so far must be 0 or more"):
        sample_days(u_time=half, u_never=half, lead=SHELF, waited_days=-1.0)
    with pytest.raises(ValueError, match="chance = 1.5: every chance must lie between 0 and 1"):
        further_wait_quantile(lead=SHELF, waited_days=0.0, chance=1.5)
    with pytest.raises(ValueError, match="the hazard is defined for days above 0"):
        hazard(lead=SHELF, days=np.array([1.0, 0.0]))


@pytest.mark.parametrize("shares", [(1.0,), (0.0, 0.0), (0.5, 0.6), (1.5, -0.5), (math.nan, 1.0)])
def test_shares_that_do_not_sum_to_one_are_refused(shares: tuple[float, ...]) -> None:
    with pytest.raises(WreckwrightError, match="for 2 kinds of supply make no sense. one share for each kind"):
        SupplyMix(shares, (SHELF, IMPORTER))
