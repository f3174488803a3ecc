"""What a run is told beside the settings: folders and how it is parted; mistakes in it, in words."""

from __future__ import annotations

from collections.abc import Mapping
from difflib import get_close_matches
from itertools import permutations
from pathlib import Path
from typing import Any

from firstrocker.errors import SettingsError
from firstrocker.layout import holds_a_session

KEYS = ("settings", "inbox", "study", "results", "loggers", "sessions_per_job", "job_minutes")
MOST_SESSIONS = 200
JOB_MINUTES = 20
"""Of one job of a cluster, at most, unless ``sessions_per_job`` and ``job_minutes`` say else: some minutes of work, and
what is lost when a node is. One machine makes all in one job."""


def check_folders(study: Path, results: Path, loggers: Path, *, is_demo: bool, inbox: Path | None = None) -> None:
    """Look whether a run's folders are there and can be what they are said to be.

    Raises:
        SettingsError: one is missing, empty, or the same as another.
    """
    if not loggers.is_dir():
        raise SettingsError("there is no such folder.", where=f"loggers={loggers}", remedy="Mend the path.")
    if results.resolve() == study.resolve():
        raise SettingsError(
            "study and results are one folder.", where=f"results={results}", remedy="Choose another results."
        )
    if inbox is not None:
        _check_inbox(inbox, study, results, is_demo=is_demo)
        return
    if is_demo:
        return
    if not study.is_dir():
        raise SettingsError("there is no such folder.", where=f"study={study}", remedy="Mend the path.")
    if not holds_a_session(study):
        raise SettingsError(
            "it holds no session.",
            where=f"study={study}",
            remedy="A session is a folder sub-<label>/ses-<label> with a session.yaml in it.",
        )


def _check_inbox(inbox: Path, study: Path, results: Path, *, is_demo: bool) -> None:
    if is_demo:
        remedy = "Say study=PATH too: the folder that whole sessions are taken into."
        raise SettingsError("an inbox needs a study to be taken into.", where=f"inbox={inbox}", remedy=remedy)
    if not inbox.is_dir():
        remedy = "Mend the path; if the folder comes over a network, see whether it is there."
        raise SettingsError("there is no such folder.", where=f"inbox={inbox}", remedy=remedy)
    for (name, one), (other_name, other) in permutations(
        {"inbox": inbox, "study": study, "results": results}.items(), 2
    ):
        if "inbox" in (name, other_name) and one.resolve().is_relative_to(other.resolve()):
            what = f"{name} lies in {other_name}."
            raise SettingsError(what, where=f"{name}={one}", remedy="Keep inbox, study and results apart.")


def refuse_unknown(config: Mapping[str, Any]) -> None:
    """Refuse keys that mean nothing.

    Raises:
        SettingsError: with the nearest known name.
    """
    known = {key: key for key in KEYS} | {name: f"settings: {name}" for name in ("signals", "day", "motion", "gait")}
    for key in config:
        if key not in KEYS:
            close = get_close_matches(key, known, n=1)
            hint = f" (did you mean {known[close[0]]}?)" if close else ""
            raise SettingsError(f"there is no key {key}{hint}.", where="config", remedy=f"Known: {', '.join(KEYS)}.")


def path_of(config: Mapping[str, Any], key: str, default: Path) -> Path:
    """A path of the configuration.

    Raises:
        SettingsError: it is no path.
    """
    value = config.get(key)
    if value is None:
        return default
    if isinstance(value, (dict, list)):
        raise SettingsError("this is not a path.", where=f"{key}={value}", remedy="Settings stand under `settings`.")
    return Path(str(value)).expanduser()


def whole_of(config: Mapping[str, Any], key: str, usual: int) -> int:
    """A number of the configuration, of sessions or of minutes.

    Raises:
        SettingsError: it is no whole number from 1.
    """
    value = config.get(key, usual)
    if type(value) is not int or value < 1:
        what = f"this is not a number of {'sessions' if key == 'sessions_per_job' else 'minutes'}."
        raise SettingsError(what, where=f"{key}={value}", remedy="Say 1 or more.")
    return value
