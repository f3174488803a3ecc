"""Many sessions, each by itself: whatever is not yet made of it is made, and it is told from what."""

from __future__ import annotations

import json
import sys
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from functools import lru_cache
from pathlib import Path
from time import monotonic
from typing import IO

from firstrocker.files import compact_json
from firstrocker.layout import SessionName, find_sessions, is_followed_up
from firstrocker.pool import Task, run_tasks, serve
from firstrocker.settings import Settings, load_settings
from firstrocker.stamps import (
    Recipe,
    Stamp,
    has_failed,
    made_stamp,
    recipe_of,
    steps_to_make,
    wanted_stamp,
    write_failed,
    write_stamp,
)

WORKER = (sys.executable, "-m", "firstrocker", "worker")
TELL_EVERY_S = 10.0


@dataclass(frozen=True)
class Folders:
    """Where a run reads and writes."""

    study: Path
    results: Path
    loggers: Path


def make_sessions(
    folders: Folders,
    first: SessionName,
    last: SessionName,
    *,
    settings: Settings,
    processes: int,
    log: IO[str],
    keep: Sequence[int] = (),
    unwatched: bool = False,
) -> dict[SessionName, str]:
    """Make what is not yet made of the sessions from ``first`` to ``last``, a few at a time.

    Args:
        folders: study, results and logger profiles.
        first: the first session, in the order of :func:`firstrocker.layout.find_sessions`.
        last: the last one; it is made too.
        settings: all sections are used.
        processes: how many sessions at a time.
        log: file for what the sessions have to say; a session that fails has a log of its own besides.
        keep: descriptors that every process inherits.
        unwatched: pass over sessions that failed before, just as they are.

    Returns:
        the sessions that failed, and why in a few words (:func:`why_failed`). All others are made.
    """
    recipe = recipe_of(settings)
    names = find_sessions(folders.study, first, last)[0]
    stamps = {name: wanted_stamp(folders.study / name.folder, folders.loggers, recipe) for name in names}
    tasks = [
        {"subject": name.subject, "session": name.session, "recipe": asdict(recipe), "settings": compact_json(given)}
        | {key: str(path) for key, path in asdict(folders).items()}
        for given in [settings.model_dump(mode="json")]
        for name in names
        if steps_to_make(stamps[name], made_stamp(folders.results, name))
        and not (unwatched and has_failed(folders.results, name, stamps[name]))
    ]
    failed: dict[SessionName, str] = {}
    progress = _Progress(len(tasks))

    def done(task: Task, failure: str | None) -> None:
        name = SessionName(task["subject"], task["session"])
        own_log = folders.results / "logs" / f"{name.folder}.log"
        if failure is None:
            own_log.unlink(missing_ok=True)
            write_failed(folders.results, name, None)
        else:
            failed[name] = why_failed(failure)
            if unwatched and failure.startswith("Traceback"):  # a process that was killed is tried again
                write_failed(folders.results, name, stamps[name])
                (folders.results / name.folder / "quality.json").unlink(missing_ok=True)
            own_log.parent.mkdir(parents=True, exist_ok=True)
            own_log.write_text(failure, encoding="utf-8")
            log.write(f"{name.folder}:\n{failure}\n")
            log.flush()
        progress.step()

    run_tasks(tasks, worker=WORKER, processes=processes, log=log, done=done, keep=keep)
    return dict(sorted(failed.items()))


def why_failed(failure: str) -> str:
    """Whether a failure is a bug, or the machine had too little memory; and what to do about the latter."""
    last = failure.rstrip().rsplit("\n", 1)[-1]
    if failure.startswith("Traceback") and "MemoryError" not in last:
        return "failed because of a bug"
    return (
        "was not made, for its process was ended from outside or ran out of memory; all others are whole. Run fewer "
        "sessions at a time (--cores 1) or with more memory"
    )


def serve_sessions() -> None:
    """Be one of the processes of :func:`make_sessions`."""
    serve(_make)


def _make(task: Task) -> None:
    make_session(
        Folders(Path(task["study"]), Path(task["results"]), Path(task["loggers"])),
        SessionName(task["subject"], task["session"]),
        settings=_settings(task["settings"]),
        recipe=Recipe(**task["recipe"]),
    )


def make_session(folders: Folders, name: SessionName, *, settings: Settings, recipe: Recipe) -> None:
    """Make what is not yet made of one session; anything that is not a user's mistake is raised."""
    source, out = folders.study / name.folder, folders.results / name.folder
    wanted = wanted_stamp(source, folders.loggers, recipe)
    steps = steps_to_make(wanted, made_stamp(folders.results, name))
    if "strides" in steps:
        from firstrocker.steps.strides import make_strides

        write_stamp(folders.results, name, Stamp())
        make_strides(source, out, settings=settings, loggers=folders.loggers)
    if "study" in steps:
        from firstrocker.steps.letter import make_letter
        from firstrocker.steps.report import make_report
        from firstrocker.steps.study import make_study

        write_stamp(folders.results, name, Stamp(strides=wanted.strides))
        make_study(out, settings=settings)
        make_report(out, settings=settings, follow_up=is_followed_up(source))
        make_letter(out, settings=settings)
        write_stamp(folders.results, name, wanted)


@lru_cache(maxsize=1)
def _settings(text: str) -> Settings:
    return load_settings(json.loads(text), where="settings")


class _Progress:
    """A line on standard error every few seconds: a run of an hour says that it is alive."""

    def __init__(self, total: int) -> None:
        self._total, self._done, self._told = total, 0, monotonic()

    def step(self) -> None:
        self._done += 1
        if monotonic() - self._told >= TELL_EVERY_S:
            self._told = monotonic()
            sys.stderr.write(f"{self._done} of {self._total} sessions done\n")
            sys.stderr.flush()
