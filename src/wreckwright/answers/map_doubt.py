"""Does the verdict stand if our map of damage is wrong, within the error it admits to?

The map of damage is judgement. Every future believes in one version of it, whose error common to all figures is a
known number `z`, standard normal before anything is found. A straight line through the worths of each option against
`z` tells which option would be best in a map moved by `z`; the share of the normal distribution in which that is
another one is the chance that a map its author might as well have written would have said something else.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import numpy.typing as npt

from wreckwright.answers.types import MapDoubt, OptionName
from wreckwright.answers.words import in_ten
from wreckwright.futures.scene import MAP_ERROR, Futures

FloatArray = npt.NDArray[np.float64]

RESTS_ON_THE_MAP_OVER = 0.2
"""Chance of another choice above which an answer says that it rests on the map (judgement)."""
SLICES = 400
"""Equally likely slices of the normal distribution in which the best option is asked for."""
LOOKS_NAMED = 3


def map_doubt(futures: Futures, worth: Mapping[OptionName, FloatArray], best: OptionName) -> MapDoubt | None:
    """None when the futures do not know which map they believe in. `worth`: option -> [F] minor units."""
    z = map_error(futures)
    if z is None:
        return None
    flip = flip_chance(z=z, worth=worth, best=best)
    looks = _dearest_suspects(futures)
    rests = flip > RESTS_ON_THE_MAP_OVER
    words = f"with the map of damage moved within its own error, another choice is best: {in_ten(flip)}"
    if rests:
        words = f"this rests on our guess of how much is damaged: {words}"
        if looks:
            words += f"; looking there first would settle most: {'; '.join(looks)}"
    return MapDoubt(flip_chance=flip, rests_on_it=rests, look_first=looks, words=words)


def map_error(futures: Futures) -> FloatArray | None:
    """[F] error of the map that each future believes in; None where it is not known or the same in all."""
    z = futures.drivers.get(MAP_ERROR)
    return None if z is None or np.ptp(z) == 0.0 else z


def flip_chance(*, z: FloatArray, worth: Mapping[OptionName, FloatArray], best: OptionName) -> float:
    """Chance, over standard normal `z`, that of the straight lines through the worths `best` is not on top.

    >>> z = np.array([-1.0, 0.0, 1.0])
    >>> carry, sell = np.array([2.0, 1.0, 0.0]), np.array([1.0, 1.0, 1.0])
    >>> flip_chance(z=z, worth={"carry_on": carry, "sell_as_it_stands": sell}, best="carry_on")
    0.5
    """
    from scipy.special import ndtri

    grid = ndtri((np.arange(SLICES) + 0.5) / SLICES)
    lines = {name: np.polyval(np.polyfit(z, values, 1), grid) for name, values in worth.items()}
    rivals = np.max([line for name, line in lines.items() if name != best], axis=0)
    return float((rivals > lines[best]).mean())


def _dearest_suspects(futures: Futures) -> tuple[str, ...]:
    """Hidden work by expected cost, dearest first, in words."""
    rebuild = futures.rebuild
    found = []
    for slot in rebuild.slots:
        if slot.kind == "follow_up":
            cost = slot.mean_minor + sum(rebuild.lines[line].sources[0].mean_minor for line in slot.lines)
            component = rebuild.components[slot.component]
            found.append((futures.damage.get(component, 0.0) * cost, slot.name))
    found.sort(key=lambda pair: (-pair[0], pair[1]))
    return tuple(name.split(" ", 1)[-1] for _, name in found[:LOOKS_NAMED])
