"""Whether two logs are one recording: told by their numbers, whatever their files are called and their clocks say."""

from __future__ import annotations

import numpy as np

from firstrocker.model import BoolArray, FloatArray, IntArray, Log
from firstrocker.signals.sizes import magnitude

TOLERANCE = (0.01, 0.006)
"""m/s^2, rad/s by which two copies may differ as files round them: under the noise that tells two sensors apart."""
TOLERANCE_SHARE = 0.001
"""Of the value, besides: two factors of one unit differ by less."""
LEAST_SHARED = 0.5
"""Share of the shorter log that must be in the other."""
LEAST_ALIKE = 0.98
"""Share of the samples that must agree; of two sensors of common noise that moved alike, a sixth did by chance."""
LANDMARKS = 3
"""Fastest moments of the shorter log that are looked for in the longer one."""


def same_recording(first: Log, second: Log) -> bool:
    """Whether the shorter log's samples stand, one after the other, in the longer one.

    A copy may begin or end elsewhere, be rounded, or be turned about (other columns, other signs): the magnitudes of
    acceleration and angular velocity are compared. Two sensors, or two walks, never agree so closely.
    """
    return same_course(course_of(first), course_of(second))


def same_course(first: FloatArray, second: FloatArray) -> bool:
    """:func:`same_recording` of two courses of :func:`course_of`."""
    short, long = sorted((first, second), key=len)
    for place in _fastest(short[:, 1]):
        # Few moments are as fast: only they are looked at further.
        near = np.flatnonzero(_near(long[:, 1], short[place, 1], TOLERANCE[1]))
        for there in near[_alike(long[near], short[place])]:
            shift = int(there - place)
            a, b = max(0, -shift), min(len(short), len(long) - shift)
            if b - a >= LEAST_SHARED * len(short):
                share = float(_alike(short[a:b], long[a + shift : b + shift]).mean())
                if share > LEAST_ALIKE:
                    return True
    return False


def _fastest(speed: FloatArray) -> IntArray:
    """Places of the fastest moments, the fastest first, the earlier of two equal ones first."""
    least = np.partition(speed, -LANDMARKS)[-LANDMARKS] if len(speed) > LANDMARKS else -np.inf
    places = np.flatnonzero(speed >= least)
    return places[np.argsort(-speed[places], kind="stable")][:LANDMARKS]


def _near(one: FloatArray, other: FloatArray, tolerance: float) -> BoolArray:
    return np.asarray(np.abs(one - other) <= tolerance + TOLERANCE_SHARE * np.abs(other))


def _alike(one: FloatArray, other: FloatArray) -> BoolArray:
    return _near(one[..., 0], other[..., 0], TOLERANCE[0]) & _near(one[..., 1], other[..., 1], TOLERANCE[1])


def course_of(log: Log) -> FloatArray:
    """(n, 2) magnitudes of acceleration, m/s^2, and of angular velocity, rad/s."""
    return np.array([magnitude(signal) for signal in (log.acceleration, log.angular_velocity)]).T
