"""Whole session folders of the inbox: taken when every file has come to rest and none that is named is missing."""

from __future__ import annotations

import shutil
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from pathlib import Path

from firstrocker.inbox.home import ABOUT
from firstrocker.inbox.sorting import TAKEN, Sorting, Take, Verdict
from firstrocker.inbox.unnamed import may_be_log
from firstrocker.layout import SESSION_FILE, SessionName
from firstrocker.signals.motion_names import FOLDER
from firstrocker.signals.session import SessionFileError, load_session

_ALONG = "session.yaml does not name it, and it is no log: it lies in the study with the session, and nothing reads it."
_STRAY = Verdict(
    "quarantined",
    "It looks like a sensor's log, and session.yaml does not name it. The session was taken without it.",
    "Name it in session.yaml if it belongs there; else take it out of this folder: it may be another person's.",
    True,
)
_AGAIN = "Mend it in the inbox: the changed file is looked at the next night."


def sort_session(sorting: Sorting, name: SessionName, files: Mapping[str, str]) -> None:
    """Sort one session folder.

    Args:
        sorting: the look.
        name: the session.
        files: name in the session's folder -> path in the inbox.
    """
    shelf, paths = sorting.shelf, list(files.values())
    if all(
        sorting.fact(path).sha256 and shelf.has(name, file, sorting.fact(path).sha256) for file, path in files.items()
    ):
        for file, path in files.items():
            sorting.say([path], TAKEN, kind=_kind(file), session=name)
        return
    if shelf.text(name).startswith(ABOUT):
        why = "That day's session was made from loose logs already."
        remedy = (
            f"Keep one of the two: take this folder out of the inbox, or the loose logs and the study's {name.folder}."
        )
        _say(sorting, name, files, Verdict("quarantined", why, remedy, True))
        return
    logs, problem = _named_logs(sorting, name, files)
    hindered = {
        path: verdict
        for file, path in files.items()
        if (verdict := sorting.hindrance(path, is_log=_is_log(file, logs), before=_before(sorting, name, file)))
    }
    if hindered:
        _wait(sorting, name, files, hindered)
    elif problem is not None:
        late = sorting.long(paths) or problem.state == "quarantined"
        late_verdict = replace(problem, state="quarantined")
        _say(sorting, name, files, late_verdict if late else Verdict("waiting", problem.reason))
    else:
        _whole(sorting, name, files, logs)


def _whole(sorting: Sorting, name: SessionName, files: Mapping[str, str], logs: Sequence[str]) -> None:
    """A session at rest whose file can be read."""
    there = set(files) | set(sorting.shelf.files(name))
    missing = [log for log in logs if not _there(log, there)]
    note = Verdict("taken")
    if missing:
        told = f"{', '.join(missing[:3])}{' ...' if len(missing) > 3 else ''}, which session.yaml names"
        if not sorting.long(files.values()):
            _say(sorting, name, files, Verdict("waiting", f"The session waits for {told}."))
            return
        if len(missing) == len(logs):
            why = f"No log came: {told}, did not arrive."
            _say(sorting, name, files, Verdict("quarantined", why, "Send the logs, or mend their names.", True))
            return
        note = Verdict("taken", f"Taken without {told}.", "Send it, and the session is made again.", True)
    copies = {
        path: verdict
        for file, path in files.items()
        if _is_log(file, logs) and (verdict := sorting.copy(path, name, file))
    }
    if copies:
        _copies(sorting, name, files, copies, logs)
        return
    shelf = sorting.shelf
    changed = {f: p for f, p in files.items() if not shelf.has(name, f, sorting.fact(p).sha256)}
    strays = _strays(sorting, changed, logs)
    _say(sorting, name, {f: p for f, p in files.items() if f not in strays}, note)
    for file in changed:
        if file in strays:
            sorting.say([changed[file]], _STRAY, kind="log", session=name)
        elif _unnamed(file, logs):
            sorting.say([changed[file]], replace(TAKEN, reason=_ALONG), kind=_kind(file), session=name)
    changed = {file: path for file, path in changed.items() if file not in strays}
    if not changed:
        return
    sorting.takes.append(Take(name, changed))
    for file, path in changed.items():
        shelf.put(name, file, sorting.fact(path).sha256)


def _unnamed(file: str, logs: Sequence[str]) -> bool:
    """Whether nothing says what a file is; of a folder ``motion/`` all files have their meaning by their names."""
    return file != SESSION_FILE and not file.startswith(f"{FOLDER}/") and not _is_log(file, logs)


def _strays(sorting: Sorting, files: Mapping[str, str], logs: Sequence[str]) -> set[str]:
    """The files that nothing names and that may be logs: of whom, nobody knows."""
    return {f for f, path in files.items() if _unnamed(f, logs) and may_be_log(sorting.inbox / path)}


