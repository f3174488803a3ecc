"""Columns of numbers from a Parquet file."""

from __future__ import annotations

from pathlib import Path

import pyarrow as pa
from pyarrow import parquet as pq

from firstrocker.errors import LogError
from firstrocker.model import FloatArray
from firstrocker.signals.cells import as_floats, as_seconds
from firstrocker.signals.strict import quoted
from firstrocker.signals.table import Table, missing_column

MAX_ROWS = 100_000_000


def read_parquet(path: Path, *, numbers: list[str], stamps: list[str], where: str) -> Table:
    """The named columns of a Parquet file.

    Args:
        path: the file.
        numbers: columns that hold numbers.
        stamps: columns that hold stamps, or text in ISO 8601.
        where: how to name the file in an error.

    Raises:
        LogError: damaged, too large, without the columns, or columns of another kind.
    """
    try:
        with pq.ParquetFile(path) as file:
            present = list(file.schema_arrow.names)
            for name in [*numbers, *stamps]:
                if name not in present:
                    missing_column(name, present, where=where)
            if file.metadata.num_rows > MAX_ROWS:
                raise LogError("The file holds too many rows.", where=where, remedy="Cut it to the walk alone.")
            table = file.read(columns=[*numbers, *stamps])
    except (pa.ArrowException, OSError):
        raise LogError(
            "The Parquet file is damaged or was cut off.", where=where, remedy="Copy or export the log again."
        ) from None
    if not table.num_rows:
        raise LogError("The file has not one row.", where=where, remedy="Check that the recording was saved.")
    floats: dict[str, FloatArray] = {}
    for name in numbers:
        kind = table[name].type
        if pa.types.is_timestamp(kind):
            raise LogError(
                f"The column {quoted(name)} holds dates and times.",
                where=where,
                remedy="Set the unit of time in the logger profile to iso8601.",
            )
        if not (pa.types.is_floating(kind) or pa.types.is_integer(kind) or pa.types.is_decimal(kind)):
            raise LogError(
                f"The column {quoted(name)} does not hold numbers.",
                where=where,
                remedy="Check in the logger profile that this is the right column.",
            )
        floats[name] = as_floats(table[name])
    return Table(floats, {name: as_seconds(table[name], where=where, name=name) for name in stamps})
