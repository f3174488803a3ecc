"""Columns of cells to numbers and seconds."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from firstrocker.errors import LogError
from firstrocker.model import Finding, FloatArray
from firstrocker.signals.noticed import counted
from firstrocker.signals.strict import quoted

if TYPE_CHECKING:
    import pyarrow as pa

MAX_BAD_SHARE = 0.05
"""A column with more cells than this that are no numbers is not a column of numbers."""
NUMBER = r"^\s*[-+]?(\d+\.?\d*|\.\d+)([eE][-+]?\d+)?\s*$"


def numbers_among_text(
    table: pa.Table, names: list[str], decimal: str, findings: list[Finding], *, where: str
) -> dict[str, pa.ChunkedArray]:
    """Columns in which some cells are no numbers: those cells become empty, unless there are too many."""
    import pyarrow as pa
    import pyarrow.compute as pc

    columns: dict[str, pa.ChunkedArray] = {}
    bad_rows = np.zeros(table.num_rows, dtype=bool)
    example = ""
    for name in names:
        text = table[name]
        if decimal == ",":
            text = pc.replace_substring(text, ",", ".")
        fine = pc.match_substring_regex(text, NUMBER)
        bad = pc.fill_null(pc.invert(fine), False).to_numpy()
        if bad.any():
            row = int(np.flatnonzero(bad)[0])
            cell = table[name][row].as_py().decode("utf-8", errors="replace")
            shown = f"column {quoted(name)} holds {quoted(cell, limit=20)} in row {row + 1} below the names"
            if bad.sum() > MAX_BAD_SHARE * np.count_nonzero(text.is_valid()):
                hint = " and set 'decimal' to ',' if that is what stands in numbers" if "," in cell else ""
                raise LogError(
                    f"The {shown}, which is no number, and so do {int(bad.sum())} of its {len(bad)} cells.",
                    where=where,
                    remedy=f"Check in the logger profile that this is the right column{hint}.",
                )
            example = example or shown
            bad_rows |= bad
        columns[name] = pc.cast(pc.if_else(fine, pc.utf8_trim_whitespace(text.cast(pa.string())), None), pa.float64())
    if example:
        message = f"{where}: {counted(int(bad_rows.sum()), 'row')} with something that is no number; {example}."
        findings.append(Finding("cells-not-numbers", "warning", message, "Export the log again, or mend those rows."))
    return columns


def as_floats(column: pa.ChunkedArray) -> FloatArray:
    """(n,) numbers, NaN where a cell is empty."""
    import pyarrow as pa
    import pyarrow.compute as pc

    filled = pc.fill_null(column.cast(pa.float64()), float("nan"))
    return np.array(filled.to_numpy(), dtype=float)


def as_seconds(column: pa.ChunkedArray, *, where: str, name: str) -> FloatArray:
    """(n,) seconds since 1970 of a column of ISO 8601 text or of stamps, NaN where a cell is empty.

    Raises:
        LogError: it is neither.
    """
    import pyarrow as pa
    import pyarrow.compute as pc

    if pa.types.is_string(column.type) or pa.types.is_large_string(column.type):
        zoned = pc.any(pc.match_substring_regex(column, r"(Z|[+-]\d\d:?(\d\d)?)\s*$")).as_py()
        stamp = pa.timestamp("ns", tz="UTC") if zoned else pa.timestamp("ns")
        try:
            column = pc.replace_substring(pc.utf8_trim_whitespace(column), ",", ".").cast(stamp)
        except (pa.ArrowInvalid, pa.ArrowNotImplementedError):
            cell = next((str(value) for value in column[:50].to_pylist() if value), "")
            raise LogError(
                f"The column {quoted(name)} does not hold ISO 8601 times throughout; it begins with {quoted(cell)}.",
                where=where,
                remedy="Times must read like 2026-03-02T10:15:30.125, or set the unit of time to s, ms, us or ns.",
            ) from None
    elif not pa.types.is_timestamp(column.type):
        raise LogError(
            f"The column {quoted(name)} holds numbers, not ISO 8601 times.",
            where=where,
            remedy="Set the unit of time in the logger profile to s, ms, us or ns.",
        )
    whole = column.cast(pa.timestamp("ns", tz=column.type.tz)).cast(pa.int64())
    empty = np.asarray(pc.is_null(whole).to_numpy(), dtype=bool)
    ticks = np.asarray(pc.fill_null(whole, 0).to_numpy(), dtype=np.int64)
    seconds = ticks // 1_000_000_000 + (ticks % 1_000_000_000) * 1e-9
    seconds[empty] = np.nan
    return np.asarray(seconds, dtype=float)
