"""The schemas of the tables over days at home: days, trends, alerts."""

from __future__ import annotations

import pyarrow as pa

from firstrocker.tables import _described as described

_TEXT, _REAL, _WHOLE, _YES, _DAY = pa.string(), pa.float64(), pa.int64(), pa.bool_(), pa.date32()

_LEG: dict[str, tuple[pa.DataType, str]] = {
    "subject": (_TEXT, "the person"),
    "side": (_TEXT, "left or right; null for what is of the person, as wear time is"),
    "condition": (_TEXT, "unbraced or braced; null for what is of the person"),
    "setting": (_TEXT, "the setting's label; null where there is none"),
    "resistance": (_REAL, "how much the brace resists plantarflexion; null where there is none"),
    "measure": (
        _TEXT,
        "slap_rate_deg_s, toe_clearance_min_mm, walking_speed_m_s (medians); slap_share, low_pass_share (of scuffs and "
        "near-scuffs; 0 to 1); worn_h",
    ),
    "unit": (_TEXT, "unit of value, spread, errors, change"),
}
"""What a series is of; a changed setting is another series, with a baseline of its own."""

DAYS = described(
    "days",
    _LEG
    | {
        "day": (_DAY, "the date that the session's label begins with; sessions of one date are one day"),
        "n": (_WHOLE, "steady strides behind the value; null for wear time"),
        "bouts": (_WHOLE, "bouts they lie in; null for wear time"),
        "value": (_REAL, "median of the day's strides, share of them, or hours; null where it cannot be had"),
        "spread": (_REAL, "1.4826 x median absolute deviation of the strides; null for shares"),
        "se": (_REAL, "what the day's strides leave uncertain, strides of a bout resembling each other"),
        "se_total": (_REAL, "with what days of this baseline differ by; null before there is one"),
        "in_baseline": (_YES, "whether it is one of the first days that make the baseline"),
        "reason": (_TEXT, "why there is no value; empty where there is one"),
    },
)

TRENDS = described(
    "trends",
    _LEG
    | {
        "watched": (_YES, "whether alerts can come of it"),
        "days": (_WHOLE, "days with a value"),
        "strides": (_WHOLE, "strides behind them; null for wear time"),
        "first_day": (_DAY, "the first of them; null without any"),
        "last_day": (_DAY, "the last of them"),
        "limit": (_REAL, "what a stride is held against: slap rate (deg/s) or height (mm); null for other measures"),
        "baseline": (_REAL, "level of the first days; null while there are too few"),
        "baseline_days": (_WHOLE, "days of the baseline so far, of those it needs"),
        "day_sd": (_REAL, "standard deviation from day to day in the baseline, beyond what strides leave uncertain"),
        "last_week": (_REAL, "median of the last seven days with a value"),
        "slope_week": (_REAL, "change per week over the last days (Theil-Sen); null with fewer than eight"),
        "slope_ci_low": (_REAL, "its interval; too narrow where days resemble their neighbours"),
        "slope_ci_high": (_REAL, "upper end"),
        "slope_days": (_WHOLE, "days it is of"),
        "shifts": (_WHOLE, "changes of level seen looking back over all days"),
        "shift_day": (_DAY, "first day after the last of them; null without any"),
        "shift_before": (_REAL, "median between the change before and this one"),
        "shift_after": (_REAL, "median since"),
        "shift_p": (_REAL, "chance of one so clear in such a series without any"),
    },
)

ALERTS = described(
    "alerts",
    {"kind": (_TEXT, "slaps, clearance, scuffs, wear or silent (no session)")}
    | _LEG
    | {
        "first_day": (_DAY, "day whose data raised it; later days change nothing of it but what is said here"),
        "since_day": (_DAY, "first day of the run that raised it"),
        "ended_day": (_DAY, "day it was over (later days may set this); null while it stands"),
        "standing": (_YES, "whether it stands on the last day"),
        "new": (_YES, "whether it stands and was raised on the person's last day with data; silent: on the last day"),
        "baseline": (_REAL, "level it is held against; null for silent"),
        "baseline_days": (_WHOLE, "days of that level"),
        "change": (_REAL, "level since then less the baseline, as it was on first_day"),
        "ci_low": (_REAL, "its interval at settings.study.confidence, as it was on first_day"),
        "ci_high": (_REAL, "upper end"),
        "change_now": (_REAL, "the same of the last days (later days change this)"),
        "days": (_WHOLE, "days that raised it; silent: days without a session"),
        "strides": (_WHOLE, "strides of those days; null for wear time and silent"),
        "speed_change_m_s": (_REAL, "by how much the person walked faster on them than in the baseline; null: unknown"),
    },
)
