"""The schemas of every Parquet table, in one place, with a version.

Units stand in the column names; angles are degrees, times seconds (see the definitions in
:mod:`firstrocker.measures`).
"""

from __future__ import annotations

import pyarrow as pa

from firstrocker.measures import MEASURES

SCHEMA_VERSION = "1"
"""Raised whenever a column is added, removed or changes meaning; stored in every table's metadata."""

LEFT_OUT_REASONS = ("", "first", "last", "turn", "stairs", "short_bout", "quality")
VERDICTS = ("higher", "lower", "no clear change", "too few strides")

_WALK_KEYS = [
    pa.field("subject", pa.string()),
    pa.field("session", pa.string()),
    pa.field("walk", pa.string()),
    pa.field("condition", pa.string()),
    pa.field("setting", pa.string()),
    pa.field("resistance", pa.float64()),
    pa.field("side", pa.string()),
]
_EVENTS = [
    "heel_strike_s",
    "foot_flat_s",
    "heel_off_s",
    "toe_off_s",
    "next_heel_strike_s",
]


def _schema(fields: list[pa.Field], name: str) -> pa.Schema:
    metadata = {"firstrocker_table": name, "firstrocker_schema_version": SCHEMA_VERSION}
    return pa.schema(fields, metadata=metadata)


def _stride_fields() -> list[pa.Field]:
    fields = [*_WALK_KEYS, pa.field("bout", pa.int64()), pa.field("stride", pa.int64())]
    fields += [pa.field(name, pa.float64()) for name in _EVENTS]
    fields.append(pa.field("contact", pa.string()))
    for measure in MEASURES:
        fields.append(pa.field(measure.column, pa.float64()))
        if measure.has_se:
            fields.append(pa.field(f"{measure.column}_se", pa.float64()))
        if measure.column == "circumduction_mm":
            fields.append(pa.field("toe_clearance_kind", pa.string()))
    fields += [pa.field("steady", pa.bool_()), pa.field("left_out", pa.string())]
    return fields


STRIDES = _schema(_stride_fields(), "strides")

CURVES = _schema(
    [
        *_WALK_KEYS,
        pa.field("bout", pa.int64()),
        pa.field("stride", pa.int64()),
        pa.field("percent", pa.int64()),
        pa.field("foot_pitch_deg", pa.float64()),
        pa.field("ankle_deg", pa.float64()),
        pa.field("shank_deg", pa.float64()),
        pa.field("foot_pitch_rate_deg_s", pa.float64()),
        pa.field("ankle_rate_deg_s", pa.float64()),
        pa.field("shank_rate_deg_s", pa.float64()),
        pa.field("toe_height_mm", pa.float64()),
        pa.field("steady", pa.bool_()),
    ],
    "curves",
)

SUMMARY = _schema(
    [
        *_WALK_KEYS,
        pa.field("measure", pa.string()),
        pa.field("unit", pa.string()),
        pa.field("n", pa.int64()),
        *[pa.field(name, pa.float64()) for name in ("mean", "sd", "median", "q25", "q75", "se")],
    ],
    "summary",
)

COMPARISON = _schema(
    [
        pa.field("subject", pa.string()),
        pa.field("session", pa.string()),
        pa.field("side", pa.string()),
        pa.field("measure", pa.string()),
        pa.field("unit", pa.string()),
        pa.field("reference", pa.string()),
        pa.field("other", pa.string()),
        pa.field("n_reference", pa.int64()),
        pa.field("n_other", pa.int64()),
        *[pa.field(name, pa.float64()) for name in ("difference", "ci_low", "ci_high", "smallest_real_change")],
        pa.field("verdict", pa.string()),
    ],
    "comparison",
)

SESSIONS = _schema(
    [
        pa.field("subject", pa.string()),
        pa.field("session", pa.string()),
        pa.field("affected_side", pa.string()),
        pa.field("status", pa.string()),
        *[pa.field(name, pa.int64()) for name in ("walks", "strides", "steady", "errors", "warnings")],
        pa.field("first_finding", pa.string()),
    ],
    "sessions",
)

EFFECTS = _schema(
    [
        pa.field("leg", pa.string()),
        pa.field("measure", pa.string()),
        pa.field("unit", pa.string()),
        pa.field("reference", pa.string()),
        pa.field("other", pa.string()),
        pa.field("people", pa.int64()),
        pa.field("sessions", pa.int64()),
        *[pa.field(name, pa.float64()) for name in ("difference", "sd", "ci_low", "ci_high")],
    ],
    "effects",
)
