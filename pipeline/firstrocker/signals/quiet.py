"""Gravity and turning as a log's quietest and its moving parts show them, whatever the unit and the mounting."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from firstrocker.model import Log
from firstrocker.signals.sizes import magnitude, window_means, window_variances

WINDOW_S = 0.2
"""Short enough to lie within one foot-flat period, long enough to average noise."""
QUIET_SHARE = 0.05
STILL = 0.02
"""Spread of the acceleration, as a share of its size, under which a sensor counts as still."""


@dataclass(frozen=True)
class Quiet:
    """The quietest parts of a log: the usual magnitude of acceleration there (m/s^2), and whether they are still."""

    magnitude: float
    still: bool


def quiet_magnitude(log: Log, *, rate_hz: float) -> Quiet:
    """Magnitude of the acceleration in the quietest windows: gravity, if unit and gain are right."""
    width = int(max(min(round(WINDOW_S * rate_hz), len(log.time)), 1))
    size = np.linalg.norm([window_means(axis, width) for axis in log.acceleration.T], axis=0)
    variance = np.sum([window_variances(axis, width) for axis in log.acceleration.T], axis=0)
    spread = np.sqrt(variance) / np.maximum(size, 1e-12)
    turning = window_means(magnitude(log.angular_velocity), width)
    turning /= max(float(np.percentile(turning, 95)), 1e-12)
    restless = np.hypot(spread, turning)
    chosen = np.argsort(restless, kind="stable")[: max(5, int(QUIET_SHARE * len(size)))]
    return Quiet(float(np.median(size[chosen])), bool(np.median(spread[chosen]) < STILL))


def turning_ratio(log: Log, *, rate_hz: float) -> float | None:
    """How fast the direction of the acceleration changes, over how fast the angular velocity says it turns.

    In the sensor's axes gravity ``g`` changes by ``-w x g``. With the accelerations of walking on top and both smoothed
    over 0.1 s (on means of every half of that, which lowers the ratio by up to a tenth), the root mean squares of
    the two sides still agree to about a factor of two, which is enough to tell degrees from radians. The unit of
    acceleration cancels.

    Returns:
        the ratio (1), None where the log shows too little movement to tell.
    """
    from scipy.ndimage import gaussian_filter1d

    smooth = max(0.1 * rate_hz, 1.0)
    width = max(int(smooth / 2), 1)
    columns = [window_means(axis, width) for axis in (*log.acceleration.T, *log.angular_velocity.T)]
    both = gaussian_filter1d(np.array(columns), smooth / width, axis=1, mode="nearest")
    acceleration, turning = both[:3], both[3:]
    size = np.linalg.norm(acceleration, axis=0)
    usual = np.abs(size / max(float(np.median(size)), 1e-12) - 1.0) < 0.2
    if not usual.any() or len(size) < 2:
        return None
    change = np.gradient(acceleration, axis=1) * (rate_hz / width)
    (a, b, c), (x, y, z) = acceleration, turning
    expected = np.array([b * z - c * y, c * x - a * z, a * y - b * x])
    found, said = (float(np.sqrt(np.mean(magnitude(v.T)[usual] ** 2) / 3.0)) for v in (change, expected))
    if found < MIN_CHANGE * float(np.median(size)):
        return None
    return found / max(said, 1e-12)


MIN_CHANGE = 0.3
"""1/s: change of the acceleration's direction, root mean square, from which a log counts as moving."""
