"""Least squares on a chain: each node's unknowns tied to the next node's, and a few unknowns common to all.

The normal matrix of such a problem holds a band and, for what is common, a border. Solved as that, its cost grows with
the number of nodes, and not with its third power; a node's covariance is had without inverting the whole.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from firstrocker.model import FloatArray


@dataclass(frozen=True)
class Normal:
    """Normal equations of a chain of k nodes, s unknowns each, with b in common.

    diagonal: (k, s, s) of each node with itself. above: (k - 1, s, s) of each node (rows) with the next (columns).
    border: (k, s, b) of each node with what is common. corner: (b, b). right: (k, s) and common_right: (b,).
    The whole is positive definite.
    """

    diagonal: FloatArray
    above: FloatArray
    border: FloatArray
    corner: FloatArray
    right: FloatArray
    common_right: FloatArray


@dataclass(frozen=True)
class Solved:
    """nodes: (k, s) what the nodes' unknowns are. covariance: (k, s, s) of each node. common: (b,)."""

    nodes: FloatArray
    covariance: FloatArray
    common: FloatArray


def solve(chains: Sequence[Normal]) -> list[Solved]:
    """Solve chains that have nothing to do with each other, all at once.

    Args:
        chains: one or more, of the same s and b.

    Returns:
        One per chain, in order. The common unknowns are eliminated last (Schur complement). What the nodes before and
        those after a node say of it are the pivots of a factorisation from either end; both together, less what both
        count, are the inverse of its covariance (the two-filter form of a smoother; Fraser and Potter 1969).

    Raises:
        numpy.linalg.LinAlgError: one is not positive definite.
    """
    from scipy.linalg import cho_solve_banded

    counts = [len(chain.diagonal) for chain in chains]
    starts = np.concatenate([[0], np.cumsum(counts)])
    diagonal = np.concatenate([chain.diagonal for chain in chains])
    border = np.concatenate([chain.border for chain in chains])
    right = np.concatenate([chain.right for chain in chains])
    total, size, common = border.shape
    above = np.zeros((total - 1, size, size))
    for start, chain in zip(starts, chains, strict=False):
        above[start : start + len(chain.above)] = chain.above

    factor, before = _pivots(diagonal, above)
    after = _pivots(diagonal[::-1], np.swapaxes(above[::-1], 1, 2))[1][::-1]
    covariance = np.linalg.inv(before + after - diagonal)
    both = np.concatenate([border, right[:, :, None]], axis=2).reshape(total * size, common + 1)
    alone = cho_solve_banded((factor, True), both, check_finite=False).reshape(total, size, common + 1)

    found = []
    for start, stop, chain in zip(starts[:-1], starts[1:], chains, strict=True):
        reach, own = alone[start:stop, :, :common], alone[start:stop, :, common]
        left = chain.corner - np.tensordot(chain.border, reach, axes=((0, 1), (0, 1)))
        inverse = np.linalg.inv(left)
        shared = inverse @ (chain.common_right - np.tensordot(chain.border, own, axes=((0, 1), (0, 1))))
        through = reach @ inverse @ np.swapaxes(reach, 1, 2)
        found.append(Solved(own - reach @ shared, covariance[start:stop] + through, shared))
    return found


def _pivots(diagonal: FloatArray, above: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Cholesky's factor of a block tridiagonal matrix as a lower band, and the (k, s, s) pivots it was made with."""
    from scipy.linalg import cholesky_banded

    count, size = diagonal.shape[:2]
    band = np.zeros((2 * size, count, size))
    for column in range(size):
        for row in range(column, size):
            band[row - column, :, column] = diagonal[:, row, column]
        for row in range(size):
            band[size + row - column, :-1, column] = above[:, column, row]
    factor = cholesky_banded(band.reshape(2 * size, count * size), lower=True, check_finite=False)
    lower = np.zeros_like(diagonal)
    for column in range(size):
        for row in range(column, size):
            lower[:, row, column] = factor[row - column, column::size]
    return factor, lower @ np.swapaxes(lower, 1, 2)
