"""A look at an unknown log: right, or unsure, never wrong and sure; what it prints reads the file."""

from __future__ import annotations

import subprocess
import sys
from collections import Counter
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
import yaml

from firstrocker.errors import LogError
from firstrocker.signals.describe import describe
from firstrocker.signals.description import Description, profile_yaml
from firstrocker.signals.guess_clock import rates_told
from firstrocker.signals.guess_motion import SIGNED, misfit
from firstrocker.signals.profiles import LoggerProfile, load_profile
from firstrocker.signals.readers import read_log
from firstrocker.steps.describe import describe_log
from signals.layouts import ASKS, RIGHT, WRONG, Made, any_layout, judge, walk, write

MATRIX = 16


def judged(made: Made, path: Path) -> tuple[str, str, Description]:
    truth = write(made, path)
    described = describe(path)
    return *judge(described, path, truth), described


def test_made_up_layouts_are_right_or_said_to_be_unsure(tmp_path: Path) -> None:
    rng = np.random.default_rng(11)
    results: Counter[str] = Counter()
    for _ in range(MATRIX):
        made = any_layout(rng)
        result, why, _ = judged(made, tmp_path / "log.any")
        assert result != WRONG, (why, made)
        known = made.turning != "counts" and not (made.clock in ("none", "counter", "counter 256") and not made.above)
        results[result if known else "not to be known"] += 1
    assert results[RIGHT] >= 0.9 * (MATRIX - results["not to be known"])


@pytest.mark.parametrize(
    "made",
    [
        Made(),
        Made(delimiter="\t", decimal=",", clock="s", acceleration="m/s^2", turning="rad/s", names="units"),
        Made(names="none", delimiter="  ", clock="us", acceleration="mg"),
        Made(names="long", extras=("mag", "quat", "temperature"), shuffled=True, encoding="utf-16", packed="zip"),
        Made(segments=("foot", "shank"), by_rows=True, clock="epoch ms"),
        Made(segments=("foot", "shank"), by_rows=False, clock="iso8601", delimiter=";", decimal=","),
        Made(clock="counter 256", above=("Rate: 100 Hz",), units_row=True, names="digits"),
        Made(acceleration="counts", turning="rad/s", rate_hz=200.0, above=("# made up",)),
    ],
    ids=range(8),
)
def test_known_layouts_are_read(tmp_path: Path, made: Made) -> None:
    result, why, described = judged(made, tmp_path / "log.any")
    assert (result, why) == (RIGHT, "")
    assert described.usable
    assert len(described.others) == len(made.segments) - 1


def test_what_is_printed_loads_and_reads_the_file(tmp_path: Path) -> None:
    path = tmp_path / "log.txt"
    truth = write(Made(delimiter="\t", clock="counter", above=("Rate: 100 Hz",), names="long"), path)
    text, troubles = describe_log(path)
    assert troubles == []
    (tmp_path / "own.yaml").write_text(text)
    log, findings = read_log(path, profile=load_profile(tmp_path / "own.yaml"), segment="foot", side="left", where="a")
    np.testing.assert_allclose(log.angular_velocity, truth["foot"].angular_velocity, atol=1e-4)
    assert findings == ()
    for sure in ("high", "fair"):
        assert f"\n# {sure} " in text
    several, _ = describe_log_of(Made(segments=("foot", "shank"), by_rows=True), path)
    assert len(list(yaml.safe_load_all(several))) == 2


def describe_log_of(made: Made, path: Path) -> tuple[str, list[str]]:
    write(made, path)
    return describe_log(path)


def test_the_preview_shows_the_walk_and_no_more_points_than_a_picture_needs(tmp_path: Path) -> None:
    truth = write(Made(), tmp_path / "log.csv")["foot"]
    preview = describe(tmp_path / "log.csv").preview
    assert preview is not None
    assert 100 < len(preview.time_s) <= 600
    assert len(preview.time_s) == len(preview.acceleration) == len(preview.angular_velocity)
    assert preview.acceleration.max() == pytest.approx(np.linalg.norm(truth.acceleration, axis=1).max(), rel=1e-3)
    assert preview.acceleration[0] == pytest.approx(9.8, rel=0.05)


