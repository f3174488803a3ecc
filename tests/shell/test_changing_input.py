"""A file that grows, goes or is replaced while its session is being read: told, measured nothing of, made anew."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from firstrocker.files import read_table, sha256_of
from firstrocker.inbox.morning import morning
from firstrocker.layout import STRIDES_FILES, SessionName
from firstrocker.settings import Settings
from firstrocker.signals.read import read_session
from firstrocker.stamps import made_stamp, recipe_of, steps_to_make, wanted_stamp
from firstrocker.steps import check, strides
from firstrocker.steps.sessions import Folders, make_session
from structure.tree import REPOSITORY
from workflow.small_study import write_session

NAME = SessionName("P01", "1")
SETTINGS = Settings()
Change = Callable[[Path], None]


def grows(log: Path) -> None:
    with log.open("a") as file:
        file.write("9,9,9\n")


def goes(log: Path) -> None:
    log.unlink()


def is_replaced(log: Path) -> None:
    content = log.read_bytes()
    log.unlink()
    log.write_bytes(content)


@pytest.fixture
def folders(tmp_path: Path) -> Folders:
    write_session(tmp_path / "study", "P01", seed=1, walks="a")
    return Folders(tmp_path / "study", tmp_path / "results", REPOSITORY / "config" / "loggers")


def made(folders: Folders) -> dict[str, Any]:
    make_session(folders, NAME, settings=SETTINGS, recipe=recipe_of(SETTINGS))
    record: dict[str, Any] = json.loads((folders.results / NAME.folder / "quality.json").read_text())
    return record


def to_make(folders: Folders) -> tuple[str, ...]:
    wanted = wanted_stamp(folders.study / NAME.folder, folders.loggers, recipe_of(SETTINGS))
    return steps_to_make(wanted, made_stamp(folders.results, NAME))


def meanwhile(monkeypatch: pytest.MonkeyPatch, module: Any, change: Change) -> None:
    """Have a log change once its session has been read: a logger that was still copying it."""

    def read(folder: Path, **options: Any) -> Any:
        given = read_session(folder, **options)
        change(next(folder.glob("*foot*")))
        return given

    monkeypatch.setattr(module, "read_session", read)


@pytest.mark.parametrize("change", [grows, goes, is_replaced])
def test_nothing_is_measured_and_the_next_run_makes_it_anew(
    folders: Folders, monkeypatch: pytest.MonkeyPatch, change: Change
) -> None:
    log = next((folders.study / NAME.folder).glob("*foot*"))
    whole = log.read_bytes()
    with monkeypatch.context() as patch:
        meanwhile(patch, strides, change)
        record = made(folders)
    assert record["status"] == "rejected"
    (told,) = [one for one in record["findings"] if one["severity"] == "error"]
    assert told["code"] == "file-changed"
    assert log.name in told["message"]
    assert (record["inputs"][log.name] is None) == (change is goes)
    for table in ("strides", "curves", "wear"):
        assert read_table(folders.results / NAME.folder / f"{table}.parquet").num_rows == 0
    assert to_make(folders) == ("strides", "study")
    assert morning(folders.study, folders.results, remind_days=7).to_do == ()  # it passes by itself

    log.write_bytes(whole)
    assert made(folders)["status"] != "rejected"
    assert to_make(folders) == ()
    undisturbed = Folders(folders.study, folders.results.with_name("undisturbed"), folders.loggers)
    made(undisturbed)
    for name in STRIDES_FILES:
        assert sha256_of(folders.results / NAME.folder / name) == sha256_of(undisturbed.results / NAME.folder / name)


def test_what_fails_because_the_file_changed_is_no_bug(folders: Folders, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(log: Path) -> None:
        grows(log)
        raise OSError("cut off")

    meanwhile(monkeypatch, strides, broken)
    assert made(folders)["status"] == "rejected"


def test_a_bug_is_raised_all_the_same(folders: Folders, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(log: Path) -> None:
        raise OSError("a disk that fails")

    meanwhile(monkeypatch, strides, broken)
    with pytest.raises(OSError, match="fails"):
        made(folders)


def test_check_tells_it_too(folders: Folders, monkeypatch: pytest.MonkeyPatch) -> None:
    meanwhile(monkeypatch, check, grows)
    found = check.check_study(folders.study, settings=SETTINGS, loggers=folders.loggers)
    assert "file-changed" in [trouble.code for trouble in found]
