"""One session's tables in; report.html out."""

from __future__ import annotations

from pathlib import Path

from firstrocker.files import read_json, read_table, write_text
from firstrocker.report.page import render, sides_shown
from firstrocker.report.rows import walk_names
from firstrocker.report.said import say
from firstrocker.settings import Settings


def make_report(results: Path, *, settings: Settings, follow_up: bool = False) -> None:
    """Write report.html beside the tables of one session.

    Args:
        results: the session's folder in the results; quality.json, evidence.json and the tables are read.
        settings: the section study is used, as the comparison was made with.
        follow_up: whether the person has other sessions, and a page over all of them.
    """
    quality = read_json(results / "quality.json")
    tables = {name: read_table(results / f"{name}.parquet") for name in ("strides", "curves", "summary", "comparison")}
    evidence = read_json(results / "evidence.json")
    sides = sides_shown(tables["summary"].to_pylist(), quality["affected_side"])
    said = None
    if sides and quality["status"] != "rejected":
        known = {name: tables[name] for name in ("strides", "summary", "comparison")}
        names = walk_names(quality["walks"])
        said = say(**known, quality=quality, side=sides[0], names=names, **settings.study.model_dump())
    page = render(
        **tables,
        quality=quality,
        evidence=evidence,
        confidence=settings.study.confidence,
        said=said,
        follow_up=follow_up,
    )
    write_text(results / "report.html", page)
