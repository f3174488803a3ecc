"""The cohort's page as a browser shows and prints it, of few people with everything and of many."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Literal

import pytest
from playwright.sync_api import Browser

from bench.cohort_size import write
from firstrocker.settings import Settings
from firstrocker.steps.cohort import make_cohort
from report.browser import OVERLAPS, needs_chromium, printed, seen, torn, violations
from report.test_cohort_page import many

pytestmark = [needs_chromium, pytest.mark.untraced]

CASES = ("few", "many")


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("cohort")
    write(folder, 6, 5)
    make_cohort(folder / "study", folder / "results", settings=Settings())
    (folder / "many.html").write_text(many(90), encoding="utf-8")
    return {"few": folder / "results" / "cohort" / "report.html", "many": folder / "many.html"}


@pytest.mark.parametrize("case", CASES)
def test_it_is_quiet_and_fits_every_width(chromium: Browser, pages: dict[str, Path], case: str) -> None:
    for width in (1280, 820, 390):
        with seen(chromium, pages[case], width=width) as found:
            found.page.evaluate("document.querySelectorAll('details').forEach(one => one.open = true)")
            assert found.page.evaluate("document.documentElement.scrollWidth") <= width
            assert found.page.evaluate(OVERLAPS) == [], f"at {width} px"
        assert found.complaints == []
        assert found.requests == [pages[case].as_uri()]


@pytest.mark.parametrize(("case", "scheme"), [("few", "light"), ("many", "dark")])
def test_everyone_can_read_it(
    chromium: Browser, pages: dict[str, Path], case: str, scheme: Literal["light", "dark"]
) -> None:
    with seen(chromium, pages[case], scheme=scheme) as found:
        found.page.evaluate("document.querySelectorAll('details').forEach(one => one.open = true)")
        assert violations(found.page) == []


@pytest.mark.parametrize("case", CASES)
def test_nothing_is_torn_on_paper_and_the_first_sheet_answers(
    chromium: Browser, pages: dict[str, Path], case: str
) -> None:
    with seen(chromium, pages[case], scheme="dark") as found:
        found.page.evaluate("document.querySelectorAll('details:not([open])').forEach(one => one.remove())")
        sheets, count = printed(found.page)
    assert count > 10
    assert torn(sheets, count) == []
    first = re.sub(r"\s+", " ", sheets[0])
    for words in (
        "What was found",
        "on average over 6 people and" if case == "few" else "people and",
        "95 % interval",
        "not a medical device",
    ):
        assert words in first
    assert len(sheets) <= 5
