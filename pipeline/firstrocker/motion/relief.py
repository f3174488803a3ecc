"""A foot's heights where the ground is not level: given back what was taken for drift, and counted from the ground."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from firstrocker.model import FloatArray
from firstrocker.motion.anchored import STILL_PACE
from firstrocker.motion.foot import FootMotion
from firstrocker.motion.ground import LEVEL, Ground
from firstrocker.motion.path import ease

SETTLED_S = 0.06
"""s after a foot flat from which heights are counted from the ground of the next step."""


def over_ground(foot: FootMotion, ground: Ground) -> FootMotion:
    """The foot over ground that rises and falls.

    The height gained on ramps and stairs stays in ``position``; ``toe_height`` and ``heel_height`` become those over
    the ground: on a ramp over the plane through the foot's two places, on stairs over the tread that the foot comes
    down on.

    Args:
        foot: as tracked, on level ground.
        ground: of its steps.

    Returns:
        The foot; the same where all ground is level.
    """
    if ground.level:
        return foot
    gained = np.zeros(len(foot.anchors))
    uneven = np.array([kind != LEVEL for kind in ground.kind])
    gained[ground.node[uneven] + 1] = ground.rise[uneven]
    level = np.cumsum(gained)
    # From one anchor's level to the next as the errors were taken off: slow while the foot is still.
    clock = np.cumsum(np.where(foot.still, STILL_PACE, 1.0))
    height = ease(clock, foot.anchors, level)
    position = foot.position.copy()
    position[:, 2] += height
    lifted, seat = replace(foot, position=position), foot.geometry
    toe, heel = (_floor(lifted, ground, level, reach) for reach in (seat.to_toe, -seat.to_heel))
    return replace(lifted, toe_height=foot.toe_height + height - toe, heel_height=foot.heel_height + height - heel)


def _floor(foot: FootMotion, ground: Ground, level: FloatArray, reach: float) -> FloatArray:
    """(n,) m height of the ground under the sole, ``reach`` m ahead of the sensor; ``foot`` with heights given back."""
    count = len(foot.position)
    wait = max(4, round(SETTLED_S * foot.rate_hz))
    # Where the sole is at foot flat, under the sensor.
    above = foot.geometry.above_ground
    sole = foot.position[foot.anchors] - foot.rotation(foot.anchors)[:, :, 2] * above
    out = np.full(count, level[-1])
    begin = 0
    for k, slope in zip(ground.node, ground.slope, strict=True):
        part = slice(begin, int(foot.anchors[k + 1]) + wait)
        begin = part.stop
        out[part] = level[k + 1]
        if slope:
            way = sole[k + 1] - sole[k]
            length = np.linalg.norm(way[:2])
            point = foot.position[part] + foot.rotation(part) @ np.array([reach, 0.0, -above])
            along = (point[:, :2] - sole[k, :2]) @ (way[:2] / length)
            out[part] = sole[k, 2] + way[2] * along / length
    return out
