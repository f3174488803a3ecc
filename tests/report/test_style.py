"""The page's colours: text and marks stand out from the paper in light, dark and print (axe-core passes SVG over)."""

from __future__ import annotations

import re

import pytest

from structure.tree import REPOSITORY

STYLE = REPOSITORY / "pipeline" / "firstrocker" / "report" / "templates" / "style.css"
TEXT, MARK = 4.5, 3.0
"""WCAG 2.1, success criteria 1.4.3 (text) and 1.4.11 (graphics)."""


def schemes() -> list[dict[str, str]]:
    """The colours of each scheme: light, dark, print; what a later one leaves out is that of the first."""
    found = [
        dict(re.findall(r"(--[\w-]+): (#[0-9a-f]+);", block))
        for block in re.findall(r":root \{(.*?)\}", STYLE.read_text(encoding="utf-8"), re.DOTALL)
    ]
    return [found[0] | one for one in found]


def luminance(colour: str) -> float:
    """Relative luminance as WCAG 2.1 defines it."""
    digits = colour.removeprefix("#")
    digits = "".join(2 * digit for digit in digits) if len(digits) == 3 else digits
    parts = [int(digits[place : place + 2], 16) / 255 for place in (0, 2, 4)]
    linear = [part / 12.92 if part <= 0.03928 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def test_contrast_is_that_of_the_definition() -> None:
    assert contrast("#000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.01)


@pytest.mark.parametrize("scheme", range(3), ids=["light", "dark", "print"])
def test_words_and_marks_stand_out_from_the_paper(scheme: int) -> None:
    colours = schemes()[scheme]
    assert len(schemes()) == 3
    words = {
        name: contrast(colours[name], colours["--paper"]) for name in ("--ink", "--soft", "--tone", "--care", "--stop")
    }
    marks = {name: contrast(colours[name], colours["--paper"]) for name in colours if name.startswith("--walk-")}
    assert len(marks) == 6
    assert {name for name, found in words.items() if found < TEXT} == set()
    assert {name for name, found in marks.items() if found < MARK} == set()
