"""Three-point estimates and log-normal spreads: how a band of figures becomes a distribution."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from wreckwright.errors import WreckwrightError

FloatArray = npt.NDArray[np.float64]

Z90 = 1.2815515655446004
"""90 % point of the standard normal distribution."""

LEAST_SHARE_OF_LIKELY = 0.1
"""A `low` of nothing is read as this share of `likely` (judgement): the logarithm of 0 is no figure to draw from."""


@dataclass(frozen=True)
class LogNormal:
    """exp of a normal: `mu` mean and `sd` standard deviation of the logarithm (`sd` >= 0).

    >>> round(LogNormal(math.log(2.0), 0.5).median, 3)
    2.0
    """

    mu: float
    sd: float

    def __post_init__(self) -> None:
        if not (math.isfinite(self.mu) and math.isfinite(self.sd) and self.sd >= 0.0):
            raise ValueError(f"mu = {self.mu}, sd = {self.sd}: both must be finite numbers, sd 0 or more")

    @property
    def median(self) -> float:
        return math.exp(self.mu)

    @property
    def mean(self) -> float:
        return math.exp(self.mu + self.sd**2 / 2.0)

    def at(self, z: FloatArray) -> FloatArray:
        """Values at the standard normal numbers `z` (any shape)."""
        return np.exp(self.mu + self.sd * z)

    @property
    def low_high(self) -> tuple[float, float]:
        """The 10 % and the 90 % point."""
        return math.exp(self.mu - Z90 * self.sd), math.exp(self.mu + Z90 * self.sd)


@dataclass(frozen=True)
class SkewBand:
    """A log-normal with its own spread on either side of the median (two halves that meet there).

    10 %, 50 % and 90 % points are exactly the `low`, `likely` and `high` it was made from, however lopsided these are;
    if `likely` is the geometric middle of the other two it is a plain log-normal.
    """

    median: float
    log_sd_below: float
    log_sd_above: float

    def at(self, z: FloatArray) -> FloatArray:
        """Values at the standard normal numbers `z` (any shape); a larger `z` never gives a smaller value."""
        return self.median * np.exp(np.where(z < 0.0, self.log_sd_below, self.log_sd_above) * z)

    @property
    def mean(self) -> float:
        """Exact mean: each half contributes exp(s^2/2) times the normal mass that shifting by s leaves on its side."""
        below, above = self.log_sd_below, self.log_sd_above
        return self.median * (
            math.exp(below**2 / 2.0) * _phi(-below) + math.exp(above**2 / 2.0) * _phi(above)
        )


def lognormal_from_band(low: float, likely: float, high: float) -> SkewBand:
    """The distribution behind "low, likely, high": low and high are the 10 % and 90 % points, likely is the median.

    So one case in five is expected outside the band, one in ten on each side. Lopsided bands keep all three points
    (see `SkewBand`). A `low` under a tenth of `likely`, or 0, is read as a tenth of it. 0, 0, 0 is certainly nothing.

    Units: whatever the three have in common. Valid: 0 <= low <= likely <= high, all finite; likely above 0 if high is.
    Raises: WreckwrightError outside that. Source: common practice (10 % and 90 % points as the ends of a spoken
    band); the two-halved form is a choice of ours.

    >>> band = lognormal_from_band(60.0, 90.0, 240.0)
    >>> [round(float(x), 6) for x in band.at(np.array([-Z90, 0.0, Z90]))]
    [60.0, 90.0, 240.0]
    """
    if not (0.0 <= low <= likely <= high < math.inf):
        raise WreckwrightError(
            f"the band {low}, {likely}, {high} is out of order",
            "low <= likely <= high, none below 0",
            "Give the three figures in rising order",
        )
    if likely == 0.0:
        if high > 0.0:
            raise WreckwrightError(
                f"the band {low}, {likely}, {high} says that most likely it is nothing",
                "a likely figure above 0, or 0 for all three",
                "Give the figure you would bet on as likely",
            )
        return SkewBand(0.0, 0.0, 0.0)
    floor = max(low, LEAST_SHARE_OF_LIKELY * likely)
    return SkewBand(likely, math.log(likely / floor) / Z90, math.log(high / likely) / Z90)


def _phi(x: float) -> float:
    return 0.5 * math.erfc(-x / math.sqrt(2.0))
