"""Ramps and stairs are told from level ground, measured over the ground they are, and kept apart."""

from typing import Any

import numpy as np
import pyarrow as pa
import pytest

from firstrocker import tables
from firstrocker.chain import Result, analyse
from firstrocker.gait.findings import stride_findings
from firstrocker.model import Finding, Signal
from firstrocker.motion.foot import FootMotion, track_foot
from firstrocker.motion.ground import DOWN, GROUNDS, LEVEL, STAIRS_UP, UNKNOWN, UP, find_ground
from firstrocker.motion.relief import over_ground
from firstrocker.motion.seat import check_seat
from firstrocker.settings import Settings
from firstrocker.synth.terrain import Section
from firstrocker.synth.trial import Trial, trial
from firstrocker.synth.truth import Row
from firstrocker.synth.walker import U_TURN
from motion.walked import analysed, signal_of

Pairs = list[tuple[Row, dict[str, Any]]]
LEVEL_PART = Section("level", 4)
ROUTE = (
    LEVEL_PART,
    Section("ramp", 4, slope_deg=3.0),
    LEVEL_PART,
    Section("ramp", 4, slope_deg=-5.0),
    LEVEL_PART,
    Section("stairs", 3, riser_m=0.17),
    LEVEL_PART,
    Section("stairs", 3, riser_m=-0.16, together=True),
    Section("level", 3),
)


@pytest.fixture(scope="module")
def walk() -> Trial:
    return trial("toe_drop", seed=7, terrain=ROUTE, turns=(), bouts=1)


@pytest.fixture(scope="module")
def result(walk: Trial) -> Result:
    return analyse(walk.person, (walk.logs,), settings=Settings())


@pytest.fixture(scope="module")
def pairs(walk: Trial, result: Result) -> Pairs:
    rows = result.strides.to_pylist()
    assert len(rows) == len(walk.truth.strides)
    for true, found in zip(walk.truth.strides, rows, strict=True):
        assert abs(found["heel_strike_s"] - float(true["heel_strike_s"])) < 0.03
    return list(zip(walk.truth.strides, rows, strict=True))


def test_every_stride_is_on_its_ground(pairs: Pairs) -> None:
    for true, found in pairs:
        if true["ground"] == "mixed":
            assert not found["steady"], found["heel_strike_s"]
        else:
            assert found["ground"] == true["ground"], found["heel_strike_s"]
            assert found["left_out"] == true["left_out"]


def test_clearance_and_angles_on_a_ramp_are_as_right_as_on_the_level(pairs: Pairs) -> None:
    columns = {"toe_clearance_min_mm": 1.0, "heel_clearance_max_mm": 1.0, "foot_pitch_heel_strike_deg": 0.3}
    columns |= {"shank_mid_stance_deg": 0.3, "ankle_heel_strike_deg": 0.3}
    worst: dict[str, dict[str, float]] = {}
    for ground in ("level", "up", "down"):
        here = [(t, f) for t, f in pairs if t["ground"] == f["ground"] == ground]
        assert len(here) >= 2, ground
        worst[ground] = {c: max(abs(f[c] - float(t[c])) for t, f in here) for c in columns}
        assert worst["level"]["toe_clearance_min_mm"] < 5.0
        assert all(worst[ground][c] < worst["level"][c] + more for c, more in columns.items()), worst
        assert all(f["contact"] == t["contact"] for t, f in here), ground


def test_no_clearance_is_given_over_stairs(result: Result) -> None:
    rows: list[dict[str, Any]] = result.strides.to_pylist()
    on_stairs = [row for row in rows if row["ground"].startswith("stairs")]
    assert len(on_stairs) >= 6
    for row in on_stairs:
        assert row["toe_clearance_min_mm"] is None
        assert row["toe_clearance_kind"] is None
        assert row["heel_clearance_max_mm_se"] is None
        assert row["stride_time_s"] is not None
        assert not row["steady"]
    drawn = result.curves.to_pylist()
    numbers = {(row["bout"], row["stride"]) for row in on_stairs}
    assert {(c["bout"], c["stride"]) for c in drawn if c["toe_height_mm"] is None} >= numbers


