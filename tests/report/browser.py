"""Pages in a real browser: Debian's chromium, without a screen and without a network."""

from __future__ import annotations

import io
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from importlib.resources import files
from pathlib import Path
from typing import Any, Literal

import pytest
from playwright.sync_api import Browser, Page, sync_playwright
from pypdf import PdfReader

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
ABSENT = "there is no chromium here; Debian has it: apt-get install chromium"
OPTIONS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
needs_chromium = pytest.mark.skipif(CHROMIUM is None, reason=ABSENT)


@contextmanager
def browser() -> Iterator[Browser]:
    """A browser with a profile of its own, which it leaves nothing of."""
    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=CHROMIUM, args=OPTIONS)
        try:
            yield opened
        finally:
            opened.close()


@dataclass
class Seen:
    """A page that is open, what it complained of, and what it asked for beside itself."""

    page: Page
    complaints: list[str] = field(default_factory=list)
    requests: list[str] = field(default_factory=list)


@contextmanager
def seen(
    within: Browser, file: Path, *, width: int = 1280, scheme: Literal["light", "dark"] = "light"
) -> Iterator[Seen]:
    """Open a file and watch it."""
    page = within.new_page(viewport={"width": width, "height": 900}, color_scheme=scheme)
    found = Seen(page)
    page.on("console", lambda message: found.complaints.append(f"{message.type}: {message.text}"))
    page.on("pageerror", lambda error: found.complaints.append(str(error)))
    page.on("request", lambda request: found.requests.append(request.url))
    page.goto(file.as_uri())
    try:
        yield found
    finally:
        page.close()


def violations(page: Page) -> list[str]:
    """What axe-core finds wrong, one line each."""
    page.evaluate((files("axe_core_python") / "axe.min.js").read_text(encoding="utf-8"))
    found: dict[str, Any] = page.evaluate("axe.run(document, {resultTypes: ['violations']})")
    return [
        f"{one['id']}: {node['html'][:200]} {node.get('failureSummary', '')}"
        for one in found["violations"]
        for node in one["nodes"]
    ]


MARKED = "figure, .sign, .answers section, tbody tr"
_MARK = """selector => {
  const marked = [...document.querySelectorAll(selector)].filter(one => one.getClientRects().length > 0);
  marked.forEach((one, number) => {
    for (const [place, end] of [['afterbegin', 'A'], ['beforeend', 'Z']]) {
      const inside = one.matches('tr') ? (end == 'A' ? one.firstElementChild : one.lastElementChild) : one;
      inside.insertAdjacentHTML(place, `<span style="position:absolute;font-size:1px">q${number}${end}q</span>`);
    }
  });
  return marked.length;
}"""


def printed(page: Page) -> tuple[list[str], int]:
    """The text of each sheet of paper, in which whatever must not be torn is marked ``q<number>Aq`` at its beginning
    and ``q<number>Zq`` at its end; and how many such things there are.
    """
    page.emulate_media(media="print")
    count: int = page.evaluate(_MARK, MARKED)
    sheets = PdfReader(io.BytesIO(page.pdf(prefer_css_page_size=True))).pages
    return [sheet.extract_text() for sheet in sheets], count


OVERLAPS = """() => {
  const found = [];
  for (const picture of document.querySelectorAll('svg')) {
    const name = picture.getAttribute('aria-labelledby').split(' ')[0];
    const words = [...picture.querySelectorAll('text')].map(one => {
      const box = one.getBoundingClientRect(), quarter = box.height / 4;
      return {text: one.textContent, left: box.left + 1, right: box.right - 1,
              top: box.top + quarter, bottom: box.bottom - quarter};
    });
    words.forEach((a, place) => words.slice(place + 1).forEach(b => {
      if (a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom)
        found.push(`${name}: ${a.text} / ${b.text}`);
    }));
  }
  return found;
}"""
"""Words of one picture that lie on each other."""


def torn(sheets: list[str], count: int) -> list[int]:
    """Which of a page's ``count`` figures, marked by :func:`printed` at both ends, do not lie on one sheet."""
    places = {
        number: [place for place, text in enumerate(sheets) for end in "AZ" if f"q{number}{end}q" in text]
        for number in range(count)
    }
    return [number for number, where in places.items() if len(where) != 2 or where[0] != where[1]]
