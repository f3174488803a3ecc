"""The instant at which a foot comes down.

Where the sensor's seat on the shoe was measured, heel and toe are known points: the one that touches first is arrested
at its resting height. Where it was not, the points are centimetres off, and the jolt that goes through the foot has to
help.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from firstrocker.gait.crossings import first_crossing, last_crossing
from firstrocker.model import FloatArray
from firstrocker.motion.foot import FootMotion
from firstrocker.motion.integrate import at, derivative

CONTACT_PITCH = np.radians(3.0)
"""rad of pitch at contact beyond which it is the heel's or the forefoot's."""
ONSET = 0.5
"""Share of the arrest's greatest upward acceleration that counts as its onset."""


@dataclass(frozen=True)
class _Search:
    """Where an arrest is looked for: about ``later_s`` after a point last sinks to ``height`` m over its rest.

    spread_s: give or take. bounds_s: about that instant, what its onset may not leave.
    """

    height: float
    later_s: float
    spread_s: float
    bounds_s: tuple[float, float]


KNOWN_SEAT = _Search(0.003, 0.010, 0.020, (-0.008, 0.014))
GUESSED_SEAT = _Search(0.010, 0.0, 0.070, (-np.inf, np.inf))
SLOWED = _Search(0.30, 0.0, 0.060, (-np.inf, np.inf))  # its height is a share of the foot's greatest speed
QUICK_READING_HZ = 80.0
"""Samples per second from which an arrest keeps its shape, so that its own height can be read."""
TOUCHING_M, GIVE_M, GIVE_S = 0.001, 0.004, 0.006
"""m over its rest at which a point's arrest begins, give or take in height and s in time."""
SINKING_S, ON_TIME_S, LATE_S = 0.02, 0.012, 0.008
"""s over which its speed is read; s that an arrest may come late, and give or take."""
STRENGTH = 0.8
"""Power of an arrest's strength among its signs."""
SLOWEST_S = 0.050
"""s that a point may take at the most from where it is looked for down to the ground."""
LOOK_BACK_S = 0.04
"""s before that instant over which its speed is read."""
LONGER = 1.3
"""How many times the time so reckoned a slow point may take."""
STILL_FAST = 0.6
"""Share of its greatest speed above which the foot cannot be landing."""
ARRESTED = 0.7
"""Weight of the arrest beside the jolt where the seat is guessed: annotators see contact between the two, on average
here (set on half of the annotated feet that the tests read)."""
ALIKE_S = 0.060
"""s by which arrest and jolt of one landing may differ where the seat is guessed."""
BRAKING, LANDED = 0.65, 0.08
"""Shares of its greatest speed at which a foot brakes, and has landed."""


@dataclass(frozen=True)
class _Point:
    """A point of the sole: (n,) m height over where it rests, and m/s^2 upward acceleration."""

    height: FloatArray
    lift: FloatArray


def _point(height: FloatArray, rate_hz: float) -> _Point:
    return _Point(height, derivative(derivative(height, 1.0 / rate_hz), 1.0 / rate_hz))


def heel_strikes(motion: FootMotion, pace: FloatArray, flights: list[tuple[int, int]]) -> list[float]:
    """The first contact after each flight.

    Args:
        motion: the foot's motion.
        pace: (n,) m/s its speed.
        flights: from the foot's greatest speed to where it rests again, sample numbers.

    Returns:
        Sample numbers, fractions included; NaN where there is no sign of a contact.
    """
    points = tuple(_point(height, motion.rate_hz) for height in (motion.heel_height, motion.toe_height))
    jolt = _jolts(motion)
    search = KNOWN_SEAT if motion.geometry.measured else GUESSED_SEAT
    found = []
    for fastest, stop in flights:
        felt = _jolt(jolt, *_braking(motion, pace, fastest, stop))
        arrested = _arrest(motion, points, pace, fastest, stop, search)
        if np.isnan(arrested):
            found.append(felt)
        elif motion.geometry.measured:
            found.append(arrested)
        else:
            alike = abs(arrested - felt) < ALIKE_S * motion.rate_hz
            found.append(ARRESTED * arrested + (1.0 - ARRESTED) * felt if alike else felt)
    return found


def _jolts(motion: FootMotion) -> FloatArray:
    """(n,) m/s^3, how much the acceleration (a vector in the world) changed since the sample before."""
    step = 1.0 / motion.rate_hz
    acceleration = derivative(motion.velocity, step)
    return np.asarray(np.linalg.norm(np.diff(acceleration, axis=0, prepend=acceleration[:1]), axis=1) / step)


def _braking(motion: FootMotion, pace: FloatArray, fastest: int, stop: int) -> tuple[int, int]:
    """From where to where a foot lands, by its slowing down; a heel lands before half of the fall in pitch is over."""
    slowing = pace[fastest : stop + 1] / pace[fastest]
    begin = fastest + int(np.argmax(slowing < BRAKING))
    end = fastest + int(np.argmax(slowing < LANDED)) if (slowing < LANDED).any() else stop
    away = motion.pitch[begin : max(end, begin + 1)] - motion.pitch[stop]
    if away.max() > 2.0 * CONTACT_PITCH:
        top = begin + int(np.argmax(away))
        fall = motion.pitch[top : stop + 1] - motion.pitch[stop]
        half = first_crossing(fall, 0.5 * float(fall[0]), rising=False)
        if not np.isnan(half):
            end = min(end, top + int(np.ceil(half)))
    return begin, end


