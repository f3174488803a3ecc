"""Hodges-Lehmann shifts and Wilcoxon's tests against worked examples and a general-purpose library."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from firstrocker.study.robust import paired_shift, two_sample_shift

# Wilcoxon check 1 of the references: ranks of the differences published on a page of wustl.edu (seen: T- 5.5, T+ 60.5);
# the estimate 4.5, the mean 4.909 and p .0142 were derived from the same differences.
CHECK_1 = np.array([11, 4, 3, -2, 13, 2, 7, 4, 3, -3, 12], dtype=float)

# Check 2: depression scores of Hollander & Wolfe as shown on a page of the CAMIS project (seen).
X = np.array([1.83, 0.50, 1.62, 2.48, 1.68, 1.88, 1.55, 3.06, 1.30])
Y = np.array([0.878, 0.647, 0.598, 2.05, 1.06, 1.29, 1.06, 3.14, 1.29])

distinct = st.lists(st.integers(-10_000, 10_000), min_size=6, max_size=14, unique_by=abs).map(
    lambda values: np.array([value / 7 for value in values if value != 0])
)


def test_published_signed_ranks() -> None:
    ranks = stats.rankdata(np.abs(CHECK_1))
    assert ranks[CHECK_1 < 0].sum() == 5.5
    assert ranks[CHECK_1 > 0].sum() == 60.5
    found = paired_shift(CHECK_1, confidence=0.95)
    assert found.estimate == 4.5
    assert found.method == "approximate"
    assert found.p_value == pytest.approx(0.0142, abs=5e-5)
    assert CHECK_1.mean() == pytest.approx(4.909, abs=5e-4)


def test_published_paired_example() -> None:
    found = paired_shift(Y - X, confidence=0.95)
    assert found.method == "exact"
    assert found.estimate == pytest.approx(-0.46)
    assert found.p_value == pytest.approx(0.0390625)
    assert [found.ci_low, found.ci_high] == pytest.approx([-0.786, -0.010])
    assert found.confidence == pytest.approx(0.961, abs=5e-4)


def test_published_two_sample_example() -> None:
    assert two_sample_shift(Y, X, confidence=0.95).estimate == pytest.approx(0.560)


@given(distinct)
@settings(deadline=None)
def test_exact_interval_is_what_the_exact_test_does_not_reject(differences: np.ndarray) -> None:
    # Oracle: scipy's exact signed-rank test; a shift inside the interval is not rejected, one outside is.
    found = paired_shift(differences, confidence=0.9)
    if found.confidence < 0.9:
        return
    step = 1e-6
    inside = stats.wilcoxon(differences - (found.ci_low + step), method="exact").pvalue
    outside = stats.wilcoxon(differences - (found.ci_low - step), method="exact").pvalue
    assert inside > 0.1 - 1e-9
    assert outside <= 0.1 + 1e-9


@given(distinct, distinct)
@settings(deadline=None)
def test_exact_two_sample_interval_is_what_the_test_does_not_reject(x: np.ndarray, y: np.ndarray) -> None:
    x = x + 0.01  # no value of one sample is one of the other
    found = two_sample_shift(x, y, confidence=0.9)
    assert found.method == "exact"
    assert found.confidence >= 0.9
    step = 1e-6
    assert stats.mannwhitneyu(y - found.ci_low - step, x, method="exact").pvalue > 0.1 - 1e-9
    assert stats.mannwhitneyu(y - found.ci_low + step, x, method="exact").pvalue <= 0.1 + 1e-9


def test_confidence_by_counting_every_case() -> None:
    # All 2^6 signings of six differences and all orders of 4 and 3 values, counted out.
    n = 6
    sums = [sum(chosen) for size in range(n + 1) for chosen in combinations(range(1, n + 1), size)]
    found = paired_shift(np.array([1.0, 2.1, 3.3, 4.6, 6.0, 7.5]), confidence=0.9)
    averages = np.sort(
        [(a + b) / 2 for i, a in enumerate([1.0, 2.1, 3.3, 4.6, 6.0, 7.5]) for b in [1.0, 2.1, 3.3, 4.6, 6.0, 7.5][i:]]
    )
    rank = int(np.searchsorted(averages, found.ci_low)) + 1
    assert found.confidence == pytest.approx(1 - 2 * np.mean([total < rank for total in sums]))
    wins = [sum(place - order for order, place in enumerate(chosen)) for chosen in combinations(range(7), 3)]
    x, y = np.array([0.0, 10.0, 21.0, 33.0]), np.array([5.0, 17.0, 40.0])
    shift = two_sample_shift(x, y, confidence=0.8)
    rank = int(np.searchsorted(np.sort((y[:, None] - x).ravel()), shift.ci_low)) + 1
    assert shift.confidence == pytest.approx(1 - 2 * np.mean([count < rank for count in wins]))


@given(distinct, st.integers(-50, 50))
@settings(deadline=None)
def test_a_shift_shifts_and_a_sign_mirrors(differences: np.ndarray, shift: int) -> None:
    found = paired_shift(differences, confidence=0.95)
    mirrored = paired_shift(-differences, confidence=0.95)
    assert mirrored.estimate == pytest.approx(-found.estimate)
    assert [mirrored.ci_low, mirrored.ci_high] == pytest.approx([-found.ci_high, -found.ci_low])
    moved = two_sample_shift(differences, differences + shift, confidence=0.95)
    assert moved.estimate == pytest.approx(shift, abs=1e-9)


def test_large_samples_agree_with_the_exact_ones() -> None:
    rng = np.random.default_rng(1)
    d = rng.normal(0.4, 1, 50)
    exact = paired_shift(d, confidence=0.95)
    approximate = paired_shift(np.r_[d, 0.0], confidence=0.95)
    assert (exact.method, approximate.method) == ("exact", "approximate")
    assert approximate.ci_low == pytest.approx(exact.ci_low, abs=0.05)
    assert approximate.confidence == pytest.approx(0.95, abs=0.002)


def test_too_few_values_say_so() -> None:
    assert paired_shift(np.array([1.0, 2.5, 4.0]), confidence=0.95).confidence == pytest.approx(0.75)
    assert paired_shift(np.array([np.nan]), confidence=0.95).n == 0
    assert np.isnan(paired_shift(np.array([]), confidence=0.95).estimate)
    assert np.isnan(two_sample_shift(np.array([]), np.array([1.0]), confidence=0.95).ci_low)
    assert paired_shift(np.zeros(4), confidence=0.95).p_value == 1.0
    assert two_sample_shift(np.ones(4), np.ones(3), confidence=0.95).p_value == 1.0
