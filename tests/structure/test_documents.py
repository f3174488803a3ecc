"""What is written down twice says the same twice."""

from __future__ import annotations

import ast
import re
import subprocess
from pathlib import Path

import pytest
import yaml

from firstrocker.faults import BY_CODE
from firstrocker.faults_text import readme_with_faults
from firstrocker.settings import Settings, load_settings
from firstrocker.settings_text import readme_with_settings, settings_yaml
from structure.tree import REPOSITORY, modules, tree_of

NO_FAULTS = {"error", "settings", "signal", "busy", "changed"}
"""Codes of the tree's own bases and of mistakes in the run's settings, which no finding carries."""
README = (REPOSITORY / "README.md").read_text(encoding="utf-8")
CI = (REPOSITORY / ".ci" / "run").read_text(encoding="utf-8")


def readme_command(name: str) -> str:
    found = re.search(rf"^<!-- {name} -->\n```bash\n(.+?)\n```$", README, flags=re.MULTILINE | re.DOTALL)
    assert found is not None
    return found.group(1)


@pytest.mark.parametrize("name", ["main command", "test command"])
def test_ci_runs_the_commands_of_the_readme(name: str) -> None:
    extract = re.search(r"^readme_command\(\).*?^}$", CI, flags=re.MULTILINE | re.DOTALL)
    assert extract is not None
    assert f"check '{name} of README.md' \"$(readme_command '{name}')\"" in CI
    script = f"{extract.group(0)}\nreadme_command '{name}'"
    told = subprocess.run(["bash", "-c", script], cwd=REPOSITORY, capture_output=True, text=True, check=True).stdout
    assert told.strip() == readme_command(name)


@pytest.mark.parametrize(
    ("name", "end"), [("main command", "snakemake --cores 2"), ("test command", "pytest -n 2 --cov")]
)
def test_each_command_of_the_readme_works_alone(name: str, end: str) -> None:
    command = readme_command(name)
    assert command.startswith("python3 -m venv .venv && .venv/bin/pip install ")
    assert "-c config/constraints.txt" in command
    assert command.endswith(f" && .venv/bin/{end}")


def test_config_holds_the_defaults() -> None:
    text = (REPOSITORY / "config" / "config.yaml").read_text(encoding="utf-8")
    assert text == settings_yaml(), "run: firstrocker settings --write ."
    data = yaml.safe_load(text)
    assert list(data) == ["settings"]
    assert load_settings(data["settings"]) == Settings()


def test_config_readme_describes_every_setting() -> None:
    text = (REPOSITORY / "config" / "README.md").read_text(encoding="utf-8")
    assert text == readme_with_settings(text), "run: firstrocker settings --write ."
    for section, fields in Settings().model_dump().items():
        assert f"### {section}\n" in text
        for name in fields:
            assert f"| `{name}` |" in text


def test_config_readme_holds_the_table_of_faults() -> None:
    text = (REPOSITORY / "config" / "README.md").read_text(encoding="utf-8")
    assert text == readme_with_faults(text), "run: firstrocker settings --write ."


def codes_in_the_code() -> set[str]:
    """Every code of a finding or an exception that stands somewhere in the package."""
    codes: set[str] = set()
    for path in modules():
        if path.parent.name == "web":
            continue  # what the clinic's page refuses is no fault of a log
        for node in ast.walk(tree_of(path)):
            if isinstance(node, ast.Call):
                called = node.func.id if isinstance(node.func, ast.Name) else getattr(node.func, "attr", "")
                given = [k.value for k in node.keywords if k.arg == "code"]
                given += node.args[:1] if called == "Finding" else []
                codes |= {c.value for c in given if isinstance(c, ast.Constant) and isinstance(c.value, str)}
            elif isinstance(node, ast.Assign) and getattr(node.targets[0], "id", "") == "code":
                codes |= {str(node.value.value)} if isinstance(node.value, ast.Constant) else set()
    return codes - NO_FAULTS


@pytest.mark.untraced
def test_every_code_is_in_the_table_of_faults_and_every_row_is_of_use() -> None:
    assert codes_in_the_code() == set(BY_CODE), "faults.py: a row for every code of a finding, and no other"
    for fault in BY_CODE.values():
        assert all((fault.what, fault.threshold, fault.action))


def test_every_profile_is_described() -> None:
    text = (REPOSITORY / "config" / "README.md").read_text(encoding="utf-8")
    for profile in sorted((REPOSITORY / "config" / "profiles").iterdir()):
        assert (profile / "config.yaml").is_file()
        assert f"| `{profile.name}` |" in text


def test_constraints_pin_everything_and_nothing_of_this_machine() -> None:
    lines = (REPOSITORY / "config" / "constraints.txt").read_text(encoding="utf-8").splitlines()
    pins = [line for line in lines if not line.startswith("#")]
    assert pins
    assert all(re.fullmatch(r"[A-Za-z0-9._-]+==[A-Za-z0-9.!+]+", pin) for pin in pins)
    pinned = {pin.partition("==")[0].lower().replace("_", "-") for pin in pins}
    project = (REPOSITORY / "pyproject.toml").read_text(encoding="utf-8")
    asked = {name.lower() for name in re.findall(r'^  "([A-Za-z0-9._-]+)>=', project, flags=re.MULTILINE)}
    assert len(asked) > 10
    assert asked <= pinned
    assert not Path(REPOSITORY / "requirements.txt").exists()


def test_what_protects_the_clinic_s_page_is_tested() -> None:
    text = (REPOSITORY / "config" / "clinic.md").read_text(encoding="utf-8")
    named = set(re.findall(r"`(test_\w+)`", text))
    tests = "\n".join(path.read_text(encoding="utf-8") for path in (REPOSITORY / "tests" / "web").glob("test_*.py"))
    assert len(named) > 30
    assert {name for name in named if f"def {name}(" not in tests} == set()
