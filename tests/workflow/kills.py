"""Runs that are killed, and what must hold of the results at every moment and at the end."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import time
from collections.abc import Callable, Mapping
from contextlib import suppress
from pathlib import Path

import pyarrow.parquet as pq

from workflow.runs import command, environment

PATHS = ("--config", "study=study", "results=results")


WAYS: Mapping[str, tuple[signal.Signals, bool]] = {
    "SIGTERM to the run": (signal.SIGTERM, False),
    "SIGTERM to all": (signal.SIGTERM, True),
    "SIGINT to all": (signal.SIGINT, True),
    "SIGKILL to the run, its jobs left alone": (signal.SIGKILL, False),
    "SIGKILL to all": (signal.SIGKILL, True),
}
"""How a run is killed: which signal, and whether every process of its group gets it or the first one alone."""


def start(folder: Path, *line: str) -> subprocess.Popen[bytes]:
    """Start the documented command, or another, in a process group of its own."""
    return subprocess.Popen(
        line or command(*PATHS),
        cwd=folder,
        env=environment(),
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
    )


def kill(run: subprocess.Popen[bytes], way: str) -> None:
    """Kill a run and wait for its end; one that has ended already is left alone."""
    number, everybody = WAYS[way]
    with suppress(ProcessLookupError):
        (os.killpg if everybody else os.kill)(run.pid, number)
    run.wait(timeout=120)


def wait_for(found: Callable[[], object], seconds: float = 60) -> None:
    """Wait until something is so."""
    deadline = time.monotonic() + seconds
    while not found():
        assert time.monotonic() < deadline
        time.sleep(0.01)


def processes_in(folder: Path) -> list[int]:
    """Processes that work in a folder."""
    found = []
    for entry in Path("/proc").glob("[0-9]*"):
        try:
            if Path(os.readlink(entry / "cwd")).is_relative_to(folder):
                found.append(int(entry.name))
        except OSError:
            continue
    return found


def halves(results: Path) -> list[str]:
    """Files under their final name that are not whole."""
    broken = []
    for path in sorted(results.rglob("*")):
        if not path.is_file() or path.relative_to(results).parts[0] in ("logs", ".made") or path.name.startswith("."):
            continue
        try:
            if path.suffix == ".parquet":
                pq.read_table(path, partitioning=None)
            elif path.suffix == ".json":
                json.loads(path.read_text(encoding="utf-8"))
            elif not path.read_text(encoding="utf-8").rstrip().endswith("</html>"):
                broken.append(f"{path.relative_to(results)}: not at its end")
        except FileNotFoundError:
            continue  # taken away to be made anew
        except (OSError, ValueError) as error:
            broken.append(f"{path.relative_to(results)}: {error}")
    return broken
