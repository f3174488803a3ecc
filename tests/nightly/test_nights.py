"""The real thing: nights through Snakemake, and an intake that is killed for real."""

from __future__ import annotations

import fcntl
import json
import os
import random
import signal
import time
from contextlib import suppress
from pathlib import Path

import pytest

from firstrocker import tables
from firstrocker.files import read_table
from firstrocker.inbox.night import take_in
from nightly.inboxes import held, log_text, write, write_folder
from nightly.nights import AT_ONCE, command, night, night_line
from workflow.kills import processes_in, start, wait_for
from workflow.runs import REPOSITORY, snakemake
from workflow.small_study import write_session


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A place after a first night: one good session, one that cannot be analysed."""
    folder = tmp_path_factory.mktemp("nights")
    write_session(folder / "inbox", "P01", seed=1, walks="a")
    write_folder(folder / "inbox", "P02", "1", seed=1)
    return folder


def test_nights_from_end_to_end(place: Path) -> None:
    before = held(place / "inbox")
    profile = str(REPOSITORY / "config" / "profiles" / "nightly")
    folders = ("inbox=inbox", "study=study", "results=results")
    first = snakemake(place, "--profile", profile, "--config", *folders, AT_ONCE)
    assert first.status == 0, first.text
    assert held(place / "study") == before == held(place / "inbox")
    results = place / "results"
    assert json.loads((results / "sub-P01/ses-1/quality.json").read_text())["status"] in ("ok", "flagged")
    assert "sub-P02/ses-1: Rejected: " in first.text
    assert "sub-P01" not in "".join(line for line in first.text.splitlines() if "Rejected" in line)
    assert (results / "nightly/quarantine/sub-P02/ses-1.why.txt").is_file()
    assert (results / "cohort/report.html").is_file()
    intake = read_table(results / "nightly/intake.parquet")
    assert intake.schema.equals(tables.INTAKE, check_metadata=True)
    assert set(intake["state"].to_pylist()) == {"taken"}

    stamps = {path: path.stat().st_mtime_ns for path in sorted(results.glob("sub-*/ses-*/*"))}
    write(place / "inbox/stray.csv", log_text(9))
    second = night(place)
    assert second.status == 3, second.text
    assert second.text.startswith("stray.csv: It lies outside every person's folder. ")
    assert "sub-P02" not in second.text
    assert {path: path.stat().st_mtime_ns for path in sorted(results.glob("sub-*/ses-*/*"))} == stamps

    third = night(place)
    assert (third.status, third.text) == (0, "")
    assert "Told before, still to do: 2." in (results / "nightly/morning.txt").read_text()


def test_a_night_while_another_runs_ends_at_once_with_75(place: Path) -> None:
    """The first is stopped in the middle, so that it is at work for as long as the second needs; then it goes on."""
    results = place / "results"
    lock = results / ".made" / "run.lock"
    earlier = {"", lock.read_text() if lock.is_file() else ""}
    first = start(place, *night_line())
    deadline = time.monotonic() + 60
    while not (lock.is_file() and _held(lock) and lock.read_text() not in earlier):  # it is had, then written to
        assert first.poll() is None
        assert time.monotonic() < deadline
        time.sleep(0.01)
    os.killpg(first.pid, signal.SIGSTOP)
    try:
        before = {path: path.stat().st_mtime_ns for path in results.rglob("*") if path.is_file()}
        second = night(place)
        assert second.status == 75, second.text
        assert second.text == "results: another run is at work here; this one ends without doing anything.\n"
        assert {path: path.stat().st_mtime_ns for path in results.rglob("*") if path.is_file()} == before
    finally:
        os.killpg(first.pid, signal.SIGCONT)
    assert first.wait(timeout=120) == 0


@pytest.mark.parametrize("number", [signal.SIGKILL, signal.SIGHUP])
def test_nothing_goes_on_without_its_night(tmp_path: Path, number: signal.Signals) -> None:
    write_folder(tmp_path / "inbox", "P01", "1", seed=1)
    run = start(tmp_path, *night_line())
    try:
        wait_for(lambda: (tmp_path / "results/.made/run.lock").is_file() or run.poll() is not None)
        assert run.poll() is None
        assert len(processes_in(tmp_path)) > 1
        os.kill(run.pid, number)
        assert run.wait(timeout=60) == (-signal.SIGKILL if number is signal.SIGKILL else 75)
        wait_for(lambda: processes_in(tmp_path) == [], seconds=10)
    finally:
        with suppress(ProcessLookupError):
            os.killpg(run.pid, signal.SIGKILL)
    assert not _held(tmp_path / "results/.made/run.lock")


def _held(lock: Path) -> bool:
    with lock.open("rb") as file:
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return True
    return False


def test_a_user_of_services_needs_no_home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    write(tmp_path / "file", "no folder can be made in a file")
    monkeypatch.setenv("HOME", str(tmp_path / "file" / "home"))
    monkeypatch.delenv("XDG_CACHE_HOME", raising=False)
    write_folder(tmp_path / "inbox", "P01", "1", seed=1)
    run = night(tmp_path)
    assert run.status == 3, run.text
    assert "sub-P01/ses-1: Rejected: " in run.text


def test_a_night_that_cannot_begin_says_so(tmp_path: Path) -> None:
    run = night(tmp_path)
    assert run.status == 2
    assert "inbox=inbox: there is no such folder." in run.text
    assert "Traceback" not in run.text


@pytest.mark.parametrize("taken", ["results", "results/nightly", "results/.made", "study/.intake"])
def test_a_place_that_cannot_be_written_to_is_no_bug(tmp_path: Path, taken: str) -> None:
    """A file lies where the folder should be: root, as whom tests may run, is stopped by no permission."""
    (tmp_path / "inbox").mkdir()
    (tmp_path / "study").mkdir()
    write(tmp_path / taken, "in the way")
    run = night(tmp_path)
    assert run.status == 2, run.text
    assert "nothing can be written there" in run.text
    assert taken in run.text
    assert "Traceback" not in run.text


def test_an_intake_that_is_killed_goes_on(tmp_path: Path) -> None:
    draw = random.Random(1)  # noqa: S311
    for number in range(12):
        write_folder(tmp_path / "inbox", f"P{number:02d}", "1", seed=10 * number)
    line = [*command("intake", "--inbox", "inbox"), "--settings", '{"nightly": {"settle_min": 0}}']
    for _ in range(4):
        run = start(tmp_path, *line)
        deadline = time.monotonic() + 60
        while not (tmp_path / "study" / ".intake" / "ledger.json").exists() and run.poll() is None:
            assert time.monotonic() < deadline
            time.sleep(0.002)
        time.sleep(draw.uniform(0, 0.15))
        os.killpg(run.pid, signal.SIGKILL)
        run.wait()
        for folder in (tmp_path / "study").glob("sub-*/ses-*"):
            whole = held(tmp_path / "inbox" / folder.relative_to(tmp_path / "study"))
            assert held(folder) == whole, "a session of the study is not whole"
    take_in(tmp_path / "inbox", tmp_path / "study", settle_min=0, patience_h=1)
    assert held(tmp_path / "study") == held(tmp_path / "inbox")
    assert [path.name for path in (tmp_path / "study/.intake").iterdir() if path.is_dir()] == []
