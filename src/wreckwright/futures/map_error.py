"""The map itself may be wrong: the same machine seen through several versions of the map.

Every chance of the map is a judgement with a band. In a version of the map each moves by its band on the logit scale:

    shift = sd * (sqrt(COMMON_SHARE) * c + sqrt(1 - COMMON_SHARE) * o)

with `c` one standard normal number for the whole version (the author saw things too black or too bright) and `o` one of
the figure's own; `sd` is read from the band, low and high being its 10 % and 90 % points, each side for itself. Chances
of causes have no common part: they compete for one machine, and what moves them all moves hardly anything. Figures of
exactly 0 or 1 do not move.

The `c` of the k versions are the middles of k equally likely slices of the normal distribution, stretched to variance
1: with so few versions luck would otherwise decide how wide the error looks. What was found on the machine speaks for
some versions more than for others: a version's weight is the chance of the evidence in it. The chances shown are the
weighted mean over the versions, and futures are shared out to versions by weight, so what is shown and what is played
agree.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import msgspec
import numpy as np
import numpy.typing as npt
from scipy.special import ndtri

from wreckwright.futures.band import Z90
from wreckwright.futures.damage import Evidence, Posterior, posterior_of, solve
from wreckwright.futures.damage_network import build_versions, map_figures
from wreckwright.futures.damage_sample import VERSION, Sampled, Uniform, draw, pick
from wreckwright.futures.draws import normals
from wreckwright.trade.types import Band, Trade

FloatArray = npt.NDArray[np.float64]

COMMON_SHARE = 0.6
"""Share of the variance of a figure's error that all figures of the map share. Judgement: one author, one eye."""
VERSIONS = 16
NEAREST_TO_CERTAIN = 1e-4
"""A band that reaches 0 or 1 is read as ending this far before it: on the logit scale the ends lie nowhere."""


@dataclass(frozen=True, kw_only=True)
class MapReplicates:
    """One machine through k versions of the map."""

    posteriors: tuple[Posterior, ...]
    weights: FloatArray
    """[k] chance of each version, the evidence counted; they add up to 1."""
    scenario_names: tuple[str, ...]
    scenario_chance: FloatArray
    """[S] mean over the versions; likewise the next two."""
    cause_chance: Mapping[str, float]
    chance: Mapping[str, float]
    log_evidence: float
    """log of the chance of the evidence, the mean over the versions."""


def map_replicates(
    trade: Trade, *, absent: frozenset[str] = frozenset(), evidence: Evidence, seed: int, k: int = VERSIONS
) -> MapReplicates:
    """The machine through `k` versions of the map; the same seed gives the same versions, whatever the evidence.

    Raises: ValueError if k < 1; as `build_network` and `solve` else.

    >>> from wreckwright.trade.load import load_trade
    >>> versions = map_replicates(load_trade(), evidence=Evidence(), seed=1, k=4)
    >>> versions.weights.tolist()  # nothing was found, so nothing speaks for any of them
    [0.25, 0.25, 0.25, 0.25]
    """
    if k < 1:
        raise ValueError(f"k = {k}: at least one version of the map is needed")
    common = common_numbers(k)
    shifts = {
        key: _shift(key, band, common, normals(seed=seed, purpose="map error", key=key, n=k))
        for key, band in map_figures(trade).items()
        if _moves(band)
    }
    solved = solve(build_versions(trade, absent=absent, shifts=shifts, n=k), evidence)
    top = solved.log_evidence.max()
    weights = np.exp(solved.log_evidence - top)
    log_evidence = float(top + math.log(weights.mean()))
    weights /= weights.sum()
    return MapReplicates(
        posteriors=tuple(posterior_of(solved, version=i) for i in range(k)),
        weights=weights,
        scenario_names=tuple(scenario.name for scenario in solved.network.scenarios),
        scenario_chance=weights @ solved.scenario_chance,
        cause_chance=solved.cause_chance(weights),
        chance=solved.component_chance(weights),
        log_evidence=log_evidence,
    )


def sample_with_map_error(replicates: MapReplicates, *, uniform: Uniform, n: int) -> Sampled:
    """Draw `n` machines, each from a version of the map drawn by weight. Raises: as `damage_sample.sample`."""
    u = uniform(VERSION, VERSION)
    if u.shape != (n,):
        raise ValueError(f"uniform({VERSION!r}, {VERSION!r}) gave shape {u.shape}; ({n},) is needed")
    version = pick(replicates.weights[None, :], np.zeros(n, dtype=np.int64), u)
    return draw(replicates.posteriors[0].solved, version=version, uniform=uniform, n=n)


