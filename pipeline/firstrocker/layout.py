"""Where things lie in a study folder and in a results folder."""

from __future__ import annotations

import os
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from firstrocker.errors import SessionError

SESSION_FILE = "session.yaml"
STRIDES_FILES = ("strides.parquet", "curves.parquet", "wear.parquet", "quality.json", "evidence.json")
STUDY_FILES = ("summary.parquet", "comparison.parquet", "report.html", "letter.html")
COURSE = "course.html"
"""In a person's folder: the page over all sessions."""
NIGHTLY = "nightly"
"""Folder of a results folder with what is watched over days."""
MADE = ".made"
"""Folder of a results folder with what its parts were made from, and its locks."""

LABEL = "[A-Za-z0-9]{1,40}"
"""What a subject's or session's label may hold; folders are ``sub-<label>/ses-<label>``."""
LABEL_RULE = "a label holds letters and digits only, 40 at most"
"""The same in words. Files are named after four labels: no name may get longer than a disk can write."""
PART = f"{LABEL}_{LABEL}-{LABEL}_{LABEL}"
"""What the name of a part of a study looks like."""


@dataclass(frozen=True, order=True)
class SessionName:
    """A session's two labels, taken from its folders' names."""

    subject: str
    session: str

    @property
    def folder(self) -> str:
        """Its folder below a study or a results folder."""
        return f"sub-{self.subject}/ses-{self.session}"


def session_name(folder: Path) -> SessionName:
    """The labels of a session from its folder's path, in a study or in results.

    >>> session_name(Path("study/sub-P01/ses-20260302"))
    SessionName(subject='P01', session='20260302')
    """
    return SessionName(folder.parent.name.removeprefix("sub-"), folder.name.removeprefix("ses-"))


def session_day(label: str) -> date | None:
    """The date that a session's label begins with, None where it begins with none.

    >>> session_day("20260302"), session_day("20260302T0915"), session_day("20260231"), session_day("first")
    (datetime.date(2026, 3, 2), datetime.date(2026, 3, 2), None, None)
    """
    found = re.match(r"(\d{4})(\d\d)(\d\d)(?!\d)", label)
    try:
        return date(*(int(part) for part in found.groups())) if found else None
    except ValueError:
        return None


def part_name(first: SessionName, last: SessionName) -> str:
    """The name of all sessions from one to another.

    >>> part_name(SessionName("P01", "1"), SessionName("P09", "2"))
    'P01_1-P09_2'
    """
    return f"{first.subject}_{first.session}-{last.subject}_{last.session}"


def part_ends(name: str) -> tuple[SessionName, SessionName]:
    """The first and the last session of a part, from its name.

    Raises:
        SessionError: the name is not that of a part.
    """
    found = re.fullmatch(PART.replace(LABEL, f"({LABEL})"), name)
    if found is None:
        raise SessionError("this is not a part of a study.", where=name, remedy="Write it as P01_1-P09_2.")
    subject, session, last_subject, last_session = found.groups()
    return SessionName(subject, session), SessionName(last_subject, last_session)


def find_sessions(
    study: Path, first: SessionName | None = None, last: SessionName | None = None
) -> tuple[list[SessionName], list[str]]:
    """Every session of a study folder, told by the folders' names, whatever they hold.

    Args:
        study: the study folder.
        first: only from this one on; nobody else's folder is looked into.
        last: only up to this one.

    Returns:
        the sessions, sorted; and a sentence for each folder that looks meant for a session but is not named as one.
    """
    sessions: list[SessionName] = []
    strays: list[str] = []
    for person in (path for path in _folders(study, "sub-") if _is_asked_for(path, first, last)):
        for folder in _folders(person, "ses-"):
            name = session_name(folder)
            if _is_named(name):
                sessions.append(name)
            else:
                strays.append(f"{person.name}/{folder.name}: not looked at, for {LABEL_RULE}. Rename the folder.")
    among = [name for name in sorted(sessions) if (first is None or first <= name) and (last is None or name <= last)]
    return among, strays


def holds_a_session(study: Path) -> bool:
    """Whether there is any; it looks no further than the first."""
    folders = (folder for person in _folders(study, "sub-") for folder in _folders(person, "ses-"))
    return any(_is_named(session_name(folder)) for folder in folders)


