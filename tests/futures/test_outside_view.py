"""The owner's finished machines shift and narrow the overrun of the next one."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wreckwright.futures.outside_view import (
    HOLD_DOWN,
    LEAST_RATIO,
    MONEY_PRIOR,
    TIME_PRIOR,
    OutsideView,
    OverrunPrior,
    fit_overrun,
    overrun_draws,
)
from wreckwright.record.types import Finished


def machine(
    handle: str, *, spent: int, expected: int | None = None, months: float = 5.0, expected_months: float | None = None,
    sold: int = 400_000,
) -> Finished:
    return Finished(
        id=handle, paid_minor=100_000, spent_minor=spent, sold_minor=sold, months=months, expected_spend_minor=expected,
        expected_months=expected_months,
    )


def fit(
    finished: list[Finished], *, prior_money: OverrunPrior = MONEY_PRIOR, reference_spend_share: float = 0.25,
    reference_months: float = 5.0, reference_overrun_money: float | None = None,
    reference_overrun_time: float | None = None,
) -> OutsideView:
    return fit_overrun(
        finished, prior_money=prior_money, reference_spend_share=reference_spend_share,
        reference_months=reference_months, reference_overrun_money=reference_overrun_money,
        reference_overrun_time=reference_overrun_time,
    )


FIVE = [
    machine("one", spent=120_000, expected=80_000, months=6.0, expected_months=4.0),
    machine("two", spent=90_000, expected=60_000, months=5.0, expected_months=4.0),
    machine("three", spent=200_000, expected=100_000, months=8.0, expected_months=4.0),
    machine("four", spent=130_000, expected=100_000, months=4.4, expected_months=4.0),
    machine("five", spent=160_000, expected=100_000, months=6.0, expected_months=5.0),
]


def test_without_finished_machines_the_guess_comes_back() -> None:
    view = fit([])
    # hand-worked: median 1.25; sd of the next machine = sqrt(0.40^2 + 0.30^2) = 0.5; 1.25 exp(-+1.28155 x 0.5)
    assert view.n == 0
    assert view.money.median == pytest.approx(1.25)
    assert view.money.sd == pytest.approx(0.5)
    assert view.money.low_high == pytest.approx((0.6586, 2.3725), abs=2e-4)
    # hand-worked: sqrt(0.40^2 + 0.35^2) = 0.53151
    assert view.time.median == pytest.approx(1.20)
    assert view.time.sd == pytest.approx(0.53151, abs=1e-5)


def test_five_machines_shift_and_narrow_the_money_band() -> None:
    """The posterior by hand.

    Ratios of spent to expected: 1.5, 1.5, 2.0, 1.3, 1.6; logarithms 0.405465, 0.405465, 0.693147, 0.262364, 0.470004,
    sum 2.236445. Prior: ln 1.25 = 0.223144 with precision 1/0.40^2 = 6.25; each machine has precision 1/0.30^2 =
    11.111111.

    Precision after: 6.25 + 5 x 11.111111 = 61.805556. Pull: 6.25 x 0.223144 + 11.111111 x 2.236445 = 26.244036.
    Middle: 26.244036 / 61.805556 = 0.424623; factor exp(0.424623) = 1.52901. The farthest machine is 0.693147 -
    0.424623 = 0.2685 away, less than 1.5 x 0.30 = 0.45, so none is held down.

    Next machine: variance 1/61.805556 + 0.30^2 = 0.016180 + 0.09 = 0.106180, sd 0.325852. Band from 10 to 90 %:
    exp(0.424623 -+ 1.281552 x 0.325852) = exp(0.007027), exp(0.842219) = 1.00705, 2.32151.

    So the middle goes from 1.25 to 1.53, and the band from a factor of 3.60 between its ends to one of 2.31.
    """
    view = fit(FIVE)
    # hand-worked (above)
    assert view.n == 5
    assert view.money.mu == pytest.approx(0.424623, abs=2e-6)
    assert view.money.median == pytest.approx(1.52901, abs=1e-5)
    assert view.money.sd == pytest.approx(0.325852, abs=1e-6)
    assert view.money.low_high == pytest.approx((1.00705, 2.32151), abs=2e-5)
    before = fit([]).money.low_high
    assert before[1] / before[0] == pytest.approx(3.60, abs=0.01)
    assert view.money.low_high[1] / view.money.low_high[0] == pytest.approx(2.31, abs=0.01)


def test_five_machines_shift_and_narrow_the_time_band() -> None:
    """By hand: ratios 1.5, 1.25, 2.0, 1.1, 1.2; logarithms 0.405465, 0.223144, 0.693147, 0.095310, 0.182322, sum
    1.599388. Precision 6.25 + 5/0.35^2 = 6.25 + 5 x 8.163265 = 47.066327; pull 6.25 x ln 1.2 (0.182322) + 8.163265 x
    1.599388 = 14.195738; middle 0.301611. Farthest: 0.391536 < 1.5 x 0.35. Next machine: sqrt(0.021247 + 0.1225) =
    0.379139.
    """
    view = fit(FIVE)
    # hand-worked (above)
    assert view.time.mu == pytest.approx(0.301611, abs=2e-6)
    assert view.time.sd == pytest.approx(0.379139, abs=1e-6)


def test_a_machine_without_expectation_counts_for_less() -> None:
    """By hand: 1,500 spent, sold for 4,000: a share of 0.375, 1.5 times the middling 0.25, so y = 0.223144 + 0.405465
    with variance 0.30^2 + 0.70^2 = 0.58, precision 1.724138. Middle 0.223144 + 1.724138 x 0.405465 / 7.974138 =
    0.310811; next machine: 1/7.974138 + 0.09 = 0.215405. With a noted expectation, 1.5 times what a middling owner's
    1.25 would be, it pulls more: 0.223144 + 11.111111 x 0.405465 / 17.361111 = 0.482642.
    """
    blind = fit([machine("one", spent=150_000)])
    told = fit([machine("one", spent=187_500, expected=100_000)])
    # hand-worked (above)
    assert blind.money.mu == pytest.approx(0.310811, abs=1e-6)
    assert blind.money.sd == pytest.approx(math.sqrt(0.215405), abs=1e-6)
    assert told.money.mu == pytest.approx(0.482642, abs=1e-6)
    assert told.money.sd < blind.money.sd
    assert fit([machine("one", spent=150_000, expected=0)]) == blind


def test_a_middling_machine_narrows_the_band_without_shifting_it() -> None:
    # hand-worked: a share of 0.25 and 5 months are what middling machines come to, and so is a bill of 1.5 times the
    # owner's list where that is what middling lists are worth
    for one in (machine("one", spent=100_000), machine("one", spent=150_000, expected=100_000, months=8.0,
                                                       expected_months=5.0)):
        view = fit([one], reference_overrun_money=1.5, reference_overrun_time=1.6)
        assert view.money.median == pytest.approx(1.25)
        assert view.time.median == pytest.approx(1.20)
        assert view.money.sd < fit([]).money.sd
        assert view.time.sd < fit([]).time.sd


def test_an_owners_list_that_leaves_out_more_than_ours_is_not_counted_twice() -> None:
    # hand-worked: against lists that middling owners overrun by 1.5 instead of 1.25, all five logarithms are lower by
    # ln 1.2 = 0.182322: middle 0.424623 - 55.555556 x 0.182322 / 61.805556 = 0.260738 (none is held down: the farthest
    # is 0.510825 - 0.260738 = 0.2501 away)
    assert fit(FIVE, reference_overrun_money=1.5).money.mu == pytest.approx(0.260738, abs=2e-6)


def test_references_can_be_the_callers_own() -> None:
    # hand-worked: a share of 0.25 against a middling 0.5 is ln 0.5 = -0.693147 with precision 1.724138: 0.223144 -
    # 1.724138 x 0.693147 / 7.974138 = 0.073274; months 5 against 10 the same way, precision 1/(0.35^2 + 0.60^2) =
    # 2.072539: 0.182322 - 2.072539 x 0.693147 / 8.322539 = 0.009710
    view = fit([machine("one", spent=100_000)], reference_spend_share=0.5, reference_months=10.0)
    assert view.money.mu == pytest.approx(0.073274, abs=2e-6)
    assert view.time.mu == pytest.approx(0.009710, abs=2e-6)


def test_one_wild_machine_does_not_turn_everything_over() -> None:
    """By hand: four machines at the prior's own 1.25 and one at 12 (ln 12 = 2.484907).

    Held down, the wild one pulls with no more than 1.5 x 0.30 / 0.30^2 = 5, so the distance d of the middle from
    ln 1.25 solves (6.25 + 4 x 11.111111) d = 5: d = 0.098630, middle 0.321774, factor 1.3796.
    Without that it would be d = 11.111111 x 2.261763 / 61.805556 = 0.406610, factor 1.8771.
    """
    four = [machine(f"m{i}", spent=125_000, expected=100_000) for i in range(4)]
    view = fit([*four, machine("wild", spent=1_200_000, expected=100_000)])
    # hand-worked (above)
    assert view.money.mu == pytest.approx(0.321774, abs=1e-6)
    assert view.money.median == pytest.approx(1.3796, abs=1e-4)


def test_machines_that_agree_are_believed_however_far_from_the_guess() -> None:
    # hand-worked: five at ratio 4: (1.394647 + 55.555556 x 1.386294)/61.805556 = 1.268672; 0.1176 away from each
    view = fit([machine(f"m{i}", spent=400_000, expected=100_000) for i in range(5)])
    assert view.money.mu == pytest.approx(1.268672, abs=1e-6)


def test_each_further_machine_of_the_same_kind_narrows_the_band() -> None:
    widths = [
        fit([machine(f"m{i}", spent=130_000, expected=100_000) for i in range(n)]).money.sd for n in range(12)
    ]
    assert all(later < earlier for earlier, later in zip(widths, widths[1:], strict=False))
    # never narrower than machines of one owner differ among themselves
    assert widths[-1] > MONEY_PRIOR.machine_sd


finished_machines = st.lists(
    st.builds(
        machine,
        st.just("m"),
        spent=st.integers(0, 5_000_000),
        expected=st.one_of(st.none(), st.integers(0, 2_000_000)),
        months=st.floats(0.1, 100.0),
        expected_months=st.one_of(st.none(), st.floats(0.1, 50.0)),
        sold=st.integers(1, 2_000_000),
    ),
    max_size=12,
)


@given(finished=finished_machines, rest=st.randoms(use_true_random=False))
def test_the_fit_balances_all_pulls_and_takes_machines_in_any_order(finished: list[Finished], rest: object) -> None:
    view = fit(finished)
    for fitted, prior, points in (
        (view.money, MONEY_PRIOR, [_money_point(m) for m in finished]),
        (view.time, TIME_PRIOR, [_time_point(m) for m in finished]),
    ):
        # independent (the condition for the best middle: prior's pull and the machines' held-down pulls cancel)
        pulls = [max(-HOLD_DOWN / sd, min(HOLD_DOWN / sd, (y - fitted.mu) / sd**2)) for y, sd in points]
        prior_pull = (math.log(prior.middle) - fitted.mu) / prior.owner_sd**2
        assert prior_pull + sum(pulls) == pytest.approx(0.0, abs=1e-6)
        assert prior.machine_sd < fitted.sd <= math.hypot(prior.machine_sd, prior.owner_sd) + 1e-12
    mixed = list(finished)
    rest.shuffle(mixed)  # type: ignore[attr-defined]
    other = fit(mixed)
    assert other.money.mu == pytest.approx(view.money.mu, abs=1e-6)


def _money_point(m: Finished) -> tuple[float, float]:
    if m.expected_spend_minor:
        ratio = m.spent_minor / m.expected_spend_minor / 1.25
        return math.log(1.25 * max(ratio, LEAST_RATIO)), MONEY_PRIOR.machine_sd
    ratio = m.spent_minor / m.sold_minor / 0.25
    return math.log(1.25 * max(ratio, LEAST_RATIO)), math.sqrt(MONEY_PRIOR.machine_sd**2 + MONEY_PRIOR.damage_sd**2)


def _time_point(m: Finished) -> tuple[float, float]:
    if m.expected_months:
        return math.log(1.2 * max(m.months / m.expected_months / 1.2, LEAST_RATIO)), TIME_PRIOR.machine_sd
    sd = math.sqrt(TIME_PRIOR.machine_sd**2 + TIME_PRIOR.damage_sd**2)
    return math.log(1.2 * max(m.months / 5.0, LEAST_RATIO)), sd


def test_an_owner_who_spends_nothing_is_read_as_spending_a_twentieth() -> None:
    # hand-worked: ln 0.05 = -2.995732 is far out, so its pull is -5: 6.25 d = -5, d = -0.8, middle -0.576856
    view = fit([machine("one", spent=0, expected=100_000)])
    assert view.money.mu == pytest.approx(0.223144 - 0.8, abs=1e-6)


def test_draws_follow_the_view_and_keep_their_place() -> None:
    prior, fitted = (overrun_draws(fit(some), seed=3, n=20_000) for some in ([], FIVE))
    assert np.median(fitted.money) == pytest.approx(1.529, rel=0.01)
    assert np.log(fitted.time).std() == pytest.approx(0.379, rel=0.02)
    # hand-worked: independent draws, correlation within 4/sqrt(20000)
    assert abs(np.corrcoef(fitted.money, fitted.time)[0, 1]) < 4 / math.sqrt(20_000)
    # a future that was dear under the guess is dear under the fit
    assert (np.argsort(prior.money) == np.argsort(fitted.money)).all()


def test_own_priors_can_be_given() -> None:
    sure = OverrunPrior(middle=1.0, owner_sd=0.01, machine_sd=0.1, damage_sd=0.1)
    # hand-worked: a prior of precision 10,000 hardly moves for five machines of precision 100:
    # 100 x 2.236445 / 10,500 = 0.021300 (held down: 1.5 x 0.1 / 0.01 = 15 each, 5 x 15 / 10,000 = 0.0075)
    assert fit(FIVE, prior_money=sure).money.mu == pytest.approx(0.0075, abs=1e-6)


@pytest.mark.parametrize(("share", "months"), [(0.0, 5.0), (0.25, 0.0), (math.nan, 5.0), (0.25, math.inf)])
def test_references_without_sense_are_refused(share: float, months: float) -> None:
    with pytest.raises(ValueError, match="a share, months and two overruns above 0 are needed"):
        fit([], reference_spend_share=share, reference_months=months)
