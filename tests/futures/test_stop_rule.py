"""When to stop: fitted rules against an exactly solved machine, published examples, and laws."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import pytest

from tests.answers.toys import mixed_futures, toy_futures, toy_rebuild
from tests.futures import staged_tree as tree
from tests.futures.random_rebuilds import random_case
from wreckwright.futures.ledger import settle
from wreckwright.futures.rebuild import DISCOVERY, GATE_PASSED
from wreckwright.futures.scene import Futures
from wreckwright.futures.simulate import simulate
from wreckwright.futures.stop_rule import MIN_REACHED, fit_stop_rule, unstopped, with_stop_rule


def as_rule(stop: Mapping[int, tuple[float, ...]]) -> tree.Rule:
    def rule(epoch: int, found: int, day: int, spend: int) -> bool:
        if epoch not in stop:
            return False
        stage, kind = divmod(epoch, 3)
        x, z = spend / 100_000, day / 30
        y = tree.STAGES - (stage if kind == DISCOVERY else stage + 1)
        return sum(c * f for c, f in zip(stop[epoch], (1, x, y, z, x * x, y * y, z * z), strict=True)) < 0

    return rule


def test_the_tree_itself() -> None:
    # independent (plain sampling): carrying on regardless, sampled and by induction, agree within 4 standard errors.
    futures = tree.sampled(40_000, seed=1)
    net = settle(futures).net_from_here_minor
    assert net.mean() == pytest.approx(tree.exact(may_stop=False), abs=4 * net.std() / 200)
    assert tree.exact() > tree.exact(rule=lambda *_: False) == tree.exact(may_stop=False)


def test_ten_thousand_futures_find_a_rule_within_half_a_per_cent_of_the_exact_optimum() -> None:
    # independent (backward induction over all states, tests/futures/staged_tree.py): the fitted rule is valued
    # exactly, so no sampling noise hides in this figure.
    best = tree.exact()
    for seed in (1, 2, 3):
        stop = fit_stop_rule(tree.sampled(10_000, seed=seed))
        assert tree.exact(rule=as_rule(stop.policy.stop)) >= 0.995 * best
        assert stop.used


def test_the_reported_value_is_within_half_a_per_cent_of_the_exact_tree() -> None:
    # independent (backward induction): mean over ten sets of 10,000 futures, whose standard error is 0.2 %. The worth
    # of the right to stop is measured on the same futures as carrying on regardless.
    fits = [fit_stop_rule(tree.sampled(10_000, seed=seed)) for seed in range(10)]
    assert np.mean([f.mean_minor for f in fits]) == pytest.approx(tree.exact(), rel=0.005)
    right = tree.exact() - tree.exact(may_stop=False)
    assert np.mean([f.gain_minor for f in fits]) == pytest.approx(right, rel=0.02)
    assert all(abs(f.gain_minor - right) < 4 * f.gain_se_minor for f in fits)
    # Fitting and valuing on the same futures looks better than it is, on average.
    assert np.mean([f.in_sample_gain_minor - f.gain_minor for f in fits]) > 0


def one_moment(n: int, *, carry: np.ndarray, stop_minor: int, spend: np.ndarray, kind: int = GATE_PASSED) -> Futures:
    """One decision, at which the known money still to spend tells the cases apart."""
    gates = 1 if kind == GATE_PASSED else 0
    as_it_stands = [0, 0, 0]
    as_it_stands[gates] = stop_minor
    epoch_features = np.zeros((n, 6, 7))
    epoch_features[:, kind] = np.stack(
        [np.ones(n), spend, np.zeros(n), np.zeros(n), spend * spend, np.zeros(n), np.zeros(n)], axis=1
    )
    reached = np.zeros((n, 6), dtype=bool)
    reached[:, kind] = True
    return toy_futures(
        n, rebuild=toy_rebuild(stages=2, as_it_stands_minor=tuple(as_it_stands), part_out_minor=-1),
        sale_minor=np.maximum(carry, 0), out_minor=np.maximum(-carry, 0), epoch_reached=reached,
        epoch_features=epoch_features,
    )


def test_published_option_to_expand_and_to_abandon() -> None:
    # published (teaching page "Options to expand, abandon and delay", mining pilot, US$ million): expanding brings 80
    # for 50, worth 30; abandoning brings 15 where going on is worth 5, worth 10. Both cases, half of the futures
    # each: carry on (30 against 15) in the first; stop (15 against 5) in the second, where the right to stop is worth
    # 10.
    good = np.arange(1000) % 4 < 2
    stop = fit_stop_rule(one_moment(
        1000, carry=np.where(good, 80 - 50, 5) * 100, stop_minor=1_500, spend=np.where(good, 0.5, 1.5)
    ))
    assert stop.worth_minor[good].tolist() == [3_000.0] * 500
    assert stop.worth_minor[~good].tolist() == [1_500.0] * 500
    assert (stop.worth_minor - stop.way.cash_minor).tolist() == [0.0] * 1000
    assert stop.gain_minor == pytest.approx(0.5 * 1_000)


def test_published_pilot_before_a_large_investment() -> None:
    # published (lecture transcript "Decision trees and the option identification"): pilot 250; after it, half of the
    # time, 500 a year for ever at 10 % for 2,000 more, else nothing; a year at 25 % lies between. Worth with the
    # right to stop: 950 (computed from these figures: -250 + 0.5 x (5,000 - 2,000) / 1.25). What investing after a
    # failed pilot would bring is not in the source: nothing for 2,000 is taken here.
    good = np.arange(1000) % 4 < 2
    after = np.where(good, 500 / 0.10 - 2_000, -2_000) / 1.25 - 250
    carry = np.rint(after * 100).astype(np.int64)
    futures = one_moment(1000, carry=carry, stop_minor=0, spend=np.where(good, 1.0, 3.0))
    futures = replace(futures, played=replace(
        futures.played, epoch_out_minor=np.where(futures.played.epoch_reached, 25_000, 0)
    ))
    stop = fit_stop_rule(futures)
    assert stop.mean_minor == pytest.approx(95_000)
    assert (stop.stop_epoch == GATE_PASSED).tolist() == (~good).tolist()


def test_no_rule_where_stopping_is_never_worth_it() -> None:
    futures = one_moment(1000, carry=np.full(1000, 50_000), stop_minor=10_000, spend=np.linspace(0.0, 2.0, 1000))
    stop = fit_stop_rule(futures)
    assert not stop.used
    assert stop.policy.stop == {}
    assert stop.gain_minor == 0.0
    assert (stop.worth_minor == settle(futures).net_from_here_minor).all()


def test_a_gain_that_could_be_chance_is_not_counted() -> None:
    rng = np.random.default_rng(5)
    noise = np.rint(rng.standard_normal(3000) * 20_000).astype(np.int64)
    # Carrying on and stopping are worth the same on average whatever is known: a rule can only fit noise.
    futures = one_moment(3000, carry=60_000 + noise, stop_minor=60_000, spend=rng.random(3000))
    stop = fit_stop_rule(futures)
    assert not stop.used
    assert stop.mean_minor == stop.without_mean_minor


def test_a_moment_that_few_reach_gets_no_rule() -> None:
    good = np.zeros(MIN_REACHED - 1, dtype=bool)
    futures = one_moment(len(good), carry=np.full(len(good), -50_000), stop_minor=10_000, spend=np.ones(len(good)))
    assert fit_stop_rule(futures).policy.stop == {}
    more = one_moment(MIN_REACHED, carry=np.full(MIN_REACHED, -50_000), stop_minor=10_000, spend=np.ones(MIN_REACHED))
    assert fit_stop_rule(more).stop_epoch.tolist() == [GATE_PASSED] * MIN_REACHED


def test_own_hours_are_charged_at_the_given_value() -> None:
    # hand-worked: carrying on brings 500.00 for 10 hours (600 minutes), stopping 150.00 for none: at 30.00 an hour it
    # is 200.00 against 150.00, at 40.00 an hour 100.00 against 150.00.
    futures = one_moment(400, carry=np.full(400, 50_000), stop_minor=15_000, spend=np.ones(400))
    assert not fit_stop_rule(futures, hour_value_minor=3_000).used
    dear = fit_stop_rule(futures, hour_value_minor=4_000)
    assert dear.used
    assert (dear.mean_minor, dear.without_mean_minor) == (15_000.0, 10_000.0)
    assert fit_stop_rule(replace(futures, hour_value_minor=4_000)).mean_minor == 15_000.0


def test_sunk_money_changes_nothing() -> None:
    few, many = (fit_stop_rule(mixed_futures(2000, sunk_minor=sunk)) for sunk in (0, 10**7))
    assert few.policy.stop == many.policy.stop
    assert (few.worth_minor == many.worth_minor).all()


def test_the_scale_of_money_does_not_matter() -> None:
    # The same machine in a currency whose unit is a thousandth: the same futures stop.
    small = tree.sampled(4_000, seed=7)
    played, market = small.played, small.market
    features = played.epoch_features * np.array([1, 1e3, 1, 1, 1e6, 1, 1])
    large = replace(
        small,
        played=replace(played, out_minor=played.out_minor * 1000, epoch_out_minor=played.epoch_out_minor * 1000,
                       epoch_features=features),
        market=replace(market, sale_minor=market.sale_minor * 1000, as_it_stands_minor=market.as_it_stands_minor * 1000,
                       holding_day_minor=market.holding_day_minor * 1000),
        rebuild=replace(small.rebuild, as_it_stands_minor=tuple(v * 1000 for v in small.rebuild.as_it_stands_minor),
                        part_out_minor=-10**9),
    )
    a, b = fit_stop_rule(small), fit_stop_rule(large)
    assert (a.stop_epoch == b.stop_epoch).all()
    assert b.mean_minor == pytest.approx(1000 * a.mean_minor, rel=1e-12)


def test_a_find_that_comes_after_the_no_of_its_stage_counts_as_later() -> None:
    # Stage 0: a no after 100 minutes, then a find after 200: what would be stopped at the find is stopped at the no
    # already if that rule says so, though the number of its epoch is higher.
    n = 400
    futures = one_moment(n, carry=np.full(n, -50_000), stop_minor=0, spend=np.ones(n), kind=DISCOVERY)
    played = futures.played
    reached = played.epoch_reached.copy()
    reached[:, 1] = True
    features = played.epoch_features.copy()
    features[:, 1, 0] = 1.0
    minutes = np.zeros((n, 6), dtype=np.int64)
    minutes[:, 0], minutes[:, 1] = 200, 100
    out = np.zeros((n, 6), dtype=np.int64)
    out[:, 0] = 5_000
    late = replace(futures, played=replace(
        played, epoch_reached=reached, epoch_features=features, epoch_minutes=minutes, epoch_out_minor=out
    ))
    assert set(fit_stop_rule(late).stop_epoch.tolist()) == {1}
    minutes_in_order = minutes.copy()
    minutes_in_order[:, 0] = 50
    early = replace(late, played=replace(late.played, epoch_minutes=minutes_in_order, epoch_out_minor=-out))
    assert set(fit_stop_rule(early).stop_epoch.tolist()) == {0}


@pytest.mark.parametrize("seed", [41, 43, 48, 51, 57])
def test_playing_the_fitted_rule_brings_what_the_fit_says(seed: int) -> None:
    # independent (the simulator): the rule fitted on all futures, played through the same futures by the simulator and
    # reckoned anew, comes to the value the fit computed from the recorded epochs alone.
    case = random_case(seed, futures=600)
    rng = np.random.default_rng(seed)
    base = toy_futures(600, rebuild=case.rebuild)
    policy = replace(case.policy, stop={})
    stages = case.rebuild.n_stages
    trail = seed > 45
    futures = replace(
        base, worlds=case.worlds, policy=policy, played=simulate(case.rebuild, case.worlds, policy, ends=trail),
        market=replace(
            base.market, sale_minor=rng.integers(100_000, 200_000, 600), holding_day_minor=30,
            left_undone_minor=(500,) * len(case.rebuild.slots),
            as_it_stands_minor=rng.integers(20_000, 90_000, (600, stages + 1)),
            part_out_minor=rng.integers(20_000, 60_000, 600),
        ),
    )
    stop = fit_stop_rule(futures, hour_value_minor=900)
    assert stop.used and stop.policy.stop
    kept = with_stop_rule(futures, stop)
    worth = settle(kept, hour_value_minor=900).way.worth_minor(900)
    assert worth.mean() == pytest.approx(stop.without_mean_minor + stop.in_sample_gain_minor, abs=1e-6)
    # Fitting again, on futures that were played with a rule, starts from the same futures without one.
    assert fit_stop_rule(kept, hour_value_minor=900).policy.stop == stop.policy.stop
    assert (unstopped(kept).played.out_minor == futures.played.out_minor).all()
    # The trail is there again where it was there before.
    anew = unstopped(replace(kept, played_unstopped=None)).played
    assert [played.trail is not None for played in (kept.played, anew)] == [trail, trail]
