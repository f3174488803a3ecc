"""The one convention for frames, rotations and signs; every function of the package keeps to it.

Frames
    Every frame is right-handed with x forward, y left, z up.

    * world: z against gravity; x is arbitrary (there is no compass), fixed per walk.
    * foot: x from heel to toe along the sole, z the sole's normal; level (z up) on a flat foot on level ground.
    * shank: z from the ankle to the knee, x forward; upright when the shank is vertical.
    * sensor: whatever the maker and the strap decided; a mounting matrix takes it to the segment.

Rotations
    A rotation is a matrix ``R`` of shape (..., 3, 3) taking segment coordinates to world coordinates,
    ``v_world = R @ v_segment``; its columns are the segment's axes seen in the world. Quaternions, where a library
    wants them, are (w, x, y, z) of the same rotation.

Signs
    * foot pitch: elevation of the foot's x axis over the horizontal, ``asin(R[2, 0])``; toes-up positive.
    * shank-to-vertical angle: the same of the shank with the sign turned, ``-asin(R[2, 0])``; inclined (knee ahead of
      the ankle) positive. A right-handed turn about +y inclines the shank and lowers the toes.
    * ankle angle = foot pitch + shank-to-vertical angle; dorsiflexion positive.
    * rates are the time derivatives of these: ``ankle rate = pitch rate + shank rate``.
    * sideways: away from the body is +y for a left foot, -y for a right one.
"""

from __future__ import annotations

import numpy as np

from firstrocker.model import FloatArray


def elevation(up: FloatArray) -> FloatArray:
    """Elevation of a segment's x axis over the horizontal, rad.

    Args:
        up: (3, ...) the world's upward axis in segment axes, the last row of segment-to-world rotations.

    Returns:
        (...,) angle in [-pi/2, pi/2], positive where the axis points up.

    >>> elevation(np.array([0.0, 0.0, 1.0])).item()
    0.0
    """
    return np.asarray(np.arcsin(np.clip(up[0], -1.0, 1.0)))


def elevation_rate(up: FloatArray, turning: FloatArray) -> FloatArray:
    """Time derivative of :func:`elevation`, rad/s.

    Args:
        up: (3, ...) as there.
        turning: (3, ...) rad/s angular velocity in segment axes.

    Returns:
        (...,) rad/s. With ``s = R[2, 0]``, ``ds/dt = (R [w]x)[2, 0] = R[2, 1] wz - R[2, 2] wy`` and the derivative of
        ``asin(s)`` is ``ds/dt / sqrt(1 - s^2)``.
    """
    along = up[1] * turning[2] - up[2] * turning[1]
    horizontal = np.sqrt(np.maximum(1.0 - up[0] * up[0], 1e-12))
    return np.asarray(along / horizontal)


def upright(heading: FloatArray, pitch: FloatArray, roll: FloatArray) -> FloatArray:
    """Rotations of a segment that is not upside down, (..., 3, 3) segment to world.

    Args:
        heading: (...,) rad of the x axis about the vertical.
        pitch: (...,) rad, elevation of the x axis, short of a right angle.
        roll: (...,) rad, elevation of the y axis.

    >>> upright(np.array(0.0), np.array(0.5), np.array(0.0))[2].round(3).tolist()
    [0.479, 0.0, 0.878]
    """
    a, b = np.sin(pitch), np.sin(roll)
    c = np.sqrt(np.maximum(1.0 - a * a - b * b, 0.0))
    level = np.maximum(np.hypot(b, c), 1e-9)
    ahead = np.stack([level, -a * b / level, -a * c / level], axis=-1)
    aside = np.stack([np.zeros_like(level), c / level, -b / level], axis=-1)
    cosine, sine = np.cos(heading)[..., None], np.sin(heading)[..., None]
    rows = [cosine * ahead - sine * aside, sine * ahead + cosine * aside, np.stack([a, b, c], axis=-1)]
    return np.stack(rows, axis=-2)
