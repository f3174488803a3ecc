"""What a file of columns holds, how it is laid out, and how a column that is not there is told."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import NoReturn

from firstrocker.errors import LogError
from firstrocker.model import Finding, FloatArray
from firstrocker.signals.cells import NUMBER
from firstrocker.signals.strict import did_you_mean, quoted

SPACES = "spaces"
"""What a profile calls the delimiter of columns that are parted by any number of spaces and tabs."""


MAX_ROWS = 5_000_000
"""Seven hours at 200 Hz; more would fill the memory."""


@dataclass(frozen=True)
class Table:
    """Columns by name, each (n,) with NaN for an empty cell; ``stamps`` holds text or stamp columns as seconds."""

    numbers: dict[str, FloatArray]
    stamps: dict[str, FloatArray] = field(default_factory=dict)
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True)
class Layout:
    """How a delimited text reads; without a header, columns are called by their place: ``1``, ``2`` and so on."""

    delimiter: str = ","
    decimal: str = "."
    comment: str | None = None
    skip_rows: int = 0
    header: bool = True
    skip_below: int = 0


@dataclass(frozen=True)
class Choice:
    """The rows that are to be read: those whose cell in ``column`` is ``equals``."""

    column: str
    equals: str


@dataclass(frozen=True)
class Wanted:
    """Which columns to read as what, and of which rows. part: of a longer log, so that there may be no such row."""

    numbers: list[str]
    stamps: list[str] = field(default_factory=list)
    rows: Choice | None = None
    part: bool = False

    @property
    def names(self) -> list[str]:
        """Every column that must be there."""
        return [*self.numbers, *self.stamps, *([self.rows.column] if self.rows else [])]


def missing_column(name: str, present: list[str], *, where: str, delimiter: str = "", named: bool = True) -> NoReturn:
    """Refuse a table without the column ``name``, saying which it has.

    Raises:
        LogError: always.
    """
    shown = ", ".join(quoted(column, limit=30) for column in present[:12]) + (" ..." if len(present) > 12 else "")
    what = f"The file has no column {quoted(name)}. Its columns are: {shown}."
    if len(present) == 1 and delimiter:
        other = next((sign for sign in ";\t,| " if sign != delimiter and sign in present[0].strip()), None)
        if other is not None:
            raise LogError(
                f"The first line does not fall into columns at {_named(delimiter)}: it reads {quoted(present[0])}.",
                where=where,
                remedy=f"It looks parted by {_named(other)}: set 'delimiter' in the logger profile so.",
            )
    if not named:
        raise LogError(
            f"The file has no column {quoted(name)}: its first line has {len(present)}.",
            where=where,
            remedy="Check 'delimiter' and the columns' places in the logger profile.",
        )
    if present and all(re.match(NUMBER, column) for column in present):
        raise LogError(
            f"The first line holds numbers ({shown}), not the names of columns.",
            where=where,
            remedy="Check 'skip_rows' in the logger profile; or, if there is no line of names, write 'header: false' "
            "and give the columns' places, counted from 1.",
        )
    hint = did_you_mean(name, present, also="") if present else ""
    hint = hint if hint.startswith("Did") else ""
    remedy = f"{hint} Write the right names under 'columns' in the logger profile.".strip()
    raise LogError(what, where=where, remedy=remedy)


def _named(sign: str) -> str:
    return {"\t": "a tab", " ": "a space", ",": "a comma", ";": "a semicolon"}.get(sign, f"'{sign}'")
