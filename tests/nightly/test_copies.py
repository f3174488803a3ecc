"""The same bytes twice in an inbox: of one person a copy, of two a hazard."""

from __future__ import annotations

from nightly.inboxes import Place, log_text, row, write, write_folder


def test_one_person_s_log_in_another_s_folder_is_taken_for_neither(place: Place) -> None:
    write_folder(place.inbox, "P01", "1", seed=1)
    wrong = write_folder(place.inbox, "P02", "1", seed=5)
    write(wrong / "a_foot.csv", log_text(1))
    night = place.look(24)
    assert set(place.states(night).values()) == {"quarantined"}
    assert row(night, "sub-P02/ses-1/a_foot.csv")["copy_of"] == "sub-P01/ses-1/a_foot.csv"
    assert "wrong person's folder" in row(night, "sub-P01/ses-1/a_foot.csv")["reason"]
    assert place.files() == {}
    write(wrong / "a_foot.csv", log_text(5))
    assert len(place.look(24).taken) == 2


def test_a_copy_of_what_another_was_measured_by_is_set_aside(place: Place) -> None:
    write_folder(place.inbox, "P01", "1", seed=1)
    place.look(24)
    wrong = write_folder(place.inbox, "P02", "1", seed=5)
    write(wrong / "a_foot.csv", log_text(1))
    night = place.look(24)
    assert night.taken == ()
    assert row(night, "sub-P01/ses-1/a_foot.csv")["state"] == "taken"
    assert row(night, "sub-P02/ses-1/a_foot.csv")["copy_of"] == "sub-P01/ses-1/a_foot.csv"


def test_a_session_under_a_second_label_is_a_copy(place: Place) -> None:
    first = write_folder(place.inbox, "P01", "1", seed=1)
    place.look(24)
    write_folder(place.inbox, "P01", "2", seed=1)
    night = place.look(24)
    assert {one["state"] for one in night.rows if one["session"] == "2"} == {"duplicate"}
    assert not any(one["needs_person"] for one in night.rows)
    for path in first.iterdir():
        path.unlink()
    first.rmdir()
    renamed = place.look(24)
    assert sum(one["needs_person"] for one in renamed.rows) == 1
    assert "delete sub-P01/ses-1 in the study" in row(renamed, "sub-P01/ses-2/session.yaml")["remedy"]


def test_a_session_with_one_log_of_another_day_is_set_aside(place: Place) -> None:
    write_folder(place.inbox, "P01", "1", seed=1)
    place.look(24)
    write(write_folder(place.inbox, "P01", "2", seed=5) / "a_foot.csv", log_text(1))
    night = place.look(24)
    assert night.taken == ()
    assert "same recording as sub-P01/ses-1/a_foot.csv" in row(night, "sub-P01/ses-2/a_foot.csv")["reason"]
