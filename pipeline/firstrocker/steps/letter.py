"""One session's tables in; letter.html out."""

from __future__ import annotations

from pathlib import Path

from firstrocker.files import read_json, read_table, write_text
from firstrocker.report.letter import letter
from firstrocker.report.letter_page import render_letter
from firstrocker.report.rows import walk_names
from firstrocker.settings import Settings


def make_letter(results: Path, *, settings: Settings) -> None:
    """Write the draft of the outcome letter beside the tables of one session.

    Args:
        results: the session's folder in the results; quality.json, summary.parquet and comparison.parquet are read.
        settings: the section study is used, for what the letter says of its intervals.
    """
    quality = read_json(results / "quality.json")
    summary, comparison = (read_table(results / f"{name}.parquet").to_pylist() for name in ("summary", "comparison"))
    names = walk_names(quality["walks"])
    draft = letter(summary, comparison, quality, names=names, confidence=settings.study.confidence)
    write_text(results / "letter.html", render_letter(draft))
