"""Integrals, derivatives and values between samples: exact where they promise to be."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from firstrocker.model import FloatArray
from firstrocker.motion.integrate import at, between, cumulative, derivative_at, integrals, step_mean

COEFFICIENT = st.floats(-5.0, 5.0)


@given(a=COEFFICIENT, b=COEFFICIENT, c=COEFFICIENT, d=COEFFICIENT)
def test_inner_steps_are_exact_for_cubics(a: float, b: float, c: float, d: float) -> None:
    t = np.arange(12.0) * 0.1
    values = a + b * t + c * t**2 + d * t**3
    antiderivative = a * t + b * t**2 / 2 + c * t**3 / 3 + d * t**4 / 4
    steps = np.diff(antiderivative)
    assert np.allclose(step_mean(values)[2:-1] * 0.1, steps[1:-1], atol=1e-9)


def test_a_fast_turn_is_integrated_without_lag() -> None:
    # A swing's pitch rate at 100 Hz: the rectangle rule would lag by half a sample, 3 deg at 600 deg/s.
    t = np.arange(0.0, 0.6, 0.01)
    rate = 600.0 * np.sin(2 * np.pi * t / 0.6)
    exact = 600.0 * 0.6 / (2 * np.pi) * (1 - np.cos(2 * np.pi * t / 0.6))
    assert np.abs(cumulative(rate, 0.01) - exact).max() < 0.05
    assert np.abs(np.cumsum(rate) * 0.01 - exact).max() > 2.5


@given(a=COEFFICIENT, b=COEFFICIENT, c=COEFFICIENT)
def test_derivative_is_exact_for_parabolas(a: float, b: float, c: float) -> None:
    t = np.arange(10.0) * 0.02
    assert np.allclose(derivative_at(a + b * t + c * t**2, np.arange(10), 0.02)[1:-1], (b + 2 * c * t)[1:-1], atol=1e-7)


@given(place=st.floats(1.0, 7.0), a=COEFFICIENT, b=COEFFICIENT, c=COEFFICIENT)
def test_values_between_samples_are_exact_for_parabolas(place: float, a: float, b: float, c: float) -> None:
    k = np.arange(9.0)
    assert np.isclose(at(a + b * k + c * k**2, np.array([place]))[0], a + b * place + c * place**2, atol=1e-8)


def test_values_are_held_beyond_the_ends() -> None:
    assert at(np.array([1.0, 2.0, 3.0]), np.array([-4.0, 9.0])).tolist() == [1.0, 3.0]


@given(
    values=arrays(np.float64, st.tuples(st.integers(2, 40), st.integers(1, 2)), elements=st.floats(-100, 100)),
    data=st.data(),
)
def test_integrals_between_samples_are_differences_of_the_running_one(values: FloatArray, data: st.DataObject) -> None:
    last = len(values) - 1
    index = np.array(sorted(data.draw(st.sets(st.integers(0, last), min_size=2))))
    between = np.diff(cumulative(values, 0.01)[index], axis=0)
    assert np.allclose(integrals(values, index, 0.01), between, rtol=0, atol=1e-10)


@given(
    values=arrays(np.float64, st.integers(1, 20), elements=st.floats(-100, 100)),
    places=st.lists(st.floats(-3.0, 25.0), min_size=1, max_size=5),
    data=st.data(),
)
def test_read_between_bounds_a_curve_is_as_if_cut_there(
    values: FloatArray, places: list[float], data: st.DataObject
) -> None:
    first = data.draw(st.integers(0, len(values) - 1))
    last = data.draw(st.integers(first, len(values) - 1))
    index = np.array(places)
    cut = at(values[first : last + 1], index - first)
    assert np.allclose(between(index, first, last).read(values), cut, rtol=0, atol=1e-9)
    bounds = np.full(len(index), first), np.full(len(index), last)
    assert np.allclose(between(index, *bounds).read(values), cut, rtol=0, atol=1e-9)


def test_nothing_is_read_at_no_place() -> None:
    values = np.arange(5.0)
    assert np.array_equal(at(values, np.array([np.nan, 2.0])), [np.nan, 2.0], equal_nan=True)
    assert np.isnan(at(np.stack([values, values], axis=1), np.array([np.nan]))).all()
