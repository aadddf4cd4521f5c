"""The damage network: from what happened and what was seen to the chance that each component is bad, exactly.

*The model.* One scenario is true (`damage_scenarios`). Given it, each component is bad or sound; with `wear` its chance
on an ordinary used machine, `p` the chance that a cause of the scenario makes it bad by itself (what comes by way of
other components not counted), moved by the severity's shift in log-odds, and `k` the chance that a bad component before
it takes it along,

    P(sound | scenario, parents) = (1 - wear) * prod over the causes of the scenario (1 - logistic(logit(p) + shift))
                                              * prod over the bad parents (1 - k)

(noisy-OR with wear as the leak). A `p` of 0 or 1 stays what it is at every severity. Latents are components that nobody
can look at; their wear is `Trade.latent_wear`, 0 where not given. Knock-ons form no circles. Components that the
machine does not have are left out with all their links.

*Evidence.* Findings on a component are two numbers: the chance of the finding if it is sound and if it is bad; only
their ratio matters, and findings on different components are independent given their states. Signs and what was told
weigh the scenarios. A sign seen may besides multiply the odds of components by a ratio `r`; since the scenario has been
weighed by the sign's own chance already, the ratios only move chances *within* each scenario:
P(states | scenario, signs) = P(states | scenario) * prod r / Z(scenario), Z the sum of the numerator over all states.

*The posterior* is exact: a sum over scenarios, and within each over the clusters of components that hang together by
knock-ons (`damage_clusters`).

Source of the noisy-OR: J. Pearl, "Probabilistic Reasoning in Intelligent Systems", 1988, section 4.3.2 (from memory).
All figures come from the trade data; the choices made here are written down in docs/decisions/damage-network.md.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from wreckwright.errors import AnswerError
from wreckwright.futures.damage_clusters import ClusterSum, ClusterTooLarge, cluster_chances, sum_cluster
from wreckwright.futures.damage_network import Network, build_network
from wreckwright.futures.damage_scenarios import (
    ONLY_WORN,
    component_ratios,
    sign_likelihood,
    told_likelihood,
    unknown,
)

__all__ = [
    "ClusterTooLarge", "Evidence", "ImpossibleEvidence", "Network", "Posterior", "Solved", "build_network", "posterior",
    "posterior_of", "solve",
]

FloatArray = npt.NDArray[np.float64]


class ImpossibleEvidence(AnswerError):
    """What was found cannot be, by the map: every scenario gives it chance 0."""


@dataclass(frozen=True, kw_only=True)
class Evidence:
    """What is known about the machine, as likelihoods."""

    likelihoods: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    """Component -> (chance of what was found on it if it is sound, if it is bad); any common factor drops out."""
    signs_seen: tuple[str, ...] = ()
    signs_absent: tuple[str, ...] = ()
    """Signs that were looked for and are not there."""
    told: tuple[str, ...] = ()
    """What the owner was told about what hit the machine (`Told.hit`)."""


@dataclass(frozen=True, kw_only=True)
class Solved:
    """A network with evidence, summed; what samples are drawn from. See `ClusterSum` for `clusters`."""

    network: Network
    scenario_chance: FloatArray
    """[K, S] given the evidence; each row adds up to 1."""
    log_evidence: FloatArray
    """[K] log of the chance of the evidence in each version; -inf where it is impossible."""
    alone_bad: FloatArray
    """[number of components alone, K, S] chance of being bad, given scenario and evidence."""
    clusters: tuple[ClusterSum, ...]
    chance: FloatArray
    """[N, K]"""

    def cause_chance(self, weights: FloatArray) -> dict[str, float]:
        """Cause (or `only_worn`) -> chance that it is part of what happened, versions weighted by `weights` [K]."""
        mixed = weights @ self.scenario_chance
        chance = {ONLY_WORN: 0.0, **dict.fromkeys(self.network.trade.causes, 0.0)}
        for scenario, value in zip(self.network.scenarios, mixed, strict=True):
            for cause in scenario.causes or (ONLY_WORN,):
                chance[cause] += float(value)
        return chance

    def component_chance(self, weights: FloatArray) -> dict[str, float]:
        """Component -> chance of being bad, versions weighted by `weights` [K]."""
        mixed = self.chance @ weights
        return {name: float(mixed[i]) for i, name in enumerate(self.network.nodes[: self.network.n_components])}


@dataclass(frozen=True, kw_only=True)
class Posterior:
    """What is believed about the machine, all evidence counted."""

    scenario_chance: FloatArray
    """[S]"""
    scenario_names: tuple[str, ...]
    cause_chance: Mapping[str, float]
    """Cause or `only_worn` -> chance that it is part of what happened (with pairs, these add up to more than 1)."""
    chance: Mapping[str, float]
    """Component -> chance that it is bad."""
    log_evidence: float
    """log of the chance of the evidence (findings up to the common factors of their likelihoods)."""
    solved: Solved = field(repr=False)
    version: int = 0
    """Which of the network's versions this is."""


