"""Taking people away with everything derived, and backing everything up. Numbers: OWASP ASVS 4.0.3, from memory."""

from __future__ import annotations

import json
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from firstrocker.web.backup import BackupError, back_up, restore
from web.served import Server, Visitor, firstrocker
from web.small_session import WORN, logs, parts


@pytest.fixture
def own(tmp_path: Path) -> Iterator[Server]:
    """A server of one test's own."""
    server = Server(tmp_path / "clinic").start()
    yield server
    server.stop()
    assert "Traceback" not in server.log, server.log


def holding(folder: Path, word: bytes) -> list[Path]:
    """Files and folders in which a word stands, in the name or in the bytes."""
    return [
        path
        for path in folder.rglob("*")
        if word in path.name.encode() or (path.is_file() and word in path.read_bytes())
    ]


def test_a_person_goes_with_everything_derived(own: Server) -> None:
    """[8.3.2, 8.3.8]: before, during and after a run; no byte of the code is left but in the other person's."""
    visitor = own.account("ada", role="admin")
    visitor.new_session("KEPT5")
    session = visitor.new_session("GONE4711")
    person = through(visitor, session, "20260302")
    visitor.post(f"{session}/details", **WORN | {"label2": "other"}, go="on")
    visitor.get(f"{session}/logs")
    visitor.post(f"{session}/run")  # deleted while this run goes

    visitor.get(f"{person}/delete")
    assert visitor.post(f"{person}/delete", sure="something else").status_code == 400
    assert holding(own.data, b"GONE4711")
    visitor.get(f"{person}/delete")
    visitor.post(f"{person}/delete", sure="gone4711")
    assert visitor.path == "/"
    assert holding(own.data, b"GONE4711") == []
    assert holding(own.data, b"KEPT5")
    assert visitor.get(session).status_code == 404
    assert "person deleted" in visitor.get("/admin/audit").text
    assert len(list((own.data / "people").iterdir())) <= 1


def through(visitor: Visitor, session: str, label: str) -> str:
    """Hand a session in and run it; the person's address."""
    visitor.post(f"{session}/details", **WORN | {"label": label}, go="on")
    visitor.upload(f"{session}/logs", parts(logs()))
    visitor.post(f"{session}/run")
    visitor.wait_for_report(session)
    return visitor.page.split('class="up"><a href="')[1].split('"')[0]


def test_a_session_goes_and_the_others_stay(own: Server) -> None:
    visitor = own.account("ada")
    first = visitor.new_session("P1", "20260302")
    person = through(visitor, first, "20260302")
    visitor.get(person)
    through(visitor, visitor.another_session("20260330"), "20260330")
    visitor.get(f"{first}/delete")
    visitor.post(f"{first}/delete", sure="20260302")
    assert visitor.path == person
    assert "20260302" not in visitor.page
    for _ in range(300):
        if "All sessions side by side" in visitor.page and "being brought up" not in visitor.page:
            break
        visitor.get(person)
    (folder,) = (own.data / "people").iterdir()
    assert [path.name for path in folder.glob("study/sub-P1/*")] == ["ses-20260330"]
    assert [path.name for path in folder.glob("results/sub-P1/ses-*")] == ["ses-20260330"]
    assert holding(folder / "results" / "cohort", b"20260302") == []


def test_a_backup_comes_back_whole_and_nobody_is_signed_in(own: Server, tmp_path: Path) -> None:
    """[8.1.5, 8.1.6]."""
    visitor = own.account("ada")
    session = visitor.new_session("B1")
    visitor.post(f"{session}/details", **WORN, go="on")
    visitor.upload(f"{session}/logs", parts(logs()))
    made = firstrocker("backup", str(tmp_path / "kept.zip"), "--data", str(own.data))  # while it is served
    assert made.returncode == 0, made.stderr
    assert (tmp_path / "kept.zip").stat().st_mode & 0o077 == 0
    back = firstrocker("restore", str(tmp_path / "kept.zip"), "--data", str(tmp_path / "again"))
    assert back.returncode == 0, back.stderr
    again = Server(tmp_path / "again").start()
    try:
        other = Visitor(again.address)
        other.client.cookies.set("firstrocker", visitor.client.cookies["firstrocker"], domain="127.0.0.1")
        assert other.get(session).url.path == "/signin"
        other.client.cookies.clear()
        other.sign_in("ada")
        assert "b_shank.csv" in other.get(f"{session}/logs").text
        other.post(f"{session}/run")
        assert "Read the report" in other.wait_for_report(session)
    finally:
        again.stop()


def test_a_backup_that_is_damaged_or_not_ours_is_refused(tmp_path: Path) -> None:
    with pytest.raises(BackupError, match="no clinic's page"):
        back_up(tmp_path / "nothing", tmp_path / "kept.zip")
    (tmp_path / "no.zip").write_bytes(b"not a zip")
    with pytest.raises(BackupError, match="cannot be read"):
        restore(tmp_path / "no.zip", tmp_path / "a")
    with zipfile.ZipFile(tmp_path / "changed.zip", "w") as archive:
        archive.writestr("clinic.sqlite", "changed")
        archive.writestr("contents.json", json.dumps({"clinic.sqlite": "0" * 64}))
    with pytest.raises(BackupError, match="damaged"):
        restore(tmp_path / "changed.zip", tmp_path / "b")
    with zipfile.ZipFile(tmp_path / "outside.zip", "w") as archive:
        archive.writestr("../evil", "x")
        archive.writestr("contents.json", json.dumps({"../evil": "0" * 64}))
    with pytest.raises(BackupError, match="outside"):
        restore(tmp_path / "outside.zip", tmp_path / "c")
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "something").touch()
    with pytest.raises(BackupError, match="not empty"):
        restore(tmp_path / "changed.zip", tmp_path / "full")
    assert not (tmp_path / "evil").exists()
