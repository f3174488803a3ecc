"""The way that a segment held at its anchors went, on ground taken as level."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from firstrocker.model import STANDARD_GRAVITY, FloatArray, IntArray
from firstrocker.motion.anchored import Course, Ties, shock
from firstrocker.motion.integrate import cumulative
from firstrocker.motion.sensor import pieces


@dataclass(frozen=True)
class Path:
    """The way of a held segment.

    velocity, position: (3, n) m/s and m of the sensor's centre, world axes; position starts at the first anchor and is
    meaningful between anchors only. shock: (n,) m/s^2, magnitude of acceleration with gravity off. misclosure:
    (k - 1, 3) m/s velocity left over between anchors; climb: (k - 1,) m height the foot gained before the ground was
    taken as level.
    """

    velocity: FloatArray
    position: FloatArray
    shock: FloatArray
    misclosure: FloatArray
    climb: FloatArray


def path(course: Course, ties: Ties) -> Path:
    """The way of a course, from the velocity and the heights known at its anchors.

    Args:
        course: as held.
        ties: what it was held by.
    """
    index, step, clock, count = ties.index, 1.0 / course.sensor.rate_hz, course.clock, len(course.sensor)
    # Acceleration first, position where it lay.
    position, felt = np.empty((3, count)), np.empty(count)
    for part, force in course.forces():
        position[:, part] = force
        felt[part] = shock(force)
    position[2] -= STANDARD_GRAVITY
    velocity, excess = np.empty((3, count)), np.empty((len(index), 3))
    for axis, (pace, place) in enumerate(zip(velocity, position, strict=True)):
        cumulative(place, step, pace)
        excess[:, axis] = pace[index] - ties.target[:, axis]
        for part in pieces(0, count):
            pace[part] -= np.interp(clock[part], clock[index], excess[:, axis])
        cumulative(pace, step, place)
    surplus = position[2, index] - (ties.height - ties.height[0])
    position[2] -= ease(clock, index, surplus)
    for place in position:
        place -= place[index[0]]
    return Path(velocity, position, felt, np.diff(excess, axis=0), np.diff(surplus))


def ease(clock: FloatArray, index: IntArray, values: FloatArray) -> FloatArray:
    """(n,) curve through ``values`` (k,) at samples ``index`` (k,), level at each of them, as ``clock`` (n,) runs."""
    lengths = np.diff(index)
    lengths[0] += index[0]
    lengths[-1] += len(clock) - index[-1]
    begin, span = clock[index[:-1]], np.diff(clock[index])
    part = np.clip((clock - np.repeat(begin, lengths)) / np.repeat(span, lengths), 0.0, 1.0)
    part *= part * (3.0 - 2.0 * part)
    part *= np.repeat(np.diff(values), lengths)
    return np.asarray(part + np.repeat(values[:-1], lengths))
