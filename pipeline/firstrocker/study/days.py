"""Strides of one day to one value, with what its strides leave uncertain.

All strides of a day share more than the walking: the sensors were put on once, the shoes were one pair, the person had
one day. What days differ by is therefore learnt over days (:mod:`firstrocker.study.watch`), not from a day. Within the
day, strides of one bout resemble each other: bouts, not strides, are what the standard errors count.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from firstrocker.model import BoolArray, FloatArray, IntArray

_TO_SD = 1.4826  # from the median absolute deviation, for normal values
_DENSITY = 0.39894228  # of the standard normal at its median


@dataclass(frozen=True)
class DayValue:
    """One measure on one day.

    n: strides behind it; 0 where it does not come from strides. bouts: they lie in. value: NaN where it cannot be had,
    ``reason`` then says why. spread: robust standard deviation of the strides, NaN for shares. se: what the day's
    strides leave uncertain.
    """

    n: int
    bouts: int
    value: float
    spread: float
    se: float
    reason: str = ""


def lacking(reason: str, n: int = 0) -> DayValue:
    """A value that cannot be had."""
    return DayValue(n, 0, np.nan, np.nan, np.nan, reason)


def day_median(values: FloatArray, bout: IntArray) -> DayValue:
    """Median of a day's strides.

    Its standard error is that of the share of strides below it, bouts taken as clusters, over the density there of a
    normal distribution with the robust spread.

    Args:
        values: (n,) NaN where a stride has none.
        bout: (n,) the bout of each, unique in the day.
    """
    has = np.isfinite(values)
    if not has.any():
        return lacking("not measured")
    x = values[has]
    middle = float(np.median(x))
    spread = _TO_SD * float(np.median(np.abs(x - middle)))
    bouts, share_variance = _share_variance(x <= middle, bout[has])
    return DayValue(len(x), bouts, middle, spread, float(np.sqrt(share_variance)) * spread / _DENSITY)


def day_share(hits: BoolArray, bout: IntArray) -> DayValue:
    """Share of a day's strides, 0 to 1; its standard error takes bouts as clusters and is never zero.

    Args:
        hits: (n,) n >= 1.
        bout: (n,) the bout of each.
    """
    bouts, variance = _share_variance(hits, bout)
    return DayValue(len(hits), bouts, float(hits.mean()), np.nan, float(np.sqrt(variance)))


def _share_variance(hits: BoolArray, bout: IntArray) -> tuple[int, float]:
    """Bouts, and variance of a share: that of independent strides or of whole bouts, whichever is more."""
    n = len(hits)
    _, which = np.unique(bout, return_inverse=True)
    sizes = np.bincount(which)
    apart = np.bincount(which, weights=hits) - hits.mean() * sizes
    likely = (float(hits.sum()) + 0.5) / (n + 1.0)
    independent = likely * (1.0 - likely) / n
    bouts = len(sizes)
    if bouts < 2:
        return bouts, independent
    return bouts, max(independent, float(apart @ apart) / n**2 * bouts / (bouts - 1))


def weighted_quantile(parts: list[FloatArray], share: float) -> float:
    """The value that a share of strides lies below, every part (day) weighing the same.

    >>> weighted_quantile([np.arange(100.0), np.arange(10.0) + 1000.0], 0.5)
    99.0
    """
    values = np.concatenate(parts)
    weights = np.concatenate([np.full(len(part), 1.0 / len(part)) for part in parts])
    order = np.argsort(values, kind="stable")
    below = np.cumsum(weights[order]) / len(parts)
    return float(values[order][np.searchsorted(below, share - 1e-12)])
