"""Whether a log that has come to rest has its end: what a transfer that broke off leaves behind."""

from __future__ import annotations

import gzip
import re
import zipfile
import zlib
from dataclasses import dataclass
from pathlib import Path

from firstrocker.signals.packed import packing_of

_TAIL = 1 << 16
_PIECE = 1 << 20
_PARTED = re.compile(rb"[,;\t |]+")


@dataclass(frozen=True)
class Half:
    """Why a log seems to lack its end. readable: what is there can be used all the same."""

    why: str
    readable: bool = False


def missing_end(path: Path) -> Half | None:
    """What tells that a log was cut off; None where nothing does.

    A gzip file is unpacked to its end, a zip must have its directory, Parquet its closing mark, delimited text a last
    line that is not shorter than the one before.
    """
    with path.open("rb") as file:
        head = file.read(8)
        size = file.seek(0, 2)
        file.seek(max(0, size - _TAIL))
        tail = file.read()
    if not size:
        return Half("It is empty.")
    packing = packing_of(head)
    if packing == "gzip":
        return _gzip(path)
    if packing == "zip":
        return None if zipfile.is_zipfile(path) else Half("The zip lacks its end.")
    if head.startswith(b"PAR1"):
        whole = size > 12 and tail.endswith(b"PAR1")
        return None if whole else Half("The Parquet file lacks its end.")
    return None if packing else _text(tail)


def _gzip(path: Path) -> Half | None:
    try:
        with gzip.open(path) as unpacked:
            while unpacked.read(_PIECE):
                pass
    except (EOFError, zlib.error, gzip.BadGzipFile):
        return Half("The gzip file lacks its end or is damaged.")
    return None


def _text(tail: bytes) -> Half | None:
    if tail.endswith(b"\0\0"):
        return Half("It ends in zeros: its place was kept, its end has not come.")
    wide = b"\0" in tail[-200:]  # two bytes a sign
    lines = tail.replace(b"\0", b"").replace(b"\r\n", b"\n").replace(b"\r", b"\n").split(b"\n")
    last, before = lines[-1].strip(), [line for line in lines[:-1] if line.strip()]
    if not last:
        return None
    if not before:
        return Half("It holds not one whole line.", readable=False)
    if len(_PARTED.split(last)) >= len(_PARTED.split(before[-1].strip())) and not wide:
        return None  # some loggers end without a line's end
    return Half("Its last line is cut.", readable=True)
