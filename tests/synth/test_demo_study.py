"""The demo study is an ordinary study folder, small, and says that it is invented."""

from pathlib import Path

import numpy as np
import pyarrow.csv as pc
import pyarrow.parquet as pq
import pytest
import yaml

from firstrocker.synth.study import write_demo_study

pytestmark = pytest.mark.untraced


@pytest.fixture(scope="module")
def study(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("demo")
    write_demo_study(folder, strides=4)
    return folder


def test_every_session_says_it_is_invented_and_its_logs_load(study: Path) -> None:
    assert "invented" in (study / "README.txt").read_text(encoding="utf-8")
    sessions = sorted(study.glob("sub-*/ses-*/session.yaml"))
    assert len(sessions) >= 4
    layouts, sides, shanks, rulers = set(), set(), set(), set()
    for path in sessions:
        text = path.read_text(encoding="utf-8")
        assert "Invented" in text.splitlines()[0]
        head = yaml.safe_load(text)
        assert path.parent.name == f"ses-{head['session']}"
        assert path.parent.parent.name == f"sub-{head['subject']}"
        rulers.add("foot_sensor" in head)
        shanks.add(any(log["segment"] == "shank" for walk in head["walks"] for log in walk["logs"]))
        for walk in head["walks"]:
            sides.add(len({log["side"] for log in walk["logs"]}))
            for log in walk["logs"]:
                layouts.add(log["logger"])
                file, profile = path.parent / log["file"], head["loggers"][log["logger"]]
                table = pq.read_table(file) if file.suffix == ".parquet" else pc.read_csv(file)
                columns = profile["columns"]
                assert {columns["time"], *columns["acceleration"], *columns["angular_velocity"]} <= set(
                    table.column_names
                )
                assert np.diff(table[columns["time"]].to_numpy()).min() > 0.0
                force = np.column_stack([table[c].to_numpy() for c in columns["acceleration"]])
                rest = np.linalg.norm(np.median(force[:150], axis=0))
                # Standing reads one gravity in the unit the profile names, but for bias and scale of ordinary parts.
                assert rest == pytest.approx({"g": 1.0, "m/s^2": 9.80665}[profile["units"]["acceleration"]], rel=0.03)
    assert (layouts, sides, shanks, rulers) == ({"bench_a", "bench_b"}, {1, 2}, {True, False}, {True, False})


def test_the_same_seed_writes_the_same_study(study: Path, tmp_path: Path) -> None:
    write_demo_study(tmp_path, strides=4)
    name = "sub-A1/ses-20260302/a_foot.csv"
    assert (study / name).read_bytes() == (tmp_path / name).read_bytes()
