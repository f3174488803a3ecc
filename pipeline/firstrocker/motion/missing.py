"""What the velocity missing between anchors says of tilt and accelerometer, as equations for chains of anchors."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from firstrocker.model import STANDARD_GRAVITY, FloatArray, IntArray
from firstrocker.motion.banded import Normal
from firstrocker.motion.integrate import integrals

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
class Between:
    """What the stretches between k anchors show, in the world.

    gained: (k - 1, 3) m/s that the specific force sums up to. late: (k - 1, 3) m/s, the same with each sample weighed
    by how far on the clock is from one anchor to the next. by_fault: (k - 1, 3, b) what each of the accelerometer's
    faults adds: 3 biases, s, then the 9 of ``gain`` row by row, m/s, if they are looked for.
    """

    gained: FloatArray
    late: FloatArray
    by_fault: FloatArray


@dataclass(frozen=True)
class Rested:
    """What is felt at k anchors at which the segment rests: the force (3, k), and what each fault adds (b, 3, k)."""

    force: FloatArray
    by_fault: FloatArray


@dataclass(frozen=True)
class Known:
    """What is known at k anchors.

    target: (k, 3) m/s velocity. moved, clipped, bridged: (k,) s spent up to each anchor in moving, with the gyroscope
    at its limit, and moving with nothing measured.
    """

    target: FloatArray
    moved: FloatArray
    clipped: FloatArray
    bridged: FloatArray


def faults(rotation: FloatArray, reading: FloatArray, out: FloatArray) -> None:
    """What each fault adds to the force in the world.

    Args:
        rotation: (3, 3, n) sensor to world.
        reading: (3, n) m/s^2.
        out: (b, 3, n) to be filled: 3 biases, then the 9 of ``gain`` row by row if b is 12.
    """
    by_bias = np.swapaxes(rotation, 0, 1)
    out[:3] = by_bias
    if len(out) > 3:
        np.multiply(by_bias[:, None], reading[:, None], out=out[3:].reshape(3, *by_bias.shape))


def between(
    rotation: FloatArray, reading: FloatArray, clock: FloatArray, index: IntArray, step_s: float, *, gains: bool
) -> Between:
    """Sum up a run of anchors.

    Args:
        rotation: (3, 3, n) sensor to world, from the first anchor to the last.
        reading: (3, n) m/s^2 specific force.
        clock: (n,) s, as errors of tilt grow.
        index: (k,) the anchors among these samples.
        step_s: s between samples.
        gains: whether the accelerometer's gains are looked for.
    """
    rows = np.empty((14 if gains else 5, 3, reading.shape[1]))
    faults(rotation, reading, rows[:-2])
    (rotation * reading).sum(axis=1, out=rows[-2])
    np.multiply(rows[-2], clock - clock[0], out=rows[-1])
    total = integrals(rows.T, index, step_s)
    gained, weighed, turn = total[..., -2], total[..., -1], clock[index]
    late = (weighed - (turn[:-1, None] - turn[0]) * gained) / np.diff(turn)[:, None]
    return Between(gained, late, total[..., :-2])


def equations(
    runs: Sequence[slice],
    betweens: Sequence[Between],
    rested: Rested | None,
    known: Known,
    noise: Noise,
    index: IntArray,
    rate_hz: float,
) -> list[Normal]:
    """Equations for the tilt errors (k, 2) at each run of anchors and the accelerometer's faults (b,) over it.

    Args:
        runs: of the anchors (k,), each run beginning with the last one of the run before.
        betweens: of each run.
        rested: at all anchors; None where the segment does not rest.
        known: at all anchors.
        noise: what is trusted how far.
        index: (k,) samples of the anchors.
        rate_hz: samples per second.
    """
    gained, late, by_fault = (
        np.concatenate([getattr(one, name) for one in betweens]) for name in ("gained", "late", "by_fault")
    )
    drift = np.hypot(
        noise.drift * np.sqrt(np.maximum(np.diff(known.moved), 0.1)),
        noise.clipped * np.diff(known.clipped),
    )
    unseen = BRIDGED * np.diff(known.bridged)
    sigma = np.sqrt(noise.velocity[1:] ** 2 + noise.velocity[:-1] ** 2 + unseen**2)[:, None]
    fallen = np.diff(index)[:, None] / rate_hz * np.array([0.0, 0.0, STANDARD_GRAVITY])
    missing = ((np.diff(known.target, axis=0) - (gained - fallen)) / sigma)[..., None]
    # What velocity is missing between two anchors, by the tilt at the first, by that at the second, by the faults.
    before, after = (_by_tilt(arm / sigma) for arm in (gained - late, late))
    by_fault = -by_fault / sigma[:, None]
    first, second = (np.swapaxes(gain, 1, 2) for gain in (before, after))
    tie = np.eye(2) / drift[:, None, None] ** 2
    diagonal = first @ before + tie, second @ after + tie
    above, border = first @ after - tie, (first @ by_fault, second @ by_fault)
    right = (first @ missing)[..., 0], (second @ missing)[..., 0]
    prior = np.array([noise.bias] * 3 + ([] if noise.gain is None else [noise.gain] * 9))
    rest = None if rested is None or noise.tilt_rest is None else _levelled(rested, noise.tilt_rest)
    chains = []
    for nodes in runs:
        steps = slice(nodes.start, nodes.stop - 1)
        own = _summed(by_fault[steps], missing[steps])
        chain = Normal(
            _chained(*(part[steps] for part in diagonal)) + np.eye(2) / noise.tilt_prior**2,
            above[steps],
            _chained(*(part[steps] for part in border)),
            own[:, :-1] + np.diag(prior**-2.0),
            _chained(*(part[steps] for part in right)),
            own[:, -1],
        )
        chains.append(chain if rest is None else _with_rest(chain, *(part[nodes] for part in rest)))
    return chains


def _chained(first: FloatArray, second: FloatArray) -> FloatArray:
    """(k, ...) of nodes, each with what the stretches (k - 1, ...) after and before it say of it."""
    out = np.zeros((len(first) + 1, *first.shape[1:]))
    out[:-1] += first
    out[1:] += second
    return out


def _summed(by_fault: FloatArray, missing: FloatArray) -> FloatArray:
    """(b, b + 1) products of the faults' (k, 3, b) with themselves and with what is seen (k, 3, 1), summed."""
    flat = by_fault.reshape(-1, by_fault.shape[2])
    return np.asarray(flat.T @ np.hstack([flat, missing.reshape(-1, 1)]))


