"""The house as it is promised: what lies where, how long a file is, what every public thing says of itself."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from structure.tree import KEPT_DOT_FILES, MADE_BY_RUNS, REPOSITORY, module_name, modules, project_files, tree_of

TOP_LEVEL = {
    "README.md",
    "DEVELOPERS.md",
    "LICENSE",
    "pyproject.toml",
    "Snakefile",
    "pipeline",
    "config",
    "tests",
    *KEPT_DOT_FILES,
}
MOST_LINES = 300

# Written in pieces, so that this file does not hold what it forbids.
MACHINE_PATHS = ["/" + name + "/" for name in ("work", "root", "home", "opt", "usr/local")]
REGISTRY_HOSTS = [".".join(parts) for parts in (("pypi", "org"), ("pythonhosted", "org"), ("npmjs", "org"))]
REGISTRY_HOSTS += [".".join(parts) for parts in (("debian", "org"), ("conda", "io"), ("anaconda", "org"))]


def test_top_level_holds_what_it_should_and_no_more() -> None:
    there = {path.name for path in REPOSITORY.iterdir()} - MADE_BY_RUNS
    missing = TOP_LEVEL - there
    strange = {name for name in there - TOP_LEVEL if not name.startswith(".")}
    assert not missing
    assert not strange


def code_files() -> list[Path]:
    return [path for path in project_files() if path.suffix in (".py", ".smk") or path.name == "Snakefile"]


@pytest.mark.parametrize("path", code_files(), ids=lambda path: str(path.relative_to(REPOSITORY)))
def test_no_file_is_too_long(path: Path) -> None:
    lines = path.read_text(encoding="utf-8").count("\n")
    assert lines <= MOST_LINES


def public_things(path: Path) -> Iterator[tuple[str, ast.Module | ast.ClassDef | ast.FunctionDef]]:
    """The module itself, its public functions and classes, and the public methods of those."""
    tree = tree_of(path)
    yield "the module", tree
    for node in tree.body:
        if isinstance(node, (ast.FunctionDef, ast.ClassDef)) and not node.name.startswith("_"):
            yield node.name, node
        if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
            methods = (inner for inner in node.body if isinstance(inner, ast.FunctionDef))
            yield from ((f"{node.name}.{m.name}", m) for m in methods if not m.name.startswith("_"))


@pytest.mark.parametrize("path", modules(), ids=module_name)
def test_every_public_thing_says_what_it_is(path: Path) -> None:
    silent = [name for name, node in public_things(path) if not (ast.get_docstring(node) or "").strip()]
    assert silent == []


def test_the_snakefile_is_a_table_of_contents() -> None:
    text = (REPOSITORY / "Snakefile").read_text(encoding="utf-8")
    assert not re.search(r"^\s*(def|class|for|while|if|with)\b", text, flags=re.MULTILINE)


def test_every_rule_keeps_a_log_and_calls_one_step() -> None:
    for path in sorted((REPOSITORY / "pipeline" / "rules").glob("*.smk")):
        text = path.read_text(encoding="utf-8")
        rules = re.split(r"^(?:rule|checkpoint) \w+:", text, flags=re.MULTILINE)[1:]
        assert rules, path.name
        for rule in rules:
            assert "    log:" in rule
            assert "source=plan.source(" in rule
            assert rule.count("-m firstrocker ") == 1


def test_no_rule_asks_for_the_number_of_cores() -> None:
    """A profile for a cluster names none, and Snakemake then ends before it has begun."""
    rules = [REPOSITORY / "Snakefile", *sorted((REPOSITORY / "pipeline" / "rules").glob("*.smk"))]
    assert len(rules) > 3
    assert [path.name for path in rules if "workflow.cores" in path.read_text(encoding="utf-8")] == []


def text_files() -> Iterator[tuple[Path, str]]:
    for path in project_files():
        try:
            yield path, path.read_text(encoding="utf-8")
        except UnicodeDecodeError:
            continue


def test_no_file_names_a_machine_or_a_registry() -> None:
    words = [*MACHINE_PATHS, *REGISTRY_HOSTS]
    found = [
        f"{path.relative_to(REPOSITORY)}: {word}"
        for path, text in text_files()
        for word in words
        if re.search(rf"(?<![\w.]){re.escape(word)}", text)
    ]
    assert found == []
