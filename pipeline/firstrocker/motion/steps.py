"""Which of the anchors are true, and between which of them the foot took a step."""

from __future__ import annotations

from bisect import bisect
from dataclasses import dataclass

import numpy as np

from firstrocker.model import STANDARD_GRAVITY, BoolArray, FloatArray
from firstrocker.motion.anchored import Course, Noise, Ties, hold
from firstrocker.motion.orientation import steady_course
from firstrocker.motion.path import Path, path
from firstrocker.motion.quaternions import rotated
from firstrocker.motion.stillness import Anchors, around

LEAST_STEP = 0.08  # m; a foot that moved less has shifted its weight, not stepped
SHORT_STEP, SHORT_LIFT, SHORT_TURN = 0.04, 0.02, np.radians(15.0)  # m, m, rad of a foot that steps to turn on the spot
LEAST_SWING_S = 0.15  # s of motion that a step takes at least
SAME_STANCE_S = 0.12  # s within which two anchors are of one stance; less than any step takes
SURELY_STILL = 0.5  # energy at an anchor below which no foot passes through
ROLLING = 0.5  # share of its height over the ground about which a foot that does not rest turns; set on real feet
ONGOING = 0.25  # m/s at a supposed anchor that says the foot was passing through


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


@dataclass(frozen=True)
class Sensed:
    """What one foot sensor says of a walk, in its own axes.

    filtered, inertial: (4, n) sensor to world, by the filter and by the gyroscope alone. force: (n, 3) m/s^2. turn:
    (n, 3) rad/s, bias off. clipped, bridged: (n,) True where the gyroscope stood at its limit, and where samples were
    lost. above_ground: m, of the sensor.
    """

    filtered: FloatArray
    inertial: FloatArray
    force: FloatArray
    turn: FloatArray
    clipped: BoolArray
    bridged: BoolArray
    rate_hz: float
    above_ground: float


def _hold(sensed: Sensed, anchors: Anchors) -> tuple[Course, Path]:
    index = anchors.index
    near = around(index, sensed.rate_hz, len(sensed.force))
    rotation = steady_course(sensed.filtered, sensed.inertial, index, sensed.rate_hz)
    turn = np.einsum("kij,kj->ki", rotation[index], sensed.turn[near].mean(axis=1))
    # Many a foot never quite rests but rolls on; the ground is still then, not the sensor above it.
    rolling = np.cross(turn, np.array([0.0, 0.0, ROLLING * sensed.above_ground]))
    ties = Ties(index, anchors.still, sensed.clipped, sensed.bridged, rolling, np.zeros(len(index)), _noise(anchors))
    held = hold(rotation, sensed.force, sensed.rate_hz, ties)
    return held, path(held, sensed.rate_hz, ties)


def _weed(force: FloatArray, anchors: Anchors, rate_hz: float) -> Anchors:
    """The anchors without those through which the foot was passing.

    From the stillest to the least still, the foot's speed at each is looked at, integrated on the filter's own course
    (force: (n, 3) m/s^2 in the world) between the nearest anchors already accepted.
    """
    free = np.cumsum(force - np.array([0.0, 0.0, STANDARD_GRAVITY]), axis=0) / rate_hz
    index, energy = anchors.index, anchors.energy
    accepted = [int(k) for k in np.flatnonzero(energy <= SURELY_STILL)]
    doubtful = np.flatnonzero(energy > SURELY_STILL)
    for k in doubtful[np.argsort(energy[doubtful])]:
        place = bisect(accepted, int(k))
        if 0 < place < len(accepted):
            a, b, c = index[accepted[place - 1]], index[k], index[accepted[place]]
            change = free[b] - free[a] - (b - a) / (c - a) * (free[c] - free[a])
            if np.linalg.norm(change) > ONGOING and c - a < 3.0 * rate_hz:
                continue
        accepted.insert(place, int(k))
    return anchors.keep(np.isin(np.arange(len(index)), accepted))


def steps(way: Path, anchors: Anchors) -> FloatArray:
    """(k - 1, 3) m, displacement between anchors, world axes."""
    return np.asarray(np.diff(way.position[anchors.index], axis=0))


def _stepped(held: Course, gone: Path, anchors: Anchors, rate_hz: float) -> BoolArray:
    """(k - 1,) True where the foot went from one place to another between two anchors."""
    moving = np.concatenate([[0.0], np.cumsum(~anchors.still)])
    busy = (moving[anchors.index[1:]] - moving[anchors.index[:-1]]) / rate_hz
    way = steps(gone, anchors)
    length = np.linalg.norm(way[:, :2], axis=1)
    lift = np.maximum.reduceat(gone.position[:, 2], anchors.index)[:-1] - gone.position[anchors.index[:-1], 2]
    turned = held.rotation[anchors.index[1:]] @ np.swapaxes(held.rotation[anchors.index[:-1]], 1, 2)
    yaw = np.arctan2(turned[:, 1, 0] - turned[:, 0, 1], turned[:, 0, 0] + turned[:, 1, 1])
    turning = (length > SHORT_STEP) & (lift > SHORT_LIFT) & (np.abs(yaw) > SHORT_TURN)
    return np.asarray(((length > LEAST_STEP) | turning) & (busy > LEAST_SWING_S))


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


def find_course(sensed: Sensed, anchors: Anchors) -> tuple[Course, Path, Anchors, BoolArray]:
    """Hold the foot at its anchors, those weeded out that are none.

    Args:
        sensed: what the sensor says.
        anchors: candidates.

    Returns:
        The held course, its way, the anchors kept, and (k - 1,) whether the foot stepped between two of them.
    """
    rate_hz = sensed.rate_hz
    anchors = _weed(rotated(sensed.filtered, sensed.force.T).T, anchors, rate_hz)
    for _ in range(3):
        merged = _merged(anchors, rate_hz)
        if len(merged.index) < 2 or len(merged.index) == len(anchors.index):
            break
        anchors = merged
    held, gone = _hold(sensed, anchors)
    return held, gone, anchors, _stepped(held, gone, anchors, rate_hz)
