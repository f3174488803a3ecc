"""Shanks and feet of one walk: the rates derived from the maker's rotations, and the ankle they show."""

from __future__ import annotations

from typing import get_args

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from firstrocker.model import Segment, Side
from outside import shank_foot_orientation as walk
from shared_data import DATA, needs

FOLDER = DATA / "shank_foot_orientation"
pytestmark = needs("shank_foot_orientation")

EVERY = [(segment, side) for segment in get_args(Segment) for side in get_args(Side)]


@pytest.mark.parametrize(("segment", "side"), EVERY)
def test_logs_stand_then_walk(segment: Segment, side: Side) -> None:
    log = walk.log(FOLDER, segment, side)
    assert np.allclose(np.diff(log.time), 0.01)
    assert log.time[-1] > 24.0
    standing = log.time < walk.STANDING_S
    assert np.linalg.norm(log.acceleration[standing].mean(axis=0)) == pytest.approx(9.81, abs=0.05)
    assert np.degrees(np.abs(log.angular_velocity[standing].mean(axis=0))).max() < 1.0
    assert 300.0 < np.degrees(np.linalg.norm(log.angular_velocity, axis=1).max()) < 900.0


@pytest.mark.parametrize(("segment", "side"), EVERY)
def test_rotations_take_sensor_to_world(segment: Segment, side: Side) -> None:
    sensor = walk.read_sensor(FOLDER, segment, side)
    world = np.einsum("nij,nj->ni", sensor.rotation, sensor.acceleration)
    assert world[sensor.time < walk.STANDING_S].mean(axis=0) == pytest.approx([0.0, 0.0, 9.80], abs=0.05)


@pytest.mark.parametrize(("segment", "side"), EVERY)
def test_rates_add_up_to_the_rotations(segment: Segment, side: Side) -> None:
    """Between any two samples the mean of both rates turns as the matrices do, but for the bend within a step."""
    sensor, log = walk.read_sensor(FOLDER, segment, side), walk.log(FOLDER, segment, side)
    step = Rotation.from_rotvec((log.angular_velocity[1:] + log.angular_velocity[:-1]) / 2.0 / walk.RATE_HZ)
    told = Rotation.from_matrix(np.swapaxes(sensor.rotation[:-1], 1, 2) @ sensor.rotation[1:])
    off = np.degrees((step.inv() * told).magnitude())
    assert off.max() < 1.0
    assert np.sqrt(np.mean(off**2)) < 0.05


@pytest.mark.parametrize("side", get_args(Side))
def test_the_makers_ankle_is_an_ankle(side: Side) -> None:
    """20 to 45 deg of range in walking; REFERENCES, sagittal angles by phase (S): +10 in stance to -15 at push-off."""
    time, ankle = walk.maker_ankle(FOLDER, side)
    assert np.degrees(np.abs(ankle[time < walk.STANDING_S])).max() < 2.0
    low, high = np.degrees(np.percentile(ankle[time > 6.0], [2, 98]))
    assert 20.0 < high - low < 45.0
    assert low < -10.0
