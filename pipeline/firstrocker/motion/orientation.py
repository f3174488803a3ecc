"""The course of a sensor's orientation by an open orientation filter.

The filter gives the course only; :mod:`firstrocker.motion.anchored` then holds it at every foot flat. All filters get
the mean rate over each step (:func:`firstrocker.motion.integrate.step_mean`), for they integrate by rectangles.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import get_args

import numpy as np

from firstrocker.model import FilterName, FloatArray, IntArray
from firstrocker.motion.integrate import step_mean

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
    w, x, y, z = np.moveaxis(quaternion, -1, 0)
    rows = [
        [1 - 2 * (y * y + z * z), 2 * (x * y - w * z), 2 * (x * z + w * y)],
        [2 * (x * y + w * z), 1 - 2 * (x * x + z * z), 2 * (y * z - w * x)],
        [2 * (x * z - w * y), 2 * (y * z + w * x), 1 - 2 * (x * x + y * y)],
    ]
    return np.stack([np.stack(row, axis=-1) for row in rows], axis=-2)


def rotation_of(vector: FloatArray) -> FloatArray:
    """Rotation matrices of rotation vectors (Rodrigues).

    Args:
        vector: (..., 3) rad.

    Returns:
        (..., 3, 3).
    """
    angle = np.linalg.norm(vector, axis=-1, keepdims=True)
    half = 0.5 * angle
    # sin(a/2)/a without a division by zero: numpy's sinc is sin(pi x)/(pi x)
    imaginary = 0.5 * np.sinc(half / np.pi) * vector
    return matrices(np.concatenate([np.cos(half), imaginary], axis=-1))


def _vqf(rate: FloatArray, force: FloatArray, step_s: float) -> FloatArray:
    from vqf import offlineVQF

    result = offlineVQF(np.ascontiguousarray(rate), np.ascontiguousarray(force), None, step_s)
    return np.asarray(result["quat6D"])


def _start(force: FloatArray) -> FloatArray:
    """(4,) quaternion of the tilt that the first half second of specific force shows, heading 0."""
    up = force[: max(1, min(50, len(force)))].mean(axis=0)
    up = up / np.linalg.norm(up)
    quaternion = np.array([1.0 + up[2], up[1], -up[0], 0.0])
    norm = np.linalg.norm(quaternion)
    return np.array([0.0, 1.0, 0.0, 0.0]) if norm < 1e-6 else quaternion / norm


def _madgwick(rate: FloatArray, force: FloatArray, step_s: float) -> FloatArray:
    from ahrs.filters import Madgwick

    return np.asarray(Madgwick(gyr=rate, acc=force, Dt=step_s, q0=_start(force)).Q)


def _mahony(rate: FloatArray, force: FloatArray, step_s: float) -> FloatArray:
    from ahrs.filters import Mahony

    return np.asarray(Mahony(gyr=rate, acc=force, Dt=step_s, q0=_start(force)).Q)


def _aqua(rate: FloatArray, force: FloatArray, step_s: float) -> FloatArray:
    from ahrs.filters import AQUA

    # This one filter of the package tells the world's rotation in the sensor, the others the sensor's in the world.
    conjugate = np.array([1.0, -1.0, -1.0, -1.0])
    return np.asarray(AQUA(gyr=rate, acc=force, Dt=step_s, adaptive=True).Q * conjugate)


_RUN: dict[str, Callable[[FloatArray, FloatArray, float], FloatArray]] = {
    "vqf": _vqf,
    "madgwick": _madgwick,
    "mahony": _mahony,
    "aqua": _aqua,
}


def turned(first: FloatArray, second: FloatArray) -> FloatArray:
    """Quaternion products ``first * second``, (..., 4) as (w, x, y, z)."""
    a, b, c, d = np.moveaxis(first, -1, 0)
    w, x, y, z = np.moveaxis(second, -1, 0)
    return np.stack(
        [
            a * w - b * x - c * y - d * z,
            a * x + b * w + c * z - d * y,
            a * y - b * z + c * w + d * x,
            a * z + b * y - c * x + d * w,
        ],
        axis=-1,
    )


def strapdown(angular_velocity: FloatArray, rate_hz: float) -> FloatArray:
    """Orientation from the gyroscope alone.

    Args:
        angular_velocity: (n, 3) rad/s, bias taken off.
        rate_hz: samples per second.

    Returns:
        (n, 3, 3) rotations to the orientation at the first sample. Each step turns by the mean rate over it and half
        the cross product with the step before's sixth part (coning; Savage 1998); the product of all steps is formed
        by doubling, in log2(n) passes.
    """
    turn = step_mean(angular_velocity) / rate_hz
    turn[0] = 0.0
    turn[1:] += np.cross(turn[:-1], turn[1:]) / 12.0
    half = 0.5 * np.linalg.norm(turn, axis=1, keepdims=True)
    product = np.concatenate([np.cos(half), 0.5 * np.sinc(half / np.pi) * turn], axis=1)
    reach = 1
    while reach < len(product):
        product[reach:] = turned(product[:-reach], product[reach:])
        reach *= 2
    return matrices(product / np.linalg.norm(product, axis=1, keepdims=True))


def rotation_vector(rotation: FloatArray) -> FloatArray:
    """Rotation vectors (..., 3) rad of small rotations (..., 3, 3), well short of half a turn."""
    skew = rotation - np.swapaxes(rotation, -1, -2)
    axis = 0.5 * np.stack([skew[..., 2, 1], skew[..., 0, 2], skew[..., 1, 0]], axis=-1)
    sine = np.linalg.norm(axis, axis=-1, keepdims=True)
    angle = np.arctan2(sine[..., 0], 0.5 * (np.trace(rotation, axis1=-2, axis2=-1) - 1.0))
    return np.asarray(axis / np.sinc(angle / np.pi)[..., None])


LEVEL_S = 15.0
"""s to either side over which the filter's level is averaged."""


