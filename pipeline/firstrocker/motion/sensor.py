"""One sensor of a walk, as it is worked on: in pieces, component by component, its faults known so far taken off."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from firstrocker.model import BoolArray, FloatArray, IntArray, Signal

PIECE = 32768
"""Samples worked on at once: what is in between stays in the processor's own memory, and takes little room."""


def pieces(first: int, stop: int, *, each: int = 1) -> list[slice]:
    """What lies from ``first`` to before ``stop``, at most :data:`PIECE` samples at once, ``each`` of them to one.

    >>> pieces(0, 40000)
    [slice(0, 32768, None), slice(32768, 40000, None)]
    """
    size = max(PIECE // each, 1)
    return [slice(begin, min(begin + size, stop)) for begin in range(first, stop, size)]


@dataclass(frozen=True)
class Sensor:
    """A sensor's signal and what is known of it.

    gain: factor for the accelerometer. bias: (3,) rad/s of the gyroscope. seat: (3, 3) takes the sensor's axes to those
    that are wanted.
    """

    signal: Signal
    rate_hz: float
    gain: float
    bias: FloatArray
    seat: FloatArray = field(default_factory=lambda: np.eye(3))

    def __len__(self) -> int:
        return len(self.signal.valid)

    @property
    def trusted(self) -> BoolArray:
        """(n,) False where nothing was measured or a sensor stood at its limit."""
        return np.asarray(self.signal.valid & ~self.signal.saturated)

    def force(self, where: slice | IntArray | BoolArray) -> FloatArray:
        """(3, ...) m/s^2 specific force at some samples (...)."""
        return _turned(self.gain * self.seat, self.signal.acceleration[where])

    def turning(self, where: slice | IntArray | BoolArray) -> FloatArray:
        """(3, ...) rad/s angular velocity at some samples (...)."""
        rate = _turned(self.seat, self.signal.angular_velocity[where])
        # Component by component, for subtracting three numbers from each of many triples takes three times as long.
        for row, bias in zip(rate, self.seat @ self.bias, strict=True):
            row -= bias
        return rate

    def turning_about(self, axis: int, where: slice) -> FloatArray:
        """(...,) rad/s angular velocity about one axis."""
        about = self.signal.angular_velocity[where] @ self.seat[axis]
        about -= self.seat[axis] @ self.bias
        return np.asarray(about)

    def scatter(self, where: BoolArray, index: IntArray, weight: FloatArray) -> FloatArray:
        """(3, 3) sum of the angular velocity's products with itself, (rad/s)^2, over the samples where True.

        Args:
            where: (n,) which samples count.
            index: (k,) samples that part the walk, increasing.
            weight: (k + 1,) of what lies before, between and after them.
        """
        total = np.zeros((3, 3))
        for part in pieces(0, len(self)):
            edges = np.clip(index, part.start, part.stop)
            own = np.repeat(weight, np.diff(edges, prepend=part.start, append=part.stop)).compress(where[part])
            turn = self.turning(part).compress(where[part], axis=1)
            total += (turn * own) @ turn.T
        return total


def _turned(seat: FloatArray, vectors: FloatArray) -> FloatArray:
    """(3, ...) the vectors (..., 3), each component in one piece."""
    rows = np.moveaxis(vectors, -1, 0)
    return np.asarray((seat @ rows.reshape(3, -1)).reshape(rows.shape))