def redraw_shifts(trade: Trade, *, seed: int, i: int) -> dict[str, float]:
    """Shifts in log-odds of the map's figures in redraw `i`: one whole other map its author might have written.

    Keys as `map_figures`; the common number is drawn, not sliced. Redraws are independent of each other and of the
    versions of `map_replicates`.
    """
    common = normals(seed=seed, purpose="map redraw, common", key=str(i), n=1)
    return {
        key: float(_shift(key, band, common, normals(seed=seed, purpose=f"map redraw {i}", key=key, n=1))[0])
        for key, band in map_figures(trade).items()
        if _moves(band)
    }


def redraw_trade(trade: Trade, *, seed: int, i: int) -> Trade:
    """The trade data with every chance of the map redrawn within its band; each band moves along with its middle.

    A network built from it equals one built from `trade` with `redraw_shifts`. Only chances of damage move (causes,
    links, knock-ons, wear); prices, times and chances of signs stay.

    >>> from wreckwright.trade.load import load_trade
    >>> trade = load_trade()
    >>> redraw_trade(trade, seed=1, i=0).cause_links != trade.cause_links
    True
    """
    shifts = redraw_shifts(trade, seed=seed, i=i)

    def moved(key: str, band: Band) -> Band:
        return _moved(band, shifts[key]) if key in shifts else band

    causes = {cause.id: moved(f"cause:{cause.id}", cause.chance) for cause in trade.causes.values()}
    # What the causes leave over for `only_worn` keeps its weight beside them, as in a network with shifts.
    left = max(0.0, 1.0 - sum(cause.chance.mid for cause in trade.causes.values()))
    scale = 1.0 / (left + sum(band.mid for band in causes.values()))
    replace = msgspec.structs.replace
    return replace(
        trade,
        causes={
            cause.id: replace(cause, chance=Band(*(min(1.0, scale * x) for x in _ends(causes[cause.id]))))
            for cause in trade.causes.values()
        },
        components={
            part.id: replace(part, wear_chance=moved(f"wear:{part.id}", part.wear_chance))
            for part in trade.components.values()
        },
        cause_links=tuple(
            replace(link, chance=moved(f"link:{link.cause}>{link.component}", link.chance))
            for link in trade.cause_links
        ),
        latent_wear={name: moved(f"wear:{name}", band) for name, band in trade.latent_wear.items()},
        knock_ons=tuple(
            replace(knock_on, chance=moved(f"knock_on:{knock_on.if_bad}>{knock_on.then}", knock_on.chance))
            for knock_on in trade.knock_ons
        ),
    )


def common_numbers(k: int) -> FloatArray:
    """[k] middles of k equally likely slices of the standard normal distribution, stretched to variance 1; ascending.

    >>> common_numbers(2).tolist()
    [-1.0, 1.0]
    """
    if k == 1:
        return np.zeros(1)
    middles = np.asarray(ndtri((np.arange(k) + 0.5) / k), dtype=np.float64)
    return np.asarray(middles / math.sqrt(float(np.mean(middles**2))))


def _shift(key: str, band: Band, common: FloatArray, own: FloatArray) -> FloatArray:
    """[n] shift of one figure in log-odds."""
    low = _log_odds(max(band.low, NEAREST_TO_CERTAIN))
    mid = _log_odds(band.mid)
    high = _log_odds(min(band.high, 1.0 - NEAREST_TO_CERTAIN))
    share = 0.0 if key.startswith("cause:") else COMMON_SHARE
    z = math.sqrt(share) * common + math.sqrt(1.0 - share) * own
    return np.where(z < 0.0, max(0.0, mid - low), max(0.0, high - mid)) / Z90 * z


def _moves(band: Band) -> bool:
    return 0.0 < band.mid < 1.0 and band.low < band.high


def _moved(band: Band, shift: float) -> Band:
    return Band(*(p if p in (0.0, 1.0) else 1.0 / (1.0 + math.exp(-(_log_odds(p) + shift))) for p in _ends(band)))


def _ends(band: Band) -> tuple[float, float, float]:
    return band.low, band.mid, band.high


def _log_odds(p: float) -> float:
    return math.log(p / (1.0 - p))
