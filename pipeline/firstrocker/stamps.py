"""What each session's results were made from, so that a change remakes what depends on it and nothing else.

A workflow of one job per session and file spends more on its own bookkeeping than on the sessions. So one job makes
many, and the record of what a session was made from is kept here, one small file per session in ``results/.made``:
the fingerprint of its files (name, size, time of the last change), of the settings and of the code. It is taken away
before a session is made and written after, so that no session half made passes for whole.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from firstrocker.files import replacing, sha256_of_json
from firstrocker.layout import MADE, STRIDES_FILES, STUDY_FILES, SessionName, is_followed_up, session_files
from firstrocker.mark import marks_of
from firstrocker.settings import Settings
from firstrocker.sources import source_hash

MOST_NAMED = 5
"""Sessions named where some are missing; of more, the number is enough."""
STRIDES_SECTIONS = ("signals", "day", "motion", "gait", "bids")
STUDY_SECTIONS = ("study",)
STRIDES_STEPS = ("firstrocker.steps.strides",)
STUDY_STEPS = ("firstrocker.steps.study", "firstrocker.steps.report", "firstrocker.steps.letter")


@dataclass(frozen=True)
class Stamp:
    """Fingerprints of what a session's strides, and all that follows from them, are made from; empty where not made."""

    strides: str = ""
    study: str = ""


@dataclass(frozen=True)
class Recipe:
    """Fingerprints of settings and code, the same for every session of a run."""

    strides: str
    study: str


def recipe_of(settings: Settings) -> Recipe:
    """The recipe that these settings and this code give."""

    def of(sections: Iterable[str], steps: Iterable[str]) -> str:
        return fingerprint(settings.model_dump(mode="json", include=set(sections)), *steps)

    return Recipe(strides=of(STRIDES_SECTIONS, STRIDES_STEPS), study=of(STUDY_SECTIONS, STUDY_STEPS))


def fingerprint(values: Any, *steps: str) -> str:
    """Fingerprint of values of settings and of the code that steps, by their dotted names, reach by imports."""
    return sha256_of_json([values, source_hash(*steps)])[:16]


def wanted_stamp(session: Path, loggers: Path, recipe: Recipe) -> Stamp:
    """The stamp that a session's results should carry.

    Args:
        session: its folder in the study.
        loggers: folder of logger profiles; those that the session names count.
        recipe: the run's.
    """
    marks = marks_of(session_files(session, (loggers,)))
    files = [(os.path.relpath(path, session if session in path.parents else loggers), *m) for path, m in marks.items()]
    strides = sha256_of_json([files, recipe.strides])[:16]
    return Stamp(strides=strides, study=sha256_of_json([strides, is_followed_up(session), recipe.study])[:16])


def made_stamp(results: Path, name: SessionName) -> Stamp:
    """The stamp that a session's results carry; empty where a file of theirs is gone."""
    try:
        told = json.loads(stamp_file(results, name).read_text(encoding="utf-8"))
        stamp = Stamp(strides=str(told["strides"]), study=str(told["study"]))
        there = set(os.listdir(results / name.folder))
    except (OSError, ValueError, TypeError, KeyError):
        return Stamp()
    if not there.issuperset(STRIDES_FILES):
        return Stamp()
    return stamp if there.issuperset(STUDY_FILES) else Stamp(strides=stamp.strides)


def steps_to_make(wanted: Stamp, made: Stamp) -> tuple[str, ...]:
    """Which steps a session still needs.

    >>> steps_to_make(Stamp("a", "b"), Stamp("a", "c"))
    ('study',)
    """
    if wanted.strides != made.strides:
        return ("strides", "study")
    return ("study",) if wanted.study != made.study else ()


def not_made(results: Path, wanted: Mapping[SessionName, Stamp]) -> list[str]:
    """A sentence on the sessions that a run which failed has not made; none where all are."""
    left = [name.folder for name, stamp in wanted.items() if steps_to_make(stamp, made_stamp(results, name))]
    if not left:
        return []
    more = f" and {len(left) - MOST_NAMED} more" if len(left) > MOST_NAMED else ""
    return [
        f"Not made: {len(left)} of {len(wanted)} sessions ({', '.join(left[:MOST_NAMED])}{more}). "
        f"One that failed by itself has a log of its own in {results}/logs; the job of the others ended before them "
        "(cancelled, out of time or memory, its node lost: see above). All else is whole; the same command makes what "
        "is missing."
    ]


def stamp_file(results: Path, name: SessionName) -> Path:
    """Where a session's stamp lies."""
    return results / MADE / f"sub-{name.subject}" / f"ses-{name.session}.json"


def write_stamp(results: Path, name: SessionName, stamp: Stamp) -> None:
    """Keep a session's stamp; an empty one is taken away.

    It need not outlive a power cut, for without it the session is only made again: it is not forced to the disk.
    """
    _keep(stamp_file(results, name), None if stamp == Stamp() else stamp)


def failed_file(results: Path, name: SessionName) -> Path:
    """Where it is written down that a session failed because of a bug, and what it was to be made from."""
    return results / MADE / f"sub-{name.subject}" / f"ses-{name.session}.failed.json"


def write_failed(results: Path, name: SessionName, wanted: Stamp | None) -> None:
    """Remember that a session failed as it is; None: it did not."""
    _keep(failed_file(results, name), wanted)


def _keep(path: Path, stamp: Stamp | None) -> None:
    if stamp is None:
        path.unlink(missing_ok=True)
        return
    with replacing(path, lasting=False) as temporary:
        temporary.write_text(json.dumps(asdict(stamp)), encoding="utf-8")


def has_failed(results: Path, name: SessionName, wanted: Stamp) -> bool:
    """Whether a session failed before, made from the very same files, settings and code."""
    try:
        told = json.loads(failed_file(results, name).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return False
    return bool(told == asdict(wanted))
