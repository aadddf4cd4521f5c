"""What may have happened to the machine, how likely each was beforehand, and how well it explains what was seen.

A scenario is one of: `only_worn`; one cause at one of its severities; an allowed pair of causes, each at one of its
severities. Two causes may come together when either names the other in `may_combine_with`. Just one scenario is true.

*Before anything is known.* `Cause.chance` is the chance that the cause is what brought the machine down; what the
causes leave over of 1 is `only_worn`. A cause that has partners gives `PAIR_SHARE` of its chance to its pairs, spread
over the partners in proportion to theirs; a pair so gets a little from each side. Severities are independent, by their
weights.

*Signs.* The signs of one group tell one story, so the group is one categorical variable: which of the signs that were
looked for are there. With q_k the chance of sign k in the scenario, S the signs seen and A those looked for and not
there, the chance of just that outcome is

    ONE_STORY * max(0, min over S of q_k - max over A of q_k)
    + (1 - ONE_STORY) * prod over S of q_k * prod over A of (1 - q_k)

(an empty min is 1, an empty max 0). The first term is the story told all at once: one hidden number between 0 and 1
says how plainly the machine shows it, and sign k is there when that number is under q_k; so a second sign of the same
story adds nothing unless it was less to be expected than the first. The second term is signs that come and go by
themselves. Over all outcomes the chances add up to 1 in every scenario; signs that nobody looked for drop out exactly;
one sign alone counts with its own chance.

*Two causes at once* show a sign if either does: noisy-OR with what would be seen anyway (`chance_otherwise`) counted
once, and never less than the larger of the two.

*What the owner was told* (`Trade.told`) is one word out of a list, "unknown" among them, whose chances add up to 1 for
each cause. With two causes the teller names either, half and half. Several words are several tellers, independent given
the scenario; nothing told says nothing.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches

import numpy as np
import numpy.typing as npt

from wreckwright.errors import AnswerError, TradeDataError
from wreckwright.trade.types import Cause, Trade

FloatArray = npt.NDArray[np.float64]

ONLY_WORN = "only_worn"
PAIR_SHARE = 0.15
"""Share of a cause's chance that goes to its pairs. Judgement: about one machine in seven has a second story."""
ONE_STORY = 0.5
"""How far the signs of a group are one story (1) or several (0). Judgement; see docs/decisions/damage-network.md."""
RATIO_CAP = 30.0
"""Most that signs together may multiply the odds of one component (judgement, against counting one mark twice)."""


@dataclass(frozen=True, kw_only=True)
class Scenario:
    """What happened: no cause (`only_worn`), one or two, each with the index of its severity."""

    causes: tuple[str, ...] = ()
    severities: tuple[int, ...] = ()
    name: str = ONLY_WORN


def list_scenarios(trade: Trade) -> tuple[Scenario, ...]:
    """All scenarios of the map: `only_worn`, then single causes, then allowed pairs, in the order of the trade data."""
    found = [Scenario()]
    for cause in trade.causes.values():
        found += [_scenario((cause,), (i,)) for i in range(len(cause.severities))]
    for first, second in allowed_pairs(trade):
        a, b = trade.causes[first], trade.causes[second]
        found += [_scenario((a, b), (i, j)) for i in range(len(a.severities)) for j in range(len(b.severities))]
    return tuple(found)


def allowed_pairs(trade: Trade) -> tuple[tuple[str, str], ...]:
    """Pairs of causes that may come together, each once, the one that stands first in the trade data first."""
    place = {cause: i for i, cause in enumerate(trade.causes)}
    pairs: set[tuple[int, int]] = set()
    for cause in trade.causes.values():
        for partner in cause.may_combine_with:
            if partner not in place or partner == cause.id:
                wrong = "itself" if partner == cause.id else "unknown"
                raise TradeDataError(
                    f"cause {cause.id} may combine with {partner}, which is {wrong}",
                    allowed=f"causes are: {', '.join(trade.causes)}",
                    do="Correct may_combine_with in the causes file or the model pack",
                )
            pairs.add((min(place[cause.id], place[partner]), max(place[cause.id], place[partner])))
    names = tuple(trade.causes)
    return tuple((names[a], names[b]) for a, b in sorted(pairs))


