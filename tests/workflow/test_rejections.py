"""What people get wrong is told in plain words, and every other session is made; a bug is a bug."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from firstrocker import tables
from firstrocker.files import read_table
from workflow.runs import Run, edited_package, snakemake
from workflow.small_study import stand_less, write_session

Damage = Callable[[Path], None]


def unreadable(folder: Path) -> None:
    (folder / "a_foot.csv").write_bytes(bytes(range(256)) * 20)


def missing(folder: Path) -> None:
    (folder / "a_foot.csv").unlink()


def wrong_unit(folder: Path) -> None:
    file = folder / "session.yaml"
    file.write_text(file.read_text().replace("acceleration: m/s^2", "acceleration: g"))


def unknown_key(folder: Path) -> None:
    file = folder / "session.yaml"
    file.write_text(file.read_text().replace("affected_side:", "affected_sid:"))


def no_session_file(folder: Path) -> None:
    (folder / "session.yaml").unlink()


DAMAGES: dict[str, tuple[Damage, str]] = {
    "P11": (unreadable, r"a_foot\.csv"),
    "P12": (missing, r"a_foot\.csv"),
    "P13": (wrong_unit, r"gravity|9\.8|unit"),
    "P15": (unknown_key, r"affected_sid.*affected_side"),
    "P16": (no_session_file, r"session\.yaml"),
}
"""subject -> how its session was damaged, and what the sentence must name."""


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Run]:
    """A study of one good session and one of each damage, run once."""
    folder = tmp_path_factory.mktemp("rejections")
    write_session(folder / "study", "P01", seed=0, walks="ab")
    for subject, (damage, _) in DAMAGES.items():
        damage(write_session(folder / "study", subject, seed=0, walks="a"))
    stand_less(write_session(folder / "study", "P14", seed=0, walks="a"))
    return folder, snakemake(folder, "--config", "study=study", "results=results")


def quality(folder: Path, subject: str) -> dict[str, Any]:
    text = (folder / "results" / f"sub-{subject}" / "ses-1" / "quality.json").read_text(encoding="utf-8")
    record: dict[str, Any] = json.loads(text)
    return record


def test_the_run_ends_well_and_the_good_session_is_made(place: tuple[Path, Run]) -> None:
    folder, run = place
    assert run.status == 0, run.text
    assert "Traceback" not in run.text
    assert quality(folder, "P01")["status"] in ("ok", "flagged")
    assert read_table(folder / "results" / "sub-P01" / "ses-1" / "strides.parquet").num_rows > 0


@pytest.mark.parametrize("subject", DAMAGES)
def test_a_damaged_session_is_rejected_in_plain_words(place: tuple[Path, Run], subject: str) -> None:
    folder, run = place
    record = quality(folder, subject)
    assert record["status"] == "rejected"
    errors = [finding for finding in record["findings"] if finding["severity"] == "error"]
    assert errors
    for finding in errors:
        assert finding["code"]
        assert finding["message"].rstrip()[-1] in ".:!?)"
        assert finding["remedy"].rstrip()[-1] in ".?"
    said = " ".join(f"{finding['message']} {finding['remedy']}" for finding in errors)
    assert re.search(DAMAGES[subject][1], said), said
    assert "Traceback" not in said
    assert "Error(" not in said
    line = next(line for line in run.text.splitlines() if line.startswith(f"sub-{subject}/ses-1: "))
    assert line.startswith(f"sub-{subject}/ses-1: rejected: ")


@pytest.mark.parametrize("subject", DAMAGES)
def test_a_rejected_session_has_empty_tables_and_a_report_that_says_so(place: tuple[Path, Run], subject: str) -> None:
    results = place[0] / "results" / f"sub-{subject}" / "ses-1"
    for name, schema in (
        ("strides", tables.STRIDES),
        ("curves", tables.CURVES),
        ("summary", tables.SUMMARY),
        ("comparison", tables.COMPARISON),
    ):
        table = read_table(results / f"{name}.parquet")
        assert table.num_rows == 0
        assert table.schema.equals(schema, check_metadata=True)
    report = (results / "report.html").read_text(encoding="utf-8")
    assert "rejected" in report.lower()


def test_a_log_without_rest_is_told(place: tuple[Path, Run]) -> None:
    folder, run = place
    record = quality(folder, "P14")
    assert record["status"] == "flagged"
    found = {finding["code"]: finding for finding in record["findings"]}
    assert found["no-rest"]["severity"] == "warning"
    assert "stand still" in found["no-rest"]["remedy"]
    assert "sub-P14/ses-1: flagged: " in run.text


def test_a_walk_that_cannot_be_read_does_not_take_the_others_with_it(tmp_path: Path) -> None:
    folder = write_session(tmp_path / "study", "P01", seed=0, walks="ab")
    unreadable(folder)
    run = snakemake(tmp_path, "--config", "study=study", "results=results")
    assert run.status == 0, run.text
    record = quality(tmp_path, "P01")
    assert record["status"] == "flagged"
    strides = read_table(tmp_path / "results" / "sub-P01" / "ses-1" / "strides.parquet")
    assert set(strides["walk"].to_pylist()) == {"b"}
    assert "sub-P01/ses-1: flagged: " in run.text


def test_a_bug_ends_the_run_with_a_status_and_a_traceback_and_the_others_are_made(tmp_path: Path) -> None:
    no_session_file(write_session(tmp_path / "study", "P12", seed=0, walks="a"))
    write_session(tmp_path / "study", "P11", seed=0, walks="a")
    package = edited_package(
        tmp_path, "motion/foot.py", extra="def track_foot(*a, **k):\n    raise IndexError('a bug')"
    )
    run = snakemake(tmp_path, "--keep-going", "--config", "study=study", "results=results", code=package)
    assert run.status != 0
    results = tmp_path / "results"
    assert not (results / "sub-P11" / "ses-1" / "quality.json").exists()
    log = (results / "logs" / "sub-P11" / "ses-1.log").read_text(encoding="utf-8")
    assert "Traceback" in log
    assert "IndexError: a bug" in log
    assert quality(tmp_path, "P12")["status"] == "rejected"
    assert (results / "sub-P12" / "ses-1" / "report.html").exists()
    assert "Not made: 1 of 2 sessions (sub-P11/ses-1)." in run.text


def test_a_folder_that_is_not_named_as_a_session_is_told(tmp_path: Path) -> None:
    write_session(tmp_path / "study", "P01", seed=0, walks="a")
    (tmp_path / "study" / "sub-P 2" / "ses-1").mkdir(parents=True)
    no_session_file(tmp_path / "study" / "sub-P01" / "ses-1")
    run = snakemake(tmp_path, "--config", "study=study", "results=results")
    assert run.status == 0
    assert "sub-P 2/ses-1: not looked at" in run.text


@pytest.mark.parametrize(
    ("given", "words"),
    [
        (("study=nowhere",), "study=nowhere: there is no such folder."),
        (("settings={study: {confidnce: 0.9}}",), "did you mean study.confidence?"),
        (("result=out",), "did you mean results?"),
    ],
)
def test_a_wrong_configuration_is_one_sentence(tmp_path: Path, given: tuple[str, ...], words: str) -> None:
    run = snakemake(tmp_path, "--config", *given)
    assert run.status != 0
    assert words in run.text
    assert "Traceback" not in run.text
