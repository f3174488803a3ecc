"""Walks of an hour: their clocks keep their accuracy though not every window is asked, and little room is taken."""

from __future__ import annotations

import tracemalloc
from functools import cache

import numpy as np
import pytest
from scipy.interpolate import CubicSpline

from firstrocker.model import FloatArray, Log, Segment, WalkSignals
from firstrocker.signals.clocks import align_walk
from signals.made import leg
from signals.two_link import record

OFFSET_S, HOUR_S = 2.0, 3600.0
SEGMENTS: tuple[Segment, Segment] = ("foot", "shank")


@cache
def hour() -> tuple[Log, FloatArray, FloatArray]:
    """The foot's log of a walk that is taken over and over, and the shank's true times and values (n, 6)."""
    foot, shank = (
        record(sensor, rate_hz=100.0, segment=segment, seed=seed)
        for sensor, segment, seed in zip(leg(), SEGMENTS, (1, 2), strict=True)
    )
    times = int(HOUR_S / (len(foot.time) / 100.0)) + 1
    time = np.arange(times * len(foot.time)) / 100.0
    both = [np.tile(np.hstack([log.acceleration, log.angular_velocity]).T, times).T for log in (foot, shank)]
    # Seams between two walks are steps that no sensor feels: there both stand, and what is left is a sensor's noise.
    return Log("foot", "left", time, both[0][:, :3], both[0][:, 3:]), time, both[1]


def shank_log(drift: float, values: FloatArray) -> Log:
    """A log of values (n, 6) on a clock that reads OFFSET_S and runs fast by ``drift``, with samples of its own."""
    _, time, _ = hour()
    own = np.arange(int(time[-1] * (1.0 + drift) * 100.0)) / 100.0 + OFFSET_S
    true = (own - OFFSET_S) / (1.0 + drift)
    made = CubicSpline(time, values)(true)
    return Log("shank", "left", own, made[:, :3], made[:, 3:])


def aligned(*logs: Log) -> WalkSignals:
    return align_walk(logs, walk="a", rate_hz=None, max_bridge_s=0.05, max_offset_s=10.0)


# At 150 parts in a million the clocks are half a second apart after an hour: no one lag makes the whole logs alike.
@pytest.mark.untraced
@pytest.mark.parametrize("drift", [-150e-6, 60e-6])
def test_an_hours_clock_is_right_all_along(drift: float) -> None:
    clock = aligned(hour()[0], shank_log(drift, hour()[2])).clocks[1]
    assert clock.matched
    true = np.linspace(0.0, HOUR_S, 7)
    own = OFFSET_S + (1.0 + drift) * true
    off = clock.offset_s + (1.0 + clock.drift_ppm * 1e-6) * own - true
    assert np.abs(off).max() < 0.001


def test_two_sensors_on_one_foot_are_told_though_their_clocks_drift_apart() -> None:
    foot, _, _ = hour()
    values = np.hstack([foot.acceleration, foot.angular_velocity])
    noise = 0.05 * np.random.default_rng(3).standard_normal(values.shape)
    walk = aligned(foot, shank_log(100e-6, values[:, [1, 2, 0, 4, 5, 3]] + noise))
    assert "shank-turns-as-foot" in {one.code for one in walk.findings}


def test_an_hour_on_one_clock_takes_little_room() -> None:
    foot, time, values = hour()
    # As they are read, a column in one piece.
    logs = [
        Log(segment, "left", time, np.asfortranarray(force), np.asfortranarray(turning))
        for segment, force, turning in zip(
            SEGMENTS, (foot.acceleration, values[:, :3]), (foot.angular_velocity, values[:, 3:]), strict=True
        )
    ]
    size = sum(log.time.nbytes + log.acceleration.nbytes + log.angular_velocity.nbytes for log in logs)
    tracemalloc.start()
    try:
        walk = aligned(*logs)
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert peak < 0.8 * size
    for log in logs:
        signal = walk.find(log.segment, "left")
        assert signal is not None
        np.testing.assert_array_equal(signal.acceleration, log.acceleration)
        assert np.shares_memory(signal.acceleration, log.acceleration)
