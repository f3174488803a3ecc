"""The whole flow in a real browser: by keyboard alone, on a tablet, without scripts; every page open to everyone."""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import axe_core_python
import pytest
from playwright.sync_api import Browser, sync_playwright

from web.served import PASSWORD, Server
from web.small_session import log, logs

CHROMIUM = shutil.which("chromium")
pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="there is no chromium here")
ARGUMENTS = [
    *("--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking"),
    *("--disable-component-update", "--disable-sync"),
]
AXE = Path(axe_core_python.__file__).parent / "axe.min.js"
RULES = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """Debian's chromium, headless."""
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        yield started
        started.close()


class Eyes:
    """One page of the browser, with what it complained of and where it sent requests."""

    def __init__(self, browser: Browser, server: Server, **context: Any) -> None:
        self.context = browser.new_context(bypass_csp=False, **context)
        self.page = self.context.new_page()
        self.server = server
        self.said: list[str] = []
        self.asked: list[str] = []
        self.page.on("console", lambda message: self.said.append(message.text) if message.type == "error" else None)
        self.page.on("pageerror", lambda error: self.said.append(str(error)))
        self.page.on("request", lambda request: self.asked.append(request.url))

    def axe(self) -> None:
        """No violation on the page as it is, light and dark."""
        for scheme in ("light", "dark"):
            self.page.emulate_media(color_scheme=scheme)
            # The page's own policy lets nobody add a script: a debugger's evaluation is no script of the page.
            self.page.evaluate(AXE.read_text(encoding="utf-8"))
            found = self.page.evaluate("rules => axe.run(document, rules)", RULES)
            told = [f"{one['id']}: {one['nodes'][0]['html'][:200]}" for one in found["violations"]]
            assert told == [], f"{self.page.url} ({scheme})"
        self.page.emulate_media(color_scheme="light")

    def no_wider_than_the_screen(self) -> None:
        """Nothing is pushed out to the side."""
        assert self.page.evaluate("document.documentElement.scrollWidth <= window.innerWidth"), self.page.url

    def quiet(self) -> None:
        """Nothing was complained of, and nothing asked of any other machine."""
        assert self.said == []
        assert {re.match(r"[a-z]+://[^/]+", url).group(0) for url in self.asked} == {self.server.address}  # type: ignore[union-attr]
        self.context.close()


def write(folder: Path, files: dict[str, bytes]) -> list[str]:
    for name, content in files.items():
        (folder / name).write_bytes(content)
    return [str(folder / name) for name in files]


def test_the_whole_flow_by_keyboard(browser: Browser, server: Server, tmp_path: Path) -> None:
    server.account("keys", clinic="Keyboard clinic", role="admin")
    eyes = Eyes(browser, server, viewport={"width": 1280, "height": 900})
    page, keys = eyes.page, eyes.page.keyboard

    def fill(label: str, value: str) -> None:
        page.get_by_label(label, exact=True).focus()
        keys.type(value)

    def press(name: str) -> None:
        page.get_by_role("button", name=name, exact=True).focus()
        with page.expect_navigation():
            keys.press("Enter")

    page.goto(server.address)
    eyes.axe()
    fill("Name", "keys")
    keys.press("Tab")
    keys.type(PASSWORD)
    keys.press("Enter")
    page.wait_for_url(f"{server.address}/")
    eyes.axe()
    fill("Code", "KEY1")
    press("Add")
    eyes.axe()
    press("Begin")
    page.get_by_role("radio", name="left").focus()
    keys.press("Space")
    fill("1 Sensor to toe, mm", "145")
    fill("2 Sensor above floor, mm", "75,5")
    fill("Setting of the brace in walk 2", "soft")
    fill("Resistance in walk 2", "50")
    fill("Unit of the resistance in walk 2", "Shore A")
    eyes.axe()
    press("Save and go on to the logs")
    eyes.axe()
    page.get_by_label("All logs at once").set_input_files(write(tmp_path, logs()))
    press("Hand in")
    assert page.get_by_role("img").count() == 4
    eyes.axe()
    press("Run")
    page.get_by_role("link", name="Read the report").wait_for(timeout=120_000)
    eyes.axe()
    page.get_by_role("link", name="Read the report").focus()
    keys.press("Enter")
    page.frame_locator("iframe").get_by_role("heading", level=1).wait_for()
    assert "KEY1" in page.frame_locator("iframe").get_by_role("heading", level=1).inner_text()
    for path in ("/admin", "/admin/audit", "/password", "/"):
        page.goto(f"{server.address}{path}")
        eyes.axe()
    for link in ("KEY1", "Delete KEY1"):
        page.get_by_role("link", name=link).focus()
        with page.expect_navigation():
            keys.press("Enter")
        eyes.axe()
    eyes.quiet()


def test_on_a_tablet_without_scripts(browser: Browser, server: Server, tmp_path: Path) -> None:
    """Wrong files are refused in words; an unknown place is asked for; the run is followed without scripts."""
    server.account("tablet", clinic="Tablet clinic")
    eyes = Eyes(browser, server, viewport={"width": 820, "height": 1100}, has_touch=True, java_script_enabled=False)
    page = eyes.page
    page.goto(server.address)
    page.get_by_label("Name").fill("tablet")
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").tap()
    page.get_by_label("Code").fill("TAB1")
    page.get_by_role("button", name="Add").tap()
    page.get_by_role("button", name="Begin").tap()
    page.get_by_role("radio", name="right").check()
    page.get_by_role("button", name="Save and go on to the logs").tap()
    given = {"notes.docx": b"PK\3\4 no log", "one.csv": log("slap", "foot"), "b_foot.csv": log("balanced", "foot")}
    files = write(tmp_path, given)
    page.get_by_label("All logs at once").set_input_files(files)
    page.get_by_role("button", name="Hand in").tap()
    assert "Logs are taken as CSV" in page.get_by_role("alert").inner_text()
    assert "Walk a has no log" in page.inner_text("main")
    page.locator("section.log", has_text="one.csv").get_by_label("Belongs to").select_option("walk a, right foot")
    page.get_by_role("button", name="Save", exact=True).tap()
    page.get_by_role("button", name="Run", exact=True).tap()
    page.get_by_role("link", name="Read the report").wait_for(timeout=120_000)  # the page reloads itself
    eyes.said = [one for one in eyes.said if "400 (Bad Request)" not in one]  # the refusal's own status
    eyes.quiet()


@pytest.mark.parametrize("width", [820, 390])
def test_nothing_is_wider_than_the_screen(browser: Browser, server: Server, width: int) -> None:
    visitor = server.account(f"narrow{width}", clinic=f"Narrow clinic {width}")
    session = visitor.new_session("NAR1")
    eyes = Eyes(browser, server, viewport={"width": width, "height": 900})
    token = visitor.client.cookies["firstrocker"]
    eyes.context.add_cookies([{"name": "firstrocker", "value": token, "url": server.address}])
    for path in ("/", "/password", f"{session}/details"):
        eyes.page.goto(f"{server.address}{path}")
        eyes.no_wider_than_the_screen()
    eyes.quiet()
