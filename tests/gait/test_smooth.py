"""The running parabola against scipy's Savitzky-Golay filter."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from scipy.signal import savgol_filter

from firstrocker.gait.smooth import running_parabola


@given(seed=st.integers(0, 1000), half=st.integers(2, 8))
def test_same_as_scipys_filter(seed: int, half: int) -> None:
    values = np.random.default_rng(seed).normal(size=60)
    ours = running_parabola(values, 100.0, width_s=(2 * half + 0.4) / 100.0)
    assert np.allclose(ours, savgol_filter(values, 2 * half + 1, 2, mode="interp"), atol=1e-12)


@given(seed=st.integers(0, 1000), factor=st.floats(-3.0, 3.0))
def test_linear_so_that_identities_survive(seed: int, factor: float) -> None:
    a, b = np.random.default_rng(seed).normal(size=(2, 50))
    together = running_parabola(a + factor * b, 100.0, width_s=0.05)
    apart = running_parabola(a, 100.0, width_s=0.05) + factor * running_parabola(b, 100.0, width_s=0.05)
    assert np.allclose(together, apart, atol=1e-12)


def test_too_few_samples_in_the_width_leave_the_values() -> None:
    assert running_parabola(np.array([1.0, 5.0, 2.0]), 50.0, width_s=0.05).tolist() == [1.0, 5.0, 2.0]


def test_a_slap_keeps_its_peak() -> None:
    # A pulse of 50 ms, 300 deg/s high, sampled at 100 Hz: what the default width costs of its peak.
    t = np.arange(-0.2, 0.2, 0.01)
    pulse = np.where(np.abs(t) < 0.025, 300.0 * np.cos(np.pi * t / 0.05), 0.0)
    lost = 1.0 - running_parabola(pulse, 100.0, width_s=0.048).max() / pulse.max()
    assert 0.0 <= lost < 0.12
