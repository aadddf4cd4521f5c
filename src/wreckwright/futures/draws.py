"""Keyed random numbers: every uncertain thing has a stream of its own, found by name.

A stream belongs to (seed, purpose, key), for instance (7, "part state", "fork_tube_left"), and to nothing else. So
the same component gets the same draw in the same future whatever else stands in the record, in whatever order things
are asked for; two policies, or a record before and after one finding, are compared on the same futures. One shared
generator could not do that: one more draw would shift all that follow.

The streams are Philox4x64-10 (J. K. Salmon et al., "Parallel random numbers: as easy as 1, 2, 3", SC'11, 2011), a
counter-based generator: it turns (key, counter) into random bits, needs no warming up, and each key gives an
independent stream. The key is a BLAKE2b hash (RFC 7693) of the three parts, so it does not depend on Python's own,
salted `hash`. The bits are taken raw: numpy promises that the raw stream of a bit generator stays the same from
version to version, but not what its `Generator` methods make of it.
"""

from __future__ import annotations

import hashlib
import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int32]

PACE_LOG_SD = 0.25
PRICE_LEVEL_LOG_SD = 0.10
SALE_MARKET_LOG_SD = 0.08
SUPPLIER_DELAY_LOG_SD = 0.30
ATTENDANCE_LOGIT_SD = 0.40
ATTENDANCE_MEAN = 0.60
"""Spreads of what all jobs, parts and evenings of one machine share. Judgement: docs/decisions/keyed-draws.md.

Without shared factors 150 independent job times average out to a spread of 4 % of the total; one pace factor with a
log standard deviation of 0.25 makes it 26 %, which is what a workshop sees.
"""


def stream_key(*, seed: int, purpose: str, key: str) -> int:
    """The 128-bit Philox key of a stream: BLAKE2b over the three parts, each marked off by its length.

    >>> stream_key(seed=1, purpose="a", key="bc") != stream_key(seed=1, purpose="ab", key="c")
    True
    """
    parts = (str(int(seed)).encode(), purpose.encode(), key.encode())
    text = b"".join(len(part).to_bytes(4, "little") + part for part in parts)
    return int.from_bytes(hashlib.blake2b(text, digest_size=16, person=b"futures").digest(), "little")


def uniforms(*, seed: int, purpose: str, key: str, n: int) -> FloatArray:
    """`n` uniform numbers strictly between 0 and 1; entry `i` belongs to future `i`.

    The first `m` of `n` are the same as `m` asked for alone. All values are odd multiples of 2**-53 (52 random bits
    and a half), so 0 and 1 never occur and the inverse of any distribution function is finite; the smallest is
    2**-53, about 1.1e-16.

    Parameters: `seed` any whole number; `purpose` and `key` any text; `n` >= 0.
    Returns: float64 of shape [n]. Raises: ValueError if `n` is negative.
    Source: Salmon et al. 2011 (Philox4x64-10).

    >>> five = uniforms(seed=1, purpose="part state", key="rim_front", n=5)
    >>> bool((five[:3] == uniforms(seed=1, purpose="part state", key="rim_front", n=3)).all())
    True
    """
    if n < 0:
        raise ValueError(f"n = {n}: a stream cannot have fewer than 0 numbers; ask for 0 or more")
    bits = np.random.Philox(key=stream_key(seed=seed, purpose=purpose, key=key)).random_raw(n)
    bits >>= np.uint64(12)
    out: FloatArray = bits.astype(np.float64)
    out += 0.5
    out *= 2.0**-52
    return out


def normals(*, seed: int, purpose: str, key: str, n: int) -> FloatArray:
    """`n` standard normal numbers: the uniforms of the same stream through the inverse normal distribution function.

    So the first `m` of `n` are the same as `m` asked for alone, and a larger uniform is a larger normal. All are within
    +-8.3. Returns: float64 of shape [n]. Raises: as `uniforms`.

    >>> bool(abs(normals(seed=1, purpose="price", key="rim_front", n=10_000).mean()) < 0.04)
    True
    """
    from scipy.special import ndtri

    u = uniforms(seed=seed, purpose=purpose, key=key, n=n)
    return np.asarray(ndtri(u, out=u), dtype=np.float64)


@dataclass(frozen=True, kw_only=True)
class CommonFactors:
    """What everything on one machine shares: one draw a future. All arrays have shape [n].

    The four factors multiply and have median 1 (`pace`: the given median), so that they widen without shifting the
    middle; the means lie a little higher, for pace 3 %.
    """

    pace: FloatArray
    """Own working minutes are this many times those of the estimate; above 1 is slower."""
    attendance_permille: IntArray
    """Share of the planned minutes that is really worked, 1..1000."""
    price_level: FloatArray
    """What parts cost against the trade data's estimates. Quotes are certain and are not multiplied."""
    sale_market: FloatArray
    """What machines of this kind fetch at the time of the sale against today."""
    supplier_delay: FloatArray
    """Waits for parts against the trade data's estimates."""


def common_factors(
    *, seed: int, n: int, attendance: float = ATTENDANCE_MEAN, pace: float = 1.0
) -> CommonFactors:
    """One draw a future for pace, evenings really worked, price level, sale market and supplier delay.

    Pace, price level, sale market and supplier delay are log-normal with the spreads above. Attendance is logit-normal
    with mean `attendance` (to within 0.002; an attendance of 1 is taken as certain), rounded to whole permille, at
    least 1. The five are independent, each from its own stream.

    Parameters: `n` >= 0 futures; `attendance` mean share of the planned evenings that is worked, above 0, at most 1;
    `pace` median of the pace factor, above 0.
    Raises: ValueError outside these ranges. Source: judgement (docs/decisions/keyed-draws.md).

    >>> common = common_factors(seed=1, n=4000)
    >>> bool(590 < common.attendance_permille.mean() < 610)
    True
    """
    if not 0.0 < attendance <= 1.0:
        raise ValueError(f"attendance = {attendance}: a share above 0 and at most 1 is needed, such as 0.6")
    if not (0.0 < pace < math.inf):
        raise ValueError(f"pace = {pace}: a factor above 0 is needed, such as 1")

    def spread(key: str, log_sd: float) -> FloatArray:
        return np.exp(log_sd * normals(seed=seed, purpose="common", key=key, n=n))

    return CommonFactors(
        pace=pace * spread("pace", PACE_LOG_SD),
        attendance_permille=_attendance_permille(
            normals(seed=seed, purpose="common", key="attendance", n=n), attendance=attendance
        ),
        price_level=spread("price level", PRICE_LEVEL_LOG_SD),
        sale_market=spread("sale market", SALE_MARKET_LOG_SD),
        supplier_delay=spread("supplier delay", SUPPLIER_DELAY_LOG_SD),
    )


def _attendance_permille(z: FloatArray, *, attendance: float) -> IntArray:
    if attendance == 1.0:
        return np.full(z.shape, 1000, dtype=np.int32)
    # The mean of a logit-normal lies nearer to 1/2 than its median; this pushes the median out by the usual
    # probit-for-logit approximation, so that the mean comes out as asked.
    centre = math.log(attendance / (1.0 - attendance)) * math.sqrt(1.0 + math.pi / 8.0 * ATTENDANCE_LOGIT_SD**2)
    share = 1.0 / (1.0 + np.exp(-(centre + ATTENDANCE_LOGIT_SD * z)))
    return np.clip(np.rint(1000.0 * share), 1, 1000).astype(np.int32)
