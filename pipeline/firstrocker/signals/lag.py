"""Where one log may lie on another's clock, roughly: the lags at which their movement looks alike."""

from __future__ import annotations

import numpy as np

from firstrocker.model import BoolArray, FloatArray

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
    lags = np.arange(-(len(first) - 1), len(second))
    likeness = np.zeros(len(lags))
    overlap = np.zeros(len(lags))
    least = min(_MIN_OVERLAP_S * rate_hz, 0.5 * min(len(first), len(second)))
    for x, y in zip(first.T, second.T, strict=True):
        correlation, overlap = _correlation(x, y)
        likeness += correlation
    score = likeness * np.sqrt(overlap / overlap.max())
    allowed: BoolArray = np.zeros(len(lags), dtype=bool)
    for centre in around_s:
        allowed |= np.abs(lags / rate_hz - centre) <= within_s
    score[~(allowed & (overlap >= least))] = -np.inf
    inner = score[1:-1]
    peaks = np.flatnonzero((inner >= score[:-2]) & (inner > score[2:]) & np.isfinite(inner)) + 1
    best = peaks[np.argsort(-score[peaks], kind="stable")][:count]
    return np.asarray(lags[best] / rate_hz)


def _correlation(x: FloatArray, y: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Correlation coefficient of the overlapping parts at every lag, and how many samples overlap."""
    size = 1 << int(np.ceil(np.log2(len(x) + len(y))))
    x, y = x - x.mean(), y - y.mean()
    one_x, one_y = np.ones(len(x)), np.ones(len(y))

    def sums(a: FloatArray, b: FloatArray) -> FloatArray:
        product = np.fft.irfft(np.conj(np.fft.rfft(a, size)) * np.fft.rfft(b, size), size)
        return np.concatenate([product[size - len(a) + 1 :], product[: len(b)]])

    n = np.maximum(np.round(sums(one_x, one_y)), 1.0)
    sum_x, sum_y = sums(x, one_y), sums(one_x, y)
    spread_x = sums(x * x, one_y) - sum_x**2 / n
    spread_y = sums(one_x, y * y) - sum_y**2 / n
    floor = 1e-6 * n * max(float(x.var() * y.var()) ** 0.5, 1e-12)
    together = sums(x, y) - sum_x * sum_y / n
    return together / np.sqrt(np.maximum(spread_x, floor) * np.maximum(spread_y, floor)), n
