"""Which of the package's own files a step's result depends on, and their fingerprint.

The workflow puts the fingerprint among a rule's params, so that editing code remakes what it made and nothing else.
Found by following the import statements from the step's module, wherever in a file they stand.
"""

from __future__ import annotations

import ast
import hashlib
import os
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path

from firstrocker.mark import Mark, mark_of

PACKAGE = "firstrocker"
ROOT = Path(__file__).resolve().parent

NOT_SOURCES = frozenset(
    f"firstrocker.settings{part}" for part in ("", "_bids", "_day", "_fields", "_nightly", "_text", "_trend")
)
"""A setting's value stands in the params of the rules that use it; the text around it changes no result."""

BLOCKS = ("body", "orelse", "finalbody", "handlers", "cases")
"""Fields of a syntax tree's nodes that hold further statements."""
IMPORT = re.compile(rb"\s*(from\s+[\w.]+\s+)?import\s")
WORD = re.compile(rb"\bimport\b")


def source_hash(*modules: str, root: Path = ROOT) -> str:
    """Fingerprint of every file of the package that ``modules`` reach by imports.

    Args:
        modules: dotted names, e.g. ``firstrocker.steps.strides``.
        root: the package's folder.

    Returns:
        16 hexadecimal digits. Files that are not Python but lie in the same folder as a module that is reached
        (templates, styles) count too.
    """
    digest = hashlib.sha256()
    for path in source_files(*modules, root=root):
        digest.update(path.relative_to(root).as_posix().encode() + b"\0")
        digest.update(path.read_bytes() + b"\0")
    return digest.hexdigest()[:16]


def source_files(*modules: str, root: Path = ROOT) -> list[Path]:
    """The files behind :func:`source_hash`, sorted."""
    reached = reachable(*modules, root=root)
    files = {path for name in reached if (path := module_path(name, root)) is not None}
    folders = {path.parent for path in files} - {root}
    for folder in folders:
        files |= {path for path in folder.rglob("*") if path.is_file() and _is_data(path)}
    return sorted(files)


def reachable(*modules: str, root: Path = ROOT) -> set[str]:
    """Dotted names of the package's modules that ``modules`` import, directly or not, themselves included."""
    found: set[str] = set()
    seen = set(NOT_SOURCES)
    waiting = list(modules)
    while waiting:
        name = waiting.pop()
        if name in seen:
            continue
        seen.add(name)
        path = module_path(name, root)
        if path is None:
            continue
        found.add(name)
        parent = name.rpartition(".")[0]
        waiting += [parent] if parent else []
        waiting += imports_of(path, name)
    return found


def imports_of(path: Path, name: str) -> list[str]:
    """Dotted names within the package that a module's import statements may mean.

    ``from firstrocker.a import b`` may mean the module ``firstrocker.a.b`` or a name in ``firstrocker.a``: both are
    given, and the caller keeps what exists.
    """
    return list(_imports_of(path, name, mark_of(path)))


@cache
def _imports_of(path: Path, name: str, _changed: Mark) -> tuple[str, ...]:
    source = path.read_bytes()
    tree = _alone(source) or ast.parse(source, filename=str(path))
    package = name if path.name == "__init__.py" else name.rpartition(".")[0]
    return tuple(dict.fromkeys(_imported(tree, package=package)))


def _alone(source: bytes) -> ast.Module | None:
    # Every run asks for the imports of some hundred files, and to parse those whole takes five times as long. Where
    # the word stands in any place that is not plainly a statement's own lines, the whole file is parsed (None).
    found: list[bytes] = []
    is_open = False
    for line in source.splitlines():
        if line.endswith(b"\\"):
            return None
        if is_open or IMPORT.match(line):
            found.append(line if is_open else line.lstrip())
            is_open = b")" not in line and (is_open or b"(" in line)
        elif b"import" in line and WORD.search(line):
            return None
    try:
        return ast.parse(b"\n".join(found))
    except SyntaxError:
        return None


def _imported(tree: ast.AST, *, package: str) -> Iterator[str]:
    for node in _statements(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names if alias.name.split(".")[0] == PACKAGE)
        elif isinstance(node, ast.ImportFrom):
            base = node.module or ""
            if node.level:
                above = package.split(".")[: len(package.split(".")) - node.level + 1]
                base = ".".join([*above, *([base] if base else [])])
            if base.split(".")[0] == PACKAGE:
                yield base
                yield from (f"{base}.{alias.name}" for alias in node.names)


def _statements(tree: ast.AST) -> Iterator[ast.AST]:
    # An import is never inside an expression, of which a file has twenty times as many.
    waiting = [tree]
    while waiting:
        node = waiting.pop()
        yield node
        for field in BLOCKS:
            waiting += getattr(node, field, ())


def module_path(name: str, root: Path = ROOT) -> Path | None:
    """The file of a dotted name within the package, None where there is no such module."""
    package, *inner = name.split(".")
    if package != PACKAGE:
        return None
    place = os.path.join(root, *inner)
    for path in (os.path.join(place, "__init__.py"), f"{place}.py"):
        if os.path.isfile(path):
            return Path(path)
    return None


def _is_data(path: Path) -> bool:
    return (
        path.suffix not in (".py", ".pyc", ".pyi") and not path.name.startswith(".") and "__pycache__" not in path.parts
    )
