"""A session's folder in: what can be read is read, and everything else is told where it stands."""

from __future__ import annotations

from collections.abc import Iterator
from copy import deepcopy
from dataclasses import replace
from pathlib import Path
from typing import Any
from weakref import ref

import numpy as np
import pytest

from firstrocker.chain import analyse
from firstrocker.errors import SessionError, SignalError
from firstrocker.model import Finding, Log, WalkLogs
from firstrocker.settings import Settings
from firstrocker.signals.clocks import align_walk
from firstrocker.signals.read import SessionInput, read_session
from firstrocker.synth.study import write_demo_study
from signals.made import LOGGERS, foot_log, rows_of, session_content, shank_log, write_csv, write_session


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A session of two walks: a with foot and shank, b with a foot."""
    folder = write_session(tmp_path, session_content())
    write_csv(folder / "a_foot.csv", rows_of(foot_log(stop_s=12.0)))
    write_csv(folder / "a_shank.csv", rows_of(shank_log(stop_s=12.0)))
    write_csv(folder / "b_foot.csv", rows_of(foot_log(start_s=1.0, stop_s=14.0, seed=8)))
    return folder


def read(folder: Path) -> SessionInput:
    return read_session(folder, loggers=LOGGERS)


def errors(given: SessionInput) -> dict[str | None, Finding]:
    return {f.walk: f for f in given.findings if f.severity == "error"}


def test_a_whole_session(folder: Path) -> None:
    given = read(folder)
    assert (given.person.subject, given.person.session, given.person.affected_side) == ("P01", "20260302", "left")
    assert given.person.standing_shank_angle == pytest.approx(np.radians(3))
    assert given.person.foot.measured
    assert [w.info.walk for w in given.walks] == ["a", "b"]
    assert [(log.segment, log.source) for log in given.walks[0].logs] == [
        ("foot", "a_foot.csv"),
        ("shank", "a_shank.csv"),
    ]
    assert given.walks[0].info.setting is None
    setting = given.walks[1].info.setting
    assert setting is not None
    assert (setting.label, setting.resistance, setting.unit) == ("soft", 50, "Shore A")
    assert given.findings == ()
    assert all(walk.findings == () for walk in given.walks)


def test_walks_handed_over_are_kept_neither_by_the_session_nor_by_the_analysis(folder: Path) -> None:
    given = read(folder)
    gone: list[ref[Log]] = []

    def watched() -> Iterator[WalkLogs]:
        for walk in given.handed_over():
            assert [log() for log in gone] == [None] * len(gone)
            gone.extend(ref(log) for log in walk.logs)
            yield walk
            del walk

    result = analyse(given.person, watched(), settings=Settings())
    assert len(gone) == 3
    assert given.walks == []
    whole = analyse(given.person, read(folder).walks, settings=Settings())
    assert result.findings == whole.findings
    assert result.strides.equals(whole.strides)


def test_a_walk_whose_foot_log_cannot_be_read_is_left_out_and_the_others_are_not(folder: Path) -> None:
    (folder / "a_foot.csv").unlink()
    given = read(folder)
    assert [w.info.walk for w in given.walks] == ["b"]
    error = errors(given)["a"]
    assert error.code == "log-unreadable"
    assert error.message.startswith("a_foot.csv: The file is missing.")
    assert (error.segment, error.side) == ("foot", "left")
    assert error.remedy


def test_an_unreadable_shank_log_is_a_warning_and_the_walk_goes_on(folder: Path) -> None:
    (folder / "a_shank.csv").write_bytes(b"\0\1\2" * 1000)
    walk = read(folder).walks[0]
    assert [log.segment for log in walk.logs] == ["foot"]
    (finding,) = walk.findings
    assert (finding.severity, finding.walk, finding.segment) == ("warning", "a", "shank")
    assert "not text but some binary form" in finding.message
    assert "The ankle and shank are not measured" in finding.message


def test_oddities_of_reading_are_findings_of_their_walk(folder: Path) -> None:
    rows = rows_of(foot_log(stop_s=12.0))
    rows[50, 3] = np.nan
    write_csv(folder / "a_foot.csv", rows)
    (finding,) = read(folder).walks[0].findings
    assert (finding.code, finding.walk, finding.segment, finding.side) == ("rows-empty", "a", "foot", "left")


def test_with_no_walk_left_every_reason_keeps_its_code_and_place(folder: Path) -> None:
    (folder / "a_foot.csv").write_text("")
    rows = rows_of(foot_log(stop_s=12.0))
    rows[:, 0] *= 1000.0
    write_csv(folder / "b_foot.csv", rows)
    given = read(folder)
    assert given.walks == []
    told = errors(given)
    assert {walk: finding.code for walk, finding in told.items()} == {"a": "log-unreadable", "b": "wrong-unit"}
    assert told["a"].message.startswith("a_foot.csv: The file is empty.")
    assert "times look like ms" in told["b"].message


def test_an_unknown_logger_is_told_with_the_nearest_name(folder: Path) -> None:
    content = session_content()
    content["walks"][0]["logs"][0]["logger"] = "bensh"
    write_session(folder.parents[1], content)
    error = errors(read(folder))["a"]
    assert "no logger profile called 'bensh'" in error.message
    assert "Did you mean 'bench'?" in error.remedy


def test_one_recording_given_to_two_walks_is_refused_in_both(folder: Path) -> None:
    content = session_content()
    content["walks"].append(deepcopy(content["walks"][1]) | {"walk": "c"})
    content["walks"][2]["logs"][0]["file"] = "c_foot.csv"
    write_session(folder.parents[1], content)
    (folder / "c_foot.csv").write_bytes((folder / "b_foot.csv").read_bytes())
    given = read(folder)
    assert [w.info.walk for w in given.walks] == ["a"]
    assert set(errors(given)) == {"b", "c"}
    assert "'b' and 'c' were given the same recording" in errors(given)["b"].message


@pytest.mark.parametrize("how", ["cut", "rounded", "in other units", "turned"])
def test_one_recording_in_another_dress_is_still_the_same(folder: Path, how: str) -> None:
    rows = rows_of(foot_log(start_s=1.0, stop_s=14.0, seed=8))
    if how == "cut":
        rows = rows[200:-100]
    elif how == "rounded":
        rows = np.round(rows, 2)
    elif how == "turned":
        rows = rows[:, [0, 2, 3, 1, 5, 6, 4]]
    content = session_content()
    content["loggers"]["other"] = deepcopy(content["loggers"]["bench"])
    if how == "in other units":
        content["loggers"]["other"]["units"] |= {"acceleration": "g"}
        rows[:, 1:4] /= 9.81
    content["walks"].append(deepcopy(content["walks"][1]) | {"walk": "c"})
    content["walks"][2]["logs"][0] |= {"file": "c_foot.csv", "logger": "other"}
    write_session(folder.parents[1], content)
    write_csv(folder / "c_foot.csv", rows)
    assert set(errors(read(folder))) == {"b", "c"}


def test_two_recordings_of_one_gait_are_two(folder: Path) -> None:
    """Made-up strides that repeat one another, seen by sensors of which only the noise differs."""
    write_csv(folder / "b_foot.csv", rows_of(foot_log(stop_s=12.0, seed=9)))
    assert errors(read(folder)) == {}


def test_logs_of_the_other_side_alone_are_told(folder: Path) -> None:
    write_session(folder.parents[1], session_content() | {"affected_side": "right"})
    given = read(folder)
    assert {f.code for walk in given.walks for f in walk.findings} == {"affected-side-missing"}
    assert "affected side is the right one" in given.walks[0].findings[0].message


def test_a_wrong_session_file_is_refused_before_any_log_is_read(folder: Path) -> None:
    write_session(folder.parents[1], session_content() | {"colour": "red"})
    with pytest.raises(SessionError, match="There is no key 'colour'"):
        read(folder)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"time": "ms"}, "times look like s, the logger profile says ms"),
        ({"acceleration": "g"}, "gravity in m/s^2; the logger profile says g"),
        ({"angular_velocity": "deg/s"}, "in deg/s by the logger profile, but must be in rad/s"),
    ],
)
def test_a_wrong_unit_is_told_wherever_it_shows(folder: Path, change: dict[str, str], words: str) -> None:
    content: dict[str, Any] = session_content()
    content["loggers"]["bench"]["units"] |= change
    write_session(folder.parents[1], content)

    given = read(folder)
    if not given.walks:
        assert words in " ".join(f.message for f in given.findings)
        return
    with pytest.raises(SignalError) as caught:
        align_walk(given.walks[0].logs, walk="a", rate_hz=None, max_bridge_s=0.05, max_offset_s=10.0)
    assert words in str(caught.value)


def test_mounting_comes_with_the_profile(folder: Path) -> None:
    content = session_content()
    content["loggers"]["bench"]["axes"] = {"forward": "+y", "left": "-x", "up": "+z"}
    write_session(folder.parents[1], content)
    log = read(folder).walks[0].logs[0]
    assert log.mounting is not None
    np.testing.assert_array_equal(log.mounting, [[0, 1, 0], [-1, 0, 0], [0, 0, 1]])
    walk = align_walk([log], walk="a", rate_hz=None, max_bridge_s=0.05, max_offset_s=10.0)
    np.testing.assert_array_equal(walk.signals[0].mounting, log.mounting)


@pytest.mark.untraced
def test_every_session_of_the_demo_study_is_read_and_aligned(tmp_path: Path) -> None:
    write_demo_study(tmp_path, strides=5)
    sessions = sorted(tmp_path.glob("sub-*/ses-*"))
    assert len(sessions) >= 3
    for folder in sessions:
        given = read(folder)
        assert given.walks
        assert not errors(given)
        walk = given.walks[0]
        aligned = align_walk(walk.logs, walk="a", rate_hz=None, max_bridge_s=0.05, max_offset_s=10.0)
        assert len(aligned.signals) == len(walk.logs)
        assert all(clock.matched for clock in aligned.clocks)


def test_the_order_of_logs_does_not_matter() -> None:
    logs = (foot_log(), shank_log(clock_offset_s=3.0), replace(foot_log(seed=4), side="right"))
    how: dict[str, Any] = {"walk": "a", "rate_hz": None, "max_bridge_s": 0.05, "max_offset_s": 10.0}
    one = align_walk(logs, **how)
    other = align_walk((logs[1], logs[0], logs[2]), **how)
    assert {c.segment + c.side: c for c in one.clocks} == {c.segment + c.side: c for c in other.clocks}
