"""What comes in is bounded in size, number and kind; names lead nowhere. Numbers: OWASP ASVS 4.0.3, from memory."""

from __future__ import annotations

import asyncio
import io
import socket
import zipfile
from collections.abc import AsyncIterator
from dataclasses import dataclass
from pathlib import Path
from uuid import uuid4

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from firstrocker.web.incoming import MEGABYTE, MOST_BYTES, Upload, UploadError, receive
from web.served import Server, Visitor
from web.small_session import WORN, log, logs, parts


@dataclass
class Handing:
    """A clinician with an empty session, and where its logs lie."""

    visitor: Visitor
    session: str
    data: Path

    def give(self, **files: bytes) -> str:
        """Hand files in; the page."""
        return self.visitor.upload(f"{self.session}/logs", parts(files)).text

    @property
    def kept(self) -> list[bytes]:
        """The logs on the disk."""
        key = self.session.rpartition("/")[2]
        return [path.read_bytes() for path in sorted(self.data.glob(f"people/*/uploads/{key}/*"))]

    @property
    def on_their_way(self) -> list[Path]:
        """What lies in the folder for uploads under way."""
        return list((self.data / "incoming").rglob("*"))


HANDING: dict[str, Visitor] = {}


@pytest.fixture
def handing(server: Server, request: pytest.FixtureRequest) -> Handing:
    """A session of a person of this test's own."""
    visitor = HANDING.get(server.address) or HANDING.setdefault(
        server.address, server.account("hand", clinic="Hand clinic")
    )
    session = visitor.new_session(f"H{uuid4().hex[:12]}")
    visitor.post(f"{session}/details", **WORN, go="on")
    return Handing(visitor, session, server.data)


