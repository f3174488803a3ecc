"""The fingerprint of a step's code: it follows imports, and sees what it should and nothing else."""

from __future__ import annotations

import ast
import shutil
from pathlib import Path

import pytest

from firstrocker import sources
from firstrocker.sources import imports_of, reachable, source_files, source_hash

STRIDES, STUDY, REPORT = "firstrocker.steps.strides", "firstrocker.steps.study", "firstrocker.steps.report"


@pytest.fixture(scope="module")
def package(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the package that may be edited, and is put back by whoever does."""
    copy = tmp_path_factory.mktemp("package") / "firstrocker"
    shutil.copytree(sources.ROOT, copy, ignore=shutil.ignore_patterns("__pycache__"))
    return copy


def test_a_copy_has_the_same_fingerprint(package: Path) -> None:
    assert source_hash(STRIDES, root=package) == source_hash(STRIDES)


@pytest.mark.parametrize(
    ("edited", "strides", "study"),
    [
        ("motion/frames.py", True, False),
        ("gait/events.py", True, False),
        ("chain.py", True, False),
        ("steps/strides.py", True, False),
        ("study/compare.py", False, True),
        ("tables.py", True, True),
        ("measures.py", True, True),
        ("files.py", True, True),
        ("cli.py", False, False),
        ("settings.py", False, False),
        ("synth/__init__.py", False, False),
    ],
)
def test_an_edit_is_seen_by_the_steps_that_use_it(package: Path, edited: str, strides: bool, study: bool) -> None:
    before = [source_hash(step, root=package) for step in (STRIDES, STUDY)]
    text = (package / edited).read_bytes()
    (package / edited).write_bytes(text + b"\n# edited\n")
    after = [source_hash(step, root=package) for step in (STRIDES, STUDY)]
    (package / edited).write_bytes(text)
    assert [source_hash(step, root=package) for step in (STRIDES, STUDY)] == before
    assert [old != new for old, new in zip(before, after, strict=True)] == [strides, study]


def test_a_template_counts_as_code(package: Path) -> None:
    before = source_hash(REPORT, root=package)
    new = package / "report" / "new.html.j2"
    new.write_text("<p>")
    after = source_hash(REPORT, root=package)
    new.unlink()
    assert after != before
    assert source_hash(REPORT, root=package) == before


def test_imports_within_functions_and_relative_ones_count(tmp_path: Path) -> None:
    root = tmp_path / "firstrocker"
    for name, text in {
        "__init__.py": "",
        "a.py": "def f():\n    from firstrocker.leg import b\n",
        "leg/__init__.py": "",
        "leg/b.py": "from . import c\nfrom ..d import x\nimport numpy\n",
        "leg/c.py": "import firstrocker.e as e\n",
        "d.py": "x = 1\n",
        "e.py": "from firstrocker.a import f\n",
        "unused.py": "",
    }.items():
        (root / name).parent.mkdir(parents=True, exist_ok=True)
        (root / name).write_text(text)
    names = reachable("firstrocker.a", root=root)
    assert names == {"firstrocker"} | {f"firstrocker.{name}" for name in ("a", "leg", "leg.b", "leg.c", "d", "e")}
    assert root / "unused.py" not in source_files("firstrocker.a", root=root)


BLOCKS = """\
class A:
    async def f(self):
        for x in ():
            import firstrocker.a
        else:
            import firstrocker.b
        async with x:
            while x:
                import firstrocker.c
            else:
                import firstrocker.d
try:
    import firstrocker.e
except ImportError:
    import firstrocker.f
else:
    import firstrocker.g
finally:
    import firstrocker.h
match 1:
    case 1:
        import firstrocker.i
if 1: import firstrocker.j; import firstrocker.k
elif 2:
    import firstrocker.l
else:
    with x:
        import firstrocker.m
try:
    pass
except* ValueError:
    import firstrocker.n
"""


def test_imports_count_wherever_they_stand(tmp_path: Path) -> None:
    root = tmp_path / "firstrocker"
    root.mkdir()
    names = "abcdefghijklmn"
    for name in ("__init__", *names):
        (root / f"{name}.py").write_text("")
    (root / "z.py").write_text(BLOCKS)
    assert reachable("firstrocker.z", root=root) == {
        "firstrocker",
        "firstrocker.z",
        *(f"firstrocker.{n}" for n in names),
    }


def test_imports_are_those_of_whole_files_parsed() -> None:
    for path in sources.ROOT.rglob("*.py"):
        wanted = set()
        for node in ast.walk(ast.parse(path.read_bytes())):
            if isinstance(node, ast.Import):
                wanted |= {alias.name for alias in node.names}
            elif isinstance(node, ast.ImportFrom):
                assert node.level == 0, "the house has no relative imports"
                wanted |= {str(node.module)} | {f"{node.module}.{alias.name}" for alias in node.names}
        wanted = {one for one in wanted if one.split(".")[0] == "firstrocker"}
        assert set(imports_of(path, "firstrocker.any")) == wanted, path


@pytest.mark.parametrize(
    "text",
    [
        "from firstrocker \\\n  import a\n",
        "from firstrocker import \\\n  a\n",
        "if True: import firstrocker.a\n",
        "x = 1; import firstrocker.a\n",
        "import os; import firstrocker.a\n",
        "from firstrocker import (  # (one)\n    a,\n)\n",
        "from firstrocker import (\n    os,  # (one)\n    a,\n)\n",
        "from firstrocker import(a)\n",
        "import\tfirstrocker.a as x\r\n",
        'x = """\nimport (\n"""\nimport firstrocker.a\n',
        "if True:\n    def f():\n        from firstrocker import (\n            os,\n            a\n        )\n",
        "class A:\n    import os, firstrocker.a\n",
    ],
)
def test_an_import_is_seen_however_it_is_written(tmp_path: Path, text: str) -> None:
    compile(text, "z.py", "exec")
    (tmp_path / "z.py").write_text(text)
    assert "firstrocker.a" in imports_of(tmp_path / "z.py", "firstrocker.z")


def test_every_step_can_be_found() -> None:
    for module in (STRIDES, STUDY, REPORT, "firstrocker.steps.cohort", "firstrocker.steps.demo"):
        assert module in reachable(module)
    assert "firstrocker.signals.read" in reachable(STRIDES)
    assert "firstrocker.synth.study" in reachable("firstrocker.steps.demo")
