"""A study or its results as a Motion-BIDS dataset."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from firstrocker.bids import derivative, raw
from firstrocker.bids.dataset import write_description
from firstrocker.errors import FirstrockerError, SettingsError
from firstrocker.files import new_folder, read_json, read_table
from firstrocker.layout import SessionName, find_sessions
from firstrocker.settings import Settings
from firstrocker.signals.read import read_session
from firstrocker.signals.session import load_session
from firstrocker.steps.labels import motion_labels

_RAW = """\
# {name}

Logs of foot and shank sensors of {count} sessions, written by firstrocker. Each session's `session.yaml` holds what the
standard has no place for; with it, this folder is a study that firstrocker reads.
"""
_RESULTS = """\
# {name}

Strides found and measured by firstrocker, one row of an `events.tsv` per stride; the JSON beside it says what each
column is, whether the session was flagged, and everything that was noticed. For research; not a medical device.

| session | status |
|---|---|
"""


def export_study(study: Path, out: Path, *, settings: Settings, loggers: Path) -> list[str]:
    """Write a study's logs as a dataset, whole or not at all.

    Args:
        study: the study folder.
        out: the dataset to be made; must not exist yet, or be empty.
        settings: the section bids is used.
        loggers: folder of logger profiles.

    Returns:
        a sentence for each session and walk that could not be read and was left out.

    Raises:
        SettingsError: no study, a folder that is not empty, or not one session that can be read.
    """
    left_out: list[str] = []
    sides: dict[str, str] = {}
    names = _sessions(study)
    labels = motion_labels(settings)
    with _new_folder(out) as folder:
        for name in names:
            try:
                session = load_session(study / name.folder, labels)
                given = read_session(study / name.folder, loggers=loggers, labels=labels)
            except FirstrockerError as mistake:
                left_out.append(f"{name.folder}: left out: {mistake}")
                continue
            problems = [*given.findings, *(finding for walk in given.walks for finding in walk.findings)]
            left_out += [
                f"{name.folder}: walk {finding.walk}: {finding.message} {finding.remedy}"
                for finding in problems
                if finding.severity != "info" and finding.walk is not None
            ]
            if given.walks:
                raw.write_session(folder, session, given)
                sides.setdefault(session.subject, session.affected_side)
        if not sides:
            raise SettingsError("no session of it can be read.", where=str(study), remedy="Try `firstrocker check`.")
        raw.write_participants(folder, sides.items())
        readme = _RAW.format(name=study.resolve().name, count=len(names))
        ignored = ("sub-*/ses-*/session.yaml", "session.yaml")
        write_description(folder, name=study.resolve().name, derivative=False, readme=readme, ignored=ignored)
    return left_out


def export_results(results: Path, out: Path) -> None:
    """Write the strides of a results folder as a derivative dataset, whole or not at all.

    Args:
        results: the results folder.
        out: the dataset to be made; must not exist yet, or be empty.

    Raises:
        SettingsError: no results, or a folder that is not empty.
    """
    names = [name for name in _sessions(results) if (results / name.folder / "quality.json").is_file()]
    if not names:
        raise SettingsError("it holds no results of a session.", where=str(results), remedy="Run the workflow first.")
    title = f"Strides of {results.resolve().name}"
    readme = _RESULTS.format(name=title)
    with _new_folder(out) as folder:
        for name in names:
            quality = read_json(results / name.folder / "quality.json")
            derivative.write_session(folder, read_table(results / name.folder / "strides.parquet"), quality)
            readme += f"| {name.folder} | {quality['status']} |\n"
        write_description(folder, name=title, derivative=True, readme=readme)


def _sessions(folder: Path) -> list[SessionName]:
    if not folder.is_dir():
        raise SettingsError("there is no such folder.", where=str(folder), remedy="Mend the path.")
    return find_sessions(folder)[0]


@contextmanager
def _new_folder(out: Path) -> Iterator[Path]:
    """A temporary folder that takes the place of ``out`` when the block ends without an error."""
    if out.exists() and (not out.is_dir() or any(out.iterdir())):
        raise SettingsError("this is not an empty folder.", where=str(out), remedy="Name a new folder, or empty it.")
    with new_folder(out) as temporary:
        yield temporary
