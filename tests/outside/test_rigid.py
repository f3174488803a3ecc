"""Virtual sensors against motions whose acceleration and rate are known in closed form."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from firstrocker.model import STANDARD_GRAVITY
from outside import rigid


def turn(axis: str, angle: rigid.FloatArray) -> rigid.FloatArray:
    return np.asarray(Rotation.from_euler(axis, angle[:, None]).as_matrix())


def spinning(time: rigid.FloatArray) -> tuple[rigid.FloatArray, rigid.FloatArray]:
    """Two rad/s about z, the origin at rest."""
    return np.zeros((len(time), 3)), turn("z", 2.0 * time)


def swinging(time: rigid.FloatArray) -> tuple[rigid.FloatArray, rigid.FloatArray]:
    place = np.column_stack([np.sin(3.0 * time), 0.5 * time, 0.1 * np.cos(5.0 * time)])
    return place, turn("y", np.sin(2.0 * time))


def test_a_point_on_a_turning_segment_feels_the_pull_inwards() -> None:
    time = np.linspace(0.0, 1.0, 11)
    assert rigid.angular_rate(spinning, time) == pytest.approx(np.tile([0.0, 0.0, 2.0], (11, 1)))
    force = rigid.specific_force(spinning, np.array([0.3, 0.0, 0.0]), time)
    assert force == pytest.approx(np.tile([-0.3 * 2.0**2, 0.0, STANDARD_GRAVITY], (11, 1)), abs=1e-5)


def test_force_is_the_paths_second_derivative_less_gravity() -> None:
    time = np.linspace(0.1, 2.0, 50)
    force = np.einsum("nij,nj->ni", swinging(time)[1], rigid.specific_force(swinging, np.zeros(3), time))
    expected = np.column_stack([-9.0 * np.sin(3.0 * time), 0.0 * time, -2.5 * np.cos(5.0 * time) + STANDARD_GRAVITY])
    assert force == pytest.approx(expected, abs=1e-4)
    rate = rigid.angular_rate(swinging, time)
    assert rate[:, 1] == pytest.approx(2.0 * np.cos(2.0 * time), abs=1e-5)


def test_cluster_fit_finds_the_motion_and_tells_what_is_left() -> None:
    time = np.linspace(0.0, 1.0, 20)
    place, rotation = swinging(time)
    shape = np.array([[0.0, 0.0, 0.0], [0.2, 0.05, 0.0], [0.25, -0.03, 0.04]])
    points = place[:, None] + np.einsum("nij,mj->nmi", rotation, shape)
    found_place, found_rotation, left = rigid.fit_cluster(points, shape)
    assert found_place == pytest.approx(place, abs=1e-12)
    assert found_rotation == pytest.approx(rotation, abs=1e-12)
    assert left.max() < 1e-9
    points[:, 0] += [0.0, 0.0, 0.01]
    assert rigid.fit_cluster(points, shape)[2].min() > 1e-4


def test_smooth_pose_goes_through_its_samples() -> None:
    time = np.arange(0.0, 1.0, 0.01)
    place, rotation = swinging(time)
    pose = rigid.smooth_pose(time, place, rotation)
    between = time[20:-20] + 0.005
    assert pose(between)[0] == pytest.approx(swinging(between)[0], abs=1e-8)
    assert pose(between)[1] == pytest.approx(swinging(between)[1], abs=1e-8)


def test_repetition_and_rest_are_smooth() -> None:
    """A stride that does not close by itself: its repetition has no jump in place, rate or force."""

    def drifting(time: rigid.FloatArray) -> tuple[rigid.FloatArray, rigid.FloatArray]:
        angle = 0.4 * np.sin(2.0 * np.pi * time) + 0.03 * time
        place = np.column_stack([1.2 * time + 0.19 * np.sin(2 * np.pi * time), 0 * time, 0.01 * time])
        return place, turn("y", angle)

    again = rigid.RepeatedPose(drifting, 0.5, 1.0, 0.1, np.array([1.2, 0.0, 0.0]))
    whole = rigid.FromRestToRest(again, begin_s=0.45, end_s=4.45, rest_s=1.0, ramp_s=0.4)
    time = np.arange(0.0, whole.duration_s, 0.002)
    place, rotation = whole(time)
    assert np.abs(np.diff(place, axis=0)).max() < 0.01
    assert np.ptp(place[time > 2.0, 2]) < 0.012  # the climb of each stride is faded out, not summed
    rate = rigid.angular_rate(whole, time)[:, 1]
    assert np.abs(np.diff(rate)).max() < 0.1
    force = rigid.specific_force(whole, np.array([0.1, 0.0, 0.1]), time)
    assert np.abs(np.diff(force, axis=0)).max() < 1.5
    still = time < 0.99
    assert force[still] == pytest.approx(np.tile(rotation[0].T @ [0.0, 0.0, STANDARD_GRAVITY], (still.sum(), 1)))
    assert rate[still] == pytest.approx(0.0, abs=1e-12)
    assert place[-1, 0] - place[0, 0] == pytest.approx(4.8, abs=1e-6)
    unslowed = 2.3 + whole.delay_s
    assert whole(np.array([unslowed]))[0] == pytest.approx(again(np.array([2.3]))[0])
