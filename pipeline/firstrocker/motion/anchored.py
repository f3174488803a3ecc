"""A segment's course held at its anchors: the errors of tilt and velocity that the filter left are solved for.

Between two anchors the foot is strapdown-integrated: specific force turned into the world, gravity taken off, summed.
At the anchors the truth is known (a foot on the ground does not move; neither does the ankle above a flat foot), so
what the sum misses there measures the errors made on the way. One Gaussian least-squares problem per run of strides
solves for the tilt error at every anchor and for the accelerometer's faults: a swinging foot turns its sensor through
gravity again and again, which shows them. It is the batch form of a Kalman smoother with zero velocity as measurement,
and like it gives the covariance.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from firstrocker.model import STANDARD_GRAVITY, BoolArray, FloatArray, IntArray
from firstrocker.motion.banded import Normal, solve
from firstrocker.motion.integrate import integrals
from firstrocker.motion.orientation import PIECE, rotation_of
from firstrocker.motion.stillness import around

CHUNK = 60
"""Strides solved together; the chain forgets within two or three, so a cut costs nothing."""
PASSES, LINEAR = 4, np.radians(1.5)
"""How often the problem is solved at most, and the tilt error below which once is enough."""
STILL_PACE = 0.05
"""How much slower errors grow while the segment is still."""
BRIDGED = 10.0
"""m/s^2 that a sample interpolated in a swing may be wrong by."""
CLIPPED_PACE = 50.0
"""How much faster tilt errors grow while the gyroscope stands at its limit."""


@dataclass(frozen=True)
class Accelerometer:
    """What an accelerometer adds to the truth: bias (3,) m/s^2, and ``gain`` (3, 3) times what it reads."""

    bias: FloatArray
    gain: FloatArray

    def freed(self, reading: FloatArray) -> FloatArray:
        """Readings (..., 3) m/s^2 without its faults."""
        return np.asarray(reading - self.bias - reading @ self.gain.T)


def _faults(rotation: FloatArray, reading: FloatArray, *, gains: bool) -> FloatArray:
    """(n, 3, b) what each fault adds to the force in the world: 3 biases, then the 9 of ``gain`` row by row."""
    if not gains:
        return rotation
    by_gain = rotation[..., None] * reading[:, None, None, :]
    return np.concatenate([rotation, by_gain.reshape(len(rotation), 3, 9)], axis=2)


@dataclass(frozen=True)
class Course:
    """A segment held at its anchors.

    rotation: (n, 3, 3) segment to world. force: (n, 3) m/s^2 specific force in the world. clock: (n,) s, as errors of
    velocity grow. tilt_error: (k, 2) rad found at the anchors, about world x and y; tilt_se: (k, 2) their standard
    errors. accelerometer: its faults, on average over the walk.
    """

    rotation: FloatArray
    force: FloatArray
    clock: FloatArray
    tilt_error: FloatArray
    tilt_se: FloatArray
    accelerometer: Accelerometer

    def shock(self) -> FloatArray:
        """(n,) m/s^2, magnitude of acceleration with gravity off."""
        x, y, z = self.force.T
        return np.asarray(np.sqrt(x * x + y * y + (z - STANDARD_GRAVITY) ** 2))


@dataclass(frozen=True)
class Noise:
    """What is trusted how far; every value one standard deviation.

    tilt_rest: rad, of the tilt the accelerometer shows at an anchor; None where the segment is not at rest there.
    tilt_prior: rad, of the filter's own tilt. drift: rad per root second, of the tilt's change from one anchor to the
    next. clipped: rad/s, of what a gyroscope at its limit failed to see. velocity: (k,) m/s, of the velocity assumed
    at each anchor. bias: m/s^2, of the accelerometer. gain: of each of its scales and of what one axis shows of another
    (the same for all, so that no sensor's seat matters), None where they are not looked for.
    """

    tilt_rest: FloatArray | None
    tilt_prior: float
    drift: float
    clipped: float
    velocity: FloatArray
    bias: float
    gain: float | None = None


@dataclass(frozen=True)
class _Clocks:
    """Clocks that run as errors grow, each (n,): ``move`` s for velocity, nearly stopped while the segment is still;
    ``turn`` for tilt, fast where the gyroscope stood at its limit; ``clipped`` s spent there so far; ``bridged`` s of
    moving of which nothing was measured.
    """

    move: FloatArray
    turn: FloatArray
    clipped: FloatArray
    bridged: FloatArray

    def of(self, part: slice) -> _Clocks:
        """Those of some samples."""
        return _Clocks(self.move[part], self.turn[part], self.clipped[part], self.bridged[part])


def _clocks(ties: Ties, rate_hz: float) -> _Clocks:
    pace = np.where(ties.still, STILL_PACE, 1.0)
    return _Clocks(
        np.cumsum(pace) / rate_hz,
        np.cumsum(np.where(ties.clipped, CLIPPED_PACE, pace)) / rate_hz,
        np.cumsum(ties.clipped) / rate_hz,
        np.cumsum(ties.bridged & ~ties.still) / rate_hz,
    )


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


def _normal(
    force: FloatArray,
    rotation: FloatArray,
    acceleration: FloatArray,
    clocks: _Clocks,
    index: IntArray,
    target: FloatArray,
    noise: Noise,
    rate_hz: float,
) -> Normal:
    """Equations for the tilt errors (k, 2) at one run of anchors and the accelerometer's faults (b,) over it."""
    step, gains = 1.0 / rate_hz, noise.gain is not None
    part, here = slice(index[0], index[-1] + 1), index - index[0]
    turn, move, clipped, bridged = (c[index] for c in (clocks.turn, clocks.move, clocks.clipped, clocks.bridged))
    drift = np.hypot(
        noise.drift * np.sqrt(np.maximum(np.diff(move), 0.1)),
        noise.clipped * np.diff(clipped),
    )
    plain = integrals(force[part], here, step)
    weighted = integrals(force[part] * (clocks.turn[part, None] - turn[0]), here, step)
    late = (weighted - (turn[:-1, None] - turn[0]) * plain) / np.diff(turn)[:, None]
    by_fault = integrals(_faults(rotation[part], acceleration[part], gains=gains), here, step)
    gained = plain - np.diff(index)[:, None] * step * np.array([0.0, 0.0, STANDARD_GRAVITY])
    unseen = BRIDGED * np.diff(bridged)
    sigma = np.sqrt(noise.velocity[1:] ** 2 + noise.velocity[:-1] ** 2 + unseen**2)[:, None]
    missing = (target[1:] - target[:-1] - gained) / sigma
    # What velocity is missing between two anchors, by the tilt at the first, by that at the second, by the faults.
    before, after = (_by_tilt(arm / sigma) for arm in (plain - late, late))
    by_fault = -by_fault / sigma[:, None]
    first, second = (np.swapaxes(gain, 1, 2) for gain in (before, after))

    diagonal = np.zeros((len(index), 2, 2))
    tie = np.eye(2) / drift[:, None, None] ** 2
    diagonal[:-1] += first @ before + tie
    diagonal[1:] += second @ after + tie
    border, right = np.zeros((len(index), 2, by_fault.shape[2])), np.zeros((len(index), 2))
    border[:-1] += first @ by_fault
    border[1:] += second @ by_fault
    right[:-1] += np.einsum("kij,kj->ki", first, missing)
    right[1:] += np.einsum("kij,kj->ki", second, missing)
    diagonal += np.eye(2) / noise.tilt_prior**2
    prior = [noise.bias] * 3 + ([] if noise.gain is None else [noise.gain] * 9)
    corner = np.tensordot(by_fault, by_fault, axes=((0, 1), (0, 1))) + np.diag(np.array(prior) ** -2.0)
    common_right = np.tensordot(by_fault, missing, axes=((0, 1), (0, 1)))
    if noise.tilt_rest is not None:
        # A foot at rest feels gravity alone, and its sensor its own faults: dy fz = -fx, dx fz = fy.
        near = around(index, rate_hz, len(force))
        rest_force = force[near].mean(axis=1)
        felt = _faults(rotation[index], acceleration[near].mean(axis=1), gains=gains)
        weight = 1.0 / noise.tilt_rest[:, None]
        level = weight * np.stack([rest_force[:, 1], -rest_force[:, 0]], axis=1) / rest_force[:, 2:]
        slant = weight[:, None] * np.stack([felt[:, 1], -felt[:, 0]], axis=1) / rest_force[:, 2:, None]
        diagonal += np.eye(2) * weight[:, None] ** 2
        border += slant * weight[:, None]
        corner += np.tensordot(slant, slant, axes=((0, 1), (0, 1)))
        right += level * weight
        common_right += np.tensordot(slant, level, axes=((0, 1), (0, 1)))
    return Normal(diagonal, first @ after - tie, border, corner, right, common_right)


def _by_tilt(force: FloatArray) -> FloatArray:
    """(k, 3, 2): a tilt (dx, dy, 0) turns a force f (k, 3) by (dy fz, -dx fz, dx fy - dy fx)."""
    gain = np.zeros((len(force), 3, 2))
    gain[:, 0, 1], gain[:, 1, 0] = force[:, 2], -force[:, 2]
    gain[:, 2, 0], gain[:, 2, 1] = force[:, 1], -force[:, 0]
    return gain


def hold(rotation: FloatArray, acceleration: FloatArray, rate_hz: float, ties: Ties) -> Course:
    """Hold a segment's course at its anchors; again where what was found is too large to be linear.

    Args:
        rotation: (n, 3, 3) the filter's course, segment to world. Overwritten by the course as corrected, for nothing
            takes more room.
        acceleration: (n, 3) m/s^2 specific force, segment axes.
        rate_hz: samples per second.
        ties: what is known at the anchors.

    Returns:
        The course, corrected.
    """
    clocks = _clocks(ties, rate_hz)
    for _ in range(PASSES):
        found = _tilts(rotation, acceleration, clocks, rate_hz, ties)
        _turn(rotation, clocks.turn, ties.index, found.tilt)
        if np.abs(found.tilt).max() < LINEAR:
            break
    force = np.empty(acceleration.shape)
    for here, faults in zip(_shares(ties.index, len(force)), found.faults, strict=True):
        for part in _pieces(here):
            force[part] = np.einsum("nij,nj->ni", rotation[part], faults.freed(acceleration[part]))
    mean = Accelerometer(
        np.mean([fault.bias for fault in found.faults], axis=0), np.mean([fault.gain for fault in found.faults], axis=0)
    )
    return Course(rotation, force, clocks.move, found.tilt, found.deviation, mean)


@dataclass(frozen=True)
class _Found:
    """tilt, deviation: (k, 2) rad at the anchors, and standard errors. faults: of each run of anchors."""

    tilt: FloatArray
    deviation: FloatArray
    faults: list[Accelerometer]


def _runs(count: int) -> list[slice]:
    """The anchors that are solved together; each run begins with the last one of the run before."""
    return [slice(first, min(first + CHUNK + 1, count)) for first in range(0, count - 1, CHUNK)]


def _shares(index: IntArray, count: int) -> list[slice]:
    """The samples of each run, all of ``count`` once."""
    ends = [0, *(int(index[nodes.stop - 1]) for nodes in _runs(len(index))[:-1]), count]
    return [slice(*ends[k : k + 2]) for k in range(len(ends) - 1)]


def _pieces(here: slice) -> list[slice]:
    """At most :data:`PIECE` samples each."""
    return [slice(first, min(first + PIECE, here.stop)) for first in range(here.start, here.stop, PIECE)]


def _tilts(rotation: FloatArray, acceleration: FloatArray, clocks: _Clocks, rate_hz: float, ties: Ties) -> _Found:
    index, target, noise = ties.index, ties.target, ties.noise
    chains, found = [], _Found(np.zeros((len(index), 2)), np.zeros((len(index), 2)), [])
    near = around(index[:1], rate_hz, len(acceleration)).shape[1]
    for nodes in _runs(len(index)):
        rest = None if noise.tilt_rest is None else noise.tilt_rest[nodes]
        own = replace(noise, tilt_rest=rest, velocity=noise.velocity[nodes])
        # What is looked at about the first and the last anchor.
        begin, end = max(int(index[nodes][0]) - near, 0), int(index[nodes][-1]) + near + 1
        part = slice(begin, end)
        force = np.einsum("nij,nj->ni", rotation[part], acceleration[part])
        given = rotation[part], acceleration[part], clocks.of(part), index[nodes] - begin, target[nodes]
        chains.append(_normal(force, *given, own, rate_hz))
    for nodes, one in zip(_runs(len(index)), solve(chains), strict=True):
        found.tilt[nodes] = one.nodes
        found.deviation[nodes] = np.sqrt(np.diagonal(one.covariance, axis1=1, axis2=2))
        gain = one.common[3:].reshape(3, 3) if len(one.common) > 3 else np.zeros((3, 3))
        found.faults.append(Accelerometer(one.common[:3], gain))
    return found


def _turn(rotation: FloatArray, clock: FloatArray, index: IntArray, tilt: FloatArray) -> None:
    """Turn the course (n, 3, 3) where it lies by the tilt errors (k, 2), which grow as ``clock`` runs."""
    for part in _pieces(slice(0, len(rotation))):
        error = np.zeros((len(rotation[part]), 3))
        for column in (0, 1):
            error[:, column] = np.interp(clock[part], clock[index], tilt[:, column])
        rotation[part] = rotation_of(error) @ rotation[part]
