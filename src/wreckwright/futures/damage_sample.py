"""Whole machines drawn from the posterior: which scenario, and which components are bad together.

Each future draws its version of the map, its scenario and each component by a uniform number of its own, found by name
(see `draws`), through the inverse of the exact distribution given all that has been drawn before it in that future. So

- the draws together follow the exact joint posterior, not only each component's own chance;
- what is found on one component changes the *chances* of others, never their numbers: a machine before and after a
  finding is compared on the same luck;
- the first futures of many are the same as few.

Components are drawn parents first. Bad is the low end of the uniform: a higher chance only ever turns sound into bad.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from wreckwright.futures.damage import Posterior, Solved

FloatArray = npt.NDArray[np.float64]
LongArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]

Uniform = Callable[[str, str], FloatArray]
"""(purpose, key) -> [F] uniform numbers strictly between 0 and 1, the same whenever asked for by the same name."""

SCENARIO = "scenario"
"""Purpose (and key) of the number that picks the scenario."""
VERSION = "map version"
"""Purpose (and key) of the number that picks the version of the map."""
PART_STATE = "part state"
"""Purpose of the numbers that make components and latents bad or sound; the key is the component's id."""


@dataclass(frozen=True, kw_only=True)
class Sampled:
    """F machines."""

    scenario: LongArray
    """[F] index into `Posterior.scenario_names`."""
    bad: Mapping[str, BoolArray]
    """Component -> [F]"""
    version: LongArray
    """[F] which version of the map each future believes in; 0 throughout for a single posterior."""


def sample(posterior: Posterior, *, uniform: Uniform, n: int) -> Sampled:
    """Draw `n` machines from one posterior.

    Raises: ValueError if `uniform` does not give `n` numbers.

    >>> from wreckwright.futures.damage import Evidence, build_network, posterior
    >>> from wreckwright.futures.draws import uniforms
    >>> from wreckwright.trade.load import load_trade
    >>> ours = posterior(build_network(load_trade()), Evidence(likelihoods={"mirror_l": (0.0, 1.0)}))
    >>> machines = sample(ours, uniform=lambda purpose, key: uniforms(seed=1, purpose=purpose, key=key, n=100), n=100)
    >>> int(machines.bad["mirror_l"].sum())
    100
    """
    return draw(posterior.solved, version=np.full(n, posterior.version, dtype=np.int64), uniform=uniform, n=n)


def draw(solved: Solved, *, version: LongArray, uniform: Uniform, n: int) -> Sampled:
    """Draw `n` machines, future `i` from version `version[i]` of the map. Raises: as `sample`."""
    network = solved.network
    n_scenarios = len(network.scenarios)
    scenario = pick(solved.scenario_chance, version, _numbers(uniform, SCENARIO, SCENARIO, n))
    row = version * n_scenarios + scenario
    drawn: dict[int, BoolArray] = {}
    for node, table in zip(network.plan.alone, solved.alone_bad, strict=True):
        drawn[node] = _numbers(uniform, PART_STATE, network.nodes[node], n) < table.ravel()[row]
    for steps, cluster in zip(network.plan.clusters, solved.clusters, strict=True):
        for step, (axes, table) in zip(steps, cluster.given, strict=True):
            entry = row
            stride = solved.scenario_chance.size
            for before in reversed(axes):
                entry = entry + stride * drawn[before]
                stride *= 2
            drawn[step.node] = _numbers(uniform, PART_STATE, network.nodes[step.node], n) < table.ravel()[entry]
    return Sampled(
        scenario=scenario,
        bad={name: drawn[i] for i, name in enumerate(network.nodes[: network.n_components])},
        version=version,
    )


def pick(chances: FloatArray, row: LongArray, u: FloatArray) -> LongArray:
    """[F] column drawn in row `row[i]` of `chances` [K, S] (each row adds up to 1) by the uniform number `u[i]`.

    >>> pick(np.array([[0.25, 0.0, 0.75]]), np.array([0, 0]), np.array([0.2, 0.3])).tolist()
    [0, 2]
    """
    upto = np.cumsum(chances, axis=-1)
    # One ascending line through all rows, row k between k and k + 1, so that one search serves them all.
    last = chances.shape[1] - 1 - np.argmax(chances[:, ::-1] > 0.0, axis=-1)
    line = (upto / upto[:, -1:] + np.arange(chances.shape[0])[:, None]).ravel()
    found = np.searchsorted(line, row + u, side="right") - row * chances.shape[1]
    return np.asarray(np.clip(found, 0, last[row]), dtype=np.int64)


def _numbers(uniform: Uniform, purpose: str, key: str, n: int) -> FloatArray:
    u = uniform(purpose, key)
    if u.shape != (n,):
        raise ValueError(f"uniform({purpose!r}, {key!r}) gave shape {u.shape}; ({n},) is needed")
    return u
