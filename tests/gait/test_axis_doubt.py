"""A forward axis that does not stand out clearly widens the interval of toe clearance where the foot is rolled."""

from dataclasses import replace

import numpy as np
import pytest

from firstrocker.gait.table import strides_table
from firstrocker.model import FloatArray
from motion.walked import NOBODY, Walked, analysed


def clearance_se(walked: Walked, *, planar: float, doubt: float = 0.0, roll: float = 1.0) -> FloatArray:
    """(k,) mm, had the foot's axis stood out so clearly, its two lain so far apart, and it been rolled so much more."""
    foot = walked.data.foot
    doubted = replace(foot, mounting=replace(foot.mounting, planar=planar, doubt=doubt), roll=roll * foot.roll)
    table = strides_table(NOBODY, walked.strides, replace(walked.data, foot=doubted))
    return np.asarray(table["toe_clearance_min_mm_se"])


@pytest.fixture(scope="module")
def walked() -> Walked:
    return analysed("hemiparetic")


def test_the_less_clear_the_axis_the_wider_the_interval(walked: Walked) -> None:
    clear, doubtful, more = (clearance_se(walked, planar=planar) for planar in (1.0, 0.85, 0.7))
    assert np.all(doubtful > clear)
    # Twice as much doubt: four times the variance that comes of it.
    assert np.allclose(more**2 - clear**2, 4.0 * (doubtful**2 - clear**2))


def test_the_farther_apart_its_two_axes_the_wider_the_interval(walked: Walked) -> None:
    alike, apart, farther = (clearance_se(walked, planar=1.0, doubt=np.arcsin(apart)) for apart in (0.0, 0.1, 0.2))
    assert np.all(apart > alike)
    assert np.allclose(farther**2 - alike**2, 4.0 * (apart**2 - alike**2))


def test_a_foot_that_is_not_rolled_has_nothing_to_leak(walked: Walked) -> None:
    assert np.allclose(clearance_se(walked, planar=0.7, doubt=0.2, roll=0.0), clearance_se(walked, planar=1.0))
