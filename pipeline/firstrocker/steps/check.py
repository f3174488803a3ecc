"""Everything that is to be mended in a study, at once and before anything is computed from it.

Session files, logger profiles and logs are read by the functions that the analysis reads them by, and every log's
signals go through the same checks.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from textwrap import wrap

from firstrocker.chain import as_finding
from firstrocker.errors import FirstrockerError, SettingsError
from firstrocker.faults import BY_CODE
from firstrocker.files import sha256_of
from firstrocker.layout import SessionName, find_sessions
from firstrocker.model import Finding, Severity
from firstrocker.settings import Settings
from firstrocker.signals.checks import check_log
from firstrocker.signals.profiles import load_profile, profile_names
from firstrocker.signals.read import read_session
from firstrocker.signals.session import SessionFileError, load_session
from firstrocker.signals.stream import LongWalk, head_of
from firstrocker.signals.usable import usable_logs
from firstrocker.steps.inputs import Inputs
from firstrocker.steps.labels import motion_labels

ONLY_OF_ALL = ("stuck-axis",)
"""What the first minute of a day cannot tell: a sensor that lies still may repeat itself."""
OF_THE_SENSOR = ("accelerometer-gain", "noise", "rate-differs", "rate-low", "jitter")


@dataclass(frozen=True)
class Trouble:
    """One thing to mend. where: session and walk, or file. error: something is not measured; warning: look at it."""

    where: str
    severity: Severity
    code: str
    what: str
    remedy: str


def check_study(study: Path, *, settings: Settings, loggers: Path) -> list[Trouble]:
    """Read every session of a study and the logger profiles.

    Args:
        study: the study folder.
        settings: the sections signals, day and bids are used.
        loggers: folder of logger profiles.

    Returns:
        Errors and warnings: profiles first, then session by session, errors before warnings.

    Raises:
        SettingsError: there is no study, or nothing in it.
    """
    sessions, strays = _sessions(study)
    found = [*_profiles(loggers)]
    rule = "Use letters and digits only, 40 at most."
    found += [Trouble("study", "error", "folder-name", stray, rule) for stray in strays]
    files: dict[str, str] = {}
    for name in sessions:
        folder = study / name.folder
        noticed = [
            _trouble(name.folder, finding) for finding in check_session(folder, settings=settings, loggers=loggers)
        ]
        noticed += _copies(folder, name.folder, files)
        found += sorted(set(noticed), key=lambda t: (t.severity, t.where, t.code, t.what))
    return found


def check_session(folder: Path, *, settings: Settings, loggers: Path) -> list[Finding]:
    """Every warning and error that reading a session's logs gives; one that costs a log counts as an error."""
    inputs = Inputs.of(folder, loggers)
    found = _read(folder, settings=settings, loggers=loggers)
    return [*inputs.changed(), *found]


def _read(folder: Path, *, settings: Settings, loggers: Path) -> list[Finding]:
    try:
        given = read_session(
            folder, loggers=loggers, labels=motion_labels(settings), whole_up_to_s=settings.day.whole_up_to_s
        )
    except FirstrockerError as mistake:
        return [*mistake.findings()] if isinstance(mistake, SessionFileError) else [as_finding(mistake)]
    findings = [*given.findings, *(finding for walk in given.walks for finding in walk.findings)]
    for walk in given.walks:
        try:
            usable = usable_logs(walk.logs, max_bridge_s=settings.signals.max_bridge_s)
        except FirstrockerError as mistake:
            findings.append(as_finding(mistake, walk.info.walk))
            continue
        noticed = [*usable.findings, *(finding for _, checked in usable.logs for finding in checked.findings)]
        findings += [replace(finding, walk=walk.info.walk) for finding in noticed]
    for long in given.long:
        findings += [*long.findings, *_long(long)]
    return [_graded(finding) for finding in findings if finding.severity != "info"]


def _long(walk: LongWalk) -> Iterator[Finding]:
    """What the first minute of each log of a long walk tells; all of it is read by the analysis alone."""
    for log in walk.logs:
        try:
            checked = check_log(head_of(log), max_bridge_s=1.0)
        except FirstrockerError as mistake:
            finding = as_finding(mistake, walk.info.walk)
            if finding.code not in ONLY_OF_ALL:
                yield replace(finding, segment=log.segment, side=log.side)
            continue
        yield from (replace(one, walk=walk.info.walk) for one in checked.findings if one.code in OF_THE_SENSOR)


def told(troubles: Sequence[Trouble], *, width: int) -> str:
    """The troubles as a table of text.

    Args:
        troubles: in the order to show them.
        width: of the table in signs.
    """
    if not troubles:
        return "Nothing to mend.\n"
    widths = (24, 8, max(24, (width - 38) * 6 // 10), max(20, (width - 38) * 4 // 10))
    rows = [("where", "", "what", "how to mend")]
    rows += [(t.where, t.severity, f"{t.what} [{t.code}]", t.remedy) for t in troubles]
    lines: list[str] = []
    for n, row in enumerate(rows):
        cells = [wrap(cell, size) or [""] for cell, size in zip(row, widths, strict=True)]
        for k in range(max(map(len, cells))):
            parts = (cell[k] if k < len(cell) else "" for cell in cells)
            lines.append("  ".join(f"{part:<{size}}" for part, size in zip(parts, widths, strict=True)).rstrip())
        if n == 0:
            lines.append("  ".join("-" * size for size in widths))
    errors = sum(trouble.severity == "error" for trouble in troubles)
    warnings = len(troubles) - errors
    return "\n".join([*lines, "", f"{errors} to mend, {warnings} to look at.", ""])


def _sessions(study: Path) -> tuple[list[SessionName], list[str]]:
    if not study.is_dir():
        raise SettingsError("there is no such folder.", where=str(study), remedy="Mend the path.")
    sessions, strays = find_sessions(study)
    if not sessions and not strays:
        raise SettingsError(
            "it holds no session.",
            where=str(study),
            remedy="A session is a folder sub-<label>/ses-<label> with a session.yaml in it.",
        )
    return sessions, strays


def _profiles(loggers: Path) -> Iterator[Trouble]:
    for name in profile_names(loggers):
        try:
            load_profile(loggers / f"{name}.yaml")
        except FirstrockerError as mistake:
            yield Trouble(f"loggers/{name}.yaml", "error", mistake.code, mistake.what, mistake.remedy)


def _graded(finding: Finding) -> Finding:
    """An error, if the fault costs a log; the rest as it is."""
    fault = BY_CODE.get(finding.code)
    costly = fault is not None and fault.loses in ("shank", "log", "walk", "session")
    return replace(finding, severity="error") if costly else finding


def _trouble(folder: str, finding: Finding) -> Trouble:
    place = f"{folder}, walk {finding.walk}" if finding.walk else folder
    return Trouble(place, finding.severity, finding.code, finding.message, finding.remedy)


def _copies(folder: Path, name: str, files: dict[str, str]) -> Iterator[Trouble]:
    """Logs that an earlier session has too, byte for byte."""
    try:
        session = load_session(folder)
    except FirstrockerError:
        return
    named = {log.file for walk in session.walks for log in walk.logs}
    named |= {path.relative_to(folder).as_posix() for path in folder.glob("motion/*_motion.tsv")}
    for entry in sorted(named):
        path = folder / entry
        if not path.is_file():
            continue
        here = f"{name}/{entry}"
        first = files.setdefault(sha256_of(path), here)
        if first != here and not first.startswith(f"{name}/"):
            yield Trouble(
                name,
                "error",
                "same-recording",
                f"{entry} is the same file as {first}.",
                "Put each session's own log into its folder.",
            )
