"""The walks beside optics: the study made from them, the reference, the judge on a perfect and on a spoilt answer."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import yaml

from real import foot_mocap as mocap
from real import foot_paths, optics
from shared_data import DATA, needs

FOLDER = DATA / "foot_mocap"
pytestmark = [needs("foot_mocap"), pytest.mark.untraced]


def first() -> str:
    return mocap.development(FOLDER)[0]


def test_study_holds_what_was_published(tmp_path: Path) -> None:
    (folder,) = mocap.make_study(FOLDER, tmp_path, walks=[first()])
    session = yaml.safe_load((folder / "session.yaml").read_text())
    assert session["session"] == "development"
    table = pd.read_parquet(folder / session["walks"][0]["logs"][0]["file"])
    walk = mocap.read_walk(FOLDER, first())
    columns = session["loggers"]["published"]["columns"]
    assert np.array_equal(table[columns["acceleration"]].to_numpy(), walk.acceleration)
    assert np.array_equal(table[columns["angular_velocity"]].to_numpy(), walk.angular_velocity)
    assert table["time_s"].iloc[0] == 0.0
    assert np.median(np.diff(table["time_s"])) == pytest.approx(1.0 / mocap.RATE_HZ, rel=1e-3)
    rest = walk.acceleration[walk.time < 1.5].mean(axis=0)
    assert np.linalg.norm(rest) == pytest.approx(9.81, abs=0.02)


def test_six_walks_may_be_tuned_on_and_five_judge() -> None:
    assert len(mocap.development(FOLDER)) == 6
    assert len(mocap.held_back(FOLDER)) == 5
    assert not set(mocap.development(FOLDER)) & set(mocap.held_back(FOLDER))


@pytest.mark.parametrize("number", range(6))
def test_optics_fit_the_sensor(number: int) -> None:
    """The point sits some 4.5 cm from the sensor (6 cm once it was moved), the optics lag by less than two samples."""
    fitted = mocap.reference(FOLDER, mocap.development(FOLDER)[number]).alignment
    assert fitted.residual < 0.12 * fitted.signal
    assert 0.003 < fitted.lag_s < 0.010
    assert 0.035 < np.linalg.norm(fitted.lever) < 0.065


def test_optics_as_published_are_left_handed() -> None:
    walk = mocap.read_walk(FOLDER, first())
    step = 1.0 / mocap.RATE_HZ
    rotation, bias = optics.orientation(walk.acceleration, walk.angular_velocity, step)
    path, valid = optics.clean(walk.optical * [1.0, -1.0, 1.0], mocap.RATE_HZ)
    turning = walk.angular_velocity - bias
    fitted = optics.align(rotation, walk.acceleration, turning, path, valid, mocap.RATE_HZ)
    assert fitted.residual > 0.3 * fitted.signal


def test_published_stride_instants_are_stances() -> None:
    walk = mocap.read_walk(FOLDER, first())
    turning = np.degrees(np.linalg.norm(walk.angular_velocity, axis=1))
    assert np.interp(walk.mid_stance, walk.time, turning).max() < 20.0
    assert turning.max() > 300.0


def test_judge_of_the_reference_itself() -> None:
    ref = mocap.reference(FOLDER, first())
    instants = mocap.read_walk(FOLDER, first()).mid_stance
    same = foot_paths.judge_course(ref, instants, ref.time, ref.position @ optics.turned(1.0).T + [3.0, 2.0, 1.0])
    assert len(same) >= 5
    assert same[["length_error_mm", "peak_error_mm", "least_error_mm"]].abs().to_numpy().max() < 1e-6
    assert same["dip"].mean() > 0.7
    assert same["peak_mm"].between(60, 200).all()
    longer = foot_paths.judge_course(ref, instants, ref.time, 1.02 * ref.position)
    assert np.allclose(longer["length_error_mm"], 20.0 * longer["length_reference_m"])
    assert np.allclose(longer["peak_error_mm"], 0.02 * longer["peak_mm"])


def test_judge_reads_stride_lengths(tmp_path: Path) -> None:
    ref = mocap.reference(FOLDER, first())
    stance = mocap.read_walk(FOLDER, first()).mid_stance[:20]
    place = ref.at(stance)
    strides = pd.DataFrame(
        {
            "walk": first(),
            "bout": 0,
            "stride": np.arange(len(stance) - 1),
            "heel_strike_s": stance[:-1] - 0.3,
            "foot_flat_s": stance[:-1] - 0.2,
            "heel_off_s": stance[:-1] + 0.2,
            "next_heel_strike_s": stance[1:] - 0.3,
            "stride_length_m": np.hypot(*np.diff(place, axis=0)[:, :2].T) + 0.01,
            "steady": True,
        }
    )
    strides.loc[6, "next_heel_strike_s"] = strides.loc[7, "heel_strike_s"] = np.nan
    folder = tmp_path / f"sub-{mocap.SUBJECT}" / "ses-development"
    folder.mkdir(parents=True)
    strides.to_parquet(folder / "strides.parquet")
    table = foot_paths.judge(tmp_path, FOLDER)
    assert len(table) >= 12
    assert set(table["set"]) == {"development"}
    assert table["length_error_mm"].median() == pytest.approx(10.0, abs=3.0)
    told = foot_paths.summary(table, by="set", columns=("length_error_mm",))
    assert told["strides"].tolist() == [len(table)]