def zipped(files: dict[str, bytes]) -> bytes:
    whole = io.BytesIO()
    with zipfile.ZipFile(whole, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in files.items():
            archive.writestr(name, content)
    return whole.getvalue()


def test_a_zip_of_logs_is_taken_apart(handing: Handing) -> None:
    packed = zipped({f"day 1/{name}": content for name, content in logs().items()} | {"__MACOSX/._a_foot.csv": b"\0"})
    page = handing.give(**{"session.zip": packed})
    assert "walk a, left foot" in page
    assert "Before it can run" not in page
    assert sorted(handing.kept) == sorted(logs().values())
    assert handing.on_their_way == []


def test_a_parquet_log_is_taken(handing: Handing) -> None:
    rows = np.loadtxt(io.BytesIO(log("slap", "foot")), delimiter=",", skiprows=1)
    written = io.BytesIO()
    pq.write_table(pa.table(dict(zip(["t", "ax", "ay", "az", "gx", "gy", "gz"], rows.T, strict=True))), written)
    page = handing.give(**{"a_foot.parquet": written.getvalue()})
    assert "9.73 m/s² while quiet" in page


def test_the_same_log_is_not_taken_twice(handing: Handing) -> None:
    """Sent again under another name, beside a new one."""
    first = {"a_foot.csv": logs()["a_foot.csv"]}
    handing.give(**first)
    handing.give(**{"again.csv": first["a_foot.csv"], "b_foot.csv": logs()["b_foot.csv"]})
    handing.give(**{"twice.zip": zipped({"x.csv": first["a_foot.csv"], "y.csv": first["a_foot.csv"]})})
    assert sorted(handing.kept) == sorted([first["a_foot.csv"], logs()["b_foot.csv"]])


@pytest.mark.parametrize(
    ("name", "content", "said"),
    [
        ("notes.docx", zipped({"word/document.xml": b"<x/>"}), "Logs are taken as"),
        ("table.xlsx", zipped({"xl/workbook.xml": b"<x/>"}), "Logs are taken as"),
        ("photo.png", b"\x89PNG\r\n\x1a\n" + bytes(100), "Logs are taken as"),
        ("run.csv", b"MZ\0\0" + bytes(100), "binary form"),
        ("empty.csv", b"", "The file is empty"),
        ("broken.zip", b"PK\3\4" + bytes(40), "damaged"),
        ("inner.zip", zipped({"deeper.zip": zipped({"a.csv": b"t\n1\n"})}), "Logs are taken as"),
        ("page.html", b"<html>", "Logs are taken as"),
    ],
)
def test_wrong_files_are_refused_in_words(handing: Handing, name: str, content: bytes, said: str) -> None:
    """[12.2.1, 12.1.1]."""
    page = handing.give(**{name: content})
    assert said in page
    assert name in page
    assert handing.kept == []
    assert handing.on_their_way == []


def test_a_file_that_no_logger_wrote_is_told_and_does_not_run(handing: Handing) -> None:
    page = handing.give(**{"a_foot.csv": b"a,b\n1,2\n"})
    assert "No known logger" in page or "cannot be read" in page
    assert "Before it can run" in page
    assert handing.visitor.post(f"{handing.session}/run").status_code == 400


@pytest.mark.parametrize(
    "name", ["../../evil.csv", "..\\..\\evil.csv", "/etc/cron.d/evil.csv", "C:\\evil.csv", "a/../evil.csv"]
)
def test_names_are_shown_and_are_never_paths(handing: Handing, name: str) -> None:
    """[12.3.1, 12.3.2, 12.3.3]."""
    before = {path for path in handing.data.parent.rglob("*") if "evil" in path.name}
    page = handing.give(**{name: logs()["a_foot.csv"], "in.zip": zipped({name: logs()["b_foot.csv"]})})
    assert "<h3>evil.csv" in page
    assert {path for path in handing.data.parent.rglob("*") if "evil" in path.name} == before == set()


def test_zip_bombs_are_refused(handing: Handing) -> None:
    """[12.1.2]: a gigabyte of zeros in a megabyte, many small ones, and sizes that lie."""
    page = handing.give(**{"bomb.zip": zipped({"a_foot.csv": bytes(300 * MEGABYTE)})})
    assert "far too large unpacked" in page
    page = handing.give(**{"many.zip": zipped({f"{n}.csv": b"t\n" for n in range(200)})})
    assert "more than 64 files" in page
    lying = bytearray(zipped({"a_foot.csv": bytes(10 * MEGABYTE)}))
    at = lying.rfind(b"PK\1\2")
    lying[at + 24 : at + 28] = (10).to_bytes(4, "little")
    page = handing.give(**{"lying.zip": bytes(lying)})
    assert "bomb" in page or "damaged" in page or "too large" in page or "binary form" in page
    assert handing.kept == []
    assert handing.on_their_way == []


def test_a_parquet_bomb_is_refused_by_what_it_claims(handing: Handing) -> None:
    """[12.1.2]: seventy million values in a few kB."""
    column = pa.DictionaryArray.from_arrays(pa.array(np.zeros(10_000_000, np.int8)), pa.array([1.0]))
    written = io.BytesIO()
    pq.write_table(pa.table(dict.fromkeys(("t", "ax", "ay", "az", "gx", "gy", "gz"), column)), written)
    assert len(written.getvalue()) < 2 * MEGABYTE
    assert "that is no walk" in handing.give(**{"a_foot.parquet": written.getvalue()})


def test_a_file_that_is_too_large_is_refused_while_it_comes(handing: Handing) -> None:
    """[12.1.1, 12.1.3]."""
    answer = handing.visitor.upload(f"{handing.session}/logs", parts({"a_foot.csv": bytes(MOST_BYTES + MEGABYTE)}))
    assert answer.status_code == 413
    assert "larger than 64 MB" in answer.text
    assert handing.on_their_way == []


def test_too_many_files_are_refused(handing: Handing) -> None:
    """[12.1.3]."""
    answer = handing.visitor.upload(f"{handing.session}/logs", parts({f"{n}.csv": b"t\n" for n in range(65)}))
    assert answer.status_code == 413
    assert handing.kept == []
    assert handing.on_their_way == []


def test_an_upload_that_breaks_off_leaves_nothing(handing: Handing, server: Server) -> None:
    token = handing.visitor.token
    cookie = handing.visitor.client.cookies["firstrocker"]
    head = (
        f"POST {handing.session}/logs HTTP/1.1\r\nHost: 127.0.0.1:{server.port}\r\nCookie: firstrocker={cookie}\r\n"
        "Content-Type: multipart/form-data; boundary=b\r\nContent-Length: 100000\r\n\r\n"
        f'--b\r\nContent-Disposition: form-data; name="form_token"\r\n\r\n{token}\r\n'
        '--b\r\nContent-Disposition: form-data; name="any"; filename="a_foot.csv"\r\n\r\nt,ax,ay\r\n'
    )
    with socket.create_connection(("127.0.0.1", server.port)) as line:
        line.sendall(head.encode())
        for _ in range(400):
            if any(path.is_file() for path in handing.on_their_way):
                break
            handing.visitor.client.get("/static/mark.svg")
    for _ in range(400):
        if not handing.on_their_way:
            break
        handing.visitor.client.get("/static/mark.svg")
    assert handing.on_their_way == []
    assert handing.kept == []


MULTIPART = "multipart/form-data; boundary=b"


def received(body: bytes, incoming: Path, *, kind: str = MULTIPART, most: int = MEGABYTE) -> Upload:
    """Take a body in, byte group by byte group."""

    async def stream() -> AsyncIterator[bytes]:
        for start in range(0, len(body), 7):
            yield body[start : start + 7]

    return asyncio.run(
        receive(kind, stream(), incoming=incoming, permit=lambda fields: fields.get("t") == "1", most=most)
    )


TOKEN = b'--b\r\nContent-Disposition: form-data; name="t"\r\n\r\n1\r\n'
FILE = b'--b\r\nContent-Disposition: form-data; name="any"; filename="a.csv"\r\n\r\nt,x\r\n1,2\r\n'


def test_a_form_in_the_smallest_pieces(tmp_path: Path) -> None:
    upload = received(TOKEN + FILE + b"--b--\r\n", tmp_path)
    (file,) = upload.files
    assert (file.name, file.field, file.bytes, file.path.read_bytes()) == ("a.csv", "any", 8, b"t,x\r\n1,2")
    upload.close()
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("body", "kind", "status"),
    [
        (TOKEN + FILE, MULTIPART, 400),
        (TOKEN + FILE + b"--b--\r\n", "text/plain", 415),
        (TOKEN + FILE + b"--b--\r\n", "multipart/form-data", 415),
        (FILE + TOKEN + b"--b--\r\n", MULTIPART, 403),
        (
            TOKEN + 500 * b'--b\r\nContent-Disposition: form-data; name="f"\r\n\r\n1\r\n' + b"--b--\r\n",
            "multipart/form-data; boundary=b",
            413,
        ),
        (TOKEN + b"--b\r\nnothing\r\n\r\n\r\n--b--\r\n", MULTIPART, 400),
        (TOKEN + FILE[:-4] + bytes(2 * MEGABYTE), MULTIPART, 413),
        (b"", MULTIPART, 400),
        (b"\xff" * 5000, MULTIPART, 400),
    ],
    ids=["broke off", "no form", "no boundary", "file before token", "fields", "header", "too large", "empty", "noise"],
)
def test_broken_forms_leave_nothing(tmp_path: Path, body: bytes, kind: str, status: int) -> None:
    """[12.1.1, 12.1.3, 13.1.1]."""
    with pytest.raises(UploadError) as refused:
        received(body, tmp_path, kind=kind)
    assert refused.value.status == status
    assert list(tmp_path.iterdir()) == []
