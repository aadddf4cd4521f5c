"""The damage posterior against plain enumeration of small machines, and the laws it must obey."""

from __future__ import annotations

import itertools
import math
import random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.futures.damage_nets import component, make_trade, random_evidence, random_trade
from wreckwright.futures.damage import Evidence, ImpossibleEvidence, build_network, posterior
from wreckwright.futures.damage_scenarios import list_scenarios, sign_likelihood
from wreckwright.trade.types import Trade


@st.composite
def small_machines(draw: st.DrawFn) -> tuple[Trade, Evidence]:
    rng = random.Random(draw(st.integers(0, 10**6)))
    trade = random_trade(rng, most_components=4, most_causes=3)
    return trade, random_evidence(rng, trade, certain=draw(st.booleans()))


@settings(max_examples=60)
@given(small_machines())
def test_equals_plain_enumeration_of_all_states(case: tuple[Trade, Evidence]) -> None:
    trade, evidence = case
    # independent (plain enumeration): every scenario and every state of every node, one at a time.
    network = build_network(trade)
    prior = network.prior[0]
    signs = sign_likelihood(trade, network.scenarios, seen=evidence.signs_seen, absent=evidence.signs_absent)
    said = {(row.hit, row.cause): row.chance for row in trade.told}
    nodes = [*trade.components, *trade.latents]
    ratio = dict.fromkeys(nodes, 1.0)
    for x in trade.components:
        for group in {trade.signs[name].group for name in evidence.signs_seen}:
            ratio[x] *= max(
                (trade.signs[n].component_ratio[x] for n in evidence.signs_seen
                 if trade.signs[n].group == group and x in trade.signs[n].component_ratio), default=1.0,
            )
        ratio[x] = min(ratio[x], 30.0)
    total, bad = 0.0, dict.fromkeys(nodes, 0.0)
    for s, scenario in enumerate(network.scenarios):
        weight = prior[s] * signs[s]
        for hit in evidence.told:
            words = [said[hit, a] for a in scenario.causes or ("only_worn",)]
            weight *= sum(words) / len(words)
        z, states = 0.0, []
        for values in itertools.product((False, True), repeat=len(nodes)):
            state = dict(zip(nodes, values, strict=True))
            p = math.prod(_chance_of(trade, scenario.causes, scenario.severities, state, x) for x in nodes)
            p *= math.prod(ratio[x] for x in nodes if state[x])
            z += p
            found = math.prod(pair[state[x]] for x, pair in evidence.likelihoods.items())
            states.append((state, p * found))
        for state, p in states:
            total += weight * p / z
            for x in nodes:
                bad[x] += weight * p / z * state[x]
    if total == 0.0:
        with pytest.raises(ImpossibleEvidence):
            posterior(network, evidence)
        return
    ours = posterior(network, evidence)
    assert ours.chance == pytest.approx({x: bad[x] / total for x in trade.components}, abs=1e-12)
    assert ours.log_evidence == pytest.approx(math.log(total), abs=1e-12)


def _chance_of(
    trade: Trade, causes: tuple[str, ...], severities: tuple[int, ...], state: dict[str, bool], x: str
) -> float:
    wear = trade.components[x].wear_chance if x in trade.components else trade.latent_wear.get(x)
    sound = 1.0 - (wear.mid if wear else 0.0)
    for link in trade.cause_links:
        if link.component == x and link.cause in causes:
            severity = trade.causes[link.cause].severities[severities[causes.index(link.cause)]]
            p = link.chance.mid
            if 0.0 < p < 1.0:
                p = 1.0 / (1.0 + (1.0 - p) / p * math.exp(-severity.logodds_shift))
            sound *= 1.0 - p
    for knock_on in trade.knock_ons:
        if knock_on.then == x and state[knock_on.if_bad]:
            sound *= 1.0 - knock_on.chance.mid
    return 1.0 - sound if state[x] else sound


# --- laws