# What must not pass in silence.


def changed(path: Path, column: Any, by: Any, made: Made = Made()) -> Description:  # noqa: B008  (frozen)
    """A description of a comma-separated log in which some columns were changed."""
    write(made, path)
    head, *lines = path.read_text().split()
    names = head.split(",")
    rows = np.array([[float(cell) for cell in line.split(",")] for line in lines])
    rows[:, [names.index(one) for one in column]] = by(rows[:, [names.index(one) for one in column]])
    path.write_text("\n".join([head, *(",".join(f"{value:.7g}" for value in row) for row in rows)]))
    return describe(path)


@pytest.mark.parametrize("kind", ["normal", "slap", "brisk"])
def test_a_sign_turned_round_or_axes_exchanged_are_not_called_sure(tmp_path: Path, kind: str) -> None:
    for column, by in (
        (["gx", "gy", "gz"], lambda v: -v),
        (["gx", "gy", "gz"], lambda v: v[:, [1, 2, 0]]),
        (["ax", "ay", "az"], lambda v: v * [-1, 1, 1]),
    ):
        described = changed(tmp_path / "log.csv", column, by, Made(kind=kind))
        sure = {item.key: item.sure for item in described.items}
        assert described.problems or sure["columns.angular_velocity"] != "high"


def test_acceleration_without_gravity_is_a_problem(tmp_path: Path) -> None:
    made = Made()
    still = np.mean(walk(made.kind, made.seed, made.rate_hz)[0].acceleration[:100] / 9.80665, axis=0)
    described = changed(tmp_path / "log.csv", ["ax", "ay", "az"], lambda v: v - still)
    assert not described.usable
    assert "gravity has been taken off" in " ".join(problem.what for problem in described.problems)


def test_names_that_say_another_unit_than_the_numbers_are_doubted(tmp_path: Path) -> None:
    made = Made(names="units", acceleration="g", turning="deg/s")
    write(made, tmp_path / "log.csv")
    text = (tmp_path / "log.csv").read_text().replace("[g]", "[m/s^2]").replace("[deg/s]", "[rad/s]")
    (tmp_path / "log.csv").write_text(text)
    described = describe(tmp_path / "log.csv")
    assert described.profile["units"] == {"time": "ms", "acceleration": "g", "angular_velocity": "deg/s"}
    assert {item.key for item in described.doubtful} >= {"units.acceleration", "units.angular_velocity"}


