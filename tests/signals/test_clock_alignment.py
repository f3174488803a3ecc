"""Foot and shank on one clock: offset and drift from the ankle they share, and no shank where nothing matches."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation, RotationSpline

from firstrocker.errors import SignalError
from firstrocker.model import ClockFit, Finding, FloatArray, Log, Side, WalkSignals
from firstrocker.signals.clocks import align_walk
from firstrocker.signals.lag import candidate_lags
from firstrocker.synth.sensors import QUALITIES
from firstrocker.synth.trial import trial
from shared_data import DATA, needs
from signals import two_link
from signals.made import foot_log, leg, shank_log


def align(*logs: Log, rate_hz: float | None = None, max_offset_s: float = 10.0) -> WalkSignals:
    return align_walk(logs, walk="a", rate_hz=rate_hz, max_bridge_s=0.05, max_offset_s=max_offset_s)


def clock(walk: WalkSignals, segment: str = "shank", side: Side = "left") -> ClockFit:
    return next(c for c in walk.clocks if c.segment == segment and c.side == side)


def codes(walk: WalkSignals) -> dict[str, Finding]:
    return {f.code: f for f in walk.findings}


def errors_ms(fit: ClockFit, *, offset_s: float, drift_ppm: float, foot_start_s: float, end_s: float) -> FloatArray:
    """Error of the shank's walk times at start, middle and end; its clock reads offset + (1 + drift) * true time."""
    true = np.array([0.0, 0.5 * end_s, end_s])
    own = offset_s + (1.0 + drift_ppm * 1e-6) * true
    found = fit.offset_s + (1.0 + fit.drift_ppm * 1e-6) * own
    return np.asarray(1000.0 * (found - (true - foot_start_s)))


# What was asked of the alignment: 2 ms of offset, 20 millionths of drift over minutes.
@pytest.mark.untraced
@pytest.mark.parametrize("rate_hz", [50.0, 100.0, 200.0])
@pytest.mark.parametrize(("strides", "drift_within"), [(15, None), (120, 20.0)])
def test_offset_and_drift_of_a_made_up_leg(rate_hz: float, strides: int, drift_within: float | None) -> None:
    foot_sensor, shank_sensor = leg(strides, seed=strides)
    foot = two_link.record(foot_sensor, rate_hz=rate_hz, lost_share=0.03, start_s=0.4)
    how: dict[str, Any] = {"clock_offset_s": 2.0, "clock_drift_ppm": 100.0, "lost_share": 0.03, "gain": 1.04}
    shank = two_link.record(shank_sensor, rate_hz=rate_hz, segment="shank", seed=7, **how)
    fit = clock(align(foot, shank))
    assert fit.matched
    off = errors_ms(fit, offset_s=2.0, drift_ppm=100.0, foot_start_s=0.4, end_s=foot_sensor.end_s)
    assert np.abs(off).max() < 2.0
    assert 0.0015 < fit.offset_se_s < 0.004
    if drift_within is not None:
        assert fit.drift_ppm == pytest.approx(-100.0, abs=drift_within)


@pytest.mark.untraced
@pytest.mark.parametrize("kind", ["normal", "slap", "forefoot", "shuffling", "too_much_resistance", "hemiparetic"])
@pytest.mark.parametrize("quality", ["ordinary", "cheap"])
def test_offset_and_drift_of_simulated_walkers(kind: str, quality: str) -> None:
    sensors = replace(QUALITIES[quality], lost=0.03)
    made = trial(kind, seed=11, quality=sensors, strides=10, shank_offset_s=2.0, shank_drift_ppm=100.0)
    walk = align(*made.logs.logs)
    foot = made.logs.logs[0]
    off = errors_ms(
        clock(walk), offset_s=2.0, drift_ppm=100.0, foot_start_s=float(foot.time[0]), end_s=float(foot.time[-1])
    )
    assert np.abs(off).max() < 2.0


@pytest.mark.parametrize("offset_s", [0.0, 1.7e9, -3.5, 250.0])
@pytest.mark.parametrize("start_s", [0.0, 2.0])
def test_a_clock_may_read_anything_and_a_log_begin_late(offset_s: float, start_s: float) -> None:
    walk = align(foot_log(), shank_log(clock_offset_s=offset_s, start_s=start_s))
    fit = clock(walk)
    assert fit.matched
    own = offset_s + 10.0
    assert fit.offset_s + (1 + fit.drift_ppm * 1e-6) * own == pytest.approx(10.0, abs=0.002)
    shank = walk.find("shank", "left")
    assert shank is not None
    # The log that began late is not made up before its start.
    assert np.count_nonzero(~shank.valid[: int(100 * start_s)]) == pytest.approx(100 * start_s, abs=1)


