"""The page over one person's sessions: what was followed, escaped, with its caveat and links."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from firstrocker.files import write_table
from firstrocker.report.course import SessionLink, course_sentences, course_tables, render_course
from firstrocker.settings import Settings
from firstrocker.steps.course import make_course
from firstrocker.study.course import CoursePoint, course
from firstrocker.study.summary import summarise
from study.made import MadeWalk, stride_table


def rows(slap: float, speed: float, setting: str | None = "medium") -> list[dict[str, Any]]:
    base = {"side": "left", "condition": "braced", "setting": setting, "resistance": 60.0, "walk": "b", "n": 20}
    measured = (("slap_rate_deg_s", slap, 3.0), ("walking_speed_m_s", speed, 0.01))
    return [base | {"measure": name, "mean": mean, "se": se} for name, mean, se in measured]


def points(*sessions: list[dict[str, Any]]) -> list[CoursePoint]:
    named = [(str(place + 1), "left", one) for place, one in enumerate(sessions)]
    return course(named, confidence=0.95, min_strides=5)


def page(*sessions: list[dict[str, Any]], sides: tuple[str, ...] = ("left", "left")) -> str:
    links = [SessionLink(str(place + 1), side, "ok") for place, side in enumerate(sides)]
    return render_course("P01", links, points(*sessions), confidence=0.95)


def test_what_differs_is_told_one_by_one_and_the_rest_together() -> None:
    sentences = course_sentences(points(rows(300, 1.0), rows(250, 1.05)))
    assert sentences == [
        "Slap rate, braced medium 60: differs by more than the walks explain, session 2 against the first "
        "(\u221250\u00b0/s, interval \u221258 to \u221242\u00b0/s).",
        "No clear change: walking speed (braced medium 60).",
    ]


def test_tables_hold_what_was_walked_twice() -> None:
    once = points(rows(300, 1.0), rows(250, 1.05, setting="other"))
    assert course_tables(once) == []
    slap, speed = course_tables(points(rows(300, 1.0), rows(250, 1.3)))
    assert (slap.measure, speed.measure) == ("Slap rate", "Walking speed")
    assert [row.session for row in slap.rows] == ["1", "2"]
    assert slap.rows[1].real_change.endswith("+")
    assert not speed.rows[1].real_change.endswith("+")
    assert speed.rows[1].verdict == "clear change"


def test_the_page_says_what_its_numbers_do_not_hold() -> None:
    html = page(rows(300, 1.0), rows(250, 1.05))
    assert "sensors were put on anew" in html
    assert 'href="ses-1/report.html"' in html
    assert "not a medical device" in html
    assert "<script" not in html
    assert "not the same in all sessions" not in html
    assert "not the same in all sessions" in page(rows(300, 1.0), rows(250, 1.05), sides=("left", "right"))


def test_nothing_to_follow_is_said() -> None:
    assert "nothing can be followed" in page(rows(300, 1.0), rows(250, 1.05, setting="other"))


def test_labels_cannot_break_the_page() -> None:
    html = page(rows(300, 1.0, setting="<b>"), rows(200, 1.0, setting="<b>"))
    assert "<b>" not in html
    assert "&lt;b&gt;" in html


@pytest.mark.parametrize("rejected", [False, True])
def test_the_step_reads_every_session(tmp_path: Path, rejected: bool) -> None:
    for session, slap in (("1", 300.0), ("2", 200.0)):
        folder = tmp_path / "sub-P01" / f"ses-{session}"
        out = rejected and session == "2"
        walk = MadeWalk("a", (6, 6), {"slap_rate_deg_s": [slap + (k % 5) for k in range(12)]}, "unbraced")
        write_table(folder / "summary.parquet", summarise(stride_table([] if out else [walk])))
        quality = {"affected_side": None if out else "left", "status": "rejected" if out else "ok"}
        (folder / "quality.json").write_text(json.dumps(quality))
    make_course(tmp_path / "sub-P01", ["1", "2"], settings=Settings())
    html = (tmp_path / "sub-P01" / "course.html").read_text(encoding="utf-8")
    assert ("Slap rate, unbraced: differs by more than the walks explain" in html) == (not rejected)
    assert ("(rejected)" in html) == rejected
