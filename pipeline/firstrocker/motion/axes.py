"""How a sensor sits on its segment, found from gravity and from walking itself; any mounting will do.

Gravity in standing gives the upward axis. Walking turns the segment back and forth about the sideways axis: the first
principal direction of the angular velocity. Which end of it is left is told by where the foot goes.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from firstrocker.model import FloatArray


@dataclass(frozen=True)
class Mounting:
    """matrix: (3, 3) takes sensor coordinates to segment coordinates.

    planar: share of the horizontal turning that lies about the sideways axis, 0.5 (none stands out) to 1.
    heading_off: rad from the segment's forward axis to the way the foot went, positive to the left; NaN if unknown.
    declared: whether its axes were told and levelled by gravity, or found from walking. doubt: rad by which
    the sideways axis would at most lie otherwise by all its turning, or by its turning in the air, alone; 0: unknown.
    """

    matrix: FloatArray
    planar: float
    heading_off: float
    declared: bool = False
    doubt: float = 0.0


def unit(vector: FloatArray) -> FloatArray:
    """The vector (3,) at length 1."""
    return np.asarray(vector / np.linalg.norm(vector))


def sideways(up: FloatArray, scatter: FloatArray) -> tuple[FloatArray, float]:
    """Sideways axis up to its sign, and how clearly it stands out.

    Args:
        up: (3,) unit, sensor axes.
        scatter: (3, 3) sum of the angular velocity's products with itself while the segment moves, sensor axes, strides
            that turn weighing less (:func:`firstrocker.motion.turned.straightness`).

    Returns:
        (3,) unit, at right angles to ``up``; share of the squared horizontal turning that lies along it.
    """
    flatten = np.eye(3) - np.outer(up, up)
    values, vectors = np.linalg.eigh(flatten @ scatter @ flatten)
    axis = vectors[:, 2] - (vectors[:, 2] @ up) * up
    return unit(axis), float(values[2] / max(values.sum(), 1e-12))


def mounting(up: FloatArray, left: FloatArray) -> FloatArray:
    """(3, 3) sensor-to-segment rotation from two unit axes (3,) in sensor coordinates at right angles to each other."""
    return np.stack([np.cross(left, up), left, up])


def declared_mounting(left: FloatArray, up: FloatArray, lean: float = 0.0) -> Mounting:
    """A mounting whose sideways axis was declared, levelled by gravity.

    Args:
        left: (3,) the declared sideways axis, sensor coordinates.
        up: (3,) m/s^2 specific force in quiet standing or on a flat foot, sensor axes.
        lean: rad by which the segment was then turned forward.
    """
    top = unit(up)
    flat = unit(left - (left @ top) * top)
    along = np.cos(lean) * top + np.sin(lean) * np.cross(flat, top)
    return Mounting(mounting(along, flat), 1.0, float("nan"), declared=True)


def foot_mounting(up: FloatArray, scatter: FloatArray, aloft: FloatArray, steps: FloatArray) -> Mounting:
    """How the foot sensor sits.

    Its sideways axis lies between the principal directions of all its turning and of its turning in the air: a foot
    that rolls inwards or outwards as it lands and pushes off spoils the one, and the more so the slower somebody walks;
    the other is of few samples, in which real feet roll too. So the less all the turning is about one axis, the more
    the air counts: not at all where it is (planar 1), alone where no axis stands out (0.5).

    Args:
        up: (3,) m/s^2 specific force of the flat foot, sensor axes.
        scatter: (3, 3) of :func:`sideways`, while the foot moves.
        aloft: (3, 3) the same in the air, straight on.
        steps: (k, 3) m where the foot went in each stride, in the axes of the sensor as it stood before, k >= 1.
    """
    top = unit(up)
    left, planar = sideways(top, scatter)
    doubt = 0.0
    if aloft.any():
        other, _ = sideways(top, aloft)
        other = other if other @ left > 0.0 else -other
        air = 2.0 * (1.0 - planar)
        between = unit((1.0 - air) * left + air * other)
        doubt = float(np.arccos(np.clip([between @ left, between @ other], -1.0, 1.0)).max())
        left = between
    flat = steps - np.outer(steps @ top, top)
    way = flat / np.maximum(np.linalg.norm(flat, axis=1, keepdims=True), 1e-9)
    forward = np.cross(left, top)
    if np.median(way @ forward) < 0.0:
        left, forward = -left, -forward
    off = float(np.arctan2(np.median(way @ left), np.median(way @ forward)))
    return Mounting(mounting(top, left), planar, off, doubt=doubt)


def shank_mounting(up: FloatArray, scatter: FloatArray, with_foot: FloatArray, lean: float) -> Mounting:
    """How the shank sensor sits.

    In pushing off, swinging and letting the foot down, foot and shank turn the same way about the sideways axis, and
    which way the foot turns is known from where it went.

    Args:
        up: (3,) m/s^2 specific force in quiet standing, sensor axes.
        scatter: (3, 3) of :func:`sideways`, while the foot moves.
        with_foot: (3,) sum of the angular velocity's products with the foot's about its own sideways axis, meanwhile.
        lean: rad, shank-to-vertical angle in that standing, inclined positive.
    """
    top = unit(up)
    left, planar = sideways(top, scatter)
    if left @ with_foot < 0.0:
        left = -left
    # Standing inclined by `lean`, the shank's own axis is gravity's turned forward about +y.
    forward = np.cross(left, top)
    along = np.cos(lean) * top + np.sin(lean) * forward
    return Mounting(mounting(along, left), planar, float("nan"))
