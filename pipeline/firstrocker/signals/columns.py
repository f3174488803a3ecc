"""Columns of numbers from delimited text or Parquet: bounded in size, refused in plain words where they are broken."""

from __future__ import annotations

import codecs
import csv
import io
import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

import numpy as np

from firstrocker.errors import LogError
from firstrocker.model import Finding, FloatArray
from firstrocker.signals.strict import did_you_mean, quoted

if TYPE_CHECKING:
    import pyarrow as pa

MAX_BYTES = 1 << 30
"""A day of one sensor at 200 Hz is some 1 GB of text; more is not a walk."""
MAX_LINE = 1 << 20
MAX_BAD_SHARE = 0.05
"""A column with more cells than this that are no numbers is not a column of numbers."""
_NO_VALUE = ["", "NA", "NaN", "nan", "NAN", "null", "NULL", "None", "n/a", "N/A", "#N/A", "-"]
_NUMBER = r"^\s*[-+]?(\d+\.?\d*|\.\d+)([eE][-+]?\d+)?\s*$"
_PACKED = {b"\x1f\x8b": "gzip", b"PK": "zip", b"BZ": "bzip2", b"7z": "7z", b"Rar!": "rar"}


@dataclass(frozen=True)
class Table:
    """Columns by name, each (n,) with NaN for an empty cell; ``stamps`` holds text or stamp columns as seconds."""

    numbers: dict[str, FloatArray]
    stamps: dict[str, FloatArray] = field(default_factory=dict)
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True)
class Layout:
    """How a delimited text reads."""

    delimiter: str = ","
    decimal: str = "."
    comment: str | None = None
    skip_rows: int = 0


def read_columns(path: Path, *, numbers: list[str], stamps: list[str], layout: Layout, where: str) -> Table:
    """The named columns of a file, in the file's own units.

    Args:
        path: delimited text in UTF-8, UTF-16 or Latin-1, or Parquet, told apart by the first bytes.
        numbers: columns that hold numbers.
        stamps: columns that hold dates and times in ISO 8601.
        layout: of delimited text.
        where: how to name the file in an error.

    Raises:
        LogError: missing, no permission, too large, packed, not a table, or without the columns.
    """
    try:
        if not path.is_file():
            raise LogError(
                "The file is missing." if not path.exists() else "This is no file.",
                where=where,
                remedy="Put the log there, or write its right name into session.yaml.",
            )
        if path.stat().st_size > MAX_BYTES:
            raise LogError(
                f"The file is larger than {MAX_BYTES >> 30} GB.", where=where, remedy="Cut it to the walk alone."
            )
        with path.open("rb") as stream:
            head = stream.read(4)
            if head == b"PAR1":
                from firstrocker.signals.parquet import read_parquet

                return Table(*read_parquet(path, numbers=numbers, stamps=stamps, where=where))
            content = head + stream.read()
    except OSError as error:
        reason = (error.strerror or "unknown reason").lower()
        raise LogError(f"The file cannot be read: {reason}.", where=where, remedy="Allow reading it.") from None
    return _read_text(content, numbers=numbers, stamps=stamps, layout=layout, where=where)


def missing_column(name: str, present: list[str], *, where: str, delimiter: str = "") -> NoReturn:
    """Refuse a table without the column ``name``, saying which it has.

    Raises:
        LogError: always.
    """
    shown = ", ".join(quoted(column, limit=30) for column in present[:12]) + (" ..." if len(present) > 12 else "")
    what = f"The file has no column {quoted(name)}. Its columns are: {shown}."
    if len(present) == 1 and delimiter:
        other = next((sign for sign in ";\t,| " if sign != delimiter and sign in present[0].strip()), None)
        if other is not None:
            raise LogError(
                f"The first line does not fall into columns at {_named(delimiter)}: it reads {quoted(present[0])}.",
                where=where,
                remedy=f"It looks parted by {_named(other)}: set 'delimiter' in the logger profile so.",
            )
    if present and all(re.match(_NUMBER, column) for column in present):
        raise LogError(
            f"The first line holds numbers ({shown}), not the names of columns.",
            where=where,
            remedy="Check 'skip_rows' in the logger profile, or put a line with the names on top of the file.",
        )
    hint = did_you_mean(name, present, also="") if present else ""
    hint = hint if hint.startswith("Did") else ""
    remedy = f"{hint} Write the right names under 'columns' in the logger profile.".strip()
    raise LogError(what, where=where, remedy=remedy)


def _named(sign: str) -> str:
    return {"\t": "a tab", " ": "a space", ",": "a comma", ";": "a semicolon"}.get(sign, f"'{sign}'")


