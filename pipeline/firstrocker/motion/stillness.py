"""Moments at which the foot stands still on the ground: the anchors of everything else.

Nothing is assumed of the shape of a stride: an anchor is a minimum of motion, and a stride is what carries the foot
from one place to another. That holds for a slap, a forefoot contact, a shuffle and a turn alike.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from firstrocker.model import STANDARD_GRAVITY, BoolArray, FloatArray, IntArray
from firstrocker.motion.rest import edges_of
from firstrocker.motion.sensor import Sensor, pieces

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


def motion_energy(sensor: Sensor) -> FloatArray:
    """How much a sensor moves, 0 at rest, averaged over a tenth of a second.

    Returns:
        (n,) squared angular rate and squared departure of the specific force's magnitude from gravity, each over its
        scale (the stance hypothesis test of Skog et al. 2010 with the direction of gravity left free).
    """
    energy = np.empty(len(sensor))
    for part in pieces(0, len(energy)):
        turn, force = sensor.turning(part), sensor.force(part)
        off = (np.sqrt((force * force).sum(axis=0)) - STANDARD_GRAVITY) / FORCE_SCALE
        energy[part] = (turn * turn).sum(axis=0) / RATE_SCALE**2 + off * off
    window = min(max(3, round(WINDOW_S * sensor.rate_hz) | 1), len(energy) - (len(energy) + 1) % 2)
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
    first, stop = edges_of(still)
    # Several anchors in one stance, so that no drift builds up while the foot stands.
    parts = np.maximum(1, np.rint((stop - first) / (SPACING_S * rate_hz)).astype(np.int64))
    stance = np.repeat(np.arange(len(parts)), parts)
    place = _lowest(energy, *_parted(first, stop, parts))
    limit = np.maximum(QUITE_STILL, 4.0 * energy[_lowest(energy, first, stop)])
    taken = np.zeros(len(energy), dtype=np.bool_)
    taken[place[energy[place] <= limit[stance]]] = True
    for level in LULLS:
        first, stop = edges_of((energy < level) & valid)
        free = ~_over(np.logical_or, taken, first, stop)
        for one in _lowest(energy, first[free], stop[free]).tolist():
            taken[one] = _stands_out(energy, one, level, rate_hz)
    picked = np.flatnonzero(taken)
    return Anchors(picked, energy[picked], still)


def _parted(first: IntArray, stop: IntArray, parts: IntArray) -> tuple[IntArray, IntArray]:
    """Each span (k,) in so many parts (k,), the longer ones first: where all of them begin and stop."""
    which = np.repeat(np.arange(len(parts)), parts)
    number = np.arange(len(which)) - np.repeat(np.cumsum(parts) - parts, parts)
    length, longer = np.divmod(stop - first, parts)

    def begin(number: IntArray) -> IntArray:
        return np.asarray(first[which] + number * length[which] + np.minimum(number, longer[which]))

    return begin(number), begin(number + 1)


def _lowest(values: FloatArray, first: IntArray, stop: IntArray) -> IntArray:
    """(k,) where the values are least within each of the spans (k,), which follow upon each other; the first place."""
    if not len(first):
        return first
    least = _over(np.minimum, values, first, stop)
    length = stop - first
    begin = np.cumsum(length) - length
    sample = np.arange(length.sum()) + np.repeat(first - begin, length)
    hit = np.flatnonzero(values[sample] == np.repeat(least, length))
    return np.asarray(sample[hit[np.searchsorted(hit, begin)]])


def _over(ufunc: np.ufunc, values: NDArray[Any], first: IntArray, stop: IntArray) -> NDArray[Any]:
    """(k,) what a function of two values makes of those within each of the spans (k,)."""
    ends = np.stack([first, stop], axis=1).ravel()
    # Every second stretch lies between two spans and is no one's; the last may end with the values.
    if len(ends) and ends[-1] == len(values):
        ends = ends[:-1]
    return np.asarray(ufunc.reduceat(values, ends)[::2])


def _stands_out(energy: FloatArray, place: int, level: float, rate_hz: float) -> bool:
    """Whether the foot moved much more within the half second before and after."""
    reach = round(0.5 * rate_hz)
    before, after = energy[max(place - reach, 0) : place + 1], energy[place : place + reach + 1]
    return bool(min(before.max(), after.max()) > STANDS_OUT * level)