def test_one_sentence_says_how_many(result: Result) -> None:
    (told,) = (f for f in result.findings if f.code == "ground-not-level")
    counts = result.strides["left_out"].to_pylist()
    assert f"{counts.count('stairs')} on stairs or just off them" in told.message
    assert told.severity == "info"
    assert result.status == "ok"


def test_grounds_and_reasons_are_those_of_the_tables(result: Result) -> None:
    assert set(result.strides["ground"].to_pylist()) <= {*GROUNDS, UNKNOWN}
    assert set(result.strides["left_out"].to_pylist()) <= set(tables.LEFT_OUT_REASONS)
    assert result.strides.schema.field("ground").type == pa.string()


@pytest.mark.parametrize("kind", ["normal", "shuffling", "hemiparetic"])
def test_a_level_walk_with_a_turn_is_level_and_left_as_it_is(kind: str) -> None:
    foot = analysed(kind, seed=3, strides=9).foot
    ground = find_ground(foot)
    assert set(ground.kind) == {LEVEL}
    assert over_ground(foot, ground) is foot


def tracked(walk: Trial) -> tuple[FootMotion, Signal]:
    signal = signal_of(walk.logs.logs[0])
    foot = track_foot(
        signal,
        100.0,
        walk.person.foot,
        filter_name="vqf",
        rest_min_s=0.5,
        rest_gyro=float(np.radians(3.0)),
        standing_tolerance=float(np.radians(5.0)),
    )
    return foot, signal


def test_both_kinds_of_evidence_are_used(walk: Trial) -> None:
    foot, _ = tracked(walk)
    ground = find_ground(foot)
    ramps = np.isin(ground.kind, (UP, DOWN))
    assert np.abs(np.degrees(ground.slope[ramps])).max() == pytest.approx(5.0, abs=0.7)
    # A path that rises under a foot that lies level for 4 strides: neither surely a ramp nor, any more, surely level.
    flat = analysed("normal", seed=3).foot
    sure = find_ground(flat).chance[:, 0].min()
    flat.climb[np.flatnonzero(flat.moved)[2:6]] += 0.04
    doubtful = find_ground(flat)
    assert doubtful.chance[:, 0].min() < sure
    # A foot that lies tilted from there on while its path stays level: a seat that slipped, no ramp.
    slipped = analysed("normal", seed=3).foot
    slipped.pitch[slipped.anchors[len(slipped.anchors) // 2] :] += 0.05
    assert set(find_ground(slipped).kind) == {LEVEL}


def test_a_ramp_walked_up_and_down_is_no_sensor_that_slipped() -> None:
    walk = trial("slap", seed=3, terrain=(Section("ramp", 11, slope_deg=8.0),), turns=(U_TURN,), bouts=1)
    foot, signal = tracked(walk)
    ground = find_ground(foot)

    def codes(findings: tuple[Finding, ...]) -> set[str]:
        return {finding.code for finding in findings}

    assert {UP, DOWN} <= set(ground.kind)
    assert "sensor-slipped" in codes(check_seat(foot, signal).findings)
    assert "sensor-slipped" not in codes(check_seat(foot, signal, ground).findings)


def test_a_single_step_up_is_not_level(walk: Trial) -> None:
    foot = analysed("normal", seed=3, strides=8).foot
    foot.climb[np.flatnonzero(foot.moved)[4]] += 0.16
    kinds = find_ground(foot).kind
    assert kinds[4] in (STAIRS_UP, UNKNOWN)
    assert set(kinds) - {kinds[4]} == {LEVEL}


def test_nothing_is_said_of_strides_left_out_for_other_reasons() -> None:
    made = analysed("normal", strides=5)
    assert not [f for f in stride_findings(made.strides) if f.code == "ground-not-level"]
