"""Which of the anchors are true, and between which of them the foot took a step."""

from __future__ import annotations

from bisect import bisect

import numpy as np

from firstrocker.model import STANDARD_GRAVITY, BoolArray, FloatArray
from firstrocker.motion.anchored import Course, Ties, hold
from firstrocker.motion.missing import Noise
from firstrocker.motion.orientation import Level, steady_course
from firstrocker.motion.path import Path, path
from firstrocker.motion.quaternions import rotated, upward
from firstrocker.motion.sensor import Sensor, pieces
from firstrocker.motion.stillness import QUITE_STILL, Anchors, around
from firstrocker.motion.turned import turned

LEAST_STEP = 0.08  # m; a foot that moved less has shifted its weight, not stepped
SHORT_STEP, SHORT_LIFT, SHORT_TURN = 0.04, 0.02, np.radians(15.0)  # m, m, rad of a foot that steps to turn on the spot
LEAST_SWING_S = 0.15  # s of motion that a step takes at least
SAME_STANCE_S = 0.12  # s within which two anchors are of one stance; less than any step takes
SURELY_STILL = 0.5  # energy at an anchor below which no foot passes through
ROLLING = 0.5  # share of its height over the ground about which a foot that does not rest turns; set on real feet
ONGOING = 0.25  # m/s at a supposed anchor that says the foot was passing through
AS_IT_STANDS = np.radians(6.0)  # rad by which a stance's anchors may lie otherwise than its stillest one


def _noise(anchors: Anchors) -> Noise:
    """What is trusted at foot anchors: less where the foot still moved."""
    return Noise(
        tilt_rest=np.radians(0.35) * np.sqrt(1.0 + anchors.energy / 0.1),
        tilt_prior=np.radians(5.0),
        drift=np.radians(0.25),
        clipped=1.5,
        velocity=np.sqrt(0.010**2 + 0.05**2 * anchors.energy),
        bias=0.05,
        gain=0.006,
    )


def _hold(course: FloatArray, sensor: Sensor, anchors: Anchors, above_ground: float) -> tuple[Course, Path]:
    """The course (4, n), overwritten, held at the anchors, and its way."""
    index, signal = anchors.index, sensor.signal
    near = around(index, sensor.rate_hz, len(sensor))
    turn = rotated(course[:, index], sensor.turning(near).mean(axis=2)).T
    # Many a foot never quite rests but rolls on; the ground is still then, not the sensor above it.
    rolling = np.cross(turn, np.array([0.0, 0.0, ROLLING * above_ground]))
    ties = Ties(index, anchors.still, ~sensor.trusted, signal.lost, rolling, np.zeros(len(index)), _noise(anchors))
    held = hold(course, sensor, ties)
    return held, path(held, ties)


def _weed(course: FloatArray, sensor: Sensor, anchors: Anchors) -> Anchors:
    """The anchors without those through which the foot was passing.

    From the stillest to the least still, the foot's speed at each is looked at, integrated on the course (4, n) before
    it is held, between the nearest anchors already accepted.
    """
    index, energy, rate_hz = anchors.index, anchors.energy, sensor.rate_hz
    free, total = np.empty((len(index), 3)), np.zeros((3, 1))
    for part in pieces(0, len(sensor)):
        gained = rotated(course[:, part], sensor.force(part) / rate_hz)
        gained[2] -= STANDARD_GRAVITY / rate_hz
        speed = total + np.cumsum(gained, axis=1)
        here = slice(*np.searchsorted(index, [part.start, part.stop]))
        free[here] = speed[:, index[here] - part.start].T
        total = speed[:, -1:]
    accepted = [int(k) for k in np.flatnonzero(energy <= SURELY_STILL)]
    doubtful = np.flatnonzero(energy > SURELY_STILL)
    for k in doubtful[np.argsort(energy[doubtful])]:
        place = bisect(accepted, int(k))
        if 0 < place < len(accepted):
            a, b, c = index[accepted[place - 1]], index[k], index[accepted[place]]
            before, at, after = (free[m] for m in (accepted[place - 1], k, accepted[place]))
            change = at - before - (b - a) / (c - a) * (after - before)
            if np.linalg.norm(change) > ONGOING and c - a < 3.0 * rate_hz:
                continue
        accepted.insert(place, int(k))
    return anchors.keep(np.isin(np.arange(len(index)), accepted))


