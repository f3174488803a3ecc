"""What happens around an inbox while it is looked at: things vanish, names are long, clocks are ahead."""

from __future__ import annotations

import io
import os
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from firstrocker.inbox.morning import morning
from firstrocker.inbox.night import Night
from firstrocker.inbox.whole import missing_end
from firstrocker.layout import find_sessions, session_files
from firstrocker.settings import Settings
from firstrocker.steps.intake import make_intake
from nightly.conftest import quick_folder
from nightly.inboxes import HOME, Place, log_text, row, write, write_folder


class Vanishing:
    """At the n-th thing below a folder that is opened or listed, that thing is gone, or the folder it lies in."""

    def __init__(self, folder: Path, number: int, *, with_folder: bool) -> None:
        self._folder, self._left, self._with_folder = folder, number, with_folder
        self._before: dict[str, Callable[..., Any]] = {"open": io.open, "scandir": os.scandir, "listdir": os.listdir}

    def install(self, patch: pytest.MonkeyPatch) -> None:
        """Stand between the programme and the disk."""
        patch.setattr(io, "open", self._instead("open"))
        patch.setattr(os, "scandir", self._instead("scandir"))
        patch.setattr(os, "listdir", self._instead("listdir"))

    @property
    def over(self) -> bool:
        """Whether so many things were not opened."""
        return self._left > 0

    def _instead(self, name: str) -> Any:
        def call(place: Any, *rest: Any, **named: Any) -> Any:
            self._count(place)
            return self._before[name](place, *rest, **named)

        return call

    def _count(self, place: Any) -> None:
        path = Path(os.fspath(place)) if isinstance(place, (str, os.PathLike)) else Path()
        if self._folder not in path.parents or ".intake" in path.parts:
            return
        self._left -= 1
        if self._left == 0:
            gone = path.parent if self._with_folder and path.parent != self._folder else path
            subprocess.run(["rm", "-rf", gone], check=True)  # by somebody else, whose looking is not counted


def filled(place: Place) -> None:
    """An inbox with something of every kind, and a study that holds some of it in an older version."""
    write_folder(place.inbox, "P01", "1", seed=1)
    write(place.inbox / "participants.tsv", "participant_id\n")
    place.look(24)
    write(place.inbox / "participants.tsv", "participant_id\tsex\n")
    write(place.inbox / "sub-P01/ses-1/a_foot.csv", log_text(3))
    write(place.inbox / "sub-P01/ses-1/notes.txt", "invented")
    write(place.inbox / "sub-P01/ses-1/stray.csv", log_text(77))
    write(place.inbox / "sub-P02/home.yaml", HOME.format(subject="P02"))
    for seed, name in enumerate(("20260302_foot_a.csv", "20260302_shank_a.csv", "20260303_foot_a.csv"), 10):
        write(place.inbox / "sub-P02" / name, log_text(seed))
    write(place.inbox / "sub-P03/loose.csv", log_text(50))


@pytest.mark.parametrize("with_folder", [False, True])
@pytest.mark.parametrize("which", ["inbox", "study"])
def test_whatever_vanishes_while_it_is_looked_at(
    monkeypatch: pytest.MonkeyPatch, which: str, *, with_folder: bool
) -> None:
    number = 0
    while True:
        number += 1
        with quick_folder() as folder, monkeypatch.context() as patch:
            place = Place(Path(folder))
            filled(place)
            vanishing = Vanishing(getattr(place, which), number, with_folder=with_folder)
            vanishing.install(patch)
            told: Night = place.look(24)
            if vanishing.over:
                break
            assert {one["state"] for one in told.rows} <= {"taken", "arrived", "waiting", "duplicate", "quarantined"}
            for name in find_sessions(place.study)[0]:
                assert (place.study / name.folder / "session.yaml").is_file() or which == "study"
    assert number > 9


def test_a_log_that_is_changed_after_its_content_was_read_waits(place: Place, monkeypatch: pytest.MonkeyPatch) -> None:
    log = write_folder(place.inbox, "P01", "1", seed=1) / "a_foot.csv"

    def grows(path: Path) -> Any:
        found = missing_end(path)
        if path == log:
            write(log, log_text(1, rows=90))
        return found

    place.look(0)
    with monkeypatch.context() as patch:
        patch.setattr("firstrocker.inbox.sorting.missing_end", grows)
        night = place.look(24)
    assert row(night, "sub-P01/ses-1/a_foot.csv")["state"] == "arrived"
    assert place.files() == {}
    assert set(place.states(place.look(24)).values()) == {"taken"}


@pytest.mark.parametrize("name", ["a" * 251 + ".csv", "ä" * 120 + ".csv", "/".join(["deep" * 20] * 12) + "/a.csv"])
def test_names_as_long_as_they_get_are_set_aside_and_told(place: Place, name: str) -> None:
    write(place.inbox / "elsewhere" / name, log_text(1))
    write(place.inbox / "sub-P01/ses-1" / name, log_text(2))
    write_folder(place.inbox, "P01", "1", seed=5)
    results = place.study.with_name("results")
    for _ in range(2):
        make_intake(place.inbox, place.study, results, settings=Settings(), now=os.stat(place.inbox).st_ctime + 1e6)
    told = morning(place.study, results, remind_days=7)
    assert sorted(item.where for item in told.to_do) == [f"elsewhere/{name}", f"sub-P01/ses-1/{name}"]
    texts = [path.read_text() for path in (results / "nightly/quarantine").rglob("*.why.txt")]
    assert len(texts) == 2
    assert any(text.startswith(f"elsewhere/{name}\n") for text in texts)
    before = {path: path.stat().st_ino for path in (results / "nightly/quarantine").rglob("*")}
    morning(place.study, results, remind_days=7)
    assert {path: path.stat().st_ino for path in (results / "nightly/quarantine").rglob("*")} == before


@pytest.mark.parametrize(("person", "session"), [("P" * 41, "1"), ("P01", "1" * 60)])
def test_labels_that_are_too_long_are_told(place: Place, person: str, session: str) -> None:
    write_folder(place.inbox, person, session, seed=1)
    night = place.look(24)
    assert {one["state"] for one in night.rows} == {"quarantined"}
    assert "40 at most" in night.rows[0]["reason"]
    (place.study / f"sub-{person}" / f"ses-{session}").mkdir(parents=True)
    sessions, strays = find_sessions(place.study)
    assert sessions == []
    if session != "1":
        assert "40 at most" in strays[0]


def test_files_from_a_clock_that_is_ahead_are_taken(place: Place) -> None:
    folder = write_folder(place.inbox, "P01", "1", seed=1)
    for path in folder.iterdir():
        os.utime(path, (4e9, 4e9))  # the year 2096
    assert set(place.states(place.look(24)).values()) == {"taken"}


def test_a_disk_whose_clock_is_ahead_delays_by_one_night(place: Place) -> None:
    write_folder(place.inbox, "P01", "1", seed=1)
    place.look(-24 * 300)  # this machine's clock is 300 days behind that of the disk
    assert set(place.states(place.look(24)).values()) == {"taken"}


def test_a_session_that_is_taken_away_while_it_is_listed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = write_folder(tmp_path, "P01", "1", seed=1)
    write(folder / "inner/deep/a.csv", "x")
    listed = os.scandir

    def gone(place: Any) -> Any:
        if Path(place).name == "inner":
            subprocess.run(["rm", "-r", place], check=True)
        return listed(place)

    monkeypatch.setattr(os, "scandir", gone)
    assert [path.name for path in session_files(folder)] == ["a_foot.csv", "a_shank.csv", "session.yaml"]
