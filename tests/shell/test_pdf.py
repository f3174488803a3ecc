"""A report as PDF, and what is said where it cannot be made."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from pypdf import PdfReader

from firstrocker.cli import main
from firstrocker.commands import USER_MISTAKE
from firstrocker.errors import FirstrockerError
from firstrocker.steps.pdf import make_pdf
from report.browser import needs_chromium
from report.made_pages import page_of, usual_walks


@needs_chromium
def test_a_page_becomes_two_sheets(tmp_path: Path) -> None:
    page = tmp_path / "a page.html"
    page.write_text(page_of(usual_walks()), encoding="utf-8")
    assert main(["pdf", str(page), str(tmp_path / "out" / "a report.pdf")]) == 0
    sheets = PdfReader(tmp_path / "out" / "a report.pdf").pages
    assert len(sheets) == 2
    assert [round(float(side) / 72 * 25.4) for side in sheets[0].mediabox[2:]] == [210, 297]
    text = re.sub(r"\s+", " ", sheets[0].extract_text())
    assert "Is the toe clear?" in text
    assert "file:" not in text
    assert [path.name for path in (tmp_path / "out").iterdir()] == ["a report.pdf"]


def test_without_a_browser_it_says_what_to_do(tmp_path: Path) -> None:
    (tmp_path / "report.html").write_text("<!doctype html>")
    with pytest.raises(FirstrockerError, match="not installed here") as told:
        make_pdf(tmp_path / "report.html", tmp_path / "report.pdf", browsers=("no-such-browser",))
    assert "apt-get install chromium" in str(told.value)
    assert not (tmp_path / "report.pdf").exists()


def test_a_page_that_is_not_there_is_a_users_mistake(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["pdf", str(tmp_path / "none.html"), str(tmp_path / "out.pdf")]) == USER_MISTAKE
    assert "there is no such page. Give the path of a report.html." in capsys.readouterr().err


def test_a_browser_that_fails_leaves_nothing(tmp_path: Path) -> None:
    (tmp_path / "report.html").write_text("<!doctype html>")
    with pytest.raises(FirstrockerError, match="made no PDF"):
        make_pdf(tmp_path / "report.html", tmp_path / "report.pdf", browsers=("false",))
    assert not (tmp_path / "report.pdf").exists()
