"""Places for inboxes, in memory where there is such a folder: every file is forced to the disk, and disks are slow."""

import os
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from nightly.inboxes import Place

MEMORY = Path("/dev/shm")  # noqa: S108


def quick_folder() -> "tempfile.TemporaryDirectory[str]":
    """A folder that is deleted after use."""
    return tempfile.TemporaryDirectory(dir=MEMORY if os.access(MEMORY, os.W_OK) else None)


@pytest.fixture
def place() -> Iterator[Place]:
    with quick_folder() as folder:
        yield Place(Path(folder))
