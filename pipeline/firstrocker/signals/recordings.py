"""Whether two logs are one recording: told by their numbers, whatever their files are called and their clocks say."""

from __future__ import annotations

import numpy as np

from firstrocker.model import FloatArray, IntArray, Log
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


def same_course(first: FloatArray, second: FloatArray) -> bool:
    """Whether the shorter log's samples stand, one after the other, in the longer one.

    A copy may begin or end elsewhere, be rounded, or be turned about (other columns, other signs): the magnitudes of
    acceleration and angular velocity are compared. Two sensors, or two walks, never agree so closely.

    Args:
        first: (n, 2) of :func:`course_of`.
        second: (m, 2) the same of the other log.
    """
    short, long = sorted((first, second), key=len)
    for place in _fastest(short[:, 1]):
        for there in _places(long, short[place]):
            shift = int(there - place)
            a, b = max(0, -shift), min(len(short), len(long) - shift)
            if b - a >= LEAST_SHARED * len(short):
                share = float(_alike(short[a:b], long[a + shift : b + shift]).mean())
                if share > LEAST_ALIKE:
                    return True
    return False


def _fastest(turning: FloatArray) -> IntArray:
    """The fastest moments, the fastest first, of equals the earliest."""
    least = np.partition(turning, -LANDMARKS)[-LANDMARKS] if len(turning) > LANDMARKS else -np.inf
    moments = np.flatnonzero(turning >= least)
    return np.asarray(moments[np.argsort(-turning[moments], kind="stable")][:LANDMARKS])


def _places(course: FloatArray, moment: FloatArray) -> IntArray:
    """Where a course (n, 2) is like a moment (2,)."""
    about = TOLERANCE[1] + TOLERANCE_SHARE * np.abs(moment[1])
    near = np.flatnonzero(np.abs(course[:, 1] - moment[1]) <= about)
    return np.asarray(near[_alike(course[near], moment)])


def _alike(one: FloatArray, other: FloatArray) -> FloatArray:
    return np.asarray((np.abs(one - other) <= np.asarray(TOLERANCE) + TOLERANCE_SHARE * np.abs(other)).all(axis=-1))


def course_of(log: Log) -> FloatArray:
    """(n, 2) magnitudes of acceleration, m/s^2, and of angular velocity, rad/s."""
    return np.array([magnitude(signal) for signal in (log.acceleration, log.angular_velocity)]).T
