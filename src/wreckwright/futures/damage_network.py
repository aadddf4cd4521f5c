"""The damage network made ready for counting: the figures of the map laid out by component, version and scenario."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from wreckwright.errors import TradeDataError
from wreckwright.futures.damage_clusters import Plan, plan_clusters
from wreckwright.futures.damage_scenarios import Scenario, list_scenarios, scenario_priors, unknown
from wreckwright.trade.types import Band, Trade

FloatArray = npt.NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class Network:
    """The map made ready for counting, in K versions that differ in figures only. N nodes, S scenarios."""

    trade: Trade
    scenarios: tuple[Scenario, ...]
    nodes: tuple[str, ...]
    """Components in the order of the trade data, then latents."""
    n_components: int
    plan: Plan
    prior: FloatArray
    """[K, S]"""
    sound: FloatArray
    """[N, K, S] chance that the node is sound if no parent of it is bad."""
    keeps: Mapping[tuple[int, int], FloatArray]
    """(parent, node) -> [K, 1] chance that the node stays sound in spite of that bad parent."""

    @cached_property
    def place(self) -> dict[str, int]:
        return {name: i for i, name in enumerate(self.nodes)}


def build_network(
    trade: Trade, *, absent: frozenset[str] = frozenset(), logit_shift: Mapping[str, float] | None = None
) -> Network:
    """The network of a map, for machines without the `absent` components.

    `logit_shift` moves single figures on the logit scale; keys are those of `map_figures`. Shapes: one version, K = 1.
    Raises: TradeDataError if rows name what does not exist, knock-ons go round in a circle, or chances of causes add up
    to more than 1; ClusterTooLarge if knock-ons tie too many components together.

    >>> from wreckwright.trade.load import load_trade
    >>> bare = build_network(load_trade(), absent=frozenset({"radiator"}))
    >>> "radiator" in bare.nodes, bare.scenarios[0].name
    (False, 'only_worn')
    """
    return build_versions(trade, absent=absent, shifts={k: np.array([v]) for k, v in (logit_shift or {}).items()}, n=1)


def map_figures(trade: Trade) -> dict[str, Band]:
    """All chances of the map that carry a band, by key: `cause:a`, `wear:x`, `link:a>x`, `knock_on:x>y`.

    Raises: TradeDataError if a link or knock-on stands twice.

    >>> from wreckwright.trade.load import load_trade
    >>> "link:lowside_left>mirror_l" in map_figures(load_trade())
    True
    """
    figures: dict[str, Band] = {f"cause:{cause.id}": cause.chance for cause in trade.causes.values()}
    figures |= {f"wear:{component.id}": component.wear_chance for component in trade.components.values()}
    figures |= {f"wear:{latent}": band for latent, band in trade.latent_wear.items()}
    for link in trade.cause_links:
        _add_once(figures, f"link:{link.cause}>{link.component}", link.chance)
    for knock_on in trade.knock_ons:
        _add_once(figures, f"knock_on:{knock_on.if_bad}>{knock_on.then}", knock_on.chance)
    return figures


def build_versions(
    trade: Trade, *, absent: frozenset[str] = frozenset(), shifts: Mapping[str, FloatArray], n: int
) -> Network:
    """As `build_network`, in `n` versions at once: `shifts` maps keys of `map_figures` to [n] shifts in log-odds."""
    figures = map_figures(trade)
    for key in shifts:
        if key not in figures:
            raise unknown(key, "figure of the map", list(figures))
    none = np.zeros(n)

    def log_odds(key: str) -> FloatArray:
        return _logit(figures[key].mid) + shifts.get(key, none)

    components = tuple(name for name in trade.components if name not in absent)
    nodes = components + tuple(name for name in trade.latents if name not in absent)
    place = {name: i for i, name in enumerate(nodes)}
    known = {*trade.components, *trade.latents}
    scenarios = list_scenarios(trade)

    # One column for each cause at each severity, and a last one of "no cause" for scenarios with fewer than two.
    atoms = [(cause.id, i) for cause in trade.causes.values() for i in range(len(cause.severities))]
    column = {atom: i for i, atom in enumerate(atoms)}
    shift_of = np.array([trade.causes[cause].severities[i].logodds_shift for cause, i in atoms])
    columns_of = {
        cause.id: np.array([column[cause.id, i] for i in range(len(cause.severities))], dtype=np.intp)
        for cause in trade.causes.values()
    }
    spared = np.ones((len(nodes), n, len(atoms) + 1))
    for link in trade.cause_links:
        _check_row(f"link {link.cause} > {link.component}", ((link.cause, trade.causes), (link.component, known)))
        if link.component in place:
            columns = columns_of[link.cause]
            odds = log_odds(f"link:{link.cause}>{link.component}")
            spared[place[link.component]][:, columns] = _logistic(-(odds[:, None] + shift_of[columns]))
    unworn = np.ones((len(nodes), n, 1))
    for name in nodes:
        if f"wear:{name}" in figures:
            unworn[place[name], :, 0] = _logistic(-log_odds(f"wear:{name}"))
    first = np.array([_column(scenario, 0, column) for scenario in scenarios], dtype=np.intp)
    second = np.array([_column(scenario, 1, column) for scenario in scenarios], dtype=np.intp)
    sound = spared[:, :, first]
    sound *= spared[:, :, second]
    sound *= unworn

    keeps: dict[tuple[int, int], FloatArray] = {}
    parents: list[list[int]] = [[] for _ in nodes]
    for knock_on in trade.knock_ons:
        _check_row(f"knock-on {knock_on.if_bad} > {knock_on.then}", ((knock_on.if_bad, known), (knock_on.then, known)))
        if knock_on.if_bad in place and knock_on.then in place:
            parent, node = place[knock_on.if_bad], place[knock_on.then]
            parents[node].append(parent)
            keeps[parent, node] = _logistic(-log_odds(f"knock_on:{knock_on.if_bad}>{knock_on.then}"))[:, None]
    weights = {cause: _logistic(log_odds(f"cause:{cause}")) for cause in trade.causes}
    return Network(
        trade=trade, scenarios=scenarios, nodes=nodes, n_components=len(components),
        plan=plan_clusters(nodes, parents), prior=scenario_priors(trade, scenarios, weights) * np.ones((n, 1)),
        sound=sound, keeps=keeps,
    )


def _column(scenario: Scenario, i: int, column: Mapping[tuple[str, int], int]) -> int:
    if i < len(scenario.causes):
        return column[scenario.causes[i], scenario.severities[i]]
    return len(column)


def _add_once(figures: dict[str, Band], key: str, band: Band) -> None:
    if key in figures:
        raise TradeDataError(f"{key} stands twice in the map", allowed="one row each", do="Take out one of the two")
    figures[key] = band


def _check_row(row: str, names: Sequence[tuple[str, Mapping[str, object] | set[str]]]) -> None:
    for name, known in names:
        if name not in known:
            raise TradeDataError(
                f"{row}: {name} is not known", allowed="ids of causes, components and latents of the trade data",
                do="Correct the row in the links file or the model pack",
            )


def _logit(p: float) -> float:
    if not 0.0 <= p <= 1.0:
        raise TradeDataError(f"a chance of {p}", allowed="0 to 1", do="Correct the row of trade data")
    if p in (0.0, 1.0):
        return -math.inf if p == 0.0 else math.inf
    return math.log(p / (1.0 - p))


def _logistic(x: FloatArray) -> FloatArray:
    # exp of a large positive number is inf, and 1 / (1 + inf) is the 0 that is wanted.
    with np.errstate(over="ignore"):
        return np.asarray(1.0 / (1.0 + np.exp(-x)), dtype=np.float64)
