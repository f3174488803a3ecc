"""All sessions of one person in; course.html out."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from firstrocker.files import read_json, read_table, write_text
from firstrocker.layout import COURSE, made_sessions
from firstrocker.report.course import SessionLink, render_course
from firstrocker.report.invented import is_invented
from firstrocker.settings import Settings
from firstrocker.study.course import course

SECTIONS = ("study",)
"""The sections of the settings that this step's results depend on."""


def make_courses(study: Path, results: Path, *, settings: Settings) -> None:
    """Write course.html for every person with several sessions, and take it away from everyone else.

    Args:
        study: the study folder, for who was there when.
        results: the results folder; all sessions are made.
        settings: the section study is used.
    """
    sessions: dict[str, list[str]] = {}
    for name in made_sessions(study, results):
        sessions.setdefault(name.subject, []).append(name.session)
    followed = {results / f"sub-{subject}": labels for subject, labels in sessions.items() if len(labels) > 1}
    for page in results.glob(f"sub-*/{COURSE}"):  # also of who is no longer in the study
        if page.parent not in followed:
            page.unlink(missing_ok=True)
    for person, labels in followed.items():
        make_course(person, labels, settings=settings)


def make_course(person: Path, sessions: Sequence[str], *, settings: Settings) -> None:
    """Write course.html beside the session folders of one person.

    Args:
        person: the person's folder in the results, ``sub-<label>``.
        sessions: labels of the sessions, in order; the summary and quality.json of each are read.
        settings: the section study is used.
    """
    links: list[SessionLink] = []
    summaries = []
    for session in sessions:
        folder = person / f"ses-{session}"
        quality = read_json(folder / "quality.json")
        links.append(SessionLink(session, quality["affected_side"], quality["status"], is_invented(quality)))
        summaries.append((session, quality["affected_side"], read_table(folder / "summary.parquet").to_pylist()))
    study = settings.study
    points = course(summaries, confidence=study.confidence, min_strides=study.min_strides)
    subject = person.name.removeprefix("sub-")
    write_text(person / COURSE, render_course(subject, links, points, confidence=study.confidence))
