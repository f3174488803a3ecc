"""How sure a walk's mean is when its strides are not independent.

Strides next to each other resemble each other, and strides of one bout resemble each other more than those of
another. Both make the mean of n strides less sure than n independent ones would. The model says just that: a stride's
value is the walk's mean, plus what its bout has in common (variance ``lambda`` times that of the strides), plus noise
whose correlation falls as ``rho`` to the number of strides between two of them (also where strides in between were
left out). Every walk has its own variance; ``rho`` and ``lambda`` are one person's gait on one day and are shared by
the walks of a session and side, per measure.

Few strides say little about ``rho`` and ``lambda``. No single estimate is therefore taken: both run over a grid, each
node is weighed by how well it explains the strides of all walks (the restricted likelihood, the variances integrated
out), all nodes equally likely beforehand, and intervals are made over the whole grid (Patterson & Thompson 1971 for
the restricted likelihood, Box & Tiao 1973 for integrating the variances out: from memory). Where no walk of the
session has two bouts, what changes from bout to bout cannot be seen: ``lambda`` is then 0, and the result speaks of
the bouts walked, not of others.

What was tried, by simulation (``tests/bench/coverage.py`` prints every case). Share of 95 % intervals that held the
true mean, over walks of 1 to 5 bouts of 5 to 12 strides and one of 40, walks of unequal scatter, rho 0 to 0.6, none to
30 % of the variance between bouts, 1000 walks per case; "skewed": lognormal strides of skewness 1.75:

============================================  =======  =======  =======================================================
method                                        normal   skewed   remark
============================================  =======  =======  =======================================================
t, strides taken as independent               55-96 %  57-94 %
bootstrap of bouts, percentiles               47-82 %  45-83 %  needs two bouts
bootstrap of moving blocks of 3 strides       52-92 %  52-91 %
t over the means of bouts                     93-96 %  93-96 %  needs two bouts; with two 2.5 to 4.6 times as wide as
                                                                the kept one, with three 1.3 to 1.8 times
**the grid of rho and lambda (kept)**         92-99 %  89-99 %  above 97 % where strides hardly depend, above 99 % where
                                                                they are few as well; least with 8 strides at rho 0.6
the same, difference of two walks             94-99 %  93-99 %
============================================  =======  =======  =======================================================

A bootstrap of so few blocks cannot see how much blocks vary, so none was kept.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from firstrocker.model import BoolArray, FloatArray, IntArray

RHO = np.linspace(0.0, 0.8, 9)
"""Correlation of one stride with the next. Below 0 counts as 0, which errs on the wide side."""
BOUT_SHARE = np.array([0.0, 0.05, 0.1, 0.2, 0.3, 0.45, 0.6])
"""Share of the variance that lies between bouts."""

_NODES = len(RHO) * len(BOUT_SHARE)
_LAMBDA = BOUT_SHARE / (1.0 - BOUT_SHARE)
_SAME = 1e-9  # values whose range is below this part of their size are one value, told apart by rounding only


@dataclass(frozen=True)
class WalkFit:
    """One walk under every node of the grid; G nodes, m measures.

    n: (m,) strides. bouts: (m,) bouts they lie in. mean: (m,), NaN where n is 0. likelihood: (G, m), logarithm up to
    a constant. variance: (G, m), that of the mean as the mean of the walk's process; NaN where n < 2 or all values
    are the same, for such strides say nothing of how much strides vary.
    """

    n: IntArray
    bouts: IntArray
    mean: FloatArray
    likelihood: FloatArray
    variance: FloatArray


def fit_walk(values: FloatArray, bout: IntArray, stride: IntArray) -> WalkFit:
    """Fit one walk at every node of the grid.

    Args:
        values: (n, m), NaN where a stride has no value.
        bout: (n,), rows sorted by bout and then stride.
        stride: (n,), counted within the walk, so that strides left out in between are known.

    Returns:
        the fit, measure by measure over the strides that have a value.
    """
    m = values.shape[1]
    has = np.isfinite(values)
    n = np.asarray(has.sum(axis=0), dtype=np.int64)
    bouts = np.zeros(m, dtype=np.int64)
    mean = np.full(m, np.nan)
    likelihood = np.zeros((_NODES, m))
    variance = np.full((_NODES, m), np.nan)

    patterns, which = np.unique(has, axis=1, return_inverse=True)
    for place in range(patterns.shape[1]):
        rows = np.flatnonzero(patterns[:, place])
        if len(rows) == 0:
            continue
        columns = np.flatnonzero(which.ravel() == place)
        part = values[np.ix_(rows, columns)]
        mean[columns] = part.mean(axis=0)
        bouts[columns] = len(np.unique(bout[rows]))
        span = np.ptp(part, axis=0)
        varied = span > _SAME * np.abs(part).max(axis=0)
        if len(rows) < 2 or not varied.any():
            continue
        columns = columns[varied]
        scaled = (part[:, varied] - mean[columns]) / span[varied]
        found, spread = _grid(scaled, bout[rows], stride[rows])
        likelihood[:, columns] = found
        variance[:, columns] = spread * span[varied] ** 2
    return WalkFit(n, bouts, mean, likelihood, variance)


def weigh(fits: list[WalkFit]) -> FloatArray:
    """The weight of every node given all walks of a session and side.

    Returns:
        (G, m), each column summing to 1.
    """
    total = np.sum([fit.likelihood for fit in fits], axis=0)
    between_seen = np.max([fit.bouts for fit in fits], axis=0) > 1
    within_only = np.tile(BOUT_SHARE == 0.0, len(RHO))
    total = np.where(between_seen | within_only[:, None], total, -np.inf)
    weights = np.exp(total - total.max(axis=0))
    return np.asarray(weights / weights.sum(axis=0), dtype=np.float64)


def sampling_variance(fit: WalkFit, weights: FloatArray) -> FloatArray:
    """(m,) variance of a walk's mean, over the grid; NaN where it cannot be had."""
    return np.asarray((weights * fit.variance).sum(axis=0), dtype=np.float64)


