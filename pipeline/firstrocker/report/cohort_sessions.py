"""The cohort page's sessions: which to look at first, and every one with its own change in a row."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from firstrocker.measures import BY_COLUMN, MEASURES
from firstrocker.report.numbers import NONE, interval, number, unit_of
from firstrocker.study.multiple import LEADING

Row = Mapping[str, Any]

WHOLE = 60
"""Sessions up to which each row holds intervals and verdicts in words; of more, the change and its mark."""

LOOKED_AT = 60
"""Sessions to look at whose findings are printed; rejected ones come first."""

MARKS = {"higher": "\u25b2", "lower": "\u25bc"}


def to_look_at(sessions: Sequence[Row]) -> tuple[list[Row], int]:
    """Rejected and flagged sessions, rejected ones first, and how many more there are."""
    found = sorted((row for row in sessions if row["status"] != "ok"), key=lambda row: row["status"] != "rejected")
    return found[:LOOKED_AT], max(len(found) - LOOKED_AT, 0)


def every_session(
    sessions: Sequence[Row], comparison: Iterable[Row]
) -> tuple[list[tuple[str, str]], list[dict[str, Any]]]:
    """Label and unit of each leading measure that anyone has, and a row per session.

    Args:
        sessions: rows of the schema SESSIONS.
        comparison: rows of the schema COMPARISON; those of the affected side and of unbraced against braced count.
    """
    affected = {(row["subject"], row["session"]): row["affected_side"] for row in sessions}
    found: dict[tuple[str, str], dict[str, Row]] = {}
    for row in comparison:
        key = (row["subject"], row["session"])
        if row["reference"] == "unbraced" and row["measure"] in LEADING and affected.get(key) == row["side"]:
            found.setdefault(key, {})[row["measure"]] = row
    shown = [m.column for m in MEASURES if m.column in LEADING and any(m.column in one for one in found.values())]
    cell = _cell if len(sessions) <= WHOLE else _small_cell
    rows = [
        {
            "subject": row["subject"],
            "session": row["session"],
            "status": row["status"],
            "steady": f"{row['steady']} of {row['strides']}",
            "cells": [cell(found.get((row["subject"], row["session"]), {}).get(column)) for column in shown],
        }
        for row in sessions
    ]
    return [(BY_COLUMN[column].label, unit_of(BY_COLUMN[column])) for column in shown], rows


def _cell(row: Row | None) -> tuple[str, str, str]:
    """Difference, interval, verdict."""
    if row is None:
        return NONE, "", "not compared"
    decimals = BY_COLUMN[row["measure"]].decimals
    return number(row["difference"], decimals, signed=True), interval(row), row["verdict"]


def _small_cell(row: Row | None) -> tuple[str, str, str]:
    """Difference and its mark, where the session's own interval and smallest real change allow one."""
    if row is None:
        return NONE, "", ""
    difference = number(row["difference"], BY_COLUMN[row["measure"]].decimals, signed=True)
    mark = MARKS.get(row["verdict"], "")
    return f"{difference}\u00a0{mark}" if mark else difference, "", ""
