"""A chain's normal equations solved by its band: the same as by the whole matrix."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firstrocker.model import FloatArray
from firstrocker.motion.banded import Normal, Solved, solve


def random_chain(rng: np.random.Generator, count: int, size: int, common: int) -> Normal:
    """Normal equations of observations each of two neighbours and what is common, and of a weak one of everything."""
    diagonal = np.zeros((count, size, size)) + 0.1 * np.eye(size)
    above, border = np.zeros((count - 1, size, size)), np.zeros((count, size, common))
    corner, right, common_right = 0.1 * np.eye(common), np.zeros((count, size)), np.zeros(common)
    for k in range(count - 1):
        # As many as there are unknowns, some of which are known a thousand times better than others.
        rows = rng.normal(size=(2 * size + common, 2 * size + common)) * 10.0 ** rng.uniform(-1.5, 1.5)
        seen = rng.normal(size=len(rows))
        one, two, all_of = rows[:, :size], rows[:, size : 2 * size], rows[:, 2 * size :]
        diagonal[k] += one.T @ one
        diagonal[k + 1] += two.T @ two
        above[k] = one.T @ two
        border[k] += one.T @ all_of
        border[k + 1] += two.T @ all_of
        corner = corner + all_of.T @ all_of
        right[k] += one.T @ seen
        right[k + 1] += two.T @ seen
        common_right = common_right + all_of.T @ seen
    return Normal(diagonal, above, border, corner, right, common_right)


def by_whole_matrix(chain: Normal) -> Solved:
    """The dense reference."""
    count, size, common = chain.border.shape
    inner = count * size
    whole = np.zeros((inner + common, inner + common))
    for k in range(count):
        here = slice(k * size, (k + 1) * size)
        whole[here, here] = chain.diagonal[k]
        if k < count - 1:
            after = slice((k + 1) * size, (k + 2) * size)
            whole[here, after], whole[after, here] = chain.above[k], chain.above[k].T
    whole[:inner, inner:] = chain.border.reshape(inner, common)
    whole[inner:, :inner] = whole[:inner, inner:].T
    whole[inner:, inner:] = chain.corner
    covariance = np.linalg.inv(whole)
    found = covariance @ np.concatenate([chain.right.ravel(), chain.common_right])
    blocks = [covariance[k * size : (k + 1) * size, k * size : (k + 1) * size] for k in range(count)]
    return Solved(found[:inner].reshape(count, size), np.array(blocks), found[inner:])


def close(one: FloatArray, other: FloatArray) -> bool:
    return bool(np.abs(one - other).max() <= 1e-7 * np.abs(other).max())


@given(
    seed=st.integers(0, 2**32 - 1),
    counts=st.lists(st.integers(2, 12), min_size=1, max_size=3),
    size=st.integers(1, 3),
    common=st.integers(1, 4),
)
@settings(max_examples=60, deadline=None)
def test_as_by_the_whole_matrix(seed: int, counts: list[int], size: int, common: int) -> None:
    rng = np.random.default_rng(seed)
    chains = [random_chain(rng, count, size, common) for count in counts]
    for chain, found in zip(chains, solve(chains), strict=True):
        wanted = by_whole_matrix(chain)
        assert close(found.nodes, wanted.nodes)
        assert close(found.common, wanted.common)
        assert close(found.covariance, wanted.covariance)


def test_a_chain_that_says_nothing_of_a_node_is_refused() -> None:
    chain = random_chain(np.random.default_rng(1), 4, 2, 3)
    chain.diagonal[2] = 0.0
    with pytest.raises(np.linalg.LinAlgError):
        solve([chain])
