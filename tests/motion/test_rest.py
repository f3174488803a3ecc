"""What a gyroscope's bias is taken from: stretches in which the sensor rests, not those in which it turns evenly."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firstrocker.model import STANDARD_GRAVITY, FloatArray
from firstrocker.motion.rest import Rest, find_rest

HZ = 100.0
BIAS = np.array([0.01, -0.02, 0.005])


def rest_of(pace_deg: FloatArray) -> Rest:
    """Of a sensor that leans forward at that pace (n,) deg/s, with a bias and some noise."""
    rng = np.random.default_rng(1)
    pace = np.radians(pace_deg)
    lean = np.cumsum(pace) / HZ
    force = STANDARD_GRAVITY * np.column_stack([-np.sin(lean), np.zeros_like(lean), np.cos(lean)])
    turn = np.column_stack([np.zeros_like(pace), pace, np.zeros_like(pace)]) + BIAS
    valid = np.ones(len(pace), dtype=np.bool_)
    force += 0.02 * rng.standard_normal(force.shape)
    turn += 0.002 * rng.standard_normal(turn.shape)
    return find_rest(force, turn, valid, HZ, rest_min_s=0.5, rest_gyro=float(np.radians(3.0)))


def strides(pace_deg: float, count: int) -> FloatArray:
    """Deg/s of a shank that turns evenly over the standing foot for a second, and quickly back, again and again."""
    back = -pace_deg * 100.0 * np.hanning(27)[1:-1] / np.hanning(27).sum()
    return np.tile(np.concatenate([np.full(100, pace_deg), back]), count)


@settings(max_examples=20)
@given(pace=st.floats(5.0, 15.0), count=st.integers(3, 30))
def test_a_shank_that_turns_evenly_over_the_foot_tells_no_bias(pace: float, count: int) -> None:
    """Though slow walking holds more such stretches than rest, and their rate hardly spreads."""
    found = rest_of(np.concatenate([np.zeros(200), strides(pace, count), np.zeros(200)]))
    assert len(found.spans) > 2
    assert found.bias == pytest.approx(BIAS, abs=np.radians(0.1))


def test_who_never_rests_tells_none() -> None:
    found = rest_of(strides(15.0, 8))
    assert found.spans
    assert found.bias is None


def test_sway_is_rest() -> None:
    """Half a degree to and fro within four seconds, as a standing person."""
    seconds = np.arange(2000) / HZ
    found = rest_of(0.5 * 2.0 * np.pi / 4.0 * np.cos(2.0 * np.pi * seconds / 4.0))
    assert found.bias == pytest.approx(BIAS, abs=np.radians(0.1))