def _jolt(jolt: FloatArray, begin: int, end: int) -> float:
    """Onset of the greatest jolt within a window, NaN where that is too short."""
    if end - begin < 2:
        return float("nan")
    part = jolt[begin : end + 1]
    return begin + first_crossing(np.concatenate([[0.0], part]), ONSET * float(part.max()), rising=True) - 1.0


def _arrest(
    motion: FootMotion, points: tuple[_Point, ...], pace: FloatArray, fastest: int, stop: int, search: _Search
) -> float:
    """Onset of the arrest of the point that comes down first.

    When the heel, or in a foot that does not land on it the lower of heel and toe, last sinks to its resting height
    tells where to look; there the greatest upward acceleration of that point is its arrest.
    """
    part, rate_hz = slice(fastest, stop + 1), motion.rate_hz
    heights = [point.height[part] - point.height[stop] for point in points]
    first, down = 0, last_crossing(heights[0], search.height, rising=False)
    landed = motion.pitch[part] - motion.pitch[stop]
    if np.isnan(down) or landed[round(down)] < CONTACT_PITCH:
        # Not on its heel: whichever point comes down first for good.
        down = last_crossing(np.minimum(*heights), search.height, rising=False)
        first = int(not np.isnan(down) and heights[1][round(down)] < heights[0][round(down)])
    if np.isnan(down) or pace[fastest + round(down)] > STILL_FAST * pace[fastest]:
        # The points are so far off that they scrape the ground in flight: go by the foot's slowing down.
        search, down = SLOWED, last_crossing(pace[part] / pace[fastest], SLOWED.height, rising=False)
        if np.isnan(down):
            return float("nan")
        first = int(landed[round(down)] <= -CONTACT_PITCH)
    lift = points[first].lift[part]
    peaks = np.flatnonzero((lift[1:-1] >= lift[:-2]) & (lift[1:-1] > lift[2:]) & (lift[1:-1] > 0.0)) + 1
    onsets = np.array([last_crossing(lift[: k + 1], ONSET * float(lift[k]), rising=True) for k in peaks])
    peaks, onsets = peaks[~np.isnan(onsets)], onsets[~np.isnan(onsets)]
    if not len(peaks):
        return float("nan")
    lifts = lift[peaks]
    if search is KNOWN_SEAT and rate_hz >= QUICK_READING_HZ:
        down += LONGER * _sinking(heights[first], down, search.height, rate_hz)
        return fastest + float(onsets[np.argmax(_by_height(heights[first], down, onsets, lifts, rate_hz))])
    centre, spread = down + search.later_s * rate_hz, search.spread_s * rate_hz
    # The square root, for the other end's arrest that follows may be many times harder.
    onset = float(onsets[np.argmax(np.sqrt(lifts) * np.exp(-0.5 * ((peaks - centre) / spread) ** 2))])
    # A strap that rings, or a landing too soft to be felt, moves the arrest about; the height bounds it.
    # Read less than a hundred times a second, an arrest is smeared ahead of itself.
    smeared = max(1.0 / rate_hz - 0.01, 0.0)
    early, late = (down + (margin + smeared) * rate_hz for margin in search.bounds_s)
    return fastest + min(max(onset, early), late)


def _by_height(height: FloatArray, down: float, onsets: FloatArray, lifts: FloatArray, rate_hz: float) -> FloatArray:
    """(k,) how likely each arrest is the first contact: by its strength, its height and how late it comes.

    Height and instant of an onset are both uncertain, and what an instant's error does to a height is told by how fast
    the point sinks. Late is after the point last sank to where it is looked for: what follows is the other end's.
    """
    places = np.arange(len(height))
    here = np.interp(onsets, places, height)
    before = np.interp(np.maximum(onsets - SINKING_S * rate_hz, 0.0), places, height)
    speed = np.maximum(before - here, 0.0) / SINKING_S
    away = (here - TOUCHING_M) ** 2 / (GIVE_M**2 + (speed * GIVE_S) ** 2)
    late = np.maximum((onsets - down) / rate_hz - ON_TIME_S, 0.0) / LATE_S
    return np.asarray(lifts**STRENGTH * np.exp(-0.5 * (away + late**2)))


def _sinking(height: FloatArray, down: float, left: float, rate_hz: float) -> float:
    """Samples a point takes for the ``left`` m down to the ground, at the speed it then sinks at."""
    # As fast as just before, for a height that is off by some millimetres is passed when the point has been arrested.
    before = np.clip(down - np.array([LOOK_BACK_S, 0.5 * LOOK_BACK_S, 0.0]) * rate_hz, 0.0, len(height) - 1.0)
    fall = float(np.max(-np.diff(at(height, before)))) / (0.5 * LOOK_BACK_S)
    return SLOWEST_S * rate_hz / (1.0 + SLOWEST_S * max(fall, 0.0) / left)
