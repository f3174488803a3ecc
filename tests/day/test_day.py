"""A walk that lasts a day (here: minutes), stretch by stretch: against the truth, and against the log held whole."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pyarrow.parquet as pq
import pytest

from day.small_day import CLOCKS, analysed, day_of, true_strikes, write
from firstrocker.measures import MEASURES
from firstrocker.settings import load_settings
from firstrocker.steps.check import check_session
from firstrocker.synth.day import Day, Faults
from shared_data import ROOT

PLAIN = day_of(("sit", 40.0), ("walk", 0.0), ("sit", 30.0), ("walk", 1.0), ("sit", 20.0), ("walk", 0.0), ("sit", 25.0))
"""No pedalling: without a screening some of it passes for strides."""
KEYS = ["side", "heel_strike_s"]


@pytest.fixture(scope="module")
def both_ways(tmp_path_factory: pytest.TempPathFactory) -> tuple[dict[str, Any], dict[str, Any]]:
    """One day: from Parquet, held whole; and from text, read in parts."""
    place = tmp_path_factory.mktemp("day")
    faults = Faults(clocks=CLOCKS, lost=0.0)
    whole = analysed(write(place / "sub-D1" / "ses-1", PLAIN, faults), place / "whole", whole_up_to_s=5400.0)
    text = write(place / "sub-D1" / "ses-2", PLAIN, faults, suffix="csv")
    return whole, analysed(text, place / "parted", whole_up_to_s=60.0)


def test_both_ways_find_every_stride_and_no_other(both_ways: tuple[dict[str, Any], dict[str, Any]]) -> None:
    for tables in both_ways:
        mine = tables["strides"][tables["strides"]["side"] == "left"]
        assert np.allclose(mine["heel_strike_s"], true_strikes(PLAIN, "left"), atol=0.012)
        other = tables["strides"][tables["strides"]["side"] == "right"]
        assert len(other) == len(PLAIN.strides["right"])


def test_both_ways_measure_alike(both_ways: tuple[dict[str, Any], dict[str, Any]]) -> None:
    """Within half of what a stride's own measurement is uncertain by, in the middle of the strides.

    Angles of ankle and shank are left out: the whole log's first rest is sitting, the day's are standing.
    """
    whole, parted = (tables["strides"] for tables in both_ways)
    for side in ("left", "right"):
        one, other = (table[table["side"] == side].reset_index(drop=True) for table in (whole, parted))
        assert np.allclose(one["next_heel_strike_s"] - one["heel_strike_s"], other["stride_time_s"], atol=0.003)
        assert (one["left_out"] == other["left_out"]).mean() > 0.9
        assert other["bout"].nunique() == 3
        for measure in MEASURES:
            if not measure.has_se or measure.column.startswith(("ankle", "shank", "first_rocker")):
                continue
            off = np.abs(other[measure.column] - one[measure.column])
            assert np.nanmedian(off) < 0.5 * np.nanmedian(one[f"{measure.column}_se"]), measure.column


def test_the_ankle_is_told_from_standing_not_from_sitting(
    both_ways: tuple[dict[str, Any], dict[str, Any]],
) -> None:
    """The gait slaps: at heel strike the ankle is near 0, with the shank as it was in standing; both ways agree."""
    whole, parted = (tables["strides"] for tables in both_ways)
    assert parted["ankle_heel_strike_deg"].notna().all()
    assert parted.groupby("side")["ankle_heel_strike_deg"].median().abs().max() < 8.0
    assert (
        whole.groupby("side")["ankle_heel_strike_deg"].median()
        - parted.groupby("side")["ankle_heel_strike_deg"].median()
    ).abs().max() < 1.0


def test_curves_belong_to_strides(both_ways: tuple[dict[str, Any], dict[str, Any]]) -> None:
    parted = both_ways[1]
    rows = parted["curves"].groupby(["side", "bout", "stride"]).size()
    assert (rows == 101).all()
    assert set(rows.index) == set(parted["strides"].set_index(["side", "bout", "stride"]).index)


def test_wear_is_told_either_way(both_ways: tuple[dict[str, Any], dict[str, Any]]) -> None:
    for tables in both_ways:
        wear: pd.DataFrame = tables["wear"]
        assert len(wear) == 4
        assert np.allclose(wear["recorded_s"], PLAIN.duration_s, atol=0.2)
        assert (wear["worn_s"] == wear["recorded_s"]).all()
        truth = sum(stop - first for first, stop in PLAIN.strides["left"])
        assert np.allclose(wear["walking_s"], truth, rtol=0.02)


MIXED = day_of(
    *(("sit", 20.0), ("walk", 1.0), ("pedal", 60.0), ("sit", 15.0), ("walk", 0.0), ("fidget", 60.0), ("walk", 1.0)),
    *(("sit", 20.0), ("walk", 1.0), ("ride", 60.0), ("walk", 0.0), ("sit", 15.0), ("walk", 1.0), ("sit", 12.0)),
)


BEFORE = day_of(*MIXED.parts[:7])
REMOUNTED_S = BEFORE.duration_s


@pytest.fixture(scope="module")
def mixed(tmp_path_factory: pytest.TempPathFactory) -> tuple[dict[str, Any], dict[str, Any], Day]:
    """A day with a logger that begins anew and sensors put on again otherwise."""
    place = tmp_path_factory.mktemp("mixed")
    faults = Faults(
        clocks=CLOCKS,
        lost=0.001,
        restart=(("shank", "left"), 0.62 * MIXED.duration_s, 20.0),
        remount_at=REMOUNTED_S,
    )
    folder = write(place / "sub-D1" / "ses-1", MIXED, faults)
    found = analysed(folder, place / "out", whole_up_to_s=60.0)
    return found, json.loads((place / "out" / "quality.json").read_text()), MIXED


def test_no_stride_is_lost_and_none_is_made_up(mixed: tuple[dict[str, Any], dict[str, Any], Day]) -> None:
    strides = mixed[0]["strides"]
    mine = strides[strides["side"] == "left"]
    true = true_strikes(MIXED, "left")
    near = np.abs(mine["heel_strike_s"].to_numpy()[:, None] - true[None, :])
    assert (near.min(axis=0) < 0.06).all()
    assert (near.min(axis=1) > 0.06).sum() <= 2  # setting off to pedal may look like a step
    assert set(np.diff(np.unique(mine["bout"]))) == {1}


def test_after_a_logger_began_anew_nothing_is_measured_on_a_clock_that_nobody_knows(
    mixed: tuple[dict[str, Any], dict[str, Any], Day],
) -> None:
    """Six minutes are too short to find how long the shank's had stopped; ``test_day_clock.py`` has whole days."""
    tables, quality, day = mixed
    codes = {finding["code"] for finding in quality["findings"]}
    assert "logger-restarted" in codes
    mine = tables["strides"][tables["strides"]["side"] == "left"]
    early = mine["next_heel_strike_s"] < 0.62 * day.duration_s
    late = mine["heel_strike_s"] > 0.62 * day.duration_s
    assert late.sum() > 10
    assert mine.loc[early, "ankle_heel_strike_deg"].notna().mean() > 0.8
    assert mine.loc[late, ["ankle_heel_strike_deg", "slap_rate_deg_s"]].isna().all(axis=None)
    assert mine.loc[late, "foot_pitch_heel_strike_deg"].notna().mean() > 0.9


