"""Where the toe passes lowest: with and without a dip."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from firstrocker.gait.clearance import MidSwings, lowest_toe
from firstrocker.gait.windows import Windows
from firstrocker.model import FloatArray


def one_swing(height: FloatArray, forward: FloatArray) -> MidSwings:
    return lowest_toe(Windows(np.array([0]), np.array([len(height)])), height, forward, 100.0)


@given(dip=st.floats(0.004, 0.03), place=st.floats(0.4, 0.6))
def test_the_dip_between_two_rises_is_found(dip: float, place: float) -> None:
    s = np.linspace(0.0, 1.0, 101)
    height = 0.04 - dip * np.exp(-(((s - place) / 0.08) ** 2)) + 0.05 * np.maximum(s - 0.75, 0.0)
    height *= np.minimum(s / 0.1, 1.0)
    forward = np.sin(np.pi * s)
    mid = one_swing(height, forward)
    assert mid.kind == "local_minimum"
    assert abs(mid.place / 100 - place) < 0.02


def test_without_a_dip_the_greatest_speed_decides() -> None:
    s = np.linspace(0.0, 1.0, 101)
    mid = one_swing(0.05 * s**2, np.sin(np.pi * s**0.7))
    assert mid.kind == "at_peak_speed"
    assert abs(mid.place - 100 * 0.5 ** (1 / 0.7)) < 1.0


def test_a_shallow_ripple_is_no_dip() -> None:
    s = np.linspace(0.0, 1.0, 101)
    height = 0.05 * s + 0.0002 * np.sin(40 * s)
    assert one_swing(height, np.sin(np.pi * s)).kind == "at_peak_speed"


def test_a_dip_too_shallow_to_be_sure_of_names_its_rival() -> None:
    s = np.linspace(0.0, 1.0, 101)
    height = 0.04 * np.minimum(s / 0.2, 1.0) + 0.1 * np.maximum(s - 0.4, 0.0)
    mid = one_swing(height, np.sin(np.pi * s))
    assert mid.kind == "at_peak_speed"
    assert 20.0 <= mid.rival <= 40.0
    dipped = height - 0.0025 * np.exp(-(((s - 0.35) / 0.05) ** 2))
    mid = one_swing(dipped, np.sin(np.pi * s))
    assert mid.kind == "local_minimum"
    assert abs(mid.rival - 50.0) < 1.0


def test_swings_taken_together_are_those_taken_one_by_one() -> None:
    rng = np.random.default_rng(5)
    lengths = np.array([2, 3, 40, 101, 0, 57, 80, 61, 33, 90])
    heights = [0.02 * np.linspace(0.0, 1.0, n) + np.cumsum(rng.normal(0.0, 0.0006, n)) for n in lengths]
    forwards = [np.sin(np.pi * np.linspace(0.0, 1.0, n)) + rng.normal(0.0, 0.01, n) for n in lengths]
    windows = Windows(np.cumsum(lengths) - lengths, lengths)
    together = lowest_toe(windows, np.concatenate(heights), np.concatenate(forwards), 100.0)
    assert {"", "local_minimum", "at_peak_speed"} == set(together.kind)
    assert np.isfinite(together.rival).any()
    for k, (height, forward) in enumerate(zip(heights, forwards, strict=True)):
        alone = one_swing(height, forward)
        for found in (alone.place, alone.dip, alone.rival):
            assert found.shape == (1,)
        assert np.array_equal(alone.place, together.place[k : k + 1], equal_nan=True)
        assert np.array_equal(alone.rival, together.rival[k : k + 1], equal_nan=True)
        assert alone.kind == together.kind[k]
