"""The course of a sensor's orientation: by its gyroscope from sample to sample, levelled by an open orientation filter.

The filter is asked for the level only, some 25 times a second and averaged over many strides;
:mod:`firstrocker.motion.anchored` then holds the course at every foot flat.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from typing import get_args

import numpy as np

from firstrocker.model import FilterName, FloatArray, IntArray
from firstrocker.motion.integrate import step_mean
from firstrocker.motion.quaternions import conjugate, of_vector, rotated, running, times, to_vector, unit
from firstrocker.motion.rest import edges_of
from firstrocker.motion.sensor import Sensor, pieces

FILTERS: tuple[FilterName, ...] = get_args(FilterName)


def matrices(quaternion: FloatArray) -> FloatArray:
    """Rotation matrices of unit quaternions.

    Args:
        quaternion: (..., 4) as (w, x, y, z).

    Returns:
        (..., 3, 3).

    >>> matrices(np.array([1.0, 0.0, 0.0, 0.0])).tolist()
    [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]]
    """
    # Scaled so that every product counts twice.
    w, *along = np.sqrt(2.0) * np.moveaxis(quaternion, -1, 0)
    squares = [one * one for one in along]
    # Each of the nine in one piece.
    rows = np.empty((3, 3, *np.shape(w)))
    for i, j, k in ((0, 1, 2), (1, 2, 0), (2, 0, 1)):
        np.subtract(1.0 - squares[j], squares[k], out=rows[i, i, ...])
        both, turned = along[i] * along[j], w * along[k]
        np.subtract(both, turned, out=rows[i, j, ...])
        np.add(both, turned, out=rows[j, i, ...])
    return np.moveaxis(rows, (0, 1), (-2, -1))


def _vqf(rate: FloatArray, force: FloatArray, step_s: float) -> FloatArray:
    from vqf import offlineVQF

    result = offlineVQF(np.ascontiguousarray(rate), np.ascontiguousarray(force), None, step_s)
    return np.asarray(result["quat6D"])


def _start(force: FloatArray, step_s: float) -> FloatArray:
    """(4,) quaternion of the tilt that the first half second of specific force shows, heading 0."""
    up = force[: max(1, round(0.5 / step_s))].mean(axis=0)
    up = up / np.linalg.norm(up)
    quaternion = np.array([1.0 + up[2], up[1], -up[0], 0.0])
    norm = np.linalg.norm(quaternion)
    return np.array([0.0, 1.0, 0.0, 0.0]) if norm < 1e-6 else quaternion / norm


def _madgwick(rate: FloatArray, force: FloatArray, step_s: float) -> FloatArray:
    from ahrs.filters import Madgwick

    return np.asarray(Madgwick(gyr=rate, acc=force, Dt=step_s, q0=_start(force, step_s)).Q)


def _mahony(rate: FloatArray, force: FloatArray, step_s: float) -> FloatArray:
    from ahrs.filters import Mahony

    return np.asarray(Mahony(gyr=rate, acc=force, Dt=step_s, q0=_start(force, step_s)).Q)


def _aqua(rate: FloatArray, force: FloatArray, step_s: float) -> FloatArray:
    from ahrs.filters import AQUA

    # This one filter of the package tells the world's rotation in the sensor, the others the sensor's in the world.
    conjugate = np.array([1.0, -1.0, -1.0, -1.0])
    return np.asarray(AQUA(gyr=rate, acc=force, Dt=step_s, adaptive=True).Q * conjugate)


Filter = Callable[[FloatArray, FloatArray, float], FloatArray]
_RUN: dict[str, Filter] = {
    "vqf": _vqf,
    "madgwick": _madgwick,
    "mahony": _mahony,
    "aqua": _aqua,
}


def strapdown(sensor: Sensor) -> FloatArray:
    """Orientation from the gyroscope alone.

    Returns:
        (4, n) quaternions to the orientation at the first sample. Each step turns by the mean rate over it and half
        the cross product with the step before's sixth part (coning; Savage 1998).
    """
    count, rate_hz = len(sensor), sensor.rate_hz
    steps = np.empty((4, count))
    for part in pieces(0, count):
        # A step's mean takes one sample more than the step on either side, and its coning the step before.
        first = max(part.start - 3, 0)
        turn = mean_turns(sensor.turning(slice(first, part.stop + 1)).T, rate_hz)
        turn += coning(turn)
        steps[:, part] = of_vector(turn[:, part.start - first : part.stop - first])
    return running(steps)


def mean_turns(angular_velocity: FloatArray, rate_hz: float) -> FloatArray:
    """(3, ..., n) rad that the mean rate (n, ..., 3) of the step that ends at each sample turns by; 0 at the first."""
    turn = np.array(step_mean(angular_velocity).T, order="C") / rate_hz
    turn[..., 0] = 0.0
    return turn


def coning(turn: FloatArray) -> FloatArray:
    """(3, ..., n) rad by which each of the turns of :func:`mean_turns` falls short where the axis itself turns."""
    x, y, z = turn
    short = np.zeros_like(turn)
    short[0, ..., 1:] = y[..., :-1] * z[..., 1:] - z[..., :-1] * y[..., 1:]
    short[1, ..., 1:] = z[..., :-1] * x[..., 1:] - x[..., :-1] * z[..., 1:]
    short[2, ..., 1:] = x[..., :-1] * y[..., 1:] - y[..., :-1] * x[..., 1:]
    return short / 12.0


FILTER_HZ = 25.0
"""Steps a second at which the filter runs, about: a segment's motion within a step is summed up beforehand, exactly."""
LEVEL_S = 15.0
"""s to either side over which the filter's level is averaged."""
PART_S, LAP_S = 900.0, 60.0
"""s of a long log that the filter gets at once, for it takes much room, and beyond either end, to find its level in."""


