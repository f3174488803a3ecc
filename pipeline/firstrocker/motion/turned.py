"""How far a foot turned from stance to stance, and how much what it did meanwhile tells of walking straight on."""

from __future__ import annotations

import numpy as np

from firstrocker.model import FloatArray
from firstrocker.motion.orientation import matrices

HALF_TURN = np.radians(10.0)
"""Turning from one stance to the next at which a stride counts half of a straight one: common practice, no source. A
U-turn's strides of some 60 deg then count a fortieth. Of who walks in circles all strides count alike."""


def turned(quaternion: FloatArray) -> FloatArray:
    """(k - 1,) rad, by how much the heading changed between k stances, the shorter way round.

    Args:
        quaternion: (4, k) of the sensor, to the world.
    """
    rotation = matrices(quaternion.T)
    change = rotation[1:] @ np.swapaxes(rotation[:-1], 1, 2)
    return np.asarray(np.arctan2(change[:, 1, 0] - change[:, 0, 1], change[:, 0, 0] + change[:, 1, 1]))


def straightness(turn: FloatArray) -> FloatArray:
    """(k + 1,) weights of what lies before, between and after k stances, by the turning (k - 1,) rad between them.

    A segment that is pitched while its heading changes turns about its own forward axis too, to one side where the
    person turns to the left and to the other to the right: turns draw the axis about which it seems to turn their way.

    >>> straightness(np.radians([0.0, 10.0, -30.0])).round(2).tolist()
    [1.0, 1.0, 0.5, 0.1, 1.0]
    """
    return np.pad(1.0 / (1.0 + (turn / HALF_TURN) ** 2), 1, constant_values=1.0)
