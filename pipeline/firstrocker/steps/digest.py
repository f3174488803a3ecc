"""The tables over days, what the inbox holds and what sessions became of in; nightly/digest.html out."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from firstrocker.files import read_json, read_table, write_text
from firstrocker.layout import NIGHTLY, SessionName, find_sessions, gravest_finding, session_day
from firstrocker.report.digest import Given, render_digest
from firstrocker.report.digest_people import DigestSession
from firstrocker.report.invented import is_invented
from firstrocker.settings import Settings

SECTIONS = ("study", "trend")
"""The sections of the settings that this step's results depend on."""

LABELS_IN_DOUBT = frozenset(
    {
        "affected-side-missing",
        "foot-shank-exchanged",
        "foot-shank-exchanged-since",
        "shank-turns-as-foot",
        "side-doubtful",
        "sides-exchanged-since",
    }
)
"""Codes of findings that ask whether a log is of the side and the segment that it is said to be of."""


def make_digest(study: Path, results: Path, *, settings: Settings) -> None:
    """Write the page of the morning.

    Args:
        study: the study folder; its sessions are listed.
        results: the results folder; the three tables over days are read, every session's quality.json, and
            nightly/intake.parquet where there is one.
        settings: of the section study the confidence, of trend the false alarms that are accepted.
    """
    names = find_sessions(study)[0]
    place = results / NIGHTLY
    intake = place / "intake.parquet"
    given = Given(
        **{name: read_table(place / f"{name}.parquet") for name in ("days", "trends", "alerts")},
        sessions=[one for name in names if (one := _session(name, results)) is not None],
        undated=[name.folder for name in names if session_day(name.session) is None],
        intake=read_table(intake).to_pylist() if intake.is_file() else None,
        months=settings.trend.false_alarm_months,
        confidence=settings.study.confidence,
    )
    write_text(place / "digest.html", render_digest(given))


def _session(name: SessionName, results: Path) -> DigestSession | None:
    day = session_day(name.session)
    if day is None:
        return None
    try:
        record: Mapping[str, Any] = read_json(results / name.folder / "quality.json")
    except FileNotFoundError:
        return DigestSession(name.subject, name.session, day, "failed", "It has no results; its log says why.")
    doubts = {"findings": [one for one in record["findings"] if one.get("code") in LABELS_IN_DOUBT]}
    finding, doubt = gravest_finding(record), gravest_finding(doubts)
    return DigestSession(name.subject, name.session, day, record["status"], finding, doubt, is_invented(record))