def steady_course(filtered: FloatArray, inertial: FloatArray, index: IntArray, rate_hz: float) -> FloatArray:
    """The filter's level in the long run, the gyroscope's course in the short.

    A filter bends the course by what it takes for tilt, by a degree from stride to stride; the gyroscope drifts, but by
    hundredths. So what the two differ by is averaged over :data:`LEVEL_S` before the gyroscope's course is turned by
    it.

    Args:
        filtered: (n, 3, 3) of :func:`course`.
        inertial: (n, 3, 3) of :func:`strapdown`.
        index: (k,) samples at which the two are compared, increasing.
        rate_hz: samples per second.

    Returns:
        (n, 3, 3).
    """
    nodes = np.unique(np.concatenate([[0], index, [len(filtered) - 1]]))
    offset = filtered[nodes] @ np.swapaxes(inertial[nodes], -1, -2)
    change = rotation_vector(np.swapaxes(offset[:-1], -1, -2) @ offset[1:])
    way = np.concatenate([np.zeros((1, 3)), np.cumsum(change, axis=0)])
    sums = np.concatenate([np.zeros((1, 3)), np.cumsum(way, axis=0)])
    first = np.searchsorted(nodes, nodes - LEVEL_S * rate_hz, side="left")
    stop = np.searchsorted(nodes, nodes + LEVEL_S * rate_hz, side="right")
    smooth = (sums[stop] - sums[first]) / (stop - first)[:, None]
    samples = np.arange(len(filtered))
    slow = np.stack([np.interp(samples, nodes, smooth[:, axis]) for axis in range(3)], axis=1)
    return np.asarray(offset[0] @ rotation_of(slow) @ inertial)


def course(
    acceleration: FloatArray,
    angular_velocity: FloatArray,
    rate_hz: float,
    *,
    filter_name: FilterName,
) -> FloatArray:
    """Orientation of a sensor over a walk.

    Args:
        acceleration: (n, 3) m/s^2, sensor axes, finite.
        angular_velocity: (n, 3) rad/s, bias taken off, finite.
        rate_hz: samples per second.
        filter_name: ``vqf`` (Laidig and Seel 2023, run forwards and backwards) or one of the filters of ``ahrs``.

    Returns:
        (n, 3, 3) sensor-to-world rotations at the samples, heading arbitrary.
    """
    quaternion = _RUN[filter_name](step_mean(angular_velocity), acceleration, 1.0 / rate_hz)
    return matrices(quaternion / np.linalg.norm(quaternion, axis=1, keepdims=True))
