"""An inbox in, a study folder and ``nightly/intake.parquet`` out."""

from __future__ import annotations

from pathlib import Path

import pyarrow as pa

from firstrocker import tables
from firstrocker.errors import SettingsError
from firstrocker.files import write_table
from firstrocker.inbox.night import Night, take_in
from firstrocker.layout import NIGHTLY
from firstrocker.settings import Settings

SECTIONS = ("nightly",)
"""The sections of the settings that this step's results depend on."""


def make_intake(inbox: Path, study: Path, results: Path, *, settings: Settings, now: float | None = None) -> Night:
    """Take what is whole of an inbox into a study, and write what became of every file.

    Args:
        inbox: the folder that loggers fill; nothing in it is changed.
        study: the study folder.
        results: the results folder; its ``nightly/intake.parquet`` is written.
        settings: the section nightly is used.
        now: seconds since 1970; the clock's own where it is not given.

    Raises:
        SettingsError: there is no inbox.
        BusyError: another intake is at work on the study.
    """
    if not inbox.is_dir():
        raise SettingsError("there is no such folder.", where=f"inbox={inbox}", remedy="Mend the path.")
    nightly = settings.nightly
    night = take_in(inbox, study, settle_min=nightly.settle_min, patience_h=nightly.patience_h, now=now)
    write_table(results / NIGHTLY / "intake.parquet", pa.Table.from_pylist(list(night.rows), schema=tables.INTAKE))
    return night
