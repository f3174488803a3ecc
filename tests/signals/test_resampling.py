"""Uniform clocks: identity, truth between samples, gaps kept as gaps, nothing made up beyond the ends."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import CubicSpline

from firstrocker.model import IntArray, Log
from firstrocker.signals.uniform import PIECE, resample, sampling_rate, uniform_times
from signals.made import foot_log, leg

BRIDGE = 0.05


def without(log: Log, gone: slice | IntArray) -> Log:
    keep = np.ones(len(log.time), dtype=bool)
    keep[gone] = False
    return replace(
        log, time=log.time[keep], acceleration=log.acceleration[keep], angular_velocity=log.angular_velocity[keep]
    )


@pytest.mark.parametrize("rate_hz", [50.0, 100.0, 102.4, 128.0, 200.0])
@pytest.mark.parametrize("start_s", [0.0, 1.7e9])
def test_an_already_uniform_log_comes_out_as_it_is(rate_hz: float, start_s: float) -> None:
    log = foot_log(rate_hz=rate_hz, clock_offset_s=start_s)
    assert sampling_rate(log.time) == pytest.approx(rate_hz, rel=1e-6)
    times = uniform_times(float(log.time[0]), float(log.time[-1]), rate_hz=rate_hz)
    assert len(times) == len(log.time)
    signal = resample(log, times, max_bridge_s=BRIDGE)
    np.testing.assert_allclose(signal.acceleration, log.acceleration, atol=1e-3 if start_s else 1e-9)
    np.testing.assert_allclose(signal.angular_velocity, log.angular_velocity, atol=1e-4 if start_s else 1e-9)
    assert signal.valid.all()


@settings(max_examples=20, deadline=None)
@given(st.floats(0.0, 1.0), st.floats(-100.0, 100.0))
def test_shifting_log_and_clock_together_changes_nothing(phase: float, shift: float) -> None:
    log = foot_log(stop_s=8.0)
    times = uniform_times(0.01 * phase, 7.9, rate_hz=100.0)
    here = resample(log, times, max_bridge_s=BRIDGE)
    there = resample(replace(log, time=log.time + shift), times + shift, max_bridge_s=BRIDGE)
    np.testing.assert_allclose(there.acceleration, here.acceleration, atol=1e-6)
    np.testing.assert_array_equal(there.valid, here.valid)


# (rate, share lost) -> bounds for the error's root mean square over the whole walk, m/s^2 and rad/s. Straight lines
# give 0.53 and 0.0083 at 100 Hz, 0.62 and 0.011 with 3 % lost.
@pytest.mark.parametrize(
    ("rate_hz", "lost", "acceleration", "turning"),
    [(50.0, 0.0, 1.6, 0.006), (100.0, 0.0, 0.16, 0.001), (100.0, 0.03, 0.30, 0.002), (200.0, 0.0, 0.03, 0.001)],
)
def test_between_samples_the_truth_is_met(rate_hz: float, lost: float, acceleration: float, turning: float) -> None:
    sensor = leg()[0]
    log = foot_log(rate_hz=rate_hz, lost_share=lost, noise=(0.0, 0.0), bias=(0.0, 0.0))
    times = uniform_times(0.31 / rate_hz, float(log.time[-1]), rate_hz=rate_hz)
    signal = resample(log, times, max_bridge_s=0.1)
    assert signal.valid.mean() > 0.999
    for found, true, bound in (
        (signal.acceleration, sensor.specific_force(times), acceleration),
        (signal.angular_velocity, sensor.angular_velocity(times), turning),
    ):
        assert np.sqrt(np.mean((found - true)[signal.valid] ** 2)) < bound


def test_short_gaps_are_filled_and_long_ones_bridged_straight() -> None:
    log = foot_log()
    times = log.time.copy()
    short = resample(without(log, slice(600, 604)), times, max_bridge_s=BRIDGE)
    assert short.valid.all()
    long = resample(without(log, slice(600, 700)), times, max_bridge_s=BRIDGE)
    np.testing.assert_array_equal(np.flatnonzero(~long.valid), np.arange(600, 700))
    bridge = long.acceleration[599:701]
    np.testing.assert_allclose(np.diff(bridge, n=2, axis=0), 0.0, atol=1e-9)
    # Beyond the gap's edges nothing changes: the spline does not see across.
    np.testing.assert_allclose(long.acceleration[:600], log.acceleration[:600], atol=1e-9)
    np.testing.assert_allclose(long.acceleration[700:], log.acceleration[700:], atol=1e-9)


@settings(max_examples=30, deadline=None)
@given(st.lists(st.tuples(st.integers(1, 780), st.integers(1, 12)), max_size=6), st.just(0.0) | st.floats(0.01, 0.99))
def test_signals_are_finite_and_valid_is_what_was_measured(gaps: list[tuple[int, int]], phase: float) -> None:
    log = foot_log(stop_s=8.0)
    gone = np.unique(np.concatenate([np.arange(0), *[np.arange(s, min(s + n, len(log.time) - 1)) for s, n in gaps]]))
    log = without(log, gone.astype(int))
    times = uniform_times(-0.5 + 0.01 * phase, 8.5, rate_hz=100.0)
    signal = resample(log, times, max_bridge_s=BRIDGE)
    assert np.isfinite(signal.acceleration).all()
    assert np.isfinite(signal.angular_velocity).all()
    before = np.searchsorted(log.time, times, side="right") - 1
    for time, k, valid in zip(times, before, signal.valid, strict=True):
        on_sample = np.abs(log.time - time).min() < 1e-7
        inside = 0 <= k < len(log.time) - 1 and log.time[k + 1] - log.time[k] <= BRIDGE
        assert valid == (on_sample or inside)


def test_nothing_is_made_up_beyond_the_ends() -> None:
    log = foot_log(stop_s=8.0)
    signal = resample(log, uniform_times(-1.0, 9.0, rate_hz=100.0), max_bridge_s=BRIDGE)
    assert not signal.valid[:99].any()
    assert not signal.valid[-99:].any()
    np.testing.assert_array_equal(signal.acceleration[0], log.acceleration[0])
    np.testing.assert_array_equal(signal.acceleration[-1], log.acceleration[-1])


def test_saturated_samples_mark_both_neighbours() -> None:
    log = foot_log(stop_s=8.0)
    saturated = np.zeros(len(log.time), dtype=bool)
    saturated[400] = True
    signal = resample(log, log.time + 0.004, max_bridge_s=BRIDGE, saturated=saturated)
    np.testing.assert_array_equal(np.flatnonzero(signal.saturated), [399, 400])


def test_a_much_faster_log_is_averaged_not_picked_from() -> None:
    """A tone beyond the clock's band must not fold back into it."""
    time = np.arange(8000) / 1000.0
    tone = np.sin(2 * np.pi * 190.0 * time)[:, None] * np.ones(3)
    log = Log("foot", "left", time, tone, tone)
    signal = resample(log, uniform_times(0.0, 7.9, rate_hz=100.0), max_bridge_s=BRIDGE)
    assert np.abs(signal.acceleration[5:-5]).max() < 0.15