def test_the_shank_comes_out_where_it_was_true() -> None:
    """The signal itself, not the clock alone: what is compared is what the sensor felt at the walk's times."""
    foot, shank = leg()
    walk = align(foot_log(start_s=0.5), shank_log(clock_offset_s=5.0, clock_drift_ppm=60.0, bias=(0.0, 0.0)))
    found = walk.find("shank", "left")
    assert found is not None
    true = shank.angular_velocity(walk.time + 0.5)
    error = (found.angular_velocity - true)[found.valid]
    assert np.sqrt(np.mean(error**2)) < 0.03
    late = shank.angular_velocity(walk.time + 0.5 + 0.01)
    assert np.sqrt(np.mean((found.angular_velocity - late) ** 2)) > 0.1
    assert foot.end_s > walk.time[-1]


def test_clocks_that_agree_are_left_alone() -> None:
    walk = align(foot_log(), shank_log())
    fit = clock(walk)
    assert (fit.offset_s, fit.drift_ppm, fit.matched) == (0.0, 0.0, True)
    assert "its clock agrees with the foot log's" in codes(walk)["clocks-aligned"].message
    shank = walk.find("shank", "left")
    assert shank is not None
    np.testing.assert_allclose(shank.angular_velocity, shank_log().angular_velocity, atol=1e-9)


def test_the_walks_clock_is_the_first_foots() -> None:
    foot = foot_log(start_s=1.0, clock_offset_s=77.0)
    walk = align(shank_log(clock_offset_s=77.0), foot)
    assert walk.rate_hz == 100.0
    np.testing.assert_allclose(walk.time, np.arange(len(foot.time)) / 100.0)
    signal = walk.find("foot", "left")
    assert signal is not None
    np.testing.assert_allclose(signal.acceleration, foot.acceleration, atol=1e-6)
    np.testing.assert_allclose(align(foot, rate_hz=200.0).time, np.arange(2 * len(foot.time) - 1) / 200.0)


@pytest.mark.parametrize("seed", [31, 32, 33])
def test_a_shank_of_another_walk_never_matches_and_is_left_out(seed: int) -> None:
    shank = two_link.record(leg(20, seed)[1], rate_hz=100.0, segment="shank", seed=3)
    walk = align(foot_log(), shank)
    assert not clock(walk).matched
    assert walk.find("shank", "left") is None
    finding = codes(walk)["clocks-never-match"]
    assert finding.severity == "warning"
    assert "cannot be laid on the clock of the foot log" in finding.message
    assert "not measured in this walk" in finding.message
    assert walk.find("foot", "left") is not None


def test_standing_logs_do_not_match() -> None:
    walk = align(foot_log(stop_s=2.9), shank_log(stop_s=2.9))
    assert not clock(walk).matched


def test_clocks_farther_apart_than_is_searched_do_not_match() -> None:
    late = shank_log(start_s=6.0, clock_offset_s=1e6)
    assert not clock(align(foot_log(), late, max_offset_s=2.0)).matched
    assert clock(align(foot_log(), late, max_offset_s=8.0)).matched


def test_foot_and_shank_exchanged_are_refused() -> None:
    foot, shank = replace(shank_log(), segment="foot"), replace(foot_log(), segment="shank")
    with pytest.raises(SignalError, match="look exchanged on the left side") as caught:
        align(foot, shank)
    assert caught.value.code == "foot-shank-exchanged"
    assert "exchange 'segment'" in caught.value.remedy


def test_one_recording_for_two_sensors_is_refused() -> None:
    with pytest.raises(SignalError, match="left foot and the left shank were given the same recording"):
        align(foot_log(), replace(foot_log(clock_offset_s=3.0), segment="shank"))


def test_two_sensors_on_one_foot_are_not_taken_for_foot_and_shank() -> None:
    body, _ = two_link.walk(strides=20, seed=0)
    beside = body.sensor(np.array([0.05, 0.03, 0.02]), Rotation.random(rng=np.random.default_rng(5)))
    walk = align(foot_log(), two_link.record(beside, rate_hz=100.0, segment="shank", seed=9))
    assert "shank-turns-as-foot" in codes(walk)
    assert walk.find("shank", "left") is None


def test_the_other_foot_keeps_its_times_or_starts_together() -> None:
    left = foot_log()
    right = replace(two_link.record(leg(20, 5)[0], rate_hz=100.0, start_s=0.3), side="right", source="right foot")
    walk = align(left, right)
    assert "one clock was assumed" in codes(walk)["sides-not-aligned"].message
    signal = walk.find("foot", "right")
    assert signal is not None
    np.testing.assert_array_equal(np.flatnonzero(signal.valid)[0], 30)
    walk = align(left, replace(right, time=right.time + 1e6))
    assert "first samples were laid together" in codes(walk)["sides-not-aligned"].message
    signal = walk.find("foot", "right")
    assert signal is not None
    assert signal.valid[0]
    assert codes(walk)["sides-not-aligned"].severity == "info"


def test_a_shank_without_its_foot_is_left_out() -> None:
    walk = align(foot_log(), replace(shank_log(), side="right"))
    assert walk.find("shank", "right") is None
    assert "no usable foot log of the right side" in codes(walk)["shank-without-foot"].message