def _is_named(name: SessionName) -> bool:
    return bool(re.fullmatch(LABEL, name.subject) and re.fullmatch(LABEL, name.session))


def _is_asked_for(person: Path, first: SessionName | None, last: SessionName | None) -> bool:
    label = person.name.removeprefix("sub-")
    return (first is None or first.subject <= label) and (last is None or label <= last.subject)


def made_sessions(study: Path, results: Path) -> list[SessionName]:
    """The sessions of a study that have results, sorted; one that failed because of a bug has none."""
    return [name for name in find_sessions(study)[0] if (results / name.folder / "quality.json").is_file()]


def withdrawn_sessions(in_study: Iterable[SessionName], results: Path) -> list[SessionName]:
    """The sessions that have results and are no longer among those in the study, sorted: told, never deleted."""
    there = set(in_study)
    made = (name for name in find_sessions(results)[0] if name not in there)
    return [name for name in made if (results / name.folder / "quality.json").is_file()]


def withdrawn_line(name: SessionName, results: Path) -> str:
    """What is to be said of such a session, and what to do."""
    return (
        "No longer in the study, but its results are still there, and whoever reads all results counts them. "
        f"Delete {results.name}/{name.folder}, or put the session back."
    )


def is_followed_up(session: Path) -> bool:
    """Whether the person of a session's folder in a study has other sessions."""
    others = (path.name.removeprefix("ses-") for path in _folders(session.parent, "ses-"))
    return sum(re.fullmatch(LABEL, label) is not None for label in others) > 1


def session_files(folder: Path, loggers: tuple[Path, ...] = ()) -> list[Path]:
    """Every file that a session's results may depend on: all of its folder, and the logger profiles it may name.

    Dot-files are passed over. A profile counts where its name stands anywhere in ``session.yaml``: rather one too
    many than one too few. Where there is a folder ``motion/``, sidecars above the session count too.
    """
    files = visible_files(folder)
    if (folder / "motion").is_dir():
        files += [path for place in (folder.parent, folder.parent.parent) for path in _sidecars(place)]
    return sorted(files) + [profile for place in loggers for profile in profiles_named(folder, place)]


def gravest_finding(record: Mapping[str, Any]) -> str:
    """The gravest finding of a quality.json as a sentence or two, and how many more there are; empty without any."""
    findings = [one for severity in ("error", "warning") for one in record["findings"] if one["severity"] == severity]
    if not findings:
        return ""
    first, rest = findings[0], len(findings) - 1
    more = f" ({rest} more in quality.json)" if rest else ""
    place = f"walk {first['walk']}: " if first["walk"] else ""
    return f"{place}{first['message']} {first['remedy']}".strip() + more


def _sidecars(place: Path) -> list[Path]:
    """Files of a Motion-BIDS dataset that hold for the sessions below ``place``."""
    names = ("*motion.json", "*channels.tsv", "*channels.json", "participants.tsv")
    return [path for name in names for path in place.glob(name) if path.is_file()]


def profiles_named(folder: Path, loggers: Path) -> list[Path]:
    """The logger profiles whose names stand anywhere in the session file of a folder, sorted."""
    try:
        text = (folder / SESSION_FILE).read_bytes()
    except OSError:
        return []
    return [path for path in sorted(loggers.glob("*.yaml")) if path.stem.encode() in text]


def visible_files(folder: Path) -> list[Path]:
    """Every file below a folder, sorted; hidden ones, and those in hidden folders, are passed over.

    What is taken away meanwhile is not there, and no error: a study may be put in order while a run looks at it.
    """
    files = []
    for place, folders, names in os.walk(folder, onerror=_pass_over):
        folders[:] = [name for name in folders if not name.startswith(".")]
        files += [Path(place, name) for name in names if not name.startswith(".")]
    return sorted(path for path in files if path.is_file())


def _folders(place: Path, begin: str) -> list[Path]:
    """The folders of a place whose names begin so, sorted; none where it is gone or closed."""
    try:
        names = [name for name in os.listdir(place) if name.startswith(begin)]
    except OSError as error:
        _pass_over(error)
        return []
    return sorted(path for name in names if (path := place / name).is_dir())


def _pass_over(error: OSError) -> None:
    """Raise what is neither gone nor closed: a disk that fails must not look like a study without sessions."""
    if not isinstance(error, (FileNotFoundError, NotADirectoryError, PermissionError)):
        raise error
