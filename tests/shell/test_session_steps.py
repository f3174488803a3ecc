"""The steps of one session, one after the other, as the workflow calls them."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from types import SimpleNamespace

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
    assert list(quality["settings"]) == ["bids", "gait", "motion", "signals"]
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


def test_the_demo_is_a_study_that_says_it_is_invented(tmp_path: Path) -> None:
    folder = tmp_path / "demo"
    assert main(["demo", str(folder)]) == 0
    assert [path.name for path in tmp_path.iterdir()] == ["demo"]
    assert "invented" in (folder / "README.txt").read_text(encoding="utf-8").lower()
    plan = Plan.from_config({"study": str(folder), "results": str(tmp_path / "out")}, home=REPOSITORY)
    assert len(plan.session_results(None, "quality.json")) >= 2
    assert plan.closing_lines() == []


def test_the_stamp_of_a_session_sees_a_touch_and_a_new_file(tmp_path: Path) -> None:
    session = write_session(tmp_path / "study", "P01", seed=0, walks="a")
    plan = Plan.from_config({"study": str(tmp_path / "study")}, home=REPOSITORY)
    wildcards = SimpleNamespace(subject="P01", session="1")
    stamps = [plan.session_stamp(wildcards, None)]
    assert plan.session_stamp(wildcards, None) == stamps[0]
    (session / "a_foot.csv").touch()
    stamps.append(plan.session_stamp(wildcards, None))
    (session / "note.txt").write_text("")
    stamps.append(plan.session_stamp(wildcards, None))
    assert len(set(stamps)) == 3
    assert plan.session_inputs(wildcards, None) == sorted(str(path) for path in session.iterdir())
