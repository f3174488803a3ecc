"""The steps of one session, one after the other, as the workflow calls them."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from firstrocker import tables
from firstrocker.cli import main
from firstrocker.files import read_table, sha256_of
from firstrocker.layout import STRIDES_FILES, STUDY_FILES
from firstrocker.workflow import Plan
from structure.tree import REPOSITORY
from workflow.small_study import write_session

LOGGERS = REPOSITORY / "config" / "loggers"


def strides_command(session: Path, out: Path, *more: str) -> list[str]:
    return ["strides", "--session", str(session), "--out", str(out), "--loggers", str(LOGGERS), *more]


def test_a_session_from_logs_to_report(tmp_path: Path) -> None:
    session, out = write_session(tmp_path / "study", "P01", seed=0), tmp_path / "results" / "sub-P01" / "ses-1"
    assert main(strides_command(session, out)) == 0
    assert {path.name for path in out.iterdir()} == set(STRIDES_FILES)
    quality = json.loads((out / "quality.json").read_text(encoding="utf-8"))
    assert quality["status"] in ("ok", "flagged")
    assert quality["affected_side"] == "left"
    assert list(quality["settings"]) == ["bids", "day", "gait", "motion", "signals"]
    assert quality["inputs"] == {path.name: sha256_of(path) for path in sorted(session.iterdir())}
    strides = read_table(out / "strides.parquet")
    assert [walk["sides"]["left"]["strides"] for walk in quality["walks"]] == [
        strides["walk"].to_pylist().count(walk) for walk in "ab"
    ]
    assert main(["study", "--results", str(out)]) == 0
    assert {path.name for path in out.iterdir()} == {*STRIDES_FILES, *STUDY_FILES}
    assert read_table(out / "comparison.parquet").num_rows > 0
    page = (out / "report.html").read_bytes()
    assert b'href="letter.html"' in page
    assert main(["report", "--results", str(out)]) == 0
    assert (out / "report.html").read_bytes() == page
    link = b'href="../course.html"'
    assert link not in page
    assert main(["report", "--results", str(out), "--follow-up"]) == 0
    assert link in (out / "report.html").read_bytes()


def test_a_setting_reaches_the_core(tmp_path: Path) -> None:
    session = write_session(tmp_path / "study", "P01", seed=0, walks="a")
    found = {}
    for least in (1, 50):
        out = tmp_path / str(least)
        assert main(strides_command(session, out, "--settings", f'{{"gait": {{"min_bout_strides": {least}}}}}')) == 0
        found[least] = read_table(out / "strides.parquet")["left_out"].to_pylist()
    assert "" in found[1]
    assert set(found[50]) == {"short_bout"}


def test_an_edit_of_a_profile_shows_among_the_inputs(tmp_path: Path) -> None:
    session, out = write_session(tmp_path / "study", "P01", seed=0, walks="a"), tmp_path / "out"
    loggers = tmp_path / "loggers"
    loggers.mkdir()
    (loggers / "simulated.yaml").write_text("{}\n")
    assert main(["strides", "--session", str(session), "--out", str(out), "--loggers", str(loggers)]) == 0
    assert "loggers/simulated.yaml" in json.loads((out / "quality.json").read_text(encoding="utf-8"))["inputs"]


@pytest.mark.parametrize("damage", ["session.yaml", "everything"])
def test_a_rejected_session_goes_all_the_way(tmp_path: Path, damage: str) -> None:
    session, out = write_session(tmp_path / "study", "P01", seed=0, walks="a"), tmp_path / "out"
    (session / "session.yaml").unlink()
    if damage == "everything":
        shutil.rmtree(session)
        session.mkdir()
    assert main(strides_command(session, out)) == 0
    assert main(["study", "--results", str(out)]) == 0
    assert json.loads((out / "quality.json").read_text(encoding="utf-8"))["status"] == "rejected"
    for name, schema in {
        "strides": tables.STRIDES,
        "curves": tables.CURVES,
        "summary": tables.SUMMARY,
        "comparison": tables.COMPARISON,
    }.items():
        table = read_table(out / f"{name}.parquet")
        assert table.num_rows == 0
        assert table.schema.equals(schema, check_metadata=True)


@pytest.mark.untraced
def test_the_demo_is_a_study_that_says_it_is_invented(tmp_path: Path) -> None:
    folder = tmp_path / "demo"
    assert main(["demo", str(folder)]) == 0
    assert [path.name for path in tmp_path.iterdir()] == ["demo"]
    assert "invented" in (folder / "README.txt").read_text(encoding="utf-8").lower()
    plan = Plan.from_config({"study": str(folder), "results": str(tmp_path / "out")}, home=REPOSITORY)
    assert len(plan.sessions) >= 2
    assert plan.closing_lines() == []


def test_many_sessions_are_made_as_one_by_one(tmp_path: Path) -> None:
    study, results = tmp_path / "study", tmp_path / "results"
    sessions = [write_session(study, person, seed=0, walks="a") for person in ("P01", "P02", "P03")]
    (sessions[1] / "session.yaml").unlink()
    many = ["sessions", "--study", str(study), "--results", str(results), "--loggers", str(LOGGERS)]
    many += ["--log", str(tmp_path / "log"), "--part", "P01_1-P02_1", "--processes", "2"]
    assert main(many) == 0
    assert not (results / "sub-P03").exists()
    for session in sessions[:2]:
        out = tmp_path / "single" / session.parent.name / session.name
        assert main(strides_command(session, out)) == 0
        assert main(["study", "--results", str(out)]) == 0
        made = results / session.parent.name / session.name
        assert {path.name: sha256_of(path) for path in out.iterdir()} == {
            path.name: sha256_of(path) for path in made.iterdir()
        }
    before = {path: path.stat().st_mtime_ns for path in results.rglob("*.*")}
    assert main(many) == 0
    assert {path: path.stat().st_mtime_ns for path in results.rglob("*.*")} == before


def test_a_part_that_is_none_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    many = ["sessions", "--study", str(tmp_path), "--results", str(tmp_path), "--loggers", str(LOGGERS)]
    assert main([*many, "--log", str(tmp_path / "log"), "--part", "all"]) == 2
    assert "Write it as P01_1-P09_2" in capsys.readouterr().err
