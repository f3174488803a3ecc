"""All sessions' tables in; the cohort's tables and report out."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any, cast

import pyarrow as pa
import pyarrow.compute as pc

from firstrocker import tables
from firstrocker.files import read_json, read_table, replacing, table_parts, write_table, write_text
from firstrocker.layout import SessionName, gravest_finding, made_sessions
from firstrocker.model import Side
from firstrocker.report.cohort import render_cohort
from firstrocker.report.invented import is_invented
from firstrocker.settings import Settings, StudySettings
from firstrocker.study.cohort import Sessions, Units, effects, own_effects
from firstrocker.study.curves import COLUMNS, compare_curves, person_curves, walk_curves
from firstrocker.study.known import own_errors
from firstrocker.study.mislabelled import with_doubts
from firstrocker.study.multiple import LEADING
from firstrocker.study.repeated import reliability

SECTIONS = ("study",)
"""The sections of the settings that this step's results depend on."""

GATHERED: Mapping[str, pa.Schema] = {
    "strides": tables.STRIDES,
    "summary": tables.SUMMARY,
    "comparison": tables.COMPARISON,
}
"""Tables of all sessions, one below the other."""


def make_cohort(study: Path, results: Path, *, settings: Settings) -> None:
    """Gather every session of ``study`` from ``results`` into ``results/cohort``.

    One session is read at a time: what is held of all of them is their summaries and mean curves.

    Args:
        study: the study folder; its sessions are the ones that are gathered, whatever else lies in the results.
        results: the results folder; every session's tables and quality.json are read.
        settings: the section study is used.
    """
    names = made_sessions(study, results)
    quality = {name: read_json(results / name.folder / "quality.json") for name in names}
    sessions = pa.Table.from_pylist([session_row(name, quality[name]) for name in names], schema=tables.SESSIONS)
    affected = {
        (name.subject, name.session): cast("Side", record["affected_side"])
        for name, record in quality.items()
        if record["affected_side"] is not None
    }
    out = results / "cohort"
    for table, schema in GATHERED.items():
        gather(out / f"{table}.parquet", results, names, schema)
    summary = read_table(out / "summary.parquet")
    comparison = of_conditions(out / "comparison.parquet")
    units = resistance_units(quality)
    found = across_people(summary, comparison, affected, units=units, study=settings.study)
    found |= curves_across_people(results, names, affected, study=settings.study)
    for table, content in ({"sessions": sessions} | found).items():
        write_table(out / f"{table}.parquet", content)
    page = render_cohort(
        sessions=sessions,
        **found,
        comparison=comparison.filter(pc.is_in(comparison["measure"], pa.array(LEADING))),
        confidence=settings.study.confidence,
        min_strides=settings.study.min_strides,
        invented=[is_invented(record) for record in quality.values()],
    )
    write_text(out / "report.html", page)


def across_people(
    summary: pa.Table, comparison: pa.Table, affected: Sessions, *, units: Units, study: StudySettings
) -> dict[str, pa.Table]:
    """The tables that are made of walk means and of each session's comparison: effects, people and reliability."""
    level, least = study.confidence, study.min_strides
    known = own_errors(comparison, affected, confidence=level)
    return {
        "effects": effects(summary, affected, units=units, confidence=level, min_strides=least, known=known),
        "people": with_doubts(own_effects(summary, affected, min_strides=least)),
        "reliability": reliability(summary, affected, confidence=level, min_strides=least),
    }


def curves_across_people(
    results: Path, names: Sequence[SessionName], affected: Sessions, *, study: StudySettings
) -> dict[str, pa.Table]:
    """The tables that are made of curves: each person's, and where braced and unbraced differ."""
    walks = (
        walk
        for name in names
        for walk in walk_curves(
            table_parts(results / name.folder / "curves.parquet", COLUMNS), min_strides=study.min_strides
        )
    )
    people = person_curves(walks, affected)
    return {"curves": people, "spm": compare_curves(people, confidence=study.confidence)}


def gather(path: Path, results: Path, names: Sequence[SessionName], schema: pa.Schema) -> None:
    """Write one table of all sessions, one below the other, to ``path``; its name is that of the sessions' tables."""
    import pyarrow.parquet as pq

    with replacing(path) as temporary, pq.ParquetWriter(temporary, schema, compression="zstd") as writer:
        for part in _parts(path.name, results, names, schema):
            writer.write_table(part)


_ROWS = 50_000
"""Rows of a row group, at least: small sessions are put together."""


def _parts(name: str, results: Path, names: Sequence[SessionName], schema: pa.Schema) -> Iterator[pa.Table]:
    waiting, rows = [schema.empty_table()], 0
    for one in names:
        for part in table_parts(results / one.folder / name):
            waiting.append(part.cast(schema))
            rows += part.num_rows
            if rows >= _ROWS:
                yield pa.concat_tables(waiting).combine_chunks()
                waiting, rows = [schema.empty_table()], 0
    yield pa.concat_tables(waiting).combine_chunks()


def of_conditions(path: Path) -> pa.Table:
    """The rows of a comparison that set braced against unbraced."""
    import pyarrow.parquet as pq

    return pq.read_table(path, filters=[("reference", "=", "unbraced")], memory_map=False, partitioning=None)


def resistance_units(quality: Mapping[SessionName, Mapping[str, Any]]) -> dict[tuple[str, str, str], str]:
    """(subject, session, walk) -> unit of the walk's resistance, where the session file gives one."""
    return {
        (name.subject, name.session, walk["walk"]): walk["setting"]["unit"]
        for name, record in quality.items()
        for walk in record["walks"]
        if walk.get("setting") and walk["setting"].get("unit")
    }


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
