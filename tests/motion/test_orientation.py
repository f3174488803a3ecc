"""Rotations against scipy; every selectable filter against a known course."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from firstrocker.model import STANDARD_GRAVITY, FilterName, FloatArray
from firstrocker.motion import orientation
from firstrocker.motion.orientation import FILTERS, level, matrices, steady_course, strapdown
from firstrocker.motion.quaternions import of_vector
from motion.filtered import filtered, sensor_of

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
    found = filtered(force, rate, 100.0, name)
    tilt = np.degrees(np.arccos(np.clip((found[:, 2] * truth[:, 2]).sum(axis=1), -1.0, 1.0)))
    # Without acceleration every filter must hold the tilt; the first seconds are its own affair.
    assert tilt[500:].max() < (0.2 if name == "vqf" else 7.0)


@pytest.mark.parametrize(
    "name", [pytest.param(name, marks=() if name == "vqf" else pytest.mark.untraced) for name in FILTERS]
)
def test_a_long_log_is_levelled_part_by_part_as_if_at_once(name: FilterName, monkeypatch: pytest.MonkeyPatch) -> None:
    rate, force, truth = (np.concatenate([one] * 18) for one in swaying())  # six minutes; its turns fit together
    at_once = filtered(force, rate + np.radians(0.05), 100.0, name)
    monkeypatch.setattr(orientation, "PART_S", 100.0)
    in_parts = filtered(force, rate + np.radians(0.05), 100.0, name)
    assert not np.array_equal(in_parts, at_once)
    assert tilt_of(in_parts, at_once).max() < 0.02
    assert tilt_of(in_parts, truth)[500:].max() < tilt_of(at_once, truth)[500:].max() + 0.02
    # Nothing tells a heading in the long run, but it must not jump from part to part.
    between = in_parts @ np.swapaxes(at_once, 1, 2)
    heading = np.arctan2(between[:, 1, 0] - between[:, 0, 1], between[:, 0, 0] + between[:, 1, 1])
    assert np.degrees(np.abs(np.diff(heading))).max() < 0.005


def test_vqf_is_the_default_because_it_is_best_here() -> None:
    rate, force, truth = swaying()
    # The kind of disturbance walking brings: acceleration to and fro in step with the turning.
    t = np.arange(len(rate)) / 100.0
    push = np.zeros_like(force)
    push[:, 0] = 3.0 * np.sin(2 * np.pi * 0.9 * t + 0.5)
    force = force + np.einsum("nji,nj->ni", truth, push)
    error = {}
    for name in FILTERS:
        found = filtered(force, rate + np.radians(0.05), 100.0, name)
        tilt = np.degrees(np.arccos(np.clip((found[:, 2] * truth[:, 2]).sum(axis=1), -1.0, 1.0)))
        error[name] = float(np.sqrt(np.mean(tilt[500:] ** 2)))
    assert min(error, key=lambda name: error[name]) == "vqf", error


def tilt_of(found: FloatArray, truth: FloatArray) -> FloatArray:
    """(n,) deg between two rotations' up."""
    return np.asarray(np.degrees(np.arccos(np.clip((found[:, 2] * truth[:, 2]).sum(axis=1), -1.0, 1.0))))


def tilts(rate_hz: float, name: FilterName, shaken: float) -> FloatArray:
    """Deg by which the filter is off every fifth of a second from 5 s on, while the sensor is shaken 25 times a second.

    shaken: m/s^2, its amplitude, along a horizontal axis.
    """
    rate, force, truth = swaying(rate_hz)
    push = np.outer(np.sin(2 * np.pi * 25.0 * np.arange(len(rate)) / rate_hz + 0.7), [shaken, 0.0, 0.0])
    found = filtered(force + np.einsum("nji,nj->ni", truth, push), rate, rate_hz, name)
    here = np.rint(np.arange(5.0, 19.5, 0.2) * rate_hz).astype(np.int64)
    return tilt_of(found[here], truth[here])


@pytest.mark.parametrize("rate_hz", [50.0, 100.0, 400.0])
@pytest.mark.parametrize("name", FILTERS)
def test_a_filter_sees_the_same_at_any_rate_and_nothing_of_what_passes_within_its_step(
    rate_hz: float, name: FilterName
) -> None:
    plain = tilts(25.0, name, 0.0)
    assert np.abs(tilts(rate_hz, name, 5.0) - plain).max() < 0.05


def test_the_steady_course_takes_the_level_from_the_filter_and_the_rest_from_the_gyroscope() -> None:
    rate, force, truth = swaying()
    sensor = sensor_of(force, rate, 100.0)
    inertial = strapdown(sensor)
    alone = matrices(inertial.T)
    index = np.arange(50, 2000, 100)
    course = matrices(steady_course(inertial, level(inertial, sensor, filter_name="vqf"), index, sensor).T)
    assert tilt_of(course, truth).max() < 0.2
    # The two differ by one rotation that hardly changes.
    turned = course @ np.swapaxes(alone, 1, 2)
    assert np.degrees(np.arccos((np.einsum("nii->n", np.swapaxes(turned, 1, 2) @ turned[0]) - 1) / 2)).max() < 0.2
