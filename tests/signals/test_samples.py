"""From columns to a log: units cancel, time shifts shift time only, disorder is mended or refused."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstrocker.errors import FirstrockerError, LogError, SignalError
from firstrocker.model import Finding, FloatArray, Log
from firstrocker.signals.samples import make_log
from firstrocker.signals.units import METRES_PER_SECOND_SQUARED, RADIANS_PER_SECOND, SECONDS, confusion
from signals.made import foot_log, rows_of

ROWS = rows_of(foot_log(stop_s=6.0))
N = len(ROWS)
TIMES = sorted(unit for unit in SECONDS if unit != "iso8601")


def made(rows: FloatArray = ROWS, **how: Any) -> tuple[Log, tuple[Finding, ...]]:
    said: dict[str, Any] = {
        "time_unit": "s",
        "acceleration_unit": "m/s^2",
        "angular_velocity_unit": "rad/s",
        "sampling_rate_hz": None,
        "segment": "foot",
        "side": "left",
        "mounting": None,
        "where": "a.csv",
    } | how
    return make_log(rows[:, 0], list(rows[:, 1:4].T), list(rows[:, 4:].T), **said)


def refused(rows: FloatArray, **how: Any) -> FirstrockerError:
    with pytest.raises((LogError, SignalError)) as caught:
        made(rows, **how)
    assert caught.value.where == "a.csv"
    return caught.value


@given(
    st.sampled_from(TIMES),
    st.sampled_from(sorted(METRES_PER_SECOND_SQUARED)),
    st.sampled_from(sorted(RADIANS_PER_SECOND)),
)
def test_any_mix_of_units_gives_the_same_log(time: str, acceleration: str, angular_velocity: str) -> None:
    factors = [SECONDS[time]]
    factors += [METRES_PER_SECOND_SQUARED[acceleration]] * 3 + [RADIANS_PER_SECOND[angular_velocity]] * 3
    log, findings = made(
        ROWS / factors, time_unit=time, acceleration_unit=acceleration, angular_velocity_unit=angular_velocity
    )
    plain, _ = made()
    np.testing.assert_allclose(log.time, plain.time, rtol=1e-12, atol=1e-12)
    np.testing.assert_allclose(log.acceleration, plain.acceleration, rtol=1e-12, atol=1e-12)
    np.testing.assert_allclose(log.angular_velocity, plain.angular_velocity, rtol=1e-12, atol=1e-12)
    assert findings == ()


@given(st.floats(-1e5, 2e9))
def test_a_shift_of_time_shifts_time_only(shift: float) -> None:
    log, _ = made(ROWS + np.array([shift, 0, 0, 0, 0, 0, 0]))
    np.testing.assert_allclose(log.time - shift, ROWS[:, 0], atol=1e-6)
    np.testing.assert_array_equal(log.acceleration, ROWS[:, 1:4])


@given(st.sets(st.integers(1, N - 2), max_size=30))
def test_rows_without_numbers_are_as_if_they_were_not_there(lost: set[int]) -> None:
    rows = ROWS.copy()
    for n, row in enumerate(lost):
        rows[row, n % 7] = np.nan
    log, _ = made(rows)
    without, _ = made(np.delete(ROWS, sorted(lost), axis=0))
    np.testing.assert_array_equal(log.time, without.time)
    np.testing.assert_array_equal(log.angular_velocity, without.angular_velocity)


@given(st.lists(st.integers(1, N - 3), max_size=4, unique=True))
def test_neighbours_that_changed_places_are_put_back(places: list[int]) -> None:
    rows = ROWS.copy()
    for place in places:
        rows[[place, place + 1]] = rows[[place + 1, place]]
    log, findings = made(rows)
    np.testing.assert_array_equal(log.time, ROWS[:, 0])
    np.testing.assert_array_equal(log.acceleration, ROWS[:, 1:4])
    assert {f.code for f in findings} <= {"time-out-of-order"}


def test_two_recordings_in_one_file_are_refused() -> None:
    error = refused(np.vstack([ROWS, ROWS]))
    assert "Time runs back (1 time)" in error.what
    assert f"first at sample {N + 1}" in error.what
    assert "two recordings" in error.remedy


def test_repeated_rows_and_times() -> None:
    log, (finding,) = made(np.insert(ROWS, 100, ROWS[99], axis=0))
    assert (len(log.time), finding.code, finding.severity) == (N, "rows-repeated", "info")
    other = ROWS.copy()
    other[100, 0] = other[99, 0]
    log, (finding,) = made(other)
    assert (len(log.time), finding.code, finding.severity) == (N - 1, "times-repeated", "warning")
    coarse = ROWS.copy()
    coarse[:, 0] = np.floor(coarse[:, 0] * 20) / 20
    error = refused(coarse)
    assert "The times are too coarse" in error.what
    assert "time: none" in error.remedy


@pytest.mark.parametrize(
    ("said", "meant"), [("s", "ms"), ("ms", "s"), ("s", "us"), ("ms", "ns"), ("us", "s"), ("ns", "us")]
)
def test_a_wrong_unit_of_time_is_told_with_the_right_one(said: str, meant: str) -> None:
    rows = ROWS.copy()
    rows[:, 0] /= SECONDS[meant]
    error = refused(rows, time_unit=said)
    assert error.code == "wrong-unit"
    assert f"look like {meant}, the logger profile says {said}" in error.what
    assert f"time: {meant}" in error.remedy


def test_logs_too_short_too_slow_or_too_long() -> None:
    assert "1 s long, less than two strides" in refused(ROWS[:101]).what
    assert "All samples have the same time" in refused(np.repeat(ROWS[:1], 300, axis=0)).what
    slow = refused(ROWS[::10])
    assert "10 per second" in slow.what
    assert "100 or 200 samples per second" in slow.remedy
    jump = ROWS.copy()
    jump[50:, 0] += 1e6
    assert "jump of 1,000,000 s after sample 50" in refused(jump).what


def test_without_times_the_rate_makes_them() -> None:
    columns = list(ROWS.T)
    how: dict[str, Any] = {
        "time_unit": "none",
        "acceleration_unit": "m/s^2",
        "angular_velocity_unit": "rad/s",
        "segment": "foot",
        "side": "left",
        "mounting": None,
        "where": "a.csv",
    }
    log, _ = make_log(None, columns[1:4], columns[4:], sampling_rate_hz=200.0, **how)
    np.testing.assert_allclose(log.time, np.arange(N) / 200)
    with pytest.raises(LogError, match="neither times nor a sampling rate"):
        make_log(None, columns[1:4], columns[4:], sampling_rate_hz=None, **how)


@given(st.sampled_from(sorted(METRES_PER_SECOND_SQUARED)), st.sampled_from(sorted(METRES_PER_SECOND_SQUARED)))
def test_two_units_mixed_up_are_told_apart(declared: str, meant: str) -> None:
    ratio = METRES_PER_SECOND_SQUARED[declared] / METRES_PER_SECOND_SQUARED[meant]
    told = confusion(ratio, METRES_PER_SECOND_SQUARED, tolerance=0.4)
    assert told == (None if declared == meant else (declared, meant))
