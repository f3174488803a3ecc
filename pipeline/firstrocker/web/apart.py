"""Looking at logs in a process of its own: a log that eats memory or time takes that process down and nothing else."""

from __future__ import annotations

import os
import signal
import threading
from collections.abc import Mapping
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from multiprocessing import get_context, parent_process
from multiprocessing.connection import wait
from pathlib import Path

from firstrocker.web.recognise import Understood, answer, recognise

MEMORY = 3 << 30
"""Address space of the process that looks; the libraries' own mappings take a third of it."""
SECONDS = 60.0
_TOO_MUCH = "Looking at this file took too much memory or time: it is no log of a walk, or a damaged one."


class Looker:
    """One process that looks at logs, one after the other, started when first needed and again after a fall."""

    def __init__(self, loggers: Path) -> None:
        self._loggers = loggers
        self._pool: ProcessPoolExecutor | None = None
        self._lock = threading.Lock()

    def recognise(self, path: Path) -> Understood:
        """:func:`firstrocker.web.recognise.recognise` with the known profiles."""
        return self._ask(_recognise, path, self._loggers)

    def answer(self, path: Path, asked: Understood, answers: Mapping[str, int]) -> Understood:
        """:func:`firstrocker.web.recognise.answer`."""
        return self._ask(answer, path, asked, dict(answers))

    def close(self) -> None:
        """End the process."""
        with self._lock:
            self._drop()

    def _ask(self, call: object, *arguments: object) -> Understood:
        with self._lock:
            if self._pool is None:
                self._pool = ProcessPoolExecutor(1, mp_context=get_context("spawn"), initializer=_bounded)
            try:
                return self._pool.submit(call, *arguments).result(timeout=SECONDS)  # type: ignore[arg-type]
            except (BrokenProcessPool, MemoryError, TimeoutError):
                self._drop()
                return Understood(problem=_TOO_MUCH)

    def _drop(self) -> None:
        if self._pool is None:
            return
        for process in list((self._pool._processes or {}).values()):
            process.kill()
        self._pool.shutdown(wait=True, cancel_futures=True)
        self._pool = None


def _bounded() -> None:
    """Bound memory where the system can, and end with the process that asked, however that ends."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, daemon=True).start()
    os.environ["OMP_NUM_THREADS"] = os.environ["OPENBLAS_NUM_THREADS"] = "1"
    try:
        import resource
    except ImportError:
        return
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))


def _end_with_parent() -> None:
    parent = parent_process()
    if parent is not None:
        wait([parent.sentinel])
        os._exit(1)


def _recognise(path: Path, loggers: Path) -> Understood:
    return recognise(path, loggers=loggers)
