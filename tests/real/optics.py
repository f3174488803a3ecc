"""Optical paths beside a foot sensor: what is faulty in them, and how they lie to the sensor in time and place.

An optical point on the shoe is not the sensor: it lies some centimetres away and turns with the foot, its clock may
lag, and the frame it is given in may be turned or even left-handed. The best fit between both accelerations tells all
of it, so that the optical path can be carried to the sensor's centre before anything is compared.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline
from scipy.ndimage import binary_dilation, binary_opening, uniform_filter1d
from scipy.optimize import minimize_scalar
from scipy.signal import butter, sosfiltfilt
from vqf import offlineVQF

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
IntArray = NDArray[np.int64]

GRAVITY = np.array([0.0, 0.0, 9.80665])
TOP_SPEED = 8.0
"""m/s; no foot of a walker is faster, so a frame that is, is a jump."""
TOP_ACCELERATION = 150.0
"""m/s^2; the foot sensors read 60 at most, so a frame that is beyond this is a swapped marker."""
BRIDGE_S = 0.05
"""Faults up to this long are bridged by a smooth curve; longer ones leave the path unknown."""
ISLAND_S = 0.03
"""A stretch between two faults shorter than this is taken for part of them."""
BAND_HZ = (0.3, 5.0)
"""Where both accelerations are compared: below, orientation drifts; above, optical noise and contact shocks."""


UNEXPLAINED = 2.5
"""m/s^2 over 0.1 s, several times what the fit leaves in a sound walk."""


@dataclass(frozen=True)
class Alignment:
    """How an optical path lies to its sensor.

    lag_s: how much later an event shows in the optics. yaw: rad, turns the sensor's world to the optical one about z.
    lever: (3,) m, from the sensor's centre to the optical point, sensor axes. residual, signal: m/s^2 RMS per axis of
    what the fit leaves and of the optical acceleration itself. explained: (n,) False where the two accelerations
    differ by more than ``UNEXPLAINED``: the optics saw another point there.
    """

    lag_s: float
    yaw: float
    lever: FloatArray
    residual: float
    signal: float
    explained: BoolArray


def orientation(acceleration: FloatArray, angular_velocity: FloatArray, step: float) -> tuple[FloatArray, FloatArray]:
    """Sensor-to-world rotations (n, 3, 3), z up, and the gyroscope's bias (n, 3), by vqf without a compass."""
    out = offlineVQF(np.ascontiguousarray(angular_velocity), np.ascontiguousarray(acceleration), None, step)
    return matrices(out["quat6D"]), np.asarray(out["bias"])


def matrices(quaternion: FloatArray) -> FloatArray:
    """(n, 3, 3) rotations of (n, 4) quaternions, w first."""
    w, x, y, z = (quaternion / np.linalg.norm(quaternion, axis=1, keepdims=True)).T
    rows = (
        (1 - 2 * (y * y + z * z), 2 * (x * y - w * z), 2 * (x * z + w * y)),
        (2 * (x * y + w * z), 1 - 2 * (x * x + z * z), 2 * (y * z - w * x)),
        (2 * (x * z - w * y), 2 * (y * z + w * x), 1 - 2 * (x * x + y * y)),
    )
    return np.moveaxis(np.array([[np.asarray(cell) for cell in row] for row in rows]), 2, 0)


def turned(yaw: float) -> FloatArray:
    """Rotation about z."""
    c, s = np.cos(yaw), np.sin(yaw)
    return np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])


def clean(position: FloatArray, rate_hz: float) -> tuple[FloatArray, BoolArray]:
    """An optical path without its faults, and where it can be believed.

    Faults are jumps faster than a foot, kinks sharper than a foot's, the frames beside them, and frames that repeat the
    one before exactly: a lost point is held where it was last seen.

    Returns:
        (n, 3) path, faults bridged by smooth curves, and (n,) True where it was measured or bridged over a short time.
    """
    change = np.diff(position, axis=0)
    held = np.concatenate([[False], (change == 0.0).all(axis=1)])
    fast = np.linalg.norm(change, axis=1) * rate_hz > TOP_SPEED
    kink = np.linalg.norm(np.diff(change, axis=0), axis=1) * rate_hz**2 > TOP_ACCELERATION
    jump = np.concatenate([[False], fast]) | np.concatenate([fast, [False]]) | np.pad(kink, 1)
    fault = held | binary_dilation(jump, iterations=max(1, round(0.005 * rate_hz)))
    good = binary_opening(~fault, structure=np.ones(max(2, round(ISLAND_S * rate_hz)), dtype=bool))
    index = np.arange(len(position))
    path = np.asarray(CubicSpline(index[good], position[good])(index))
    edge = np.flatnonzero(np.diff(np.concatenate([[True], good, [True]]).astype(int)))
    valid = good.copy()
    for start, stop in zip(edge[::2], edge[1::2], strict=True):
        if start > 0 and stop < len(good) and stop - start <= BRIDGE_S * rate_hz:
            valid[start:stop] = True
    return path, valid


