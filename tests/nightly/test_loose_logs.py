"""Loose logs of a person become the session of their day, as the standing description says."""

from __future__ import annotations

from pathlib import Path

import pytest
import yaml

from firstrocker.inbox.home import load_home
from firstrocker.signals.session import SessionFileError, load_session
from nightly.inboxes import HOME, Place, held, log_text, row, write, write_folder


def home(place: Place, text: str = HOME, *, name: str = "home.yaml", subject: str = "P01") -> Path:
    return write(place.inbox / f"sub-{subject}" / name, text.format(subject=subject))


def day(place: Place, date: str, *walks: str, seed: int, subject: str = "P01") -> None:
    for number, walk in enumerate(walks):
        for segment, extra in (("foot", 0), ("shank", 1)):
            name = f"{date}_{segment}_{walk}.csv"
            write(place.inbox / f"sub-{subject}" / name, log_text(seed + 2 * number + extra))


def test_a_day_s_logs_become_the_session_of_that_date(place: Place) -> None:
    home(place)
    day(place, "20260302", "m", "e", seed=1)
    day(place, "2026-03-03", "m", seed=11)
    before = held(place.inbox)
    night = place.look(24)
    assert set(place.states(night).values()) == {"taken"}
    assert [name.session for name in night.taken] == ["20260302", "20260303"]
    session = load_session(place.study / "sub-P01" / "ses-20260302")
    assert [walk.walk for walk in session.walks] == ["e", "m"]
    assert {walk.setting.label for walk in session.walks if walk.setting} == {"soft"}
    files = {log.file for walk in session.walks for log in walk.logs}
    assert files == {f"20260302_{segment}_{walk}.csv" for segment in ("foot", "shank") for walk in "me"}
    taken = place.files()
    assert all(taken[f"sub-P01/ses-20260302/{file}"] == before[f"sub-P01/{file}"] for file in files)
    assert held(place.inbox) == before
    assert place.look(24).taken == ()


def test_a_walk_waits_for_its_partner_and_the_day_goes_on(place: Place) -> None:
    home(place)
    day(place, "20260302", "m", "e", seed=1)
    (place.inbox / "sub-P01" / "20260302_shank_e.csv").unlink()
    place.look(0)
    night = place.look(24)
    assert [name.session for name in night.taken] == ["20260302"]
    assert [walk.walk for walk in load_session(place.study / "sub-P01/ses-20260302").walks] == ["m"]
    alone = row(night, "sub-P01/20260302_foot_e.csv")
    assert (alone["state"], alone["reason"]) == ("waiting", "It waits for the log of the left shank.")
    late = place.look(100)
    assert "without the log of the left shank" in row(late, "sub-P01/20260302_foot_e.csv")["reason"]
    assert len(load_session(place.study / "sub-P01/ses-20260302").walks) == 2
    write(place.inbox / "sub-P01" / "20260302_shank_e.csv", log_text(4))
    assert len(place.look(24).taken) == 1
    walks = load_session(place.study / "sub-P01/ses-20260302").walks
    assert [len(walk.logs) for walk in walks] == [2, 2]
    assert not any(one["needs_person"] for one in place.look(24).rows)


def test_without_a_foot_log_nothing_is_taken(place: Place) -> None:
    home(place)
    day(place, "20260302", "m", seed=1)
    (place.inbox / "sub-P01" / "20260302_foot_m.csv").unlink()
    place.look(0)
    place.look(24)
    told = row(place.look(100), "sub-P01/20260302_shank_m.csv")
    assert (told["state"], told["needs_person"]) == ("quarantined", True)
    assert place.files() == {}


def test_a_grown_log_makes_its_day_new_and_waits_while_it_grows(place: Place) -> None:
    home(place)
    day(place, "20260302", "m", seed=1)
    day(place, "20260303", "m", seed=5)
    place.look(24)
    before = place.files()
    write(place.inbox / "sub-P01/20260302_foot_m.csv", log_text(1, rows=90)[:-12])
    place.look(0)
    night = place.look(24)
    assert row(night, "sub-P01/20260302_foot_m.csv")["state"] == "waiting"
    assert place.files() == before
    write(place.inbox / "sub-P01/20260302_foot_m.csv", log_text(1, rows=90))
    assert [name.session for name in place.look(24).taken] == ["20260302"]
    assert place.files() == before | {"sub-P01/ses-20260302/20260302_foot_m.csv": log_text(1, rows=90).encode()}