@dataclass(frozen=True)
class Level:
    """What a filter makes of the gyroscope's course: (4, m) quaternions from that one's world to the filter's.

    Told at every ``every`` samples, from the first.
    """

    every: int
    turn: FloatArray

    def at(self, index: IntArray) -> FloatArray:
        """(4, k) nearest to samples (k,)."""
        return self.turn[:, np.minimum((index + self.every // 2) // self.every, self.turn.shape[1] - 1)]


def level(inertial: FloatArray, sensor: Sensor, *, filter_name: FilterName) -> Level:
    """Where an orientation filter sees up, against the gyroscope's course.

    The filter gets by what the sensor turned from step to step, and the mean over the step of the specific force, each
    sample's turned back to the step's beginning: nothing of a stride's own motion is lost.

    Args:
        inertial: (4, n) of :func:`strapdown`.
        sensor: whose course that is.
        filter_name: ``vqf`` (Laidig and Seel 2023, run forwards and backwards) or one of the filters of ``ahrs``.
    """
    every = max(1, round(sensor.rate_hz / FILTER_HZ))
    grid = np.arange(0, len(sensor), every)
    count, lap = len(grid), round(LAP_S * sensor.rate_hz / every)
    turn = np.empty((4, count))
    edges = np.linspace(0, count, max(1, round(len(sensor) / sensor.rate_hz / PART_S)) + 1).astype(np.int64)
    for first, stop in pairwise(edges):
        begin, end = max(first - lap, 0), min(stop + lap, count)
        part = _seen(inertial, sensor, grid[begin:end], every, _RUN[filter_name])
        if first:
            # Every part begins with a heading of its own: it is turned to where the one before left off.
            apart = times(turn[:, first - 1], conjugate(part[:, first - 1 - begin]))
            part = times(unit(apart * [1.0, 0.0, 0.0, 1.0])[:, np.newaxis], part)
        turn[:, first:stop] = part[:, first - begin : stop - begin]
    return Level(every, turn)


def _seen(inertial: FloatArray, sensor: Sensor, grid: IntArray, every: int, run: Filter) -> FloatArray:
    """(4, m) from the gyroscope's world to the filter's at samples (m,), ``every`` apart."""
    step_s, count = every / sensor.rate_hz, len(sensor)
    own = inertial[:, grid]
    turn = np.zeros((3, len(grid)))
    turn[:, 1:] = to_vector(times(conjugate(own[:, :-1]), own[:, 1:]))
    force = np.empty((3, len(grid)))
    for steps in pieces(0, len(grid), each=every):
        part = slice(int(grid[steps.start]), min(int(grid[steps.stop - 1]) + every, count))
        force[:, steps] = np.add.reduceat(
            rotated(inertial[:, part], sensor.force(part)), grid[steps] - part.start, axis=1
        )
    force = rotated(conjugate(own), force / np.diff(grid, append=min(int(grid[-1]) + every, count)))
    return times(unit(run(turn.T / step_s, force.T, step_s).T), conjugate(own))


def steady_course(inertial: FloatArray, level: Level, index: IntArray, sensor: Sensor) -> FloatArray:
    """The filter's level in the long run, the gyroscope's course in the short.

    A filter bends the course by what it takes for tilt, by a degree from stride to stride; the gyroscope drifts, but by
    hundredths. So what the two differ by is averaged over :data:`LEVEL_S` before the gyroscope's course is turned by
    it. Over a gap nobody knows how the sensor turned: before and after are averaged apart.

    Args:
        inertial: (4, n) of :func:`strapdown`.
        level: of the filter.
        index: (k,) samples at which the two are compared, increasing.
        sensor: whose course that is.

    Returns:
        (4, n) quaternions, where ``inertial`` lay: nothing else takes as much room.
    """
    count = inertial.shape[1]
    gaps, after = edges_of(~sensor.signal.valid)
    ends = np.clip(np.concatenate([[0], gaps - 1, after, [count - 1]]), 0, count - 1)
    nodes = np.unique(np.concatenate([index[sensor.signal.valid[index]], ends]))
    turn = level.at(nodes)
    # A quaternion and its negative are the same rotation: those next to each other get the same sign.
    flips = np.concatenate([[0], np.cumsum((turn[:, 1:] * turn[:, :-1]).sum(axis=0) < 0.0)])
    sums = np.cumsum(np.pad(turn * (1 - 2 * (flips % 2)), ((0, 0), (1, 0))), axis=1)
    part_of = np.searchsorted(after, nodes, side="right")
    about = LEVEL_S * sensor.rate_hz
    first = np.maximum(np.searchsorted(nodes, nodes - about, side="left"), np.searchsorted(part_of, part_of))
    stop = np.minimum(
        np.searchsorted(nodes, nodes + about, side="right"), np.searchsorted(part_of, part_of, side="right")
    )
    steady = unit(sums[:, stop] - sums[:, first])
    for part in pieces(0, count):
        samples = np.arange(part.start, part.stop)
        slow = np.array([np.interp(samples, nodes, row) for row in steady])
        inertial[:, part] = times(unit(slow), inertial[:, part])
    return inertial
