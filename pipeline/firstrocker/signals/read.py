"""A session's folder in, its walks' logs out: the door of the pipeline."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import radians
from pathlib import Path

from firstrocker.errors import FirstrockerError
from firstrocker.model import Finding, Log, Person, Setting, WalkInfo, WalkLogs
from firstrocker.signals.geometry import foot_geometry
from firstrocker.signals.profiles import find_profile
from firstrocker.signals.readers import read_log
from firstrocker.signals.recordings import course_of, same_course
from firstrocker.signals.session import LogEntry, SessionFile, Walk, load_session


@dataclass(frozen=True)
class SessionInput:
    """A session as handed in: the person, the walks that can be read, and what was noticed beside those."""

    person: Person
    walks: tuple[WalkLogs, ...]
    findings: tuple[Finding, ...]


def read_session(folder: Path, *, loggers: Path) -> SessionInput:
    """Everything that the logs of a session hold.

    A walk whose foot logs cannot be read is left out with a finding of severity ``error``, a shank log that cannot be
    read with a ``warning``; every other walk is read, and where none is left none is given.

    Args:
        folder: ``sub-<label>/ses-<label>`` with a session.yaml.
        loggers: folder of logger profiles, used where the session brings none of that name.

    Raises:
        SessionError: the session file is wrong; every reason is named.
    """
    session = load_session(folder)
    geometry, findings = foot_geometry(session)
    notes = list(findings)
    walks = [_read_walk(walk, session, folder, loggers, notes) for walk in session.walks]
    read = _without_twins([walk for walk in walks if walk is not None], notes)
    standing = session.standing
    person = Person(
        subject=session.subject,
        session=session.session,
        affected_side=session.affected_side,
        foot=geometry,
        standing_shank_angle=None if standing is None else radians(standing.shank_to_vertical_deg),
    )
    return SessionInput(person, tuple(read), tuple(notes))


def _read_walk(walk: Walk, session: SessionFile, folder: Path, loggers: Path, notes: list[Finding]) -> WalkLogs | None:
    logs: list[Log] = []
    own: list[Finding] = []
    failed: list[Finding] = []
    for entry in walk.logs:
        try:
            log, findings = _read_entry(entry, session, folder, loggers)
        except FirstrockerError as error:
            failed.append(_unread(error, entry, walk.walk))
            continue
        logs.append(log)
        own += [replace(f, walk=walk.walk, segment=entry.segment, side=entry.side) for f in findings]
    if not any(log.segment == "foot" for log in logs):
        notes += [replace(f, severity="error") if f.segment == "foot" else f for f in failed]
        return None
    setting = walk.setting
    if not any(log.side == session.affected_side for log in logs):
        own.append(
            Finding(
                "affected-side-missing",
                "warning",
                f"The affected side is the {session.affected_side} one, but this walk has no log of it.",
                "Check 'affected_side' and each log's 'side' in session.yaml.",
                walk.walk,
            )
        )
    info = WalkInfo(
        walk=walk.walk,
        condition=walk.condition,
        setting=None if setting is None else Setting(setting.label, setting.resistance, setting.unit or ""),
    )
    return WalkLogs(info, tuple(logs), tuple(own + failed))


def _read_entry(entry: LogEntry, session: SessionFile, folder: Path, loggers: Path) -> tuple[Log, tuple[Finding, ...]]:
    profile = find_profile(entry.logger, own=session.loggers, folder=loggers)
    return read_log(folder / entry.file, profile=profile, segment=entry.segment, side=entry.side, where=entry.file)


def _unread(error: FirstrockerError, entry: LogEntry, walk: str) -> Finding:
    where = error.where or entry.file
    where = where if entry.file in where else f"{entry.file}: {where}"
    loss = (
        "This foot is not measured in this walk."
        if entry.segment == "foot"
        else "The ankle and shank are not measured."
    )
    message = f"{where}: {error.what} {loss}"
    return Finding(error.code, "warning", message, error.remedy, walk, entry.segment, entry.side)


def _without_twins(walks: list[WalkLogs], notes: list[Finding]) -> list[WalkLogs]:
    """Walks less those that were given one recording between them: nobody can tell whose it is."""
    twins: dict[str, str] = {}
    courses = [[course_of(log) for log in walk.logs] for walk in walks]
    for n, walk in enumerate(walks):
        for m, other in enumerate(walks[:n]):
            if any(same_course(a, b) for a in courses[n] for b in courses[m]):
                twins.setdefault(walk.info.walk, other.info.walk)
                twins.setdefault(other.info.walk, walk.info.walk)
    notes += [
        Finding(
            "same-recording",
            "error",
            f"The walks '{walk}' and '{other}' were given the same recording, and nothing tells which of them it is.",
            "Name the right file for each walk in session.yaml.",
            walk,
        )
        for walk, other in sorted(twins.items())
    ]
    return [walk for walk in walks if walk.info.walk not in twins]
