"""Sessions are told by folders' names, and a session's inputs are all that lies in its folder."""

from __future__ import annotations

from pathlib import Path

from firstrocker.layout import SessionName, find_sessions, holds_a_session, session_files, session_name


def touch(path: Path, text: str = "") -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text)
    return path


def test_sessions_are_found_by_their_folders(tmp_path: Path) -> None:
    touch(tmp_path / "sub-P02" / "ses-1" / "session.yaml")
    (tmp_path / "sub-P01" / "ses-2").mkdir(parents=True)
    (tmp_path / "sub-P01" / "ses-1").mkdir(parents=True)
    touch(tmp_path / "notes.txt")
    touch(tmp_path / "sub-P01" / "ses-3")
    (tmp_path / "other" / "ses-1").mkdir(parents=True)
    sessions, strays = find_sessions(tmp_path)
    assert sessions == [SessionName("P01", "1"), SessionName("P01", "2"), SessionName("P02", "1")]
    assert strays == []


def test_a_folder_with_a_bad_label_is_told_and_not_looked_at(tmp_path: Path) -> None:
    for name in ("sub-P 1/ses-1", "sub-P1/ses-{x}", "sub-/ses-1", "sub-P1/ses-1"):
        (tmp_path / name).mkdir(parents=True)
    sessions, strays = find_sessions(tmp_path)
    assert sessions == [SessionName("P1", "1")]
    assert [stray.split(":")[0] for stray in strays] == ["sub-/ses-1", "sub-P 1/ses-1", "sub-P1/ses-{x}"]
    assert all("letters and digits" in stray for stray in strays)


def test_sessions_from_one_to_another(tmp_path: Path) -> None:
    for name in ("sub-P1/ses-1", "sub-P1/ses-2", "sub-P2/ses-1", "sub-P3/ses-1", "sub-P3/ses-2"):
        (tmp_path / name).mkdir(parents=True)
    every = find_sessions(tmp_path)[0]
    for start, first in enumerate(every):
        for end, last in enumerate(every):
            assert find_sessions(tmp_path, first, last)[0] == every[start : end + 1]
    assert find_sessions(tmp_path, last=every[0])[0] == every[:1]
    assert find_sessions(tmp_path, first=every[-1])[0] == every[-1:]


def test_whether_there_is_a_session_at_all(tmp_path: Path) -> None:
    assert not holds_a_session(tmp_path)
    touch(tmp_path / "sub-P01" / "ses-1")
    (tmp_path / "sub-P01" / "ses-{x}").mkdir()
    assert not holds_a_session(tmp_path)
    (tmp_path / "sub-P01" / "ses-2").mkdir()
    assert holds_a_session(tmp_path)


def test_name_and_folder_go_both_ways() -> None:
    name = SessionName("P01", "20260302")
    assert session_name(Path("somewhere") / name.folder) == name


def test_inputs_are_all_files_and_the_profiles_named(tmp_path: Path) -> None:
    session, loggers = tmp_path / "sub-P01" / "ses-1", tmp_path / "loggers"
    file = touch(session / "session.yaml", "walks: [{logs: [{logger: bench_a}]}]")
    log = touch(session / "b" / "foot.csv")
    touch(session / ".hidden")
    touch(session / ".git" / "config")
    named = touch(loggers / "bench_a.yaml")
    touch(loggers / "other.yaml")
    assert session_files(session) == [log, file]
    assert session_files(session, (loggers,)) == [log, file, named]


def test_a_session_without_its_file_still_has_inputs(tmp_path: Path) -> None:
    session, loggers = tmp_path / "sub-P01" / "ses-1", tmp_path / "loggers"
    log = touch(session / "foot.csv")
    touch(loggers / "bench_a.yaml")
    assert session_files(session, (loggers,)) == [log]
