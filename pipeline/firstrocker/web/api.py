"""For devices: a session handed in by a programme, with a token that allows nothing else."""

from __future__ import annotations

from starlette.routing import BaseRoute


def routes() -> list[BaseRoute]:
    """The addresses of the interface for devices."""
    return []