def scenario_priors(
    trade: Trade, scenarios: Sequence[Scenario], cause_weight: Mapping[str, FloatArray]
) -> FloatArray:
    """[K, S] chance of each scenario before anything is known, in K maps; each row adds up to 1.

    `cause_weight` maps every cause to its [K] weight in each map: its chance, or its chance moved within its band. The
    weight of `only_worn` is what the unmoved chances leave over of 1, in every map.
    """
    total = sum(cause.chance.mid for cause in trade.causes.values())
    if total > 1.0 + 1e-9:
        raise TradeDataError(
            f"the chances of the causes add up to {total:.4g}", allowed="at most 1; what is left is `only_worn`",
            do="Lower Cause.chance in the causes file or the model pack",
        )
    partners: dict[str, set[str]] = defaultdict(set)
    for a, b in allowed_pairs(trade):
        partners[a].add(b)
        partners[b].add(a)
    beside = {cause: _add([cause_weight[p] for p in sorted(names)]) for cause, names in partners.items()}
    by_causes: dict[tuple[str, ...], FloatArray] = {}
    maps = next(iter(cause_weight.values())).shape if cause_weight else (1,)
    by_causes[()] = np.full(maps, max(0.0, 1.0 - total))
    for cause, weight in cause_weight.items():
        paired = np.where(beside[cause] > 0.0, PAIR_SHARE, 0.0) if cause in beside else np.zeros(maps)
        by_causes[(cause,)] = weight * (1.0 - paired)
    for a, b in allowed_pairs(trade):
        with np.errstate(divide="ignore", invalid="ignore"):
            part = cause_weight[a] * cause_weight[b] * (1.0 / beside[a] + 1.0 / beside[b])
        by_causes[(a, b)] = np.where(np.isfinite(part), PAIR_SHARE * part, 0.0)
    severity = np.array([_severity_weight(trade, scenario) for scenario in scenarios])
    prior = np.stack([by_causes[scenario.causes] for scenario in scenarios], axis=-1) * severity
    return np.asarray(prior / prior.sum(axis=-1, keepdims=True))


def sign_likelihood(
    trade: Trade, scenarios: Sequence[Scenario], *, seen: Sequence[str], absent: Sequence[str]
) -> FloatArray:
    """[S] chance of what was seen and not seen, given each scenario (formula in the module's text).

    Raises: AnswerError if a sign is unknown, or both seen and not there.
    """
    for name in (*seen, *absent):
        _require(name, trade.signs, "sign")
    both = sorted(set(seen) & set(absent))
    if both:
        raise AnswerError(
            f"sign {both[0]} is given as seen and as not there", allowed="one of the two",
            do="Strike out one of the two in the record",
        )
    groups: dict[str, tuple[list[FloatArray], list[FloatArray]]] = defaultdict(lambda: ([], []))
    for part, signs in enumerate((seen, absent)):
        for name in dict.fromkeys(signs):
            sign = trade.signs[name]
            groups[sign.group][part].append(
                _by_scenario(scenarios, sign.chance_given_cause, sign.chance_otherwise)
            )
    likelihood = np.ones(len(scenarios))
    for there, missing in groups.values():
        least, most = np.ones(len(scenarios)), np.zeros(len(scenarios))
        apart = np.ones(len(scenarios))
        for chance in there:
            least, apart = np.minimum(least, chance), apart * chance
        for chance in missing:
            most, apart = np.maximum(most, chance), apart * (1.0 - chance)
        likelihood *= ONE_STORY * np.maximum(0.0, least - most) + (1.0 - ONE_STORY) * apart
    return likelihood


