"""The damage network built a second time, node by node, for an exact engine of other people's making (pyagrum).

Nothing here comes from the program but the rows of the trade data: scenario list, priors, tables and evidence are made
anew from the written rules (docs/decisions/damage-network.md). Tables are written out in full; the engine's own
noisy-OR is not used. Signs are not put in by their formula but as the story behind it: for each group a node "one story
or several", a node for the hidden number that says how plainly the machine shows it, and one node for each sign.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

import pyagrum as gum

from wreckwright.futures.damage import Evidence
from wreckwright.trade.types import Trade

SHARE_OF_PAIRS = 0.15
ONE_STORY = 0.5
CAP = 30.0


@dataclass
class Believed:
    chance: dict[str, float]
    scenario: dict[str, float]
    log_evidence: float


def believed(trade: Trade, evidence: Evidence, absent: frozenset[str] = frozenset()) -> Believed:
    scenarios = _scenarios(trade)
    net = _net(trade, scenarios, evidence, absent)
    ratios = {x: r for x, r in _ratios(trade, evidence).items() if x not in absent}
    soft = dict(evidence.likelihoods)
    for x, r in ratios.items():
        pair = soft.get(x, (1.0, 1.0))
        soft[x] = (pair[0], pair[1] * r)
    correction = _inverse_z(net, scenarios, ratios)
    scale = _add_findings(net, {**{x: list(pair) for x, pair in soft.items()}, "scenario": correction})
    engine = gum.LazyPropagation(net)
    for x in (*soft, "scenario"):
        engine.addEvidence(f"found on {x}", 1)
    for name in evidence.signs_seen:
        engine.addEvidence(name, 1)
    for name in evidence.signs_absent:
        engine.addEvidence(name, 0)
    for hit in evidence.told:
        engine.addEvidence(f"told {hit}", 1)
    engine.makeInference()
    parts = [x for x in trade.components if x not in absent]
    scenario = engine.posterior("scenario").tolist()
    return Believed(
        chance={x: engine.posterior(x)[1] for x in parts},
        scenario={s.name: p for s, p in zip(scenarios, scenario, strict=True)},
        log_evidence=math.log(engine.evidenceProbability()) + scale,
    )


@dataclass
class _Scenario:
    name: str
    levels: dict[str, float]
    """Cause -> log-odds shift of its severity."""
    prior: float


def _scenarios(trade: Trade) -> list[_Scenario]:
    chance = {a: row.chance.mid for a, row in trade.causes.items()}
    partners: dict[str, set[str]] = {a: set() for a in chance}
    for a, row in trade.causes.items():
        for b in row.may_combine_with:
            partners[a].add(b)
            partners[b].add(a)
    found = [_Scenario("only_worn", {}, max(0.0, 1.0 - sum(chance.values())))]
    for a, row in trade.causes.items():
        alone = chance[a] * (1.0 - SHARE_OF_PAIRS if partners[a] else 1.0)
        for level in row.severities:
            weight = level.weight / sum(other.weight for other in row.severities)
            found.append(_Scenario(f"{a}/{level.name}", {a: level.logodds_shift}, alone * weight))
    for a, b in itertools.combinations(chance, 2):
        if b not in partners[a]:
            continue
        from_a = SHARE_OF_PAIRS * chance[a] * chance[b] / sum(chance[c] for c in partners[a])
        from_b = SHARE_OF_PAIRS * chance[b] * chance[a] / sum(chance[c] for c in partners[b])
        for one, other in itertools.product(trade.causes[a].severities, trade.causes[b].severities):
            weight = one.weight / sum(x.weight for x in trade.causes[a].severities)
            weight *= other.weight / sum(x.weight for x in trade.causes[b].severities)
            found.append(_Scenario(
                f"{a}/{one.name} + {b}/{other.name}", {a: one.logodds_shift, b: other.logodds_shift},
                (from_a + from_b) * weight,
            ))
    return found


def _net(trade: Trade, scenarios: list[_Scenario], evidence: Evidence, absent: frozenset[str]) -> gum.BayesNet:
    net = gum.BayesNet()
    net.add(gum.RangeVariable("scenario", "", 0, len(scenarios) - 1))
    total = sum(s.prior for s in scenarios)
    net.cpt("scenario").fillWith([s.prior / total for s in scenarios])
    nodes = [x for x in (*trade.components, *trade.latents) if x not in absent]
    for x in nodes:
        net.add(gum.RangeVariable(x, "", 0, 1))
        net.addArc("scenario", x)
    parents: dict[str, list[tuple[str, float]]] = {x: [] for x in nodes}
    for row in trade.knock_ons:
        if row.if_bad in parents and row.then in parents:
            parents[row.then].append((row.if_bad, row.chance.mid))
            net.addArc(row.if_bad, row.then)
    links: dict[str, dict[str, float]] = {x: {} for x in nodes}
    for link in trade.cause_links:
        if link.component in links:
            links[link.component][link.cause] = link.chance.mid
    for x in nodes:
        wear = trade.components[x].wear_chance.mid if x in trade.components else (
            trade.latent_wear[x].mid if x in trade.latent_wear else 0.0)
        sound = []
        for s in scenarios:
            stays = 1.0 - wear
            for a, shift in s.levels.items():
                stays *= 1.0 - _moved(links[x].get(a, 0.0), shift)
            sound.append(stays)
        flat = []
        # The engine's order: the node itself runs fastest, then the scenario, then each parent as it was joined.
        for states in itertools.product((0, 1), repeat=len(parents[x])):
            spared = 1.0
            for state, (_, p) in zip(reversed(states), parents[x], strict=True):
                spared *= 1.0 - p if state else 1.0
            for stays in sound:
                flat += [stays * spared, 1.0 - stays * spared]
        net.cpt(x).fillWith(flat)
    used = {trade.signs[name].group for name in (*evidence.signs_seen, *evidence.signs_absent)}
    for group in used:
        _add_signs(net, trade, scenarios, group)
    for hit in evidence.told:
        said = {row.cause: row.chance for row in trade.told if row.hit == hit}
        net.add(gum.RangeVariable(f"told {hit}", "", 0, 1))
        net.addArc("scenario", f"told {hit}")
        chances = []
        for s in scenarios:
            words = [said.get(a, said.get("only_worn", 0.0)) for a in (s.levels or ["only_worn"])]
            chances.append(sum(words) / len(words))
        net.cpt(f"told {hit}").fillWith([q for p in chances for q in (1.0 - p, p)])
    return net


def _add_signs(net: gum.BayesNet, trade: Trade, scenarios: list[_Scenario], group: str) -> None:
    signs = [row for row in trade.signs.values() if row.group == group]
    chances = {row.id: [_chance(s, row.chance_given_cause, row.chance_otherwise) for s in scenarios] for row in signs}
    cuts = sorted({0.0, 1.0, *(p for column in chances.values() for p in column)})
    pieces = list(itertools.pairwise(cuts))
    story, number = f"{group} one story", f"{group} hidden number"
    net.add(gum.RangeVariable(story, "", 0, 1))
    net.cpt(story).fillWith([1.0 - ONE_STORY, ONE_STORY])
    net.add(gum.RangeVariable(number, "", 0, len(pieces) - 1))
    net.cpt(number).fillWith([high - low for low, high in pieces])
    for row in signs:
        net.add(gum.RangeVariable(row.id, "", 0, 1))
        for parent in ("scenario", story, number):
            net.addArc(parent, row.id)
        flat = []
        for _, high in pieces:
            for one_story in (False, True):
                for p in chances[row.id]:
                    there = float(high <= p) if one_story else p
                    flat += [1.0 - there, there]
        net.cpt(row.id).fillWith(flat)


def _add_findings(net: gum.BayesNet, likelihoods: dict[str, list[float]]) -> float:
    """A child "found" of each node, with the likelihoods brought under 1 as its table; returns the log of the scale.

    The engine's own soft evidence is avoided: version 3.3.1 gives posteriors above 1 on some of these networks.
    """
    log_scale = 0.0
    for x, values in likelihoods.items():
        top = max(values)
        log_scale += math.log(top)
        net.add(gum.RangeVariable(f"found on {x}", "", 0, 1))
        net.addArc(x, f"found on {x}")
        net.cpt(f"found on {x}").fillWith([q for p in values for q in (1.0 - p / top, p / top)])
    return log_scale


def _inverse_z(net: gum.BayesNet, scenarios: list[_Scenario], ratios: dict[str, float]) -> list[float]:
    """1 / Z(scenario), by the engine: what the ratios alone would do to the scenarios."""
    if not ratios:
        return [1.0] * len(scenarios)
    alone = gum.BayesNet(net)
    scale = _add_findings(alone, {x: [1.0, r] for x, r in ratios.items()})
    engine = gum.LazyPropagation(alone)
    for x in ratios:
        engine.addEvidence(f"found on {x}", 1)
    engine.makeInference()
    moved = engine.posterior("scenario").tolist()
    whole = math.exp(scale) * engine.evidenceProbability()
    total = sum(s.prior for s in scenarios)
    return [s.prior / total / (whole * p) if s.prior > 0.0 else 1.0 for s, p in zip(scenarios, moved, strict=True)]


def _ratios(trade: Trade, evidence: Evidence) -> dict[str, float]:
    found: dict[str, float] = {}
    for x in trade.components:
        by_group: dict[str, list[float]] = {}
        for name in evidence.signs_seen:
            if x in trade.signs[name].component_ratio:
                by_group.setdefault(trade.signs[name].group, []).append(trade.signs[name].component_ratio[x])
        if by_group:
            found[x] = min(CAP, math.prod(max(several) for several in by_group.values()))
    return found


def _chance(scenario: _Scenario, given: dict[str, float], otherwise: float) -> float:
    chances = [given.get(a, otherwise) for a in scenario.levels]
    if not chances:
        return given.get("only_worn", otherwise)
    if len(chances) == 1:
        return chances[0]
    one, other = chances
    return max(one, other, 1.0 - (1.0 - one) * (1.0 - other) / (1.0 - otherwise))


def _moved(p: float, shift: float) -> float:
    return p if p in (0.0, 1.0) else p * math.exp(shift) / (1.0 - p + p * math.exp(shift))
