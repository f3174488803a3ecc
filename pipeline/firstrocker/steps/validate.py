"""The accuracy table: what was measured on walks whose truth is known."""

from __future__ import annotations

from pathlib import Path

from firstrocker.files import write_text
from firstrocker.synth.validate import accuracy_table


def make_accuracy_table(out: Path | None = None, *, processes: int = 1) -> str:
    """The table as Markdown; written to ``out`` too where given."""
    table = accuracy_table(processes=processes)
    if out is not None:
        write_text(out, table)
    return table
