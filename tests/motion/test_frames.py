"""Elevation angles and their rates against scipy's rotations and plain differences."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from firstrocker.motion.frames import elevation, elevation_rate

ANGLE = st.floats(-1.4, 1.4)


@given(yaw=st.floats(-3.0, 3.0), pitch=ANGLE, roll=ANGLE)
def test_elevation_is_the_negative_second_euler_angle(yaw: float, pitch: float, roll: float) -> None:
    rotation = Rotation.from_euler("ZYX", [yaw, pitch, roll]).as_matrix()
    assert np.isclose(elevation(rotation[2]), -pitch, atol=1e-9)


@given(
    pitch=st.floats(-1.2, 1.2),
    roll=ANGLE,
    w=st.tuples(st.floats(-8.0, 8.0), st.floats(-8.0, 8.0), st.floats(-8.0, 8.0)),
)
def test_elevation_rate_is_the_derivative(pitch: float, roll: float, w: tuple[float, float, float]) -> None:
    start = Rotation.from_euler("ZYX", [0.3, pitch, roll])
    step = 1e-5
    ahead, behind = (start * Rotation.from_rotvec(np.array(w) * s) for s in (step, -step))
    numeric = (elevation(ahead.as_matrix()[2]) - elevation(behind.as_matrix()[2])) / (2 * step)
    assert np.isclose(elevation_rate(start.as_matrix()[2], np.array(w)), numeric, atol=1e-5, rtol=1e-5)


def test_signs_as_stated() -> None:
    forward_turn = Rotation.from_rotvec([0.0, 0.2, 0.0]).as_matrix()
    assert elevation(forward_turn[2]) < 0.0, "a turn about +y lowers the toes"
    assert -elevation(forward_turn[2]) > 0.0, "and inclines the shank"
