"""The schemas of every Parquet table, in one place, with a version.

Units stand in the column names; angles are degrees, times seconds (see the definitions in
:mod:`firstrocker.measures`).
"""

from __future__ import annotations

import pyarrow as pa

from firstrocker.measures import MEASURES

# What Arrow has done with is then NumPy's to use, and the other way round; its own allocator keeps it for itself.
pa.set_memory_pool(pa.system_memory_pool())

SCHEMA_VERSION = "2"
"""Raised whenever a column is added, removed or changes meaning; stored in every table's metadata."""

LEFT_OUT_REASONS = ("", "first", "last", "turn", "stairs", "slope", "short_bout", "quality")
VERDICTS = ("higher", "lower", "no clear change", "too few strides")
COHORT_VERDICTS = ("higher", "lower", "no clear change", "too few people")

_WALK_KEYS = [
    pa.field("subject", pa.string()),
    pa.field("session", pa.string()),
    pa.field("walk", pa.string()),
    pa.field("condition", pa.string()),
    pa.field("setting", pa.string()),
    pa.field("resistance", pa.float64()),
    pa.field("side", pa.string()),
]
STRIDE_EVENTS = (
    "heel_strike_s",
    "foot_flat_s",
    "heel_off_s",
    "toe_off_s",
    "next_heel_strike_s",
)


def _schema(fields: list[pa.Field], name: str) -> pa.Schema:
    metadata = {"firstrocker_table": name, "firstrocker_schema_version": SCHEMA_VERSION}
    return pa.schema(fields, metadata=metadata)


def _stride_fields() -> list[pa.Field]:
    fields = [*_WALK_KEYS, pa.field("bout", pa.int64()), pa.field("stride", pa.int64())]
    fields += [pa.field(name, pa.float64()) for name in STRIDE_EVENTS]
    fields.append(pa.field("contact", pa.string()))
    for measure in MEASURES:
        fields.append(pa.field(measure.column, pa.float64()))
        if measure.has_se:
            fields.append(pa.field(f"{measure.column}_se", pa.float64()))
        if measure.column == "circumduction_mm":
            fields.append(pa.field("toe_clearance_kind", pa.string()))
    fields += [pa.field("steady", pa.bool_()), pa.field("left_out", pa.string()), pa.field("ground", pa.string())]
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


WEAR = _schema(
    [
        *[pa.field(name, pa.string()) for name in ("subject", "session", "walk", "segment", "side")],
        *[pa.field(name, pa.float64()) for name in ("recorded_s", "worn_s", "walking_s")],
    ],
    "wear",
)


def _described(name: str, columns: dict[str, tuple[pa.DataType, str]]) -> pa.Schema:
    """A schema whose columns say what they hold, also to whoever reads the file."""
    fields = [pa.field(column, kind, metadata={"description": words}) for column, (kind, words) in columns.items()]
    return _schema(fields, name)


_TEXT, _REAL, _WHOLE, _YES = pa.string(), pa.float64(), pa.int64(), pa.bool_()
_LEG = (_TEXT, "affected or other")
_MEASURE = (_TEXT, "column of strides.parquet")
_UNIT = (_TEXT, "unit of the measure")

EFFECTS = _described(
    "effects",
    {
        "leg": _LEG,
        "question": (_TEXT, "braced: braced minus unbraced; resistance: change for one unit of resistance"),
        "dose_unit": (_TEXT, "unit of the resistance; null for braced. Units are never mixed"),
        "measure": _MEASURE,
        "unit": (_TEXT, "unit of difference, se, interval, sd"),
        "reference": (_TEXT, "unbraced, or less resistance"),
        "other": (_TEXT, "braced, or more resistance: difference is other minus reference"),
        "people": (_WHOLE, "people in it, each compared with themselves within a session"),
        "sessions": (_WHOLE, "their sessions that have the cause at two levels or more"),
        "walks": (_WHOLE, "the walks of those sessions, whose means the model is of"),
        "strides": (_WHOLE, "the strides that count behind those means"),
        "cause_low": (_REAL, "0 for unbraced, or the least resistance"),
        "cause_high": (_REAL, "1 for braced, or the greatest resistance"),
        "difference": (_REAL, "the effect on average over people"),
        "se": (
            _REAL,
            "its standard error, robust to how people differ, or of their own errors; null below three people",
        ),
        "df": (_REAL, "degrees of freedom of its interval (Satterthwaite); null where se is of people's own errors"),
        "ci_low": (_REAL, "interval of this effect alone, at the level of settings.study.confidence"),
        "ci_high": (_REAL, "the same, upper end"),
        "p_value": (_REAL, "of no effect, two-sided, this measure alone"),
        "p_adjusted": (_REAL, "Holm's, over the family: the verdict is by it"),
        "family": (_TEXT, "leading (answers the report's questions) or further, per leg and question"),
        "verdict": (_TEXT, "higher, lower, no clear change, too few people"),
        "sd": (_REAL, "standard deviation of people's own effects, their walks' scatter included"),
        "slope_sd": (_REAL, "what the model says people's true effects differ by; null where it cannot say"),
        "model": (_TEXT, "beyond walks' scatter, effects differ, one effect, not told apart, or too few people"),
        "without_one_low": (_REAL, "least effect with any one person left out"),
        "without_one_high": (_REAL, "greatest effect with any one person left out"),
        "leans_on": (_TEXT, "the person whose leaving out moves the effect most"),
        "checks": (_TEXT, "what looking at the assumptions gave, in words"),
        "doubtful": (_YES, "whether any of it speaks against the interval"),
    },
)

