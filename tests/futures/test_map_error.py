"""The error of the map: how far its figures move, which versions the evidence favours, and that it all adds up."""

from __future__ import annotations

import math
import random

import numpy as np
import pytest
from msgspec.structs import replace

from tests.futures.damage_nets import cause, component, make_trade, random_evidence, random_trade
from wreckwright.errors import AnswerError
from wreckwright.futures.band import Z90
from wreckwright.futures.damage import Evidence, build_network, posterior
from wreckwright.futures.damage_network import map_figures
from wreckwright.futures.damage_sample import Uniform
from wreckwright.futures.draws import normals, uniforms
from wreckwright.futures.map_error import (
    COMMON_SHARE,
    common_numbers,
    map_replicates,
    redraw_shifts,
    redraw_trade,
    sample_with_map_error,
)
from wreckwright.trade.types import Band, Trade

REDRAWS = 400


def one_part() -> Trade:
    return make_trade(components=[component("head", 0.2)])


def numbers(n: int) -> Uniform:
    return lambda purpose, key: uniforms(seed=3, purpose=purpose, key=key, n=n)


def test_common_numbers_are_even_slices_of_variance_1() -> None:
    c = common_numbers(16)
    assert (np.diff(c) > 0.0).all()
    # hand-worked: symmetric about 0, and stretched to variance 1.
    assert c.mean() == pytest.approx(0.0, abs=1e-12) and (c**2).mean() == pytest.approx(1.0)
    # hand-worked: middles of the four quarters of the normal are -1.1503, -0.3186, 0.3186, 1.1503 (printed tables).
    assert common_numbers(4)[2:] == pytest.approx(np.array([0.31864, 1.15035]) / math.sqrt(0.71243), abs=1e-4)


def test_a_version_moves_each_figure_by_the_written_rule() -> None:
    two = map_replicates(one_part(), evidence=Evidence(), seed=5, k=2)
    own = normals(seed=5, purpose="map error", key="wear:head", n=2)
    # hand-worked: the made-up bands reach 0.8 either way in log-odds at their 10 % and 90 % points; 0.2 has odds 1/4.
    for version, c in enumerate((-1.0, 1.0)):
        odds = 0.25 * math.exp(0.8 / Z90 * (math.sqrt(0.6) * c + math.sqrt(0.4) * own[version]))
        assert two.posteriors[version].chance["head"] == pytest.approx(odds / (1.0 + odds), abs=1e-5)
    assert COMMON_SHARE == 0.6


def test_a_version_is_weighed_by_the_chance_of_the_evidence_in_it() -> None:
    plain = map_replicates(one_part(), evidence=Evidence(), seed=5, k=8)
    found = map_replicates(one_part(), evidence=Evidence(likelihoods={"head": (0.0, 1.0)}), seed=5, k=8)
    p = np.array([version.chance["head"] for version in plain.posteriors])
    assert plain.weights == pytest.approx(np.full(8, 1.0 / 8.0))
    assert plain.chance["head"] == pytest.approx(p.mean())
    # hand-worked: found bad, so a version counts by how likely it held that.
    assert found.weights == pytest.approx(p / p.sum())
    assert found.log_evidence == pytest.approx(math.log(p.mean()))
    assert found.chance["head"] == pytest.approx(1.0)


def test_what_is_shown_is_the_weighted_mean_of_the_versions() -> None:
    rng = random.Random(2)
    trade = random_trade(rng)
    ours = map_replicates(trade, evidence=random_evidence(rng, trade), seed=9)
    assert len(ours.posteriors) == len(ours.weights) == 16 and ours.weights.sum() == pytest.approx(1.0)
    for x in trade.components:
        each = np.array([version.chance[x] for version in ours.posteriors])
        assert ours.chance[x] == pytest.approx(float(ours.weights @ each))
    each_scenario = np.array([version.scenario_chance for version in ours.posteriors])
    assert ours.scenario_chance == pytest.approx(ours.weights @ each_scenario)
    for a in trade.causes:
        each = np.array([version.cause_chance[a] for version in ours.posteriors])
        assert ours.cause_chance[a] == pytest.approx(float(ours.weights @ each))


@pytest.mark.parametrize("number", range(3))
def test_samples_agree_with_what_is_shown(number: int) -> None:
    rng = random.Random(number)
    trade = random_trade(rng)
    ours = map_replicates(trade, evidence=random_evidence(rng, trade), seed=number)
    n = 40_000
    drawn = sample_with_map_error(ours, uniform=numbers(n), n=n)
    # hand-worked: binomial z-tests with the exact chances.
    pairs = [(drawn.bad[x].mean(), p) for x, p in ours.chance.items()]
    pairs += [((drawn.scenario == i).mean(), p) for i, p in enumerate(ours.scenario_chance)]
    pairs += [((drawn.version == i).mean(), p) for i, p in enumerate(ours.weights)]
    for share, p in pairs:
        assert abs(share - p) <= 4.5 * math.sqrt(p * (1.0 - p) / n) + 1e-12


