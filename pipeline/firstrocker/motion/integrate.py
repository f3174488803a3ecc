"""Integrals of sampled signals, exact for cubic courses.

A foot turns by 6 deg between two samples at 100 Hz; the rectangle rule inside most orientation filters then lags by
half a sample, which is 3 deg at 600 deg/s. Every integral here therefore uses the cubic through four neighbouring
samples.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from firstrocker.model import FloatArray, IntArray
from firstrocker.motion.sensor import pieces


def step_mean(values: FloatArray, out: FloatArray | None = None) -> FloatArray:
    """Mean of the signal over the step that ends at each sample.

    Args:
        values: (n, ...) uniformly sampled, n >= 1.
        out: where the result is to be written.

    Returns:
        (n, ...); element k is the mean over [k - 1, k] of the cubic through samples k - 2 to k + 1 (a straight line at
        the two ends); element 0 repeats the first sample.
    """
    mean = np.empty_like(values, dtype=np.float64) if out is None else out
    mean[0] = values[0]
    for end in (1, len(values) - 1):
        mean[end:][:1] = 0.5 * (values[end:][:1] + values[end - 1 : end])
    for part in pieces(2, len(values) - 1):
        a, b = part.start, part.stop
        inner = np.add(values[a - 1 : b - 1], values[part], out=mean[part])
        inner *= 13.0
        inner -= values[a - 2 : b - 2]
        inner -= values[a + 1 : b + 1]
        inner /= 24.0
    return mean


def cumulative(values: FloatArray, step_s: float, out: FloatArray | None = None) -> FloatArray:
    """Running integral from the first sample.

    Args:
        values: (n, ...) uniformly sampled.
        step_s: s between samples.
        out: where the result is to be written.

    Returns:
        (n, ...), zero at the first sample.

    >>> cumulative(np.arange(5.0) ** 2, 1.0).round(3).tolist()
    [0.0, 0.5, 2.833, 9.167, 21.667]
    """
    steps = step_mean(values, out)
    steps *= step_s
    steps[0] = 0.0
    return np.cumsum(steps, axis=0, out=steps)


def integrals(values: FloatArray, index: IntArray, step_s: float) -> FloatArray:
    """Integrals between given samples: the differences of :func:`cumulative` there, without the array in between.

    Args:
        values: (n, ...) uniformly sampled.
        index: (k,) rising sample numbers, k >= 2.
        step_s: s between samples.

    Returns:
        (k - 1, ...).

    >>> integrals(np.arange(5.0) ** 2, np.array([1, 4]), 1.0).round(3).tolist()
    [21.167]
    """
    # reduceat leaves the sample at an interval's end to the next one: half of each end's is wanted.
    total = np.add.reduceat(values[: index[-1]], index[:-1], axis=0)
    total += 0.5 * (values[index[1:]] - values[index[:-1]])
    if len(values) > 2:
        # What the cubics of all steps add to the trapezoids comes to the slopes at both ends; the array's own first
        # and last step are trapezoids.
        centre = np.clip(index, 1, len(values) - 2)
        total -= np.diff(values[centre + 1] - values[centre - 1], axis=0) / 24.0
    return np.asarray(total * step_s)


SLOPE = np.array([1.0, -8.0, 0.0, 8.0, -1.0]) / 12.0
"""The derivative by central differences of fourth order as weights to convolve with."""


def derivative_at(values: FloatArray, index: IntArray, step_s: float) -> FloatArray:
    """Time derivative at given samples by central differences of fourth order, as :data:`SLOPE`; of second at the ends.

    Args:
        values: (n, ...) uniformly sampled, n >= 5.
        index: (m,) sample numbers.
        step_s: s between samples.

    Returns:
        (m, ...) per second.

    >>> derivative_at(np.arange(8.0) ** 2, np.array([0, 3, 7]), 1.0).tolist()
    [1.0, 6.0, 13.0]
    """
    inner = np.clip(index, 2, len(values) - 3)
    rate = np.asarray(values[inner + 1] - values[inner - 1])
    rate *= 8.0
    rate -= values[inner + 2] - values[inner - 2]
    rate /= 12.0 * step_s
    for end, first in ((index < 2, 0), (index > len(values) - 3, len(values) - 5)):
        if end.any():
            rate[end] = np.gradient(values[first : first + 5], step_s, axis=0)[index[end] - first]
    return rate


@dataclass(frozen=True)
class Between:
    """Places between samples, (k,), at which any number of curves are read by the cubic through the four nearest
    samples (Catmull-Rom). Made by :func:`between`.
    """

    before: IntArray
    here: IntArray
    after: IntArray
    beyond: IntArray
    weights: tuple[FloatArray, ...]

    def read(self, values: FloatArray) -> FloatArray:
        """Values (k,) or (k, m) of a curve (n,) or (n, m)."""
        at_here, at_after, slope_here, slope_after = (
            weight if values.ndim == 1 else weight[:, None] for weight in self.weights
        )
        here, after = values[self.here], values[self.after]
        out = here * at_here
        out += after * at_after
        out += (after - values[self.before]) * slope_here
        out += (values[self.beyond] - here) * slope_after
        return np.asarray(out)


def between(index: FloatArray, first: IntArray | int, last: IntArray | int) -> Between:
    """Places between samples.

    Args:
        index: (k,) sample numbers, fractions allowed; they may be NaN, and so is what is read there.
        first: the sample before which no curve is read, of each place or of all; a place before is held there.
        last: the same, after which.
    """
    index = np.minimum(np.maximum(index, first), last)
    here: IntArray = np.fmin(index, np.maximum(np.subtract(last, 1), first)).astype(np.int64)
    part = index - here
    square, cube = part * part, part * part * part
    return Between(
        before=np.maximum(here - 1, first),
        here=here,
        after=np.minimum(here + 1, last),
        beyond=np.minimum(here + 2, last),
        weights=(
            2 * cube - 3 * square + 1,
            3 * square - 2 * cube,
            0.5 * (cube - 2 * square + part),
            0.5 * (cube - square),
        ),
    )


def at(values: FloatArray, index: FloatArray) -> FloatArray:
    """Values of one curve between samples, as :class:`Between` reads them.

    Args:
        values: (n,) or (n, m) uniformly sampled.
        index: (k,) sample numbers, fractions allowed; held at the ends.

    Returns:
        (k,) or (k, m); NaN where ``index`` is.

    >>> at(np.array([0.0, 1.0, 4.0, 9.0, 16.0]), np.array([1.5, np.nan])).tolist()
    [2.25, nan]
    """
    return between(index, 0, len(values) - 1).read(values)
