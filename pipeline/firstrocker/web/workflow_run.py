"""One run of the workflow in a process of its own, told stage by stage; never two in one folder."""

from __future__ import annotations

import contextlib
import os
import re
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import IO

from firstrocker.errors import FirstrockerError
from firstrocker.guard import started_here
from firstrocker.web.place import HOME, PersonPlace, Place

LOCK = ".going"
KEPT_LINES = 60
_RULE = re.compile(r"(?:local)?(?:rule|checkpoint) (\w+):|Job \d+: (\w+):")
_STEPS = re.compile(r"(\d+) of (\d+) steps")
_JOBS = re.compile(r"total\s+(\d+)$")


class RunError(FirstrockerError):
    """The workflow ended with an error: a bug, or a disk that is full."""

    code = "run"


class Stopped(Exception):  # noqa: N818  (an order that was carried out)
    """The run was stopped from outside."""


class WorkflowRun:
    """A run of the workflow on one person's study."""

    def __init__(self, place: Place, person: PersonPlace, *, cores: int) -> None:
        self._place, self._person, self._cores = place, person, cores
        self._process: subprocess.Popen[str] | None = None
        self._stopped = False

    def __call__(self, tell: Callable[[str, int, int], None]) -> None:
        """Run to the end.

        Args:
            tell: called with the rule's name, steps done and steps in all, whenever they change.

        Raises:
            RunError: the workflow ended with an error; its last lines are in the words.
            Stopped: :meth:`stop` was called.
        """
        self._person.run.mkdir(parents=True, exist_ok=True)
        with _lock(self._person.run / LOCK) as lock:
            if self._stopped:
                raise Stopped
            process = self._process = subprocess.Popen(  # noqa: S603  (our own command, names from keys and labels)
                self._command(),
                cwd=self._person.run,
                env=_environment(),
                stdin=subprocess.DEVNULL,
                stdout=subprocess.PIPE,
                stderr=subprocess.STDOUT,
                text=True,
                errors="replace",
                start_new_session=True,
                pass_fds=(lock.fileno(),),
            )
            lock.write(f"{process.pid}\n")
            lock.flush()
            if self._stopped:
                self.stop()
            last = _follow(process, tell)
        if self._stopped:
            raise Stopped
        if process.returncode:
            raise RunError("\n".join(last))

    def stop(self) -> None:
        """End the run and everything it started."""
        self._stopped = True
        if self._process is not None and self._process.poll() is None:
            with contextlib.suppress(ProcessLookupError):
                os.killpg(self._process.pid, signal.SIGKILL)

    def _command(self) -> list[str]:
        paths = ["study=../study", "results=../results", f"loggers={self._place.loggers}"]
        return [
            *(sys.executable, "-m", "snakemake", "--snakefile", str(self._place.home / "Snakefile")),
            *("--directory", ".", "--cores", str(self._cores)),
            # The folder is this run's own, see _lock; what a killed run left unfinished is made again.
            *("--nolock", "--rerun-incomplete", "--show-failed-logs", "--config", *paths),
        ]


def end_orphan(person: PersonPlace) -> None:
    """End a run that outlived its server, and wait until it is gone."""
    import fcntl

    path = person.run / LOCK
    if not path.exists():
        return
    with path.open("r+") as lock:
        for _ in range(600):
            try:
                fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
                return
            except BlockingIOError:
                # The lock is held: the number in it is that of the process that holds it, and of nobody else.
                number = path.read_text().strip()
                if number:
                    with contextlib.suppress(ProcessLookupError, PermissionError):
                        os.killpg(int(number), signal.SIGKILL)
                time.sleep(0.1)
    raise RunError("A run that was left over does not end.", where=str(person.root))


@contextlib.contextmanager
def _lock(path: Path) -> Iterator[IO[str]]:
    """A lock that the started process holds with us and on its own should we fall."""
    import fcntl

    with path.open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        yield lock


def _follow(process: subprocess.Popen[str], tell: Callable[[str, int, int], None]) -> list[str]:
    """Read what the run says, tell of its stages; returns the last lines."""
    lines: list[str] = []
    rule, done, steps = "start", 0, 0
    for line in process.stdout or ():
        lines = [*lines[-KEPT_LINES:], line.rstrip()]
        found, counted, total = _RULE.match(line), _STEPS.match(line), _JOBS.match(line.strip())
        if found:
            rule = found.group(1) or found.group(2)
        elif counted:
            done, steps = int(counted.group(1)), int(counted.group(2))
        elif total:
            steps = int(total.group(1))
        else:
            continue
        tell(rule, done, steps)
    if process.stdout is not None:
        process.stdout.close()
    process.wait()
    return lines


def _environment() -> dict[str, str]:
    """The server's own environment, with the package that serves first in line; the run ends with the server."""
    own = str(HOME / "pipeline")
    before = os.environ.get("PYTHONPATH", "")
    path = f"{own}{os.pathsep}{before}" if before else own
    return {**started_here(os.environ), "PYTHONPATH": path, "PYTHONUNBUFFERED": "1"}
