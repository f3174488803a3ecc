"""Where the toe passes lowest: with and without a dip."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from firstrocker.gait.clearance import lowest_toe


@given(dip=st.floats(0.004, 0.03), place=st.floats(0.4, 0.6))
def test_the_dip_between_two_rises_is_found(dip: float, place: float) -> None:
    s = np.linspace(0.0, 1.0, 101)
    height = 0.04 - dip * np.exp(-(((s - place) / 0.08) ** 2)) + 0.05 * np.maximum(s - 0.75, 0.0)
    height *= np.minimum(s / 0.1, 1.0)
    forward = np.sin(np.pi * s)
    mid = lowest_toe(height, forward, 100.0)
    assert mid.kind == "local_minimum"
    assert abs(mid.place / 100 - place) < 0.02


def test_without_a_dip_the_greatest_speed_decides() -> None:
    s = np.linspace(0.0, 1.0, 101)
    mid = lowest_toe(0.05 * s**2, np.sin(np.pi * s**0.7), 100.0)
    assert mid.kind == "at_peak_speed"
    assert abs(mid.place - 100 * 0.5 ** (1 / 0.7)) < 1.0


def test_a_shallow_ripple_is_no_dip() -> None:
    s = np.linspace(0.0, 1.0, 101)
    height = 0.05 * s + 0.0002 * np.sin(40 * s)
    assert lowest_toe(height, np.sin(np.pi * s), 100.0).kind == "at_peak_speed"


def test_a_dip_too_shallow_to_be_sure_of_names_its_rival() -> None:
    s = np.linspace(0.0, 1.0, 101)
    height = 0.04 * np.minimum(s / 0.2, 1.0) + 0.1 * np.maximum(s - 0.4, 0.0)
    mid = lowest_toe(height, np.sin(np.pi * s), 100.0)
    assert mid.kind == "at_peak_speed"
    assert 20.0 <= mid.rival <= 40.0
    dipped = height - 0.0025 * np.exp(-(((s - 0.35) / 0.05) ** 2))
    mid = lowest_toe(dipped, np.sin(np.pi * s), 100.0)
    assert mid.kind == "local_minimum"
    assert abs(mid.rival - 50.0) < 1.0
