"""A text too long to be held, in blocks of whole lines: never more than two blocks are in memory."""

from __future__ import annotations

import codecs
import gzip
from collections.abc import Iterator
from typing import IO

from firstrocker.errors import LogError
from firstrocker.signals.encoded import encoding_of
from firstrocker.signals.packed import MAX_RATIO, MAX_STREAMED_BYTES

BLOCK = 1 << 22
"""Bytes; some ten minutes of one sensor at 100 Hz."""
_UNSUSPECTED = 1 << 24


def line_blocks(
    stream: IO[bytes] | gzip.GzipFile, *, packed_size: int | None, where: str, block: int = BLOCK
) -> Iterator[bytes]:
    """A text's bytes, UTF-16 as UTF-8, cut at ends of lines.

    Args:
        stream: at its beginning.
        packed_size: bytes that it takes packed; None where it is not.
        where: how to name the file in an error.
        block: about how many bytes a block has.

    Raises:
        LogError: more than any log can be, or swelling like no log of a sensor does.
    """
    first = stream.read(block)
    encoding = encoding_of(first)
    decoder = codecs.getincrementaldecoder(encoding)(errors="replace") if encoding.startswith("utf-16") else None
    only_returns = b"\r" in first and b"\n" not in first
    read, rest, piece = 0, b"", first
    while piece:
        read += len(piece)
        _refuse_swollen(read, packed_size, where)
        if decoder is not None:
            piece = decoder.decode(piece).replace("\ufeff", "").encode("utf-8", errors="replace")
        if only_returns:
            piece = piece.replace(b"\r", b"\n")
        rest += piece
        end = rest.rfind(b"\n") + 1
        if not end and len(rest) > 4 * block:
            raise LogError("A line is far too long: this is not a table of numbers.", where=where)
        if end:
            yield rest[:end]
            rest = rest[end:]
        piece = stream.read(block)
    if rest.strip():
        yield rest


def _refuse_swollen(read: int, packed_size: int | None, where: str) -> None:
    swollen = packed_size is not None and read > _UNSUSPECTED and read > MAX_RATIO * max(packed_size, 1)
    if swollen or read > MAX_STREAMED_BYTES:
        raise LogError(
            f"Unpacked, the file is more than {read >> 20} MB, which no log of a sensor is.",
            where=where,
            remedy="Unpack it and look what it is.",
        )
