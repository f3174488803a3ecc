"""Hodges-Lehmann shifts with the intervals that belong to Wilcoxon's tests: centres that one odd value cannot move."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.special import ndtr, ndtri

from firstrocker.model import FloatArray

MAX_EXACT = 50
"""Above so many values the normal approximation serves."""


@dataclass(frozen=True)
class Shift:
    """A shift and its interval.

    confidence: what the interval really has: ranks are whole numbers, so an exact one has at least what was asked,
    or, where there are too few values for that, less (the interval is then all there is, from the least to the
    greatest). p_value: two-sided, of no shift.
    """

    estimate: float
    ci_low: float
    ci_high: float
    confidence: float
    p_value: float
    n: int
    method: Literal["exact", "approximate"]


def paired_shift(differences: FloatArray, *, confidence: float) -> Shift:
    """Median of the Walsh averages (d_i + d_j) / 2, i <= j, of paired differences.

    Exact where no difference is zero and no two are of the same size, else by the normal approximation with its
    correction for ties (Hodges & Lehmann 1963; Hollander & Wolfe 1999, chapter 3: from memory). Zeros stay in the
    estimate and are dropped from the test.

    Args:
        differences: (n,) other minus reference, NaN left out.
        confidence: of the interval.

    Returns:
        the shift; all NaN where there is no value.
    """
    from scipy.stats import wilcoxon  # costs most of a second at start-up

    d = differences[np.isfinite(differences)]
    n = len(d)
    if n == 0:
        return _nothing()
    one, other = np.triu_indices(n)
    averages = np.sort((d[one] + d[other]) / 2.0)
    exact = n <= MAX_EXACT and bool(np.all(d != 0)) and len(np.unique(np.abs(d))) == n
    if exact:
        rank, reached = _exact_rank(_signed_rank_counts(n), confidence)
    else:
        rank, reached = _approximate_rank(n * (n + 1) / 2, n * (n + 1) * (2 * n + 1) / 24, confidence)
    if not np.any(d):
        p_value = 1.0
    elif exact:
        p_value = float(wilcoxon(d, method="exact").pvalue)
    else:
        p_value = float(wilcoxon(d, method="asymptotic", correction=False).pvalue)  # type: ignore[call-overload]
    return _shift(averages, rank, reached, p_value, n, exact)


def two_sample_shift(reference: FloatArray, other: FloatArray, *, confidence: float) -> Shift:
    """Median of all differences other_j - reference_i of two independent samples.

    Exact where no two values are equal, else by the normal approximation (Hodges & Lehmann 1963; Hollander & Wolfe
    1999, chapter 4: from memory).

    Args:
        reference: (n,), NaN left out.
        other: (k,), NaN left out.
        confidence: of the interval.

    Returns:
        the shift, ``n`` counting both samples; all NaN where one has no value.
    """
    from scipy.stats import mannwhitneyu

    x = reference[np.isfinite(reference)]
    y = other[np.isfinite(other)]
    n, k = len(x), len(y)
    if n == 0 or k == 0:
        return _nothing()
    differences = np.sort((y[:, None] - x[None, :]).ravel())
    exact = max(n, k) <= MAX_EXACT and len(np.unique(np.r_[x, y])) == n + k
    if exact:
        rank, reached = _exact_rank(_rank_sum_counts(n, k), confidence)
    else:
        rank, reached = _approximate_rank(n * k, n * k * (n + k + 1) / 12, confidence)
    if len(np.unique(np.r_[x, y])) == 1:
        p_value = 1.0
    elif exact:
        p_value = float(mannwhitneyu(y, x, method="exact").pvalue)
    else:
        p_value = float(mannwhitneyu(y, x, method="asymptotic", use_continuity=False).pvalue)
    return _shift(differences, rank, reached, p_value, n + k, exact)


def _shift(ordered: FloatArray, rank: int, reached: float, p_value: float, n: int, exact: bool) -> Shift:
    return Shift(
        estimate=float(np.median(ordered)),
        ci_low=float(ordered[rank - 1]),
        ci_high=float(ordered[len(ordered) - rank]),
        confidence=reached,
        p_value=p_value,
        n=n,
        method="exact" if exact else "approximate",
    )


def _nothing() -> Shift:
    return Shift(np.nan, np.nan, np.nan, np.nan, np.nan, 0, "exact")


def _signed_rank_counts(n: int) -> FloatArray:
    """How many of the 2^n signings of the ranks 1..n give each sum 0..n(n+1)/2."""
    counts = np.ones(1)
    for rank in range(1, n + 1):
        counts = np.r_[counts, np.zeros(rank)] + np.r_[np.zeros(rank), counts]
    return counts


def _rank_sum_counts(n: int, k: int) -> FloatArray:
    """How many orders of n and k values give each number 0..nk of pairs in which the second is greater."""
    table: list[FloatArray] = [np.ones(1)] * (k + 1)
    for i in range(1, n + 1):
        row = [np.ones(1)]
        for j in range(1, k + 1):
            counts = np.zeros(i * j + 1)
            counts[j:] += table[j]  # where the greatest of all is of the first sample it beats j values
            counts[: len(row[j - 1])] += row[j - 1]
            row.append(counts)
        table = row
    return table[k]


def _exact_rank(counts: FloatArray, confidence: float) -> tuple[int, float]:
    """Which value from either end bounds the interval, and the confidence that gives."""
    below = np.cumsum(counts) / counts.sum()
    tail = (1.0 - confidence) / 2.0
    rank = max(int(np.searchsorted(below, tail * (1.0 + 1e-12), side="right")), 1)
    return rank, float(1.0 - 2.0 * below[rank - 1])


def _approximate_rank(pairs: float, variance: float, confidence: float) -> tuple[int, float]:
    spread = float(np.sqrt(variance))
    rank = max(int(np.floor(pairs / 2.0 - ndtri(0.5 + confidence / 2.0) * spread)), 1)
    reached = 1.0 - 2.0 * float(ndtr((rank - 1 + 0.5 - pairs / 2.0) / spread)) if spread > 0 else 0.0
    return rank, reached
