"""Whoever holds a page about a person who does not exist reads that on it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from firstrocker import tables, tables_days
from firstrocker.report.cohort import render_cohort
from firstrocker.report.course import SessionLink, render_course
from firstrocker.report.digest import Given, render_digest
from firstrocker.report.digest_people import DigestSession
from firstrocker.report.invented import invented_words
from firstrocker.report.letter import letter
from firstrocker.report.letter_page import render_letter
from firstrocker.report.page import render
from firstrocker.signals.read import INVENTED, read_session
from firstrocker.synth.study import write_demo_study
from signals.made import LOGGERS, session_content, write_session


def quality(invented: bool) -> dict[str, Any]:
    findings = [{"code": INVENTED.code, "severity": "info", "message": INVENTED.message, "remedy": "", "walk": None}]
    findings = [finding | {"segment": None, "side": None} for finding in findings if invented]
    return {
        "subject": "P01",
        "session": "1",
        "affected_side": "left",
        "status": "ok",
        "walks": [],
        "findings": findings,
    }


def session_page(invented: bool) -> str:
    empty = {
        name: getattr(tables, name.upper()).empty_table() for name in ("strides", "curves", "summary", "comparison")
    }
    return render(**empty, quality=quality(invented))


def letter_page(invented: bool) -> str:
    return render_letter(letter([], [], quality(invented), names={}, confidence=0.95))


def course_page(invented: bool) -> str:
    return render_course("P01", [SessionLink("1", "left", "ok", invented)], [], confidence=0.95)


def digest_page(invented: bool) -> str:
    session = DigestSession("P01", "20260302", date(2026, 3, 2), "ok", "", invented=invented)
    days = {name: getattr(tables_days, name.upper()).empty_table() for name in ("days", "trends", "alerts")}
    return render_digest(Given(**days, sessions=[session], undated=[], intake=None, months=10.0, confidence=0.95))


def cohort_page(invented: bool) -> str:
    names = ("sessions", "effects", "people", "reliability", "spm", "comparison")
    empty = {name: getattr(tables, name.upper()).empty_table() for name in names}
    curves = tables.COHORT_CURVES.empty_table()
    return render_cohort(**empty, curves=curves, confidence=0.95, min_strides=5, invented=[invented])


@pytest.mark.parametrize("page", [session_page, letter_page, course_page, digest_page, cohort_page])
def test_every_page_of_an_invented_person_says_so(page: Callable[[bool], str]) -> None:
    said = '<p class="invented">Invented: nobody here exists'
    assert said in page(True)
    assert 'class="invented"' not in page(False)


def test_some_of_several() -> None:
    assert invented_words([True, True, False]) == (
        "2 of 3 sessions here are of invented people, made up to try things out."
    )
    assert invented_words([True, True]).startswith("Invented: nobody")
    assert invented_words([]) == ""


def test_a_session_file_may_say_so_and_is_no_worse_for_it(tmp_path: Path) -> None:
    told = write_session(tmp_path / "told", session_content() | {"invented": True})
    untold = write_session(tmp_path / "untold", session_content())
    assert INVENTED in read_session(told, loggers=LOGGERS).findings
    assert INVENTED not in read_session(untold, loggers=LOGGERS).findings
    assert INVENTED.severity == "info"


def test_the_demo_says_so(tmp_path: Path) -> None:
    write_demo_study(tmp_path, strides=3)
    for session in sorted(tmp_path.glob("sub-*/ses-*")):
        assert INVENTED in read_session(session, loggers=LOGGERS).findings
