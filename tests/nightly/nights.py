"""Nights of the real workflow over an inbox, as processes that can be killed."""

from __future__ import annotations

import sys
from pathlib import Path

from workflow.runs import REPOSITORY, Run, run

AT_ONCE = "settings={nightly: {settle_min: 0}}"
"""What has come is taken in the same night, for tests cannot wait."""


def command(name: str, *arguments: str) -> list[str]:
    """The command line of the package's command of that name, in a place with inbox, study and results."""
    return [sys.executable, "-m", "firstrocker", name, *arguments, "--study", "study", "--results", "results"]


def night_line() -> list[str]:
    """The command line of a night."""
    return [*command("night", "inbox"), "--cores", "2", "--clone", str(REPOSITORY), "--config", AT_ONCE]


def night(place: Path) -> Run:
    """One night to its end."""
    return run(place, night_line())