def test_counts_of_a_gyroscope_and_an_unknown_rate_are_asked_for(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    write(Made(turning="counts", acceleration="fine", clock="counter"), path)
    described = describe(path)
    assert {problem.key for problem in described.problems} == {"scale.angular_velocity", "sampling_rate_hz"}
    scale = next(item for item in described.items if item.key == "scale.angular_velocity")
    assert scale.value is None
    write(Made(turning="counts", acceleration="fine"), path)
    scale = next(item for item in describe(path).items if item.key == "scale.angular_velocity")
    assert min(abs(one * 16.384 - 1.0) for one in scale.alternatives) < 0.01
    (tmp_path / "own.yaml").write_text(describe_log(path)[0])
    with pytest.raises(LogError, match="scale"):
        load_profile(tmp_path / "own.yaml")


def test_parquet_of_two_sensors_in_turn(tmp_path: Path) -> None:
    foot, shank = walk("normal", 1, 100.0)
    n = min(len(foot.time), len(shank.time))
    rows = np.column_stack([foot.time, foot.acceleration, foot.angular_velocity])[:n]
    other = np.column_stack([shank.time, shank.acceleration, shank.angular_velocity])[:n]
    both = np.stack([rows, other], axis=1).reshape(-1, 7)
    names = ["time", "ax", "ay", "az", "gx", "gy", "gz"]
    table = pa.table({"segment": ["foot", "shank"] * n} | dict(zip(names, both.T, strict=True)))
    pq.write_table(table, tmp_path / "log.parquet")
    described = describe(tmp_path / "log.parquet")
    assert [described.sensor, *(one.sensor for one in described.others)] == ["foot", "shank"]
    assert described.profile["rows"] == {"column": "segment", "equals": "foot"}
    assert judge(described, tmp_path / "log.parquet", {"foot": foot, "shank": shank})[0] == RIGHT


@pytest.mark.parametrize(
    "content", [b"x", b"a,b\n1,2\n" * 99, b"a,b,c,d,e,f,g\n1,2,3,4,5,6,7\n", b"{}\n" * 99, bytes(999)], ids=range(5)
)
def test_what_is_no_log_is_refused(tmp_path: Path, content: bytes) -> None:
    (tmp_path / "a").write_bytes(content)
    with pytest.raises(LogError):
        describe(tmp_path / "a")


def test_noise_is_no_sensor(tmp_path: Path) -> None:
    rng = np.random.default_rng(0)
    rows = np.column_stack([np.arange(3000) / 100, np.cumsum(rng.standard_normal((3000, 9)), axis=0)])
    np.savetxt(tmp_path / "a.csv", rows, delimiter=",", fmt="%.6f")
    described = describe(tmp_path / "a.csv")
    assert not described.usable


def test_the_command_prints_the_profile_and_says_what_is_in_the_way(tmp_path: Path) -> None:
    write(Made(), tmp_path / "log.csv")
    told = subprocess.run(
        [sys.executable, "-m", "firstrocker", "describe", tmp_path / "log.csv"],
        capture_output=True,
        text=True,
        check=False,
    )
    assert (told.returncode, told.stderr) == (0, "")
    assert LoggerProfile.model_validate(yaml.safe_load(told.stdout)).units.acceleration == "g"
    write(replace(Made(), clock="none"), tmp_path / "log.csv")
    told = subprocess.run(
        [sys.executable, "-m", "firstrocker", "describe", tmp_path / "log.csv"],
        capture_output=True,
        text=True,
        check=False,
    )
    assert told.returncode == 2
    assert "sampling_rate_hz" in told.stderr
    assert "Traceback" not in told.stderr


# Parts.


def test_rates_in_the_lines_above() -> None:
    assert rates_told(["Acquisition frequency: 100 Hz"]) == [100.0]
    assert rates_told(["// Update Rate: 120.0Hz", "Start 2026"]) == [120.0]
    assert rates_told(["Sampling rate [Hz]; 128", "Battery 98"]) == [128.0]
    assert rates_told(["100 samples per second, low-pass 20 Hz"]) == [20.0, 100.0]
    assert rates_told(["made 2026-03-02 at 10:15"]) == []


@pytest.mark.parametrize("kind", ["normal", "hemiparetic"])
def test_gravity_is_turned_best_by_the_axes_as_they_are(kind: str) -> None:
    for log in walk(kind, 2, 100.0):
        size = np.median(np.linalg.norm(log.acceleration[:100], axis=1))
        fit = misfit(log.acceleration / size, log.angular_velocity, rate_hz=100.0)
        assert fit is not None
        assert int(np.argmin(fit)) == 0
        # Turning both sensors' axes alike changes nothing.
        turn = SIGNED[np.linalg.det(SIGNED) > 0][5]
        turned = misfit(
            log.acceleration @ turn.T / size, log.angular_velocity @ turn.T, rate_hz=100.0, turns=SIGNED[:1]
        )
        assert turned is not None
        assert turned[0] == pytest.approx(fit[0], rel=1e-6)


def test_profile_yaml_keeps_values() -> None:
    profile = {"units": {"time": "ms"}, "delimiter": ";", "comment": "#", "header": False, "rows": {"equals": "a: b"}}
    assert yaml.safe_load(profile_yaml(profile)) == profile
    assert profile_yaml({"sampling_rate_hz": None}) == "sampling_rate_hz: null\n"
    assert ASKS
