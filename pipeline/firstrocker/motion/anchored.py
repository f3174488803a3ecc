"""A segment's course held at its anchors: the errors of tilt and velocity that the filter left are solved for.

Between two anchors the foot is strapdown-integrated: specific force turned into the world, gravity taken off, summed.
At the anchors the truth is known (a foot on the ground does not move; neither does the ankle above a flat foot), so
what the sum misses there measures the errors made on the way. One Gaussian least-squares problem per run of strides
solves for the tilt error at every anchor and for the accelerometer's faults: a swinging foot turns its sensor through
gravity again and again, which shows them. It is the batch form of a Kalman smoother with zero velocity as measurement,
and like it gives the covariance.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from firstrocker.model import STANDARD_GRAVITY, BoolArray, FloatArray, IntArray
from firstrocker.motion.banded import solve
from firstrocker.motion.missing import Accelerometer, Known, Noise, Rested, between, equations, faults
from firstrocker.motion.orientation import matrices
from firstrocker.motion.quaternions import of_vector, rotated, times
from firstrocker.motion.sensor import Sensor, pieces
from firstrocker.motion.stillness import around

CHUNK = 60
"""Strides solved together; the chain forgets within two or three, so a cut costs nothing."""
PASSES, LINEAR = 4, np.radians(1.5)
"""How often the problem is solved at most, and the tilt error below which once is enough."""
STILL_PACE = 0.05
"""How much slower errors grow while the segment is still."""
CLIPPED_PACE = 50.0
"""How much faster tilt errors grow while the gyroscope stands at its limit."""


@dataclass(frozen=True)
class Course:
    """A segment's sensor held at its anchors.

    quaternion: (4, n) sensor to world. clock: (n,) s, as errors of velocity grow. tilt_error: (k, 2) rad found at the
    anchors, about world x and y; tilt_se: (k, 2) their standard errors. faults: of the accelerometer, in each of the
    stretches ``shares`` of the walk.
    """

    sensor: Sensor
    quaternion: FloatArray
    clock: FloatArray
    tilt_error: FloatArray
    tilt_se: FloatArray
    faults: list[Accelerometer]
    shares: list[slice]

    @property
    def accelerometer(self) -> Accelerometer:
        """Its faults on average over the walk."""
        bias, gain = ([getattr(fault, name) for fault in self.faults] for name in ("bias", "gain"))
        return Accelerometer(np.mean(bias, axis=0), np.mean(gain, axis=0))

    def forces(self) -> Iterator[tuple[slice, FloatArray]]:
        """Piece by piece of the walk, (3, m) m/s^2 specific force in the world."""
        for share, own in zip(self.shares, self.faults, strict=True):
            for part in pieces(share.start, share.stop):
                yield part, rotated(self.quaternion[:, part], own.freed(self.sensor.force(part)))


def shock(force: FloatArray) -> FloatArray:
    """(n,) m/s^2, magnitude of acceleration with gravity off, of the specific force (3, n) in the world."""
    x, y, z = force
    return np.asarray(np.sqrt(x * x + y * y + (z - STANDARD_GRAVITY) ** 2))


@dataclass(frozen=True)
class Ties:
    """What is known of a segment at its anchors.

    index: (k,) anchors, k >= 2. still: (n,) True within still stretches. clipped: (n,) True where the gyroscope stood
    at its limit. bridged: (n,) True where samples were lost and interpolated. target: (k, 3) m/s velocity of the
    sensor's centre at the anchors. height: (k,) m of the sensor's centre there, any zero. noise: what is trusted how
    far.
    """

    index: IntArray
    still: BoolArray
    clipped: BoolArray
    bridged: BoolArray
    target: FloatArray
    height: FloatArray
    noise: Noise


@dataclass(frozen=True)
class _Clocks:
    """Clocks that run as errors grow.

    move: (n,) s for velocity, nearly stopped while the segment is still. turn: (n,) s for tilt, fast where the
    gyroscope stood at its limit. clipped: (k,) s spent there up to each anchor. bridged: (k,) s of moving up to there
    of which nothing was measured.
    """

    move: FloatArray
    turn: FloatArray
    clipped: FloatArray
    bridged: FloatArray


def _clocks(ties: Ties, rate_hz: float) -> _Clocks:
    def clock(pace: FloatArray) -> FloatArray:
        # In place, for a number of each sample of many hours takes much room.
        pace /= rate_hz
        return np.cumsum(pace, out=pace)

    def spent(mask: BoolArray) -> FloatArray:
        begins = np.concatenate([[0], ties.index[:-1] + 1])
        counts = np.add.reduceat(mask[: ties.index[-1] + 1], begins, dtype=np.int64)
        return np.asarray(np.cumsum(counts) / rate_hz)

    clipped, bridged = spent(ties.clipped), spent(ties.bridged & ~ties.still)
    move = turn = clock(np.where(ties.still, STILL_PACE, 1.0))
    if ties.clipped.any():
        pace = np.where(ties.still, STILL_PACE, 1.0)
        pace[ties.clipped] = CLIPPED_PACE
        turn = clock(pace)
    return _Clocks(move, turn, clipped, bridged)


def hold(quaternion: FloatArray, sensor: Sensor, ties: Ties) -> Course:
    """Hold a segment's course at its anchors; again where what was found is too large to be linear.

    Args:
        quaternion: (4, n) the filter's course, sensor to world. Overwritten by the course as corrected, for nothing
            takes more room.
        sensor: whose course it is.
        ties: what is known at the anchors.

    Returns:
        The course, corrected.
    """
    clocks = _clocks(ties, sensor.rate_hz)
    for _ in range(PASSES):
        tilt, deviation, found = _tilts(quaternion, sensor, clocks, ties)
        _turn(quaternion, clocks.turn, ties.index, tilt)
        if np.abs(tilt).max() < LINEAR:
            break
    shares = _shares(ties.index, len(sensor))
    return Course(sensor, quaternion, clocks.move, tilt, deviation, found, shares)


def _runs(count: int) -> list[slice]:
    """The anchors that are solved together; each run begins with the last one of the run before."""
    return [slice(first, min(first + CHUNK + 1, count)) for first in range(0, count - 1, CHUNK)]


def _shares(index: IntArray, count: int) -> list[slice]:
    """The samples of each run, all of ``count`` once."""
    ends = [0, *(int(index[nodes.stop - 1]) for nodes in _runs(len(index))[:-1]), count]
    return [slice(*ends[k : k + 2]) for k in range(len(ends) - 1)]


def _tilts(
    quaternion: FloatArray, sensor: Sensor, clocks: _Clocks, ties: Ties
) -> tuple[FloatArray, FloatArray, list[Accelerometer]]:
    """Tilt errors (k, 2) rad at the anchors, their standard errors, and the accelerometer's faults in each run."""
    index, runs, rate_hz = ties.index, _runs(len(ties.index)), sensor.rate_hz
    gains = ties.noise.gain is not None
    betweens = []
    for nodes in runs:
        own = index[nodes]
        part = slice(own[0], own[-1] + 1)
        rotation = np.moveaxis(matrices(quaternion[:, part].T), 0, -1)
        betweens.append(
            between(rotation, sensor.force(part), clocks.turn[part], own - own[0], 1.0 / rate_hz, gains=gains)
        )
    rested = None if ties.noise.tilt_rest is None else _rested(quaternion, sensor, index, gains=gains)
    known = Known(ties.target, clocks.move[index], clocks.clipped, clocks.bridged)
    chains = equations(runs, betweens, rested, known, ties.noise, index, rate_hz)
    tilt, deviation, found = np.zeros((len(index), 2)), np.zeros((len(index), 2)), []
    for nodes, one in zip(runs, solve(chains), strict=True):
        tilt[nodes] = one.nodes
        deviation[nodes] = np.sqrt(np.diagonal(one.covariance, axis1=1, axis2=2))
        gain = one.common[3:].reshape(3, 3) if len(one.common) > 3 else np.zeros((3, 3))
        found.append(Accelerometer(one.common[:3], gain))
    return tilt, deviation, found


def _rested(quaternion: FloatArray, sensor: Sensor, index: IntArray, *, gains: bool) -> Rested:
    """What is felt about the anchors (k,)."""
    near = around(index, sensor.rate_hz, len(sensor))
    reading = sensor.force(near)
    by_fault = np.empty((12 if gains else 3, 3, len(index)))
    faults(np.moveaxis(matrices(quaternion[:, index].T), 0, -1), reading.mean(axis=2), by_fault)
    return Rested(rotated(quaternion[:, near], reading).mean(axis=2), by_fault)


def _turn(quaternion: FloatArray, clock: FloatArray, index: IntArray, tilt: FloatArray) -> None:
    """Turn the course (4, n) where it lies by the tilt errors (k, 2), which grow as ``clock`` runs."""
    for part in pieces(0, len(clock)):
        error = np.zeros((3, part.stop - part.start))
        for row in (0, 1):
            error[row] = np.interp(clock[part], clock[index], tilt[:, row])
        quaternion[:, part] = times(of_vector(error), quaternion[:, part])
