"""What ground a foot went over: level, a ramp or stairs, step by step, and how sure that is.

Two things tell. The foot's path, integrated with its height left free, rises or falls from one foot flat to the next;
and on a ramp the foot lies tilted when it is flat. The path errs by millimetres per metre that a whole walk shares
(what a sensor misses of every push and landing) and by some more from step to step; a foot that stands is tilted
against the foot in standing by a degree or two, the same in a whole walk, and by another from step to step.
``ground_model.py`` weighs both against each other. The sizes of these errors, and how long their tails are, were taken
from the open recordings of feet on a level floor that the tests read, those for choosing.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from firstrocker.model import BoolArray, FloatArray, IntArray
from firstrocker.motion.foot import FootMotion
from firstrocker.motion.ground_model import BEGINS, SLOPES, Seen
from firstrocker.motion.ground_model import chances as find_chances

LEVEL, UP, DOWN, STAIRS_UP, STAIRS_DOWN, UNKNOWN = "level", "up", "down", "stairs_up", "stairs_down", "unknown"
GROUNDS = (LEVEL, UP, DOWN, STAIRS_UP, STAIRS_DOWN)
"""The kinds of ground, in the order of probabilities; ``unknown`` where none is likely enough."""

SURE = 0.8
"""Probability from which a ground that is not level is named."""
COUNTS_AS_LEVEL = 0.7
"""Probability from which ground is level: far the most common at home and in a clinic."""
LEVEL_BESIDE = 0.95
"""The same for a step beside one that is not level."""
RISE_SD, RISE_PER_M, RISE_PER_MISSED, MUCH_MISSED = 0.003, 0.003, 0.06, 4.0
"""m, m per m of length, m per m/s of velocity left over and its growth per m/s: the scale of a step's own error, which
is of Student's distribution."""
LOST_M_S = 0.25
"""m/s left over from which the sensor did not see all of a step."""
TILT_SD, TILT_TURNING, TILT_UNSURE = np.radians(0.9), 2.0, 4.0
"""rad of a foot's own tilt from stance to stance; how many times more in a turn, and where the sensor did not see all
of a step."""
LEAST_CHANGES, NORMAL_CHANGE = 5, 0.954
"""Steps from which a walk's own scatter is told; by how much two normal values differ (median), by their deviation."""
RISE_UNSURE = 0.06
"""m, the scale where samples or a shock are missing."""
EDGE = np.radians(1.5)
"""rad by which a foot must lie otherwise than its ramp, to be on the edge of it."""


@dataclass(frozen=True)
class Ground:
    """The ground of every step of one foot.

    node: (m,) number of the first of the two anchors it lies between. kind: (m,) of :data:`GROUNDS`, or ``unknown``.
    chance: (m, 5) probability of each. rise: (m,) m height gained, what the walk gains by error taken off. rise_se:
    (m,) m its standard error. slope: (m,) rad on a ramp in the direction walked, else 0. edge: (m,) whether a ramp
    began or ended under the step.
    """

    node: IntArray
    kind: tuple[str, ...]
    chance: FloatArray
    rise: FloatArray
    rise_se: FloatArray
    slope: FloatArray
    edge: BoolArray

    @property
    def level(self) -> bool:
        """Whether it is all level."""
        return all(kind == LEVEL for kind in self.kind)


def find_ground(foot: FootMotion) -> Ground:
    """Which ground the foot went over.

    Args:
        foot: its motion, as tracked: height taken as level, ``climb`` what that took away.

    Returns:
        One entry per step.
    """
    node = np.flatnonzero(foot.moved)
    seen = _seen(foot, node)
    chances = find_chances(seen)
    chance = np.add.reduceat(chances.state, BEGINS, axis=1)
    named = _named(chance)
    mean = (chances.state @ SLOPES) / np.maximum(chance[:, 1] + chance[:, 2], 1e-9)
    slope = np.where(np.isin(named, (UP, DOWN)), mean, 0.0)
    lies = seen.tilt - chances.tilt[:, None]
    edge = (np.abs(lies - slope[:, None]) > np.maximum(0.5 * np.abs(slope), EDGE)[:, None]).any(axis=1) & (slope != 0.0)
    kind = _ends_level(named, slope, lies)
    return Ground(node, kind, chance, seen.rise - chances.rise * seen.length, seen.scale, slope, edge)


def _named(chance: FloatArray) -> tuple[str, ...]:
    kind = chance.argmax(axis=1)
    uneven = np.concatenate([[False], kind > 0, [False]])
    # A step onto a ramp or off it is half of either, and easily taken for level.
    level = np.where(uneven[:-2] | uneven[2:], LEVEL_BESIDE, COUNTS_AS_LEVEL)
    sure = chance.max(axis=1) >= np.where(kind == 0, level, SURE)
    return tuple(GROUNDS[k] if one else UNKNOWN for k, one in zip(kind, sure, strict=True))


def _ends_level(kind: tuple[str, ...], slope: FloatArray, tilt: FloatArray) -> tuple[str, ...]:
    """The kinds; a step that begins or ends with the foot lying as on the ramp beside it is not level."""
    out = list(kind)
    for k in np.flatnonzero(slope):
        for beside, end in ((k - 1, 1), (k + 1, 0)):
            if 0 <= beside < len(out) and out[beside] == LEVEL and tilt[beside, end] / slope[k] > 0.5:
                out[beside] = UNKNOWN
    return tuple(out)


def _seen(foot: FootMotion, node: IntArray) -> Seen:
    places = foot.position[foot.anchors]
    way = (places[node + 1] - places[node])[:, :2]
    length = np.linalg.norm(way, axis=1)
    normal = foot.rotation(foot.anchors)[:, :2, 2]
    along = way / np.maximum(length, 1e-9)[:, None]
    tilt = np.stack([-(normal[node + end] * along).sum(axis=1) for end in (0, 1)], axis=1)
    missed = np.linalg.norm(foot.misclosure[node], axis=1)
    heading = foot.heading[foot.anchors]
    turned = np.abs(heading[node + 1] - heading[node])
    scale = np.hypot(RISE_SD + RISE_PER_M * length, RISE_PER_MISSED * missed * (1.0 + MUCH_MISSED * missed))
    trusted = np.logical_and.reduceat(foot.trusted[: foot.anchors[-1]], foot.anchors[:-1])[node]
    whole = trusted & (missed < LOST_M_S)
    scale = np.where(whole, np.maximum(scale, _scatter(foot.climb[node] / length, whole) * length), RISE_UNSURE)
    tilt_scale = TILT_SD * np.where(turned > 0.35, TILT_TURNING, 1.0) * np.where(whole, 1.0, TILT_UNSURE)
    return Seen(foot.climb[node], scale, length, tilt, tilt_scale)


def _scatter(rise: FloatArray, whole: BoolArray) -> float:
    """M per m by which the rises (m,) of steps differ from each next one, ground that changes now and then left aside.

    A sensor that reads shocks badly, be it too seldom or late, makes them scatter more than most sensors do.
    """
    change = np.abs(np.diff(rise[whole]))
    return float(np.median(change)) / NORMAL_CHANGE if len(change) >= LEAST_CHANGES else 0.0
