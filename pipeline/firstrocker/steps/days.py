"""Walks that last a day, within a session's strides: their curves go to the disk as they are made."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory

import pyarrow as pa

from firstrocker import tables
from firstrocker.chain import Result, as_finding, status_of
from firstrocker.errors import FirstrockerError
from firstrocker.files import growing_table, table_parts
from firstrocker.settings import Settings
from firstrocker.signals.read import SessionInput
from firstrocker.steps.wear import wear_rows

CURVES_HELD = 50_000
"""Rows of curves.parquet that are held at a time: some 500 strides, 10 MB."""


def with_days(
    given: SessionInput, whole: Result, keep_curves: Callable[[pa.Table], None], *, settings: Settings
) -> tuple[Result, pa.Table]:
    """A session's result with its long walks analysed too.

    Args:
        given: the session.
        whole: the result of its other walks.
        keep_curves: is given the curves of all walks, in order.
        settings: the sections signals, motion and gait are used.

    Returns:
        the result, without curves; and the long walks' rows of wear.parquet.
    """
    from firstrocker.day.analyse import analyse_day

    keep_curves(whole.curves)
    strides, findings, evidence = [whole.strides], list(whole.findings), list(whole.evidence)
    wear = [wear_rows(given.person, "", {}, None)]
    for walk in given.long:
        try:
            with TemporaryDirectory(prefix="firstrocker-") as place:  # a day may be refused at its end
                held = Path(place) / "curves.parquet"
                with growing_table(held, tables.CURVES, rows=CURVES_HELD) as keep:
                    day = analyse_day(given.person, walk, settings=settings, keep_curves=keep)
                for part in table_parts(held):
                    keep_curves(part)
        except FirstrockerError as mistake:
            findings += [*walk.findings, as_finding(mistake, walk.info.walk)]
            continue
        strides.append(day.strides)
        findings += day.findings
        evidence += [] if day.evidence is None else [day.evidence]
        wear.append(wear_rows(given.person, walk.info.walk, day.worn, day.strides))
    found = pa.concat_tables(strides)
    status = status_of(findings, usable=len(found) > 0)
    curves = whole.curves.slice(0, 0)
    result = replace(
        whole, strides=found, curves=curves, findings=tuple(findings), status=status, evidence=tuple(evidence)
    )
    return result, pa.concat_tables(wear)
