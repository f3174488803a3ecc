"""What the velocity missing between anchors says of tilt and accelerometer, as equations for a chain of anchors."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from firstrocker.model import STANDARD_GRAVITY, FloatArray, IntArray
from firstrocker.motion.banded import Normal
from firstrocker.motion.integrate import integrals
from firstrocker.motion.stillness import around

BRIDGED = 10.0
"""m/s^2 that a sample interpolated in a swing may be wrong by."""


@dataclass(frozen=True)
class Accelerometer:
    """What an accelerometer adds to the truth: bias (3,) m/s^2, and ``gain`` (3, 3) times what it reads."""

    bias: FloatArray
    gain: FloatArray

    def freed(self, reading: FloatArray) -> FloatArray:
        """Readings (3, ...) m/s^2 without its faults."""
        return np.asarray((reading.T - self.bias).T - self.gain @ reading)


def _faults(rotation: FloatArray, reading: FloatArray, *, gains: bool) -> FloatArray:
    """(n, 3, b) what each fault adds to the force in the world: 3 biases, then the 9 of ``gain`` row by row.

    rotation: (3, 3, n). reading: (3, n).
    """
    by_bias = np.moveaxis(rotation, 1, 0)
    if not gains:
        return by_bias.T
    faults = np.empty((12, *by_bias.shape[1:]))
    faults[:3] = by_bias
    np.multiply(by_bias[:, None], reading[:, None], out=faults[3:].reshape(3, *by_bias.shape))
    return faults.T


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
class Run:
    """A run of k anchors and the n samples about it.

    rotation: (3, 3, n) sensor to world. reading: (3, n) m/s^2 specific force. clock: (n,) s, as errors of tilt grow.
    index: (k,) samples of the anchors. target: (k, 3) m/s velocity there. moved, clipped, bridged: (k,) s spent up to
    each anchor in moving, with the gyroscope at its limit, and moving with nothing measured.
    """

    rotation: FloatArray
    reading: FloatArray
    clock: FloatArray
    index: IntArray
    target: FloatArray
    moved: FloatArray
    clipped: FloatArray
    bridged: FloatArray


def equations(run: Run, noise: Noise, rate_hz: float) -> Normal:
    """Equations for the tilt errors (k, 2) at a run of anchors and the accelerometer's faults (b,) over it."""
    step, gains, index = 1.0 / rate_hz, noise.gain is not None, run.index
    part, here, turn = slice(index[0], index[-1] + 1), index - index[0], run.clock[index]
    drift = np.hypot(
        noise.drift * np.sqrt(np.maximum(np.diff(run.moved), 0.1)),
        noise.clipped * np.diff(run.clipped),
    )
    force = (run.rotation * run.reading).sum(axis=1)
    plain = integrals(force[:, part].T, here, step)
    weighted = integrals((force[:, part] * (run.clock[part] - turn[0])).T, here, step)
    late = (weighted - (turn[:-1, None] - turn[0]) * plain) / np.diff(turn)[:, None]
    by_fault = integrals(_faults(run.rotation[..., part], run.reading[:, part], gains=gains), here, step)
    gained = plain - np.diff(index)[:, None] * step * np.array([0.0, 0.0, STANDARD_GRAVITY])
    unseen = BRIDGED * np.diff(run.bridged)
    sigma = np.sqrt(noise.velocity[1:] ** 2 + noise.velocity[:-1] ** 2 + unseen**2)[:, None]
    missing = (run.target[1:] - run.target[:-1] - gained) / sigma
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
        near = around(index, rate_hz, force.shape[1])
        rest_force = force[:, near].mean(axis=2)
        felt = _faults(run.rotation[..., index], run.reading[:, near].mean(axis=2), gains=gains)
        weight = 1.0 / noise.tilt_rest[:, None]
        level = weight * np.stack([rest_force[1], -rest_force[0]], axis=1) / rest_force[2, :, None]
        slant = weight[:, None] * np.stack([felt[:, 1], -felt[:, 0]], axis=1) / rest_force[2, :, None, None]
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
