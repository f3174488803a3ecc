"""Columns of numbers from delimited text."""

from __future__ import annotations

import codecs
import csv
import io
import re

import pyarrow as pa
from pyarrow import csv as pa_csv

from firstrocker.errors import LogError
from firstrocker.model import Finding
from firstrocker.signals.cells import MAX_BAD_SHARE, as_floats, as_seconds, numbers_among_text
from firstrocker.signals.noticed import counted
from firstrocker.signals.strict import quoted
from firstrocker.signals.table import Layout, Table, missing_column

MAX_LINE = 1 << 20
_NO_VALUE = ["", "NA", "NaN", "nan", "NAN", "null", "NULL", "None", "n/a", "N/A", "#N/A", "-"]
_PACKED = {b"\x1f\x8b": "gzip", b"PK": "zip", b"BZ": "bzip2", b"7z": "7z", b"Rar!": "rar"}


def read_text(content: bytes, *, numbers: list[str], stamps: list[str], layout: Layout, where: str) -> Table:
    """The named columns of a delimited text.

    Args:
        content: the file's bytes.
        numbers: columns that hold numbers.
        stamps: columns that hold dates and times in ISO 8601.
        layout: how the text is parted.
        where: how to name the file in an error.

    Raises:
        LogError: not a table, without the columns, or with too many cells that are no numbers.
    """
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
    if not body.strip():
        raise _rowless(where)
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
            columns = numbers_among_text(table, numbers, layout.decimal, findings, where=where)
    except (pa.ArrowInvalid, pa.ArrowException) as error:
        reason = str(error).split("\n")[0]
        what = "A line is far too long" if "straddling" in reason else "Its rows cannot be told apart"
        raise LogError(
            f"{what}: this is not a table of numbers.", where=where, remedy="Export the log again as plain text."
        ) from None
    if not table.num_rows:
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


def _rowless(where: str) -> LogError:
    return LogError(
        "The file has names of columns but not one usable row.",
        where=where,
        remedy="Check that the recording was saved, and the decimal and delimiter in the logger profile.",
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
