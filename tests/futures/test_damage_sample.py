"""Whole machines drawn from the posterior: right frequencies, and luck that stays where it was."""

from __future__ import annotations

import math
import random

import numpy as np
import numpy.typing as npt
import pytest

from tests.futures.damage_nets import cause, component, make_trade, random_evidence, random_trade
from wreckwright.futures.damage import Evidence, Posterior, build_network, posterior
from wreckwright.futures.damage_sample import PART_STATE, SCENARIO, Uniform, pick, sample
from wreckwright.futures.draws import uniforms
from wreckwright.trade.types import Trade

N = 40_000
FAR = 4.5
"""Standard errors: one z-test in 150,000 would go beyond by luck; the seeds are fixed and some 300 are made here."""


def numbers(n: int, seed: int = 7) -> Uniform:
    return lambda purpose, key: uniforms(seed=seed, purpose=purpose, key=key, n=n)


def z_score(count: int, p: float, n: int = N) -> float:
    if p < 1e-12 or p > 1.0 - 1e-12:
        return 0.0 if count == round(p * n) else math.inf
    return (count - n * p) / math.sqrt(n * p * (1.0 - p))


@pytest.mark.parametrize("number", range(6))
def test_frequencies_follow_the_exact_posterior(number: int) -> None:
    rng = random.Random(number)
    trade = random_trade(rng)
    evidence = random_evidence(rng, trade)
    network = build_network(trade)
    ours = posterior(network, evidence)
    drawn = sample(ours, uniform=numbers(N), n=N)
    # hand-worked: binomial z-test with the exact chance.
    for i, p in enumerate(ours.scenario_chance):
        assert abs(z_score(int((drawn.scenario == i).sum()), float(p))) < FAR
    for x, p in ours.chance.items():
        assert abs(z_score(int(drawn.bad[x].sum()), p)) < FAR
    names = list(trade.components)
    for _ in range(6):
        x, y = rng.sample(names, 2)
        if ours.chance[x] < 1e-9:
            continue
        # hand-worked: P(x and y) = P(x) * P(y given x bad), the latter by one more finding.
        a, b = evidence.likelihoods.get(x, (1.0, 1.0))
        given_x = posterior(network, _with(evidence, x, (0.0, b)))
        both = int((drawn.bad[x] & drawn.bad[y]).sum())
        assert abs(z_score(both, ours.chance[x] * given_x.chance[y])) < FAR


def test_frequencies_within_one_scenario() -> None:
    trade = random_trade(random.Random(3))
    network = build_network(trade)
    ours = posterior(network, Evidence())
    drawn = sample(ours, uniform=numbers(N), n=N)
    s = int(np.argmax(ours.scenario_chance))
    here = drawn.scenario == s
    for node, table in zip(network.plan.alone, ours.solved.alone_bad, strict=True):
        # hand-worked: binomial z-test with the exact chance.
        assert abs(z_score(int(drawn.bad[network.nodes[node]][here].sum()), float(table[0, s]), int(here.sum()))) < FAR


def test_few_are_the_first_of_many() -> None:
    rng = random.Random(5)
    trade = random_trade(rng)
    ours = posterior(build_network(trade), random_evidence(rng, trade))
    few, many = sample(ours, uniform=numbers(100), n=100), sample(ours, uniform=numbers(1000), n=1000)
    assert (few.scenario == many.scenario[:100]).all()
    assert all((few.bad[x] == many.bad[x][:100]).all() for x in trade.components)


def test_a_finding_touches_no_other_components_numbers() -> None:
    rng = random.Random(11)
    trade = random_trade(rng)
    network = build_network(trade)

    def asked(evidence: Evidence) -> dict[tuple[str, str], npt.NDArray[np.float64]]:
        seen: dict[tuple[str, str], npt.NDArray[np.float64]] = {}

        def uniform(purpose: str, key: str) -> npt.NDArray[np.float64]:
            assert (purpose, key) not in seen
            seen[purpose, key] = uniforms(seed=7, purpose=purpose, key=key, n=50)
            return seen[purpose, key]

        sample(posterior(network, evidence), uniform=uniform, n=50)
        return seen

    before = asked(Evidence())
    after = asked(random_evidence(rng, trade))
    assert set(before) == {(SCENARIO, SCENARIO)} | {(PART_STATE, x) for x in network.nodes}
    assert all((before[name] == after[name]).all() for name in before)


def chain() -> Trade:
    return make_trade(
        causes=[cause("hit", 1.0)],
        components=[component(x) for x in ("tube", "stem", "head", "lamp", "glass")],
        links={("hit", "tube"): 0.4, ("hit", "head"): 0.2, ("hit", "lamp"): 0.5, ("hit", "glass"): 0.1},
        knock_ons={("tube", "stem"): 0.5, ("stem", "head"): 0.5, ("lamp", "glass"): 0.6},
    )


def drawn_from(trade: Trade, **likelihoods: tuple[float, float]) -> tuple[Posterior, dict[str, npt.NDArray[np.bool_]]]:
    ours = posterior(build_network(trade), Evidence(likelihoods=likelihoods))
    return ours, dict(sample(ours, uniform=numbers(2000), n=2000).bad)


def test_a_finding_changes_no_draw_of_what_it_says_nothing_about() -> None:
    _, before = drawn_from(chain())
    _, after = drawn_from(chain(), head=(0.2, 0.9))
    # The one scenario is certain and lamp and glass hang together with nothing else: same luck, same machines.
    assert (before["lamp"] == after["lamp"]).all() and (before["glass"] == after["glass"]).all()
    # A finding for "bad" only ever turns sound into bad here, in every single future.
    assert all((before[x] <= after[x]).all() for x in ("tube", "stem", "head"))
    assert (before["head"] < after["head"]).any()


def test_certain_findings_come_out_in_every_future() -> None:
    ours, bad = drawn_from(chain(), head=(0.0, 1.0), lamp=(1.0, 0.0))
    assert bad["head"].all() and not bad["lamp"].any()
    # hand-worked: a bad stem needs a bad tube.
    assert (bad["stem"] <= bad["tube"]).all()
    # hand-worked: glass then fails by the hit alone; z-test at 2000.
    assert abs(z_score(int(bad["glass"].sum()), 0.1, 2000)) < FAR
    assert ours.chance["glass"] == pytest.approx(0.1)


def test_pick_never_picks_what_has_no_chance() -> None:
    chances = np.array([[0.0, 0.5, 0.5, 0.0], [0.25, 0.0, 0.0, 0.75]])
    u = np.array([2.0**-53, 0.5 - 1e-12, 0.5 + 1e-12, 1.0 - 2.0**-53])
    # hand-worked
    assert pick(chances, np.zeros(4, dtype=np.int64), u).tolist() == [1, 1, 2, 2]
    assert pick(chances, np.ones(4, dtype=np.int64), u).tolist() == [0, 3, 3, 3]
    # The smallest and largest uniforms round to the row's very ends there, and must still not leave it.
    assert pick(chances[[0, 0, 1, 0]], np.array([3, 3, 3, 3]), u).tolist() == [1, 1, 2, 2]


def test_a_wrong_number_of_uniforms_is_noticed() -> None:
    with pytest.raises(ValueError, match=r"gave shape \(5,\); \(6,\) is needed"):
        sample(posterior(build_network(chain()), Evidence()), uniform=numbers(5), n=6)


def _with(evidence: Evidence, name: str, pair: tuple[float, float]) -> Evidence:
    return Evidence(
        likelihoods={**evidence.likelihoods, name: pair}, signs_seen=evidence.signs_seen,
        signs_absent=evidence.signs_absent, told=evidence.told,
    )
