"""The demo study: an invented clinic, invented people, sensors with a known truth."""

from __future__ import annotations

from pathlib import Path

from firstrocker.errors import SessionError
from firstrocker.files import new_folder
from firstrocker.synth.study import write_demo_study


def make_demo(folder: Path, *, seed: int = 1) -> None:
    """Write the demo study, whole or not at all.

    Raises:
        SessionError: the folder holds something already.
    """
    if folder.is_dir() and any(folder.iterdir()):
        raise SessionError("the folder is not empty.", where=str(folder), remedy="Name a new folder, or empty it.")
    with new_folder(folder) as temporary:
        write_demo_study(temporary, seed=seed)
