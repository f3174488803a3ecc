"""Intervals of differences between walks, drawn from the fitted grid, one or several pairs at once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from firstrocker.model import FloatArray, IntArray
from firstrocker.study.dependence import WalkFit


@dataclass(frozen=True)
class Centre:
    """One thing to be compared: a walk, or the walks of a condition, as a weighted sum of fitted units.

    units: places in the list of fits. weights: (u, m), each column summing to 1 over the units that take part; 0 for
    one that does not. common: (m,) variance that does not average out.
    """

    units: tuple[int, ...]
    weights: FloatArray
    common: FloatArray


def draw_centres(
    fits: list[WalkFit], grid: FloatArray, centres: list[Centre], *, resamples: int, seed: int
) -> list[FloatArray]:
    """Draw how far each centre's estimate may lie from its true value.

    A node of the grid is drawn by its weight and shared by all walks; given it, each unit's mean errs by its own
    standard error times a t of n - 1 degrees of freedom; error common to a centre's strides is normal.

    Args:
        fits: one per unit, in an order that does not depend on the order of walks (draws go by place).
        grid: (G, m) weights of the nodes.
        centres: what is compared.
        resamples: how many draws.
        seed: the same seed gives the same draws.

    Returns:
        one (resamples, m) per centre; NaN columns where a unit that takes part has no variance.
    """
    rng = np.random.default_rng(seed)
    m = grid.shape[1]
    node = _draw_nodes(grid, rng.random(resamples))
    columns = np.arange(m)
    errors: list[FloatArray] = []
    for fit in fits:
        freedom = np.maximum(fit.n - 1, 1)
        normal = rng.standard_normal((resamples, 1))
        chi = rng.chisquare(freedom, size=(resamples, m)) / freedom
        errors.append(np.sqrt(fit.variance[node, columns]) * normal / np.sqrt(chi))
    drawn: list[FloatArray] = []
    for centre in centres:
        total = rng.standard_normal((resamples, 1)) * np.sqrt(centre.common)
        for unit, weight in zip(centre.units, centre.weights, strict=True):
            total = total + np.where(weight > 0, weight * errors[unit], 0.0)
        drawn.append(total)
    return drawn


def half_widths(pairs: list[FloatArray], *, confidence: float) -> FloatArray:
    """Half-widths of intervals that hold together: all pairs of one measure at once with that confidence.

    The intervals are symmetric and each is widened by the same factor over what it would be alone: the quantile,
    over the draws, of the greatest error among the pairs in units of its own half-width (the "max-t" of Westfall &
    Young 1993, from memory). One pair is left as it is.

    Args:
        pairs: one (resamples, m) of errors of a difference per pair; NaN columns take no part.
        confidence: for example 0.95.

    Returns:
        (p, m), NaN where a pair has no draws.
    """
    size = np.abs(np.stack(pairs))
    missing = np.asarray(np.isnan(size).any(axis=1))
    size[np.broadcast_to(missing[:, None, :], size.shape)] = 0.0
    alone = np.quantile(size, confidence, axis=1)
    unit = np.where(alone > 0, alone, 1.0)
    factor = np.quantile((size / unit[:, None, :]).max(axis=0), confidence, axis=0) if len(pairs) > 1 else 1.0
    together = alone * np.maximum(factor, 1.0)
    together[missing] = np.nan
    return np.asarray(together, dtype=np.float64)


def _draw_nodes(grid: FloatArray, uniform: FloatArray) -> IntArray:
    """(resamples, m) places in the grid."""
    edges = np.cumsum(grid, axis=0)
    node = np.empty((len(uniform), grid.shape[1]), dtype=np.int64)
    for column in range(grid.shape[1]):
        node[:, column] = np.searchsorted(edges[:, column], uniform, side="right")
    return np.asarray(np.minimum(node, grid.shape[0] - 1), dtype=np.int64)
