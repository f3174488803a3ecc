"""What a session was made from: every change that matters is seen, and nothing half made passes for whole."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from firstrocker.layout import STRIDES_FILES, STUDY_FILES, SessionName
from firstrocker.settings import Settings, load_settings
from firstrocker.stamps import Stamp, made_stamp, recipe_of, stamp_file, steps_to_make, wanted_stamp, write_stamp

NAME = SessionName("P01", "1")


@pytest.fixture
def session(tmp_path: Path) -> Path:
    folder = tmp_path / "study" / NAME.folder
    folder.mkdir(parents=True)
    (tmp_path / "loggers").mkdir()
    (folder / "session.yaml").write_text("logger: bench_a\n")
    (folder / "a_foot.csv").write_text("t\n")
    return folder


def wanted(session: Path, settings: Settings | None = None) -> Stamp:
    return wanted_stamp(session, session.parents[2] / "loggers", recipe_of(settings or Settings()))


def test_what_a_session_is_made_from_is_seen(session: Path) -> None:
    seen = [wanted(session)]
    assert wanted(session) == seen[0]
    os.utime(session / "a_foot.csv", ns=(1, 1))
    seen.append(wanted(session))
    (session / "a_foot.csv").write_text("t\n1\n")
    os.utime(session / "a_foot.csv", ns=(1, 1))
    seen.append(wanted(session))
    (session / "b_foot.csv").write_text("t\n")
    seen.append(wanted(session))
    (session / "b_foot.csv").rename(session / "c_foot.csv")
    seen.append(wanted(session))
    (session.parents[2] / "loggers" / "bench_a.yaml").write_text("{}\n")
    seen.append(wanted(session))
    assert len({stamp.strides for stamp in seen}) == len(seen)
    assert len({stamp.study for stamp in seen}) == len(seen)
    (session.parents[2] / "loggers" / "nobody.yaml").write_text("{}\n")
    (session / ".hidden").write_text("")
    assert wanted(session) == seen[-1]


@pytest.mark.parametrize(
    ("change", "steps"),
    [
        ({"study": {"confidence": 0.9}}, ("study",)),
        ({"gait": {"turn_deg": 25}}, ("strides", "study")),
        ({"study": {"confidence": 0.95}}, ()),
    ],
)
def test_a_setting_remakes_what_uses_it(session: Path, change: dict[str, object], steps: tuple[str, ...]) -> None:
    assert steps_to_make(wanted(session, load_settings(change, where="")), wanted(session)) == steps


def test_a_study_elsewhere_has_the_same_stamp(session: Path) -> None:
    before = wanted(session)
    elsewhere = session.parents[2] / "elsewhere"
    session.parents[1].rename(elsewhere)
    (elsewhere / "x").mkdir()
    moved = elsewhere / NAME.folder
    assert wanted_stamp(moved, session.parents[2] / "loggers", recipe_of(Settings())) == before


def test_a_result_that_is_gone_was_not_made(tmp_path: Path) -> None:
    results, stamp = tmp_path / "results", Stamp("a", "b")
    folder = results / NAME.folder
    folder.mkdir(parents=True)
    assert made_stamp(results, NAME) == Stamp()
    write_stamp(results, NAME, stamp)
    assert made_stamp(results, NAME) == Stamp()
    for name in STRIDES_FILES:
        (folder / name).write_text("")
    assert made_stamp(results, NAME) == Stamp("a")
    for name in STUDY_FILES:
        (folder / name).write_text("")
    assert made_stamp(results, NAME) == stamp
    (folder / "curves.parquet").unlink()
    assert made_stamp(results, NAME) == Stamp()
    assert steps_to_make(stamp, Stamp()) == ("strides", "study")


@pytest.mark.parametrize("text", ["", "{", "[]", "null", '{"strides": "a"}', "\x00\x01"])
def test_a_damaged_stamp_is_none(tmp_path: Path, text: str) -> None:
    folder = tmp_path / NAME.folder
    folder.mkdir(parents=True)
    for name in (*STRIDES_FILES, *STUDY_FILES):
        (folder / name).write_text("")
    write_stamp(tmp_path, NAME, Stamp("a", "b"))
    stamp_file(tmp_path, NAME).write_text(text)
    assert made_stamp(tmp_path, NAME) == Stamp()
    write_stamp(tmp_path, NAME, Stamp())
    assert not stamp_file(tmp_path, NAME).exists()
