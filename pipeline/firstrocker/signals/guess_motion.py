"""Which numbers are acceleration and angular velocity, in which order, sign and unit, told by how bodies move.

Two facts tell them. A sensor at rest feels gravity and does not turn. And acceleration turned back by the angular
velocity, averaged over a second or two of walking, is gravity again, straight up with its full size, for speed does not
grow; with an axis exchanged or a sign turned round it is not. On 22 logs (open recordings of feet, simulated feet and
shanks) the right order and signs, among the 48 there are, always gave the least error.
"""

from __future__ import annotations

from itertools import permutations, product

import numpy as np

from firstrocker.model import FloatArray, IntArray

WINDOW_S = 4.0
PART_S = 2.0
MOST_WINDOWS = 12
FASTEST_HZ = 100.0
"""More samples per second are averaged down to about this, which costs nothing here."""
QUIET_S = 0.25
QUIET_SHARE = 0.1


def _signed() -> FloatArray:
    matrices = []
    for order in permutations(range(3)):
        for signs in product((1.0, -1.0), repeat=3):
            matrix = np.zeros((3, 3))
            matrix[range(3), order] = signs
            matrices.append(matrix)
    return np.array(matrices)


SIGNED = _signed()
"""(48, 3, 3) every order of three axes with every choice of signs; the first is as they stand."""


def quiet_rows(columns: FloatArray, width: int) -> IntArray:
    """(k, width) rows of the quietest stretches.

    Args:
        columns: (n, m) numbers of any kind; each column's restlessness counts by its rank, so that units do not matter.
        width: of a stretch, rows.
    """
    width = max(min(width, len(columns)), 1)
    windows = np.arange(len(columns) // width * width).reshape(-1, width)
    spread = columns[windows].std(axis=1)
    rank = np.argsort(np.argsort(spread, axis=0), axis=0)
    order = np.argsort(np.median(rank, axis=1), kind="stable")
    return np.asarray(windows[order[: max(3, int(QUIET_SHARE * len(windows)))]])


def rest_size(triple: FloatArray, quiet: IntArray) -> tuple[float, float]:
    """Length of the mean of (n, 3) numbers in quiet stretches, and its spread as a share of it."""
    size = np.linalg.norm(triple[quiet].mean(axis=1), axis=1)
    usual = float(np.median(size))
    return usual, float(np.median(np.abs(size - usual))) / max(usual, 1e-12)


def liveliness(triple: FloatArray, usual: float) -> float:
    """How far the length of (n, 3) numbers swings in movement, as a share of its usual one: little for a compass."""
    size = np.linalg.norm(triple, axis=1)
    return float(np.percentile(size, 98) - np.percentile(size, 2)) / max(usual, 1e-12)


def misfit(
    acceleration: FloatArray, angular_velocity: FloatArray, *, rate_hz: float, turns: FloatArray = SIGNED
) -> FloatArray | None:
    """(k,) by how much turned-back acceleration misses gravity, root mean square as a share of it.

    Args:
        acceleration: (n, 3) as a share of gravity.
        angular_velocity: (n, 3) rad/s.
        rate_hz: samples per second.
        turns: (k, 3, 3) by which the angular velocity is turned beforehand; orders of axes with signs, times a scale.

    Returns:
        None where the log is too short or shows too little movement to tell.
    """
    block = max(int(rate_hz // FASTEST_HZ), 1)
    whole = len(acceleration) // block * block
    force = acceleration[:whole].reshape(-1, block, 3).mean(axis=1)
    turning = angular_velocity[:whole].reshape(-1, block, 3).mean(axis=1)
    rate = rate_hz / block
    n, part = int(WINDOW_S * rate), int(PART_S * rate)
    starts = np.arange(0, len(force) - n, max(n // 2, 1))
    if len(starts) < 2 or part < 4:
        return None
    activity = np.array(
        [np.linalg.norm(force[s : s + n] - force[s : s + n].mean(axis=0), axis=1).mean() for s in starts]
    )
    starts = starts[np.argsort(-activity, kind="stable")[:MOST_WINDOWS]]
    if activity.max() < 0.05:
        return None
    rows = starts[:, None] + np.arange(n)
    felt, half = force[rows], 0.5 * turning[rows] / rate
    step = np.einsum("kij,wnj->kwni", turns, half)
    angle = np.linalg.norm(step, axis=-1, keepdims=True)
    vector = np.sinc(angle / np.pi) * step
    scalar = np.cos(angle)
    attitude = np.zeros((len(turns), len(starts), 4))
    attitude[..., 0] = 1.0
    parts = np.zeros((len(turns), len(starts), n // part, 3))
    for k in range(n // part * part):
        parts[:, :, k // part] += _turned(attitude, felt[None, :, k])
        attitude = _times(attitude, scalar[:, :, k], vector[:, :, k])
    parts /= part
    mean = parts.mean(axis=2, keepdims=True)
    gravity = mean / np.maximum(np.linalg.norm(mean, axis=-1, keepdims=True), 1e-12)
    return np.asarray(np.sqrt(np.median(((parts - gravity) ** 2).sum(axis=-1).mean(axis=2), axis=1)))


def _turned(quaternion: FloatArray, vector: FloatArray) -> FloatArray:
    axis = quaternion[..., 1:]
    twice = 2.0 * np.cross(axis, vector)
    return np.asarray(vector + quaternion[..., :1] * twice + np.cross(axis, twice))


def _times(left: FloatArray, scalar: FloatArray, vector: FloatArray) -> FloatArray:
    real = left[..., :1] * scalar - (left[..., 1:] * vector).sum(axis=-1, keepdims=True)
    rest = left[..., :1] * vector + scalar * left[..., 1:] + np.cross(left[..., 1:], vector)
    return np.concatenate([real, rest], axis=-1)
