"""Smooth building blocks: steps, soft floors, keyed curves and slow noise.

Everything a walker is made of goes through these, so that its position has at least three continuous derivatives and a
contact shows up as what it is: a short, finite deceleration.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from scipy.interpolate import CubicHermiteSpline, PchipInterpolator, make_interp_spline
from scipy.linalg import solve_banded

from firstrocker.model import FloatArray

Key = tuple[float, float, float | None]
"""A time, the value there, and the slope there (None: a slope that adds no overshoot)."""


def smooth_step(time: FloatArray, start: float, end: float) -> FloatArray:
    """0 before ``start``, 1 after ``end``, three continuous derivatives in between.

    >>> smooth_step(np.array([0.0, 0.5, 1.0]), 0.0, 1.0).tolist()
    [0.0, 0.5, 1.0]
    """
    s = np.clip((time - start) / (end - start), 0.0, 1.0)
    return np.asarray(s**4 * (35.0 - 84.0 * s + 70.0 * s**2 - 20.0 * s**3))


def soft_floor(height: FloatArray, give: float) -> FloatArray:
    """What a yielding floor makes of a height: the height itself above ``give``, 0 below ``-give``.

    A point that comes down at speed ``v`` is stopped within ``2 give / v`` seconds; the result has three continuous
    derivatives. The floor's surface, where the point is first touched, is at ``give``.

    >>> soft_floor(np.array([-1.0, 1.0, 2.0]), 1.0).tolist()
    [0.0, 1.0, 2.0]
    """
    s = np.clip((height + give) / (2.0 * give), 0.0, 1.0)
    yielding = 2.0 * give * (s**6 - 3.0 * s**5 + 2.5 * s**4)
    return np.where(height > give, height, yielding)


def keyed(keys: Sequence[Key], *, fair: bool = False) -> Callable[[FloatArray], FloatArray]:
    """A curve through keys, continued in straight lines at both ends.

    Where a key gives no slope, the curve takes one that adds no overshoot, or, if ``fair``, the one that leaves its
    second derivative continuous.
    """
    times = np.array([k[0] for k in keys])
    values = np.array([k[1] for k in keys])
    given = np.array([np.nan if k[2] is None else k[2] for k in keys])
    slopes = given
    if np.isnan(given).any():
        free = np.asarray(PchipInterpolator(times, values).derivative()(times))
        slopes = np.where(np.isnan(given), free, given)
    if fair:
        slopes = _fair_slopes(times, values, given, slopes)
    spline = CubicHermiteSpline(times, values, slopes)

    def evaluate(time: FloatArray) -> FloatArray:
        inside = np.clip(time, times[0], times[-1])
        beyond = np.where(time < times[0], slopes[0], slopes[-1]) * (time - inside)
        return np.asarray(spline(inside) + beyond)

    return evaluate


def _fair_slopes(times: FloatArray, values: FloatArray, given: FloatArray, ends: FloatArray) -> FloatArray:
    gap, rise = np.diff(times), np.diff(values) / np.diff(times)
    bands = np.zeros((3, times.size))
    bands[1] = 1.0
    right = np.where(np.isnan(given), ends, given)
    for i in np.flatnonzero(np.isnan(given[1:-1])) + 1:
        before, after = gap[i - 1], gap[i]
        bands[2, i - 1], bands[1, i], bands[0, i + 1] = after, 2.0 * (before + after), before
        right[i] = 3.0 * (after * rise[i - 1] + before * rise[i])
    return np.asarray(solve_banded((1, 1), bands, right))


def rounded(curve: Callable[[FloatArray], FloatArray], time: FloatArray, width: float) -> FloatArray:
    """``curve`` on the uniform grid ``time`` with its corners rounded over ``width`` seconds.

    The kernel is symmetric and of compact support (four boxes folded), so straight runs stay as they are.
    """
    step = float(time[1] - time[0])
    box = np.ones(max(1, round(width / step / 4.0)))
    kernel = np.convolve(np.convolve(box, box), np.convolve(box, box))
    kernel /= kernel.sum()
    half = (kernel.size - 1) // 2
    before = time[0] + step * np.arange(-half, 0)
    after = time[-1] + step * np.arange(1, kernel.size - half)
    return np.convolve(curve(np.concatenate([before, time, after])), kernel, mode="valid")


def slow_noise(rng: np.random.Generator, time: FloatArray, *, every_s: float, sd: float) -> FloatArray:
    """A smooth wandering of standard deviation about ``sd`` that never leaves +- 2.5 ``sd``."""
    start, end = float(time[0]), float(time[-1])
    count = max(10, int((end - start) / every_s) + 8)
    knots = start - 3 * every_s + every_s * np.arange(count)
    spline = make_interp_spline(knots, rng.standard_normal(count), k=5)
    return np.asarray(2.5 * sd * np.tanh(spline(time) / 2.5))