PEOPLE = _described(
    "people",
    {
        "subject": (_TEXT, "the person"),
        "leg": _LEG,
        "measure": _MEASURE,
        "unit": _UNIT,
        "sessions": (_WHOLE, "sessions with both unbraced and braced walks"),
        "unbraced": (_REAL, "mean of the sessions' means of unbraced walks"),
        "braced": (_REAL, "mean of the sessions' means of braced walks"),
        "difference": (_REAL, "braced minus unbraced"),
        "look": (_TEXT, "why the labels are to be looked at, where the change is the others' turned round; else null"),
    },
)


def _with_interval(name: str, words: str) -> dict[str, tuple[pa.DataType, str]]:
    ends = {f"{name}_ci_low": (_REAL, "its interval, lower end"), f"{name}_ci_high": (_REAL, "upper end")}
    return {name: (_REAL, words)} | ends


RELIABILITY = _described(
    "reliability",
    {
        "leg": _LEG,
        "measure": _MEASURE,
        "unit": (_TEXT, "unit of all but the correlations"),
        "repeats": (_TEXT, "walks: two of one session; sessions: the means of two sessions"),
        "condition": (_TEXT, "unbraced or braced; of one setting each"),
        "people": (_WHOLE, "people with such repeats"),
        "mean": (_REAL, "mean of all values"),
        "sem": (_REAL, "standard error of measurement: SD of the differences / sqrt(2)"),
        **_with_interval("mdc95", "change that 95 of 100 pairs of measurements of something unchanged stay under"),
        **_with_interval("icc_agreement", "ICC(2,1): a shift common to all people counts as error"),
        **_with_interval("icc_consistency", "ICC(3,1): it does not"),
        **_with_interval("bias", "mean of second minus first"),
        **_with_interval("limit_low", "lower limit of agreement, bias - 1.96 SD of the differences"),
        **_with_interval("limit_high", "upper limit of agreement"),
    },
)

COHORT_CURVES = _described(
    "cohort_curves",
    {
        "leg": _LEG,
        "subject": (_TEXT, "the person"),
        "condition": (_TEXT, "unbraced or braced"),
        "percent": (_WHOLE, "of the stride, 0 to 100"),
        "foot_pitch_deg": (_REAL, "mean of the person's sessions' means of walks; null where none has it"),
        "ankle_deg": (_REAL, "the same"),
        "shank_deg": (_REAL, "the same"),
        "toe_height_mm": (_REAL, "the same"),
    },
)

SPM = _described(
    "spm",
    {
        "leg": _LEG,
        "curve": (_TEXT, "column of curves.parquet"),
        "percent": (_WHOLE, "of the stride, 0 to 100"),
        "people": (_WHOLE, "people with both curves"),
        "unbraced": (_REAL, "mean over people"),
        "braced": (_REAL, "mean over people"),
        "difference": (_REAL, "braced minus unbraced"),
        "t": (_REAL, "paired t; null with fewer than four people"),
        "threshold": (_REAL, "height of t that chance reaches anywhere along the stride at the corrected level"),
        "cluster": (_WHOLE, "number of the stretch over the threshold that this percent lies in; null outside"),
        "p_value": (_REAL, "of that stretch, not corrected for the number of curves"),
    },
)

INTAKE_STATES = ("arrived", "waiting", "duplicate", "quarantined", "taken")

INTAKE = _described(
    "intake",
    {
        "path": (_TEXT, "the file, below the inbox"),
        "kind": (_TEXT, "log, session (its session.yaml), home (a standing description), sidecar, other"),
        "subject": (_TEXT, "the person whose folder it lies in; null outside"),
        "session": (_TEXT, "the session it belongs to; null where that is not known"),
        "state": (_TEXT, "arrived (too fresh to be sure that it is whole), waiting, duplicate, quarantined or taken"),
        "reason": (_TEXT, "why, in words; empty where there is nothing to say"),
        "remedy": (_TEXT, "what to do; empty where nothing is to be done"),
        "needs_person": (_YES, "whether someone has to do something, for nothing will happen by itself"),
        "new": (_YES, "whether this look brought it to this state: of a log taken, that its session is new or changed"),
        "first_seen": (_TEXT, "when the intake first saw this path, UTC, as 2026-03-02T01:30:00Z"),
        "waiting_h": (_REAL, "hours since it came into this state; null once it is taken"),
        "size_bytes": (_WHOLE, "of the file"),
        "content_sha256": (_TEXT, "fingerprint of its bytes; null where it was not read"),
        "copy_of": (_TEXT, "the file with the same bytes that was there before; null without one"),
    },
)
