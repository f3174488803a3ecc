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
from firstrocker.motion.integrate import cumulative, integrals
from firstrocker.motion.orientation import rotation_of
from firstrocker.motion.stillness import around

CHUNK = 60
"""Strides solved together; the chain forgets within two or three, so a cut costs nothing."""
PASSES, LINEAR = 4, np.radians(1.5)
"""How often the problem is solved at most, and the tilt error below which once is enough."""
BRIDGED = 10.0
"""m/s^2 that a sample interpolated in a swing may be wrong by."""
PIECE = 16384
"""Samples turned at once: rotations take more room than anything else."""
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

    rotation: (n, 3, 3) segment to world. velocity, position: (n, 3) m/s and m of the sensor's centre, world axes;
    position starts at the first anchor and is meaningful between anchors only. force: (n, 3) m/s^2 specific force in
    the world. tilt_error: (k, 2) rad found at the anchors, about world x and y; tilt_se: (k, 2) their standard errors.
    misclosure: (k - 1, 3) m/s velocity left over between anchors; climb: (k - 1,) m height the foot gained before the
    ground was taken as level. accelerometer: its faults, on average over the walk.
    """

    rotation: FloatArray
    velocity: FloatArray
    position: FloatArray
    force: FloatArray
    tilt_error: FloatArray
    tilt_se: FloatArray
    misclosure: FloatArray
    climb: FloatArray
    accelerometer: Accelerometer


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


def _clocks(ties: Ties, rate_hz: float) -> _Clocks:
    pace = np.where(ties.still, 0.05, 1.0)
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
        rotation: (n, 3, 3) the filter's course, segment to world.
        acceleration: (n, 3) m/s^2 specific force, segment axes.
        rate_hz: samples per second.
        ties: what is known at the anchors.

    Returns:
        The course, corrected.
    """
    for _ in range(PASSES):
        held = _hold_once(rotation, acceleration, rate_hz, ties)
        if np.abs(held.tilt_error).max() < LINEAR:
            break
        rotation = held.rotation
    return held


def _hold_once(rotation: FloatArray, acceleration: FloatArray, rate_hz: float, ties: Ties) -> Course:
    index, target, noise = ties.index, ties.target, ties.noise
    clocks, step = _clocks(ties, rate_hz), 1.0 / rate_hz
    force = np.einsum("nij,nj->ni", rotation, acceleration)
    tilt, deviation = np.zeros((len(index), 2)), np.zeros((len(index), 2))
    corrected = np.array(acceleration)
    faults: list[Accelerometer] = []
    runs = [slice(first, min(first + CHUNK + 1, len(index))) for first in range(0, len(index) - 1, CHUNK)]
    chains = []
    for nodes in runs:
        rest = None if noise.tilt_rest is None else noise.tilt_rest[nodes]
        own = replace(noise, tilt_rest=rest, velocity=noise.velocity[nodes])
        chains.append(_normal(force, rotation, acceleration, clocks, index[nodes], target[nodes], own, rate_hz))
    for nodes, found in zip(runs, solve(chains), strict=True):
        tilt[nodes] = found.nodes
        deviation[nodes] = np.sqrt(np.diagonal(found.covariance, axis1=1, axis2=2))
        end = len(force) if nodes.stop == len(index) else index[nodes.stop - 1]
        here = slice(index[nodes.start] if nodes.start else 0, end)
        gain = found.common[3:].reshape(3, 3) if len(found.common) > 3 else np.zeros((3, 3))
        faults.append(Accelerometer(found.common[:3], gain))
        corrected[here] = faults[-1].freed(acceleration[here])

    held = np.empty_like(rotation)
    for first in range(0, len(held), PIECE):
        part = slice(first, first + PIECE)
        error = np.zeros((len(held[part]), 3))
        for column in (0, 1):
            error[:, column] = np.interp(clocks.turn[part], clocks.turn[index], tilt[:, column])
        np.matmul(rotation_of(error), rotation[part], out=held[part])
    force = np.einsum("nij,nj->ni", held, corrected)
    velocity = cumulative(force - np.array([0.0, 0.0, STANDARD_GRAVITY]), step)
    excess = velocity[index] - target
    misclosure = np.diff(excess, axis=0)
    clock = clocks.move
    for axis in range(3):
        velocity[:, axis] -= np.interp(clock, clock[index], excess[:, axis])
    position = cumulative(velocity, step)
    surplus = position[index, 2] - (ties.height - ties.height[0])
    position[:, 2] -= _ease(clock, clock[index], surplus)
    position -= position[index[0]]
    found_faults = Accelerometer(
        np.mean([fault.bias for fault in faults], axis=0), np.mean([fault.gain for fault in faults], axis=0)
    )
    return Course(held, velocity, position, force, tilt, deviation, misclosure, np.diff(surplus), found_faults)


def _ease(clock: FloatArray, nodes: FloatArray, values: FloatArray) -> FloatArray:
    """(n,) curve through ``values`` (k,) at ``nodes`` (k,), level at each of them."""
    place = np.clip(np.searchsorted(nodes, clock, side="right") - 1, 0, len(nodes) - 2)
    part = np.clip((clock - nodes[place]) / (nodes[place + 1] - nodes[place]), 0.0, 1.0)
    return np.asarray(values[place] + (values[place + 1] - values[place]) * part * part * (3.0 - 2.0 * part))
