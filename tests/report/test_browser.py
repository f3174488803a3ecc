"""Every page as a browser shows and prints it: quiet, whole, readable at every width, and for everyone."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Literal

import pytest
from playwright.sync_api import Browser

from report.browser import OVERLAPS, needs_chromium, printed, seen, torn, violations
from report.made_pages import demo_pages, every_case, pages_beside

pytestmark = needs_chromium

DEMO = {"demo, four walks": "sub-A1/ses-20260302", "demo, both sides, flagged": "sub-C3/ses-20260310"}
CASES = (
    *DEMO,
    "usual",
    "no shank",
    "one walk",
    "no steady stride",
    "rejected",
    "rejected, nothing known",
)
WIDTHS = (1280, 820, 390)


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("pages")
    found = {}
    for case, html in every_case().items():
        found[case] = folder / f"{case.replace(' ', '-')}.html"
        found[case].write_text(html, encoding="utf-8")
    made = demo_pages(folder, list(DEMO.values()))
    found |= {case: made[session] for case, session in DEMO.items()}
    assert set(found) == set(CASES)
    return found


@pytest.mark.parametrize("case", CASES)
def test_it_is_quiet_asks_for_nothing_and_fits_every_width(
    chromium: Browser, pages: dict[str, Path], case: str
) -> None:
    for width in WIDTHS:
        with seen(chromium, pages[case], width=width) as found:
            scrolled = found.page.evaluate("document.documentElement.scrollWidth")
            overlaps = found.page.evaluate(OVERLAPS)
            assert scrolled <= width
            assert overlaps == [], f"at {width} px"
        assert found.complaints == []
        assert found.requests == [pages[case].as_uri()]


@pytest.mark.parametrize(
    ("case", "scheme"), [*((case, "light") for case in CASES), ("usual", "dark"), ("rejected", "dark")]
)
def test_everyone_can_read_it(
    chromium: Browser, pages: dict[str, Path], case: str, scheme: Literal["light", "dark"]
) -> None:
    with seen(chromium, pages[case], scheme=scheme) as found:
        found.page.evaluate("document.querySelectorAll('details').forEach(one => one.open = true)")
        assert violations(found.page) == []


@pytest.mark.untraced
@pytest.mark.parametrize("case", CASES)
def test_two_sheets_of_paper_and_nothing_torn(chromium: Browser, pages: dict[str, Path], case: str) -> None:
    with seen(chromium, pages[case], scheme="dark") as found:
        sheets, count = printed(found.page)
        paper = found.page.evaluate("getComputedStyle(document.body).backgroundColor")
    assert len(sheets) == (1 if "rejected" in case or case == "no steady stride" else 2)
    assert paper == "rgb(255, 255, 255)"
    assert torn(sheets, count) == []
    assert ("Clinician" in sheets[-1]) == (len(sheets) == 2)
    assert "not a medical device" in sheets[-1]


def test_the_first_sheet_answers_and_the_second_shows_why(chromium: Browser, pages: dict[str, Path]) -> None:
    with seen(chromium, pages["usual"]) as found:
        sheets, count = printed(found.page)
    assert count > 20
    first, second = (re.sub(r"\s+", " ", text) for text in sheets)
    for words in ("Is the toe clear?", "Is the shank driven forward?", "too much resistance", "Shock at heel strike"):
        assert words in first
    for words in ("How it moves", "The numbers", "Can it be trusted?", "report.html", "Decision"):
        assert words in second
        assert words not in first


def test_a_measures_definition_is_a_click_away(chromium: Browser, pages: dict[str, Path]) -> None:
    with seen(chromium, pages["usual"]) as found:
        words = found.page.locator("th span", has_text="Greatest plantarflexion velocity of the ankle").first
        assert not words.is_visible()
        found.page.locator("summary", has_text=re.compile("^Slap rate$")).first.click()
        assert words.is_visible()


@pytest.fixture(scope="module")
def beside(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("beside")
    for name, html in pages_beside().items():
        (folder / f"{name}.html").write_text(html, encoding="utf-8")
    return {path.stem: path for path in folder.iterdir()}


@pytest.mark.parametrize("name", ["letter", "course"])
def test_the_pages_beside_it_are_as_quiet_and_readable(chromium: Browser, beside: dict[str, Path], name: str) -> None:
    for width in WIDTHS:
        with seen(chromium, beside[name], width=width) as found:
            assert found.page.evaluate("document.documentElement.scrollWidth") <= width
            assert violations(found.page) == []
        assert found.complaints == []
        assert found.requests == [beside[name].as_uri()]


def test_the_letter_is_half_a_sheet_and_can_be_edited(chromium: Browser, beside: dict[str, Path]) -> None:
    with seen(chromium, beside["letter"]) as found:
        found.page.get_by_text("[Name of the referring physician or payer]").click()
        found.page.keyboard.type("Dear colleague, ")
        assert "Dear colleague" in found.page.locator("article").inner_text()
        found.page.emulate_media(media="print")
        assert found.page.evaluate("document.querySelector('article').offsetHeight") < 0.5 * 297 / 25.4 * 96
