"""Sessions that are taken out of a study: no page over sessions outlives them, and what stays of them is told."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import pytest

from firstrocker import tables
from firstrocker.closing import closing_lines
from firstrocker.files import write_table
from firstrocker.inbox.morning import morning
from firstrocker.layout import COURSE
from firstrocker.settings import Settings
from firstrocker.steps.course import make_courses
from firstrocker.steps.people_days import forget_others


@pytest.fixture
def place(tmp_path: Path) -> Path:
    """Two people of two sessions each, with results that hold nothing but their status."""
    for person in ("P01", "P02"):
        for session in ("1", "2"):
            (tmp_path / f"study/sub-{person}/ses-{session}").mkdir(parents=True)
            results = tmp_path / f"results/sub-{person}/ses-{session}"
            results.mkdir(parents=True)
            record: dict[str, Any] = {"affected_side": "left", "status": "ok", "findings": []}
            (results / "quality.json").write_text(json.dumps(record))
            write_table(results / "summary.parquet", tables.SUMMARY.empty_table())
    return tmp_path


def courses(place: Path) -> list[str]:
    make_courses(place / "study", place / "results", settings=Settings())
    return sorted(path.parent.name for path in (place / "results").rglob(COURSE))


@pytest.mark.parametrize("withdrawn", ["sub-P01", "sub-P01/ses-2"])
def test_no_page_over_sessions_outlives_them(place: Path, withdrawn: str) -> None:
    assert courses(place) == ["sub-P01", "sub-P02"]
    shutil.rmtree(place / "study" / withdrawn)
    assert courses(place) == ["sub-P02"]


def test_results_of_a_session_that_is_gone_are_told_and_kept(place: Path) -> None:
    study, results = place / "study", place / "results"
    assert closing_lines(study, results) == []
    shutil.rmtree(study / "sub-P01/ses-2")
    (line,) = closing_lines(study, results)
    assert line.startswith("sub-P01/ses-2: No longer in the study")
    assert "Delete results/sub-P01/ses-2" in line
    told = morning(study, results, remind_days=7)
    assert [item.where for item in told.to_do] == ["sub-P01/ses-2"]
    assert not list((results / "nightly").rglob("*.why.txt"))
    assert (results / "sub-P01/ses-2/quality.json").is_file()
    shutil.rmtree(results / "sub-P01/ses-2")
    assert closing_lines(study, results) == []
    assert morning(study, results, remind_days=7).to_do == ()


def test_days_kept_of_who_is_gone_are_forgotten(tmp_path: Path) -> None:
    kept = tmp_path / ".made/days"
    for person in ("P01", "P02"):
        write_table(kept / f"sub-{person}.parquet", tables.SUMMARY.empty_table())
    forget_others(tmp_path, {"P02": []})
    assert [path.name for path in kept.iterdir()] == ["sub-P02.parquet"]
