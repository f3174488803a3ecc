"""Rotations against scipy; every selectable filter against a known course."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from firstrocker.model import STANDARD_GRAVITY, FilterName, FloatArray
from firstrocker.motion.orientation import FILTERS, course, matrices
from firstrocker.motion.quaternions import of_vector

COMPONENT = st.floats(-3.0, 3.0)


@given(vector=st.tuples(COMPONENT, COMPONENT, COMPONENT))
def test_rotation_of_a_vector_is_scipys(vector: tuple[float, float, float]) -> None:
    expected = Rotation.from_rotvec(vector).as_matrix()
    assert np.allclose(matrices(of_vector(np.array(vector))), expected, atol=1e-12)
    quaternion = Rotation.from_rotvec(vector).as_quat(scalar_first=True)
    assert np.allclose(matrices(quaternion), expected, atol=1e-12)


def swaying(rate_hz: float = 100.0) -> tuple[FloatArray, FloatArray, FloatArray]:
    """A sensor that swings to and fro by 40 deg about a tilted axis in place: rates, forces, true rotations."""
    t = np.arange(0.0, 20.0, 1.0 / rate_hz)
    axis = np.array([0.1, 0.98, 0.15]) / np.linalg.norm([0.1, 0.98, 0.15])
    angle = np.radians(40.0) * np.sin(2 * np.pi * 0.9 * t)
    speed = np.radians(40.0) * 2 * np.pi * 0.9 * np.cos(2 * np.pi * 0.9 * t)
    seat = Rotation.from_euler("xyz", [0.4, -0.3, 0.0])
    rotation = (seat * Rotation.from_rotvec(angle[:, None] * axis)).as_matrix()
    force = rotation[:, 2, :] * STANDARD_GRAVITY
    return speed[:, None] * axis, force, rotation


@pytest.mark.parametrize("name", FILTERS)
def test_every_filter_follows_a_swaying_sensor(name: FilterName) -> None:
    rate, force, truth = swaying()
    found = matrices(course(force, rate, 100.0, filter_name=name).T)
    tilt = np.degrees(np.arccos(np.clip((found[:, 2] * truth[:, 2]).sum(axis=1), -1.0, 1.0)))
    # Without acceleration every filter must hold the tilt; the first seconds are its own affair.
    assert tilt[500:].max() < (0.2 if name == "vqf" else 7.0)


def test_vqf_is_the_default_because_it_is_best_here() -> None:
    rate, force, truth = swaying()
    # The kind of disturbance walking brings: acceleration to and fro in step with the turning.
    t = np.arange(len(rate)) / 100.0
    push = np.zeros_like(force)
    push[:, 0] = 3.0 * np.sin(2 * np.pi * 0.9 * t + 0.5)
    force = force + np.einsum("nji,nj->ni", truth, push)
    error = {}
    for name in FILTERS:
        found = matrices(course(force, rate + np.radians(0.05), 100.0, filter_name=name).T)
        tilt = np.degrees(np.arccos(np.clip((found[:, 2] * truth[:, 2]).sum(axis=1), -1.0, 1.0)))
        error[name] = float(np.sqrt(np.mean(tilt[500:] ** 2)))
    assert min(error, key=lambda name: error[name]) == "vqf", error
