"""A report's page as PDF, printed by Debian's chromium where there is one."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from pathlib import Path

from firstrocker.errors import FirstrockerError
from firstrocker.files import replacing

BROWSERS = ("chromium", "chromium-browser")
LONGEST_S = 120


def make_pdf(page: Path, out: Path, *, browsers: tuple[str, ...] = BROWSERS) -> None:
    """Print a page as a browser would on A4, without the browser's own head and foot lines.

    Args:
        page: a report.html.
        out: the PDF, written whole or not at all.
        browsers: names of the programs that can print it, the first that is there is used.

    Raises:
        FirstrockerError: no such page, no browser, or the browser made no PDF of it.
    """
    if not page.is_file():
        raise FirstrockerError("there is no such page.", where=str(page), remedy="Give the path of a report.html.")
    program = next((found for name in browsers if (found := shutil.which(name))), None)
    if program is None:
        raise FirstrockerError(
            f"a PDF is printed by the browser {browsers[0]}, which is not installed here.",
            remedy="On Debian: apt-get install chromium. Or open the page in any browser and print it there.",
        )
    with replacing(out) as temporary, tempfile.TemporaryDirectory() as profile:
        command = [program, *_options(Path(profile)), f"--print-to-pdf={temporary.resolve()}", page.resolve().as_uri()]
        try:
            done = subprocess.run(command, capture_output=True, text=True, timeout=LONGEST_S, check=False)  # noqa: S603
        except subprocess.TimeoutExpired:
            raise FirstrockerError(f"{program} was not done after {LONGEST_S} s.", where=str(page)) from None
        if done.returncode != 0 or not temporary.is_file():
            last = (done.stderr.strip().splitlines() or ["it said nothing"])[-1]
            raise FirstrockerError(f"{program} made no PDF: {last}", where=str(page))


def _options(profile: Path) -> list[str]:
    """Without a screen, a network of its own or anything kept; a sandbox cannot be had as root."""
    own = ["--headless", "--disable-gpu", "--no-first-run", "--no-pdf-header-footer", f"--user-data-dir={profile}"]
    quiet = ["--disable-background-networking", "--disable-component-update", "--disable-sync", "--disable-quic"]
    return [*own, *quiet, *(["--no-sandbox"] if os.geteuid() == 0 else [])]
