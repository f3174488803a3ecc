"""Where in swing the toe passes lowest."""

from __future__ import annotations

import numpy as np

from firstrocker.gait.crossings import peak
from firstrocker.model import FloatArray

FIRST_RISE = 0.001  # m the toe must have risen before, and ...
EARLY = 0.2  # share of swing in which a shoe's bent toes are still straightening out
LAST_RISE = 0.002  # ... must rise after, for a dip to be the minimum between two rises


def lowest_toe(height: FloatArray, forward: FloatArray) -> tuple[float, str]:
    """Instant of minimum toe clearance.

    Args:
        height: (n,) m of the outsole's tip from toe off to heel strike.
        forward: (n,) m/s of the foot along its way.

    Returns:
        Sample number, fractions included, and ``local_minimum``; or, where no dip lies between two rises, the instant
        of the foot's greatest forward speed and ``at_peak_speed``.

    >>> lowest_toe(np.array([0.0, 3.0, 2.0, 1.0, 2.0, 5.0]) / 100, np.array([0.0, 1.0, 2.0, 3.0, 2.0, 1.0]))
    (3.0, 'local_minimum')
    """
    inner = np.arange(1, len(height) - 1)
    inner = inner[inner >= EARLY * (len(height) - 1)]
    dips = inner[(height[inner] <= height[inner - 1]) & (height[inner] < height[inner + 1])]
    before = np.maximum.accumulate(height)
    after = np.maximum.accumulate(height[::-1])[::-1]
    dips = dips[(before[dips] > height[dips] + FIRST_RISE) & (after[dips] > height[dips] + LAST_RISE)]
    if not len(dips):
        return peak(forward)[0], "at_peak_speed"
    lowest = int(dips[np.argmin(height[dips])])
    return lowest - 1 + peak(-height[lowest - 1 : lowest + 2])[0], "local_minimum"
