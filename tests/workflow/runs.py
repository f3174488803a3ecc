"""Runs of the real Snakemake on a small study, and what they say of themselves."""

from __future__ import annotations

import atexit
import hashlib
import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

REPOSITORY = Path(__file__).resolve().parents[2]
HALF_COMPILED = shutil.ignore_patterns("*.pyc.*")
"""What is compiled is taken along, for it holds as long as its source does, but not what somebody is just writing."""


@cache
def package() -> Path:
    """A copy of the package: an edit while the tests run would rightly remake everything."""
    copy = Path(tempfile.mkdtemp(prefix="firstrocker-")) / "firstrocker"
    atexit.register(shutil.rmtree, copy.parent, ignore_errors=True)
    shutil.copytree(REPOSITORY / "pipeline" / "firstrocker", copy, ignore=HALF_COMPILED)
    return copy


@dataclass(frozen=True)
class Run:
    """How a run ended: exit status and everything it printed."""

    status: int
    text: str

    @property
    def jobs(self) -> set[tuple[str, str]]:
        """(rule or step, subject) of what was made or, in a dry run, would be; subject is empty outside sessions."""
        found: set[tuple[str, str]] = set()
        for block in re.split(r"\n\[[A-Z][a-z]{2} [A-Z][a-z]{2} .*\]\n", self.text):
            if rule := re.match(r"(?:local)?(?:rule|checkpoint) (\w+):", block):
                found.add((rule.group(1), ""))
            elif told := re.match(r"Job \d+: sessions: (.*)", block):
                for subject, steps in re.findall(r"sub-(\w+)/ses-\w+ \(([\w, ]+)\)", told.group(1)):
                    found |= {(step, subject) for step in steps.split(", ")}
        return found

    @property
    def did_nothing(self) -> bool:
        """Whether everything was up to date."""
        return "Nothing to be done" in self.text and not self.jobs


def told(*arguments: str) -> list[str]:
    """What Snakemake is told for a run."""
    return ["--snakefile", str(REPOSITORY / "Snakefile"), "--cores", "2", *arguments]


def command(*arguments: str) -> list[str]:
    """The command line of a run."""
    return [sys.executable, "-m", "snakemake", *told(*arguments)]


def environment(code: Path | None = None) -> dict[str, str]:
    """The environment of a run with the package at that place, by default the unedited copy."""
    return os.environ | {"PYTHONPATH": str((code or package()).parent)}


@cache
def warm() -> subprocess.Popen[str]:
    """The process that runs are forked from."""
    line = [sys.executable, str(Path(__file__).with_name("warm.py"))]
    process = subprocess.Popen(line, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
    atexit.register(process.communicate)
    return process


def snakemake(folder: Path, *arguments: str, code: Path | None = None) -> Run:
    """Run the workflow with ``folder`` as its working directory and the package's ``code`` at that place."""
    process = warm()
    assert process.stdin is not None
    assert process.stdout is not None
    with tempfile.NamedTemporaryFile() as output:
        given = {"environment": environment(code), "output": output.name, "arguments": told(*arguments)}
        process.stdin.write(json.dumps({"folder": str(folder), **given}) + "\n")
        process.stdin.flush()
        status = int(process.stdout.readline())
        return Run(status, Path(output.name).read_text(encoding="utf-8"))


def run(folder: Path, line: Sequence[str], *, code: Path | None = None) -> Run:
    """Run a command line to its end."""
    done = subprocess.run(
        line,
        cwd=folder,
        env=environment(code),
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        timeout=300,
        check=False,
    )
    return Run(done.returncode, done.stdout)


def edited_package(folder: Path, module: str, *, extra: str = "") -> Path:
    """A copy of the package in ``folder`` with a comment, and what ``extra`` says, added to one module."""
    copy = folder / "firstrocker"
    shutil.copytree(package(), copy, ignore=HALF_COMPILED)
    with (copy / module).open("a", encoding="utf-8") as file:
        file.write(f"\n# edited\n{extra}\n")
    return copy


def fingerprints(results: Path) -> dict[str, str]:
    """Relative path -> SHA-256 of every result but the logs, and the account of what they were made from."""
    files = (path for path in sorted(results.rglob("*")) if path.is_file())
    return {
        str(path.relative_to(results)): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in files
        if path.relative_to(results).parts[0] not in ("logs", ".made")
    }
