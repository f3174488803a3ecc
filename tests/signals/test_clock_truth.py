"""What a clock fit says of its own error, and that a walk's clocks may begin anywhere together."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np

from firstrocker.model import ClockFit, FloatArray, Log, WalkSignals
from firstrocker.signals.clocks import align_walk
from signals.two_link import Sensor, leg, record

FEW = 25


@cache
def sensors(strides: int) -> tuple[Sensor, Sensor]:
    return leg(strides=strides, seed=1)


def aligned(*logs: Log) -> WalkSignals:
    return align_walk(logs, walk="a", rate_hz=None, max_bridge_s=0.05, max_offset_s=10.0)


def errors_s(clock: ClockFit, log: Log, *, offset_s: float, drift_ppm: float) -> FloatArray:
    """How far each of a log's samples lies from its true time on the clock of a foot log that is right."""
    true = (log.time - offset_s) / (1.0 + 1e-6 * drift_ppm)
    return np.asarray(clock.offset_s + (1.0 + 1e-6 * clock.drift_ppm) * log.time - true)


def test_the_offset_is_told_with_an_error_that_covers_it() -> None:
    foot, shank = sensors(FEW)
    off = []
    for seed in range(4):
        second = record(shank, rate_hz=100.0, segment="shank", clock_offset_s=1e4, clock_drift_ppm=30.0, seed=seed)
        clock = aligned(record(foot, rate_hz=100.0, seed=seed + 10), second).clocks[1]
        middle = errors_s(clock, second, offset_s=1e4, drift_ppm=30.0)[len(second.time) // 2]
        off.append(abs(middle) / clock.offset_se_s)
        assert 0.0 < clock.offset_se_s < 0.004
    assert max(off) < 2.0


def test_shifting_the_first_foot_logs_clock_changes_no_signal() -> None:
    foot, shank = sensors(FEW)
    first, second = (
        record(foot, rate_hz=100.0),
        record(shank, rate_hz=100.0, segment="shank", clock_offset_s=2.0, seed=2),
    )
    shift = 4096.0
    plain = aligned(first, second)
    moved = aligned(replace(first, time=first.time + shift), replace(second, time=second.time + shift))
    np.testing.assert_allclose(moved.time, plain.time, atol=1e-9)
    for one, other in zip(plain.signals, moved.signals, strict=True):
        np.testing.assert_array_equal(one.valid, other.valid)
        np.testing.assert_allclose(one.angular_velocity, other.angular_velocity, atol=1e-3)
        np.testing.assert_allclose(one.acceleration, other.acceleration, atol=1e-2)
