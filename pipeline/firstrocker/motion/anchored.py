"""A segment's course held at its anchors: the errors of tilt and velocity that the filter left are solved for.

Between two anchors the foot is strapdown-integrated: specific force turned into the world, gravity taken off, summed.
At the anchors the truth is known (a foot on the ground does not move; neither does the ankle above a flat foot), so
what the sum misses there measures the errors made on the way. One Gaussian least-squares problem per run of strides
solves for the tilt error at every anchor and the accelerometer's bias. It is the batch form of a Kalman smoother with
zero velocity as measurement, and like it gives the covariance.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from firstrocker.model import STANDARD_GRAVITY, BoolArray, FloatArray, IntArray
from firstrocker.motion.integrate import cumulative
from firstrocker.motion.orientation import rotation_of
from firstrocker.motion.stillness import around

CHUNK = 60
"""Strides solved together; the chain forgets within two or three, so a cut costs nothing."""
PASSES, LINEAR = 4, np.radians(1.5)
"""How often the problem is solved at most, and the tilt error below which once is enough."""
CLIPPED_PACE = 50.0
"""How much faster tilt errors grow while the gyroscope stands at its limit."""


@dataclass(frozen=True)
class Course:
    """A segment held at its anchors.

    rotation: (n, 3, 3) segment to world. velocity, position: (n, 3) m/s and m of the sensor's centre, world axes;
    position starts at the first anchor and is meaningful between anchors only. force: (n, 3) m/s^2 specific force in
    the world. tilt_error: (k, 2) rad found at the anchors, about world x and y; tilt_se: (k, 2) their standard errors.
    misclosure: (k - 1, 3) m/s velocity left over between anchors; climb: (k - 1,) m height the foot gained before the
    ground was taken as level.
    """

    rotation: FloatArray
    velocity: FloatArray
    position: FloatArray
    force: FloatArray
    tilt_error: FloatArray
    tilt_se: FloatArray
    misclosure: FloatArray
    climb: FloatArray


@dataclass(frozen=True)
class Noise:
    """What is trusted how far; every value one standard deviation.

    tilt_rest: rad, of the tilt the accelerometer shows at an anchor; None where the segment is not at rest there.
    tilt_prior: rad, of the filter's own tilt. drift: rad per root second, of the tilt's change from one anchor to the
    next. clipped: rad/s, of what a gyroscope at its limit failed to see. velocity: (k,) m/s, of the velocity assumed
    at each anchor. accelerometer: m/s^2, of its bias.
    """

    tilt_rest: FloatArray | None
    tilt_prior: float
    drift: float
    clipped: float
    velocity: FloatArray
    accelerometer: float


@dataclass(frozen=True)
class _Clocks:
    """Clocks that run as errors grow, each (n,): ``move`` s for velocity, nearly stopped while the segment is still;
    ``turn`` for tilt, fast where the gyroscope stood at its limit; ``clipped`` s spent there so far.
    """

    move: FloatArray
    turn: FloatArray
    clipped: FloatArray


def _clocks(still: BoolArray, clipped: BoolArray, rate_hz: float) -> _Clocks:
    pace = np.where(still, 0.05, 1.0)
    return _Clocks(
        np.cumsum(pace) / rate_hz,
        np.cumsum(np.where(clipped, CLIPPED_PACE, pace)) / rate_hz,
        np.cumsum(clipped) / rate_hz,
    )


@dataclass(frozen=True)
class Ties:
    """What is known of a segment at its anchors.

    index: (k,) anchors, k >= 2. still: (n,) True within still stretches. clipped: (n,) True where the gyroscope stood
    at its limit. target: (k, 3) m/s velocity of the sensor's centre at the anchors. height: (k,) m of the sensor's
    centre there, any zero. noise: what is trusted how far.
    """

    index: IntArray
    still: BoolArray
    clipped: BoolArray
    target: FloatArray
    height: FloatArray
    noise: Noise


def _solve(
    force: FloatArray,
    rotation: FloatArray,
    clocks: _Clocks,
    index: IntArray,
    target: FloatArray,
    noise: Noise,
    rest_force: FloatArray,
    rate_hz: float,
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Tilt errors (k, 2), their covariances' roots (k, 2) and the accelerometer bias (3,) of one run of anchors."""
    count, step = len(index), 1.0 / rate_hz
    first, last = index[0], index[-1] + 1
    part, here = slice(first, last), index - first
    stop, start = here[1:], here[:-1]
    f, clock = force[part], clocks.turn
    total = cumulative(f, step)
    span = clock[index[1:]] - clock[index[:-1]]
    waited = clocks.move[index[1:]] - clocks.move[index[:-1]]
    drift = np.hypot(
        noise.drift * np.sqrt(np.maximum(waited, 0.1)),
        noise.clipped * (clocks.clipped[index[1:]] - clocks.clipped[index[:-1]]),
    )
    weighted = cumulative(f * clock[part, None], step)
    plain = total[stop] - total[start]
    late = (weighted[stop] - weighted[start] - clock[index[:-1], None] * plain) / span[:, None]
    early = plain - late
    turned = cumulative(rotation[part], step)
    bias_gain = turned[stop] - turned[start]
    elapsed = (index[1:] - index[:-1]) * step
    gained = plain - STANDARD_GRAVITY * np.array([0.0, 0.0, 1.0]) * elapsed[:, None]
    missing = target[1:] - target[:-1] - gained
    sigma = np.hypot(noise.velocity[1:], noise.velocity[:-1])

    size = 2 * count + 3
    rows: list[FloatArray] = []
    values: list[FloatArray] = []

    def equation(block: FloatArray, value: FloatArray, deviation: FloatArray | float) -> None:
        rows.append(block / np.reshape(deviation, (-1, 1)))
        values.append(value / deviation)

    k = np.arange(count - 1)
    for axis, (arm_x, arm_y) in enumerate(((None, 2), (2, None), (1, 0))):
        # tilt (dx, dy, 0) x f = (dy fz, -dx fz, dx fy - dy fx)
        block = np.zeros((count - 1, size))
        signs = ((0.0, 1.0), (-1.0, 0.0), (1.0, -1.0))[axis]
        for node, arm in ((k, early), (k + 1, late)):
            if arm_x is not None:
                block[k, 2 * node] = signs[0] * arm[:, arm_x]
            if arm_y is not None:
                block[k, 2 * node + 1] = signs[1] * arm[:, arm_y]
        block[:, -3:] = -bias_gain[:, axis, :]
        equation(block, missing[:, axis], sigma)
    for column in (0, 1):
        link = np.zeros((count - 1, size))
        link[k, 2 * k + column], link[k, 2 * (k + 1) + column] = -1.0, 1.0
        equation(link, np.zeros(count - 1), drift)
        prior = np.zeros((count, size))
        prior[np.arange(count), 2 * np.arange(count) + column] = 1.0
        equation(prior, np.zeros(count), noise.tilt_prior)
        if noise.tilt_rest is not None:
            # A foot at rest feels gravity alone: dy fz = -fx, dx fz = fy.
            value = rest_force[:, 1] if column == 0 else -rest_force[:, 0]
            equation(prior, value / rest_force[:, 2], noise.tilt_rest)
    bias_prior = np.zeros((3, size))
    bias_prior[:, -3:] = np.eye(3)
    equation(bias_prior, np.zeros(3), noise.accelerometer)

    matrix, right = np.concatenate(rows), np.concatenate(values)
    covariance = np.linalg.inv(matrix.T @ matrix)
    solution = covariance @ (matrix.T @ right)
    deviation = np.sqrt(np.diag(covariance))
    return solution[:-3].reshape(count, 2), deviation[:-3].reshape(count, 2), solution[-3:]


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
    clocks, step = _clocks(ties.still, ties.clipped, rate_hz), 1.0 / rate_hz
    force = np.einsum("nij,nj->ni", rotation, acceleration)
    rest_force = force[around(index, rate_hz, len(force))].mean(axis=1)
    tilt, deviation = np.zeros((len(index), 2)), np.zeros((len(index), 2))
    corrected = np.array(acceleration)
    for first in range(0, len(index) - 1, CHUNK):
        nodes = slice(first, min(first + CHUNK + 1, len(index)))
        rest = None if noise.tilt_rest is None else noise.tilt_rest[nodes]
        chunk_noise = replace(noise, tilt_rest=rest, velocity=noise.velocity[nodes])
        tilt[nodes], deviation[nodes], bias = _solve(
            force, rotation, clocks, index[nodes], target[nodes], chunk_noise, rest_force[nodes], rate_hz
        )
        end = len(force) if nodes.stop == len(index) else index[nodes.stop - 1]
        corrected[index[first] if first else 0 : end] -= bias

    error = np.zeros((len(force), 3))
    for column in (0, 1):
        error[:, column] = np.interp(clocks.turn, clocks.turn[index], tilt[:, column])
    held = rotation_of(error) @ rotation
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
    return Course(held, velocity, position, force, tilt, deviation, misclosure, np.diff(surplus))


def _ease(clock: FloatArray, nodes: FloatArray, values: FloatArray) -> FloatArray:
    """(n,) curve through ``values`` (k,) at ``nodes`` (k,), level at each of them."""
    place = np.clip(np.searchsorted(nodes, clock, side="right") - 1, 0, len(nodes) - 2)
    part = np.clip((clock - nodes[place]) / (nodes[place + 1] - nodes[place]), 0.0, 1.0)
    return np.asarray(values[place] + (values[place + 1] - values[place]) * part * part * (3.0 - 2.0 * part))
