"""One session's tables in; report.html out."""

from __future__ import annotations

import json
from pathlib import Path

from firstrocker.files import read_table, write_text
from firstrocker.report.page import render
from firstrocker.settings import Settings


def make_report(results: Path, *, settings: Settings) -> None:
    """Write report.html beside the tables of one session.

    Args:
        results: the session's folder in the results; quality.json, evidence.json and the tables are read.
        settings: the section study is used, for what the report says of the comparison's intervals.
    """
    quality = json.loads((results / "quality.json").read_text(encoding="utf-8"))
    tables = {name: read_table(results / f"{name}.parquet") for name in ("strides", "curves", "summary", "comparison")}
    evidence = json.loads((results / "evidence.json").read_text(encoding="utf-8"))
    page = render(**tables, quality=quality, evidence=evidence, confidence=settings.study.confidence)
    write_text(results / "report.html", page)
