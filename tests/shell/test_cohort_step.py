"""Sessions gathered from a results folder: rejected ones are listed, and labels cannot break the page."""

from __future__ import annotations

import json
from pathlib import Path

import pyarrow as pa

from firstrocker import tables
from firstrocker.files import read_table, write_table
from firstrocker.settings import Settings
from firstrocker.steps.cohort import make_cohort

SCHEMAS = {"strides": tables.STRIDES, "summary": tables.SUMMARY, "comparison": tables.COMPARISON}


def write_results(folder: Path, subject: str, status: str, difference: float | None) -> None:
    finding = {"code": "x", "severity": "error", "walk": None, "message": "No <log>.", "remedy": "Find it."}
    record = {
        "status": status,
        "affected_side": None if difference is None else "left",
        "findings": [finding] if status == "rejected" else [],
        "walks": [] if difference is None else [{"sides": {"left": {"strides": 9, "steady": 7}}}],
    }
    folder.mkdir(parents=True)
    (folder / "quality.json").write_text(json.dumps(record))
    row = {"subject": subject, "session": "1", "side": "left", "measure": "slap_rate_deg_s", "unit": "deg/s"}
    row |= {"reference": "unbraced", "other": "braced"}
    for name, schema in SCHEMAS.items():
        rows = [row | {"difference": difference}] if name == "comparison" and difference is not None else []
        write_table(folder / f"{name}.parquet", pa.Table.from_pylist(rows, schema=schema))


def test_a_cohort_is_the_sessions_of_the_study(tmp_path: Path) -> None:
    study, results = tmp_path / "study", tmp_path / "results"
    given = {"P1": -40.0, "P2": -60.0, "P3": -50.0, "P4": None}
    for subject, difference in given.items():
        (study / f"sub-{subject}" / "ses-1").mkdir(parents=True)
        status = "rejected" if difference is None else "ok"
        write_results(results / f"sub-{subject}" / "ses-1", subject, status, difference)
    write_results(results / "sub-gone" / "ses-1", "gone", "ok", 1000.0)
    make_cohort(study, results, settings=Settings())
    cohort = {name: read_table(results / "cohort" / f"{name}.parquet") for name in (*SCHEMAS, "sessions", "effects")}
    assert cohort["sessions"]["status"].to_pylist() == ["ok", "ok", "ok", "rejected"]
    assert cohort["sessions"]["steady"].to_pylist() == [7, 7, 7, 0]
    assert cohort["sessions"]["first_finding"].to_pylist()[-1] == "No <log>. Find it."
    assert cohort["comparison"].num_rows == 3
    assert cohort["effects"].num_rows == 1
    assert cohort["effects"]["difference"][0].as_py() == -50.0
    page = (results / "cohort" / "report.html").read_text(encoding="utf-8")
    assert "No &lt;log&gt;. Find it." in page
    assert '<td class="number">\u221250</td>' in page
    assert "not a medical device" in page


def test_an_empty_cohort_is_a_page_too(tmp_path: Path) -> None:
    study, results = tmp_path / "study", tmp_path / "results"
    (study / "sub-P4" / "ses-1").mkdir(parents=True)
    write_results(results / "sub-P4" / "ses-1", "P4", "rejected", None)
    make_cohort(study, results, settings=Settings())
    for name, schema in {**SCHEMAS, "effects": tables.EFFECTS}.items():
        table = read_table(results / "cohort" / f"{name}.parquet")
        assert table.num_rows == 0
        assert table.schema.equals(schema, check_metadata=True)
    assert "could be compared" in (results / "cohort" / "report.html").read_text(encoding="utf-8")
