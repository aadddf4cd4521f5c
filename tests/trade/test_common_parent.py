"""A pair of parts that are usually bad together."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wreckwright.trade.common_parent import split_bands, split_pair
from wreckwright.trade.types import Band

chances = st.floats(0.0, 0.999)
shares = st.floats(0.0, 1.0)


def bad_by_listing(common: float, own_one: float, own_other: float) -> tuple[float, float, float]:
    """(one bad, other bad, both bad) by listing all eight states; shares nothing with the code under test."""
    one = other = both = 0.0
    for parent, a, b in itertools.product((False, True), repeat=3):
        weight = common if parent else 1 - common
        weight *= (own_one if a else 1 - own_one) * (own_other if b else 1 - own_other)
        one += weight * (parent or a)
        other += weight * (parent or b)
        both += weight * ((parent or a) and (parent or b))
    return one, other, both


def test_two_tubes_of_one_fork_by_hand() -> None:
    # hand-worked: p = 0.2, s = 0.75. Parent c = 0.75 * 0.2 / (1 - 0.25 * 0.2) = 0.15 / 0.95; own e = 0.25 * 0.2 = 0.05.
    # One tube: 1 - (1 - 0.15/0.95) * 0.95 = 1 - 0.95 + 0.15 = 0.2. Both: 0.15/0.95 + (0.8/0.95) * 0.05^2 = 0.16.
    common, own_one, own_other = split_pair(chance_one=0.2, chance_other=0.2, share_both=0.75)
    assert common == pytest.approx(0.15 / 0.95, abs=1e-15)
    assert own_one == own_other == pytest.approx(0.05, abs=1e-15)
    assert bad_by_listing(common, own_one, own_other) == pytest.approx((0.2, 0.2, 0.16), abs=1e-15)


@given(one=chances, other=chances, share=shares)
def test_each_part_keeps_its_chance_and_all_results_are_chances(one: float, other: float, share: float) -> None:
    split = split_pair(chance_one=one, chance_other=other, share_both=share)
    assert all(-1e-12 <= chance <= 1 + 1e-12 for chance in split)
    kept_one, kept_other, both = bad_by_listing(*split)
    assert kept_one == pytest.approx(one, abs=1e-9)
    assert kept_other == pytest.approx(other, abs=1e-9)
    # hand-worked bounds: never less often together than independent parts, never oftener than the rarer one.
    assert one * other - 1e-9 <= both <= min(one, other) + 1e-9


@given(chance=chances, share=shares)
def test_given_one_is_bad_the_other_is_bad_by_the_link_or_on_its_own(chance: float, share: float) -> None:
    _, _, both = bad_by_listing(*split_pair(chance_one=chance, chance_other=chance, share_both=share))
    # hand-worked: P(both) = p (s + (1 - s) p), the noisy-OR of link and own chance times p.
    assert both == pytest.approx(chance * (1 - (1 - share) * (1 - chance)), abs=1e-9)


@pytest.mark.parametrize(("share", "together"), [(0.0, 0.09), (1.0, 0.3)])
def test_no_link_means_independent_and_a_sure_link_means_always_together(share: float, together: float) -> None:
    # hand-worked: 0.3 * 0.3 without a link; 0.3 with a sure one.
    assert bad_by_listing(*split_pair(chance_one=0.3, chance_other=0.3, share_both=share))[2] == pytest.approx(together)


def test_two_sure_parts_stay_sure() -> None:
    # hand-worked: both bad for certain.
    assert bad_by_listing(*split_pair(chance_one=1.0, chance_other=1.0, share_both=0.75))[:2] == (1.0, 1.0)


@given(ends=st.lists(st.floats(0.0, 0.99), min_size=6, max_size=6), share=shares)
def test_bands_stay_in_order(ends: list[float], share: float) -> None:
    one, other = Band(*sorted(ends[:3])), Band(*sorted(ends[3:]))
    for band in split_bands(one=one, other=other, share_both=share):
        assert 0.0 <= band.low <= band.mid <= band.high <= 1.0
