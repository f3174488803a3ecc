"""Moments at which the foot stands still on the ground: the anchors of everything else.

Nothing is assumed of the shape of a stride: an anchor is a minimum of motion, and a stride is what carries the foot
from one place to another. That holds for a slap, a forefoot contact, a shuffle and a turn alike.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from firstrocker.model import STANDARD_GRAVITY, BoolArray, FloatArray, IntArray
from firstrocker.motion.rest import spans_of

RATE_SCALE = 0.35  # rad/s that counts as much as ...
FORCE_SCALE = 1.0  # ... this many m/s^2 off gravity
WINDOW_S = 0.10  # a still foot is still for at least this long
STILL = 2.5  # energy below which the foot may be still
SPACING_S = 0.25  # s between the anchors of one still stretch
QUITE_STILL = 0.1  # energy below which every moment of a still stretch is good for an anchor
LULLS = (5.0, 10.0, 20.0, 40.0, 80.0)  # energies below which a foot that never quite rests may be standing
STANDS_OUT = 5.0  # times the lull's energy that must be seen on both sides of it


@dataclass(frozen=True)
class Anchors:
    """index: (k,) samples, increasing. energy: (k,) how much the foot moves there, 0 at perfect rest.

    still: (n,) True within a still stretch.
    """

    index: IntArray
    energy: FloatArray
    still: BoolArray

    def keep(self, mask: BoolArray) -> Anchors:
        """The anchors where ``mask`` (k,) is True."""
        return Anchors(self.index[mask], self.energy[mask], self.still)


def around(index: IntArray, rate_hz: float, count: int) -> IntArray:
    """(k, m) samples within four hundredths of a second of each anchor (k,), held within the ``count`` there are."""
    half = max(1, round(0.04 * rate_hz))
    return np.asarray(np.clip(index[:, None] + np.arange(-half, half + 1), 0, count - 1))


def motion_energy(acceleration: FloatArray, angular_velocity: FloatArray, rate_hz: float) -> FloatArray:
    """How much a sensor moves, 0 at rest, averaged over a tenth of a second.

    Args:
        acceleration: (n, 3) m/s^2, gain corrected.
        angular_velocity: (n, 3) rad/s, bias taken off.
        rate_hz: samples per second.

    Returns:
        (n,) squared angular rate and squared departure of the specific force's magnitude from gravity, each over its
        scale (the stance hypothesis test of Skog et al. 2010 with the direction of gravity left free).
    """
    energy = (angular_velocity**2).sum(axis=1) / RATE_SCALE**2
    energy += ((np.linalg.norm(acceleration, axis=1) - STANDARD_GRAVITY) / FORCE_SCALE) ** 2
    window = min(max(3, round(WINDOW_S * rate_hz) | 1), len(energy) - (len(energy) + 1) % 2)
    half = window // 2
    sums = np.concatenate([[0.0], np.cumsum(np.pad(energy, half, mode="edge"))])
    return np.asarray((sums[window:] - sums[:-window]) / window)


def find_anchors(energy: FloatArray, valid: BoolArray, rate_hz: float) -> Anchors:
    """Candidate anchors: the stillest sample of every still stretch, and of every lull that stands out.

    Args:
        energy: (n,) of :func:`motion_energy`.
        valid: (n,) False where nothing was measured.
        rate_hz: samples per second.

    Returns:
        The candidates. A foot may be passing through some of them; its path will tell.
    """
    still = (energy < STILL) & valid
    index: list[int] = []
    for first, stop in spans_of(still):
        # Several anchors in one stance, so that no drift builds up while the foot stands.
        parts = max(1, round((stop - first) / (SPACING_S * rate_hz)))
        limit = max(QUITE_STILL, 4.0 * float(energy[first:stop].min()))
        length, longer = divmod(stop - first, parts)
        ends = [first + part * length + min(part, longer) for part in range(parts + 1)]
        for begin, end in pairwise(ends):
            place = begin + int(np.argmin(energy[begin:end]))
            if energy[place] <= limit:
                index.append(place)
    taken = np.zeros(len(energy), dtype=np.bool_)
    taken[index] = True
    for level in LULLS:
        for first, stop in spans_of((energy < level) & valid):
            place = first + int(np.argmin(energy[first:stop]))
            if not taken[first:stop].any() and _stands_out(energy, place, level, rate_hz):
                taken[place] = True
    picked = np.flatnonzero(taken)
    return Anchors(picked, energy[picked], still)


def _stands_out(energy: FloatArray, place: int, level: float, rate_hz: float) -> bool:
    """Whether the foot moved much more within the half second before and after."""
    reach = round(0.5 * rate_hz)
    before, after = energy[max(place - reach, 0) : place + 1], energy[place : place + reach + 1]
    return bool(min(before.max(), after.max()) > STANDS_OUT * level)