def _grid(values: FloatArray, bout: IntArray, stride: IntArray) -> tuple[FloatArray, FloatArray]:
    """Log likelihood and variance of the mean, both (G, m), of (n, m) values without gaps.

    Correlation rho^|i - j| is undone stride by stride (each minus rho^gap times the one before), which leaves sums
    per bout; what a bout has in common is then one rank-one term per bout. So the cost grows with n, not its cube.
    """
    n, m = values.shape
    opens: BoolArray = np.r_[True, bout[1:] != bout[:-1]]
    starts = np.flatnonzero(opens)
    sizes = np.diff(np.r_[starts, n])
    gap = np.maximum(np.r_[1, np.diff(stride)], 1)
    before = np.vstack([np.zeros((1, m)), values[:-1]])
    likelihood = np.empty((len(RHO), len(_LAMBDA), m))
    variance = np.empty_like(likelihood)
    for i, rho in enumerate(RHO):
        phi = np.where(opens, 0.0, rho**gap)
        scale = 1.0 / np.sqrt(1.0 - phi**2)
        ones = (1.0 - phi) * scale
        whitened = (values - phi[:, None] * before) * scale[:, None]
        oo = np.add.reduceat(ones**2, starts)
        ov = np.add.reduceat(ones[:, None] * whitened, starts, axis=0)
        vv = np.add.reduceat(whitened**2, starts, axis=0)
        correlations = _summed_correlations(phi)
        for j, between in enumerate(_LAMBDA):
            shrink = 1.0 / (1.0 + between * oo)
            information = float((oo * shrink).sum())
            centre = (ov * shrink[:, None]).sum(axis=0)
            squares = (vv - between * ov**2 * shrink[:, None]).sum(axis=0) - centre**2 / information
            squares = np.maximum(squares, np.finfo(float).tiny)
            log_determinant = -2.0 * np.log(scale).sum() - np.log(shrink).sum()
            likelihood[i, j] = -0.5 * (log_determinant + np.log(information) + (n - 1) * np.log(squares))
            variance[i, j] = (correlations + between * (sizes**2).sum()) / n**2 * squares / (n - 1)
    return likelihood.reshape(_NODES, m), variance.reshape(_NODES, m)


def _summed_correlations(phi: NDArray[np.float64]) -> float:
    """The sum of the correlation matrix over all pairs of strides, each with itself included."""
    total, running = 0.0, 0.0
    for step in phi.tolist():
        running = step * (running + 1.0)
        total += 1.0 + 2.0 * running
    return total
