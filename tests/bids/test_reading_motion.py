"""Datasets of others: labels with a meaning, sidecars higher up, other units and names, and what is wrong with them."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from firstrocker.errors import SessionError
from firstrocker.layout import session_files
from firstrocker.model import FloatArray
from firstrocker.settings import load_settings
from firstrocker.signals.motion_names import MotionLabels, axes_of, place_of, spatial_axes
from firstrocker.signals.read import SessionInput, read_session
from firstrocker.steps.check import check_study
from firstrocker.steps.labels import motion_labels
from signals.made import LOGGERS, foot_log, rows_of, shank_log

MEANT = {
    "bids": {
        "walks": {"shoe": {"condition": "unbraced"}, "soft": {"condition": "braced", "label": "soft", "resistance": 50}}
    }
}
FOLDER = "sub-01/ses-1/motion"


def write_dataset(root: Path, *, unit: tuple[str, str] = ("m/s^2", "rad/s")) -> Path:
    """Two recordings of foot and shank in one file, as somebody else would lay them out; returns the session."""
    folder = root / FOLDER
    folder.mkdir(parents=True)
    (root / "participants.tsv").write_text("participant_id\tage\taffected_side\nsub-02\t50\tright\nsub-01\t60\tLeft\n")
    # One sidecar for all, at the top: the standard's inheritance.
    (root / "task-walk_motion.json").write_text(
        json.dumps({"TaskName": "walk", "SamplingFrequency": 100, "TrackingSystemName": "imu"})
    )
    for number, acq in enumerate(("shoe", "soft")):
        foot, shank = (rows_of(log(stop_s=12.0, seed=20 + number)) for log in (foot_log, shank_log))
        factors = [{"m/s^2": 1.0, "g": 1 / 9.80665}[unit[0]]] * 3 + [{"rad/s": 1.0, "deg/s": 180 / np.pi}[unit[1]]] * 3
        values = np.column_stack([foot[:, 1:] * factors, foot[:, 0] * 0.0, shank[:, 1:] * factors])
        stem = folder / f"sub-01_ses-1_task-walk_tracksys-imu_acq-{acq}"
        np.savetxt(f"{stem}_motion.tsv", values, delimiter="\t", fmt="%.9g")
        lines = ["name\tcomponent\ttype\ttracked_point\tunits\tsampling_frequency"]
        for point in ("Foot_L", "LeftTibia"):
            for kind, of in (("ACCEL", unit[0]), ("GYRO", unit[1])):
                lines += [f"{point}_{kind}_{axis}\t{axis}\t{kind}\t{point}\t{of}\t100" for axis in "xyz"]
            if point == "Foot_L":
                lines.append("force\tn/a\tMISC\tplate\tN\t100")
        Path(f"{stem}_channels.tsv").write_text("\n".join(lines) + "\n")
    return root / "sub-01" / "ses-1"


def labels(data: dict[str, Any] | None = None) -> MotionLabels:
    return motion_labels(load_settings(MEANT if data is None else data))


def read(folder: Path, data: dict[str, Any] | None = None) -> SessionInput:
    return read_session(folder, loggers=LOGGERS, labels=labels(data))


def channels(folder: Path, change: Callable[[str], str]) -> None:
    for path in folder.glob("motion/*_channels.tsv"):
        path.write_text(change(path.read_text()))


@pytest.mark.parametrize("unit", [("m/s^2", "rad/s"), ("g", "deg/s")])
def test_a_dataset_is_a_study(tmp_path: Path, unit: tuple[str, str]) -> None:
    given = read(write_dataset(tmp_path, unit=unit))
    assert given.person.affected_side == "left"
    assert [(w.info.walk, w.info.condition) for w in given.walks] == [("shoe", "unbraced"), ("soft", "braced")]
    setting = given.walks[1].info.setting
    assert setting is not None
    assert (setting.label, setting.resistance) == ("soft", 50.0)
    wanted = rows_of(foot_log(stop_s=12.0, seed=20))
    (foot, shank) = given.walks[0].logs
    assert (foot.segment, shank.segment) == ("foot", "shank")
    both: list[tuple[FloatArray, FloatArray]] = [
        (foot.acceleration, wanted[:, 1:4]),
        (foot.angular_velocity, wanted[:, 4:]),
    ]
    for got, want in both:
        np.testing.assert_allclose(got, want, atol=1e-6)
    np.testing.assert_allclose(np.diff(foot.time), 0.01)
    assert foot.mounting is None


def test_labels_that_nobody_explained_are_told_with_where_to(tmp_path: Path) -> None:
    folder = write_dataset(tmp_path)
    with pytest.raises(SessionError) as caught:
        read(folder, {})
    assert "acq-shoe, task-walk" in str(caught.value)
    assert "settings, bids, walks" in str(caught.value)
    troubles = check_study(tmp_path, settings=load_settings({}), loggers=LOGGERS)
    assert [t.code for t in troubles if t.severity == "error"] == ["session-file"] * 2


def test_recordings_may_be_passed_over_and_tasks_may_be_the_condition(tmp_path: Path) -> None:
    folder = write_dataset(tmp_path)
    only = {"bids": {"walks": {"walk": {"condition": "braced"}, "shoe": {"condition": "none"}}}}
    given = read(folder, only)
    assert [(w.info.walk, w.info.condition) for w in given.walks] == [("soft", "braced")]


def test_no_affected_side_is_told(tmp_path: Path) -> None:
    folder = write_dataset(tmp_path)
    (tmp_path / "participants.tsv").unlink()
    with pytest.raises(SessionError, match="affected side"):
        read(folder)
    told = MEANT["bids"] | {"affected_side": {"01": "right"}}
    assert read(folder, {"bids": told}).person.affected_side == "right"


def test_a_session_file_may_say_what_was_worn(tmp_path: Path) -> None:
    folder = write_dataset(tmp_path)
    text = "subject: '01'\nsession: '1'\naffected_side: left\nwalks:\n"
    text += "  - {walk: b, condition: unbraced, motion: {acq: soft}}\n"
    (folder / "session.yaml").write_text(text)
    given = read(folder, {})
    assert [(w.info.walk, w.info.condition) for w in given.walks] == [("b", "unbraced")]
    (folder / "session.yaml").write_text(text.replace("acq: soft", "acq: sotf"))
    (finding,) = read(folder, {}).findings[-1:]
    assert "no recording of acq-sotf" in finding.message
    (folder / "session.yaml").write_text(text.replace("acq: soft", "task: walk"))
    assert "2 recordings of task-walk" in read(folder, {}).findings[-1].message
    (folder / "session.yaml").write_text(text.split("walks:")[0])
    assert [w.info.walk for w in read(folder).walks] == ["shoe", "soft"]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda text: text.replace("\trad/s", "\trpm"), "The unit 'rpm'"),
        (lambda text: text.replace("tracked_point", "point", 1), "column 'tracked_point' is missing"),
        (lambda text: text.replace("Foot_L_GYRO_z\tz\tGYRO", "Foot_L_GYRO_z\tz\tMISC"), "three channels of angular"),
        (lambda text: text.replace("Foot_L", "hand"), "No channels of a foot"),
        (lambda text: text.replace("LeftTibia", "foot_l"), "has not three channels"),
        (lambda text: text.splitlines()[0], "No channels of a foot"),
    ],
)
def test_what_is_wrong_with_channels_is_told(tmp_path: Path, change: Callable[[str], str], words: str) -> None:
    folder = write_dataset(tmp_path)
    channels(folder, change)
    given = read(folder)
    assert given.walks == []
    errors = [f for f in given.findings if f.severity == "error"]
    assert {f.walk for f in errors} == {"shoe", "soft"}
    assert all(words in f.message for f in errors), errors
    assert all(f.remedy for f in errors)


def test_a_bad_channel_costs_its_sensor(tmp_path: Path) -> None:
    folder = write_dataset(tmp_path)

    def mark(text: str) -> str:
        header, *rows = text.splitlines()
        return "\n".join([f"{header}\tstatus", *(f"{r}\t{'bad' if 'Tibia_GYRO_x' in r else 'good'}" for r in rows)])

    channels(folder, mark)
    walk = read(folder).walks[0]
    assert [log.segment for log in walk.logs] == ["foot"]
    (finding,) = [f for f in walk.findings if f.severity == "warning"]
    assert (finding.code, finding.segment) == ("channel-bad", "shank")


@pytest.mark.parametrize(
    ("file", "content", "words"),
    [
        ("task-walk_motion.json", "[" * 5000, "not JSON"),
        ("task-walk_motion.json", "[1]", "not JSON"),
        ("task-walk_motion.json", None, "no motion.json"),
        ("task-walk_motion.json", '{"SamplingFrequency": "fast"}', "sampling_rate_hz"),
        ("task-walk_motion.json", "\xff" * 2_000_000, "too large"),
    ],
)
def test_what_is_wrong_with_sidecars_is_told(tmp_path: Path, file: str, content: str | None, words: str) -> None:
    folder = write_dataset(tmp_path)
    if content is None:
        (tmp_path / file).unlink()
    else:
        (tmp_path / file).write_text(content, encoding="latin-1")
    if words == "sampling_rate_hz":
        channels(folder, lambda text: text.replace("\t100", "\tn/a"))
    errors = [f for f in read(folder).findings if f.severity == "error"]
    assert errors
    assert all(words in f.message for f in errors), errors


def test_a_link_out_of_the_session_is_refused(tmp_path: Path) -> None:
    folder = write_dataset(tmp_path / "set")
    for path in folder.glob("motion/*_motion.tsv"):
        shutil.move(path, tmp_path / path.name)
        path.symlink_to(tmp_path / path.name)
    assert all("link out of" in f.message for f in read(folder).findings if f.severity == "error")


def test_sidecars_above_count_among_a_sessions_inputs(tmp_path: Path) -> None:
    names = {path.name for path in session_files(write_dataset(tmp_path))}
    assert {"task-walk_motion.json", "participants.tsv"} <= names


@pytest.mark.parametrize(
    ("point", "place"),
    [
        ("left_foot", ("foot", "left")),
        ("RightShank", ("shank", "right")),
        ("foot R", ("foot", "right")),
        ("l_tibia", ("shank", "left")),
        ("LowerLegRight", ("shank", "right")),
        ("foot", None),
        ("pelvis", None),
        ("left thigh", None),
        ("", None),
    ],
)
def test_tracked_points(point: str, place: tuple[str, str] | None) -> None:
    assert place_of(point, {}) == place
    assert place_of(point, {point: ("shank", "left")}) == ("shank", "left")


def test_axes_there_and_back() -> None:
    for spelt in ("ALS", "RAS", "SRA", "PRS", "LIA"):
        axes = axes_of(spelt)
        assert axes is not None
        matrix = np.zeros((3, 3))
        for row, way in enumerate(("forward", "left", "up")):
            matrix[row, "xyz".index(axes[way][1])] = 1.0 if axes[way][0] == "+" else -1.0
        assert spatial_axes(matrix) == spelt
    assert axes_of("XYZ") is None
    assert axes_of("AAS") is None
    assert axes_of(None) is None