def test_the_session_says_so_once(mixed: tuple[dict[str, Any], dict[str, Any], Day]) -> None:
    findings = mixed[1]["findings"]
    told = [(finding["code"], finding["segment"], finding["side"]) for finding in findings]
    assert len(told) == len(set(told))
    assert all(finding["walk"] == "day" for finding in findings if finding["segment"])


def test_one_recording_given_for_two_sensors_is_refused(tmp_path: Path) -> None:
    folder = write(tmp_path / "sub-D1" / "ses-1", day_of(("sit", 40.0), ("walk", 0.0), ("sit", 30.0)), Faults())
    (folder / "shank_left.parquet").write_bytes((folder / "foot_left.parquet").read_bytes())
    assert analysed(folder, tmp_path / "out", whole_up_to_s=60.0)["strides"].empty
    quality = json.loads((tmp_path / "out" / "quality.json").read_text())
    assert quality["status"] == "rejected"
    assert "same-recording" in {finding["code"] for finding in quality["findings"]}
    assert pq.read_table(tmp_path / "out" / "curves.parquet").num_rows == 0


def test_a_check_reads_the_beginning_of_a_day(tmp_path: Path) -> None:
    """Nothing to mend but that there is one walk; and a wrong unit is told without reading all of it."""
    folder = write(tmp_path / "sub-D1" / "ses-1", day_of(("sit", 90.0), ("walk", 0.0)), Faults())
    settings = load_settings({"day": {"whole_up_to_s": 60.0}})
    loggers = ROOT / "config" / "loggers"
    assert [f.code for f in check_session(folder, settings=settings, loggers=loggers)] == []
    session = folder / "session.yaml"
    session.write_text(session.read_text().replace("time: s,", "time: ms,"))
    codes = {f.code for f in check_session(folder, settings=settings, loggers=loggers)}
    assert codes == {"wrong-unit"}
