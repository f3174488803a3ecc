"""Which way a series of days goes, and where its level changed."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

import numpy as np

from firstrocker.model import FloatArray
from firstrocker.study.watch import RESEMBLANCE

LEAST_DAYS = 8
"""Days below which no slope is told: an interval from fewer says nothing; from memory, no source."""
SIDE = 4
"""Days at least on either side of a change."""
LEVEL = 0.01
"""Chance of one change or more being told in a series without any."""

_DRAWS, _SEED = 2000, 21


@dataclass(frozen=True)
class Slope:
    """Change per day, its interval, days it is of."""

    value: float
    low: float
    high: float
    days: int


@dataclass(frozen=True)
class Shift:
    """A change of level between two days. place: the first day of the new level. before, after: medians."""

    place: int
    before: float
    after: float
    p_value: float


def slope_of(days: FloatArray, values: FloatArray, *, confidence: float) -> Slope | None:
    """Median of the slopes between all pairs of days (Theil 1950), with the interval of Sen (1968).

    Every day counts the same, however many strides it has, for days differ by more than their strides leave uncertain.
    One odd day in four does not move it far. The interval takes days as independent: where they resemble their
    neighbours it is too narrow.

    Args:
        days: (n,) when, strictly rising.
        values: (n,).
        confidence: of the interval.

    Returns:
        None below ``LEAST_DAYS`` days.
    """
    if len(days) < LEAST_DAYS:
        return None
    from scipy.stats import theilslopes

    found = theilslopes(values, days, alpha=confidence)
    return Slope(float(found[0]), float(found[2]), float(found[3]), len(days))


def shifts_of(values: FloatArray) -> list[Shift]:
    """Where the level of a series changed, in order: the likeliest place, then each part in turn.

    The greatest two-sample t over all places is held against what series without a change give (likelihood ratio of a
    change at an unknown place: Hinkley 1970, from memory). Those are simulated, with the same number of days and days
    that resemble their neighbours by ``RESEMBLANCE``. Looking back over all days, and so no alert: a later day may
    move or undo a change.

    Args:
        values: (n,) in order.
    """
    found = _split(values, 0)
    edges = [0, *(shift.place for shift in found), len(values)]
    medians = [float(np.median(values[a:b])) for a, b in pairwise(edges)]
    return [
        Shift(one.place, before, after, one.p_value)
        for one, (before, after) in zip(found, pairwise(medians), strict=True)
    ]


def _split(values: FloatArray, offset: int) -> list[Shift]:
    n = len(values)
    if n < 2 * SIDE or np.ptp(values) == 0:
        return []
    t = _two_sample_t(values[:, None])[:, 0]
    place = int(np.argmax(t))
    p_value = float((1 + np.sum(_null_peaks(n) >= t[place])) / (_DRAWS + 1))
    if p_value > LEVEL:
        return []
    cut = place + SIDE
    here = Shift(offset + cut, np.nan, np.nan, p_value)
    return [*_split(values[:cut], offset), here, *_split(values[cut:], offset + cut)]


def _two_sample_t(values: FloatArray) -> FloatArray:
    """(places, draws) size of t between the days before and from each place, of (n, draws)."""
    n = len(values)
    centred = values - values.mean(axis=0)
    left = np.cumsum(centred, axis=0)[SIDE - 1 : n - SIDE]
    k = np.arange(SIDE, n - SIDE + 1)[:, None]
    explained = left**2 * n / (k * (n - k))
    rest = np.maximum((centred**2).sum(axis=0) - explained, 1e-300)
    return np.asarray(np.sqrt(explained * (n - 2) / rest))


@lru_cache(maxsize=512)
def _null_peaks(n: int) -> FloatArray:
    rng = np.random.Generator(np.random.PCG64(_SEED))
    days = rng.standard_normal((n, _DRAWS))
    for place in range(1, n):
        days[place] = RESEMBLANCE * days[place - 1] + np.sqrt(1.0 - RESEMBLANCE**2) * days[place]
    return np.asarray(_two_sample_t(days).max(axis=0))
