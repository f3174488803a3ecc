"""One server for all tests that do no harm to it."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from web.served import Server


@pytest.fixture(scope="package")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """A server on a folder of its own."""
    running = Server(tmp_path_factory.mktemp("web") / "clinic").start()
    yield running
    running.stop()
    assert "Traceback" not in running.log, running.log
