"""Many tasks in a few processes: each is done, whatever becomes of the others."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from firstrocker.pool import Task, run_tasks

WORKER = """
import os, signal, sys
from pathlib import Path
from firstrocker.pool import serve

def work(task):
    print("at", task["number"])
    if task["what"] == "bug":
        raise IndexError("a bug")
    if task["what"] == "crash":
        os.kill(os.getpid(), signal.SIGSEGV)
    if task["what"] == "exit":
        os._exit(3)
    if task["what"] == "wait":
        Path(task["started"]).write_text(str(os.getpid()))
        signal.pause()

serve(work)
"""
BOSS = """
import sys
from firstrocker.pool import run_tasks
run_tasks([{"number": 0, "what": "wait", "started": sys.argv[1]}], worker=[sys.executable, "-c", sys.argv[2]],
          processes=1, log=sys.stderr, done=print)
"""


def run(tasks: list[Task], folder: Path, *, processes: int) -> tuple[dict[int, str | None], str]:
    """What became of each task by its number, and what the processes printed."""
    ended: dict[int, str | None] = {}

    def done(task: Task, failure: str | None) -> None:
        assert task["number"] not in ended
        ended[task["number"]] = failure

    with (folder / "log").open("w") as log:
        run_tasks(tasks, worker=[sys.executable, "-c", WORKER], processes=processes, log=log, done=done)
    return ended, (folder / "log").read_text()


def test_a_failure_or_a_crash_takes_no_other_task_with_it(tmp_path: Path) -> None:
    kinds = ["ok", "bug", "ok", "crash", "ok", "exit", "ok", "bug", "ok"]
    ended, printed = run([{"number": n, "what": kind} for n, kind in enumerate(kinds)], tmp_path, processes=2)
    assert sorted(ended) == list(range(len(kinds)))
    for number, kind in enumerate(kinds):
        said = ended[number]
        if kind == "ok":
            assert said is None
            continue
        assert said is not None
        assert {"bug": "IndexError: a bug", "crash": "SIGSEGV", "exit": "status 3"}[kind] in said
    assert sorted(line for line in printed.splitlines() if line.startswith("at ")) == [
        f"at {number}" for number in range(len(kinds))
    ]


def test_no_task_is_no_work(tmp_path: Path) -> None:
    assert run([], tmp_path, processes=4) == ({}, "")


@contextmanager
def boss(started: Path) -> Iterator[subprocess.Popen[bytes]]:
    running = subprocess.Popen([sys.executable, "-c", BOSS, str(started), WORKER])
    try:
        yield running
    finally:
        running.kill()
        running.wait()


def test_the_processes_end_with_the_one_that_started_them(tmp_path: Path) -> None:
    started = tmp_path / "started"
    with boss(started) as running:
        wait_until(lambda: started.exists() and started.read_text() != "")
        worker = int(started.read_text())
        os.kill(running.pid, signal.SIGKILL)
        running.wait()
        wait_until(lambda: not alive(worker))


def alive(process: int) -> bool:
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    # Nobody may be left to collect it: one that has ended and waits for that is not alive.
    return Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()[0] != "Z"


def wait_until(true: object, *, patience_s: float = 30) -> None:
    deadline = time.monotonic() + patience_s
    while not true():  # type: ignore[operator]
        assert time.monotonic() < deadline, "waited in vain"
        time.sleep(0.02)
