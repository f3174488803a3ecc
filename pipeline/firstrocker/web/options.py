"""How the clinic's page is served."""

from __future__ import annotations

import re
from dataclasses import dataclass
from urllib.parse import urlsplit

from firstrocker.errors import SettingsError

LOOPBACK = ("127.0.0.1", "localhost", "::1")


@dataclass(frozen=True)
class Options:
    """Where the page listens, and how browsers reach it.

    origin: ``https://clinic.example`` where a proxy takes the encrypted connections; empty for this machine alone.
    """

    host: str = "127.0.0.1"
    port: int = 8000
    origin: str = ""

    def __post_init__(self) -> None:
        """Refuse what would send health data in the clear.

        Raises:
            SettingsError: an origin that is none, or an address other machines reach without a proxy before it.
        """
        if self.origin and not re.fullmatch(r"https://[A-Za-z0-9.-]+(:\d+)?", self.origin):
            raise SettingsError(
                "an origin is https:// and a host's name, nothing after it.", where=f"--origin {self.origin}"
            )
        if self.host not in LOOPBACK and not self.origin:
            raise SettingsError(
                "other machines could reach this address without encryption.",
                where=f"--host {self.host}",
                remedy="Leave --host away, or put a proxy that takes https before it and name --origin.",
            )

    @property
    def secure(self) -> bool:
        """Whether browsers reach the page over https."""
        return self.origin.startswith("https://")

    @property
    def cookie(self) -> str:
        """The cookie's name; the prefix makes browsers refuse it from anywhere but this very host over https."""
        return "__Host-firstrocker" if self.secure else "firstrocker"

    @property
    def hosts(self) -> list[str]:
        """The values of a request's Host that are answered."""
        if self.origin:
            return [urlsplit(self.origin).netloc]
        return [f"{name}:{self.port}" for name in ("127.0.0.1", "localhost", "[::1]")]

    @property
    def origins(self) -> list[str]:
        """The origins whose forms are taken."""
        return [self.origin] if self.origin else [f"http://{host}" for host in self.hosts]

    @property
    def address(self) -> str:
        """Where a browser finds the page."""
        return self.origin or f"http://{'[::1]' if self.host == '::1' else self.host}:{self.port}"