def _levelled(rested: Rested, tilt_rest: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Weight (k, 1), tilt felt (k, 2, 1), and what the faults add to it (k, 2, b), the last two weighed.

    A foot at rest feels gravity alone, and its sensor its own faults: dy fz = -fx, dx fz = fy.
    """
    x, y, z = rested.force
    weight = 1.0 / tilt_rest
    level = np.array([y, -x]) * weight / z
    felt = np.array([rested.by_fault[:, 1], -rested.by_fault[:, 0]]) * weight / z
    return weight[:, None], level.T[..., None], np.moveaxis(felt, -1, 0)


def _with_rest(chain: Normal, weight: FloatArray, level: FloatArray, slant: FloatArray) -> Normal:
    own = _summed(slant, level)
    return Normal(
        chain.diagonal + np.eye(2) * weight[..., None] ** 2,
        chain.above,
        chain.border + slant * weight[..., None],
        chain.corner + own[:, :-1],
        chain.right + level[..., 0] * weight,
        chain.common_right + own[:, -1],
    )


def _by_tilt(force: FloatArray) -> FloatArray:
    """(k, 3, 2): a tilt (dx, dy, 0) turns a force f (k, 3) by (dy fz, -dx fz, dx fy - dy fx)."""
    gain = np.zeros((len(force), 3, 2))
    gain[:, 0, 1], gain[:, 1, 0] = force[:, 2], -force[:, 2]
    gain[:, 2, 0], gain[:, 2, 1] = force[:, 1], -force[:, 0]
    return gain
