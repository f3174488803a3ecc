"""Where in swing the toe passes lowest."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from firstrocker.gait.windows import Windows, spanning
from firstrocker.model import BoolArray, FloatArray, IntArray, TextArray

FIRST_RISE = 0.001  # m the toe must have risen before, and ...
EARLY = 0.2  # share of swing in which a shoe's bent toes are still straightening out
LAST_RISE = 0.002  # ... must rise after, for a dip to be the minimum between two rises
HARDLY = 0.002  # m more of either, below which the dip is in doubt
DOUBTFUL = (0.12, 0.5)  # shares of swing between which a dip may have been overlooked, ...
LEVEL = 0.015  # m/s, ... where the toe hardly rose: set on simulated hemiparetic walks


@dataclass(frozen=True)
class MidSwings:
    """The instants of minimum toe clearance, (k,) each.

    place: samples, fractions included; NaN where it cannot be had. dip: whether the toe has a local minimum there;
    where it has not, it is the instant of the foot's greatest speed. rival: the instant that may as well be meant by
    the definition, for a dip of a millimetre decides which; NaN where there is no doubt.
    """

    place: FloatArray
    dip: BoolArray
    rival: FloatArray

    @property
    def kind(self) -> TextArray:
        """``local_minimum`` or ``at_peak_speed``; empty where there is none."""
        return np.where(np.isnan(self.place), "", np.where(self.dip, "local_minimum", "at_peak_speed"))

    def later(self, samples: IntArray) -> MidSwings:
        """The same counted from so many samples before, (k,)."""
        return MidSwings(samples + self.place, self.dip, samples + self.rival)


def lowest_toe(windows: Windows, height: FloatArray, forward: FloatArray, rate_hz: float) -> MidSwings:
    """Instants of minimum toe clearance.

    Args:
        windows: (k,) swings, of two samples or more each; empty where there is none.
        height: (m,) m of the outsole's tip from toe off to heel strike.
        forward: (m,) m/s of the foot along its way.
        rate_hz: samples per second.

    Returns:
        In samples from each window's first: the lowest dip between two rises; or, where there is none, the instant of
        the foot's greatest forward speed.

    >>> height = np.array([0.0, 3.0, 2.0, 1.0, 2.0, 5.0]) / 100
    >>> lowest_toe(Windows(np.array([0]), np.array([6])), height, np.array([0.0, 1.0, 2.0, 3.0, 2.0, 1.0]), 100.0)
    MidSwings(place=array([3.]), dip=array([ True]), rival=array([nan]))
    """
    fastest = windows.peak(forward)[0]
    before = windows.greatest_so_far(height) - height
    after = windows.greatest_to_come(height) - height
    swung = windows.share
    dips = np.zeros(len(height), dtype=np.bool_)
    here = height[1:-1]
    dips[1:-1] = (here <= height[:-2]) & (here < height[2:]) & (swung[1:-1] >= EARLY)
    # The first and the last sample of a swing are none.
    dips &= (swung > 0.0) & (swung < 1.0) & (before > FIRST_RISE) & (after > LAST_RISE)
    lowest = windows.place_of_greatest(np.where(dips, -height, -np.inf))
    dip = windows.first_true(dips) >= 0

    place, rival = fastest.copy(), np.full(len(fastest), np.nan)
    found = windows.begin[dip] + lowest[dip]
    around = spanning(found - 1, found + 1)
    place[dip] = lowest[dip] - 1 + around.peak(-around.of(height))[0]
    sure = (before[found] > FIRST_RISE + HARDLY) & (after[found] > LAST_RISE + HARDLY)
    rival[dip] = np.where(sure, np.nan, fastest[dip])

    rising = np.zeros(len(height))
    rising[1:-1] = 0.5 * (height[2:] - height[:-2]) * rate_hz
    doubtful = (swung > DOUBTFUL[0]) & (swung < DOUBTFUL[1]) & (rising < LEVEL)
    overlooked = ~dip & (windows.first_true(doubtful) >= 0)
    flattest = windows.place_of_greatest(np.where(doubtful, -rising, -np.inf))
    rival[overlooked] = flattest[overlooked]
    return MidSwings(place, dip, rival)
