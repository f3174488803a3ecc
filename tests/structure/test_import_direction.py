"""Imports run one way: logs go in at the top, a decision comes out at the bottom."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

from firstrocker.sources import imports_of, module_path
from structure.tree import leg_of, module_name, modules, tree_of

LEGS = ["signals", "motion", "gait", "study", "report"]
SHARED = {"", "errors", "model", "measures", "tables", "tables_days"}
SHELL = {
    "bids": {"signals", "files"},
    "chain": {*LEGS[:4], "settings"},
    "day": {*LEGS[:3], "chain", "settings", "settings_day"},
    "synth": {*LEGS[:4], "chain", "settings", "layout", "files"},
    "settings": {"settings_bids", "settings_day", "settings_fields", "settings_nightly", "settings_trend"},
    "settings_bids": {"settings_fields"},
    "settings_day": {"settings_fields"},
    "settings_fields": set(),
    "settings_nightly": {"settings_fields"},
    "settings_trend": {"settings_fields"},
    "settings_text": {"settings", "files", "tables_text"},
    "tables_text": {"table_words", "table_examples"},
    "table_examples": set(),
    "table_words": set(),
    "fault": set(),
    "faults_of_logs": {"fault", *LEGS[:1]},
    "faults": {"fault", "faults_of_logs", *LEGS[:3]},
    "faults_text": {"faults", "files"},
    "files": {"unfinished"},
    "unfinished": set(),
    "layout": set(),
    "sources": {"mark"},
    "mark": set(),
    "stamps": {"settings", "files", "layout", "mark", "sources"},
    "guard": {"layout"},
    "pool": set(),
    "inbox": {"signals", "files", "layout", "guard", "mark", "stamps"},
    "grouping": {"layout"},
    "workflow_config": {"layout"},
    "closing": {"files", "layout"},
    "workflow": {
        "closing",
        "workflow_config",
        "settings",
        "files",
        "layout",
        "sources",
        "stamps",
        "guard",
        "inbox",
        "grouping",
    },
    "steps": {
        *LEGS,
        "bids",
        "chain",
        "day",
        "faults",
        "settings_bids",
        "synth",
        "settings",
        "files",
        "unfinished",
        "layout",
        "mark",
        "stamps",
        "pool",
        "inbox",
        "guard",
        "workflow",
    },
    "web": {"signals", "files", "guard", "unfinished", "layout"},
    "commands": {"steps", "web", "settings", "settings_text", "faults_text", "layout"},
    "cli": {"commands", "guard"},
    "__main__": {"cli"},
}
"""What each part of the shell may import besides itself and what all share."""

FORBIDDEN_IN_CORE = {
    "logging",
    "os",
    "sys",
    "time",
    "datetime",
    "random",
    "subprocess",
    "shutil",
    "tempfile",
    "warnings",
}
READERS = {
    f"firstrocker.signals.{name}"
    for name in (
        "columns",
        "describe",
        "motion_bids",
        "motion_session",
        "parquet",
        "profiles",
        "read",
        "readers",
        "session",
        "stream",
        "yamlfile",
    )
}
"""The only modules of the core that touch files."""
QUIET = {"firstrocker.study.curves"}
"""The only modules of the core that keep a library's warnings to themselves, around one call: they check its answer."""


def allowed(leg: str) -> set[str]:
    if leg in SHARED:
        return SHARED
    above = set(LEGS[: LEGS.index(leg)]) if leg in LEGS else SHELL[leg]
    return above | {leg} | SHARED


def imported_legs(path: Path) -> set[str]:
    names = imports_of(path, module_name(path))
    return {leg_of(name) for name in names if module_path(name) is not None}


@pytest.mark.parametrize("path", modules(), ids=module_name)
def test_imports_run_one_way(path: Path) -> None:
    leg = leg_of(module_name(path))
    assert leg in {*LEGS, *SHELL, *SHARED}, "a new part of the package: say here what it may import"
    assert imported_legs(path) <= allowed(leg)


@pytest.mark.parametrize("path", [p for p in modules() if leg_of(module_name(p)) in LEGS[:4]], ids=module_name)
def test_core_touches_neither_files_nor_users_nor_clocks(path: Path) -> None:
    reads = module_name(path) in READERS
    imported: set[str] = set()
    for node in ast.walk(tree_of(path)):
        if isinstance(node, ast.Import):
            imported |= {alias.name.split(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            imported.add((node.module or "").split(".")[0])
        elif isinstance(node, (ast.Global, ast.Nonlocal)):
            pytest.fail(f"line {node.lineno}: state outside a function")
        elif isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
            opens = node.func.id == "open" and not reads
            assert not opens, f"line {node.lineno}: opens a file"
            assert node.func.id not in ("print", "input"), f"line {node.lineno}: talks to a user"
        elif isinstance(node, ast.Attribute) and not reads:
            touches = node.attr in ("read_text", "write_text", "read_bytes", "write_bytes", "read_table", "write_table")
            assert not touches, f"line {node.lineno}: touches a file"
    quiet = module_name(path) in QUIET
    forbidden = FORBIDDEN_IN_CORE - ({"os"} if reads else set()) - ({"warnings"} if quiet else set())
    assert not imported & forbidden
