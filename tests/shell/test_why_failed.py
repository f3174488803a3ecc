"""A session that failed is a bug, or the machine ran out of memory: what to do differs."""

import sys
from pathlib import Path

import pytest

from firstrocker.pool import Task, run_tasks
from firstrocker.steps.sessions import why_failed

WORKER = """
import os, signal, sys
from firstrocker.pool import serve

def work(task):
    if task["what"] == "killed":
        os.kill(os.getpid(), signal.SIGKILL)
    if task["what"] == "memory":
        raise MemoryError
    if task["what"] == "array":
        import numpy as np
        np.empty(1 << 50)
    raise KeyError("ankle")

serve(work)
"""


def failure_of(what: str, folder: Path) -> str:
    """What a real process says that fails so."""
    ended: list[str | None] = []

    def done(_: Task, failure: str | None) -> None:
        ended.append(failure)

    with (folder / "log").open("w") as log:
        run_tasks([{"what": what}], worker=[sys.executable, "-c", WORKER], processes=1, log=log, done=done)
    (failure,) = ended
    assert failure is not None
    return failure


@pytest.mark.parametrize("what", ["killed", "memory", "array"])
def test_too_little_memory_is_no_bug(what: str, tmp_path: Path) -> None:
    told = why_failed(failure_of(what, tmp_path))
    assert "memory" in told
    assert "--cores 1" in told
    assert "bug" not in told


def test_a_bug_is_one(tmp_path: Path) -> None:
    assert why_failed(failure_of("bug", tmp_path)) == "failed because of a bug"