def solve(network: Network, evidence: Evidence) -> Solved:
    """Sum the network over everything that is not known, in all its versions.

    Raises: ImpossibleEvidence if no scenario of any version allows the evidence; AnswerError if it names what does not
    exist or a likelihood is no likelihood.
    """
    pairs = _checked_pairs(network, evidence.likelihoods)
    ratios = {
        network.place[name]: (1.0, ratio)
        for name, ratio in component_ratios(network.trade, _known_signs(network, evidence.signs_seen)).items()
        if name in network.place
    }
    by_scenario = sign_likelihood(
        network.trade, network.scenarios, seen=evidence.signs_seen, absent=evidence.signs_absent
    ) * told_likelihood(network.trade, network.scenarios, evidence.told)
    both = {
        node: (pairs.get(node, (1.0, 1.0))[0], pairs.get(node, (1.0, 1.0))[1] * ratios.get(node, (1.0, 1.0))[1])
        for node in pairs.keys() | ratios.keys()
    }
    alone_bad, log_alone = _alone(network, both)
    clusters = tuple(
        sum_cluster(steps, sound=network.sound, keeps=network.keeps, pairs=both) for steps in network.plan.clusters
    )
    with np.errstate(divide="ignore"):
        log_weight = np.log(network.prior) + np.log(by_scenario) + log_alone
    for cluster in clusters:
        log_weight = log_weight + cluster.log_weight
    log_weight = log_weight - _log_ratio_sum(network, ratios)
    top = log_weight.max(axis=-1, keepdims=True)
    if not np.isfinite(top).any():
        raise _impossible(network, evidence)
    top = np.where(np.isfinite(top), top, 0.0)
    weight = np.exp(log_weight - top)
    total = weight.sum(axis=-1, keepdims=True)
    possible = total > 0.0
    scenario_chance = np.where(possible, weight / np.where(possible, total, 1.0), network.prior)
    with np.errstate(divide="ignore"):
        log_evidence = (np.log(total) + top)[:, 0]
    chance = np.empty((len(network.nodes), scenario_chance.shape[0]))
    chance[list(network.plan.alone)] = np.einsum("nks,ks->nk", alone_bad, scenario_chance)
    for steps, cluster in zip(network.plan.clusters, clusters, strict=True):
        for node, value in cluster_chances(steps, cluster, scenario_chance).items():
            chance[node] = value
    return Solved(
        network=network, scenario_chance=scenario_chance, log_evidence=log_evidence, alone_bad=alone_bad,
        clusters=clusters, chance=chance,
    )


def posterior(network: Network, evidence: Evidence) -> Posterior:
    """What to believe about the machine, all evidence counted; exact. Raises: as `solve`.

    >>> from wreckwright.trade.load import load_trade
    >>> network = build_network(load_trade())
    >>> scraped = posterior(network, Evidence(signs_seen=("one_side_scrape_left",)))
    >>> max(scraped.cause_chance, key=scraped.cause_chance.__getitem__)
    'lowside_left'
    >>> looked_at = posterior(network, Evidence(likelihoods={"mirror_l": (0.02, 0.95)}))
    >>> looked_at.chance["mirror_l"] > posterior(network, Evidence()).chance["mirror_l"]
    True
    """
    return posterior_of(solve(network, evidence))


def posterior_of(solved: Solved, *, version: int = 0) -> Posterior:
    """One version of a summed network, to be read by name."""
    one = np.zeros(solved.scenario_chance.shape[0])
    one[version] = 1.0
    return Posterior(
        scenario_chance=solved.scenario_chance[version],
        scenario_names=tuple(scenario.name for scenario in solved.network.scenarios),
        cause_chance=solved.cause_chance(one),
        chance=solved.component_chance(one),
        log_evidence=float(solved.log_evidence[version]),
        solved=solved,
        version=version,
    )


