"""Faults of a log's signals: each is found, told with what to do, and a sound log is left in peace."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from firstrocker.errors import SignalError
from firstrocker.model import Finding, Log
from firstrocker.signals.checks import check_log, noise
from firstrocker.signals.quiet import quiet_magnitude, turning_ratio
from firstrocker.signals.units import METRES_PER_SECOND_SQUARED, RADIANS_PER_SECOND
from shared_data import DATA, needs
from signals.made import foot_log, shank_log

BRIDGE = 0.05


def findings(log: Log) -> dict[str, Finding]:
    return {f.code: f for f in check_log(log, max_bridge_s=BRIDGE).findings}


def refused(log: Log) -> SignalError:
    with pytest.raises(SignalError) as caught:
        check_log(log, max_bridge_s=BRIDGE)
    assert caught.value.where == log.source
    assert caught.value.remedy.endswith(".")
    return caught.value


@pytest.mark.parametrize("rate_hz", [50.0, 100.0, 200.0, 400.0])
@pytest.mark.parametrize("record", [foot_log, shank_log])
def test_a_sound_log_gives_no_finding(record: Any, rate_hz: float) -> None:
    checked = check_log(record(rate_hz=rate_hz), max_bridge_s=BRIDGE)
    assert checked.findings == ()
    assert not checked.saturated.any()


def test_a_walk_without_rest_is_left_for_later() -> None:
    for record in (foot_log, shank_log):
        assert findings(record(start_s=4.0, stop_s=20.0)) == {}


@pytest.mark.parametrize("record", [foot_log, shank_log])
@pytest.mark.parametrize("declared", sorted(METRES_PER_SECOND_SQUARED))
@pytest.mark.parametrize("meant", sorted(METRES_PER_SECOND_SQUARED))
def test_a_wrong_unit_of_acceleration(record: Any, declared: str, meant: str) -> None:
    log = record()
    factor = METRES_PER_SECOND_SQUARED[declared] / METRES_PER_SECOND_SQUARED[meant]
    log = replace(log, acceleration=log.acceleration * factor)
    if declared == meant:
        assert findings(log) == {}
        return
    error = refused(log)
    assert error.code == "wrong-unit"
    assert f"which is gravity in {meant}; the logger profile says {declared}" in error.what
    assert error.remedy == f"Write 'acceleration: {meant}' under 'units' in the logger profile."


@pytest.mark.parametrize("record", [foot_log, shank_log])
@pytest.mark.parametrize(("declared", "meant"), [("deg/s", "rad/s"), ("rad/s", "deg/s")])
def test_a_wrong_unit_of_angular_velocity(record: Any, declared: str, meant: str) -> None:
    log = record()
    factor = RADIANS_PER_SECOND[declared] / RADIANS_PER_SECOND[meant]
    error = refused(replace(log, angular_velocity=log.angular_velocity * factor))
    assert error.code == "wrong-unit"
    assert f"in {declared} by the logger profile, but must be in {meant}" in error.what
    assert f"angular_velocity: {meant}" in error.remedy


def test_a_standing_log_says_nothing_of_the_unit_of_turning() -> None:
    log = foot_log(stop_s=2.9)
    assert turning_ratio(log, rate_hz=100.0) is None


def test_gravity_taken_off_is_told() -> None:
    log = foot_log(noise=(0.05, 0.003))
    quiet = log.acceleration[:200].mean(axis=0)
    error = refused(replace(log, acceleration=log.acceleration - quiet))
    assert error.code == "no-gravity"
    assert "gravity has been taken off" in error.what


@pytest.mark.parametrize(
    ("gain", "severity"),
    [(1.02, None), (0.98, None), (1.05, "info"), (0.93, "info"), (1.12, "warning"), (0.88, "warning")],
)
def test_a_gain_error_is_told_by_its_size(gain: float, severity: str | None) -> None:
    log = foot_log(bias=(0.0, 0.01))
    told = findings(replace(log, acceleration=log.acceleration * gain))
    if severity is None:
        assert told == {}
        return
    finding = told["accelerometer-gain"]
    assert finding.severity == severity
    assert f"{100 * abs(gain - 1):.0f} % {'more' if gain > 1 else 'less'} than gravity" in finding.message


def test_a_gain_beyond_use_is_refused() -> None:
    log = foot_log()
    error = refused(replace(log, acceleration=log.acceleration * 1.3))
    assert error.code == "accelerometer-unusable"
    assert "instead of 9.8" in error.what


@pytest.mark.parametrize(
    ("axis", "words"), [((0, 1), "accelerometer y axis never changes"), ((1, 2), "gyroscope z axis never changes")]
)
def test_a_stuck_axis_is_refused(axis: tuple[int, int], words: str) -> None:
    log = foot_log()
    both = [log.acceleration.copy(), log.angular_velocity.copy()]
    both[axis[0]][:, axis[1]] = 0.0
    error = refused(replace(log, acceleration=both[0], angular_velocity=both[1]))
    assert error.code == "stuck-axis"
    assert words in error.what


@settings(max_examples=25, deadline=None)
@given(st.floats(0.3, 0.9), st.integers(0, 1), st.sampled_from([50.0, 100.0, 400.0]), st.booleans())
def test_samples_at_a_limit_are_found_and_only_those(share: float, which: int, rate_hz: float, scaled: bool) -> None:
    log = foot_log(rate_hz=rate_hz)
    both = [log.acceleration.copy(), log.angular_velocity.copy()]
    limit = max(share * np.abs(both[which]).max(), (15.5, 3.5)[which])
    beyond = np.abs(both[which]) >= limit
    both[which] = np.clip(both[which], -limit, limit) * (1.003 if scaled else 1.0)
    checked = check_log(replace(log, acceleration=both[0], angular_velocity=both[1]), max_bridge_s=BRIDGE)
    # An end of an axis counts only where three samples share it; the mask is a thousandth wide.
    ends = [(both[which] * sign).max(axis=0) >= limit * 0.9999 for sign in (1, -1)]
    enough = [
        (np.sum(both[which] * sign >= limit * 0.9999, axis=0) >= 3) & end
        for sign, end in zip((1, -1), ends, strict=True)
    ]
    wanted = sum(
        (beyond & (np.sign(both[which]) == sign) & good).any(axis=1) for sign, good in zip((1, -1), enough, strict=True)
    )
    assert (checked.saturated >= (wanted > 0)).all()
    assert checked.saturated.sum() <= np.sum(np.abs(both[which]) >= 0.998 * limit)
    told = {f.code for f in checked.findings}
    assert ("saturated" in told) == bool(np.any(enough))


def test_saturation_is_told_with_limit_and_place() -> None:
    log = foot_log()
    limit = np.radians(250.0)
    clipped = replace(log, angular_velocity=np.clip(log.angular_velocity, -limit, limit))
    finding = findings(clipped)["saturated"]
    assert finding.severity == "warning"
    assert "gyroscope stood at its limit of 250 deg/s" in finding.message
    assert finding.start_s is not None
    assert 3.0 < finding.start_s < 5.0


def test_a_resting_value_without_noise_is_no_limit() -> None:
    log = foot_log(noise=(0.0, 0.0))
    assert findings(log) == {}


def test_lost_samples_and_gaps() -> None:
    log = foot_log()
    keep = np.ones(len(log.time), dtype=bool)
    keep[500:504] = False
    keep[1000:1100] = False
    log = replace(
        log, time=log.time[keep], acceleration=log.acceleration[keep], angular_velocity=log.angular_velocity[keep]
    )
    told = findings(log)
    assert "104 samples (" in told["samples-lost"].message
    assert "gaps of up to 50 ms were interpolated, 1 longer gap left unmeasured" in told["samples-lost"].message
    gap = told["gap"]
    assert gap.start_s == pytest.approx(9.99)
    assert gap.end_s == pytest.approx(11.0)
    assert "a gap of 1 s" in gap.message


def test_rate_other_than_declared_and_low_rate() -> None:
    assert findings(replace(foot_log(), declared_rate_hz=100.0)) == {}
    told = findings(replace(foot_log(), declared_rate_hz=128.0))["rate-differs"]
    assert "come at 100 per second by their times, the logger profile says 128" in told.message
    assert "33 ms" in findings(foot_log(rate_hz=30.0))["rate-low"].message


def test_jitter() -> None:
    log = foot_log()
    rng = np.random.default_rng(0)
    shaken = replace(log, time=log.time + rng.uniform(-0.0035, 0.0035, len(log.time)))
    assert "irregular" in findings(shaken)["jitter"].message
    assert findings(replace(log, time=np.round(log.time, 3))) == {}


def test_noise_is_measured_under_movement() -> None:
    rng = np.random.default_rng(1)
    log = foot_log(noise=(0.0, 0.0))
    for sd in (0.02, 0.2, 1.0):
        noisy = log.acceleration + sd * rng.standard_normal(log.acceleration.shape)
        assert noise(noisy, window=25) == pytest.approx(sd, rel=0.25)
    told = findings(replace(log, acceleration=log.acceleration + rng.standard_normal(log.acceleration.shape)))
    assert "accelerometer is noisy" in told["noise"].message


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 1000))
def test_how_a_sensor_is_turned_changes_no_verdict(seed: int) -> None:
    log = foot_log()
    turn = Rotation.random(rng=np.random.default_rng(seed))
    turned = replace(log, acceleration=turn.apply(log.acceleration), angular_velocity=turn.apply(log.angular_velocity))
    assert quiet_magnitude(turned, rate_hz=100.0).magnitude == pytest.approx(
        quiet_magnitude(log, rate_hz=100.0).magnitude
    )
    assert turning_ratio(turned, rate_hz=100.0) == pytest.approx(turning_ratio(log, rate_hz=100.0), rel=1e-6)
    assert check_log(turned, max_bridge_s=BRIDGE).findings == ()


@needs("annotated_feet")
def test_real_feet_have_the_right_unit_and_the_left_ones_a_gain() -> None:
    """Each left accelerometer reads 10.0 to 10.5 m/s^2 at rest, says the set's README (mark: seen there)."""
    for subject in (1, 3, 5, 8):
        for side in ("l", "r"):
            rows = np.loadtxt(DATA / "annotated_feet" / f"{subject}-2_{side}f.txt", skiprows=2)[:, :7]
            log = Log("foot", "left", rows[:, 0] / 100.0, rows[:, 1:4], rows[:, 4:])
            magnitude = quiet_magnitude(log, rate_hz=100.0)
            assert magnitude.still
            assert 9.6 < magnitude.magnitude < 10.6
            ratio = turning_ratio(log, rate_hz=100.0)
            assert ratio is not None
            assert 0.5 < ratio < 3.0
            told = findings(log)
            assert {f.severity for code, f in told.items() if code == "accelerometer-gain"} <= {"info"}
            assert not {"wrong-unit", "saturated", "noise", "jitter"} & set(told)
