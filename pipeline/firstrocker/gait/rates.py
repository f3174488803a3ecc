"""How fast a segment turns at the most while the foot is let down: the greatest value of a rate in loading.

A loading lasts 30 to 90 ms where a foot slaps, three to nine samples of a hundred a second. So few must be joined by a
curve before their greatest value is sought, or it hangs on where between the samples the peak happened to lie; and that
curve overshoots where the rate jumps at contact, as the sensor's own low-pass filter does, so it is smoothed a little.
"""

from __future__ import annotations

import numpy as np

from firstrocker.gait.windows import spanning, whole
from firstrocker.model import FloatArray, IntArray

SHARE = 0.035
"""Standard deviation of the smoothing as a share of the loading, so that a quick peak loses no more than a slow one."""
LONGEST_S = 0.0025
"""s that it is at the most (a corner, -3 dB, near 53 Hz), for a loading may last long beyond its peak. Set on simulated
walkers (seeds 500,000 to 530,000) at several rates and with several filters, and on the markers of two real walks."""


def spline(curve: FloatArray) -> FloatArray:
    """Coefficients of the cubic spline through samples.

    Args:
        curve: (n,) uniformly sampled.

    Returns:
        (n,) by which cubic B-splines are weighed (Unser 1999); sums of curves have sums of coefficients.
    """
    from scipy.ndimage import spline_filter1d

    return np.asarray(spline_filter1d(curve, order=3, mode="mirror"))


def greatest(
    coefficients: FloatArray, first: FloatArray, last: FloatArray, *, rate_hz: float, blunt: bool = False
) -> FloatArray:
    """Greatest value of a spline, lightly smoothed, within each of many loadings.

    Args:
        coefficients: (n,) of :func:`spline`.
        first: (k,) where the loadings begin, in samples, fractions included.
        last: (k,) where they end.
        rate_hz: samples per second.
        blunt: whether each sample counts as its mean with its neighbours, weighed 1 : 2 : 1.

    Returns:
        (k,) in the curve's unit; NaN where a loading has no ends or ends before it begins. One without length is read
        where it is.

    >>> bent = spline(100.0 - (np.arange(30.0) - 12.25) ** 2)
    >>> greatest(bent, np.array([8.0, 20.0, np.nan]), np.array([18.0, 12.0, 20.0]), rate_hz=100.0).round(1).tolist()
    [99.9, nan, nan]
    """
    n = len(coefficients)
    first, last = np.clip(first, 0.0, n - 1.0), np.clip(last, 0.0, n - 1.0)
    begin, end = whole(np.floor(first)), whole(np.ceil(last)) - 1
    known = last >= first
    steps = spanning(np.minimum(begin, n - 2), np.where(known, np.clip(end, begin, n - 2), -1))
    spread = steps.each(np.minimum(SHARE * (last - first), LONGEST_S * rate_hz))
    around = _blunted if blunt else _sharp
    a, b, c, d = _cubics(around(coefficients, steps.sample), 0.5 * spread**2)
    start = np.clip(steps.each(first) - steps.sample, 0.0, 1.0)
    stop = np.clip(steps.each(last) - steps.sample, 0.0, 1.0)
    top = np.clip(_top(b, c, d), start, stop)
    return steps.greatest(np.max([a + u * (b + u * (c + u * d)) for u in (start, top, stop)], axis=0))


def _sharp(coefficients: FloatArray, sample: IntArray, reach: int = 0) -> list[FloatArray]:
    """(m,) each, the coefficients that tell of a spline from a sample (m,) to the next, and ``reach`` more on either
    side.
    """
    last = len(coefficients) - 1
    places = (np.abs(sample + offset) for offset in range(-1 - reach, 3 + reach))
    return [coefficients[last - np.abs(last - place)] for place in places]  # mirrored at both ends


def _blunted(coefficients: FloatArray, sample: IntArray) -> list[FloatArray]:
    """:func:`_sharp` of the curve's running mean, whose coefficients are the running mean of the curve's."""
    sharp = _sharp(coefficients, sample, reach=1)
    return [0.25 * (sharp[k - 1] + sharp[k + 1]) + 0.5 * sharp[k] for k in range(1, 5)]


def _cubics(around: list[FloatArray], half: FloatArray) -> FloatArray:
    """(4, m) a, b, c, d of ``a + b u + c u^2 + d u^3``: a smoothed spline from a sample (0) to the next (1).

    Smoothing a cubic by a normal kernel adds half its variance, ``half`` (m,) in samples squared, times the second
    derivative; what the next cubic has otherwise does not count so near.
    """
    before, here, after, beyond = around
    bend, change = before - 2.0 * here + after, beyond - before + 3.0 * (here - after)
    level = (before + 4.0 * here + after) / 6.0
    return np.array([level + half * bend, 0.5 * (after - before) + half * change, 0.5 * bend, change / 6.0])


def _top(b: FloatArray, c: FloatArray, d: FloatArray) -> FloatArray:
    """(m,) where ``b u + c u^2 + d u^3`` has its local maximum; 0 where it has none."""
    root = np.sqrt(np.maximum(c * c - 3.0 * b * d, 0.0))
    # Of the two ways to write the solution that which does not take alike from alike.
    down, up = root - c, root + c
    with np.errstate(divide="ignore", invalid="ignore"):
        place = np.where(down > 0.0, b / down, -up / (3.0 * d))
    return np.where(np.isfinite(place), place, 0.0)