def _alone(network: Network, pairs: Mapping[int, tuple[float, float]]) -> tuple[FloatArray, FloatArray]:
    """Components without knock-ons: their chances given the scenario, and the log chance of the evidence on them."""
    alone = list(network.plan.alone)
    bad = 1.0 - network.sound[alone]
    log_weight = np.zeros(network.prior.shape)
    for i, node in enumerate(alone):
        if node in pairs:
            if_sound, if_bad = pairs[node]
            scale = max(if_sound, if_bad)
            as_bad = bad[i] * (if_bad / scale)
            total = as_bad + network.sound[node] * (if_sound / scale)
            with np.errstate(divide="ignore", invalid="ignore"):
                bad[i] = np.where(total > 0.0, as_bad / total, 0.0)
                log_weight += np.log(total) + math.log(scale)
    return bad, log_weight


def _log_ratio_sum(network: Network, ratios: Mapping[int, tuple[float, float]]) -> FloatArray:
    """[K, S] log Z: what the ratios of the signs alone would add to each scenario's weight."""
    if not ratios:
        return np.zeros(network.prior.shape)
    log_z = np.zeros(network.prior.shape)
    for node in network.plan.alone:
        if node in ratios:
            log_z += np.log(network.sound[node] + (1.0 - network.sound[node]) * ratios[node][1])
    for steps in network.plan.clusters:
        if any(step.node in ratios for step in steps):
            log_z += sum_cluster(steps, sound=network.sound, keeps=network.keeps, pairs=ratios).log_weight
    return log_z


def _checked_pairs(
    network: Network, likelihoods: Mapping[str, tuple[float, float]]
) -> dict[int, tuple[float, float]]:
    pairs: dict[int, tuple[float, float]] = {}
    components = network.nodes[: network.n_components]
    for name, (if_sound, if_bad) in likelihoods.items():
        if name not in network.place or network.place[name] >= network.n_components:
            if name in network.trade.components:
                raise AnswerError(
                    f"something was found on {name}, but a machine of this class does not have it",
                    allowed="findings on components that the machine has",
                    do="Strike out the finding, or say in the record that the machine has this component",
                )
            raise unknown(name, "component", components)
        if not (0.0 <= if_sound < math.inf and 0.0 <= if_bad < math.inf and if_sound + if_bad > 0.0):
            raise AnswerError(
                f"likelihood of what was found on {name} is ({if_sound}, {if_bad})",
                allowed="two numbers, 0 or more, not both 0", do="Look at the finding or the reading it comes from",
            )
        if if_sound != if_bad or if_sound != 1.0:
            pairs[network.place[name]] = (if_sound, if_bad)
    return pairs


def _known_signs(network: Network, seen: Sequence[str]) -> Sequence[str]:
    for name in seen:
        if name not in network.trade.signs:
            raise unknown(name, "sign", list(network.trade.signs))
    return seen


def _impossible(network: Network, evidence: Evidence) -> ImpossibleEvidence:
    """Say which single thing cannot be, if there is one."""
    blame = [Evidence(likelihoods={name: pair}) for name, pair in evidence.likelihoods.items() if 0.0 in pair]
    names = [f"what was found on {name}" for name, pair in evidence.likelihoods.items() if 0.0 in pair]
    for kind, items in (("seen", evidence.signs_seen), ("absent", evidence.signs_absent), ("told", evidence.told)):
        for item in items:
            blame.append(Evidence(
                signs_seen=(item,) if kind == "seen" else (), signs_absent=(item,) if kind == "absent" else (),
                told=(item,) if kind == "told" else (),
            ))
            names.append(f"{item} ({kind})")
    alone = []
    if len(blame) > 1:
        for name, single in zip(names, blame, strict=True):
            try:
                solve(network, single)
            except ImpossibleEvidence:
                alone.append(name)
    guilty = alone or names
    word = "by itself" if alone or len(names) == 1 else "taken together"
    return ImpossibleEvidence(
        f"the map holds what was found impossible {word}: {', '.join(guilty) or 'no scenario has any chance'}",
        allowed="findings that at least one scenario can bring about",
        do="Check these findings, or give one of them less than full certainty",
    )
