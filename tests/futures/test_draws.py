"""Keyed random numbers: the right generator, rightly keyed, with nothing leaking from one stream to another."""

from __future__ import annotations

import json
import statistics
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate, stats

from wreckwright.futures.draws import (
    ATTENDANCE_LOGIT_SD,
    common_factors,
    normals,
    stream_key,
    uniforms,
)

VECTORS = json.loads(
    (Path(__file__).parents[1] / "data" / "philox4x64_10_known_answers.json").read_text(encoding="utf-8")
)["vectors"]
WORD = 2**64


def philox4x64_10(counter: list[int], key: list[int]) -> list[int]:
    """The generator in plain whole numbers, as the paper describes it: ten rounds of multiply, cross and bump."""
    c, k = list(counter), list(key)
    for _ in range(10):
        high0, low0 = divmod(0xD2E7470EE14C6C93 * c[0], WORD)
        high1, low1 = divmod(0xCA5A826395121157 * c[2], WORD)
        c = [high1 ^ c[1] ^ k[0], low1, high0 ^ c[3] ^ k[1], low0]
        k = [(k[0] + 0x9E3779B97F4A7C15) % WORD, (k[1] + 0xBB67AE8584CAA73B) % WORD]
    return c


def words(texts: list[str]) -> list[int]:
    return [int(text, 16) for text in texts]


@pytest.mark.parametrize("vector", VECTORS)
def test_generator_gives_the_known_answers(vector: dict[str, list[str]]) -> None:
    counter, key, block = (words(vector[name]) for name in ("counter", "key", "block"))
    # published (Random123, kat_vectors, philox4x64 10)
    assert philox4x64_10(counter, key) == block
    # numpy's generator steps its counter before the first block, hence the minus one
    number = sum(word * WORD**i for i, word in enumerate(counter))
    generator = np.random.Philox(counter=(number - 1) % WORD**4, key=sum(word * WORD**i for i, word in enumerate(key)))
    assert generator.random_raw(4).tolist() == block


