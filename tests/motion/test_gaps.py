"""Gaps of a log: what they touch is not measured, what they do not touch is measured as if they were not there."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pyarrow as pa
import pytest

from firstrocker.chain import Result, analyse
from firstrocker.gait.measures import BY_SHANK
from firstrocker.model import Log, Segment
from firstrocker.settings import Settings
from firstrocker.synth.trial import Trial, trial

pytestmark = pytest.mark.untraced

GAP_S, EVERY_S = 0.35, 5.3
NEAR_DEG = 1.0
"""A gap in which the gyroscope is believed to go straight on tilts what follows by 10 deg and more."""


def holed(log: Log) -> Log:
    """The log without 0.35 s in every 5.3."""
    since = (log.time - log.time[0] - 6.0) % EVERY_S
    kept = (since > GAP_S) | (log.time - log.time[0] < 6.0)
    return replace(
        log, time=log.time[kept], acceleration=log.acceleration[kept], angular_velocity=log.angular_velocity[kept]
    )


@cache
def walked(kind: str) -> tuple[Trial, Result]:
    one = trial(kind, seed=12)
    return one, analyse(one.person, (one.logs,), settings=Settings())


@cache
def with_gaps(kind: str, segment: Segment) -> Result:
    one, _ = walked(kind)
    logs = tuple(holed(log) if log.segment == segment else log for log in one.logs.logs)
    return analyse(one.person, (replace(one.logs, logs=logs),), settings=Settings())


def pairs(whole: Result, gaps: Result) -> list[tuple[dict[str, object], dict[str, object]]]:
    """Strides found in both, by their heel strikes."""

    def by_strike(strides: pa.Table) -> dict[float, dict[str, object]]:
        return {round(row["heel_strike_s"], 1): row for row in strides.to_pylist() if row["heel_strike_s"]}

    before, after = by_strike(whole.strides), by_strike(gaps.strides)
    return [(before[strike], after[strike]) for strike in before.keys() & after.keys()]


@pytest.mark.parametrize("kind", ["slap", "shuffling"])
def test_strides_with_a_gap_of_the_shank_have_no_ankle_and_the_others_keep_theirs(kind: str) -> None:
    _, whole = walked(kind)
    both = pairs(whole, with_gaps(kind, "shank"))
    assert len(both) > 20
    hidden = [after for _, after in both if after["ankle_heel_strike_deg"] is None]
    assert 3 <= len(hidden) <= 9
    assert all(stride[name] is None for stride in hidden for name in BY_SHANK)
    assert all(stride["foot_pitch_heel_strike_deg"] is not None for stride in hidden)
    for name in ("ankle_heel_strike_deg", "ankle_mid_swing_deg", "shank_mid_stance_deg"):
        off = [a[name] - b[name] for b, a in both if a[name] is not None and b[name] is not None]  # type: ignore[operator]
        assert np.abs(off).max() < NEAR_DEG, name
    assert any("ankle and shank are not measured" in f.message for f in with_gaps(kind, "shank").findings)


@pytest.mark.parametrize("kind", ["slap", "shuffling"])
def test_strides_with_a_gap_of_the_foot_do_not_count_and_the_others_keep_their_angles(kind: str) -> None:
    _, whole = walked(kind)
    both = pairs(whole, with_gaps(kind, "foot"))
    assert sum(after["left_out"] == "quality" for _, after in both) >= 3
    steady = [(b, a) for b, a in both if a["steady"]]
    assert len(steady) >= 5
    for name in ("foot_pitch_heel_strike_deg", "foot_pitch_mid_swing_deg", "ankle_heel_strike_deg"):
        assert np.abs([a[name] - b[name] for b, a in steady]).max() < NEAR_DEG, name  # type: ignore[operator]
