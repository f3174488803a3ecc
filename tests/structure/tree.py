"""What the structural tests look at: the repository's files and the syntax tree of each module of the package."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from functools import cache
from pathlib import Path

REPOSITORY = Path(__file__).resolve().parents[2]
PACKAGE = REPOSITORY / "pipeline" / "firstrocker"
MADE_BY_RUNS = {"results", "demo-study", "build", "dist", "__pycache__"}
KEPT_DOT_FILES = {".ci", ".gitignore"}


def module_name(path: Path) -> str:
    """The dotted name of a file of the package."""
    parts = path.relative_to(PACKAGE.parent).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def leg_of(name: str) -> str:
    """The part of the package that a dotted name belongs to: its first level below the package."""
    return name.split(".")[1] if "." in name else ""


def modules() -> list[Path]:
    """Every Python file of the package."""
    return sorted(PACKAGE.rglob("*.py"))


@cache
def tree_of(path: Path) -> ast.Module:
    """A file's syntax tree."""
    return ast.parse(path.read_bytes(), filename=str(path))


def project_files() -> Iterator[Path]:
    """Every file that belongs to the project: what runs and tools leave behind is passed over."""
    for entry in sorted(REPOSITORY.iterdir()):
        if entry.name in MADE_BY_RUNS or (entry.name.startswith(".") and entry.name not in KEPT_DOT_FILES):
            continue
        found = entry.rglob("*") if entry.is_dir() else [entry]
        yield from (path for path in found if path.is_file() and not MADE_BY_RUNS & set(path.parts))
