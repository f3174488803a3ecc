"""Smoothing that keeps peaks where and as high as they are: a running parabola."""

from __future__ import annotations

import numpy as np

from firstrocker.model import FloatArray


def running_parabola(values: FloatArray, rate_hz: float, *, width_s: float) -> FloatArray:
    """Value at each sample of the parabola fitted to its surroundings by least squares (Savitzky and Golay 1964).

    Args:
        values: (n,) uniformly sampled.
        rate_hz: samples per second.
        width_s: length of the surroundings, s; the corner (-3 dB) lies near 1.2 / width_s.

    Returns:
        (n,). Where fewer than five samples fall into the width, the values as they are.

    >>> running_parabola(1.0 + np.arange(5.0) ** 2, 100.0, width_s=0.05).round(6).tolist()
    [1.0, 2.0, 5.0, 10.0, 17.0]
    """
    half = round(width_s * rate_hz) // 2
    n = len(values)
    if half < 2 or n < 2 * half + 1:
        return np.array(values, dtype=np.float64)
    offset = np.arange(-half, half + 1, dtype=np.float64)
    projector = np.linalg.pinv(np.stack([np.ones_like(offset), offset, offset**2], axis=1))
    smooth = np.convolve(values, projector[0][::-1], mode="same")
    for end, place in ((values[: 2 * half + 1], slice(0, half)), (values[-2 * half - 1 :], slice(n - half, n))):
        a, b, c = projector @ end
        where = offset[:half] if place.start == 0 else offset[-half:]
        smooth[place] = a + b * where + c * where**2
    return smooth
