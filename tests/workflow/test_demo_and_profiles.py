"""Without configuration there is a demo; the profiles change how a run is executed and nothing else."""

from __future__ import annotations

from pathlib import Path

import pytest

from workflow.runs import REPOSITORY, edited_package, snakemake

SMALL_DEMO = """
def write_demo_study(folder, *, seed):
    for person in ("P01", "P02"):
        session = folder / f"sub-{person}" / "ses-1"
        session.mkdir(parents=True)
        (session / "a_foot.csv").write_text("nothing to read\\n")
"""
"""Stands for the demo's writer where only the workflow around it is looked at."""


def test_without_configuration_a_demo_study_is_made_first(tmp_path: Path) -> None:
    dry = snakemake(tmp_path, "--dry-run")
    assert dry.status == 0, dry.text
    assert ("demo", "") in dry.jobs
    assert not (tmp_path / "demo-study").exists()


def test_the_demo_is_part_of_the_workflow(tmp_path: Path) -> None:
    package = edited_package(tmp_path, "synth/study.py", extra=SMALL_DEMO)
    place = tmp_path / "place"
    place.mkdir()
    first = snakemake(place, code=package)
    assert first.status == 0, first.text
    sessions = {("strides", "P01"), ("strides", "P02"), ("study", "P01"), ("study", "P02")}
    assert first.jobs == sessions | {("demo", ""), ("courses", ""), ("cohort", ""), ("all", "")}
    assert (place / "results" / "sub-P02" / "ses-1" / "report.html").exists()
    assert snakemake(place, code=package).did_nothing
    (package / "synth" / "study.py").write_text(SMALL_DEMO + "# edited\n")
    assert ("demo", "") in snakemake(place, "--dry-run", code=package).jobs


@pytest.mark.parametrize("profile", ["default", "nightly"])
def test_a_profile_is_accepted(tmp_path: Path, profile: str) -> None:
    folder = REPOSITORY / "config" / "profiles" / profile
    dry = snakemake(tmp_path, "--profile", str(folder), "--dry-run")
    assert dry.status == 0, dry.text


def test_the_accuracy_table_is_a_rule_of_its_own(tmp_path: Path) -> None:
    assert snakemake(tmp_path, "validate", "--dry-run").jobs == {("validate", "")}
