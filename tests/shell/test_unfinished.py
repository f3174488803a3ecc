"""What a living writer is at stays, what a dead one left goes, and two writers of one file never meet."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from firstrocker import unfinished as module
from firstrocker.files import new_folder, replacing, write_text
from firstrocker.unfinished import VERY_OLD_S, sweep, unfinished

WRITE = """
import sys
from pathlib import Path
from firstrocker.files import replacing
with replacing(Path(sys.argv[1])) as temporary:
    temporary.write_text("whole, by the other")
    print(temporary.name, flush=True)
    sys.stdin.read()
"""


@pytest.fixture
def other(tmp_path: Path) -> Iterator[subprocess.Popen[str]]:
    """Another process in the midst of writing a.txt; it ends when its standard input does."""
    with subprocess.Popen(
        [sys.executable, "-c", WRITE, str(tmp_path / "a.txt")], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as process:
        assert process.stdout is not None
        assert process.stdout.readline()
        yield process
        process.kill()


def names(folder: Path) -> list[str]:
    return sorted(entry.name for entry in folder.iterdir())


def elsewhere(path: Path) -> Path:
    """The path of a writer on another machine, whose process has a number that is nobody's here."""
    host, name = module._host(), unfinished(path).name
    return path.with_name(name.replace(f"{host}-{os.getpid()}", f"{'0' * 8}-999999999"))


def test_a_living_writer_keeps_what_it_is_at(tmp_path: Path, other: subprocess.Popen[str]) -> None:
    write_text(tmp_path / "a.txt", "by us")
    assert len(names(tmp_path)) == 2
    other.communicate("")
    assert other.returncode == 0
    assert (tmp_path / "a.txt").read_text() == "whole, by the other"
    assert names(tmp_path) == ["a.txt"]


def test_what_a_killed_writer_left_is_removed(tmp_path: Path, other: subprocess.Popen[str]) -> None:
    other.kill()
    other.wait()
    assert len(names(tmp_path)) == 1
    write_text(tmp_path / "b.txt", "new")
    assert names(tmp_path) == ["b.txt"]


def test_two_of_one_process_write_the_same_file_at_once(tmp_path: Path) -> None:
    with replacing(tmp_path / "a.txt") as one, replacing(tmp_path / "a.txt") as two:
        one.write_text("one")
        two.write_text("two")
    assert (tmp_path / "a.txt").read_text() == "one"
    assert names(tmp_path) == ["a.txt"]


def test_a_writer_elsewhere_is_dead_only_after_long(tmp_path: Path) -> None:
    path = elsewhere(tmp_path / "a.txt")
    path.write_text("half")
    os.utime(path, (1, 1))  # a copied file's own time is no sign of age
    write_text(tmp_path / "a.txt", "new")
    assert path.exists()
    sweep(tmp_path, time.time() + VERY_OLD_S + 60)
    assert names(tmp_path) == ["a.txt"]


def test_what_lives_here_is_never_too_old(tmp_path: Path) -> None:
    path = unfinished(tmp_path / "a.txt")
    path.write_text("half")
    sweep(tmp_path, time.time() + 100 * VERY_OLD_S)
    assert path.exists()


def test_folders_of_the_dead_go_and_other_programs_files_stay(tmp_path: Path, other: subprocess.Popen[str]) -> None:
    other.kill()
    other.wait()
    dead = tmp_path / names(tmp_path)[0]
    dead.unlink()
    (dead / "inner").mkdir(parents=True)
    for name in (".b.txt.part", ".b.123.part", "c.csv.part"):
        (tmp_path / name).write_text("not ours")
    with new_folder(tmp_path / "made") as folder:
        (folder / "one").write_text("1")
    assert names(tmp_path) == [".b.123.part", ".b.txt.part", "c.csv.part", "made"]
    assert names(tmp_path / "made") == ["one"]


@pytest.mark.parametrize("name", ["a" * 251 + ".txt", "ä" * 120 + ".csv", ".hidden"])
def test_names_as_long_as_they_get(tmp_path: Path, name: str) -> None:
    write_text(tmp_path / name, "x")
    assert names(tmp_path) == [name]
