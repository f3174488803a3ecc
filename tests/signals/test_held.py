"""Values written again because there were no new ones are found, taken out and told; real repetitions stay."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from firstrocker.errors import LogError
from firstrocker.model import FloatArray
from firstrocker.signals.held import release
from signals.made import foot_log, rows_of


@cache
def walk(rate_hz: float) -> tuple[FloatArray, FloatArray]:
    rows = rows_of(foot_log(rate_hz=rate_hz, stop_s=20.0))
    return rows[:, 0], rows[:, 1:]


def logged(rate_hz: float, sensor_hz: float) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """What a logger of one rate writes of a sensor of another, and the sensor's own samples."""
    time, values = walk(sensor_hz)
    at = np.arange(0.0, time[-1], 1.0 / rate_hz)
    return at, values[np.searchsorted(time, at + 1e-9, side="right") - 1], time, values


@pytest.mark.parametrize(
    ("rate_hz", "sensor_hz"), [(200, 100), (200, 50), (400, 100), (200, 104), (128, 100), (100, 90)]
)
def test_a_logger_faster_than_its_sensor(rate_hz: float, sensor_hz: float) -> None:
    at, held, time, values = logged(rate_hz, sensor_hz)
    seconds, freed, findings = release(at, held, where="a")
    assert [one.code for one in findings] == ["sample-and-hold"]
    assert findings[0].severity == "warning"
    told = float(findings[0].message.split("gives ")[1].split(" ")[0])
    assert told == pytest.approx(sensor_hz, rel=2e-3)
    assert abs(len(seconds) / (len(time) - 1) - 1.0) < 0.01
    # A value appears within one row of when it was measured, and at an even pace.
    np.testing.assert_allclose(np.diff(seconds), 1.0 / sensor_hz, rtol=0.02, atol=1e-4)
    true = np.column_stack([np.interp(seconds, time, column) for column in values.T])
    shifted = np.column_stack([np.interp(seconds - 0.5 / rate_hz, time, column) for column in values.T])
    assert (
        min(np.abs(freed - true).mean(), np.abs(freed - shifted).mean()) < 0.35 * np.abs(np.diff(values, axis=0)).mean()
    )


def test_one_sensor_slower_than_the_other_is_interpolated() -> None:
    time, values = walk(100)
    held = values.copy()
    held[1::2, :3] = held[:-1:2, :3][: len(held[1::2])]
    seconds, freed, findings = release(time, held, where="a")
    assert [one.code for one in findings] == ["sample-and-hold"]
    assert "acceleration comes 50 times a second" in findings[0].message
    np.testing.assert_array_equal(seconds, time)
    np.testing.assert_array_equal(freed[:, 3:], values[:, 3:])
    np.testing.assert_allclose(freed[2:-2:2, :3], values[2:-2:2, :3], atol=1e-9)
    assert np.abs(freed[:, :3] - values[:, :3]).mean() < 0.5 * np.abs(held[:, :3] - values[:, :3]).mean()


@pytest.mark.parametrize("part", [slice(0, 6), slice(0, 3), slice(3, 6)])
def test_lost_samples_filled_with_the_last_one_count_as_lost(part: slice) -> None:
    time, values = walk(100)
    moving = np.flatnonzero(np.linalg.norm(values[:, 3:], axis=1) > 1.0)
    rows = np.random.default_rng(1).choice(moving[5:-5], 40, replace=False)
    held = values.copy()
    for row in sorted(rows):
        held[row, part] = held[row - 1, part]
    seconds, freed, findings = release(time, held, where="a")
    assert [one.code for one in findings] == ["samples-held"]
    gone = np.setdiff1d(np.arange(len(time)), np.searchsorted(time, seconds))
    assert len(set(gone) - set(rows)) <= 2
    assert len(set(rows) - set(gone)) <= 2
    np.testing.assert_array_equal(freed, values[np.searchsorted(time, seconds)])


def test_a_sound_log_stays_as_it_is_however_coarse() -> None:
    for rate_hz in (100, 200, 1000):
        time, values = walk(rate_hz)
        for steps in (None, np.array([0.01] * 3 + [0.001] * 3), np.array([0.1] * 3 + [0.02] * 3)):
            coarse = values if steps is None else np.round(values / steps) * steps
            seconds, freed, findings = release(time, coarse, where="a")
            assert findings == []
            np.testing.assert_array_equal(seconds, time)
            np.testing.assert_array_equal(freed, coarse)


def test_a_sensor_that_gives_next_to_nothing_is_refused() -> None:
    at, held, _, _ = logged(100, 10)
    with pytest.raises(LogError, match="no more than 10 new values per second"):
        release(at, held, where="a")
