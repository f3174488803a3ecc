"""Nights of the real workflow over an inbox, as processes that can be killed."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from workflow.runs import REPOSITORY, Run, environment

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
    done = subprocess.run(
        night_line(),
        cwd=place,
        env=environment(),
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        timeout=300,
        check=False,
    )
    return Run(done.returncode, done.stdout)


def start(place: Path, *line: str) -> subprocess.Popen[bytes]:
    """Start a command in a process group of its own."""
    return subprocess.Popen(
        line,
        cwd=place,
        env=environment(),
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
    )