def test_logs_wait_for_the_description_and_are_asked_about_in_the_end(place: Place) -> None:
    day(place, "20260302", "m", seed=1)
    place.look(0)
    assert set(place.states(place.look(24)).values()) == {"waiting"}
    late = place.look(100)
    assert set(place.states(late).values()) == {"quarantined"}
    home(place)
    assert len(place.look(24).taken) == 1


def test_a_mended_measure_remakes_every_day_even_of_a_cleared_inbox(place: Place) -> None:
    home(place)
    day(place, "20260302", "m", seed=1)
    day(place, "20260303", "m", seed=5)
    place.look(24)
    (place.inbox / "sub-P01/20260302_foot_m.csv").unlink()
    (place.inbox / "sub-P01/20260302_shank_m.csv").unlink()
    home(place, HOME + "shoe: {{outsole_mm: 285}}\n")
    assert len(place.look(24).taken) == 2
    for label in ("20260302", "20260303"):
        shoe = load_session(place.study / f"sub-P01/ses-{label}").shoe
        assert shoe is not None
        assert shoe.outsole_mm == 285


def test_another_brace_from_a_day_on_leaves_the_days_before(place: Place) -> None:
    home(place)
    home(place, HOME.replace("soft, resistance: 50", "firm, resistance: 70"), name="home-20260303.yaml")
    day(place, "20260302", "m", seed=1)
    day(place, "20260303", "m", seed=5)
    place.look(24)
    labels = [load_session(place.study / f"sub-P01/ses-{label}").walks[0].setting for label in ("20260302", "20260303")]
    assert [setting.label for setting in labels if setting] == ["soft", "firm"]


def test_a_wrong_description_holds_the_person_s_logs_back_and_no_one_else_s(place: Place) -> None:
    home(place, HOME.replace("affected_side: left", "affected_side: lft"))
    day(place, "20260302", "m", seed=1)
    home(place, subject="P02")
    day(place, "20260302", "m", seed=11, subject="P02")
    night = place.look(24)
    assert [name.subject for name in night.taken] == ["P02"]
    told = row(night, "sub-P01/home.yaml")
    assert (told["state"], told["needs_person"]) == ("quarantined", True)
    assert "affected_side" in told["reason"]
    assert row(night, "sub-P01/20260302_foot_m.csv")["state"] == "waiting"


@pytest.mark.parametrize("name", ["20260332_foot_m.csv", "foot_m.csv", "20260302_foot_m (1).csv"])
def test_a_name_that_says_nothing_is_asked_about(place: Place, name: str) -> None:
    home(place)
    write(place.inbox / "sub-P01" / name, log_text(1))
    told = row(place.look(24), f"sub-P01/{name}")
    assert (told["state"], told["needs_person"]) == ("quarantined", True)
    assert "home.yaml" in told["reason"]


def test_the_same_bytes_under_another_name_count_once(place: Place) -> None:
    home(place, HOME.replace("_{{walk}}.csv", "_{{walk}}*.csv"))
    day(place, "20260302", "m", seed=1)
    write(place.inbox / "sub-P01" / "20260302_foot_m (1).csv", log_text(1))
    night = place.look(24)
    states = place.states(night)
    assert sorted(states[f"sub-P01/20260302_foot_m{end}.csv"] for end in ("", " (1)")) == ["duplicate", "taken"]
    assert len(load_session(place.study / "sub-P01/ses-20260302").walks[0].logs) == 2
    assert place.states(place.look(24)) == states


