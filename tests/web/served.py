"""A real server in a process of its own, and a visitor that fills its forms in as a browser would."""

from __future__ import annotations

import os
import re
import signal
import socket
import subprocess
import sys
import time
from dataclasses import dataclass, field
from html import unescape
from pathlib import Path

import httpx

from firstrocker.web.accounts import Role, add_account
from firstrocker.web.store import Store

REPOSITORY = Path(__file__).resolve().parents[2]
PASSWORD = "four walks before noon"  # noqa: S105  (of accounts that live as long as a test)


def free_port() -> int:
    """A port that nobody listens on."""
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        return int(listener.getsockname()[1])


def environment() -> dict[str, str]:
    """The tests' own environment with this repository's package first in line."""
    return os.environ | {"PYTHONPATH": str(REPOSITORY / "pipeline"), "PYTHONUNBUFFERED": "1"}


def firstrocker(*arguments: str, told: str = "") -> subprocess.CompletedProcess[str]:
    """One command of the command line, to its end."""
    return subprocess.run(
        [sys.executable, "-m", "firstrocker", *arguments],
        input=told,
        capture_output=True,
        text=True,
        env=environment(),
        timeout=60,
        check=False,
    )


@dataclass
class Server:
    """``firstrocker serve`` on a folder."""

    data: Path
    port: int = field(default_factory=free_port)
    more: tuple[str, ...] = ()
    host: str = ""
    process: subprocess.Popen[str] | None = None
    told: str = ""

    @property
    def address(self) -> str:
        """Where it listens."""
        return f"http://127.0.0.1:{self.port}"

    def start(self) -> Server:
        """Start it and wait until it answers."""
        log = (self.data.parent / f"{self.data.name}.log").open("a")
        with log:
            self.process = subprocess.Popen(
                [
                    sys.executable,
                    "-m",
                    "firstrocker",
                    "serve",
                    "--data",
                    str(self.data),
                    "--port",
                    str(self.port),
                    *self.more,
                ],
                stdout=subprocess.PIPE,
                stderr=log,
                text=True,
                env=environment(),
            )
        assert self.process.stdout is not None
        deadline = time.monotonic() + 60
        while time.monotonic() < deadline:
            try:
                httpx.get(f"{self.address}/static/mark.svg", headers=self._host(), timeout=5)
                break
            except httpx.TransportError:
                assert self.process.poll() is None, self.log
                time.sleep(0.05)
        os.set_blocking(self.process.stdout.fileno(), False)
        self.told = self.process.stdout.read() or ""
        return self

    def _host(self) -> dict[str, str]:
        return {"host": self.host or f"127.0.0.1:{self.port}"}

    @property
    def log(self) -> str:
        """What it wrote on standard error."""
        return (self.data.parent / f"{self.data.name}.log").read_text()

    @property
    def first_link(self) -> str:
        """The address of the one-time link it told at its first start."""
        found = re.search(r"(/welcome/\S+)", self.told)
        assert found is not None, self.told
        return found.group(1)

    def kill(self, number: signal.Signals = signal.SIGKILL) -> int:
        """As a power cut would, or with another signal; the status it ended with."""
        assert self.process is not None
        self.process.send_signal(number)
        self._over()
        return int(self.process.returncode)

    def stop(self) -> None:
        """As Ctrl+C would."""
        if self.process is not None and self.process.poll() is None:
            self.process.send_signal(signal.SIGINT)
            self._over()

    def _over(self) -> None:
        assert self.process is not None
        assert self.process.stdout is not None
        self.process.wait(timeout=40)
        self.process.stdout.close()

    @property
    def store(self) -> Store:
        """The database that it works on."""
        return Store(self.data / "clinic.sqlite")

    def account(self, name: str, *, clinic: str = "Invented clinic", role: Role = "clinician") -> Visitor:
        """A new account, signed in."""
        with self.store.writing() as connection:
            add_account(connection, clinic=clinic, name=name, role=role, password=PASSWORD)
        visitor = Visitor(self.address)
        visitor.sign_in(name)
        assert visitor.path == "/"
        return visitor


class Visitor:
    """A browser without scripts: keeps cookies, follows, reads forms."""

    def __init__(self, address: str) -> None:
        # No connection outlives its answer, so that none has to be closed.
        limits = httpx.Limits(max_keepalive_connections=0)
        self.client = httpx.Client(base_url=address, follow_redirects=True, timeout=60, limits=limits)
        self.page = ""
        self.path = "/"

    def get(self, path: str) -> httpx.Response:
        """Go there."""
        return self._seen(self.client.get(path))

    def post(self, path: str, /, **fields: str) -> httpx.Response:
        """Send a form with the token of the last page that had one."""
        return self._seen(self.client.post(path, data={"form_token": self.token} | fields))

    def upload(self, path: str, files: list[tuple[str, tuple[str, bytes]]], **fields: str) -> httpx.Response:
        """Send a form with files, its fields first."""
        data = {"form_token": self.token} | fields
        parts = [*((name, (None, value.encode())) for name, value in data.items()), *files]
        return self._seen(self.client.post(path, files=parts))

    def _seen(self, answer: httpx.Response) -> httpx.Response:
        self.path = answer.url.path
        if answer.headers.get("content-type", "").startswith("text/html"):
            self.page = unescape(answer.text)
        return answer

    @property
    def token(self) -> str:
        """The token in the forms of the last page."""
        found = re.search(r'name="form_token" value="([^"]*)"', self.page)
        return found.group(1) if found else ""

    def sign_in(self, name: str, password: str = PASSWORD) -> httpx.Response:
        """Sign in."""
        self.get("/signin")
        return self.post("/signin", name=name, password=password)

    def new_session(self, code: str = "K7", label: str = "20260302") -> str:
        """A new person with a new session; its address."""
        self.get("/")
        self.post("/people", code=code)
        return self.another_session(label)

    def another_session(self, label: str) -> str:
        """A new session of the person on the page; its address."""
        once = re.search(r'name="once" value="(\w+)"', self.page)
        assert once is not None, self.page
        self.post(f"{self.path}/sessions", label=label, once=once.group(1))
        return self.path.removesuffix("/details")

    def wait_for_report(self, session: str, *, seconds: float = 120) -> str:
        """Reload a session's page until its run has ended; the page."""
        deadline = time.monotonic() + seconds
        while time.monotonic() < deadline:
            self.get(session)
            if "data-again" not in self.page:
                return self.page
            time.sleep(0.2)
        raise AssertionError(f"the run does not end:\n{self.page}")
