"""One session's tables in; report.html out."""

from __future__ import annotations

import json
from pathlib import Path

from firstrocker.files import read_table, write_text
from firstrocker.report.page import render


def make_report(results: Path) -> None:
    """Write report.html beside the tables of one session."""
    quality = json.loads((results / "quality.json").read_text(encoding="utf-8"))
    tables = {name: read_table(results / f"{name}.parquet") for name in ("strides", "curves", "summary", "comparison")}
    write_text(results / "report.html", render(**tables, quality=quality))