def align(
    rotation: FloatArray,
    acceleration: FloatArray,
    angular_velocity: FloatArray,
    path: FloatArray,
    valid: BoolArray,
    rate_hz: float,
) -> Alignment:
    """Fit clock lag, yaw and lever so that the sensor's acceleration becomes the optical point's.

    Robust: fitted again without what the fit before could not explain, until that settles.

    Args:
        rotation: (n, 3, 3) sensor to world. acceleration: (n, 3) m/s^2 specific force, sensor axes.
        angular_velocity: (n, 3) rad/s without bias, sensor axes.
        path: (n, 3) m optical, right-handed, z up. valid: (n,). rate_hz: of all of them.
    """
    band = butter(2, BAND_HZ, btype="band", fs=rate_hz, output="sos")
    step = 1.0 / rate_hz
    spin = skew(np.gradient(angular_velocity, step, axis=0)) + skew(angular_velocity) @ skew(angular_velocity)
    own = sosfiltfilt(band, np.einsum("nij,nj->ni", rotation, acceleration) - GRAVITY, axis=0)
    arm = sosfiltfilt(band, rotation @ spin, axis=0)
    seen = np.gradient(np.gradient(sosfiltfilt(band, path, axis=0), step, axis=0), step, axis=0)
    margin, reach = round(1.0 * rate_hz), round(0.03 * rate_hz)
    inner = np.zeros(len(path), dtype=bool)
    inner[margin:-margin] = True
    usable = inner & ~binary_dilation(~valid, iterations=round(0.15 * rate_hz))

    def left_over(yaw: float, lag: int, index: IntArray, lever: FloatArray) -> FloatArray:
        world = turned(yaw)
        return np.asarray(seen[index] - own[index - lag] @ world.T - world @ arm[index - lag] @ lever)

    def fit(yaw: float, lag: int, index: IntArray) -> tuple[float, FloatArray]:
        world = turned(yaw)
        wanted = (seen[index] - own[index - lag] @ world.T).ravel()
        lever = np.linalg.lstsq((world @ arm[index - lag]).reshape(-1, 3), wanted, rcond=None)[0]
        return float(np.sqrt(np.mean(left_over(yaw, lag, index, lever) ** 2))), lever

    def best(guess: float, lag: int, index: IntArray) -> tuple[float, float]:
        found = minimize_scalar(lambda yaw: fit(yaw, lag, index)[0], bounds=(guess - 0.3, guess + 0.3))
        return float(found.fun), float(found.x)

    index = np.flatnonzero(usable)
    lag = round(0.005 * rate_hz)
    yaw = min(np.radians(np.arange(0.0, 360.0, 10.0)), key=lambda angle: fit(angle, lag, index)[0])
    for _ in range(6):
        _, yaw = best(yaw, lag, index)
        error = np.linalg.norm(left_over(yaw, lag, np.flatnonzero(inner), fit(yaw, lag, index)[1]), axis=1)
        trusted = np.zeros(len(path), dtype=bool)
        trusted[inner] = uniform_filter1d(error, round(0.1 * rate_hz)) < UNEXPLAINED
        index = np.flatnonzero(usable & trusted)
    lags = np.arange(-reach, reach + 1)
    rest, yaws = zip(*(best(yaw, int(k), index) for k in lags), strict=True)
    k = int(np.clip(np.argmin(rest), 1, len(lags) - 2))
    between = 0.5 * (rest[k - 1] - rest[k + 1]) / (rest[k - 1] - 2 * rest[k] + rest[k + 1])
    late = float(lags[k] + between)
    whole = np.arange(len(path), dtype=np.float64)
    own = shifted(own, whole - late)
    arm = shifted(arm.reshape(-1, 9), whole - late).reshape(-1, 3, 3)
    _, yaw = best(yaws[k], 0, index)
    residual, lever = fit(yaw, 0, index)
    return Alignment(
        lag_s=late * step,
        yaw=yaw,
        lever=lever,
        residual=residual,
        signal=float(np.sqrt(np.mean(seen[index] ** 2))),
        explained=~inner | trusted,
    )


def shifted(values: FloatArray, index: FloatArray) -> FloatArray:
    """(n, m) columns at fractional indices, straight between samples."""
    whole = np.arange(len(values))
    return np.column_stack([np.interp(index, whole, column) for column in values.T])


def skew(vector: FloatArray) -> FloatArray:
    """(n, 3, 3) matrices that take the cross product with (n, 3) from the left."""
    zero = np.zeros(len(vector))
    x, y, z = vector.T
    return np.moveaxis(np.array([[zero, -z, y], [z, zero, -x], [-y, x, zero]]), 2, 0)