def test_versions_make_parts_fail_together_that_are_independent_in_each() -> None:
    trade = make_trade(components=[component(f"p{i}", 0.2) for i in range(30)])
    ours = map_replicates(trade, evidence=Evidence(), seed=1)
    n = 20_000
    drawn = sample_with_map_error(ours, uniform=numbers(n), n=n)
    count = np.sum([drawn.bad[x] for x in trade.components], axis=0)
    p = np.array([ours.chance[x] for x in trade.components])
    # hand-worked: independent parts would give the sum of p (1 - p); a common error of the map gives far more.
    assert count.var() > 1.5 * (p * (1.0 - p)).sum()
    each = np.array([[version.chance[x] for x in trade.components] for version in ours.posteriors])
    within, between = (each * (1.0 - each)).sum(axis=1).mean(), each.sum(axis=1).var()
    assert count.var() == pytest.approx(within + between, rel=0.05)


def test_the_same_seed_gives_the_same_versions_and_luck() -> None:
    rng = random.Random(4)
    trade = random_trade(rng)
    evidence = random_evidence(rng, trade)
    one, other = (map_replicates(trade, evidence=evidence, seed=8) for _ in range(2))
    assert (one.scenario_chance == other.scenario_chance).all() and one.chance == other.chance
    assert map_replicates(trade, evidence=evidence, seed=9).chance != one.chance
    few = sample_with_map_error(one, uniform=numbers(50), n=50)
    many = sample_with_map_error(one, uniform=numbers(500), n=500)
    assert (few.version == many.version[:50]).all() and (few.scenario == many.scenario[:50]).all()
    assert all((few.bad[x] == many.bad[x][:50]).all() for x in trade.components)


def test_redraws_keep_to_the_bands_and_share_a_common_error() -> None:
    trade = make_trade(
        causes=[cause("hit", 0.3)], components=[component("head", 0.2), component("lamp", 0.1)],
        links={("hit", "head"): 0.5}, knock_ons={("head", "lamp"): 0.4},
    )
    shifts = [redraw_shifts(trade, seed=1, i=i) for i in range(REDRAWS)]
    assert all(set(shift) == set(map_figures(trade)) for shift in shifts)
    table = {key: np.array([shift[key] for shift in shifts]) for key in shifts[0]}
    for values in table.values():
        # hand-worked: 80 % within 0.8 of log-odds; standard error 2 % at 400 redraws.
        assert (np.abs(values) <= 0.8).mean() == pytest.approx(0.8, abs=0.08)
        assert abs(values.mean()) < 4.0 * 0.8 / Z90 / math.sqrt(REDRAWS)
    # hand-worked: correlation 0.6 by the common share (standard error (1 - 0.36) / 20); causes have none.
    together = np.corrcoef(table["wear:head"], table["link:hit>head"])[0, 1]
    assert together == pytest.approx(0.6, abs=0.13)
    assert abs(np.corrcoef(table["cause:hit"], table["link:hit>head"])[0, 1]) < 0.2


@pytest.mark.parametrize("number", range(4))
def test_a_redrawn_trade_is_the_trade_with_the_shifts(number: int) -> None:
    rng = random.Random(number)
    trade = random_trade(rng)
    evidence = random_evidence(rng, trade)
    redrawn = redraw_trade(trade, seed=2, i=number)
    shifted = posterior(build_network(trade, logit_shift=redraw_shifts(trade, seed=2, i=number)), evidence)
    ours = posterior(build_network(redrawn), evidence)
    assert ours.chance == pytest.approx(shifted.chance, abs=1e-12)
    assert ours.scenario_chance == pytest.approx(shifted.scenario_chance, abs=1e-12)
    assert redrawn != trade and redrawn.signs == trade.signs
    for band in map_figures(redrawn).values():
        assert 0.0 <= band.low <= band.mid <= band.high <= 1.0


def test_certain_figures_never_move() -> None:
    trade = make_trade(
        causes=[cause("hit", 1.0)], components=[component("head"), component("lamp")],
        links={("hit", "head"): 1.0}, knock_ons={("head", "lamp"): 1.0},
    )
    assert redraw_shifts(trade, seed=1, i=0) == {}
    assert map_replicates(trade, evidence=Evidence(), seed=1).chance == {"head": 1.0, "lamp": 1.0}


def test_lopsided_bands_move_by_their_own_side() -> None:
    wide = replace(component("head", 0.5), wear_chance=Band(0.5, 0.5, 0.9))
    values = np.array([redraw_shifts(make_trade(components=[wide]), seed=1, i=i)["wear:head"] for i in range(200)])
    assert values.min() == 0.0
    # hand-worked: odds 9 at the 90 % point; half the redraws stay, one in ten goes beyond; standard error 2 %.
    assert (values > math.log(9.0)).mean() == pytest.approx(0.1, abs=0.07)


def test_what_cannot_be_done() -> None:
    with pytest.raises(ValueError, match="k = 0: at least one version"):
        map_replicates(one_part(), evidence=Evidence(), seed=1, k=0)
    with pytest.raises(AnswerError, match="impossible"):
        map_replicates(make_trade(components=[component("head")]), evidence=Evidence(likelihoods={"head": (0.0, 1.0)}),
                       seed=1)
    with pytest.raises(ValueError, match=r"gave shape \(5,\)"):
        sample_with_map_error(map_replicates(one_part(), evidence=Evidence(), seed=1), uniform=numbers(5), n=6)
