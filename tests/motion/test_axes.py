"""The foot's sideways axis lies between that of all its turning and that of its turning in the air."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstrocker.model import FloatArray
from firstrocker.motion.axes import foot_mounting

UP, AHEAD = np.array([0.0, 0.0, 9.81]), np.array([[1.0, 0.0, 0.0]])


def about(deg: float, planar: float = 0.75) -> FloatArray:
    """(3, 3) scatter of turning, its given share about an axis so many deg off the sensor's y, to the left."""
    axis = np.array([-np.sin(np.radians(deg)), np.cos(np.radians(deg)), 0.0])
    aside = np.array([axis[1], -axis[0], 0.0])
    return 10.0 * (planar * np.outer(axis, axis) + (1.0 - planar) * np.outer(aside, aside))


def off(matrix: FloatArray) -> float:
    """Deg by which the sideways axis of a mounting is off the sensor's y."""
    return float(np.degrees(np.arctan2(-matrix[1, 0], matrix[1, 1])))


@given(every=st.floats(-40.0, 40.0), aloft=st.floats(-40.0, 40.0))
def test_half_way_where_three_quarters_are_about_one_axis(every: float, aloft: float) -> None:
    found = foot_mounting(UP, about(every), about(aloft), AHEAD)
    assert found.planar == pytest.approx(0.75)
    assert off(found.matrix) == pytest.approx(0.5 * (every + aloft), abs=1e-6)
    assert np.degrees(found.doubt) == pytest.approx(0.5 * abs(every - aloft), abs=1e-5)


def test_the_air_counts_the_more_the_less_one_axis_stands_out() -> None:
    found = [foot_mounting(UP, about(0.0, planar), about(8.0), AHEAD) for planar in (1.0, 0.9, 0.7, 0.501)]
    assert [off(one.matrix) for one in found] == pytest.approx([0.0, 1.6, 4.8, 8.0], abs=0.02)
    assert [np.degrees(one.doubt) for one in found] == pytest.approx([8.0, 6.4, 4.8, 8.0], abs=0.02)


def test_without_anything_in_the_air_all_of_it_counts() -> None:
    found = foot_mounting(UP, about(12.0), np.zeros((3, 3)), AHEAD)
    assert off(found.matrix) == pytest.approx(12.0)
    assert found.doubt == 0.0


@pytest.mark.parametrize("way", [1.0, -1.0])
def test_left_is_told_by_where_the_foot_went(way: float) -> None:
    found = foot_mounting(UP, about(5.0), about(-5.0), way * AHEAD)
    assert found.matrix[0] == pytest.approx([way, 0.0, 0.0], abs=1e-9)
