"""Sums over the components that hang together by knock-ons: exact, one scenario (and one map) beside the other.

Components without knock-ons are independent given the scenario. The others fall into clusters. A cluster's sum over all
its 2^n states is done one component at a time, children before parents (variable elimination: R. Dechter, "Bucket
elimination: a unifying framework for reasoning", Artificial Intelligence 113, 1999). Taking out a component leaves a
table over those it still hangs together with, its *neighbours*; on the packaged map that is never more than five, so no
table has more than 64 entries a scenario, where listing the states of the largest cluster would take 2^15.

Since parents come out after their children, going back over the same tables gives each component's chance *given those
before it* in an order in which parents come first: just what drawing whole machines needs.

All tables have one axis of length 2 (0 sound, 1 bad) for each component in them, earliest drawn first, and then [K, S]:
K maps and S scenarios.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from wreckwright.errors import TradeDataError

FloatArray = npt.NDArray[np.float64]

MOST_IN_A_TABLE = 10
"""Most components in one table: 2^10 entries for each of some 350 scenarios and 16 maps are 46 MB."""


class ClusterTooLarge(TradeDataError):
    """Knock-ons tie so many components together that the exact sum would not fit."""


@dataclass(frozen=True, kw_only=True)
class Step:
    """How one component is taken out of its cluster."""

    node: int
    parents: tuple[int, ...]
    neighbours: tuple[int, ...]
    """Those it still hangs together with once its children are out; parents are among them. Earliest drawn first."""


@dataclass(frozen=True, kw_only=True)
class Plan:
    """The knock-ons, made ready once for all maps and all evidence."""

    alone: tuple[int, ...]
    """Components without knock-ons."""
    clusters: tuple[tuple[Step, ...], ...]
    """Steps in the order of drawing: parents first. Summing goes the other way."""


@dataclass(frozen=True, kw_only=True)
class ClusterSum:
    """One cluster, summed. `given` has for each step the axes and the table of P(bad | axes, scenario, evidence)."""

    log_weight: FloatArray
    """[K, S] log of the chance of the evidence on the cluster, given the scenario."""
    given: tuple[tuple[tuple[int, ...], FloatArray], ...]


def plan_clusters(names: Sequence[str], parents: Sequence[Sequence[int]]) -> Plan:
    """Sort components into clusters and find the order of summing.

    `parents[i]` are the nodes whose being bad can make node `i` bad. Children first; among those, the one with the
    fewest neighbours (then by name, so that the order does not hang on the order of the rows).
    Raises: TradeDataError if knock-ons go round in a circle; ClusterTooLarge above `MOST_IN_A_TABLE`.

    >>> plan = plan_clusters(["tube", "stem", "head", "lamp"], [[], [0], [0, 1], []])
    >>> [step.node for step in plan.clusters[0]], plan.alone
    ([0, 1, 2], (3,))
    """
    near: list[set[int]] = [set() for _ in names]
    for node, above in enumerate(parents):
        family = {node, *above}
        for member in family:
            near[member] |= family - {member}
    seen: set[int] = set()
    alone: list[int] = []
    clusters: list[tuple[Step, ...]] = []
    for start in range(len(names)):
        if start in seen:
            continue
        members = _reach(start, near)
        seen |= members
        if len(members) == 1:
            alone.append(start)
        else:
            clusters.append(_order(members, names, parents, near))
    return Plan(alone=tuple(alone), clusters=tuple(clusters))


def sum_cluster(
    steps: Sequence[Step], *, sound: FloatArray, keeps: Mapping[tuple[int, int], FloatArray],
    pairs: Mapping[int, tuple[float, float]],
) -> ClusterSum:
    """Sum a cluster over all its states.

    `sound[node]` is [K, S], the chance that a component stays sound if none of its parents is bad;
    `keeps[parent, node]` is [K, 1], the chance that it stays sound in spite of that bad parent; `pairs[node]` the
    likelihoods of what was found on it (if sound, if bad), components without findings left out.
    """
    rows = sound.shape[1:]
    log_weight = np.zeros(rows)
    given: list[tuple[tuple[int, ...], FloatArray]] = []
    arriving: dict[int, list[tuple[tuple[int, ...], FloatArray]]] = {step.node: [] for step in steps}
    for step in reversed(steps):
        stays = _stays_sound(step, sound, keeps)
        messages = arriving[step.node]
        if step.node not in pairs and not messages:
            given.append((step.parents, 1.0 - stays))
            continue
        if_sound, if_bad = pairs.get(step.node, (1.0, 1.0))
        scale = max(if_sound, if_bad)
        # Neighbours only through a child on which nothing was found have no part in this table.
        present = {*step.parents, *(node for axes, _ in messages for node in axes)}
        scope = tuple(node for node in step.neighbours if node in present)
        as_sound = _spread(stays * (if_sound / scale), step.parents, scope)
        as_bad = _spread((1.0 - stays) * (if_bad / scale), step.parents, scope)
        for axes, message in messages:
            # The last axis of an arriving message is this step's own: axes are in the order of drawing.
            as_sound = as_sound * _spread(message[_last_axis(axes, step.node, 0)], axes[:-1], scope)
            as_bad = as_bad * _spread(message[_last_axis(axes, step.node, 1)], axes[:-1], scope)
        total = as_sound + as_bad
        with np.errstate(divide="ignore", invalid="ignore"):
            given.append((scope, np.where(total > 0.0, as_bad / total, 0.0)))
            # Each table is brought to a maximum of 1, so that much evidence cannot run into the smallest numbers.
            largest = total.max(axis=tuple(range(len(scope)))) if scope else total
            log_weight = log_weight + np.log(largest) + np.log(scale)
            if scope:
                arriving[scope[-1]].append((scope, np.where(largest > 0.0, total / largest, 0.0)))
    return ClusterSum(log_weight=log_weight, given=tuple(reversed(given)))


def cluster_chances(
    steps: Sequence[Step], summed: ClusterSum, scenario_chance: FloatArray
) -> dict[int, FloatArray]:
    """[K] chance of being bad of each component of a cluster, the scenarios weighted by `scenario_chance` [K, S]."""
    chance: dict[int, FloatArray] = {}
    joint: dict[int, tuple[tuple[int, ...], FloatArray]] = {}
    for step, (axes, bad) in zip(steps, summed.given, strict=True):
        scope = step.neighbours
        if scope:
            above_axes, above = joint[scope[-1]]
            drop = tuple(i for i, node in enumerate(above_axes) if node not in scope)
            before = above.sum(axis=drop) if drop else above
        else:
            before = scenario_chance
        as_bad = before * _spread(bad, axes, scope)
        chance[step.node] = as_bad.sum(axis=tuple(range(len(scope)))).sum(axis=-1)
        joint[step.node] = ((*scope, step.node), np.stack([before - as_bad, as_bad], axis=len(scope)))
    return chance


def _reach(start: int, near: Sequence[set[int]]) -> set[int]:
    members, stack = {start}, [start]
    while stack:
        for other in near[stack.pop()] - members:
            members.add(other)
            stack.append(other)
    return members


def _order(
    members: set[int], names: Sequence[str], parents: Sequence[Sequence[int]], near: Sequence[set[int]]
) -> tuple[Step, ...]:
    near_now = {node: set(near[node]) for node in members}
    children = {node: 0 for node in members}
    for node in members:
        for parent in parents[node]:
            children[parent] += 1
    left = set(members)
    taken: list[tuple[int, set[int]]] = []
    while left:
        free = [node for node in left if children[node] == 0]
        if not free:
            raise TradeDataError(
                f"knock-ons go round in a circle among {', '.join(sorted(names[node] for node in left))}",
                allowed="no component may bring about its own damage by a chain of others",
                do="Take one of these knock-ons out, or give the components a common parent",
            )
        node = min(free, key=lambda n: (len(near_now[n]), names[n]))
        around = near_now.pop(node)
        if len(around) + 1 > MOST_IN_A_TABLE:
            raise ClusterTooLarge(
                f"knock-ons tie {names[node]} together with {len(around)} others"
                f" ({', '.join(sorted(names[n] for n in around))})",
                allowed=f"at most {MOST_IN_A_TABLE} components in one table",
                do="Take out the weakest of these knock-ons in the model pack",
            )
        for other in around:
            near_now[other] |= around - {other}
            near_now[other].discard(node)
        for parent in parents[node]:
            children[parent] -= 1
        left.discard(node)
        taken.append((node, around))
    place = {node: -i for i, (node, _) in enumerate(taken)}
    return tuple(
        Step(
            node=node,
            parents=tuple(sorted(parents[node], key=place.__getitem__)),
            neighbours=tuple(sorted(around, key=place.__getitem__)),
        )
        for node, around in reversed(taken)
    )


def _stays_sound(
    step: Step, sound: FloatArray, keeps: Mapping[tuple[int, int], FloatArray]
) -> FloatArray:
    """P(sound | parents, scenario), one axis for each parent, then [K, S]."""
    product: FloatArray = np.ones((sound.shape[1], 1))
    for parent in step.parents:
        product = np.stack([product, product * keeps[parent, step.node]], axis=-3)
    stays: FloatArray = product * sound[step.node]
    return stays


def _spread(table: FloatArray, axes: tuple[int, ...], scope: tuple[int, ...]) -> FloatArray:
    """The table with an axis of length 1 for each component of `scope` that it does not have (both in one order)."""
    if axes == scope:
        return table
    spread: FloatArray = table[(*(slice(None) if node in axes else None for node in scope), ...)]
    return spread


def _last_axis(axes: tuple[int, ...], node: int, state: int) -> tuple[slice | int, ...]:
    assert axes[-1] == node
    return (*(slice(None) for _ in axes[:-1]), state)
