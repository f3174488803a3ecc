"""Sensors put on otherwise within a day or a walk: told, and no number measured with another seat than its own."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from scipy.spatial.transform import Rotation

from day.small_day import CLOCKS, analysed, day_of, write
from firstrocker.chain import analyse
from firstrocker.model import FloatArray, Log
from firstrocker.settings import Settings
from firstrocker.synth.day import Faults, Remount
from firstrocker.synth.trial import Trial, trial

HALF = [part for walk in (0.0, 1.0, 0.0) for part in (("walk", walk), ("sit", 14.0))]
BEFORE = [("sit", 20.0), *HALF, ("lie", 15.0)]
DAY = day_of(*BEFORE, ("sit", 15.0), *HALF)
ANEW_S = day_of(*BEFORE).duration_s
FOOT, SHANK, OTHER_FOOT, OTHER_SHANK = CLOCKS


def about(axis: str, degrees: float) -> FloatArray:
    return np.asarray(Rotation.from_euler(axis, degrees, degrees=True).as_matrix())


def worn(place: Path, **remount: Any) -> tuple[pd.DataFrame, list[dict[str, Any]]]:
    """The day's strides and findings, its sensors put on anew in the middle."""
    faults = Faults(clocks=CLOCKS, lost=0.0, remounts=(Remount(ANEW_S - 0.1, **remount),))
    folder = write(place / "sub-D1" / "ses-1", DAY, faults)
    strides = analysed(folder, place / "out", whole_up_to_s=60.0)["strides"]
    return strides, json.loads((place / "out" / "quality.json").read_text())["findings"]


@pytest.fixture(scope="module")
def as_before(tmp_path_factory: pytest.TempPathFactory) -> pd.DataFrame:
    strides, findings = worn(tmp_path_factory.mktemp("same"))
    assert {f["code"] for f in findings}.isdisjoint({"sensor-put-on-anew", "sensor-remounted", "sensor-slipped"})
    return strides


def test_each_part_of_a_day_is_measured_as_its_sensors_sat(tmp_path: Path, as_before: pd.DataFrame) -> None:
    turned = {FOOT: about("z", 180.0), SHANK: about("z", 40.0) @ about("y", 6.0)}
    strides, findings = worn(tmp_path, turned=turned)
    told = [f for f in findings if f["code"] == "sensor-put-on-anew"]
    assert {(f["segment"], f["side"]) for f in told} == {("foot", "left"), ("shank", "left")}
    assert all(f["start_s"] < ANEW_S < f["end_s"] for f in told)
    keys = ["side", "bout", "stride"]
    both = strides.merge(as_before, on=keys, suffixes=("", "_before"))
    assert len(both) == len(as_before)
    for measure in ("foot_pitch_heel_strike_deg", "slap_rate_deg_s", "toe_clearance_min_mm"):
        assert np.allclose(both[measure], both[f"{measure}_before"], atol=2.0, rtol=0.02), measure


def test_foot_and_shank_exchanged_from_noon_on_are_not_measured_from_then(
    tmp_path: Path, as_before: pd.DataFrame
) -> None:
    strides, findings = worn(tmp_path, exchanged=((FOOT, SHANK),))
    told = next(f for f in findings if f["code"] == "foot-shank-exchanged-since")
    assert told["side"] == "left"
    assert abs(told["start_s"] - ANEW_S) < 30.0
    mine, before = (table[table["side"] == "left"] for table in (strides, as_before))
    assert mine["heel_strike_s"].max() < ANEW_S
    assert len(mine) == (before["heel_strike_s"] < ANEW_S).sum()
    assert (strides["side"] == "right").sum() == (as_before["side"] == "right").sum()


def test_left_and_right_exchanged_from_noon_on_is_refused(tmp_path: Path) -> None:
    """The left side slaps, the right one does not."""
    strides, findings = worn(tmp_path, exchanged=((FOOT, OTHER_FOOT), (SHANK, OTHER_SHANK)))
    assert strides.empty
    told = [f for f in findings if f["code"] == "sides-exchanged-since"]
    assert [f["severity"] for f in told] == ["error"]


@pytest.fixture(scope="module")
def walked() -> tuple[Trial, pd.DataFrame]:
    made = trial("slap", seed=5)
    whole = analyse(made.person, (made.logs,), settings=Settings())
    assert "sensor-remounted" not in {f.code for f in whole.findings}
    return made, whole.strides.to_pandas()


def remounted(log: Log, at_s: float, axis: str, degrees: float) -> Log:
    """The log with its sensor turned about the upright or the sideways line of its segment from ``at_s`` on."""
    up = log.acceleration[20:200].mean(axis=0)
    up /= np.linalg.norm(up)
    level = log.angular_velocity - np.outer(log.angular_velocity @ up, up)
    line = up if axis == "up" else np.linalg.eigh(level.T @ level)[1][:, 2]
    turn = Rotation.from_rotvec(np.radians(degrees) * line).as_matrix()
    late = (log.time >= at_s)[:, None]
    force, rate = (np.where(late, values @ turn.T, values) for values in (log.acceleration, log.angular_velocity))
    return replace(log, acceleration=force, angular_velocity=rate)


@pytest.mark.parametrize(
    ("segment", "axis", "degrees"),
    [("foot", "up", 180.0), ("shank", "up", 180.0), ("shank", "side", 12.0)],
)
def test_no_stride_of_a_whole_walk_counts_with_another_seat(
    walked: tuple[Trial, pd.DataFrame], segment: str, axis: str, degrees: float
) -> None:
    made, before = walked
    at_s = 0.5 * float(
        before[before["bout"] == 0]["next_heel_strike_s"].max()
        + before[before["bout"] == 1].iloc[0, :]["heel_strike_s"]
    )
    logs = tuple(remounted(one, at_s, axis, degrees) if one.segment == segment else one for one in made.logs.logs)
    found = analyse(made.person, (replace(made.logs, logs=logs),), settings=Settings())
    told = [f for f in found.findings if f.code == "sensor-remounted"]
    assert [f.segment for f in told] == [segment]
    strides = found.strides.to_pandas()
    strides = strides[strides["steady"]]
    assert len(strides) >= 5
    near = [before.iloc[int((before["heel_strike_s"] - time).abs().argmin())] for time in strides["heel_strike_s"]]
    for measure in ("ankle_heel_strike_deg", "slap_rate_deg_s", "toe_clearance_min_mm"):
        off = strides[measure].to_numpy() - np.array([row[measure] for row in near])
        assert np.isfinite(off).any() or measure != "toe_clearance_min_mm"
        assert np.nan_to_num(np.abs(off)).max() < (40.0 if measure == "slap_rate_deg_s" else 2.0), measure
