"""A sensor that slips or falls, a gyroscope that reads too much or too little: told, and the strides left out."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from bench.faults import FAULTS
from firstrocker.chain import Result, analyse
from firstrocker.model import Finding, WalkInfo, WalkLogs
from firstrocker.settings import Settings
from firstrocker.synth.trial import Trial, trial

KINDS = ("normal", "hemiparetic")
CODES = {"sensor-slipped", "sensor-fell-off", "gyroscope-gain", "gyroscope-gain-unusable"}


@cache
def walked(kind: str) -> Trial:
    return trial(kind, seed=31, bouts=1)


@cache
def with_fault(kind: str, fault: str) -> Result:
    walk = walked(kind)
    log = FAULTS[fault](walk.logs.logs[0], np.random.default_rng(0))
    return analyse(walk.person, [WalkLogs(WalkInfo("a", "unbraced"), (log,))], settings=Settings())


def told(result: Result) -> dict[str, Finding]:
    return {finding.code: finding for finding in result.findings}


@pytest.mark.parametrize("kind", KINDS)
def test_a_sound_sensor_is_left_in_peace(kind: str) -> None:
    result = with_fault(kind, "none")
    assert not (CODES | {"side-doubtful"}) & set(told(result))
    assert result.status == "ok"


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize(("fault", "code"), [("slipped by 12 deg", "sensor-slipped"), ("fell off", "sensor-fell-off")])
def test_strides_in_another_seat_do_not_count(kind: str, fault: str, code: str) -> None:
    result = with_fault(kind, fault)
    finding = told(result)[code]
    assert result.status in ("flagged", "rejected")
    at = finding.start_s
    assert at is not None
    end = float(walked(kind).logs.logs[0].time[-1])
    assert at == pytest.approx((0.5 if code == "sensor-slipped" else 2 / 3) * end, abs=2.0)
    counting = [row for row in result.strides.to_pylist() if row["steady"]]
    sides = {row["heel_strike_s"] < at for row in counting}
    assert len(sides) <= 1, "strides of both seats count"
    true = {round(float(t["heel_strike_s"]), 1): t for t in walked(kind).truth.strides}
    for row in counting:
        near = min(true, key=lambda second: abs(second - row["heel_strike_s"]))
        off = row["foot_pitch_heel_strike_deg"] - true[near]["foot_pitch_heel_strike_deg"]
        assert abs(off) < 3.0


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("sign", ["+", "-"])
def test_a_gyroscope_that_reads_wrong_is_told_or_refused(kind: str, sign: str) -> None:
    slight = told(with_fault(kind, f"gyroscope {sign} 8 %"))["gyroscope-gain"]
    assert slight.severity == "warning"
    assert ("more" if sign == "+" else "less") in slight.message
    refused = with_fault(kind, f"gyroscope {sign} 20 %")
    assert told(refused)["gyroscope-gain-unusable"].severity == "error"
    assert refused.strides.num_rows == 0
    assert refused.status == "rejected"


def test_sides_exchanged_are_doubted_where_the_foot_swings_out_and_cannot_be_where_it_does_not() -> None:
    result = with_fault("hemiparetic", "left and right exchanged")
    assert told(result)["side-doubtful"].severity == "warning"
    assert result.status == "flagged"
    assert "side-doubtful" not in told(with_fault("normal", "left and right exchanged"))
