"""Where in swing the toe passes lowest."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from firstrocker.gait.crossings import peak
from firstrocker.model import FloatArray

FIRST_RISE = 0.001  # m the toe must have risen before, and ...
EARLY = 0.2  # share of swing in which a shoe's bent toes are still straightening out
LAST_RISE = 0.002  # ... must rise after, for a dip to be the minimum between two rises
HARDLY = 0.002  # m more of either, below which the dip is in doubt
DOUBTFUL = (0.12, 0.5)  # shares of swing between which a dip may have been overlooked, ...
LEVEL = 0.015  # m/s, ... where the toe hardly rose: set on simulated hemiparetic walks


@dataclass(frozen=True)
class MidSwing:
    """The instant of minimum toe clearance.

    place: sample number, fractions included. kind: ``local_minimum`` or ``at_peak_speed``. rival: the sample number
    that may as well be meant by the definition, for a dip of a millimetre decides which; NaN where there is no doubt.
    """

    place: float
    kind: str
    rival: float = float("nan")


def lowest_toe(height: FloatArray, forward: FloatArray, rate_hz: float) -> MidSwing:
    """Instant of minimum toe clearance.

    Args:
        height: (n,) n >= 2, m of the outsole's tip from toe off to heel strike.
        forward: (n,) m/s of the foot along its way.
        rate_hz: samples per second.

    Returns:
        Sample number within ``height``: the lowest dip between two rises; or, where there is none, the instant of the
        foot's greatest forward speed.

    >>> lowest_toe(np.array([0.0, 3.0, 2.0, 1.0, 2.0, 5.0]) / 100, np.array([0.0, 1.0, 2.0, 3.0, 2.0, 1.0]), 100.0)
    MidSwing(place=3.0, kind='local_minimum', rival=nan)
    """
    swing = np.arange(len(height)) / (len(height) - 1)
    inner = np.flatnonzero((swing >= EARLY) & (swing > 0.0) & (swing < 1.0))
    dips = inner[(height[inner] <= height[inner - 1]) & (height[inner] < height[inner + 1])]
    before = np.maximum.accumulate(height) - height
    after = np.maximum.accumulate(height[::-1])[::-1] - height
    dips = dips[(before[dips] > FIRST_RISE) & (after[dips] > LAST_RISE)]
    fastest = peak(forward)[0]
    if len(dips):
        lowest = int(dips[np.argmin(height[dips])])
        place = lowest - 1 + peak(-height[lowest - 1 : lowest + 2])[0]
        sure = before[lowest] > FIRST_RISE + HARDLY and after[lowest] > LAST_RISE + HARDLY
        return MidSwing(place, "local_minimum") if sure else MidSwing(place, "local_minimum", fastest)
    rising = np.gradient(height) * rate_hz
    doubtful = np.flatnonzero((swing > DOUBTFUL[0]) & (swing < DOUBTFUL[1]) & (rising < LEVEL))
    if not len(doubtful):
        return MidSwing(fastest, "at_peak_speed")
    return MidSwing(fastest, "at_peak_speed", float(doubtful[np.argmin(rising[doubtful])]))
