"""The model of dependent strides against dense matrices, and its intervals against the truth of simulated walks."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import stdtrit

from bench.coverage import DESIGNS, draw, kept, rejected
from firstrocker.study.dependence import BOUT_SHARE, RHO, fit_walk, sampling_variance, weigh
from firstrocker.study.intervals import Centre, draw_centres, half_widths


@given(st.integers(0, 10_000), st.lists(st.integers(1, 6), min_size=1, max_size=4))
@settings(max_examples=25, deadline=None)
def test_sums_per_bout_are_the_dense_model(seed: int, sizes: list[int]) -> None:
    # Oracle: the restricted likelihood and the variance of the mean, written out with whole covariance matrices.
    rng = np.random.default_rng(seed)
    n = sum(sizes)
    if n < 2:
        return
    bout = np.repeat(np.arange(len(sizes)), sizes)
    stride = np.cumsum(rng.integers(1, 4, n))
    values = rng.normal(size=(n, 2))
    fit = fit_walk(values, bout, stride)
    node = 0
    likelihood, variance = np.empty(fit.likelihood.shape), np.empty(fit.variance.shape)
    for rho in RHO:
        lag = np.abs(stride[:, None] - stride)
        same = bout[:, None] == bout
        for share in BOUT_SHARE:
            v = np.where(same, rho**lag if rho > 0 else (lag == 0), 0.0) + share / (1 - share) * same
            inverse = np.linalg.inv(v)
            ones = np.ones(n)
            information = ones @ inverse @ ones
            project = inverse - np.outer(inverse @ ones, ones @ inverse) / information
            squares = np.einsum("ik,ij,jk->k", values, project, values)
            likelihood[node] = -0.5 * (np.linalg.slogdet(v)[1] + np.log(information) + (n - 1) * np.log(squares))
            variance[node] = v.sum() / n**2 * squares / (n - 1)
            node += 1
    assert fit.variance == pytest.approx(variance, rel=1e-8)
    # Up to a constant per column: columns are scaled before they are fitted.
    assert fit.likelihood - fit.likelihood[0] == pytest.approx(likelihood - likelihood[0], abs=1e-7)


def test_independent_strides_of_one_bout_are_students() -> None:
    # At the node of independence the variance is s^2 / n, as every textbook has it.
    values = np.random.default_rng(1).normal(size=(9, 1))
    fit = fit_walk(values, np.zeros(9, dtype=np.int64), np.arange(9))
    assert fit.variance[0, 0] == pytest.approx(values.var(ddof=1) / 9)
    weights = weigh([fit])
    assert weights.sum() == pytest.approx(1)
    within = np.tile(BOUT_SHARE == 0, len(RHO))
    assert weights[~within].max() == 0  # one bout says nothing of what changes between bouts
    assert sampling_variance(fit, weights)[0] >= fit.variance[0, 0]


def test_measures_with_gaps_are_fitted_over_their_own_strides() -> None:
    rng = np.random.default_rng(2)
    values = rng.normal(size=(12, 3))
    values[[2, 7], 1] = np.nan
    values[1:, 2] = np.nan
    bout, stride = np.repeat([0, 1], 6), np.arange(12)
    fit = fit_walk(values, bout, stride)
    rows = np.isfinite(values[:, 1])
    alone = fit_walk(values[rows, 1:2], bout[rows], stride[rows])
    assert fit.variance[:, 1] == pytest.approx(alone.variance[:, 0])
    assert fit.n.tolist() == [12, 10, 1]
    assert fit.bouts.tolist() == [2, 2, 1]
    assert np.isnan(fit.variance[:, 2]).all()
    assert fit.mean[2] == values[0, 2]


def test_weights_find_the_dependence_of_long_walks() -> None:
    rng = np.random.default_rng(3)
    for rho, share in ((0.0, 0.0), (0.5, 0.0), (0.0, 0.45)):
        values, bout, stride = draw(rng, [30] * 20, rho=rho, share=share, repeats=30)
        weights = weigh([fit_walk(values, bout, stride)]).mean(axis=1).reshape(len(RHO), len(BOUT_SHARE))
        assert weights.sum(axis=1) @ RHO == pytest.approx(rho, abs=0.07)
        assert weights.sum(axis=0) @ BOUT_SHARE == pytest.approx(share, abs=0.1)


@pytest.mark.parametrize(
    ("design", "rho", "share"),
    [
        (design, rho, share)
        for design in ("2 walks, 1 bout of 40", "4 walks, 3 bouts of 5", "4 walks, 4 bouts of 10")
        for rho, share in ((0.0, 0.0), (0.3, 0.0), (0.3, 0.2))
        if not share or len(DESIGNS[design][0]) > 1
    ],
)
def test_intervals_hold_the_truth(design: str, rho: float, share: float) -> None:
    # 600 walks: 95 % is known to 1.8 %. That too many hold it where strides hardly depend is told, not forbidden.
    rng = np.random.default_rng(20)
    walks = []
    for bouts in DESIGNS[design]:
        values, bout, stride = draw(rng, bouts, rho=rho, share=share, repeats=600)
        walks.append((values, bout, stride))
    mean, difference, width = kept(walks, resamples=800)
    assert mean >= 0.93
    assert difference >= 0.93
    if (rho, share) == (0.3, 0.2):
        assert max(mean, difference) <= 0.985
        naive = rejected(rng, walks[0][0], walks[0][1])["independent t"]
        assert naive is not None
        assert naive[0] < 0.85
        assert naive[1] < width


def test_interval_of_one_pair_is_its_quantile_and_of_several_is_wider() -> None:
    rng = np.random.default_rng(5)
    a, b, c = (rng.standard_normal((200_000, 1)) for _ in range(3))
    alone = half_widths([b - a], confidence=0.95)[0, 0]
    assert alone == pytest.approx(1.96 * np.sqrt(2), rel=0.01)
    # Oracle: Tukey's studentised range of three means of infinite freedom, 3.314 (table, from memory).
    together = half_widths([b - a, c - a, c - b], confidence=0.95)[:, 0]
    assert together == pytest.approx(3.314, rel=0.01)
    missing = half_widths([b - a, np.full_like(a, np.nan)], confidence=0.95)
    assert missing[0, 0] == pytest.approx(alone)
    assert np.isnan(missing[1, 0])


def test_students_quantile_comes_out_of_the_draws() -> None:
    rng = np.random.default_rng(6)
    values = rng.normal(size=(8, 1))
    fit = fit_walk(values, np.zeros(8, dtype=np.int64), np.arange(8))
    only = np.zeros((len(RHO) * len(BOUT_SHARE), 1))
    only[0] = 1.0  # independence taken for certain
    centre = Centre((0,), np.ones((1, 1)), np.zeros(1))
    (draws,) = draw_centres([fit], only, [centre], resamples=100_000, seed=1)
    half = half_widths([draws], confidence=0.95)[0, 0]
    assert half == pytest.approx(stdtrit(7, 0.975) * values.std(ddof=1) / np.sqrt(8), rel=0.015)
