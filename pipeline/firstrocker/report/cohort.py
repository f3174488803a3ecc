"""The page over all sessions of a study: what changed on average, for whom, and which sessions to look at."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import pyarrow as pa

from firstrocker.measures import BY_COLUMN, MEASURES
from firstrocker.report.cohort_figures import changes_picture, curves_picture
from firstrocker.report.cohort_words import (
    curve_sentence,
    dose_range,
    dose_words,
    effect_numbers,
    effect_sentence,
    p_words,
)
from firstrocker.report.numbers import NONE, interval, number, unit_of
from firstrocker.report.page import environment
from firstrocker.study.multiple import LEADING

Row = Mapping[str, Any]


def render_cohort(
    *,
    sessions: pa.Table,
    effects: pa.Table,
    people: pa.Table,
    reliability: pa.Table,
    curves: pa.Table,
    spm: pa.Table,
    comparison: pa.Table,
    confidence: float,
) -> str:
    """The cohort's report as one HTML page that needs nothing else.

    Args:
        sessions: rows in the schema SESSIONS.
        effects: rows in the schema EFFECTS.
        people: rows in the schema PEOPLE.
        reliability: rows in the schema RELIABILITY.
        curves: rows in the schema COHORT_CURVES.
        spm: rows in the schema SPM.
        comparison: rows in the schema COMPARISON of unbraced against braced in the leading measures; others are
            passed over.
        confidence: level of the intervals.
    """
    rows = sessions.to_pylist()
    found = [row for row in effects.to_pylist() if row["leg"] == "affected"]
    braced = [row for row in found if row["question"] == "braced"]
    doses = [row for row in found if row["question"] == "resistance"]
    own = _leading_people(people)
    mapped = [row for row in spm.to_pylist() if row["leg"] == "affected"]
    columns, changes = _changes(rows, comparison)
    return (
        environment()
        .get_template("cohort.html.j2")
        .render(
            sessions=rows,
            look=[row for row in rows if row["status"] != "ok"],
            people=len({row["subject"] for row in rows}),
            counts={status: sum(row["status"] == status for row in rows) for status in ("ok", "flagged", "rejected")},
            percent=f"{100 * confidence:.3g}",
            answers=_answers(braced, own),
            dose_answers=_answers(doses, {}),
            further=_further(braced),
            curve_answers=[curve_sentence(one) for one in _by_curve(mapped)],
            pictures=[
                changes_picture(row["measure"], own[row["measure"]], row) for row in braced if row["measure"] in own
            ],
            curves_picture=curves_picture(mapped, _affected(curves)) if mapped else None,
            effects=[_words(row) for row in braced],
            doses=[_words(row) for row in doses],
            other_leg=[
                _words(row) for row in effects.to_pylist() if row["leg"] == "other" and row["question"] == "braced"
            ],
            checks=[(BY_COLUMN[row["measure"]].label, row["checks"]) for row in braced if row["measure"] in LEADING],
            columns=columns,
            changes=changes,
            reliability=[_reliability(row) for row in reliability.to_pylist() if row["leg"] == "affected"],
        )
    )


def _affected(table: pa.Table) -> list[dict[str, Any]]:
    return [row for row in table.to_pylist() if row["leg"] == "affected"]


def _leading_people(people: pa.Table) -> dict[str, list[dict[str, Any]]]:
    """Leading measure -> its rows on the affected leg."""
    found: dict[str, list[dict[str, Any]]] = {}
    for row in people.to_pylist():
        if row["leg"] == "affected" and row["measure"] in LEADING:
            found.setdefault(row["measure"], []).append(row)
    return found


def _answers(effects: Sequence[Row], own: Mapping[str, Sequence[Row]]) -> list[str]:
    """A sentence for each leading measure, in the order of the questions; units of resistance one after the other."""
    found = []
    for dose in dict.fromkeys(row["dose_unit"] for row in effects):
        members = {row["measure"]: row for row in effects if row["dose_unit"] == dose and row["family"] == "leading"}
        for column in LEADING:
            if column in members:
                changes = [row["difference"] for row in own.get(column, ())]
                found.append(effect_sentence(members[column], changes, len(members)))
    return found


def _further(effects: Sequence[Row]) -> dict[str, list[str]]:
    """The further measures by what is said of them: sentences on those that changed, labels of the rest."""
    rows = [row for row in effects if row["family"] == "further"]
    clear = [row for row in rows if row["verdict"] in ("higher", "lower")]
    return {
        "changed": [effect_sentence(row, (), len(rows)) for row in clear],
        "unchanged": [BY_COLUMN[row["measure"]].label for row in rows if row["verdict"] == "no clear change"],
    }


def _by_curve(spm: Sequence[Row]) -> list[list[Row]]:
    found: dict[str, list[Row]] = {}
    for row in spm:
        found.setdefault(row["curve"], []).append(row)
    return list(found.values())


def _words(row: Row) -> dict[str, Any]:
    """One effect as it is printed in a table."""
    measure = BY_COLUMN[row["measure"]]
    difference, low, high = effect_numbers(row)
    reach = dose_range(row)
    ends = [None if row[key] is None else row[key] * reach for key in ("without_one_low", "without_one_high")]
    without = [number(end, measure.decimals, signed=True) for end in ends]
    return {
        "label": measure.label,
        "unit": unit_of(measure),
        "people": str(row["people"]),
        "counts": f"{row['walks']} walks, {row['strides']} strides",
        "difference": difference,
        "interval": NONE if row["ci_low"] is None else f"{low} to {high}",
        "p": p_words(row["p_adjusted"]),
        "without": NONE if None in ends else f"{without[0]} to {without[1]}",
        "leans_on": row["leans_on"] or "",
        "model": row["model"],
        "dose": "" if row["question"] == "braced" else dose_words(row),
        "verdict": row["verdict"],
        "mark": {"higher": "\u25b2", "lower": "\u25bc"}.get(row["verdict"], ""),
        "doubtful": row["doubtful"],
        "checks": row["checks"],
    }


def _reliability(row: Row) -> dict[str, str]:
    measure = BY_COLUMN[row["measure"]]

    def told(name: str, decimals: int, *, signed: bool = False) -> tuple[str, str]:
        value, low, high = (
            number(row[key], decimals, signed=signed) for key in (name, f"{name}_ci_low", f"{name}_ci_high")
        )
        return value, "" if row[f"{name}_ci_low"] is None else f"{low} to {high}"

    more = measure.decimals + 1
    cells = {name: told(name, 2) for name in ("icc_agreement", "icc_consistency")}
    cells |= {"mdc95": told("mdc95", more), "bias": told("bias", more, signed=True)}
    limits = (number(row[key], more, signed=True) for key in ("limit_low", "limit_high"))
    return {
        "label": measure.label,
        "unit": unit_of(measure),
        "repeats": row["repeats"],
        "condition": row["condition"],
        "people": str(row["people"]),
        "sem": number(row["sem"], more),
        "limits": " to ".join(limits),
        **{name: value for name, (value, _) in cells.items()},
        **{f"{name}_interval": span for name, (_, span) in cells.items()},
    }


def _changes(
    sessions: list[dict[str, Any]], comparison: pa.Table
) -> tuple[list[tuple[str, str]], list[dict[str, Any]]]:
    """The columns and one row per session that has unbraced and braced walks of the affected side."""
    affected = {(row["subject"], row["session"]): row["affected_side"] for row in sessions}
    found: dict[tuple[str, str], dict[str, dict[str, Any]]] = {}
    for row in comparison.to_pylist():
        key = (row["subject"], row["session"])
        if row["reference"] == "unbraced" and row["measure"] in LEADING and affected.get(key) == row["side"]:
            found.setdefault(key, {})[row["measure"]] = row
    shown = [m.column for m in MEASURES if m.column in LEADING and any(m.column in one for one in found.values())]
    changes = [
        {"subject": key[0], "session": key[1], "cells": [_cell(measures.get(column)) for column in shown]}
        for key, measures in sorted(found.items())
    ]
    return [(BY_COLUMN[column].label, unit_of(BY_COLUMN[column])) for column in shown], changes


def _cell(row: Row | None) -> dict[str, str]:
    if row is None:
        return {"difference": NONE, "interval": "", "verdict": "not measured"}
    decimals = BY_COLUMN[row["measure"]].decimals
    return {
        "difference": number(row["difference"], decimals, signed=True),
        "interval": interval(row),
        "verdict": row["verdict"],
    }
