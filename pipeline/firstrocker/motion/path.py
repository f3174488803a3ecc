"""The way that a segment held at its anchors went, on ground taken as level."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from firstrocker.model import STANDARD_GRAVITY, FloatArray
from firstrocker.motion.anchored import Course, Ties
from firstrocker.motion.integrate import cumulative


@dataclass(frozen=True)
class Path:
    """The way of a held segment.

    velocity, position: (n, 3) m/s and m of the sensor's centre, world axes; position starts at the first anchor and is
    meaningful between anchors only. misclosure: (k - 1, 3) m/s velocity left over between anchors; climb: (k - 1,) m
    height the foot gained before the ground was taken as level.
    """

    velocity: FloatArray
    position: FloatArray
    misclosure: FloatArray
    climb: FloatArray


def path(course: Course, rate_hz: float, ties: Ties) -> Path:
    """The way of a course, from the velocity and the heights known at its anchors.

    Args:
        course: as held.
        rate_hz: samples per second.
        ties: what it was held by.
    """
    index, step, clock = ties.index, 1.0 / rate_hz, course.clock
    velocity, position = np.empty(course.force.shape), np.empty(course.force.shape)
    excess = np.empty((len(index), 3))
    # Axis by axis: an integral takes several times the room of what it is of.
    for axis, gravity in enumerate((0.0, 0.0, STANDARD_GRAVITY)):
        gained = cumulative(course.force[:, axis] - gravity, step)
        excess[:, axis] = gained[index] - ties.target[:, axis]
        gained -= np.interp(clock, clock[index], excess[:, axis])
        velocity[:, axis] = gained
        position[:, axis] = cumulative(gained, step)
    surplus = position[index, 2] - (ties.height - ties.height[0])
    position[:, 2] -= ease(clock, clock[index], surplus)
    position -= position[index[0]].copy()
    return Path(velocity, position, np.diff(excess, axis=0), np.diff(surplus))


def ease(clock: FloatArray, nodes: FloatArray, values: FloatArray) -> FloatArray:
    """(n,) curve through ``values`` (k,) at ``nodes`` (k,), level at each of them."""
    place = np.clip(np.searchsorted(nodes, clock, side="right") - 1, 0, len(nodes) - 2)
    part = np.clip((clock - nodes[place]) / (nodes[place + 1] - nodes[place]), 0.0, 1.0)
    return np.asarray(values[place] + (values[place + 1] - values[place]) * part * part * (3.0 - 2.0 * part))
