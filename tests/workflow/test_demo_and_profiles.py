"""Without configuration there is a demo; the profiles change how a run is executed and nothing else."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest
import yaml

from workflow.runs import REPOSITORY, edited_package, run, snakemake

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


MEASURED = """
rule all:
    output: "made"
    shell: "echo {resources.mem_mb} {resources.runtime} >> tries; test {resources.mem_mb} -gt 1500 && touch made"
"""


def test_a_cluster_job_that_ran_out_of_memory_is_tried_once_more_with_twice_as_much(tmp_path: Path) -> None:
    """Here any job of no demands of its own, as the cluster's profile gives it; others: see ``test_grouping``."""
    profile = yaml.safe_load((REPOSITORY / "config/profiles/slurm/config.yaml").read_text(encoding="utf-8"))
    kept = {key: profile[key] for key in ("retries", "default-resources")}
    (tmp_path / "profile").mkdir()
    (tmp_path / "profile/config.yaml").write_text(yaml.safe_dump(kept))
    (tmp_path / "Snakefile").write_text(MEASURED)
    line = [sys.executable, "-m", "snakemake", "--cores", "1", "--profile", "profile"]
    done = run(tmp_path, line)
    assert done.status == 0, done.text
    assert (tmp_path / "tries").read_text().splitlines() == ["1000 60", "2000 120"]


def test_the_accuracy_table_is_a_rule_of_its_own(tmp_path: Path) -> None:
    assert snakemake(tmp_path, "validate", "--dry-run").jobs == {("validate", "")}