def test_two_different_logs_of_one_place_are_asked_about(place: Place) -> None:
    home(place, HOME.replace("_{{walk}}.csv", "_{{walk}}*.csv"))
    day(place, "20260302", "m", seed=1)
    write(place.inbox / "sub-P01" / "20260302_foot_m-2.csv", log_text(9))
    night = place.look(24)
    assert night.taken == ()
    told = row(night, "sub-P01/20260302_foot_m-2.csv")
    assert told["state"] == "quarantined"
    assert "Two different logs of the left foot" in told["reason"]


def test_a_log_of_another_person_is_set_aside_and_the_rest_waits(place: Place) -> None:
    home(place)
    day(place, "20260302", "m", seed=1)
    place.look(24)
    home(place, subject="P02")
    day(place, "20260302", "m", seed=11, subject="P02")
    write(place.inbox / "sub-P02/20260302_foot_m.csv", log_text(1))
    night = place.look(24)
    assert night.taken == ()
    assert row(night, "sub-P02/20260302_foot_m.csv")["copy_of"] == "sub-P01/ses-20260302/20260302_foot_m.csv"
    assert row(night, "sub-P02/20260302_shank_m.csv")["state"] == "waiting"


def test_a_folder_of_the_same_day_and_loose_logs_are_not_mixed(place: Place) -> None:
    home(place)
    write_folder(place.inbox, "P01", "20260302", seed=31)
    day(place, "20260302", "m", seed=1)
    night = place.look(24)
    assert len(night.taken) == 1
    assert row(night, "sub-P01/20260302_foot_m.csv")["state"] == "quarantined"
    assert row(night, "sub-P01/ses-20260302/a_foot.csv")["state"] == "taken"


def test_braced_and_unbraced_walks_of_a_day_are_told_apart(place: Place) -> None:
    line = "  - {{file: '{{date}}_WORN.csv', segment: foot, side: left, logger: dock, condition: WORN}}\n"
    lines = "".join(line.replace("WORN", worn) for worn in ("braced", "unbraced"))
    home(place, HOME.partition("condition:")[0] + "logs:\n" + lines)
    write(place.inbox / "sub-P01/20260302_braced.csv", log_text(1))
    write(place.inbox / "sub-P01/20260302_unbraced.csv", log_text(2))
    place.look(24)
    walks = load_session(place.study / "sub-P01/ses-20260302").walks
    assert [(walk.walk, walk.condition) for walk in walks] == [("braced", "braced"), ("unbraced", "unbraced")]


LINE = '  - {{file: "{{date}}_foot_{{walk}}.csv", segment: foot, side: left, logger: dock}}\n'


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("{{date}}_foot_{{walk}}.csv", "foot_{{walk}}.csv", "does not tell the day"),
        ("{{date}}_foot_{{walk}}.csv", "{{date}}_foot.csv", "Some patterns hold {walk}"),
        ("{{date}}_foot_{{walk}}.csv", "{{date}}_{{wlk}}.csv", "is no pattern"),
        ("condition: braced\n", "", "what was worn"),
        ("condition: braced\n", "condition: unbraced\n", "without a brace"),
        ("subject: {subject}", "subject: P09", "Make them agree"),
        ("logs:\n", "walks:\n", "There is no key 'walks' here"),
    ],
)
def test_a_mistake_in_a_description_is_told(tmp_path: Path, old: str, new: str, words: str) -> None:
    assert old in HOME
    path = write(tmp_path / "home.yaml", HOME.replace(old, new).format(subject="P01"))
    with pytest.raises(SessionFileError) as caught:
        load_home(path, subject="P01", where="sub-P01/home.yaml")
    assert words in str(caught.value)


@pytest.mark.parametrize("word", ["08", "1e5", "0815", "no", "10"])
def test_any_word_of_a_name_stays_text_in_the_session_file(place: Place, word: str) -> None:
    home(place)
    day(place, "20260302", word, seed=1)
    place.look(24)
    folder = place.study / "sub-P01/ses-20260302"
    assert [walk.walk for walk in load_session(folder).walks] == [word]
    assert yaml.safe_load((folder / "session.yaml").read_text())["walks"][0]["walk"] == word
