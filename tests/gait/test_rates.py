"""Greatest values of rates in loading: truth, properties, and what the old way of three samples would have made."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from scipy.signal import butter, sosfiltfilt

from firstrocker.gait.rates import greatest, spline
from firstrocker.gait.windows import Windows
from firstrocker.model import FloatArray

RATE_HZ, FINE_HZ = 100.0, 10_000.0
PHASES = np.linspace(0.0, 1.0, 21)


def pulse(time: FloatArray, start_s: float, length_s: float) -> FloatArray:
    """A rate that rises from 0 to 1 and sinks to 0 again, both smoothly."""
    share = np.clip((time - start_s) / length_s, 0.0, 1.0)
    return np.asarray(np.sin(np.pi * share) ** 2)


def of_three(samples: FloatArray) -> float:
    """The greatest value by the parabola through three samples."""
    return float(Windows(np.array([0]), np.array([len(samples)])).peak(samples)[1][0])


def found(length_s: float) -> tuple[FloatArray, FloatArray]:
    """The pulse's greatest value as found, and by the parabola through three samples, for samples at many phases."""
    ends = []
    for phase in PHASES:
        start = 0.2 + phase / RATE_HZ
        samples = pulse(np.arange(60) / RATE_HZ, start, length_s)
        first, last = np.array([start * RATE_HZ]), np.array([(start + length_s) * RATE_HZ])
        ends.append((greatest(spline(samples), first, last, rate_hz=RATE_HZ)[0], of_three(samples)))
    return np.array(ends)[:, 0], np.array(ends)[:, 1]


def test_a_short_peak_is_found_between_the_samples() -> None:
    for length_s, off in ((0.04, 0.05), (0.06, 0.02), (0.10, 0.02)):
        ours, three = found(length_s)
        assert np.abs(ours - 1.0).max() < off
        assert np.ptp(ours) < 0.5 * np.ptp(three)


def test_a_rate_that_jumps_at_contact_through_a_sensors_filter() -> None:
    """Within 10 ms it jumps from 0 to 1, then wanes over 60 ms; the filter is that of the simulated sensors."""
    time = np.arange(0.0, 0.6, 1.0 / FINE_HZ)
    low = butter(2, 0.4 * RATE_HZ, fs=FINE_HZ, output="sos")
    ours, three = [], []
    for phase in PHASES:
        start = 0.2 + phase / RATE_HZ
        rate = np.interp(time, [start, start + 0.01, start + 0.04, start + 0.06], [0.0, 1.0, 0.9, 0.0])
        samples = sosfiltfilt(low, rate)[:: int(FINE_HZ / RATE_HZ)]
        first, last = np.array([start * RATE_HZ]), np.array([(start + 0.06) * RATE_HZ])
        ours.append(greatest(spline(samples), first, last, rate_hz=RATE_HZ)[0])
        three.append(of_three(samples))
    assert abs(np.mean(ours) - 1.0) < 0.04
    assert np.std(ours) < np.std(three)
    assert np.std(ours) < 0.02


curves = st.integers(0, 1000).map(lambda seed: 100.0 * np.random.default_rng(seed).normal(size=30))
ends = st.tuples(st.floats(2.0, 8.0), st.floats(0.0, 8.0))


@given(curves, ends, st.floats(0.1, 10.0), st.floats(-100.0, 100.0))
def test_units_and_zero_do_not_matter(curve: FloatArray, end: tuple[float, float], unit: float, zero: float) -> None:
    first, last = np.array([end[0]]), np.array([end[0] + end[1]])
    once = greatest(spline(curve), first, last, rate_hz=RATE_HZ)
    other = greatest(spline(unit * curve + zero), first, last, rate_hz=RATE_HZ)
    np.testing.assert_allclose(other, unit * once + zero, atol=1e-8 * (1.0 + unit))


@given(curves, st.lists(ends, min_size=1, max_size=5))
def test_many_loadings_are_read_as_each_alone(curve: FloatArray, several: list[tuple[float, float]]) -> None:
    first = np.array([a for a, _ in several])
    last = first + np.array([b for _, b in several])
    together = greatest(spline(curve), first, last, rate_hz=RATE_HZ)
    alone = [greatest(spline(curve), first[[k]], last[[k]], rate_hz=RATE_HZ)[0] for k in range(len(first))]
    np.testing.assert_array_equal(together, alone)


@given(curves, curves)
def test_splines_add_up(one: FloatArray, other: FloatArray) -> None:
    np.testing.assert_allclose(spline(one - other), spline(one) - spline(other), atol=1e-9)


def test_without_ends_or_length() -> None:
    curve = np.arange(20.0) ** 2
    first, last = np.array([5.0, np.nan, 6.0, 4.0]), np.array([5.0, 7.0, np.nan, 3.0])
    read = greatest(spline(curve), first, last, rate_hz=RATE_HZ)
    assert np.isclose(read[0], 25.0, atol=0.01)
    assert np.isnan(read[1:]).all()
    assert greatest(spline(curve), first[:0], last[:0], rate_hz=RATE_HZ).shape == (0,)


def test_a_blunt_peak_is_that_of_the_running_mean() -> None:
    curve = pulse(np.arange(80) / RATE_HZ, 0.2, 0.08)
    ends_at = np.array([20.0]), np.array([28.0])
    mean = spline(np.convolve(curve, [0.25, 0.5, 0.25], mode="same"))
    blunt = greatest(spline(curve), *ends_at, rate_hz=RATE_HZ, blunt=True)
    np.testing.assert_allclose(blunt, greatest(mean, *ends_at, rate_hz=RATE_HZ), rtol=1e-9)


def test_what_blurring_takes_grows_with_how_sharp_a_peak_is() -> None:
    lost = []
    for length_s in (0.03, 0.05, 0.1, 0.3):
        samples = spline(pulse(np.arange(80) / RATE_HZ, 0.2, length_s))
        ends_at = np.array([20.0]), np.array([20.0 + length_s * RATE_HZ])
        sharp, blunt = (greatest(samples, *ends_at, rate_hz=RATE_HZ, blunt=blunt)[0] for blunt in (False, True))
        lost.append(sharp - blunt)
    assert np.all(np.diff(lost) < 0.0)
    assert lost[-1] < 0.01
