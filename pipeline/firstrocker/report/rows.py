"""Tables and lists of the page: walks, strides counted, findings, and the numbers, ready to be printed."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import Any

import pyarrow as pa

from firstrocker.measures import BY_COLUMN
from firstrocker.report.numbers import decimals_of, interval, number, unit_of
from firstrocker.report.words import LEFT_OUT

SEVERITIES = {"error": "Not analysed", "warning": "To look at", "info": "For information"}


def walk_names(walks: Sequence[Mapping[str, Any]]) -> dict[str, str]:
    """How walks are called: by setting where only one has it, else with the walk's label.

    Returns:
        ``walk:<walk>`` and the bare label -> name; ``walk:<walk>|braced`` is there for braced walks.
    """
    plain = [(walk.get("setting") or {}).get("label") or walk["condition"] for walk in walks]
    names: dict[str, str] = {}
    for walk, name in zip(walks, plain, strict=True):
        called = name if plain.count(name) == 1 else f"{name}, walk {walk['walk']}"
        names[walk["walk"]] = names[f"walk:{walk['walk']}"] = called
        if walk["condition"] == "braced":
            names[f"walk:{walk['walk']}|braced"] = called
    return names


def walk_words(walk: Mapping[str, Any]) -> dict[str, str]:
    """A walk's label, condition and setting; the setting with its resistance, and its bare label."""
    setting = walk.get("setting")
    label = words = str((setting or {}).get("label", ""))
    if setting and setting.get("resistance") is not None:
        words += f" ({setting['resistance']:g} {setting.get('unit', '')}".rstrip() + ")"
    return {"walk": walk["walk"], "condition": walk["condition"], "setting": words, "label": label}


def counts(walks: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """Strides found, counted and left out, per walk and side."""
    rows: list[dict[str, Any]] = []
    for walk in walks:
        sides = walk.get("sides") or {}
        if not sides:
            rows.append(walk_words(walk) | {"side": "", "strides": 0, "steady": 0, "left_out": "no stride found"})
        for side, count in sorted(sides.items()):
            reasons = count.get("left_out") or {}
            left = ", ".join(
                f"{count_left} {LEFT_OUT.get(reason, reason)}" for reason, count_left in sorted(reasons.items())
            )
            rows.append(
                walk_words(walk)
                | {"side": side, "strides": count["strides"], "steady": count["steady"], "left_out": left or "none"}
            )
    return rows


def findings(findings: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """Findings by severity, the gravest first, each with where it was."""
    groups = []
    for severity, title in SEVERITIES.items():
        members = [
            {"message": f["message"], "remedy": f.get("remedy") or "", "code": f["code"], "where": _where(f)}
            for f in findings
            if f["severity"] == severity
        ]
        if members:
            groups.append({"severity": severity, "title": title, "members": members})
    return groups


def _where(finding: Mapping[str, Any]) -> str:
    parts = [f"walk {finding['walk']}"] if finding.get("walk") else []
    sensor = " ".join(str(finding[key]) for key in ("side", "segment") if finding.get(key))
    parts += [sensor] if sensor else []
    start, end = finding.get("start_s"), finding.get("end_s")
    if start is not None:
        parts.append(f"{start:.1f} to {end:.1f} s" if end is not None else f"from {start:.1f} s")
    return ", ".join(parts)


def contacts(strides: pa.Table, side: str, names: Mapping[str, str]) -> list[str]:
    """What touched the ground first, walk by walk, over strides that count."""
    found: dict[str, list[str]] = {}
    columns = (strides.column(name).to_pylist() for name in ("walk", "side", "steady", "contact"))
    for walk, of_side, steady, contact in zip(*columns, strict=True):
        if of_side == side and steady and contact:
            found.setdefault(walk, []).append(contact)
    words = {"heel": "heel", "flat": "whole sole", "forefoot": "forefoot"}
    return [
        f"{names.get(walk, walk)}: "
        + ", ".join(f"{words[kind]} {kinds.count(kind)}" for kind in words if kinds.count(kind))
        + f" of {len(kinds)}"
        for walk, kinds in found.items()
    ]


def tables(
    side: str,
    columns: Sequence[str],
    summary: Sequence[Mapping[str, Any]],
    comparison: Sequence[Mapping[str, Any]],
    names: Mapping[str, str],
    *,
    key: Collection[str] = (),
) -> dict[str, Any]:
    """Each walk's mean and spread, the conditions against each other, and the pairs of walks, for one side.

    Args:
        side: left or right.
        columns: the measures, in order; those that no walk has are left out.
        summary: rows in the schema SUMMARY.
        comparison: rows in the schema COMPARISON.
        names: reference and other -> how they are called.
        key: the measures that are kept where there is room for few.
    """
    walks = list(dict.fromkeys(row["walk"] for row in summary if row["side"] == side))
    cells = {(row["measure"], row["walk"]): row for row in summary if row["side"] == side}
    measured = [column for column in columns if any((column, walk) in cells for walk in walks)]
    conditions = {r["measure"]: r for r in comparison if r["side"] == side and r["reference"] == "unbraced"}
    pairs = [r for c in measured for r in comparison if r["side"] == side and r["measure"] == c]
    return {
        "side": side,
        "walks": [names.get(walk, walk) for walk in walks],
        "rows": [
            {
                "label": BY_COLUMN[column].label,
                "definition": BY_COLUMN[column].definition,
                "key": column in key,
                "unit": unit_of(BY_COLUMN[column]),
                "cells": [_cell(cells.get((column, walk)), BY_COLUMN[column].decimals) for walk in walks],
                "change": _change(conditions[column], names) if column in conditions else None,
            }
            for column in measured
        ],
        "pairs": [_change(row, names) for row in pairs if row["reference"].startswith("walk:")],
    }


def _cell(row: Mapping[str, Any] | None, decimals: int) -> dict[str, str]:
    if row is None or row["mean"] is None:
        return {"mean": number(None, 0), "rest": ""}
    sd = "" if row["sd"] is None else f"\u00b1\u00a0{number(row['sd'], decimals)}"
    return {"mean": number(row["mean"], decimals), "rest": f"{sd} (n\u00a0{row['n']})".strip()}


def _change(row: Mapping[str, Any], names: Mapping[str, str]) -> dict[str, Any]:
    measure = BY_COLUMN[row["measure"]]
    decimals = decimals_of(row)
    return {
        "label": measure.label,
        "unit": unit_of(measure),
        "reference": names.get(row["reference"], row["reference"]),
        "other": names.get(row["other"], row["other"]),
        "n": f"{row['n_reference']}, {row['n_other']}",
        "difference": number(row["difference"], decimals, signed=True),
        "interval": interval(row),
        "real": number(row["smallest_real_change"], decimals),
        "verdict": row["verdict"],
        "mark": {"higher": "\u25b2", "lower": "\u25bc"}.get(row["verdict"], ""),
    }
