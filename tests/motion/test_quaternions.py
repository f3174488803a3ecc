"""Quaternions by component against scipy's rotations."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from firstrocker.motion.quaternions import of_vector, rotated, running, times, to_vector

SEED = st.integers(0, 2**32 - 1)


@given(seed=SEED, size=st.floats(0.0, 3.0))
@settings(max_examples=30)
def test_products_and_turned_vectors_are_scipys(seed: int, size: float) -> None:
    one, two, vector = size * np.random.default_rng(seed).normal(size=(3, 3, 5))
    first, second = Rotation.from_rotvec(one.T), Rotation.from_rotvec(two.T)
    assert np.allclose(rotated(of_vector(one), vector), first.apply(vector.T).T, atol=1e-12 * max(size, 1.0))
    product = Rotation.from_quat(times(of_vector(one), of_vector(two)).T, scalar_first=True)
    assert np.abs((product.inv() * first * second).as_rotvec()).max() < 1e-12


@pytest.mark.parametrize("count", [1, 2, 3, 4, 5, 16, 17, 100, 101])
def test_running_products_are_those_of_one_after_the_other(count: int) -> None:
    steps = of_vector(np.random.default_rng(count).normal(size=(3, count)))
    wanted = steps.copy()
    for k in range(1, count):
        wanted[:, k] = times(wanted[:, k - 1], steps[:, k])
    assert np.allclose(running(steps), wanted, atol=1e-12)


@given(seed=SEED, size=st.sampled_from([0.0, 1e-12, 1e-3, 1.0, 6.2]))
@settings(max_examples=30)
def test_a_rotation_vector_comes_back(seed: int, size: float) -> None:
    way = np.random.default_rng(seed).normal(size=(3, 4))
    vector = size * way / np.sqrt((way * way).sum(axis=0))
    assert np.allclose(to_vector(of_vector(vector)), vector, rtol=1e-9, atol=1e-15)
