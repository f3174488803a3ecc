"""Instants between samples: where a sampled curve crosses a level, or has its extreme."""

from __future__ import annotations

import numpy as np

from firstrocker.model import FloatArray


def first_crossing(values: FloatArray, level: float, *, rising: bool) -> float:
    """Sample number, fractions included, at which the curve first crosses a level; NaN if it never does.

    Args:
        values: (n,).
        level: in the same unit.
        rising: whether upwards counts, or downwards.

    >>> first_crossing(np.array([0.0, 1.0, 3.0]), 2.0, rising=True)
    1.5
    """
    signed = values - level if rising else level - values
    hits = np.flatnonzero((signed[:-1] < 0.0) & (signed[1:] >= 0.0))
    return _between(signed, int(hits[0])) if len(hits) else float("nan")


def last_crossing(values: FloatArray, level: float, *, rising: bool) -> float:
    """Like :func:`first_crossing`, the last instead.

    >>> last_crossing(np.array([0.0, 2.0, 0.0, 2.0]), 1.0, rising=True)
    2.5
    """
    signed = values - level if rising else level - values
    hits = np.flatnonzero((signed[:-1] < 0.0) & (signed[1:] >= 0.0))
    return _between(signed, int(hits[-1])) if len(hits) else float("nan")


def _between(signed: FloatArray, k: int) -> float:
    return float(k - signed[k] / (signed[k + 1] - signed[k]))


def peak(values: FloatArray) -> tuple[float, float]:
    """Place (sample number, fractions included) and height of the greatest value, by the parabola through three.

    >>> peak(np.array([0.0, 3.0, 4.0, 3.0]))
    (2.0, 4.0)
    """
    k = int(np.argmax(values))
    if k in (0, len(values) - 1):
        return float(k), float(values[k])
    before, here, after = values[k - 1 : k + 2]
    bend = before - 2.0 * here + after
    if bend >= 0.0:
        return float(k), float(here)
    shift = 0.5 * (before - after) / bend
    return float(k + shift), float(here - 0.25 * (before - after) * shift)
