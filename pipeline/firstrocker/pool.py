"""Many tasks in a few processes that import everything once; a task that fails, or its process, takes no other with it.

A process is started by the command line of :mod:`firstrocker.cli`, is given one task after another as lines of JSON,
and answers each with a line. When the pool ends, however it ends, the pipe breaks and its processes end at once.
"""

from __future__ import annotations

import io
import json
import os
import queue
import signal
import subprocess
import sys
import threading
import traceback
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from typing import IO, Any, cast

Task = Mapping[str, Any]
Done = Callable[[Task, str | None], None]


def run_tasks(
    tasks: Sequence[Task], *, worker: Sequence[str], processes: int, log: IO[str], done: Done, keep: Sequence[int] = ()
) -> None:
    """Run every task, whatever becomes of the others.

    Args:
        tasks: plain data.
        worker: command line of a process that calls :func:`serve`.
        processes: how many at a time.
        log: a file for what the processes write on standard error.
        done: called after each task, one call at a time, with None or the text of what went wrong.
        keep: descriptors that the processes inherit.
    """
    waiting: queue.SimpleQueue[Task] = queue.SimpleQueue()
    for task in tasks:
        waiting.put(task)
    one_at_a_time = threading.Lock()

    def work_off() -> None:
        process: _Process | None = None
        while True:
            try:
                task = waiting.get_nowait()
            except queue.Empty:
                break
            process = process or _Process(worker, log, keep)
            failure, alive = process.do(task)
            if not alive:
                process = None
            with one_at_a_time:
                done(task, failure)
        if process is not None:
            process.close()

    with ThreadPoolExecutor(max(1, min(processes, len(tasks)))) as threads:
        for ended in [threads.submit(work_off) for _ in range(max(1, min(processes, len(tasks))))]:
            ended.result()


class _Process:
    def __init__(self, command: Sequence[str], log: IO[str], keep: Sequence[int]) -> None:
        self._running = subprocess.Popen(  # noqa: S603  (our own command line)
            list(command), stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=log, text=True, pass_fds=tuple(keep)
        )
        self._tasks = cast("IO[str]", self._running.stdin)
        self._answers = cast("IO[str]", self._running.stdout)

    def do(self, task: Task) -> tuple[str | None, bool]:
        """What went wrong, and whether the process can take another task."""
        answer = ""
        try:
            self._tasks.write(json.dumps(task) + "\n")
            self._tasks.flush()
            answer = self._answers.readline()
        except BrokenPipeError:
            pass
        if answer:
            failure: str | None = json.loads(answer)["failure"]
            return failure, True
        status = self._running.wait()
        for pipe in (self._tasks, self._answers):
            with suppress(BrokenPipeError):
                pipe.close()
        how = f"by signal {-status} ({signal.Signals(-status).name})" if status < 0 else f"with status {status}"
        return f"The process ended {how} in the middle of it; perhaps it ran out of memory.\n", False

    def close(self) -> None:
        self._running.communicate()


def serve(work: Callable[[Task], None]) -> None:
    """Take tasks from standard input until it ends, and answer each on standard output.

    What ``work`` prints goes to standard error. An exception is the answer to its task; the next one is taken.
    """
    answers = os.fdopen(os.dup(1), "w", encoding="utf-8")
    os.dup2(2, 1)
    cast("io.TextIOWrapper", sys.stdout).reconfigure(line_buffering=True)
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the pool is interrupted too, and its end is ours
    tasks: queue.SimpleQueue[str] = queue.SimpleQueue()
    busy = threading.Event()

    def read() -> None:
        for line in sys.stdin:
            busy.set()
            tasks.put(line)
        if busy.is_set():
            os._exit(1)
        tasks.put("")

    threading.Thread(target=read, daemon=True).start()
    while line := tasks.get():
        failure = None
        try:
            work(json.loads(line))
        except Exception:
            failure = traceback.format_exc()
        busy.clear()
        answers.write(json.dumps({"failure": failure}) + "\n")
        answers.flush()
