"""Arithmetic of unit quaternions, one row per component: (4, ...) as (w, x, y, z), vectors (3, ...).

Whole logs are turned step by step with it; a component that lies in one piece is worked on several times as fast as one
strewn among the others. Results are written where they belong by the last step of each component, for copying them
takes as long as a product.
"""

from __future__ import annotations

import numpy as np

from firstrocker.model import FloatArray
from firstrocker.motion.sensor import pieces


def times(first: FloatArray, second: FloatArray) -> FloatArray:
    """(4, ...) products ``first * second``: the second rotation, then the first."""
    a, b, c, d = first
    w, x, y, z = second
    out = np.empty(np.broadcast_shapes(first.shape, second.shape))
    np.subtract(a * w - b * x - c * y, d * z, out=out[0, ...])
    np.subtract(a * x + b * w + c * z, d * y, out=out[1, ...])
    np.add(a * y - b * z + c * w, d * x, out=out[2, ...])
    np.add(a * z + b * y - c * x, d * w, out=out[3, ...])
    return out


def conjugate(quaternion: FloatArray) -> FloatArray:
    """(4, ...) of the rotations the other way."""
    return np.concatenate([quaternion[:1], -quaternion[1:]])


def unit(quaternion: FloatArray) -> FloatArray:
    """(4, ...) at length 1."""
    return np.asarray(quaternion / np.sqrt((quaternion * quaternion).sum(axis=0)))


def of_vector(vector: FloatArray) -> FloatArray:
    """(4, ...) of rotation vectors (3, ...), rad."""
    x, y, z = vector
    # Never quite 0, for it is divided by.
    quarter = 0.25 * np.sqrt(x * x + y * y + z * z + np.finfo(np.float64).tiny)
    # By the tangent, for numpy has that ten times as fast as sine and cosine.
    tangent = np.tan(quarter)
    square = tangent * tangent
    share = 1.0 / (1.0 + square)
    out = np.empty((4, *vector.shape[1:]))
    np.multiply(1.0 - square, share, out=out[0, ...])
    np.multiply(0.5 * tangent / quarter * share, vector, out=out[1:])
    return out


def to_vector(quaternion: FloatArray) -> FloatArray:
    """(3, ...) rotation vectors, rad, up to a whole turn, of quaternions (4, ...)."""
    sine = np.sqrt((quaternion[1:] * quaternion[1:]).sum(axis=0))
    half = np.arctan2(sine, quaternion[0])
    return np.asarray(2.0 / np.sinc(half / np.pi) * quaternion[1:])


def rotated(quaternion: FloatArray, vector: FloatArray) -> FloatArray:
    """(3, ...) vectors turned by the rotations."""
    w, x, y, z = quaternion
    a, b, c = vector
    # v + 2 u x (u x v + w v), u the quaternion's vector
    p, q, r = y * c - z * b + w * a, z * a - x * c + w * b, x * b - y * a + w * c
    out = np.empty((3, *np.broadcast_shapes(w.shape, a.shape)))
    np.add(a, 2.0 * (y * r - z * q), out=out[0, ...])
    np.add(b, 2.0 * (z * p - x * r), out=out[1, ...])
    np.add(c, 2.0 * (x * q - y * p), out=out[2, ...])
    return out


def upward(quaternion: FloatArray) -> FloatArray:
    """(3, ...) the world's upward axis in the axes that the rotations take to the world; their matrices' last row."""
    w, x, y, z = quaternion
    return np.array([2.0 * (x * z - w * y), 2.0 * (y * z + w * x), 1.0 - 2.0 * (x * x + y * y)])


_WIDTH = 8
"""Products taken one after the other; more of them at once than that gain nothing."""


def running(quaternion: FloatArray) -> FloatArray:
    """(4, n) products of all quaternions (4, n) up to each, the earliest leftmost, laid over them; n >= 1.

    Each is the outcome of a few dozen products only, so that their length stays 1 however many there are.
    """
    count = quaternion.shape[1]
    runs = count // _WIDTH
    if runs > 1:
        # Within short runs, many runs at once; then over the runs' own products; then by those of all runs before.
        rows = quaternion[:, : runs * _WIDTH].reshape(4, runs, _WIDTH)
        for part in pieces(0, runs, each=_WIDTH):
            within = np.ascontiguousarray(np.moveaxis(rows[:, part], 2, 0))
            for k in range(1, _WIDTH):
                within[k] = times(within[k - 1], within[k])
            rows[:, part] = np.moveaxis(within, 0, 2)
        before = running(rows[:, :-1, -1].copy())
        for part in pieces(1, runs, each=_WIDTH):
            within = np.ascontiguousarray(np.swapaxes(rows[:, part], 1, 2))
            within = times(before[:, None, part.start - 1 : part.stop - 1], within)
            rows[:, part] = np.swapaxes(within, 1, 2)
    for k in range(runs * _WIDTH if runs > 1 else 1, count):
        quaternion[:, k] = times(quaternion[:, k - 1], quaternion[:, k])
    return quaternion
