"""Logs that are not of the segment the session file says, as far as signals can tell."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from firstrocker.model import FloatArray, Signal
from firstrocker.signals.sizes import magnitude, window_means

EXCHANGED_RATIO = 2.0
"""How much stiller the shank's log must be than the foot's to be called exchanged. Feet and shanks of open recordings
gave 0.2 to 0.5 the right way round."""
ONE_SEGMENT = 0.12
"""Difference of two sensors' turning, as a share of it, from which on they sit on two segments. Two sensors on one foot
of simulated walkers gave up to 0.08 (cheap sensors), foot and shank 0.38 and more. A rigid brace could come near."""
_WALKING_RATE = 1.0
_BESIDE_S = 0.7
_PIECE_S = 20.0
_DENSE_S, _STEP_S = 0.02, 0.1
"""Smoothed over 0.03 s and over 0.6 s, turning holds no more than is seen every so many seconds."""


def stillness(angular_velocity: FloatArray, *, rate_hz: float) -> float:
    """Turning in the stillest fifth of walking, as a share of its fastest twentieth: small for a foot, which stands.

    Args:
        angular_velocity: (n, 3) rad/s on a uniform clock.
        rate_hz: of the clock.

    Returns:
        some 0.02 to 0.1 for feet and 0.2 for shanks (open recordings); NaN without walking.
    """
    from scipy.ndimage import gaussian_filter1d, maximum_filter1d

    dense = max(int(_DENSE_S * rate_hz), 1)
    turning = gaussian_filter1d(magnitude(angular_velocity), 0.03 * rate_hz)[::dense]
    rate_hz /= dense
    # A slow walker's swings alone pass for walking: what lies between them belongs to it.
    width = max(int(_STEP_S * rate_hz), 1)
    means = window_means(turning, width)
    if not len(means):
        return float("nan")
    per_s = rate_hz / width
    average = maximum_filter1d(gaussian_filter1d(means, 0.6 * per_s), 2 * round(_BESIDE_S * per_s) + 1)
    walking = turning[: len(means) * width].reshape(-1, width)[average > _WALKING_RATE].ravel()
    if len(walking) < 3.0 * rate_hz:
        return float("nan")
    still, fast = np.percentile(walking, [20, 95])
    return float(still / fast)


def exchanged(foot: Signal, shank: Signal, *, rate_hz: float) -> bool:
    """Whether the sensor said to be on the shank stands still in every stride and the foot's does not."""
    both = [stillness(signal.angular_velocity, rate_hz=rate_hz) for signal in (foot, shank)]
    return bool(both[0] > EXCHANGED_RATIO * both[1])


def same_segment(foot: Signal, shank: Signal, *, lag: Callable[[float], float], rate_hz: float) -> bool:
    """Whether both sensors turned alike at every instant, as two sensors on one segment do.

    Args:
        foot: on a uniform clock of ``rate_hz``.
        shank: the same of its own clock.
        lag: of a time: what the foot shows at ``t`` since its first sample, the shank shows at ``t + lag(t)`` since its
            own.
        rate_hz: of both.
    """
    turned, differed = 0.0, 0.0
    piece = int(_PIECE_S * rate_hz)
    for begin in range(0, len(foot.valid), piece):
        late = lag((begin + 0.5 * piece) / rate_hz) * rate_hz
        whole = int(np.floor(late))
        start = max(begin, -whole)
        stop = min(begin + piece, len(foot.valid), len(shank.valid) - 1 - whole)
        if start < stop:
            first = magnitude(foot.angular_velocity[start:stop])
            second = magnitude(shank.angular_velocity[start + whole : stop + whole + 1])
            off = first - second[:-1] - (late - whole) * np.diff(second)
            turned, differed = turned + float(first @ first), differed + float(off @ off)
    return differed < ONE_SEGMENT**2 * turned