def test_a_log_that_cannot_be_used_leaves_the_others() -> None:
    foot, shank = foot_log(), shank_log()
    broken = replace(shank, acceleration=shank.acceleration / 9.80665)
    walk = align(foot, broken)
    assert codes(walk)["wrong-unit"].severity == "warning"
    assert "The ankle and shank are not measured" in codes(walk)["wrong-unit"].message
    assert walk.find("shank", "left") is None
    with pytest.raises(SignalError, match="gravity in g"):
        align(replace(foot, acceleration=foot.acceleration / 9.80665), shank)
    with pytest.raises(SignalError, match="no foot log"):
        align(shank)


def test_places_of_findings_are_on_the_walks_clock() -> None:
    shank = shank_log(clock_offset_s=40.0, start_s=0.5)
    keep = np.ones(len(shank.time), dtype=bool)
    keep[1000:1050] = False
    shank = replace(
        shank,
        time=shank.time[keep],
        acceleration=shank.acceleration[keep],
        angular_velocity=shank.angular_velocity[keep],
    )
    gap = codes(align(foot_log(start_s=0.2), shank))["gap"]
    assert gap.start_s == pytest.approx(0.5 + 9.99 - 0.2, abs=0.005)
    assert gap.walk == "a"
    assert (gap.segment, gap.side) == ("shank", "left")


def test_candidate_lags_find_a_shifted_copy() -> None:
    rng = np.random.default_rng(0)
    signal = np.convolve(rng.standard_normal(2000), np.ones(8), mode="same")
    both = np.column_stack([signal, np.abs(signal)])
    lags = candidate_lags(both[300:], both[:1800], rate_hz=25.0, around_s=(0.0,), within_s=20.0, count=3)
    assert lags[0] == pytest.approx(12.0)
    assert not (
        np.abs(candidate_lags(both[300:], both, rate_hz=25.0, around_s=(0.0,), within_s=5.0, count=3)) > 5
    ).any()


@settings(max_examples=30, deadline=None)
@given(st.integers(250, 700), st.integers(250, 700), st.integers(-90, 90), st.integers(5, 60), st.integers(0, 9))
def test_candidate_lags_are_the_peaks_of_the_correlation_over_what_overlaps(
    n: int, m: int, around: int, within: int, seed: int
) -> None:
    rng = np.random.default_rng(seed)
    first, second = (np.convolve(rng.standard_normal(k), np.ones(6), mode="same") for k in (n, m))
    pair = [np.column_stack([one, one**2]) for one in (first, second)]
    found = candidate_lags(*pair, rate_hz=1.0, around_s=(float(around),), within_s=float(within), count=4)
    score = {}
    for lag in range(around - within, around + within + 1):
        low, high = max(0, -lag), min(n, m - lag)
        parts = [(x[low:high], y[low + lag : high + lag]) for x, y in zip(pair[0].T, pair[1].T, strict=True)]
        score[lag] = sum(float(np.corrcoef(x, y)[0, 1]) for x, y in parts) * np.sqrt(high - low)
    peaks = [k for k in score if score[k] >= score.get(k - 1, -np.inf) and score[k] > score.get(k + 1, -np.inf)]
    assert list(found) == sorted(peaks, key=lambda k: -score[k])[:4]


def real_log(number: str, side: Side, segment: Any) -> Log:
    """A log of the open recording; its gyroscope is made from the orientation it comes with."""
    file = DATA / "shank_foot_orientation" / f"MT_012005D6_009-001_00B4{number}.txt"
    cells = [line.split("\t") for line in file.read_text().splitlines()[6:]]
    time = np.array([float(row[0]) for row in cells]) / 100.0
    turns = Rotation.from_matrix(
        np.array([[float(c) for c in row[17:26]] for row in cells]).reshape(-1, 3, 3).swapaxes(1, 2)
    )
    acceleration = np.array([[float(c) for c in row[14:17]] for row in cells])
    return Log(segment, side, time, acceleration, RotationSpline(time, turns)(time, 1), source=f"{side} {segment}")


@needs("shank_foot_orientation")
@pytest.mark.parametrize(
    ("side", "foot", "shank", "wrong"), [("left", "21E6", "21ED", "227D"), ("right", "21EF", "227D", "21ED")]
)
def test_a_real_leg_on_one_clock(side: Side, foot: str, shank: str, wrong: str) -> None:
    """The set's sensors share one clock (its README; mark: seen there): the true offset is what is added here."""
    first, second = real_log(foot, side, "foot"), real_log(shank, side, "shank")
    clocks = {c.segment: c for c in align(first, second).clocks}
    assert (clocks["shank"].offset_s, clocks["shank"].drift_ppm) == (clocks["foot"].offset_s, 0.0)
    late = replace(second, time=second.time + 500.0)
    fit = next(c for c in align(first, late).clocks if c.segment == "shank")
    assert fit.matched
    middle = float(np.mean(second.time))
    found = fit.offset_s + (1 + fit.drift_ppm * 1e-6) * (middle + 500.0)
    assert found == pytest.approx(middle - first.time[0], abs=0.004)
    other = align(first, real_log(wrong, side, "shank"))
    assert other.find("shank", side) is None
    assert "clocks-never-match" in codes(other)
