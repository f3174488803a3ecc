"""One run at a time on a results folder, and no job that outlives its run.

Both rest on locks that the system lets go when a process ends, however it ends: nothing has to be unlocked by hand.
Where a file system knows no locks the run goes on without.
"""

from __future__ import annotations

import fcntl
import os
import shutil
import signal
import sys
import threading
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from types import FrameType

from firstrocker.errors import FirstrockerError, SettingsError
from firstrocker.layout import MADE

POLL_S = 0.1
STARTED_BY = "FIRSTROCKER_STARTED_BY"
"""Variable of the environment: number of the process that started a run and whose end is the run's."""
PATIENCE_S = 60.0
"""How long a run waits for the jobs of a killed run to notice that it is gone."""


class BusyError(FirstrockerError):
    """Another run is at work in the same place."""

    code = "busy"


def begin_run(results: Path, *, place: Path = Path()) -> None:
    """Have a results folder and a working directory to oneself until this process ends.

    What a killed run left behind is cleared: its jobs are waited for, and Snakemake's own lock of the working directory
    is taken away, for whoever held it would hold ours.

    Raises:
        BusyError: another run, or a job of one, is at work there.
        SettingsError: nothing can be written there.
    """
    snakemake = place / ".snakemake"
    hold(snakemake / "run.lock", place.resolve(), "Start one after the other, or this one with its own --directory.")
    hold(results / MADE / "run.lock", results, "Wait for its end, or name another results folder.")
    _wait_for_jobs(results)
    shutil.rmtree(snakemake / "locks", ignore_errors=True)
    shutil.rmtree(results / MADE / "parts", ignore_errors=True)


def stop_promptly() -> None:
    """From here on a request to end this process ends its jobs too, where Snakemake would wait for hours for them."""
    before = signal.getsignal(signal.SIGTERM)

    def stop(number: int, frame: FrameType | None) -> None:
        import psutil

        for job in psutil.Process().children():
            job.terminate()
        if callable(before):
            before(number, frame)

    signal.signal(signal.SIGTERM, stop)


def started_here(environment: Mapping[str, str]) -> dict[str, str]:
    """An environment by which a run of the workflow knows that it is to end with this process, however that ends."""
    return {**environment, STARTED_BY: str(os.getpid())}


def end_with_starter() -> None:
    """From here on end, at once, when the process is gone that started this run; where nobody is named go on alone."""
    starter = os.environ.get(STARTED_BY, "")
    if starter.isdecimal():
        threading.Thread(target=_watch_parent, args=(int(starter),), daemon=True).start()


@contextmanager
def stopping(stop: Callable[[], None]) -> Iterator[None]:
    """Have ``stop`` called when this process is asked to end: by SIGTERM, by Ctrl-C, or because its terminal is closed.

    Whoever started this process so that it passes over such a request (``nohup``) is heeded.
    """
    heard = {number: signal.getsignal(number) for number in (signal.SIGTERM, signal.SIGINT, signal.SIGHUP)}
    heard = {number: before for number, before in heard.items() if before is not signal.SIG_IGN}
    for number in heard:
        signal.signal(number, lambda number, frame: stop())
    try:
        yield
    finally:
        for number, before in heard.items():
            signal.signal(number, before)


def live_within(results: Path) -> int | None:
    """Mark this process as a job of a run on ``results``: it ends, at once, when the process that started it does.

    Returns:
        the descriptor of the lock that says so, to be handed on to processes of its own; None where there are no locks.
    """
    signal.signal(signal.SIGINT, signal.SIG_DFL)  # Ctrl-C reaches the jobs too: they end without a word
    threading.Thread(target=_watch_parent, args=(os.getppid(),), daemon=True).start()
    lock = _open(results / MADE / "jobs.lock")
    return lock if _flock(lock, fcntl.LOCK_SH) else None


def _watch_parent(parent: int) -> None:
    while os.getppid() == parent:
        time.sleep(POLL_S)
    os._exit(1)  # results are written whole or not at all, so that there is nothing to tidy


def hold(lock_file: Path, what: Path, remedy: str) -> int:
    """Have something to oneself until this process ends, or closes the descriptor that is returned.

    Raises:
        BusyError: another process has it.
        SettingsError: the lock cannot be written.
    """
    lock = _open(lock_file)
    if not _flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB):
        process, _, machine = os.pread(lock, 300, 0).decode(errors="replace").strip().partition(" ")
        elsewhere = f" on {machine}" if machine not in ("", os.uname().nodename) else ""
        told = f"another run is at work here (process {process or 'unknown'}{elsewhere})."
        raise BusyError(told, where=str(what), remedy=remedy)
    os.truncate(lock, 0)
    os.pwrite(lock, f"{os.getpid()} {os.uname().nodename}\n".encode(), 0)
    return lock


def _wait_for_jobs(results: Path) -> None:
    lock = _open(results / MADE / "jobs.lock")
    free: Callable[[], bool] = lambda: _flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)  # noqa: E731
    deadline = time.monotonic() + PATIENCE_S
    told = False
    while not free():
        if not told:
            sys.stderr.write(f"{results}: waiting for the last jobs of a run that was killed.\n")
            told = True
        if time.monotonic() > deadline:
            raise BusyError(
                "jobs of a run that is gone are still at work here.",
                where=str(results),
                remedy="Wait for their end (on a cluster: cancel them), then start again.",
            )
        time.sleep(POLL_S)
    os.close(lock)


def _open(path: Path) -> int:
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        return os.open(path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o666)
    except OSError as error:
        remedy = "See whether its disk is there and has room, and whose the folder is."
        what = f"nothing can be written there ({error.strerror})."
        raise SettingsError(what, where=str(path.parent), remedy=remedy) from None


def _flock(lock: int, kind: int) -> bool:
    """Whether the lock was had; a file system without locks counts as having given it."""
    try:
        fcntl.flock(lock, kind)
    except BlockingIOError:
        return False
    except OSError:
        return True
    return True
