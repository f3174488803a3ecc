"""Columns of numbers from delimited text."""

from __future__ import annotations

import csv
import io
import re

import numpy as np
import pyarrow as pa
from pyarrow import csv as pa_csv

from firstrocker.errors import LogError
from firstrocker.model import Finding
from firstrocker.signals.cells import MAX_BAD_SHARE, as_floats, as_seconds, chosen, numbers_among_text
from firstrocker.signals.encoded import as_utf8
from firstrocker.signals.noticed import counted
from firstrocker.signals.strict import quoted
from firstrocker.signals.table import MAX_ROWS, SPACES, Layout, Table, Wanted, missing_column

MAX_LINE = 1 << 20
_NO_VALUE = ["", "NA", "NaN", "nan", "NAN", "null", "NULL", "None", "n/a", "N/A", "#N/A", "-"]


def read_text(content: bytes, *, wanted: Wanted, layout: Layout, where: str) -> Table:
    """The named columns of a delimited text.

    Args:
        content: the file's bytes.
        wanted: the columns, and which rows.
        layout: how the text is parted.
        where: how to name the file in an error.

    Raises:
        LogError: not a table, without the columns, or with too many cells that are no numbers.
    """
    body, delimiter = parted(as_utf8(content, where=where), layout)
    del content
    start, header, extra = split_header(body, layout, delimiter, where=where)
    numbers, stamps = wanted.numbers, wanted.stamps
    for name in wanted.names:
        if name not in header:
            missing_column(name, header, where=where, delimiter=layout.delimiter, named=layout.header)
        if header.count(name) > 1:
            raise LogError(
                f"The file has {header.count(name)} columns called {quoted(name)}.",
                where=where,
                remedy="Rename them in the first line, so that each name stands for one.",
            )
    if not body[start : start + MAX_LINE].strip() and not body[start:].strip():
        if not wanted.part:
            raise _rowless(where)
        return Table({name: np.empty(0) for name in numbers}, {name: np.empty(0) for name in stamps})
    if len(body) > MAX_ROWS and _lines(body, start) > MAX_ROWS:
        raise LogError("The file holds too many rows.", where=where, remedy="Cut it to the walk alone.")
    # Columns nobody asks for may share names; Arrow wants them told apart.
    asked = set(wanted.names)
    names = [name if name in asked else f"\0{k}" for k, name in enumerate(header + extra)]
    ragged: list[int] = []

    def skip_ragged(row: pa_csv.InvalidRow) -> str:
        ragged.append(1)
        return "skip"

    def parse(rows: pa.Buffer, types: dict[str, pa.DataType]) -> pa.Table:
        return pa_csv.read_csv(
            pa.BufferReader(rows),
            # Small blocks keep memory low, and a line longer than one is refused. One thread: another that still holds
            # the handler of rows when Python ends would abort the process.
            read_options=pa_csv.ReadOptions(column_names=names, block_size=1 << 22, use_threads=False),
            parse_options=pa_csv.ParseOptions(delimiter=delimiter, invalid_row_handler=skip_ragged),
            convert_options=pa_csv.ConvertOptions(
                include_columns=list(dict.fromkeys(wanted.names)),
                column_types=types,
                null_values=_NO_VALUE,
                strings_can_be_null=True,
                decimal_point=layout.decimal,
                check_utf8=False,
            ),
        )

    texts = dict.fromkeys([*stamps, *([wanted.rows.column] if wanted.rows else [])], pa.string())
    rows = pa.py_buffer(body).slice(start)
    findings: list[Finding] = []
    try:
        try:
            parsed = parse(rows, dict.fromkeys(numbers, pa.float64()) | texts)
            table = chosen(parsed, wanted.rows, where=where, part=wanted.part)
            columns = {name: table[name] for name in numbers}
        except (pa.ArrowInvalid, pa.ArrowNotImplementedError):
            ragged.clear()
            parsed = parse(rows, dict.fromkeys(numbers, pa.binary()) | texts)
            table = chosen(parsed, wanted.rows, where=where, part=wanted.part)
            columns = numbers_among_text(table, numbers, layout.decimal, findings, where=where)
    except (pa.ArrowInvalid, pa.ArrowException) as error:
        reason = str(error).split("\n")[0]
        what = "A line is far too long" if "straddling" in reason else "Its rows cannot be told apart"
        raise LogError(
            f"{what}: this is not a table of numbers.", where=where, remedy="Export the log again as plain text."
        ) from None
    del body, rows
    if not table.num_rows and not wanted.part:
        raise _rowless(where)
    if len(ragged) > MAX_BAD_SHARE * (table.num_rows + len(ragged)):
        raise LogError(
            f"{len(ragged)} of {table.num_rows + len(ragged)} rows have another number of columns than the first line.",
            where=where,
            remedy="Check 'delimiter', 'decimal' and 'skip_rows' in the logger profile, or export the log again.",
        )
    if ragged:
        message = f"{where}: {counted(len(ragged), 'row')} with a wrong number of columns left out."
        findings.append(
            Finding("rows-broken", "info" if len(ragged) == 1 else "warning", message, "Export the log again.")
        )
    return Table(
        {name: as_floats(column) for name, column in columns.items()},
        {name: as_seconds(table[name], where=where, name=name) for name in stamps},
        tuple(findings),
    )


