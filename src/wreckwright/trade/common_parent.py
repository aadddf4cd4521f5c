"""Two parts that are usually bad together: a common parent in place of two parts that each blame the other.

"If one fork tube is bent, so is the other, three times in four" reads both ways, and two links that point at each other
are no network. The pair gets a common parent instead (a *latent*: no part of the machine, only a shared reason).
"""

from __future__ import annotations

from wreckwright.trade.types import Band


def split_pair(*, chance_one: float, chance_other: float, share_both: float) -> tuple[float, float, float]:
    """Chances of the common parent and of each part's own reason, such that both parts keep their chance.

    With `m` the smaller of the two chances, the parent is present with `c = s m / (1 - (1 - s) m)` and brings both
    parts down; each part besides has its own reason with `e = 1 - (1 - chance) / (1 - c)`. Then each part is bad with
    exactly its own chance, and where the two chances are equal (`p`) both are bad together with `p (s + (1 - s) p)`,
    that is: given one is bad, the other is bad by the link (`s`) or on its own account (`p`), a noisy-OR of the two.
    Asking instead for a chance of exactly `s p` that both are bad has no answer above `p = s`, where independent parts
    would already be bad together more often than that.

    Args (all 0..1, `chance_*` below 1 unless both are 1): `chance_one`, `chance_other` of each part being bad;
    `share_both` (`s`), how often the link drags the other along. Returns (parent, own reason of one, of the other).
    Source: arithmetic; the use of a common parent for a pair is judgement.

    >>> common, own, _ = split_pair(chance_one=0.2, chance_other=0.2, share_both=0.75)
    >>> common, own
    (0.15789474, 0.05)
    >>> both = common + (1 - common) * own * own
    >>> both, 0.2 * (0.75 + 0.25 * 0.2)
    (0.16, 0.16)
    """
    smaller = min(chance_one, chance_other)
    lone = (1.0 - share_both) * smaller
    common = share_both * smaller / (1.0 - lone) if smaller < 1.0 else 1.0

    def own(chance: float) -> float:
        if chance <= smaller:
            return lone
        return 1.0 - (1.0 - chance) / (1.0 - common) if common < 1.0 else 1.0

    return common, own(chance_one), own(chance_other)


def split_bands(*, one: Band, other: Band, share_both: float) -> tuple[Band, Band, Band]:
    """`split_pair` at low, mid and high. Each result is kept in order (low <= mid <= high).

    >>> common, own, _ = split_bands(one=Band(0.1, 0.2, 0.3), other=Band(0.1, 0.2, 0.3), share_both=0.75)
    >>> own
    Band(low=0.025, mid=0.05, high=0.075)
    """
    splits = [
        split_pair(chance_one=p, chance_other=q, share_both=share_both)
        for p, q in zip((one.low, one.mid, one.high), (other.low, other.mid, other.high), strict=True)
    ]
    common, own_one, own_other = (
        Band(min(low, mid), mid, max(mid, high)) for low, mid, high in zip(*splits, strict=True)
    )
    return common, own_one, own_other
