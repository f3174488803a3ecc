"""How fast a segment turns at the most while the foot is let down: the greatest value of a rate in loading.

A loading lasts 30 to 90 ms where a foot slaps, three to nine samples of a hundred a second. So few must be joined by a
curve before their greatest value is sought, or it hangs on where between the samples the peak happened to lie; and that
curve overshoots where the rate jumps at contact, as the sensor's own low-pass filter does, so it is smoothed a little.
"""

from __future__ import annotations

import numpy as np

from firstrocker.model import FloatArray

SHARE = 0.035
"""Standard deviation of the smoothing as a share of the loading, so that a quick peak loses no more than a slow one."""
LONGEST_S = 0.0025
"""s that it is at the most (a corner, -3 dB, near 53 Hz), for a loading may last long beyond its peak. Set on simulated
walkers (seeds 500,000 to 530,000) at several rates and with several filters, and on the markers of two real walks."""
NODES = ((-(3.0**0.5), 1 / 6), (0.0, 2 / 3), (3.0**0.5, 1 / 6))
"""Places, in standard deviations, and weights at which a normal kernel is summed up (Gauss and Hermite's of 3)."""
PLACES = np.linspace(0.0, 1.0, 41)
"""Shares of a loading at which its curve is read; a peak half-way between two is read 0.1 % too low at the most."""


def spline(curve: FloatArray) -> FloatArray:
    """Coefficients of the cubic spline through samples.

    Args:
        curve: (n,) uniformly sampled.

    Returns:
        (n,) by which cubic B-splines are weighed (Unser 1999); sums of curves have sums of coefficients.
    """
    from scipy.ndimage import spline_filter1d

    return np.asarray(spline_filter1d(curve, order=3, mode="mirror"))


def blurred(coefficients: FloatArray) -> FloatArray:
    """(n,) coefficients of the spline's mean over one sample and its neighbours, weighed 1 : 2 : 1.

    >>> blurred(np.array([0.0, 0.0, 4.0, 0.0, 0.0])).tolist()
    [0.0, 1.0, 2.0, 1.0, 0.0]
    """
    return np.convolve(np.pad(coefficients, 1, mode="edge"), [0.25, 0.5, 0.25], mode="valid")


def greatest(coefficients: FloatArray, first: FloatArray, last: FloatArray, *, rate_hz: float) -> FloatArray:
    """Greatest value of a spline, lightly smoothed, within each of many loadings.

    Args:
        coefficients: (n,) of :func:`spline`.
        first: (k,) where the loadings begin, in samples, fractions included.
        last: (k,) where they end.
        rate_hz: samples per second.

    Returns:
        (k,) in the curve's unit; NaN where a loading has no ends or ends before it begins. One without length is read
        where it is.

    >>> bent = spline(100.0 - (np.arange(30.0) - 12.25) ** 2)
    >>> greatest(bent, np.array([8.0, 20.0, np.nan]), np.array([18.0, 12.0, 20.0]), rate_hz=100.0).round(1).tolist()
    [99.9, nan, nan]
    """
    from scipy.ndimage import map_coordinates

    out = np.full(len(first), np.nan)
    whole = np.flatnonzero(last >= first)
    length = (last - first)[whole, None]
    places, spread = first[whole, None] + length * PLACES, np.minimum(SHARE * length, LONGEST_S * rate_hz)
    smooth = np.zeros_like(places)
    for away, weight in NODES:
        near = (places + away * spread)[None]
        smooth += weight * map_coordinates(coefficients, near, order=3, mode="mirror", prefilter=False)
    out[whole] = smooth.max(axis=1, initial=-np.inf)
    return out
