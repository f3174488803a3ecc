"""The annotated walks: the study made from them, the judge on a perfect and on a spoilt answer, and the real answer."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import yaml

from real import annotated_feet as feet
from shared_data import DATA, needs

FOLDER = DATA / "annotated_feet"
pytestmark = needs("annotated_feet")


def write_answer(results: Path, subject: int, *, shift_s: float = 0.0, drop: int | None = None) -> None:
    """A strides.parquet that says what the annotations say, each event ``shift_s`` late, less one stride per foot."""
    rows = []
    for walk in feet.WALKS:
        annotation = feet.read_annotation(FOLDER, subject, walk)
        for side in feet.SIDES:
            contact, off = annotation.contact[side] + shift_s, annotation.foot_off[side] + shift_s
            keep = [k for k in range(len(contact) - 1) if k != drop]
            rows += [
                {
                    "walk": str(walk),
                    "side": side,
                    "heel_strike_s": contact[k],
                    "toe_off_s": off[k + 1],
                    "next_heel_strike_s": contact[k + 1],
                    "steady": True,
                }
                for k in keep
            ]
    folder = results / f"sub-{feet.subject_label(subject)}" / f"ses-{feet.SESSION}"
    folder.mkdir(parents=True)
    pd.DataFrame(rows).to_parquet(folder / "strides.parquet")


def test_study_keeps_every_sample_and_tells_lost_ones(tmp_path: Path) -> None:
    """Walk 3-3 lost samples while walking: their time must pass in the study's log."""
    (folder,) = feet.make_study(FOLDER, tmp_path, subjects=(3,))
    session = yaml.safe_load((folder / "session.yaml").read_text())
    assert [walk["walk"] for walk in session["walks"]] == ["1", "2", "3"]
    profile = session["loggers"]["packets"]
    for log in session["walks"][2]["logs"]:
        table = pd.read_csv(folder / log["file"], sep=profile["delimiter"], skiprows=profile["skip_rows"])
        published = pd.read_csv(feet.log_path(FOLDER, 3, 3, log["side"]), sep="\t", skiprows=1)
        time = table[profile["columns"]["time"]].to_numpy()
        assert len(table) == len(published)
        assert np.all(np.diff(time) > 0.005)
        assert time[-1] - time[0] > len(table) / feet.RATE_HZ + 4.0  # 530 and 646 samples lost
        axes = profile["columns"]["acceleration"]
        assert np.array_equal(table[axes].to_numpy(), published[axes].to_numpy())


def test_the_counter_is_time() -> None:
    """Stride times of walk 3-3, at the foot's fastest turning in each push-off: even by the counter, not by rows."""
    published = pd.read_csv(feet.log_path(FOLDER, 3, 3, "left"), sep="\t", skiprows=1)
    count = published["PacketCounter"].to_numpy()
    turning = np.linalg.norm(published[["Gyr_X", "Gyr_Y", "Gyr_Z"]].to_numpy(), axis=1)
    annotation = feet.read_annotation(FOLDER, 3, 3)
    off = annotation.foot_off["left"]
    rows = []
    for instant in off[(off > annotation.turn[1] + 1.0) & (off < annotation.trial[1] - 1.0)]:
        near = np.flatnonzero(np.abs(count - count[0] - instant * feet.RATE_HZ) <= 10)
        rows.append(near[np.argmax(turning[near])])
    assert len(rows) >= 6
    by_counter, by_rows = np.diff(count[rows]), np.diff(rows)
    assert np.std(by_counter) < 5.0 < np.std(by_rows)


def test_judge_of_the_annotations_themselves(tmp_path: Path) -> None:
    write_answer(tmp_path, 1)
    table = feet.judge(tmp_path, FOLDER, subjects=(1,))
    assert (table["annotated"] > 90).all()
    assert (table["found"] == table["annotated"]).all()
    assert (table[["missed", "extra"]] == 0).all(axis=None)
    assert table["worst_ms"].max() < 0.1
    assert table["turn_steady"].max() > 0  # every stride was called steady


def test_judge_sees_late_and_missing_events(tmp_path: Path) -> None:
    write_answer(tmp_path, 1, shift_s=0.03, drop=4)
    heel, off = feet.judge(tmp_path, FOLDER, subjects=(1,)).to_dict("records")
    assert heel["bias_ms"] == pytest.approx(30.0, abs=0.1)
    assert off["bias_ms"] == pytest.approx(30.0, abs=0.1)
    assert off["missed"] == 6  # one per foot and walk
    assert heel["missed"] == 0  # a stride between others takes no heel strike away
    assert off["sd_ms"] < 0.1


def test_judge_counts_invented_events(tmp_path: Path) -> None:
    write_answer(tmp_path, 1, shift_s=0.4)
    heel = feet.judge(tmp_path, FOLDER, subjects=(1,)).to_dict("records")[0]
    assert heel["missed"] > 0.9 * heel["annotated"]
    assert heel["extra"] > 0.9 * heel["annotated"]
