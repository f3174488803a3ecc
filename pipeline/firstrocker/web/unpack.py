"""What an uploaded file is, told by its content; archives are unpacked within bounds."""

from __future__ import annotations

import hashlib
import zipfile
import zlib
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

from firstrocker.web.incoming import MEGABYTE, MOST_BYTES, MOST_FILES, Arrived, UploadError, shown_name
from firstrocker.web.place import new_key

MOST_UNPACKED = 512 * MEGABYTE
MOST_RATIO = 200
"""Text packs to a tenth, constant columns to a hundredth; far beyond lies nothing that was measured."""
SUFFIXES = {".csv", ".txt", ".tsv", ".log", ".dat", ".parquet", ".pq", ".zip"}


def logs_in(arrived: Arrived) -> Iterator[Arrived | UploadError]:
    """The logs of an uploaded file: itself, or what an archive holds; a refusal for each that is none.

    One at a time: take each before asking for the next.
    """
    with arrived.path.open("rb") as file:
        head = file.read(4)
    if head[:2] == b"PK" and arrived.name.lower().endswith(".zip"):
        yield from _unpacked(arrived)
        return
    try:
        form_of(arrived)
        yield arrived
    except UploadError as refused:
        yield refused


def form_of(arrived: Arrived) -> str:
    """``parquet`` or ``csv``, by content.

    Raises:
        UploadError: neither.
    """
    suffix = Path(arrived.name).suffix.lower()
    with arrived.path.open("rb") as file:
        head = file.read(64 * 1024)
    if not head:
        raise UploadError("The file is empty.", where=arrived.name, remedy="Copy it from the logger again.")
    if head[:4] == b"PAR1":
        return "parquet"
    if suffix not in SUFFIXES or head[:2] == b"PK":
        raise UploadError(
            "Logs are taken as CSV or other delimited text, as Parquet, or in a zip of these.",
            where=arrived.name,
            remedy="Export or save the log in one of these forms.",
        )
    if b"\0" in head and head[:2] not in (b"\xff\xfe", b"\xfe\xff"):
        raise UploadError(
            "The file is not text but some binary form.",
            where=arrived.name,
            remedy="Export the log as delimited text or Parquet.",
        )
    return "csv"


def _unpacked(arrived: Arrived) -> Iterator[Arrived | UploadError]:
    try:
        with zipfile.ZipFile(arrived.path) as archive:
            members = [one for one in archive.infolist() if not one.is_dir() and not _furniture(one.filename)]
            if len(members) > MOST_FILES:
                raise UploadError(f"The zip holds more than {MOST_FILES} files.", where=arrived.name, status=413)
            room = MOST_UNPACKED
            for member in members:
                one = _member(archive, member, arrived, room)
                room -= one.bytes
                try:
                    form_of(one)
                    yield one
                except UploadError as refused:
                    one.path.unlink()
                    refused.where = f"{arrived.name}, {one.name}"
                    yield refused
    except UploadError as refused:
        yield refused
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, ValueError, OSError):
        yield UploadError(
            "The zip is damaged, locked or packed in an unusual way.",
            where=arrived.name,
            remedy="Pack it again without a password, or hand the logs in as they are.",
        )


def _member(archive: zipfile.ZipFile, member: zipfile.ZipInfo, arrived: Arrived, room: int) -> Arrived:
    """One member on the disk; the sizes that the archive claims are not believed."""
    path = arrived.path.with_name(new_key())
    digest, size = hashlib.sha256(), 0
    most = min(MOST_BYTES, room, MEGABYTE + MOST_RATIO * max(member.compress_size, 1))
    try:
        with archive.open(member) as source, path.open("xb") as target:
            while piece := source.read(64 * 1024):
                size += len(piece)
                if size > most:
                    raise UploadError(
                        "What the zip holds is far too large unpacked.",
                        where=f"{arrived.name}, {shown_name(member.filename)}",
                        remedy="Hand the logs in as they are.",
                        status=413,
                    )
                digest.update(piece)
                target.write(piece)
    except BaseException:
        path.unlink(missing_ok=True)
        raise
    name = shown_name(member.filename)
    return replace(arrived, path=path, name=name, bytes=size, sha256=digest.hexdigest())


def _furniture(name: str) -> bool:
    """What systems put into archives of their own accord."""
    parts = name.replace("\\", "/").split("/")
    return parts[0] == "__MACOSX" or parts[-1].startswith(".") or parts[-1].lower() in ("thumbs.db", "desktop.ini")