@pytest.mark.parametrize(("told", "rate"), [(100.003, 100.0), (99.97, 100.0), (102.4, 102.4), (33.333, 33.333)])
def test_whole_rates_are_recognised_under_drift(told: float, rate: float) -> None:
    assert sampling_rate(np.arange(1000) / told) == pytest.approx(rate, rel=1e-9)


def test_lost_samples_do_not_lower_the_rate() -> None:
    assert sampling_rate(foot_log(lost_share=0.2).time) == 100.0


def test_a_long_log_is_splined_in_pieces_as_if_at_once() -> None:
    rng = np.random.default_rng(5)
    time = np.cumsum(rng.uniform(0.6, 1.4, size=2 * PIECE + 100)) / 100.0
    acceleration, turning = rng.normal(size=(2, len(time), 3))
    log = replace(foot_log(stop_s=3.0), time=time, acceleration=acceleration, angular_velocity=turning)
    # Just above the log's own rate, for a running mean is taken of what is much denser than the clock.
    times = uniform_times(float(time[0]), float(time[-1]), rate_hz=101.0)
    signal = resample(log, times, max_bridge_s=BRIDGE)
    whole = CubicSpline(time, np.column_stack([acceleration, turning]))(times)
    np.testing.assert_allclose(np.column_stack([signal.acceleration, signal.angular_velocity]), whole, atol=1e-9)


@settings(max_examples=20, deadline=None)
@given(st.lists(st.integers(5, 790), min_size=1, max_size=6, unique=True))
def test_few_lost_samples_are_filled_as_by_one_spline_through_all(gone: list[int]) -> None:
    log = without(foot_log(stop_s=8.0), np.array(gone))
    times = uniform_times(0.0, 7.99, rate_hz=100.0)
    signal = resample(log, times, max_bridge_s=0.2)
    whole = CubicSpline(log.time, np.column_stack([log.acceleration, log.angular_velocity]))(times)
    np.testing.assert_allclose(np.column_stack([signal.acceleration, signal.angular_velocity]), whole, atol=1e-9)
    np.testing.assert_array_equal(np.flatnonzero(signal.interpolated), np.sort(gone))


def test_times_that_are_the_logs_own_take_no_copy_and_keep_the_limits_about_them() -> None:
    log = foot_log(stop_s=8.0)
    log = replace(
        log, acceleration=np.asfortranarray(log.acceleration), angular_velocity=np.asfortranarray(log.angular_velocity)
    )
    saturated = np.zeros(len(log.time), dtype=bool)
    saturated[[100, 101, 300]] = True
    signal = resample(log, log.time[50:700], max_bridge_s=BRIDGE, saturated=saturated)
    assert np.shares_memory(signal.acceleration, log.acceleration)
    np.testing.assert_array_equal(signal.angular_velocity, log.angular_velocity[50:700])
    np.testing.assert_array_equal(np.flatnonzero(signal.saturated), [50, 51, 52, 250, 251])
    assert signal.valid.all()
    assert not signal.interpolated.any()
