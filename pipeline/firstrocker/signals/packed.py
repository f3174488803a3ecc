"""Packed logs (gzip, zip) unpacked in memory, and refused where they would swell beyond what a log can be."""

from __future__ import annotations

import gzip
import io
import struct
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from typing import IO

from firstrocker.errors import LogError
from firstrocker.signals.strict import did_you_mean, quoted

MAX_BYTES = 1 << 28
"""Five hours of one sensor at 200 Hz are some 256 MB of text; more is not a walk."""
MAX_RATIO = 200
"""Text of sensors shrinks to a tenth or so, of a sensor that lies still to a fiftieth."""
MAX_STREAMED_BYTES = 1 << 33
"""Two days of one sensor at 400 Hz; of a log that is read in pieces and never held."""
_UNSUSPECTED = 1 << 24
_CHUNK = 1 << 20
_MAX_MEMBERS = 5_000
_ENTRY = b"PK\x01\x02"
_BROKEN = (zipfile.BadZipFile, zlib.error, EOFError, struct.error, RuntimeError, NotImplementedError)
_MORE_BROKEN = (gzip.BadGzipFile, ValueError, OverflowError, IndexError, KeyError)

PACKED = {b"\x1f\x8b": "gzip", b"PK\x03\x04": "zip", b"PK\x05\x06": "zip", b"BZ": "bzip2", b"7z": "7z", b"Rar!": "rar"}
"""How packed files begin."""


def packing_of(head: bytes) -> str:
    """By what a file that begins so is packed; empty where it is not."""
    packing = next((name for magic, name in PACKED.items() if head.startswith(magic)), "")
    return "" if packing == "bzip2" and not head.startswith(b"BZh") else packing


def unpack(stream: IO[bytes], *, packing: str, member: str, size: int, where: str) -> bytes:
    """What is in a packed file, whole.

    Args:
        stream: the packed file, at its beginning.
        packing: as :func:`packing_of` tells.
        member: which file of a zip; empty where there is but one.
        size: of the packed file, bytes.
        where: how to name the file in an error.

    Raises:
        LogError: damaged, locked, not gzip or zip, packed twice, too large once unpacked, or without the member.
    """
    with opened(stream, packing=packing, member=member, size=size, where=where) as (unpacked, packed_size):
        content = _bounded(unpacked, packed_size, where)
    inner = packing_of(content[:8])
    if inner:
        raise LogError(
            f"The file is packed twice ({packing}, and {inner} in it).", where=where, remedy="Unpack it once."
        )
    return content


@contextmanager
def opened(
    stream: IO[bytes], *, packing: str, member: str, size: int, where: str
) -> Iterator[tuple[IO[bytes] | gzip.GzipFile, int]]:
    """What is in a packed file as a stream, and how many bytes it takes packed; arguments and errors of :func:`unpack`.

    Errors of the packing that show while the stream is read become those of the block.
    """
    try:
        if packing == "gzip":
            with gzip.GzipFile(fileobj=stream) as unpacked:
                yield unpacked, size
        elif packing == "zip":
            if _entries(stream) > _MAX_MEMBERS:
                raise LogError("The zip holds too many files.", where=where, remedy="Pack the logs alone.")
            with zipfile.ZipFile(stream) as archive:
                chosen = _member(archive, member, where)
                with archive.open(chosen) as inside:
                    yield inside, chosen.compress_size
        else:
            raise LogError(
                f"The file is packed ({packing}).", where=where, remedy="Unpack it, and name what was in it."
            )
    except (*_BROKEN, *_MORE_BROKEN):
        raise LogError(
            f"The packed file ({packing}) is damaged or was cut off.",
            where=where,
            remedy="Copy it again, or unpack it.",
        ) from None


def _bounded(unpacked: IO[bytes] | gzip.GzipFile, size: int, where: str) -> bytes:
    """All of a stream, in pieces, given up as soon as it is more than a log can be."""
    content = bytearray()
    while piece := unpacked.read(_CHUNK):
        content += piece
        if len(content) > MAX_BYTES or (len(content) > _UNSUSPECTED and len(content) > MAX_RATIO * max(size, 1)):
            raise LogError(
                f"Unpacked, the file is more than {len(content) >> 20} MB, which no log of a walk is.",
                where=where,
                remedy="Unpack it and look what it is; cut a long log to the walk alone.",
            )
    return bytes(content)


def _member(archive: zipfile.ZipFile, member: str, where: str) -> zipfile.ZipInfo:
    files = [one for one in archive.infolist() if not one.is_dir() and not _beside(one.filename)]
    found = [one for one in files if not member or one.filename == member]
    if not found:
        hint = did_you_mean(member, [one.filename for one in files], also="It holds") if files else "It is empty."
        raise LogError(f"The zip holds no file {quoted(member)}.", where=where, remedy=hint)
    if len(found) > 1:
        some = ", ".join(quoted(one.filename) for one in found[:5])
        raise LogError(
            f"The zip holds {len(found)} files: {some}{' ...' if len(found) > 5 else ''}.",
            where=where,
            remedy="Name one of them after the zip, as a file in a folder: 'logs.zip/left.csv'.",
        )
    chosen = found[0]
    if chosen.flag_bits & 1:
        raise LogError("The zip is locked with a password.", where=where, remedy="Pack it without one.")
    if chosen.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
        raise LogError(
            "The zip is packed in a way that is not read here.",
            where=where,
            remedy="Pack it the usual way, or unpack it.",
        )
    return chosen


def _entries(stream: IO[bytes]) -> int:
    """At most how many files a zip lists: its directory, read whole, could fill the memory."""
    count, tail = 0, b""
    while piece := stream.read(_CHUNK):
        block = tail + piece
        count += block.count(_ENTRY)
        tail = block[-3:]
    stream.seek(0, io.SEEK_SET)
    return count


def _beside(name: str) -> bool:
    """Whether a file is one that systems put into a zip beside what was meant."""
    return name.startswith("__MACOSX/") or name.rsplit("/", 1)[-1].startswith(".")
