"""The command line: each sub-command reaches its step, and a user's mistake is one line and a status."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
import yaml

from firstrocker import __version__
from firstrocker.cli import main
from firstrocker.commands import USER_MISTAKE
from firstrocker.settings import Settings
from structure.tree import REPOSITORY


def test_version(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        main(["--version"])
    assert ended.value.code == 0
    assert capsys.readouterr().out == f"firstrocker {__version__}\n"


def test_module_and_command_are_one() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "firstrocker", "--version"], capture_output=True, text=True, check=True
    )
    assert done.stdout == f"firstrocker {__version__}\n"


@pytest.mark.parametrize("form", ["--yaml", None])
def test_settings_as_yaml_are_what_the_workflow_reads(form: str | None, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["settings", *([form] if form else [])]) == 0
    assert yaml.safe_load(capsys.readouterr().out) == {"settings": Settings().model_dump()}


def test_settings_as_schema_and_tables(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["settings", "--schema"]) == 0
    assert json.loads(capsys.readouterr().out) == Settings.model_json_schema()
    assert main(["settings", "--markdown"]) == 0
    assert capsys.readouterr().out.startswith("### signals\n")


def test_settings_are_brought_in_step(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    shutil.copytree(REPOSITORY / "config", tmp_path / "config")
    assert main(["settings", "--write", str(tmp_path)]) == 0
    assert capsys.readouterr().out == ""
    (tmp_path / "config" / "config.yaml").write_text("settings: {}\n")
    assert main(["settings", "--write", str(tmp_path)]) == 0
    assert capsys.readouterr().out == f"{tmp_path / 'config' / 'config.yaml'}\n"
    assert (tmp_path / "config" / "config.yaml").read_bytes() == (REPOSITORY / "config" / "config.yaml").read_bytes()


@pytest.mark.parametrize(
    ("settings", "words"),
    [
        ('{"study": {"confidnce": 0.9}}', "did you mean study.confidence?"),
        ("{broken", "--settings: is not YAML"),
        ("nowhere.yaml", "nowhere.yaml: cannot be read"),
    ],
)
def test_wrong_settings_are_one_line(
    settings: str, words: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    status = main(["study", "--results", str(tmp_path), "--settings", settings])
    told = capsys.readouterr().err
    assert status == USER_MISTAKE
    assert told.startswith("firstrocker study: ")
    assert words in told
    assert told.count("\n") == 1


def test_settings_may_come_from_the_configuration_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "my.yaml"
    file.write_text("settings: {study: {confidence: 2}}\n")
    assert main(["study", "--results", str(tmp_path), "--settings", str(file)]) == USER_MISTAKE
    assert f"{file}: study.confidence: input should be less than or equal to 0.999" in capsys.readouterr().err


def test_a_demo_does_not_write_over_anything(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "mine.txt").write_text("mine")
    assert main(["demo", str(tmp_path)]) == USER_MISTAKE
    assert "the folder is not empty" in capsys.readouterr().err
    assert [path.name for path in tmp_path.iterdir()] == ["mine.txt"]


LEAN = {
    "firstrocker.workflow": ("pandas", "pyarrow", "scipy", "snakemake"),
    "firstrocker.cli": ("numpy", "pandas", "pyarrow", "pydantic", "scipy", "yaml"),
    "firstrocker.steps.strides": ("pandas", "jinja2", "matplotlib", "mujoco"),
    "firstrocker.steps.study": ("pandas", "matplotlib", "vqf", "ahrs"),
    "firstrocker.steps.cohort": ("pandas", "scipy.signal", "scipy.stats", "vqf", "ahrs"),
}
"""module -> what it must not load, for every job pays for it."""


@pytest.mark.parametrize("module", LEAN)
def test_a_step_loads_only_what_it_uses(module: str) -> None:
    code = f"import {module}, sys; print([name for name in {LEAN[module]!r} if name in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
