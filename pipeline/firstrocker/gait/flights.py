"""Flights of a foot, from its greatest speed to its rest: where its contact with the ground is looked for."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from firstrocker.gait.windows import Windows, spanning, whole
from firstrocker.model import FloatArray, IntArray
from firstrocker.motion.foot import FootMotion

CONTACT_PITCH = np.radians(3.0)
"""rad of pitch at contact beyond which it is the heel's or the forefoot's."""


@dataclass(frozen=True)
class Flights:
    """k flights of one foot.

    motion: the foot's. pace: (n,) m/s its speed. fastest, stop: (k,) samples at which a flight's speed is greatest, and
    at which the foot rests again. What is said of all samples of all flights is (m,), as in :class:`Windows`.
    """

    motion: FootMotion
    pace: FloatArray
    fastest: IntArray
    stop: IntArray

    @cached_property
    def windows(self) -> Windows:
        """The flights' samples."""
        return spanning(self.fastest, self.stop)

    @cached_property
    def slowing(self) -> FloatArray:
        """(m,) speed as a share of the greatest."""
        return self.windows.of(self.pace) / self.windows.each(self.pace[self.fastest])

    def over_rest(self, curve: FloatArray) -> FloatArray:
        """(m,) a curve (n,) over what it comes to where the foot rests."""
        return self.windows.of(curve) - self.windows.each(curve[self.stop])

    def there(self, values: FloatArray, place: FloatArray) -> FloatArray:
        """(k,) of (m,) values, that nearest to a place (k,) in each flight, samples from its first."""
        return np.asarray(values[self.windows.begin + whole(np.round(place))])
