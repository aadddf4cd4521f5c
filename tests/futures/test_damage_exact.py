"""The damage posterior against an exact engine of other people's making, and against the map's own expectations."""

from __future__ import annotations

import json
import random
from pathlib import Path

import pyagrum as gum
import pytest

from tests.futures.damage_nets import random_evidence, random_trade
from tests.futures.damage_oracle import believed
from wreckwright.futures.damage import Evidence, ImpossibleEvidence, build_network, posterior
from wreckwright.trade.load import load_trade
from wreckwright.trade.types import Trade

RANKINGS = json.loads((Path(__file__).parents[1] / "data" / "cause_rankings.json").read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def trade() -> Trade:
    return load_trade()


def agree(trade: Trade, evidence: Evidence, absent: frozenset[str] = frozenset()) -> None:
    # independent (pyagrum 3.3.1, LazyPropagation; net built node by node in damage_oracle)
    other = believed(trade, evidence, absent)
    ours = posterior(build_network(trade, absent=absent), evidence)
    assert ours.chance == pytest.approx(other.chance, abs=1e-9, rel=0.0)
    scenario = dict(zip(ours.scenario_names, ours.scenario_chance, strict=True))
    assert scenario == pytest.approx(other.scenario, abs=1e-9, rel=0.0)
    assert ours.log_evidence == pytest.approx(other.log_evidence, abs=1e-9, rel=0.0)


@pytest.mark.parametrize("number", range(50))
def test_random_networks(number: int) -> None:
    rng = random.Random(number)
    trade = random_trade(rng)
    evidence = random_evidence(rng, trade, certain=number % 2 == 0)
    absent = frozenset(rng.sample(list(trade.components), 1)) if number % 5 == 0 else frozenset()
    kept = {x: pair for x, pair in evidence.likelihoods.items() if x not in absent}
    evidence = Evidence(
        likelihoods=kept, signs_seen=evidence.signs_seen, signs_absent=evidence.signs_absent, told=evidence.told
    )
    try:
        agree(trade, evidence, absent)
    except gum.IncompatibleEvidence:
        with pytest.raises(ImpossibleEvidence):
            posterior(build_network(trade, absent=absent), evidence)


@pytest.mark.parametrize("number", range(4))
def test_packaged_map(trade: Trade, number: int) -> None:
    rng = random.Random(number)
    names = list(trade.components)
    signs = rng.sample(list(trade.signs), 12)
    evidence = Evidence(
        likelihoods={x: (rng.uniform(0.05, 1.0), rng.uniform(0.05, 1.0)) for x in rng.sample(names, 40)},
        signs_seen=tuple(signs[:6]), signs_absent=tuple(signs[6:]),
        told=(rng.choice(trade.told).hit,),
    )
    agree(trade, evidence if number else Evidence())


def test_packaged_map_stays_small_enough_to_be_quick(trade: Trade) -> None:
    plan = build_network(trade).plan
    # hand-worked: with six neighbours at most, no table of the packaged map has more than 128 entries a scenario.
    assert max(len(step.neighbours) for steps in plan.clusters for step in steps) <= 6


@pytest.mark.parametrize("row", RANKINGS["rows"], ids=lambda row: row["id"])
def test_signs_point_to_the_cause_they_are_known_for(trade: Trade, row: dict[str, object]) -> None:
    # regression (a simpler count on the map's first draft; only which cause leads is compared, not the figures)
    seen = tuple(str(name) for name in row["signs"])  # type: ignore[attr-defined]
    chance = dict(posterior(build_network(trade), Evidence(signs_seen=seen)).cause_chance)
    assert max(chance, key=chance.__getitem__) == row["leads"]
    prior = posterior(build_network(trade), Evidence()).cause_chance
    assert chance[str(row["leads"])] > 2.0 * prior[str(row["leads"])]
