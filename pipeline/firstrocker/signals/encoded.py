"""Bytes of a text file to UTF-8 with line feeds, whatever it was written in; refused where it is no text."""

from __future__ import annotations

import codecs

from firstrocker.errors import LogError

_MARKS = ((codecs.BOM_UTF8, "utf-8"), (codecs.BOM_UTF16_LE, "utf-16-le"), (codecs.BOM_UTF16_BE, "utf-16-be"))
_LOOKED_AT = 65536
_CONTROL = bytes([*range(9), *range(14, 32)])
"""Bytes that no text holds."""


def as_utf8(content: bytes, *, where: str) -> bytes:
    """A text's bytes in sound UTF-8, lines ended by a line feed or by a carriage return and one.

    Args:
        content: UTF-8, UTF-16 with or without its mark, or Latin-1.
        where: how to name the file in an error.

    Raises:
        LogError: empty, or no text.
    """
    if not content or content.isspace():
        raise LogError("The file is empty.", where=where, remedy="Copy the log from the logger again.")
    encoding = encoding_of(content)
    mark = next((mark for mark, _ in _MARKS if content.startswith(mark)), b"")
    content = content[len(mark) :]
    if encoding.startswith("utf-16"):
        content = content.decode(encoding, errors="replace").encode("utf-8", errors="replace")
    start = content[:_LOOKED_AT]
    if b"\0" in start or len(start) - len(start.translate(None, _CONTROL)) > 0.01 * len(start):
        raise LogError(
            "The file is not text but some binary form.",
            where=where,
            remedy="Export the log as delimited text or Parquet with the software that came with the logger.",
        )
    content = content if content.isascii() else _sound(content)
    if b"\r" in start and b"\n" not in start:
        content = content.replace(b"\r", b"\n")
    return content


def _sound(content: bytes) -> bytes:
    """Bytes that are no UTF-8 somewhere are Latin-1, in which every byte is a sign."""
    try:
        content.decode("utf-8")
    except UnicodeDecodeError:
        return content.decode("latin-1").encode("utf-8")
    return content


def encoding_of(content: bytes) -> str:
    """``utf-8``, ``utf-16-le``, ``utf-16-be`` or ``latin-1``, told by the first bytes."""
    for mark, encoding in _MARKS:
        if content.startswith(mark):
            return encoding
    start = content[: _LOOKED_AT & ~1]
    # Text of numbers in UTF-16 has a zero in every second byte.
    for first, encoding in ((1, "utf-16-le"), (0, "utf-16-be")):
        zeros, others = start[first::2], start[1 - first :: 2]
        if len(zeros) >= 8 and zeros.count(0) > 0.95 * len(zeros) and others.count(0) == 0:
            return encoding
    try:
        # A sign may be cut in two at the end of what is looked at.
        codecs.getincrementaldecoder("utf-8")().decode(start)
    except UnicodeDecodeError:
        return "latin-1"
    return "utf-8"
