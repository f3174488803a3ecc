"""Sessions gathered from a results folder: rejected ones are listed, and labels cannot break the page."""

from __future__ import annotations

import json
from pathlib import Path

import pyarrow as pa
import pytest
from pyarrow import dataset

from firstrocker import tables
from firstrocker.files import read_table, write_table
from firstrocker.settings import Settings
from firstrocker.steps.cohort import make_cohort

SCHEMAS = {"strides": tables.STRIDES, "summary": tables.SUMMARY, "comparison": tables.COMPARISON}
MADE = {
    "sessions": tables.SESSIONS,
    "effects": tables.EFFECTS,
    "people": tables.PEOPLE,
    "reliability": tables.RELIABILITY,
    "curves": tables.COHORT_CURVES,
    "spm": tables.SPM,
}


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
    base = {"subject": subject, "session": "1", "side": "left", "measure": "slap_rate_deg_s", "unit": "deg/s", "n": 9}
    walks = [
        base | {"walk": "a", "condition": "unbraced", "mean": 100.0},
        base | {"walk": "b", "condition": "braced", "mean": 100.0 + (difference or 0.0)},
    ]
    pair = {"reference": "unbraced", "other": "braced", "difference": difference, "verdict": "lower"}
    rows = {"summary": walks, "comparison": [base | pair]}
    for name, schema in (SCHEMAS | {"curves": tables.CURVES}).items():
        content = rows.get(name, []) if difference is not None else []
        kept = [{key: value for key, value in row.items() if key in schema.names} for row in content]
        write_table(folder / f"{name}.parquet", pa.Table.from_pylist(kept, schema=schema))


def test_a_cohort_is_the_sessions_of_the_study(tmp_path: Path) -> None:
    study, results = tmp_path / "study", tmp_path / "results"
    given = {"P1": -40.0, "P2": -60.0, "P3": -50.0, "P4": None}
    for subject, difference in given.items():
        (study / f"sub-{subject}" / "ses-1").mkdir(parents=True)
        status = "rejected" if difference is None else "ok"
        write_results(results / f"sub-{subject}" / "ses-1", subject, status, difference)
    write_results(results / "sub-gone" / "ses-1", "gone", "ok", 1000.0)
    make_cohort(study, results, settings=Settings())
    cohort = {name: read_table(results / "cohort" / f"{name}.parquet") for name in SCHEMAS | MADE}
    assert cohort["sessions"]["status"].to_pylist() == ["ok", "ok", "ok", "rejected"]
    assert cohort["sessions"]["steady"].to_pylist() == [7, 7, 7, 0]
    assert cohort["sessions"]["first_finding"].to_pylist()[-1] == "No <log>. Find it."
    assert cohort["comparison"].num_rows == 3
    assert cohort["effects"].num_rows == 1
    assert cohort["effects"]["difference"].to_pylist() == pytest.approx([-50.0])
    page = (results / "cohort" / "report.html").read_text(encoding="utf-8")
    assert "No &lt;log&gt;. Find it." in page
    assert "Slap rate is 50\u00b0/s lower braced than unbraced on average over 3 people" in page
    assert "not a medical device" in page


def test_an_empty_cohort_is_a_page_too(tmp_path: Path) -> None:
    study, results = tmp_path / "study", tmp_path / "results"
    (study / "sub-P4" / "ses-1").mkdir(parents=True)
    write_results(results / "sub-P4" / "ses-1", "P4", "rejected", None)
    make_cohort(study, results, settings=Settings())
    for name, schema in (SCHEMAS | MADE).items():
        table = read_table(results / "cohort" / f"{name}.parquet")
        assert table.num_rows == (name == "sessions")
        assert table.schema.equals(schema, check_metadata=True)
    assert "strides or more that count" in (results / "cohort" / "report.html").read_text(encoding="utf-8")


def test_tables_open_in_every_reader(tmp_path: Path) -> None:
    # R's arrow reads the same files by the same library as pyarrow.dataset; R itself is not run here.
    duckdb, pandas, polars = (pytest.importorskip(name) for name in ("duckdb", "pandas", "polars"))
    study, results = tmp_path / "study", tmp_path / "results"
    for subject, difference in {"P1": -40.0, "P2": -60.0, "P3": -50.0}.items():
        (study / f"sub-{subject}" / "ses-1").mkdir(parents=True)
        write_results(results / f"sub-{subject}" / "ses-1", subject, "ok", difference)
    make_cohort(study, results, settings=Settings())
    for name in SCHEMAS | MADE:
        path = results / "cohort" / f"{name}.parquet"
        expected = read_table(path)
        columns, rows = expected.column_names, expected.to_pylist()
        assert dataset.dataset(path).to_table().to_pylist() == rows
        assert list(pandas.read_parquet(path).columns) == columns
        assert len(pandas.read_parquet(path)) == len(rows)
        assert polars.read_parquet(path).to_dicts() == rows
        found = duckdb.read_parquet(str(path))
        assert found.columns == columns
        assert found.fetchall() == [tuple(row.values()) for row in rows]
