"""What becomes of what lies in an inbox: taken, waiting, a copy, or set aside with the reason."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import pytest

from firstrocker.inbox import take as take_module
from firstrocker.inbox.night import LEDGER
from nightly.inboxes import PATIENCE_H, SESSION, Place, held, log_text, row, write, write_folder


def standing(path: Path) -> tuple[int, int]:
    """What changes when a file is written anew."""
    return path.stat().st_ino, path.stat().st_mtime_ns


def test_a_whole_session_is_taken_once_it_rests(place: Place) -> None:
    write_folder(place.inbox, "P01", "20260302", seed=1)
    before = held(place.inbox)
    fresh = place.look(hours=-0.9)
    assert set(place.states(fresh).values()) == {"arrived"}
    assert place.files() == {}
    night = place.look()
    assert set(place.states(night).values()) == {"taken"}
    assert all(one["new"] for one in night.rows)
    assert [name.folder for name in night.taken] == ["sub-P01/ses-20260302"]
    assert place.files() == before == held(place.inbox)
    again = place.look()
    assert again.taken == ()
    assert not any(one["new"] or one["needs_person"] for one in again.rows)


def test_what_was_taken_shares_nothing_with_the_inbox(place: Place) -> None:
    folder = write_folder(place.inbox, "P01", "1", seed=1)
    place.look(24)
    taken = place.files()
    with (folder / "a_foot.csv").open("a") as file:
        file.write("7.00,1")
    assert place.files() == taken


@pytest.mark.parametrize("way", ["append", "again"])
def test_a_changed_log_makes_its_session_new_and_no_other(place: Place, way: str) -> None:
    folder = write_folder(place.inbox, "P01", "1", seed=1)
    write_folder(place.inbox, "P02", "1", seed=5)
    place.look(24)
    untouched = standing(place.study / "sub-P02/ses-1/a_foot.csv")
    write(folder / "a_foot.csv", log_text(1, rows=90) if way == "append" else log_text(9))
    night = place.look(24)
    assert [name.folder for name in night.taken] == ["sub-P01/ses-1"]
    assert place.files() == held(place.inbox)
    assert standing(place.study / "sub-P02/ses-1/a_foot.csv") == untouched


def test_the_same_content_sent_again_changes_nothing(place: Place) -> None:
    folder = write_folder(place.inbox, "P01", "1", seed=1)
    place.look(24)
    before = standing(place.study / "sub-P01/ses-1/a_foot.csv")
    write(folder / "a_foot.csv", log_text(1))
    os.utime(folder / "a_foot.csv", (1, 1))
    night = place.look(24)
    assert night.taken == ()
    assert row(night, "sub-P01/ses-1/a_foot.csv")["state"] == "taken"
    assert standing(place.study / "sub-P01/ses-1/a_foot.csv") == before


def test_what_systems_leave_behind_is_passed_over(place: Place) -> None:
    folder = write_folder(place.inbox, "P01", "1", seed=1)
    for name in (".DS_Store", "Thumbs.db", "._a_foot.csv", ".trash/old.csv"):
        write(folder / name, "x")
    night = place.look(24)
    assert set(place.states(night).values()) == {"taken"}
    assert len(night.rows) == 3


def test_a_session_waits_for_a_log_that_it_names_but_not_for_ever(place: Place) -> None:
    folder = write_folder(place.inbox, "P01", "1", seed=1)
    (folder / "a_shank.csv").unlink()
    place.look(0)
    night = place.look(24)
    assert set(place.states(night).values()) == {"waiting"}
    assert "a_shank.csv, which session.yaml names" in night.rows[0]["reason"]
    late = place.look(100)
    assert set(place.states(late).values()) == {"taken"}
    assert sum(one["needs_person"] for one in late.rows) == 1
    write(folder / "a_shank.csv", log_text(2))
    assert len(place.look(24).taken) == 1
    assert place.files() == held(place.inbox)


def test_a_session_waits_for_its_session_file(place: Place) -> None:
    folder = write_folder(place.inbox, "P01", "1", seed=1)
    (folder / "session.yaml").unlink()
    place.look(0)
    assert set(place.states(place.look(24)).values()) == {"waiting"}
    late = place.look(100)
    assert set(place.states(late).values()) == {"quarantined"}
    assert "session.yaml" in row(late, "sub-P01/ses-1/a_foot.csv")["remedy"]


def test_a_wrong_session_file_is_set_aside_until_it_changes(place: Place) -> None:
    folder = write_folder(place.inbox, "P01", "1", seed=1)
    right = (folder / "session.yaml").read_text()
    write(folder / "session.yaml", right.replace("affected_side", "affected_sid"))
    night = place.look(24)
    told = row(night, "sub-P01/ses-1/session.yaml")
    assert (told["state"], told["needs_person"]) == ("quarantined", True)
    assert "affected_side" in told["reason"]
    assert place.files() == {}
    write(folder / "session.yaml", right)
    assert len(place.look(24).taken) == 1
    write(folder / "session.yaml", right.replace("unbraced", "unbraked"))
    worse = place.look(24)
    assert row(worse, "sub-P01/ses-1/session.yaml")["state"] == "quarantined"
    assert row(worse, "sub-P01/ses-1/a_foot.csv")["state"] == "quarantined"
    assert place.files()["sub-P01/ses-1/session.yaml"].decode() == right


def test_a_log_that_is_being_sent_again_does_not_replace_the_whole_one(place: Place) -> None:
    folder = write_folder(place.inbox, "P01", "1", seed=1)
    place.look(24)
    before = place.files()
    write(folder / "a_foot.csv", log_text(1, rows=30))
    place.look(0)
    night = place.look(24)
    assert row(night, "sub-P01/ses-1/a_foot.csv")["state"] == "waiting"
    assert "sent again" in row(night, "sub-P01/ses-1/a_foot.csv")["reason"]
    assert row(place.look(100), "sub-P01/ses-1/a_foot.csv")["state"] == "quarantined"
    assert place.files() == before


@pytest.mark.parametrize("path", ["stray.csv", "P01/a.csv", "sub-P 1/a.csv", "sub-P01/ses-a b/a.csv"])
def test_what_is_nobody_s_is_set_aside(place: Place, path: str) -> None:
    write(place.inbox / path, log_text(1))
    told = place.look(24).rows[0]
    assert (told["state"], told["needs_person"]) == ("quarantined", True)
    assert told["reason"]
    assert told["remedy"]


def test_links_and_strange_names_are_told_and_followed_nowhere(place: Place, tmp_path: Path) -> None:
    folder = write_folder(place.inbox, "P01", "1", seed=1)
    (folder / "a_foot.csv").unlink()
    (folder / "a_foot.csv").symlink_to(write(tmp_path / "elsewhere.csv", log_text(1)))
    Path(os.fsdecode(bytes(folder) + b"/a\xff.csv")).write_text("x")
    night = place.look(24)
    assert set(place.states(night).values()) == {"quarantined"}
    assert place.files() == {}


def test_a_study_mended_by_hand_is_left_alone(place: Place) -> None:
    write_folder(place.inbox, "P01", "1", seed=1)
    place.look(24)
    mended = SESSION.format(subject="P01", session="1").replace("left", "right")
    write(place.study / "sub-P01/ses-1/session.yaml", mended)
    assert place.look(24).taken == ()
    assert place.files()["sub-P01/ses-1/session.yaml"].decode() == mended


def test_a_cleared_inbox_takes_nothing_from_the_study(place: Place) -> None:
    folder = write_folder(place.inbox, "P01", "1", seed=1)
    place.look(24)
    before = place.files()
    for path in folder.iterdir():
        path.unlink()
    write(folder / "notes.txt", "walked in the garden")
    night = place.look(24)
    assert len(night.taken) == 1
    assert place.files() == before | {"sub-P01/ses-1/notes.txt": b"walked in the garden"}


def test_an_inbox_in_which_nothing_lies_any_more_is_told_once(place: Place) -> None:
    write_folder(place.inbox, "P01", "1", seed=1)
    place.look(24)
    before = place.files()
    place.inbox.rename(place.inbox.with_name("gone"))
    place.inbox.mkdir()
    night = place.look(24)
    assert [(one["path"], one["needs_person"]) for one in night.rows] == [(".", True)]
    assert "3 files lay before" in night.rows[0]["reason"]
    assert place.look(24).rows == ()
    assert place.files() == before


def test_a_lost_ledger_is_found_out_again(place: Place) -> None:
    write_folder(place.inbox, "P01", "1", seed=1)
    place.look(24)
    stat = standing(place.study / "sub-P01/ses-1/a_foot.csv")
    write(place.study / LEDGER, "{half")
    night = place.look(24)
    assert night.taken == ()
    assert set(place.states(night).values()) == {"taken"}
    assert standing(place.study / "sub-P01/ses-1/a_foot.csv") == stat


def test_a_full_disk_costs_one_session_its_night(place: Place, monkeypatch: pytest.MonkeyPatch) -> None:
    write_folder(place.inbox, "P01", "1", seed=1)
    write_folder(place.inbox, "P02", "1", seed=5)
    real = take_module.copy_whole

    def full(source: Path, target: Path, *, sha256: str) -> None:
        if "sub-P01" in str(source):
            raise OSError(28, "No space left on device")
        real(source, target, sha256=sha256)

    monkeypatch.setattr(take_module, "copy_whole", full)
    night = place.look(24)
    assert [name.subject for name in night.taken] == ["P02"]
    told = [one for one in night.rows if one["subject"] == "P01"]
    assert {one["state"] for one in told} == {"waiting"}
    assert "No space left" in told[0]["reason"]
    monkeypatch.undo()
    assert [name.subject for name in place.look(1).taken] == ["P01"]


def test_motion_bids_sessions_and_their_sidecars_are_taken(place: Place) -> None:
    motion = place.inbox / "sub-P01" / "ses-1" / "motion"
    write(motion / "sub-P01_ses-1_task-walking_motion.tsv", log_text(1))
    write(place.inbox / "participants.tsv", "participant_id\taffected_side\nsub-P01\tleft\n")
    write(place.inbox / "sub-P01" / "task-walking_motion.json", "{}")
    night = place.look(24)
    assert set(place.states(night).values()) == {"taken"}
    assert place.files() == held(place.inbox)


@pytest.mark.parametrize("folder", ["sub-P01", "sub-P01/ses-1"])
def test_a_folder_that_cannot_be_read_is_to_be_made_readable(
    place: Place, monkeypatch: pytest.MonkeyPatch, folder: str
) -> None:
    write_folder(place.inbox, "P01", "1", seed=1)
    real = os.scandir

    def scandir(path: Any) -> Any:
        if str(path).endswith(f"/{folder}"):
            raise PermissionError(13, "Permission denied")
        return real(path)

    monkeypatch.setattr(os, "scandir", scandir)
    told = row(place.look(), folder)
    assert told["reason"] == "The folder cannot be read (Permission denied)."
    assert told["remedy"] == "Allow the nightly run's user to read it."


def test_a_session_file_that_says_another_person_is_told_where_it_lies_once(place: Place) -> None:
    folder = write_folder(place.inbox, "P01", "1", seed=1)
    told = folder / "session.yaml"
    told.write_text(told.read_text(encoding="utf-8").replace("subject: P01", "subject: P33"), encoding="utf-8")
    found = row(place.look(), "sub-P01/ses-1/session.yaml")
    assert (found["state"], found["needs_person"]) == ("quarantined", True)
    assert found["reason"].startswith("subject: The file says 'P33' but its folder is called 'sub-P01'.")


def test_a_clock_that_was_wrong_for_a_night_delays_nothing(place: Place) -> None:
    folder = write_folder(place.inbox, "P01", "1", seed=1)
    (folder / "session.yaml").unlink()
    place.look(hours=365 * 24)
    right = place.look(hours=-364 * 24)
    assert row(right, "sub-P01/ses-1/a_foot.csv")["state"] == "waiting"
    assert row(right, "sub-P01/ses-1/a_foot.csv")["waiting_h"] == 0
    later = row(place.look(PATIENCE_H + 1), "sub-P01/ses-1/a_foot.csv")
    assert (later["state"], later["needs_person"]) == ("quarantined", True)
