"""session.yaml: what is read, and that every mistake is told with its place and a remedy."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest

from firstrocker.errors import SessionError
from firstrocker.signals.session import SessionFileError, load_session
from signals.made import session_content, write_session


def problems(study: Path, content: dict[str, Any] | str) -> dict[str, str]:
    """Key -> what and remedy of every problem told."""
    with pytest.raises(SessionError) as caught:
        load_session(write_session(study, content))
    assert isinstance(caught.value, SessionFileError)
    told: dict[str, str] = {}
    for problem in caught.value.problems:
        told[problem.key] = f"{told.get(problem.key, '')} {problem.what} {problem.remedy}"
    return told


def test_everything_a_session_may_hold_is_read(tmp_path: Path) -> None:
    session = load_session(write_session(tmp_path, session_content()))
    assert (session.subject, session.session, session.affected_side) == ("P01", "20260302", "left")
    assert session.foot_sensor is not None
    assert session.foot_sensor.to_toe_mm == 145
    assert session.walks[1].setting is not None
    assert (session.walks[1].setting.label, session.walks[1].setting.unit) == ("soft", "Shore A")
    assert [log.segment for log in session.walks[0].logs] == ["foot", "shank"]


def test_labels_of_digits_need_no_quotes_and_keep_their_zeros(tmp_path: Path) -> None:
    text = """
        {subject: P01, session: 20260302, affected_side: left,
         walks: [{walk: 007, condition: unbraced, logs: [{segment: foot, side: left, file: f.csv, logger: x}]},
                 {walk: 1, condition: unbraced, logs: [{segment: foot, side: left, file: g.csv, logger: x}]}]}"""
    session = load_session(write_session(tmp_path, text))
    assert session.session == "20260302"
    assert [walk.walk for walk in session.walks] == ["007", "1"]


def test_all_mistakes_are_told_at_once(tmp_path: Path) -> None:
    content = session_content()
    content["subject"] = "P02"
    content["afected_side"] = content.pop("affected_side")
    content["shoe"] = {"size": 42}
    content["walks"][0]["logs"][0]["side"] = "lft"
    content["walks"][1]["walk"] = "a"
    content["walks"][1]["logs"][0]["file"] = "../elsewhere.csv"
    told = problems(tmp_path, content)
    assert "Did you mean 'affected_side'?" in told["afected_side"]
    assert "'affected_side' is missing" in told["affected_side"]
    assert "size" in told["shoe"]
    assert "system" in told["shoe"]
    assert "Write 'left' or 'right'" in told["walks[1].logs[1].side"]
    assert "out of the session's folder" in told["walks[2].logs[1].file"]
    assert "listed 2 times" in told["walks"]
    assert "its folder is called 'sub-P01'" in told["subject"]


def test_the_error_reads_as_numbered_lines_with_the_files_place(tmp_path: Path) -> None:
    content = session_content() | {"subject": "P02", "session": "x"}
    with pytest.raises(SessionError) as caught:
        load_session(write_session(tmp_path, content))
    text = str(caught.value)
    assert text.startswith("sub-P01/ses-20260302/session.yaml: 2 things are to be mended.")
    assert re.search(r"\n  1\. subject: .*\n  2\. session: ", text)
    assert str(tmp_path) not in text


def changed(path: str, value: Any) -> dict[str, Any]:
    """The good session with one value changed or added."""
    content = session_content()
    here: Any = content
    *way, last = [int(part) if part.isdigit() else part for part in path.split("/")]
    for part in way:
        here = here[part]
    here[last] = value
    return content


@pytest.mark.parametrize(
    ("path", "value", "key", "words"),
    [
        ("walks/0/conditon", "braced", "walks[1].conditon", "Did you mean 'condition'?"),
        ("loggers/bench/units/time", "msec", "loggers.bench.units.time", "'msec' is not one of the words"),
        ("loggers/bench/unit", {}, "loggers.bench.unit", "Did you mean 'units'?"),
        ("loggers/bench/axes", {"forward": "+x", "left": "+y"}, "loggers.bench.axes.up", "missing"),
        ("foot_sensor/to_toe_mm", "145 mm", "foot_sensor.to_toe_mm", "is not a number"),
        ("foot_sensor/to_toe_mm", 14.5, "foot_sensor.to_toe_mm", "must be at least 20"),
        ("foot_sensor", 145, "foot_sensor", "keys with values"),
        ("walks", "none", "walks", "There must be a list here"),
        ("walks", [], "walks", "at least one entry"),
        ("walks/0/walk", "=1+1", "walks[1].walk", "letters and digits only"),
        ("walks/0/walk", "x" * 41, "walks[1].walk", "at most 40"),
        ("walks/1/setting/label", "<b>soft</b>", "walks[2].setting.label", "not allowed"),
        ("walks/1/setting/label", "=cmd()", "walks[2].setting.label", "not allowed"),
        ("walks/1/condition", "unbraced", "walks[2]", "cannot have a setting"),
        ("shoe", {"size": 420, "system": "EU"}, "shoe", "420 is no EU shoe size"),
        ("shoe", {}, "shoe", "neither a length nor a size"),
        ("walks/0/logs/0/file", "/etc/passwd", "walks[1].logs[1].file", "absolute path"),
        ("walks/0/logs/0/file", "C:\\logs\\a.csv", "walks[1].logs[1].file", "absolute path"),
        ("walks/0/logs/0/file", "x/../../y.csv", "walks[1].logs[1].file", "out of the session's folder"),
        ("walks/0/logs/0/file", "a\nb.csv", "walks[1].logs[1].file", "no file name"),
        ("walks/0/logs/0/logger", "../bench", "walks[1].logs[1].logger", "not allowed"),
        ("walks/0/logs/0/segment", "shank", "walks[1].logs", "2 logs of the left shank"),
        ("walks/1/logs/0/segment", "shank", "walks[2].logs", "has no foot log"),
        ("walks/1/logs/0/file", "./a_foot.csv", "walks[2].logs[1].file", "already given at walks[1].logs[1]"),
        ("standing/shank_to_vertical_deg", 120, "standing.shank_to_vertical_deg", "at most 45"),
    ],
)
def test_a_mistake_is_told_at_its_key_in_plain_words(
    tmp_path: Path, path: str, value: Any, key: str, words: str
) -> None:
    told = problems(tmp_path, changed(path, value))
    assert key in told
    assert words in told[key]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "The file is empty"),
        ("- a\n- b\n", "does not hold keys"),
        ("subject: [P01\n", "not valid YAML"),
        ("subject: P01\nsubject: P02\n", "Line 2: The key 'subject' stands there twice"),
        ("a: &x [1]\nb: *x\n", "alias"),
        ("a: " + "[" * 50 + "]" * 50, "nested too deeply"),
        ("a: " + "[" * 5000, "nested too deeply"),
        ("a: !!python/object/apply:os.system [ls]\n", "not valid YAML"),
        ("subject: P01\n" + "# " + "x" * 300_000, "larger than 256 kB"),
        ("subject: \x00\n", "not valid YAML"),
    ],
)
def test_yaml_that_cannot_be_meant_is_refused(tmp_path: Path, text: str, words: str) -> None:
    (told,) = problems(tmp_path, text).values()
    assert words in told


def test_bytes_that_are_no_text_are_refused(tmp_path: Path) -> None:
    folder = write_session(tmp_path, session_content())
    (folder / "session.yaml").write_bytes(bytes(range(128, 256)))
    with pytest.raises(SessionError, match=r"not text.*UTF-8"):
        load_session(folder)


def test_a_byte_order_mark_does_no_harm(tmp_path: Path) -> None:
    folder = write_session(tmp_path, session_content())
    whole = (folder / "session.yaml").read_text()
    for encoding in ("utf-8-sig", "utf-16"):
        (folder / "session.yaml").write_text(whole, encoding=encoding)
        assert load_session(folder).subject == "P01"


def test_a_missing_file_is_told(tmp_path: Path) -> None:
    (tmp_path / "sub-P01" / "ses-1").mkdir(parents=True)
    with pytest.raises(SessionError, match=r"sub-P01/ses-1/session.yaml: The file is missing"):
        load_session(tmp_path / "sub-P01" / "ses-1")


def test_a_link_out_of_the_folder_is_refused_and_one_inside_is_not(tmp_path: Path) -> None:
    folder = write_session(tmp_path, session_content())
    (tmp_path / "secret.csv").write_text("x")
    (folder / "a_foot.csv").symlink_to(tmp_path / "secret.csv")
    with pytest.raises(SessionError, match=r"walks\[1\]\.logs\[1\]\.file: .*link out of the session's folder"):
        load_session(folder)
    (folder / "a_foot.csv").unlink()
    (folder / "real.csv").write_text("x")
    (folder / "a_foot.csv").symlink_to(folder / "real.csv")
    assert load_session(folder).walks[0].walk == "a"


def test_the_folder_may_be_given_relative_to_where_one_is(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = write_session(tmp_path, session_content())
    monkeypatch.chdir(folder)
    assert load_session(Path()).subject == "P01"
