"""Files on their way in: streamed to the disk, bounded in size, number and kind while they come.

A file is taken to the disk under a name of our own; the name it was given is kept to be shown and for nothing else.
"""

from __future__ import annotations

import hashlib
import shutil
from collections.abc import AsyncIterator, Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO

from python_multipart.exceptions import FormParserError
from python_multipart.multipart import MultipartParser, parse_options_header

from firstrocker.errors import FirstrockerError
from firstrocker.web.place import new_key

if TYPE_CHECKING:
    from python_multipart.multipart import MultipartCallbacks

MEGABYTE = 1 << 20
MOST_BYTES = 64 * MEGABYTE
"""Of one file: an hour of one sensor at 200 Hz is some 50 MB of text."""
MOST_REQUEST = 512 * MEGABYTE
MOST_FILES = 64
MOST_FIELDS, MOST_FIELD_BYTES = 400, 64 * 1024
MOST_NAME = 200


class UploadError(FirstrockerError):
    """An upload that is not taken."""

    code = "upload"

    def __init__(self, what: str, *, where: str = "", remedy: str = "", status: int = 400) -> None:
        super().__init__(what, where=where, remedy=remedy)
        self.status = status


@dataclass(frozen=True)
class Arrived:
    """One file on the disk: its path, the field it came in, the name it was given, its size and SHA-256."""

    path: Path
    field: str
    name: str
    bytes: int
    sha256: str


@dataclass
class Upload:
    """A form with files; ``folder`` holds the files and goes with :meth:`close`."""

    folder: Path
    fields: dict[str, str] = field(default_factory=dict)
    files: list[Arrived] = field(default_factory=list)

    def close(self) -> None:
        """Take away whatever was not moved out."""
        shutil.rmtree(self.folder, ignore_errors=True)


async def receive(
    content_type: str,
    stream: AsyncIterator[bytes],
    *,
    incoming: Path,
    permit: Callable[[dict[str, str]], bool],
    most: int = MOST_REQUEST,
) -> Upload:
    """Take a multipart form in.

    Args:
        content_type: the request's header.
        stream: the request's body.
        incoming: folder to make the upload's folder in.
        permit: asked with the fields that came before the first file; nothing is written where it says no.
        most: bytes of the whole form.

    Raises:
        UploadError: too large, too many, not a form, or not permitted; nothing is left on the disk.
    """
    kind, options = parse_options_header(content_type.encode("latin-1", "replace"))
    boundary = options.get(b"boundary")
    if kind != b"multipart/form-data" or not boundary:
        raise UploadError("This is not a form with files.", status=415)
    upload = Upload(incoming / new_key())
    parts = _Parts(upload, permit)
    parser = MultipartParser(boundary, parts.callbacks())
    taken = 0
    try:
        async for chunk in stream:
            taken += len(chunk)
            if taken > most:
                raise UploadError(
                    f"All files together are larger than {most // MEGABYTE} MB.",
                    remedy="Hand them in in several goes.",
                    status=413,
                )
            parser.write(chunk)
        parser.finalize()
        parts.check_whole()
    except FormParserError:
        parts.close()
        upload.close()
        raise UploadError("The form came in broken or unfinished.", remedy="Send it again.") from None
    except BaseException:
        parts.close()
        upload.close()
        raise
    return upload


class _Parts:
    """What the parser found so far."""

    def __init__(self, upload: Upload, permit: Callable[[dict[str, str]], bool]) -> None:
        self.upload, self.permit = upload, permit
        self.headers: dict[bytes, bytes] = {}
        self.header, self.value = b"", b""
        self.name, self.given = "", ""
        self.text = bytearray()
        self.file: BinaryIO | None = None
        self.path = upload.folder
        self.digest, self.size, self.seen = hashlib.sha256(), 0, 0
        self.permitted = self.ended = False

    def callbacks(self) -> MultipartCallbacks:
        return {
            "on_part_begin": self.on_part_begin,
            "on_part_data": self.on_part_data,
            "on_part_end": self.on_part_end,
            "on_header_field": self.on_header_field,
            "on_header_value": self.on_header_value,
            "on_header_end": self.on_header_end,
            "on_headers_finished": self.on_headers_finished,
            "on_end": self.on_end,
        }

    def on_part_begin(self) -> None:
        self.headers, self.header, self.value = {}, b"", b""
        self.text, self.given = bytearray(), ""

    def on_header_field(self, data: bytes, start: int, end: int) -> None:
        self.header += data[start:end]

    def on_header_value(self, data: bytes, start: int, end: int) -> None:
        self.value += data[start:end]

    def on_header_end(self) -> None:
        self.headers[self.header.lower()] = self.value
        self.header, self.value = b"", b""

    def on_headers_finished(self) -> None:
        _, options = parse_options_header(self.headers.get(b"content-disposition", b""))
        self.name = options.get(b"name", b"").decode("utf-8", "replace")[:MOST_NAME]
        if b"filename" not in options:
            self._count_field()
            return
        self.given = shown_name(options[b"filename"].decode("utf-8", "replace"))
        if not self.given:
            return  # a file field that was left empty
        self._count_file()
        self.upload.folder.mkdir(exist_ok=True)
        self.path = self.upload.folder / new_key()
        self.file, self.digest, self.size = self.path.open("xb"), hashlib.sha256(), 0

    def on_part_data(self, data: bytes, start: int, end: int) -> None:
        if self.file is not None:
            self.size += end - start
            if self.size > MOST_BYTES:
                raise UploadError(
                    f"The file is larger than {MOST_BYTES // MEGABYTE} MB.",
                    where=self.given,
                    remedy="Cut it to the walk alone.",
                    status=413,
                )
            piece = data[start:end]
            self.digest.update(piece)
            self.file.write(piece)
        elif not self.given:
            self.text += data[start:end]
            if len(self.text) > MOST_FIELD_BYTES:
                raise UploadError("A field is too long.", status=413)

    def on_part_end(self) -> None:
        if self.file is not None:
            self.file.close()
            self.file = None
            self.upload.files.append(Arrived(self.path, self.name, self.given, self.size, self.digest.hexdigest()))
        elif not self.given:
            self.upload.fields[self.name] = self.text.decode("utf-8", "replace")

    def on_end(self) -> None:
        self.ended = True

    def check_whole(self) -> None:
        if not self.ended:
            raise UploadError("The upload broke off.", remedy="Send it again.")
        self._ask()

    def close(self) -> None:
        if self.file is not None:
            self.file.close()

    def _count_field(self) -> None:
        self.seen += 1
        if self.seen > MOST_FIELDS:
            raise UploadError("The form has too many fields.", status=413)

    def _count_file(self) -> None:
        self._ask()
        if len(self.upload.files) >= MOST_FILES:
            raise UploadError(
                f"More than {MOST_FILES} files at once.", remedy="Hand them in in several goes.", status=413
            )

    def _ask(self) -> None:
        if not self.permitted and not self.permit(self.upload.fields):
            raise UploadError("This form is not valid any more.", remedy="Load the page again.", status=403)
        self.permitted = True


def shown_name(given: str) -> str:
    """A file's name as it may be shown: the last part of a path, short, nothing unprintable.

    >>> shown_name("../../etc/a_foot.csv")
    'a_foot.csv'
    """
    last = given.replace("\\", "/").rsplit("/", 1)[-1]
    return "".join(sign if sign.isprintable() else "?" for sign in last)[-MOST_NAME:].strip()
