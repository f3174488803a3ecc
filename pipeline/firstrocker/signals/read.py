"""A session's folder in, its walks' logs out: the door of the pipeline."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import radians
from pathlib import Path

from firstrocker.errors import FirstrockerError, LogError
from firstrocker.model import Finding, Log, Person, Segment, Setting, Side, WalkInfo, WalkLogs
from firstrocker.signals.geometry import foot_geometry
from firstrocker.signals.motion_bids import find_recordings, sensors_of
from firstrocker.signals.motion_names import MotionLabels
from firstrocker.signals.profiles import LoggerProfile, find_profile
from firstrocker.signals.readers import read_log
from firstrocker.signals.recordings import course_of, same_course
from firstrocker.signals.session import SessionFile, Walk, load_session
from firstrocker.signals.stream import LongLog, LongWalk, lasts_longer

INVENTED = Finding("invented", "info", "There is no such person: the session file says that all of it is invented.")
"""Said of a session whose file holds ``invented: true``; no mistake, so there is nothing to mend."""


@dataclass(frozen=True)
class SessionInput:
    """A session as handed in: the person, the walks that can be read, and what was noticed beside those.

    walks: until they are handed over. long: walks that are too long to be held; they are read later, in parts.
    """

    person: Person
    walks: list[WalkLogs]
    findings: tuple[Finding, ...]
    long: tuple[LongWalk, ...] = ()

    def handed_over(self) -> Iterator[WalkLogs]:
        """Each walk once, and kept no longer: its logs are gone as soon as the taker is done with them."""
        while self.walks:
            yield self.walks.pop(0)


@dataclass(frozen=True)
class _Source:
    """One sensor's log of a walk: its file below the session's folder, and how that reads or who knows."""

    segment: Segment
    side: Side
    file: str
    logger: str = ""
    profile: LoggerProfile | None = None


def read_session(
    folder: Path, *, loggers: Path, labels: MotionLabels | None = None, whole_up_to_s: float | None = None
) -> SessionInput:
    """Everything that the logs of a session hold.

    A walk whose foot logs cannot be read is left out with a finding of severity ``error``, a shank log that cannot be
    read with a ``warning``; every other walk is read, and where none is left none is given.

    Args:
        folder: ``sub-<label>/ses-<label>`` with a session.yaml.
        loggers: folder of logger profiles, used where the session brings none of that name.
        labels: what labels of a Motion-BIDS dataset mean.
        whole_up_to_s: walks with a foot log that is longer are left to be read in parts; None: all are read.

    Raises:
        SessionError: the session file is wrong; every reason is named.
    """
    labels = labels or MotionLabels()
    session = load_session(folder, labels)
    geometry, findings = foot_geometry(session)
    notes = [*findings, *([INVENTED] if session.invented else [])]
    long = {} if whole_up_to_s is None else _long_walks(session, folder, loggers, labels, whole_up_to_s)
    rest = [walk for walk in session.walks if walk.walk not in long]
    walks = [_read_walk(walk, session, folder, loggers, labels, notes) for walk in rest]
    read = _without_twins([walk for walk in walks if walk is not None], notes)
    standing = session.standing
    person = Person(
        subject=session.subject,
        session=session.session,
        affected_side=session.affected_side,
        foot=geometry,
        standing_shank_angle=None if standing is None else radians(standing.shank_to_vertical_deg),
    )
    return SessionInput(person, read, tuple(notes), _apart(list(long.values()), notes))


def _read_walk(
    walk: Walk, session: SessionFile, folder: Path, loggers: Path, labels: MotionLabels, notes: list[Finding]
) -> WalkLogs | None:
    logs: list[Log] = []
    own: list[Finding] = []
    failed: list[Finding] = []
    try:
        sources = _sources(walk, folder, labels, failed)
    except FirstrockerError as error:
        notes.append(Finding(error.code, "error", f"{error.where}: {error.what}", error.remedy, walk.walk))
        return None
    for source in sources:
        try:
            profile = source.profile or find_profile(source.logger, own=session.loggers, folder=loggers)
            path = folder / source.file
            log, findings = read_log(path, profile=profile, segment=source.segment, side=source.side, where=source.file)
        except FirstrockerError as error:
            failed.append(_unread(error, source, walk.walk))
            continue
        logs.append(log)
        own += [replace(f, walk=walk.walk, segment=source.segment, side=source.side) for f in findings]
    if not any(log.segment == "foot" for log in logs):
        notes += [replace(f, severity="error") if f.segment == "foot" else f for f in failed]
        return None
    own += _side_missing(walk, session, {log.side for log in logs})
    return WalkLogs(_info(walk), tuple(logs), tuple(own + failed))


def _info(walk: Walk) -> WalkInfo:
    setting = walk.setting
    return WalkInfo(
        walk=walk.walk,
        condition=walk.condition,
        setting=None if setting is None else Setting(setting.label, setting.resistance, setting.unit or ""),
    )


def _side_missing(walk: Walk, session: SessionFile, sides: set[Side]) -> list[Finding]:
    if session.affected_side in sides:
        return []
    return [
        Finding(
            "affected-side-missing",
            "warning",
            f"The affected side is the {session.affected_side} one, but this walk has no log of it.",
            "Check 'affected_side' and each log's 'side' in session.yaml.",
            walk.walk,
        )
    ]


def _long_walks(
    session: SessionFile, folder: Path, loggers: Path, labels: MotionLabels, whole_up_to_s: float
) -> dict[str, LongWalk]:
    """The walks with a foot log too long to be held, by label; what is wrong with one shows when it is read."""
    found: dict[str, LongWalk] = {}
    for walk in session.walks:
        failed: list[Finding] = []
        logs: list[LongLog] = []
        try:
            for one in _sources(walk, folder, labels, failed):
                profile = one.profile or find_profile(one.logger, own=session.loggers, folder=loggers)
                logs.append(LongLog(folder / one.file, profile, one.segment, one.side, one.file))
        except FirstrockerError:
            continue
        if any(log.segment == "foot" and lasts_longer(log, whole_up_to_s) for log in logs):
            failed += _side_missing(walk, session, {log.side for log in logs})
            found[walk.walk] = LongWalk(_info(walk), tuple(logs), tuple(failed))
    return found


def _apart(walks: list[LongWalk], notes: list[Finding]) -> tuple[LongWalk, ...]:
    """Long walks less those that name one file for two things."""
    named = [(log.path.resolve(), log.profile.rows) for walk in walks for log in walk.logs]
    twins = [w for w in walks if any(named.count((log.path.resolve(), log.profile.rows)) > 1 for log in w.logs)]
    notes += [
        Finding(
            "same-recording",
            "error",
            f"The walk '{walk.info.walk}' was given a recording that is given for something else too, and nothing "
            "tells which of them it is.",
            "Name the right file for each sensor and walk in session.yaml.",
            walk.info.walk,
        )
        for walk in twins
    ]
    return tuple(walk for walk in walks if walk not in twins)


def _sources(walk: Walk, folder: Path, labels: MotionLabels, failed: list[Finding]) -> list[_Source]:
    if walk.motion is None:
        return [_Source(log.segment, log.side, log.file, log.logger) for log in walk.logs]
    wanted = walk.motion.model_dump(exclude_none=True)
    fitting = [r for r in find_recordings(folder) if all(getattr(r, key) == label for key, label in wanted.items())]
    if len(fitting) != 1:
        shown = ", ".join(f"{key}-{label}" for key, label in wanted.items())
        raise LogError(
            f"There {'is no recording' if not fitting else f'are {len(fitting)} recordings'} of {shown}.",
            where="motion",
            remedy="Name task, acq and run under 'motion' in session.yaml as the files do.",
        )
    sensors, findings = sensors_of(fitting[0], folder, labels.points)
    failed += [replace(finding, walk=walk.walk) for finding in findings]
    if not any(sensor.segment == "foot" for sensor in sensors) and not findings:
        raise LogError(
            "No channels of a foot were found.",
            where=fitting[0].files[0].name,
            remedy="Say under settings, bids, tracked_points, which tracked point is the foot.",
        )
    return [_Source(one.segment, one.side, one.file, profile=one.profile) for one in sensors]


def _unread(error: FirstrockerError, entry: _Source, walk: str) -> Finding:
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
    if len(walks) < 2:
        return walks
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
