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

    from firstrocker.signals.table import Choice

MAX_BAD_SHARE = 0.05
"""A column with more cells than this that are no numbers is not a column of numbers."""
BEYOND_ALL = 1e100
MAX_SENSORS = 1000
MAX_STAMP = 60
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


def chosen(table: pa.Table, rows: Choice | None, *, where: str, part: bool = False) -> pa.Table:
    """The rows of a table that are wanted; all where nobody chose.

    Raises:
        LogError: there is none, and the table is not but part of a log.
    """
    if rows is None:
        return table
    import pyarrow as pa
    import pyarrow.compute as pc

    column = table[rows.column]
    distinct = pc.unique(column)
    if len(distinct) > MAX_SENSORS:
        raise LogError(
            f"The column {quoted(rows.column)} holds {len(distinct)} different things, so that it names no sensor.",
            where=where,
            remedy="Mend 'column' under 'rows' in the logger profile.",
        )
    fits = [value for value in distinct.to_pylist() if _is(value, rows.equals)]
    if not fits and part:
        return table.slice(0, 0)
    if not fits:
        some = ", ".join(quoted(value, limit=20) for value in distinct[:8].to_pylist())
        raise LogError(
            f"No row has {quoted(rows.equals)} in the column {quoted(rows.column)}; it holds {some}.",
            where=where,
            remedy="Mend 'equals' under 'rows' in the logger profile.",
        )
    kind = column.type.value_type if pa.types.is_dictionary(column.type) else column.type
    return table.filter(pc.is_in(column, value_set=pa.array(fits, kind)))


def _is(value: object, wanted: str) -> bool:
    """Whether a cell holds what is wanted, be it written 3 or 3.0."""
    cell = str(value).strip()
    try:
        return cell == wanted or (value is not None and float(cell) == float(wanted))
    except ValueError:
        return False


def as_floats(column: pa.ChunkedArray) -> FloatArray:
    """(n,) numbers, NaN where a cell is empty or holds what is no measurement in any unit."""
    import pyarrow as pa

    parts = [chunk.to_numpy(zero_copy_only=False) for chunk in column.cast(pa.float64()).chunks]
    numbers = np.concatenate([np.empty(0), *parts])
    # A damaged file may hold numbers whose square is none, and such that are none in a way that warns when touched.
    with np.errstate(all="ignore"):
        if not within(numbers, BEYOND_ALL):
            numbers[~(np.abs(numbers) < BEYOND_ALL)] = np.nan
    return numbers


def within(numbers: FloatArray, bound: float) -> bool:
    """Whether every number (...) is one, and smaller in magnitude than the bound."""
    return not numbers.size or bool(-bound < numbers.min() and numbers.max() < bound)


def as_seconds(column: pa.ChunkedArray, *, where: str, name: str) -> FloatArray:
    """(n,) seconds since 1970 of a column of ISO 8601 text or of stamps, NaN where a cell is empty.

    Raises:
        LogError: it is neither.
    """
    import pyarrow as pa
    import pyarrow.compute as pc

    if pa.types.is_dictionary(column.type):
        column = _spread(column, where=where, name=name)
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


def _spread(column: pa.ChunkedArray, *, where: str, name: str) -> pa.ChunkedArray:
    """A column of text that was kept as a dictionary, as plain text; no stamp is longer than a line."""
    import pyarrow as pa
    import pyarrow.compute as pc

    for chunk in column.chunks:
        longest = pc.max(pc.binary_length(chunk.dictionary)).as_py() or 0
        if longest > MAX_STAMP:
            raise LogError(
                f"The column {quoted(name)} holds long texts, not ISO 8601 times.",
                where=where,
                remedy="Check in the logger profile which column holds the time.",
            )
    return column.cast(pa.string())
