"""Clocks through a day: laid by when two sensors moved, and by lines through the lags that stretches tell."""

from __future__ import annotations

import numpy as np
import pytest

from firstrocker.model import FloatArray
from firstrocker.signals.day_clock import ClockCourse, close_course, lag_at, rough_course, together
from firstrocker.signals.digest import Digest


def moved(time: FloatArray) -> FloatArray:
    """How much somebody moved at each time (s): bursts of invented length, some thousand seconds of them."""
    rng = np.random.default_rng(8)
    starts = np.cumsum(rng.uniform(15.0, 160.0, 400))
    stops = starts + rng.uniform(4.0, 40.0, 400)
    place = np.searchsorted(starts, time) - 1
    return np.where((place >= 0) & (time < stops[np.maximum(place, 0)]), 2.0, 0.05)


def log_of(true: FloatArray, *, start: float = 0.0, restarts: tuple[float, ...] = (), seed: int = 1) -> Digest:
    """A log in brief whose tenths were at these true times."""
    rng = np.random.default_rng(seed)
    turning = (moved(true) * rng.lognormal(0.0, 0.3, len(true))).astype(np.float32)
    none = np.empty((0, 3), dtype=np.float32)
    return Digest(start, np.full(len(true), 10), turning, turning, none, none[:, 0], none, restarts)


FIRST = np.arange(8 * 36_000) / 10.0


@pytest.mark.parametrize(("offset", "ppm"), [(0.0, 0.0), (7.3, 100.0), (-412.0, -60.0)])
def test_a_drifting_clock_is_followed(offset: float, ppm: float) -> None:
    """100 ppm are 2.9 s in eight hours."""
    true = (FIRST - offset) / (1.0 + 1e-6 * ppm)
    course = rough_course(log_of(FIRST), log_of(true, seed=2))
    assert course.known
    for time in (3000.0, 14_000.0, 27_000.0):
        lag, se = lag_at(course, time)
        assert lag == pytest.approx(offset + 1e-6 * ppm * time, abs=0.1)
        assert se < 0.2
    assert course.drift_ppm() == pytest.approx(ppm, abs=10.0)


def test_a_clock_that_began_anew_is_found_again() -> None:
    """It had stopped for 95 s; its log, unrolled, goes on at once."""
    at, stopped = 13_000.0, 95.0
    true = np.where(at > FIRST, FIRST, FIRST + stopped)
    course = rough_course(log_of(FIRST), log_of(true, restarts=(at,), seed=3))
    assert course.breaks == pytest.approx((at,), abs=1.0)
    assert lag_at(course, 9000.0)[0] == pytest.approx(0.0, abs=0.1)
    assert lag_at(course, 12_990.0)[0] == pytest.approx(0.0, abs=0.2)
    assert lag_at(course, 13_200.0)[0] == pytest.approx(-stopped, abs=0.2)


def test_two_that_never_moved_alike_are_not_laid() -> None:
    strange = log_of(FIRST[::-1] + 40_000.0, seed=4)
    assert not rough_course(log_of(FIRST), strange).known
    assert np.isnan(lag_at(rough_course(log_of(FIRST), strange), 10.0)[0])


def test_without_movement_the_logs_own_times_are_believed_where_they_overlap() -> None:
    assert together(log_of(FIRST, start=100.0), log_of(FIRST, start=160.0)) == -60.0
    assert together(log_of(FIRST, start=100.0), log_of(FIRST, start=1e6)) == 0.0


def test_a_stretch_without_evidence_inherits_and_one_wrong_lag_is_outvoted() -> None:
    rough = ClockCourse(np.zeros(1), np.zeros(1), np.ones(1))
    times = np.arange(0.0, 40_000.0, 900.0)
    lags = 0.2 + 70e-6 * times
    lags[20] += 0.5
    course = close_course(rough, times.tolist(), lags.tolist(), [0.003] * len(times))
    for time in (450.0, times[20], 39_000.0, 43_000.0):
        lag, se = lag_at(course, time)
        assert lag == pytest.approx(0.2 + 70e-6 * time, abs=0.006)
        assert 0.0 < se < 0.03
    assert lag_at(course, 60_000.0)[1] > 3.0 * lag_at(course, 10_000.0)[1]