def _read_text(content: bytes, *, numbers: list[str], stamps: list[str], layout: Layout, where: str) -> Table:
    import pyarrow as pa
    from pyarrow import csv as pa_csv

    body = _without_comments(_as_utf8(content, where=where), layout.comment)
    body, header, extra = _split_header(body, layout, where=where)
    for name in [*numbers, *stamps]:
        if name not in header:
            missing_column(name, header, where=where, delimiter=layout.delimiter)
        if header.count(name) > 1:
            raise LogError(
                f"The file has {header.count(name)} columns called {quoted(name)}.",
                where=where,
                remedy="Rename them in the first line, so that each name stands for one.",
            )
    # Columns nobody asks for may share names; Arrow wants them told apart.
    names = [name if name in numbers or name in stamps else f"\0{k}" for k, name in enumerate(header + extra)]
    ragged: list[int] = []

    def skip_ragged(row: pa_csv.InvalidRow) -> str:
        ragged.append(1)
        return "skip"

    def parse(types: dict[str, pa.DataType]) -> pa.Table:
        return pa_csv.read_csv(
            pa.BufferReader(body),
            # Small blocks keep memory low, and a line longer than one is refused.
            read_options=pa_csv.ReadOptions(column_names=names, block_size=1 << 22),
            parse_options=pa_csv.ParseOptions(delimiter=layout.delimiter, invalid_row_handler=skip_ragged),
            convert_options=pa_csv.ConvertOptions(
                include_columns=[*numbers, *stamps],
                column_types=types,
                null_values=_NO_VALUE,
                strings_can_be_null=True,
                decimal_point=layout.decimal,
                check_utf8=False,
            ),
        )

    texts = dict.fromkeys(stamps, pa.string())
    findings: list[Finding] = []
    try:
        try:
            table = parse(dict.fromkeys(numbers, pa.float64()) | texts)
            columns = {name: table[name] for name in numbers}
        except (pa.ArrowInvalid, pa.ArrowNotImplementedError):
            ragged.clear()
            table = parse(dict.fromkeys(numbers, pa.binary()) | texts)
            columns = _numbers_among_text(table, numbers, layout.decimal, findings, where=where)
    except (pa.ArrowInvalid, pa.ArrowException) as error:
        reason = str(error).split("\n")[0]
        what = "A line is far too long" if "straddling" in reason else "Its rows cannot be told apart"
        raise LogError(
            f"{what}: this is not a table of numbers.", where=where, remedy="Export the log again as plain text."
        ) from None
    if not table.num_rows:
        raise LogError(
            "The file has names of columns but not one usable row.",
            where=where,
            remedy="Check that the recording was saved, and the decimal and delimiter in the logger profile.",
        )
    if len(ragged) > MAX_BAD_SHARE * (table.num_rows + len(ragged)):
        raise LogError(
            f"{len(ragged)} of {table.num_rows + len(ragged)} rows have another number of columns than the first line.",
            where=where,
            remedy="Check 'delimiter', 'decimal' and 'skip_rows' in the logger profile, or export the log again.",
        )
    if ragged:
        message = f"{where}: {len(ragged)} rows had a wrong number of columns and were left out."
        findings.append(
            Finding("rows-broken", "info" if len(ragged) == 1 else "warning", message, "Export the log again.")
        )
    return Table(
        {name: as_floats(column) for name, column in columns.items()},
        {name: as_seconds(table[name], where=where, name=name) for name in stamps},
        tuple(findings),
    )


def _as_utf8(content: bytes, *, where: str) -> bytes:
    if not content.strip():
        raise LogError("The file is empty.", where=where, remedy="Copy the log from the logger again.")
    for magic, name in _PACKED.items():
        if content.startswith(magic):
            raise LogError(f"The file is packed ({name}).", where=where, remedy="Unpack it, and name what was in it.")
    for mark, encoding in (
        (codecs.BOM_UTF8, "utf-8"),
        (codecs.BOM_UTF16_LE, "utf-16-le"),
        (codecs.BOM_UTF16_BE, "utf-16-be"),
    ):
        if content.startswith(mark):
            text = content[len(mark) :]
            return text if encoding == "utf-8" else text.decode(encoding, errors="replace").encode()
    start = content[:65536]
    if b"\0" in start or sum(byte < 9 or 13 < byte < 32 for byte in start) > 0.01 * len(start):
        raise LogError(
            "The file is not text but some binary form.",
            where=where,
            remedy="Export the log as delimited text or Parquet with the software that came with the logger.",
        )
    return content


def _without_comments(content: bytes, comment: str | None) -> bytes:
    if comment is None:
        return content
    return re.sub(rb"(?m)^[ \t]*" + re.escape(comment.encode()) + rb"[^\n]*(?:\n|\Z)", b"", content)


def _split_header(body: bytes, layout: Layout, *, where: str) -> tuple[bytes, list[str], list[str]]:
    """The rows, the header's names, and names for empty columns that the rows have beyond them."""
    at = 0
    for _ in range(layout.skip_rows):
        at = body.find(b"\n", at) + 1
        if at == 0:
            raise LogError(
                f"The file has fewer than the {layout.skip_rows} lines that are to be skipped.",
                where=where,
                remedy="Check 'skip_rows' in the logger profile.",
            )
    while body[at : at + 2].startswith((b"\n", b"\r\n")):
        at = body.find(b"\n", at) + 1
    end = body.find(b"\n", at)
    end = len(body) if end < 0 else end
    if end - at > MAX_LINE:
        raise LogError(
            "The first line is longer than a million signs: this is not a table.",
            where=where,
            remedy="Export the log as delimited text with a line per sample.",
        )
    header = _cells(body[at:end], layout.delimiter)
    rows = body[end + 1 :]
    first = _cells(rows[: max(rows.find(b"\n"), 0) or min(len(rows), MAX_LINE)], layout.delimiter)
    # Some loggers close each row with one more delimiter than the header has.
    extra = ["\0tail"] if len(first) == len(header) + 1 and first[-1] == "" else []
    return rows, header, extra


def _cells(line: bytes, delimiter: str) -> list[str]:
    try:
        text = line.decode("utf-8")
    except UnicodeDecodeError:
        text = line.decode("latin-1")
    try:
        return [cell.strip() for cell in next(csv.reader(io.StringIO(text.strip("\r\n")), delimiter=delimiter), [])]
    except csv.Error:
        return [text[:100]]


def _numbers_among_text(
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
        fine = pc.match_substring_regex(text, _NUMBER)
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
        message = f"{where}: {int(bad_rows.sum())} rows hold something that is no number and were left out; {example}."
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
            column = pc.utf8_trim_whitespace(column).cast(stamp)
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
