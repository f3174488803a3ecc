"""The server killed outright in the middle of an upload and of a run: nothing is lost, nothing doubled."""

from __future__ import annotations

import hashlib
import signal
import socket
from collections.abc import Iterator
from pathlib import Path

import pytest

from web.served import Server, firstrocker
from web.small_session import WORN, logs, parts
from workflow.kills import processes_in, wait_for
from workflow.runs import snakemake


@pytest.fixture
def frail(tmp_path: Path) -> Iterator[Server]:
    """A server to be killed."""
    server = Server(tmp_path / "clinic").start()
    yield server
    server.stop()


def files_below(folder: Path) -> dict[str, str]:
    found = (path for path in sorted(folder.rglob("*")) if path.is_file() and "logs" not in path.parts)
    return {str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest() for path in found}


def test_killed_in_an_upload_and_in_a_run(frail: Server, tmp_path: Path) -> None:
    visitor = frail.account("ada", role="admin")
    session = visitor.new_session("K1")
    visitor.post(f"{session}/details", **WORN, go="on")
    page = f"{session}/logs"
    visitor.upload(page, parts({name: content for name, content in logs().items() if name.startswith("a")}))

    # In the middle of an upload: the first of two logs has come whole, the second in part.
    body = f'--b\r\nContent-Disposition: form-data; name="form_token"\r\n\r\n{visitor.token}\r\n'.encode()
    for name in ("b_foot.csv", "b_shank.csv"):
        body += f'--b\r\nContent-Disposition: form-data; name="any"; filename="{name}"\r\n\r\n'.encode()
        body += logs()[name] + b"\r\n"
    head = (
        f"POST {page} HTTP/1.1\r\nHost: 127.0.0.1:{frail.port}\r\n"
        f"Cookie: firstrocker={visitor.client.cookies['firstrocker']}\r\n"
        f"Content-Type: multipart/form-data; boundary=b\r\nContent-Length: {len(body) + 7}\r\n\r\n"
    ).encode()
    with socket.create_connection(("127.0.0.1", frail.port)) as line:
        line.sendall(head + body[:-5000])
        wait_for(lambda: len([path for path in (frail.data / "incoming").rglob("*") if path.is_file()]) == 2)
        frail.kill()
    frail.start()
    assert list((frail.data / "incoming").iterdir()) == []
    assert "a_foot.csv" in visitor.get(page).text
    assert "b_foot.csv" not in visitor.page.split("What was understood")[1].split("Run</h2>")[0]
    visitor.upload(page, parts(logs()))
    assert visitor.page.count("<h3>") == 4

    # In the middle of a run, as soon as its first result stands there.
    visitor.post(f"{session}/run")
    (person,) = (frail.data / "people").iterdir()
    wait_for(lambda: list(person.rglob("curves.parquet")))
    assert processes_in(frail.data) != []
    frail.kill()
    wait_for(lambda: processes_in(frail.data) == [], seconds=10)
    frail.start()
    visitor.wait_for_report(session)
    assert "Read the report" in visitor.page
    with frail.store.reading() as connection:
        runs = connection.execute("select state, tries from run where session is not null").fetchall()
    assert [tuple(run) for run in runs] == [("done", 2)]

    # Nobody is left working there, and the workflow by itself makes the same of the same study folder.
    frail.stop()
    assert processes_in(frail.data) == []
    by_itself = tmp_path / "by itself"
    by_itself.mkdir()
    done = snakemake(by_itself, "--config", f"study={person / 'study'}", "results=results")
    assert done.status == 0, done.text
    assert files_below(by_itself / "results" / "sub-K1") == files_below(person / "results" / "sub-K1")


def test_a_terminal_that_is_closed_ends_it_as_a_request_does(frail: Server) -> None:
    assert frail.kill(signal.SIGHUP) == -signal.SIGTERM


def test_a_second_server_leaves_the_first_one_alone(frail: Server) -> None:
    second = firstrocker("serve", "--data", str(frail.data), "--port", "1")
    assert second.returncode == 2
    assert "being served already" in second.stderr
