"""The page over all sessions of a study: what changed on average, and which sessions someone should look at."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pyarrow as pa

from firstrocker.measures import BY_COLUMN
from firstrocker.report.numbers import NONE, interval, number, unit_of
from firstrocker.report.page import environment

SHOWN = ("toe_clearance_min_mm", "slap_rate_deg_s", "foot_lowering_rate_deg_s", "shank_forward_rate_deg_s")
"""The measures of each person's change."""


def render_cohort(
    sessions: pa.Table, effects: pa.Table, *, confidence: float, comparison: pa.Table | None = None
) -> str:
    """The cohort's report as one HTML page that needs nothing else.

    Args:
        sessions: rows in the schema SESSIONS.
        effects: rows in the schema EFFECTS.
        confidence: level of the effects' intervals.
        comparison: rows in the schema COMPARISON of all sessions; each person's own change is shown where given.
    """
    rows = sessions.to_pylist()
    columns, changes = ([], []) if comparison is None else _changes(rows, comparison)
    return (
        environment()
        .get_template("cohort.html.j2")
        .render(
            sessions=rows,
            people=len({row["subject"] for row in rows}),
            counts={status: sum(row["status"] == status for row in rows) for status in ("ok", "flagged", "rejected")},
            effects=[_words(row) for row in effects.to_pylist() if row["leg"] == "affected"],
            percent=f"{100 * confidence:.3g}",
            columns=columns,
            changes=changes,
        )
    )


def _words(row: Mapping[str, Any]) -> dict[str, str]:
    """One effect as it is printed."""
    measure = BY_COLUMN[row["measure"]]
    low, high = (number(row[end], measure.decimals, signed=True) for end in ("ci_low", "ci_high"))
    return {
        "label": measure.label,
        "unit": unit_of(measure),
        "people": str(row["people"]),
        "difference": number(row["difference"], measure.decimals, signed=True),
        "interval": NONE if row["ci_low"] is None else f"{low} to {high}",
    }


def _changes(
    sessions: list[dict[str, Any]], comparison: pa.Table
) -> tuple[list[tuple[str, str]], list[dict[str, Any]]]:
    """The columns and one row per session that has unbraced and braced walks of the affected side."""
    affected = {(row["subject"], row["session"]): row["affected_side"] for row in sessions}
    found: dict[tuple[str, str], dict[str, dict[str, Any]]] = {}
    for row in comparison.to_pylist():
        key = (row["subject"], row["session"])
        if row["reference"] == "unbraced" and row["measure"] in SHOWN and affected.get(key) == row["side"]:
            found.setdefault(key, {})[row["measure"]] = row
    shown = [column for column in SHOWN if any(column in measures for measures in found.values())]
    changes = [
        {"subject": key[0], "session": key[1], "cells": [_cell(measures.get(column)) for column in shown]}
        for key, measures in sorted(found.items())
    ]
    return [(BY_COLUMN[column].label, unit_of(BY_COLUMN[column])) for column in shown], changes


def _cell(row: Mapping[str, Any] | None) -> dict[str, str]:
    if row is None:
        return {"difference": NONE, "interval": "", "verdict": "not measured"}
    decimals = BY_COLUMN[row["measure"]].decimals
    return {
        "difference": number(row["difference"], decimals, signed=True),
        "interval": interval(row),
        "verdict": row["verdict"],
    }
