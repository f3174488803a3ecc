"""A run that is killed comes to the same end by the same command; two runs at once do no harm."""

from __future__ import annotations

import subprocess
import time
from pathlib import Path

import pytest

from workflow.kills import PATHS, WAYS, halves, kill, start
from workflow.runs import fingerprints, snakemake
from workflow.small_study import write_session

PEOPLE = ("P01", "P02")


def new_place(folder: Path) -> Path:
    for person in PEOPLE:
        write_session(folder / "study", person, seed=1, walks="a")
    return folder


@pytest.fixture(scope="module")
def undisturbed(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """The results of a run that was left alone."""
    place = new_place(tmp_path_factory.mktemp("undisturbed"))
    run = snakemake(place, *PATHS)
    assert run.status == 0, run.text
    return fingerprints(place / "results")


def wait_for(run: subprocess.Popen[bytes], results: Path, name: str) -> None:
    """Wait until a file of that name stands in the results."""
    deadline = time.monotonic() + 120
    while not list(results.rglob(name)):
        assert run.poll() is None, "the run ended before it could be killed"
        assert time.monotonic() < deadline
        time.sleep(0.01)


@pytest.mark.parametrize(
    ("way", "seen"),
    [
        ("SIGKILL to all", "curves.parquet"),
        ("SIGKILL to the run, its jobs left alone", "strides.parquet"),
        ("SIGTERM to the run", "summary.parquet"),
    ],
)
def test_a_killed_run_comes_to_the_same_end(tmp_path: Path, undisturbed: dict[str, str], way: str, seen: str) -> None:
    assert way in WAYS
    place = new_place(tmp_path)
    run = start(place)
    try:
        wait_for(run, place / "results", seen)
    finally:
        kill(run, way)
    assert halves(place / "results") == []
    assert fingerprints(place / "results") != undisturbed
    again = snakemake(place, *PATHS)
    assert again.status == 0, again.text
    assert fingerprints(place / "results") == undisturbed
    assert list((place / "results").rglob("*.part")) == []
    assert snakemake(place, *PATHS).did_nothing


def test_a_second_run_says_so_and_leaves(tmp_path: Path, undisturbed: dict[str, str]) -> None:
    place = new_place(tmp_path)
    first = start(place)
    try:
        wait_for(first, place / "results", "run.lock")
        second = snakemake(place, *PATHS)
        assert second.status == 1
        assert f"another run is at work here (process {first.pid})" in second.text
        assert "Traceback" not in second.text
        assert snakemake(place, *PATHS, "--dry-run").status == 0
        assert first.wait(timeout=120) == 0
    finally:
        kill(first, "SIGKILL to all")
    assert fingerprints(place / "results") == undisturbed
