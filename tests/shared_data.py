"""Where the open recordings lie, and how a test says that they are not there.

They are no part of the project: a checkout may stand beside a folder ``shared/data`` that holds them, each set as its
authors published it with its licence beside it. Nothing of them is ever copied into the repository.
"""

from __future__ import annotations

from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
DATA = ROOT.parent / "shared" / "data"


def needs(name: str) -> pytest.MarkDecorator:
    """Skip, saying so, where the set of that name is absent."""
    folder = DATA / name
    return pytest.mark.skipif(not folder.is_dir(), reason=f"the open recordings ../shared/data/{name} are not here")
