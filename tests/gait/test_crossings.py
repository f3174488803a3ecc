"""Instants between samples."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from firstrocker.gait.crossings import first_crossing, last_crossing, peak


@given(place=st.floats(0.01, 8.9))
def test_a_straight_line_is_crossed_where_it_is(place: float) -> None:
    line = np.arange(10.0) - place
    assert np.isclose(first_crossing(line, 0.0, rising=True), place)
    assert np.isclose(first_crossing(-line, 0.0, rising=False), place)


def test_first_and_last_differ_where_a_curve_comes_back() -> None:
    wave = np.array([0.0, 2.0, 0.0, 2.0, 0.0])
    assert first_crossing(wave, 1.0, rising=True) == 0.5
    assert last_crossing(wave, 1.0, rising=True) == 2.5
    assert last_crossing(wave, 1.0, rising=False) == 3.5


def test_no_crossing_is_nan() -> None:
    assert np.isnan(first_crossing(np.array([0.0, 1.0]), 2.0, rising=True))


@given(place=st.floats(1.0, 7.0), height=st.floats(-100.0, 100.0), bend=st.floats(0.1, 50.0))
def test_a_parabolas_peak_is_found_exactly(place: float, height: float, bend: float) -> None:
    k = np.arange(9.0)
    found, top = peak(height - bend * (k - place) ** 2)
    assert np.isclose(found, place, atol=1e-6)
    assert np.isclose(top, height, atol=1e-6)


def test_a_peak_at_the_edge_is_the_edge() -> None:
    assert peak(np.array([3.0, 2.0, 1.0])) == (0.0, 3.0)
