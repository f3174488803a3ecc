"""`firstrocker check`: everything wrong in a study at once, in a table, and a status that says whether there is any."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from firstrocker.cli import main
from firstrocker.commands import USER_MISTAKE
from firstrocker.settings import Settings
from firstrocker.steps.check import Trouble, check_study, told
from firstrocker.steps.strides import make_strides
from structure.tree import REPOSITORY
from workflow.small_study import write_log, write_session

LOGGERS = REPOSITORY / "config" / "loggers"
Damage = Callable[[Path], None]


def check(study: Path) -> list[Trouble]:
    return check_study(study, settings=Settings(), loggers=LOGGERS)


def rewrite(folder: Path, name: str, change: Callable[[np.ndarray], np.ndarray]) -> None:
    rows = np.loadtxt(folder / name, delimiter=",", skiprows=1)
    write_log(folder / name, change(rows))


def edit(folder: Path, old: str, new: str) -> None:
    file = folder / "session.yaml"
    text = file.read_text(encoding="utf-8")
    assert old in text
    file.write_text(text.replace(old, new), encoding="utf-8")


def exchange(folder: Path) -> None:
    (folder / "a_foot.csv").rename(folder / "spare")
    (folder / "a_shank.csv").rename(folder / "a_foot.csv")
    (folder / "spare").rename(folder / "a_shank.csv")


DAMAGES: dict[str, tuple[Damage, str]] = {
    "P11": (lambda folder: (folder / "a_foot.csv").unlink(), "log-unreadable"),
    "P12": (lambda folder: edit(folder, "acceleration: m/s^2", "acceleration: g"), "wrong-unit"),
    "P13": (lambda folder: edit(folder, "affected_side", "affected_sid"), "session-file"),
    "P14": (exchange, "foot-shank-exchanged"),
    "P15": (lambda folder: rewrite(folder, "a_shank.csv", lambda r: r * np.array([1, 0, 1, 1, 1, 1, 1])), "stuck-axis"),
    "P16": (lambda folder: edit(folder, "logger: simulated", "logger: simulatde"), "log-unreadable"),
}


@pytest.fixture(scope="module")
def study(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A good session and one of each damage."""
    place = tmp_path_factory.mktemp("check") / "study"
    write_session(place, "P01", seed=0, walks="a")
    for number, (subject, (damage, _)) in enumerate(DAMAGES.items(), 1):
        damage(write_session(place, subject, seed=number, walks="a"))
    return place


def test_a_good_study_has_nothing_to_mend(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    write_session(tmp_path / "study", "P01", seed=0)
    assert main(["check", str(tmp_path / "study"), "--loggers", str(LOGGERS)]) == 0
    assert not [t for t in check(tmp_path / "study") if t.severity == "error"]
    assert "0 to mend" in capsys.readouterr().out or "Nothing to mend.\n"


def test_every_damage_is_told_at_once(study: Path, capsys: pytest.CaptureFixture[str]) -> None:
    troubles = check(study)
    for subject, (_, code) in DAMAGES.items():
        mine = [t for t in troubles if t.where.startswith(f"sub-{subject}/")]
        assert code in {t.code for t in mine if t.severity == "error"}, (subject, mine)
        assert all(t.what and t.remedy for t in mine if t.severity == "error")
    assert not [t for t in troubles if t.where.startswith("sub-P01/") and t.severity == "error"]
    assert main(["check", str(study), "--loggers", str(LOGGERS)]) == 1
    out = capsys.readouterr().out
    assert all(f"sub-{subject}/ses-1" in out for subject in DAMAGES)
    assert out.splitlines()[0].split() == ["where", "what", "how", "to", "mend"]
    assert max(map(len, out.splitlines())) <= 120


@pytest.mark.parametrize("subject", DAMAGES)
def test_the_workflow_tells_the_same(study: Path, tmp_path: Path, subject: str) -> None:
    """What costs a log in the check costs it in the analysis, under the same code."""
    from json import loads

    make_strides(study / f"sub-{subject}" / "ses-1", tmp_path, settings=Settings(), loggers=LOGGERS)
    findings = loads((tmp_path / "quality.json").read_text(encoding="utf-8"))["findings"]
    here = {(t.code, t.what) for t in check(study) if t.where.startswith(f"sub-{subject}/")}
    assert here <= {(f["code"], f["message"]) for f in findings}


def test_one_file_in_two_sessions_and_a_folder_nobody_looks_at(tmp_path: Path) -> None:
    first = write_session(tmp_path, "P01", seed=0, walks="a")
    second = write_session(tmp_path, "P02", seed=1, walks="a")
    shutil.copy(first / "a_foot.csv", second / "a_foot.csv")
    (tmp_path / "sub-P03" / "ses-1 2").mkdir(parents=True)
    errors = [t for t in check(tmp_path) if t.severity == "error"]
    assert [t.code for t in errors] == ["folder-name", "same-recording"]
    assert errors[1].where == "sub-P02/ses-1"
    assert "a_foot.csv is the same file as sub-P01/ses-1/a_foot.csv." in errors[1].what


def test_a_broken_profile_is_told_though_nobody_uses_it(tmp_path: Path) -> None:
    write_session(tmp_path / "study", "P01", seed=0, walks="a")
    loggers = tmp_path / "loggers"
    loggers.mkdir()
    (loggers / "new.yaml").write_text("columns: {}\n")
    (trouble,) = check_study(tmp_path / "study", settings=Settings(), loggers=loggers)
    assert (trouble.where, trouble.severity) == ("loggers/new.yaml", "error")


def test_no_study_is_a_mistake_of_the_command(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", str(tmp_path / "none")]) == USER_MISTAKE
    assert "there is no such folder" in capsys.readouterr().err
    assert main(["check", str(tmp_path)]) == USER_MISTAKE


@pytest.mark.parametrize("width", [60, 120, 200])
def test_the_table_keeps_every_word_within_its_width(width: int) -> None:
    trouble = Trouble("sub-P01/ses-1, walk a", "error", "gap", "There is a gap of two seconds. " * 4, "Charge it.")
    text = told([trouble], width=width)
    assert text.count("gap") == 5
    assert max(map(len, text.splitlines())) <= max(width, 84)
    assert told([], width=width) == "Nothing to mend.\n"