def _copies(
    sorting: Sorting, name: SessionName, files: Mapping[str, str], copies: Mapping[str, Verdict], logs: Sequence[str]
) -> None:
    """A session that holds logs which are known from elsewhere."""
    told = sum(_is_log(file, logs) for file in files)
    if len(copies) == told and all(verdict.state == "duplicate" for verdict in copies.values()):
        first = next(iter(copies.values()))
        _say(sorting, name, files, first)
        return
    path, verdict = next((one for one in copies.items() if one[1].state == "quarantined"), next(iter(copies.items())))
    if verdict.state == "duplicate":
        why = f"It is the same recording as {verdict.copy_of}, and others of the session are not."
        verdict = Verdict("quarantined", why, "Put each session's own log into its folder.", True, verdict.copy_of)
    _wait(sorting, name, files, {path: verdict})


def _wait(sorting: Sorting, name: SessionName, files: Mapping[str, str], hindered: Mapping[str, Verdict]) -> None:
    """Files that cannot be used, and those that wait for them; what was taken before stays taken."""
    order = ("quarantined", "waiting", "arrived")
    path, worst = min(hindered.items(), key=lambda one: order.index(one[1].state))
    short = path.rsplit("/", 1)[-1]
    for file, other in files.items():
        sha256 = sorting.fact(other).sha256
        if other in hindered:
            verdict = hindered[other]
        elif sha256 and sorting.shelf.has(name, file, sha256):
            verdict = TAKEN
        else:
            verdict = Verdict(worst.state, f"Lies with {short}, and a session is taken whole or not at all.")
        sorting.say([other], verdict, kind=_kind(file), session=name)


def _named_logs(
    sorting: Sorting, name: SessionName, files: Mapping[str, str]
) -> tuple[tuple[str, ...], Verdict | None]:
    """The logs that the session's file names, and why it cannot be read: waiting where it is missing only."""
    moved = any(file.startswith(f"{FOLDER}/") for file in [*files, *sorting.shelf.files(name)])
    given = files.get(SESSION_FILE)
    if given is None and not moved and SESSION_FILE not in sorting.shelf.files(name):
        why = "The session waits for its session.yaml, which tells whose logs these are."
        remedy = f"Put it there: {name.folder}/{SESSION_FILE}."
        return (), Verdict("waiting", why, remedy, True)
    if moved:
        return (), None  # what its labels mean stands in the settings: the analysis says what is to be mended
    try:
        with _alone(sorting, name, given) as folder:
            session = load_session(folder)
    except SessionFileError as error:
        why = str(error).removeprefix(f"{name.folder}/{SESSION_FILE}: ")  # the line begins with it
        return (), Verdict("quarantined", why, _AGAIN, True)
    except OSError as error:
        return (), Verdict("waiting", f"The session's file cannot be read ({error.strerror}).", _AGAIN, True)
    return tuple(log.file for walk in session.walks for log in walk.logs), None


class _alone:  # noqa: N801  (a context manager)
    """The session's file by itself in a folder of the right name: it is checked before its logs are copied."""

    def __init__(self, sorting: Sorting, name: SessionName, given: str | None) -> None:
        source = sorting.inbox / given if given else sorting.shelf.path(name, SESSION_FILE)
        self._root = sorting.study / ".intake" / "check"
        self._folder, self._source = self._root / name.folder, source

    def __enter__(self) -> Path:
        self._folder.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(self._source, self._folder / SESSION_FILE)
        return self._folder

    def __exit__(self, *_: object) -> None:
        with suppress(OSError):
            shutil.rmtree(self._root)


def _before(sorting: Sorting, name: SessionName, file: str) -> Path | None:
    return sorting.shelf.path(name, file) if file in sorting.shelf.files(name) else None


def _is_log(file: str, logs: Sequence[str]) -> bool:
    return file.endswith("_motion.tsv") or any(log == file or log.startswith(f"{file}/") for log in logs)


def _there(log: str, files: set[str]) -> bool:
    """Whether a named log is there, itself or as a file in a zip."""
    parts = log.replace("\\", "/").split("/")
    return any("/".join(parts[:end]) in files for end in range(1, len(parts) + 1))


def _kind(file: str) -> str:
    if file == SESSION_FILE:
        return "session"
    return "log" if file.endswith((".csv", ".parquet", ".gz", ".zip", ".tsv", ".txt")) else "other"


def _say(sorting: Sorting, name: SessionName, files: Mapping[str, str], verdict: Verdict) -> None:
    """The same of every file of the session; a person is asked once."""
    ordered = sorted(files, key=lambda file: (file != SESSION_FILE, file))
    for number, file in enumerate(ordered):
        own = verdict if number == 0 else Verdict(verdict.state, verdict.reason, copy_of=verdict.copy_of)
        sorting.say([files[file]], own, kind=_kind(file), session=name)
