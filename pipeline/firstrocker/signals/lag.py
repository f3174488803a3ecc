"""Where one log may lie on another's clock, roughly: the lags at which their movement looks alike."""

from __future__ import annotations

import numpy as np

from firstrocker.model import BoolArray, FloatArray, IntArray

_MIN_OVERLAP_S = 8.0


def candidate_lags(
    first: FloatArray, second: FloatArray, *, rate_hz: float, around_s: tuple[float, ...], within_s: float, count: int
) -> FloatArray:
    """Lags at which two sensors moved most alike, best first.

    What is compared are magnitudes, which no mounting changes, of angular velocity and of acceleration: the sum of
    their correlations at every lag, weighted with the root of the overlap.

    Args:
        first: (n, 2) magnitudes of angular velocity and acceleration on a uniform clock.
        second: (m, 2) the same of the other sensor.
        rate_hz: of both.
        around_s: lags in s are searched around these.
        within_s: and this far from them.
        count: how many to return at most.

    Returns:
        (k,) lags in s: what happens at ``t`` in the first happens at ``t + lag`` in the second.
    """
    # All lags that are searched, and one beside each end, for a peak stands out from its neighbours.
    low = int(np.floor((min(around_s) - within_s) * rate_hz)) - 1
    high = int(np.ceil((max(around_s) + within_s) * rate_hz)) + 1
    lags = np.arange(max(low, 1 - len(first)), min(high, len(second) - 1) + 1)
    if len(lags) < 3:
        return np.empty(0)
    likeness = np.sum([_correlation(x, y, lags) for x, y in zip(first.T, second.T, strict=True)], axis=0)
    overlap = _overlap(len(first), len(second), lags)
    shorter = min(len(first), len(second))
    score = likeness * np.sqrt(overlap / shorter)
    allowed: BoolArray = np.zeros(len(lags), dtype=bool)
    for centre in around_s:
        allowed |= np.abs(lags / rate_hz - centre) <= within_s
    score[~(allowed & (overlap >= min(_MIN_OVERLAP_S * rate_hz, 0.5 * shorter)))] = -np.inf
    inner = score[1:-1]
    peaks = np.flatnonzero((inner >= score[:-2]) & (inner > score[2:]) & np.isfinite(inner)) + 1
    best = peaks[np.argsort(-score[peaks], kind="stable")][:count]
    return np.asarray(lags[best] / rate_hz)


def _overlap(n: int, m: int, lags: IntArray) -> IntArray:
    """How many samples overlap at each lag."""
    return np.asarray(np.minimum(n, m - lags) - np.maximum(0, -lags))


def _correlation(x: FloatArray, y: FloatArray, lags: IntArray) -> FloatArray:
    """Correlation coefficient of the overlapping parts at each of some lags that follow each other."""
    x, y = x - x.mean(), y - y.mean()
    start, stop = np.maximum(0, -lags), np.minimum(len(x), len(y) - lags)
    n = stop - start

    def sums(values: FloatArray, first: IntArray, last: IntArray) -> FloatArray:
        upto = np.concatenate([[0.0], np.cumsum(values)])
        return np.asarray(upto[last] - upto[first])

    sum_x, sum_y = sums(x, start, stop), sums(y, start + lags, stop + lags)
    spread_x = sums(x * x, start, stop) - sum_x**2 / n
    spread_y = sums(y * y, start + lags, stop + lags) - sum_y**2 / n
    floor = 1e-6 * n * max(float(x.var() * y.var()) ** 0.5, 1e-12)
    together = _products(x, y, lags) - sum_x * sum_y / n
    return np.asarray(together / np.sqrt(np.maximum(spread_x, floor) * np.maximum(spread_y, floor)))


def _products(x: FloatArray, y: FloatArray, lags: IntArray) -> FloatArray:
    """The sum of ``x[k] y[k + lag]`` over the ``k`` that both have, piece by piece of x: few of all lags are asked."""
    size = 1 << int(np.ceil(np.log2(min(3 * len(lags), len(x) + len(lags)))))
    step = size - len(lags) + 1
    total = np.zeros(len(lags))
    for start in range(0, len(x), step):
        begin = start + int(lags[0])
        there = np.zeros(size)
        seen = y[max(begin, 0) : max(begin + size, 0)]
        there[max(-begin, 0) : max(-begin, 0) + len(seen)] = seen
        product = np.conj(np.fft.rfft(x[start : start + step], size)) * np.fft.rfft(there)
        total += np.fft.irfft(product, size)[: len(lags)]
    return total
