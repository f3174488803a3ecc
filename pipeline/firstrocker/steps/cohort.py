"""All sessions' tables in; the cohort's tables and report out."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, cast

import pyarrow as pa

from firstrocker import tables
from firstrocker.files import read_table, write_table, write_text
from firstrocker.layout import SessionName, find_sessions, gravest_finding
from firstrocker.model import Side
from firstrocker.report.cohort import render_cohort
from firstrocker.settings import Settings
from firstrocker.study.cohort import effects

SECTIONS = ("study",)
"""The sections of the settings that this step's results depend on."""


def make_cohort(study: Path, results: Path, *, settings: Settings) -> None:
    """Gather every session of ``study`` from ``results`` into ``results/cohort``.

    Args:
        study: the study folder; its sessions are the ones that are gathered, whatever else lies in the results.
        results: the results folder; every session's tables and quality.json are read.
        settings: the section study is used.
    """
    names = find_sessions(study)[0]
    quality = {name: read_quality(results / name.folder / "quality.json") for name in names}
    sessions = pa.Table.from_pylist([session_row(name, quality[name]) for name in names], schema=tables.SESSIONS)
    gathered = {name: gather(results, names, name, schema) for name, schema in GATHERED.items()}
    affected = {
        (name.subject, name.session): cast("Side", record["affected_side"])
        for name, record in quality.items()
        if record["affected_side"] is not None
    }
    found = effects(gathered["comparison"], affected, confidence=settings.study.confidence)
    out = results / "cohort"
    for name, table in (gathered | {"sessions": sessions, "effects": found}).items():
        write_table(out / f"{name}.parquet", table)
    page = render_cohort(sessions, found, confidence=settings.study.confidence, comparison=gathered["comparison"])
    write_text(out / "report.html", page)


GATHERED: Mapping[str, pa.Schema] = {
    "strides": tables.STRIDES,
    "summary": tables.SUMMARY,
    "comparison": tables.COMPARISON,
}


def gather(results: Path, names: Sequence[SessionName], table: str, schema: pa.Schema) -> pa.Table:
    """One table of all sessions, one below the other."""
    parts = (read_table(results / name.folder / f"{table}.parquet").cast(schema) for name in names)
    return pa.concat_tables([schema.empty_table(), *parts]).combine_chunks()


def read_quality(path: Path) -> dict[str, Any]:
    """The content of a quality.json."""
    record: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
    return record


def session_row(name: SessionName, record: Mapping[str, Any]) -> dict[str, Any]:
    """A session in one row: status, counts, and the gravest finding in words."""
    sides = [side for walk in record["walks"] for side in walk["sides"].values()]
    severities = [finding["severity"] for finding in record["findings"]]
    return {
        "subject": name.subject,
        "session": name.session,
        "affected_side": record["affected_side"],
        "status": record["status"],
        "walks": len(record["walks"]),
        "strides": sum(side["strides"] for side in sides),
        "steady": sum(side["steady"] for side in sides),
        "errors": severities.count("error"),
        "warnings": severities.count("warning"),
        "first_finding": gravest_finding(record),
    }
