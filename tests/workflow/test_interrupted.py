"""A run that was killed outright comes to the same end by the documented command, with nothing to unlock."""

from __future__ import annotations

import os
import signal
import subprocess
import time
from pathlib import Path

from workflow.runs import command, environment, fingerprints, snakemake
from workflow.small_study import write_session

PATHS = ("--config", "study=study", "results=results")


def kill_once(folder: Path, *, seen: str) -> None:
    """Start a run and kill its whole process group as soon as a file of that name stands in the results."""
    run = subprocess.Popen(
        command(*PATHS),
        cwd=folder,
        env=environment(),
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
    )
    deadline = time.monotonic() + 120
    while not list((folder / "results").rglob(seen)):
        assert run.poll() is None, "the run ended before it could be killed"
        assert time.monotonic() < deadline
        time.sleep(0.02)
    os.killpg(run.pid, signal.SIGKILL)
    run.wait()


def test_a_killed_run_comes_to_the_same_end(tmp_path: Path) -> None:
    undisturbed, disturbed = tmp_path / "one", tmp_path / "two"
    for folder in (undisturbed, disturbed):
        for person in ("P01", "P02"):
            write_session(folder / "study", person, seed=1, walks="a")
    assert snakemake(undisturbed, *PATHS).status == 0
    kill_once(disturbed, seen="curves.parquet")
    again = snakemake(disturbed, *PATHS)
    assert again.status == 0, again.text
    assert fingerprints(disturbed / "results") == fingerprints(undisturbed / "results")
    assert snakemake(disturbed, *PATHS).did_nothing
