"""One session's strides in; summary.parquet and comparison.parquet out."""

from __future__ import annotations

from pathlib import Path

from firstrocker import tables
from firstrocker.files import read_table, write_table
from firstrocker.settings import Settings
from firstrocker.study.compare import compare
from firstrocker.study.summary import summarise

SECTIONS = ("study",)
"""The sections of the settings that this step's results depend on."""


def make_study(results: Path, *, settings: Settings) -> None:
    """Summarise and compare the strides of one session.

    Args:
        results: the session's folder in the results; strides.parquet is read, the two tables are written beside it.
        settings: the section study is used.
    """
    strides = read_table(results / "strides.parquet")
    study = settings.study
    comparison = compare(
        strides,
        confidence=study.confidence,
        resamples=study.resamples,
        seed=study.seed,
        min_strides=study.min_strides,
    )
    write_table(results / "summary.parquet", summarise(strides).cast(tables.SUMMARY))
    write_table(results / "comparison.parquet", comparison.cast(tables.COMPARISON))