def steps(way: Path, anchors: Anchors) -> FloatArray:
    """(k - 1, 3) m, displacement between anchors, world axes."""
    return np.asarray(np.diff(way.position[:, anchors.index].T, axis=0))


def _stepped(held: Course, gone: Path, anchors: Anchors) -> BoolArray:
    """(k - 1,) True where the foot went from one place to another between two anchors."""
    index, height = anchors.index, gone.position[2]
    busy = np.add.reduceat(~anchors.still[: index[-1]], index[:-1], dtype=np.int64) / held.sensor.rate_hz
    length = np.linalg.norm(steps(gone, anchors)[:, :2], axis=1)
    lift = np.maximum.reduceat(height, index)[:-1] - height[index[:-1]]
    turn = turned(held.quaternion[:, index])
    turning = (length > SHORT_STEP) & (lift > SHORT_LIFT) & (np.abs(turn) > SHORT_TURN)
    return np.asarray(((length > LEAST_STEP) | turning) & (busy > LEAST_SWING_S))


def _rolled(held: Course, anchors: Anchors, stepped: BoolArray) -> BoolArray:
    """(k,) True where the foot turned on its toes or its heel, slowly enough to be taken for standing.

    Who walks slowly raises the heel slowly. The sensor then hardly moves, but neither does the foot lie flat.
    """
    stance = np.concatenate([[0], np.cumsum(stepped)])
    order = np.lexsort([anchors.energy, stance])
    stillest = order[np.searchsorted(stance[order], stance)]
    up = upward(held.quaternion[:, anchors.index])
    apart = np.linalg.norm(np.cross(up, up[:, stillest], axis=0), axis=0)
    moving = anchors.energy > np.maximum(QUITE_STILL, 4.0 * anchors.energy[stillest])
    return np.asarray((apart > np.sin(AS_IT_STANDS)) & moving)


def _merged(anchors: Anchors, rate_hz: float) -> Anchors:
    """Anchors too close together for a step between them are one stance: the stillest of each such group."""
    keep = np.zeros(len(anchors.index), dtype=np.bool_)
    last = -np.inf
    for m, (place, energy) in enumerate(zip(anchors.index.tolist(), anchors.energy.tolist(), strict=True)):
        if place - last > SAME_STANCE_S * rate_hz:
            last, kept = place, m
        elif energy < anchors.energy[kept]:
            keep[kept], kept = False, m
        keep[kept] = True
    return anchors.keep(keep)


def find_course(
    inertial: FloatArray, level: Level, sensor: Sensor, anchors: Anchors, above_ground: float
) -> tuple[Course, Path, Anchors, BoolArray]:
    """Hold the foot at its anchors, those weeded out that are none.

    Args:
        inertial: (4, n) sensor to world by the gyroscope alone; overwritten.
        level: what the filter makes of it.
        sensor: of the foot.
        anchors: candidates.
        above_ground: m, of the sensor.

    Returns:
        The held course, its way, the anchors kept, and (k - 1,) whether the foot stepped between two of them.
    """
    course = steady_course(inertial, level, anchors.index, sensor)
    anchors = _weed(course, sensor, anchors)
    for _ in range(3):
        merged = _merged(anchors, sensor.rate_hz)
        if len(merged.index) < 2 or len(merged.index) == len(anchors.index):
            break
        anchors = merged
    held, gone = _hold(course, sensor, anchors, above_ground)
    stepped = _stepped(held, gone, anchors)
    rolled = _rolled(held, anchors, stepped)
    if rolled.any():
        anchors = anchors.keep(~rolled)
        held, gone = _hold(held.quaternion, sensor, anchors, above_ground)
        stepped = _stepped(held, gone, anchors)
    return held, gone, anchors, stepped