@settings(max_examples=60)
@given(st.integers(0, 10**6), st.floats(1.0, 50.0))
def test_a_finding_that_speaks_for_bad_never_lowers_that_component(number: int, ratio: float) -> None:
    rng = random.Random(number)
    trade = random_trade(rng)
    evidence = random_evidence(rng, trade)
    name = rng.choice(list(trade.components))
    if_sound, if_bad = evidence.likelihoods.get(name, (1.0, 1.0))
    network = build_network(trade)
    more = Evidence(
        likelihoods={**evidence.likelihoods, name: (if_sound, if_bad * ratio)}, signs_seen=evidence.signs_seen,
        signs_absent=evidence.signs_absent, told=evidence.told,
    )
    before = posterior(network, evidence).chance[name]
    # hand-worked: Bayes' rule on one component, all else summed out.
    assert posterior(network, more).chance[name] == pytest.approx(
        before * ratio / (before * ratio + 1.0 - before), abs=1e-10
    )
    assert posterior(network, more).chance[name] >= before - 1e-12


@settings(max_examples=40)
@given(st.integers(0, 10**6), st.floats(1e-6, 1e6))
def test_a_finding_that_is_as_likely_either_way_changes_nothing(number: int, c: float) -> None:
    rng = random.Random(number)
    trade = random_trade(rng)
    evidence = random_evidence(rng, trade)
    untouched = {x: (c, c) for x in trade.components if x not in evidence.likelihoods}
    network = build_network(trade)
    more = Evidence(
        likelihoods={**evidence.likelihoods, **untouched}, signs_seen=evidence.signs_seen,
        signs_absent=evidence.signs_absent, told=evidence.told,
    )
    before, after = posterior(network, evidence), posterior(network, more)
    assert after.chance == pytest.approx(before.chance, abs=1e-12)
    assert after.scenario_chance == pytest.approx(before.scenario_chance, abs=1e-12)
    assert after.log_evidence == pytest.approx(before.log_evidence + len(untouched) * math.log(c), abs=1e-8)


@settings(max_examples=40)
@given(st.integers(0, 10**6))
def test_the_outcomes_of_a_group_of_signs_add_up_to_1_in_every_scenario(number: int) -> None:
    trade = random_trade(random.Random(number))
    scenarios = list_scenarios(trade)
    for group in {row.group for row in trade.signs.values()}:
        names = [row.id for row in trade.signs.values() if row.group == group]
        total = np.zeros(len(scenarios))
        for there in itertools.product((False, True), repeat=len(names)):
            seen = [name for name, t in zip(names, there, strict=True) if t]
            outcome = sign_likelihood(trade, scenarios, seen=seen, absent=[n for n in names if n not in seen])
            assert (outcome >= 0.0).all()
            total += outcome
        assert total == pytest.approx(np.ones(len(scenarios)))
        # A sign nobody looked for drops out: seen + not there = not asked.
        first, rest = names[0], names[1:]
        both = sign_likelihood(trade, scenarios, seen=[first, *rest], absent=[]) + sign_likelihood(
            trade, scenarios, seen=rest, absent=[first])
        assert both == pytest.approx(sign_likelihood(trade, scenarios, seen=rest, absent=[]))


@settings(max_examples=40)
@given(st.integers(0, 10**6))
def test_scenarios_and_chances_are_chances(number: int) -> None:
    rng = random.Random(number)
    trade = random_trade(rng)
    ours = posterior(build_network(trade), random_evidence(rng, trade))
    assert ours.scenario_chance.sum() == pytest.approx(1.0)
    assert len(ours.scenario_names) == len(set(ours.scenario_names)) == len(ours.scenario_chance)
    assert all(-1e-12 <= p <= 1.0 + 1e-12 for p in (*ours.chance.values(), *ours.cause_chance.values()))


def test_much_evidence_does_not_run_out_of_numbers() -> None:
    names = [f"part {i}" for i in range(60)]
    trade = make_trade(
        components=[component(name, 0.3) for name in names],
        knock_ons={(a, b): 0.2 for a, b in itertools.pairwise(names)},
    )
    network = build_network(trade)
    ours = posterior(network, Evidence(likelihoods={name: (1e-30, 2e-30) for name in names}))
    assert ours.chance["part 0"] > 0.3
    # hand-worked: the common factor of 1e-30 drops out of everything but the chance of the evidence.
    plain = posterior(network, Evidence(likelihoods={name: (1.0, 2.0) for name in names}))
    assert ours.chance == pytest.approx(plain.chance)
    assert ours.log_evidence == pytest.approx(plain.log_evidence + 60 * math.log(1e-30))