def told_likelihood(trade: Trade, scenarios: Sequence[Scenario], told: Sequence[str]) -> FloatArray:
    """[S] chance that just these words are said about what hit the machine, given each scenario.

    A cause for which the trade data has no row of that word counts as `only_worn` does.
    Raises: AnswerError if a word is unknown.
    """
    rows: dict[str, dict[str, float]] = defaultdict(dict)
    for row in trade.told:
        rows[row.hit][row.cause] = row.chance
    likelihood = np.ones(len(scenarios))
    for hit in dict.fromkeys(told):
        _require(hit, rows, "word for what hit the machine")
        otherwise = rows[hit].get(ONLY_WORN, 0.0)
        likelihood *= [
            sum(rows[hit].get(cause, otherwise) for cause in scenario.causes or (ONLY_WORN,))
            / max(1, len(scenario.causes))
            for scenario in scenarios
        ]
    return likelihood


def component_ratios(trade: Trade, seen: Sequence[str]) -> dict[str, float]:
    """Component -> factor on its odds from the signs seen: the largest of each group, multiplied over groups, capped.

    Raises: TradeDataError if a ratio is not above 0.
    """
    largest: dict[tuple[str, str], float] = {}
    for name in seen:
        sign = trade.signs[name]
        for component, ratio in sign.component_ratio.items():
            if not 0.0 < ratio < np.inf:
                raise TradeDataError(
                    f"sign {name}: ratio {ratio} for {component}", allowed="a number above 0",
                    do="Correct component_ratio in the signs file or the model pack",
                )
            key = (sign.group, component)
            largest[key] = max(ratio, largest.get(key, 0.0))
    product: dict[str, float] = {}
    for (_, component), ratio in largest.items():
        product[component] = product.get(component, 1.0) * ratio
    return {component: min(ratio, RATIO_CAP) for component, ratio in product.items()}


def unknown(name: str, kind: str, known: Sequence[str]) -> AnswerError:
    """The error for a name that the trade data does not have, with the nearest ones."""
    near = get_close_matches(name, known, n=3, cutoff=0.5)
    return AnswerError(
        f"{kind} {name!r} is not known here",
        allowed=f"nearest names: {', '.join(near)}" if near else f"one of: {', '.join(sorted(known)[:40])}",
        do="Correct the name",
    )


def _require(name: str, known: Mapping[str, object], kind: str) -> None:
    if name not in known:
        raise unknown(name, kind, list(known))


def _scenario(causes: tuple[Cause, ...], severities: tuple[int, ...]) -> Scenario:
    name = " + ".join(f"{c.id}/{c.severities[i].name}" for c, i in zip(causes, severities, strict=True))
    return Scenario(causes=tuple(c.id for c in causes), severities=severities, name=name)


def _severity_weight(trade: Trade, scenario: Scenario) -> float:
    weight = 1.0
    for cause, i in zip(scenario.causes, scenario.severities, strict=True):
        severities = trade.causes[cause].severities
        weight *= severities[i].weight / sum(severity.weight for severity in severities)
    return weight


def _by_scenario(scenarios: Sequence[Scenario], given: Mapping[str, float], otherwise: float) -> FloatArray:
    """[S] chance of a sign; one value per set of causes, as severities do not enter."""
    by_causes: dict[tuple[str, ...], float] = {}
    for scenario in scenarios:
        if scenario.causes not in by_causes:
            chances = [given.get(cause, otherwise) for cause in scenario.causes or (ONLY_WORN,)]
            by_causes[scenario.causes] = _either(chances, otherwise)
    return np.array([by_causes[scenario.causes] for scenario in scenarios])


def _either(chances: Sequence[float], otherwise: float) -> float:
    if len(chances) == 1 or otherwise >= 1.0:
        return max(chances)
    neither = float(np.prod([1.0 - chance for chance in chances])) / (1.0 - otherwise) ** (len(chances) - 1)
    return max(*chances, 1.0 - neither)


def _add(arrays: Sequence[FloatArray]) -> FloatArray:
    total: FloatArray = np.stack(arrays).sum(axis=0)
    return total