def test_uniforms_are_the_top_52_bits_of_the_keyed_generator() -> None:
    key = stream_key(seed=7, purpose="part state", key="fork_tube_left")
    low_high = [key % WORD, key // WORD]
    # independent (the plain generator above, counters 1, 2, 3)
    bits = [word for counter in (1, 2, 3) for word in philox4x64_10([counter, 0, 0, 0], low_high)]
    expected = [((word >> 12) * 2 + 1) / 2**53 for word in bits]
    assert uniforms(seed=7, purpose="part state", key="fork_tube_left", n=12).tolist() == expected


def test_a_stream_stays_what_it_was() -> None:
    # regression: the same record must give the same answer on the next machine and in the next version
    assert f"{stream_key(seed=1, purpose='part state', key='rim_front'):032x}" == "08d02953b939f9f3fe8862b177b6d4f5"


@given(
    seed=st.integers(0, 2**63 - 1),
    purpose=st.text(max_size=20),
    key=st.text(max_size=40),
    m=st.integers(0, 50),
    more=st.integers(0, 50),
)
def test_fewer_draws_are_the_first_of_more(seed: int, purpose: str, key: str, m: int, more: int) -> None:
    few = uniforms(seed=seed, purpose=purpose, key=key, n=m)
    many = uniforms(seed=seed, purpose=purpose, key=key, n=m + more)
    assert few.shape == (m,)
    assert (many[:m] == few).all()
    assert ((many > 0.0) & (many < 1.0)).all()
    assert (normals(seed=seed, purpose=purpose, key=key, n=m + more)[:m]
            == normals(seed=seed, purpose=purpose, key=key, n=m)).all()


def test_ends_of_the_range_are_never_reached() -> None:
    # hand-worked: 52 zero bits give half a step, 2**-53; 52 one bits give 1 - 2**-53, which is still below 1
    assert (0 + 0.5) * 2.0**-52 == 2.0**-53
    assert (np.float64(2**52 - 1) + 0.5) * 2.0**-52 == 1.0 - 2.0**-53 < 1.0


names = st.tuples(st.integers(0, 2**63 - 1), st.text(max_size=12), st.text(max_size=12))


@given(one=names, other=names)
def test_different_names_are_different_streams(one: tuple[int, str, str], other: tuple[int, str, str]) -> None:
    keys = [stream_key(seed=seed, purpose=purpose, key=key) for seed, purpose, key in (one, other)]
    assert (keys[0] == keys[1]) == (one == other)


@given(text=st.text(min_size=2, max_size=12), cut=st.integers(0, 12), other_cut=st.integers(0, 12))
def test_where_purpose_ends_and_key_begins_matters(text: str, cut: int, other_cut: int) -> None:
    cut, other_cut = min(cut, len(text)), min(other_cut, len(text))
    keys = [stream_key(seed=1, purpose=text[:at], key=text[at:]) for at in (cut, other_cut)]
    assert (keys[0] == keys[1]) == (cut == other_cut)


def test_other_draws_in_between_change_nothing() -> None:
    alone = uniforms(seed=3, purpose="price", key="radiator", n=100)
    before = [uniforms(seed=3, purpose="price", key=f"part {i}", n=1000) for i in range(5)]
    common_factors(seed=3, n=50)
    np.random.default_rng(0).random(10)
    assert (uniforms(seed=3, purpose="price", key="radiator", n=100) == alone).all()
    assert not any((stream[:100] == alone).any() for stream in before)


def test_each_stream_is_uniform() -> None:
    chances = []
    for i in range(300):
        counts = np.histogram(uniforms(seed=11, purpose="test", key=f"part {i}", n=2000), bins=20, range=(0, 1))[0]
        chances.append(stats.chisquare(counts).pvalue)
    # independent (scipy chi-square): if all streams are uniform, the 300 p-values are themselves uniform
    assert stats.kstest(chances, "uniform").pvalue > 0.01


def test_streams_with_neighbouring_names_are_independent() -> None:
    chances = []
    for i in range(200):
        one = uniforms(seed=11, purpose="test", key=f"part {i}", n=2000)
        other = uniforms(seed=11, purpose="test", key=f"part {i + 1}", n=2000)
        table = np.histogram2d(one, other, bins=6, range=[(0, 1), (0, 1)])[0]
        chances.append(stats.chi2_contingency(table).pvalue)
    # independent (scipy chi-square of 6 x 6 tables): p-values uniform if independent
    assert stats.kstest(chances, "uniform").pvalue > 0.01


def test_streams_of_neighbouring_seeds_are_independent() -> None:
    draws = np.array([normals(seed=seed, purpose="test", key="part", n=4000) for seed in range(60)])
    correlations = np.corrcoef(draws)[np.triu_indices(60, 1)]
    # hand-worked: 1770 correlations of sd 1/sqrt(4000) = 0.0158 each; 4.5 sd is passed by one pair in 150,000
    assert np.abs(correlations).max() < 4.5 / np.sqrt(4000)
    assert abs(correlations.std() * np.sqrt(4000) - 1.0) < 0.05


def test_normals_are_the_inverse_normal_of_the_uniforms() -> None:
    u = uniforms(seed=5, purpose="minutes", key="strip forks", n=200)
    # independent (Python's statistics.NormalDist)
    expected = [statistics.NormalDist().inv_cdf(float(x)) for x in u]
    assert normals(seed=5, purpose="minutes", key="strip forks", n=200) == pytest.approx(expected, abs=1e-9)


def test_negative_number_of_draws_is_refused() -> None:
    with pytest.raises(ValueError, match="n = -1: a stream cannot have fewer than 0"):
        uniforms(seed=1, purpose="a", key="b", n=-1)


def test_common_pace_spreads_the_whole_job_list_by_a_quarter() -> None:
    common = common_factors(seed=2, n=20_000)
    # hand-worked: coefficient of variation of a log-normal with log sd 0.25 is sqrt(exp(0.0625) - 1) = 0.2540;
    # 150 independent jobs alone would give 0.04
    assert common.pace.std() / common.pace.mean() == pytest.approx(0.2540, abs=0.006)
    assert np.median(common.pace) == pytest.approx(1.0, abs=0.01)


def test_common_factors_have_their_stated_middle_and_spread() -> None:
    common = common_factors(seed=2, n=20_000, pace=1.3)
    for factor, median, log_sd in (
        (common.pace, 1.3, 0.25),
        (common.price_level, 1.0, 0.10),
        (common.sale_market, 1.0, 0.08),
        (common.supplier_delay, 1.0, 0.30),
    ):
        logs = np.log(factor)
        assert logs.mean() == pytest.approx(np.log(median), abs=4 * log_sd / np.sqrt(20_000))
        assert logs.std() == pytest.approx(log_sd, rel=0.02)


def test_common_factors_are_independent_of_each_other() -> None:
    common = common_factors(seed=2, n=20_000)
    rows = np.array([
        common.pace, common.attendance_permille, common.price_level, common.sale_market, common.supplier_delay,
    ])
    assert np.abs(np.corrcoef(rows) - np.eye(5)).max() < 4.0 / np.sqrt(20_000)


@pytest.mark.parametrize("attendance", [0.05, 0.3, 0.6, 0.9, 0.97])
def test_attendance_has_the_mean_that_was_asked_for(attendance: float) -> None:
    permille = common_factors(seed=4, n=20_000, attendance=attendance).attendance_permille
    assert permille.dtype == np.int32
    assert permille.min() >= 1 and permille.max() <= 1000
    assert permille.mean() / 1000 == pytest.approx(attendance, abs=0.004)


@pytest.mark.parametrize("attendance", [0.05, 0.3, 0.6, 0.9, 0.97])
def test_mean_of_the_attendance_curve_by_quadrature(attendance: float) -> None:
    centre = np.log(attendance / (1 - attendance)) * np.sqrt(1 + np.pi / 8 * ATTENDANCE_LOGIT_SD**2)
    # independent (scipy quadrature of the logit-normal): the centring formula is good to 0.002
    mean, _ = integrate.quad(
        lambda z: stats.norm.pdf(z) / (1 + np.exp(-(centre + ATTENDANCE_LOGIT_SD * z))), -10, 10
    )
    assert mean == pytest.approx(attendance, abs=0.002)


def test_full_attendance_is_certain() -> None:
    assert set(common_factors(seed=4, n=50, attendance=1.0).attendance_permille.tolist()) == {1000}


def test_hardly_any_attendance_still_works_a_little() -> None:
    assert common_factors(seed=4, n=500, attendance=1e-6).attendance_permille.min() == 1


def test_learning_the_attendance_leaves_the_other_factors_alone() -> None:
    one, other = common_factors(seed=9, n=100), common_factors(seed=9, n=100, attendance=0.8)
    assert (one.pace == other.pace).all()
    assert (one.supplier_delay == other.supplier_delay).all()
    # and in every future, more of the evenings is more
    assert (one.attendance_permille <= other.attendance_permille).all()


@pytest.mark.parametrize("attendance", [0.0, -0.1, 1.2, float("nan")])
def test_attendance_outside_its_range_is_refused(attendance: float) -> None:
    with pytest.raises(ValueError, match="attendance = .*: a share above 0 and at most 1"):
        common_factors(seed=1, n=1, attendance=attendance)


@pytest.mark.parametrize("pace", [0.0, -1.0, float("inf"), float("nan")])
def test_pace_outside_its_range_is_refused(pace: float) -> None:
    with pytest.raises(ValueError, match="pace = .*: a factor above 0"):
        common_factors(seed=1, n=1, pace=pace)