def _lines(body: bytes, start: int) -> int:
    """How many lines end in a text from ``start`` on; piece by piece, which takes a third of what ``count`` does."""
    signs, piece = np.frombuffer(body, np.uint8, offset=start), 1 << 18
    return sum(int(np.count_nonzero(signs[at : at + piece] == ord("\n"))) for at in range(0, len(signs), piece))


def _rowless(where: str) -> LogError:
    return LogError(
        "The file has names of columns but not one usable row.",
        where=where,
        remedy="Check that the recording was saved, and the decimal and delimiter in the logger profile.",
    )


def parted(body: bytes, layout: Layout) -> tuple[bytes, str]:
    """A text without its comments, and the one sign that parts its columns."""
    if layout.comment is not None:
        body = re.sub(rb"(?m)^[ \t]*" + re.escape(layout.comment.encode()) + rb"[^\n]*(?:\n|\Z)", b"", body)
    if layout.delimiter != SPACES:
        return body, layout.delimiter
    body = re.sub(rb"(?m)^[ \t]+|[ \t]+\r?$", b"", body)
    return re.sub(rb"[ \t]+", b"\t", body), "\t"


def split_header(body: bytes, layout: Layout, delimiter: str, *, where: str) -> tuple[int, list[str], list[str]]:
    """Where the rows begin, the header's names (or places, where it has none), and names for empty columns beyond them.

    Raises:
        LogError: fewer lines than are to be skipped, or a first line that is none of a table.
    """
    at, end = header_place(body, layout, where=where)
    header = cells_of(body[at:end], delimiter)
    if not layout.header:
        return at, [str(place) for place in range(1, len(header) + 1)], []
    for _ in range(layout.skip_below):
        end = body.find(b"\n", end + 1)
        end = len(body) if end < 0 else end
    start = min(end + 1, len(body))
    end = body.find(b"\n", start)
    first = cells_of(body[start : end if end > start else start + MAX_LINE], delimiter)
    # Some loggers close each row with one more delimiter than the header has.
    extra = ["\0tail"] if len(first) == len(header) + 1 and first[-1] == "" else []
    return start, header, extra


def header_place(body: bytes, layout: Layout, *, where: str) -> tuple[int, int]:
    """Where the first line of the table, below what is to be skipped, begins and ends.

    Raises:
        LogError: as :func:`split_header`.
    """
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
    return at, end


def cells_of(line: bytes, delimiter: str) -> list[str]:
    """The cells of one line, without the blanks around them."""
    try:
        text = line.decode("utf-8")
    except UnicodeDecodeError:
        text = line.decode("latin-1")
    try:
        return [cell.strip() for cell in next(csv.reader(io.StringIO(text.strip("\r\n")), delimiter=delimiter), [])]
    except csv.Error:
        return [text[:100]]
