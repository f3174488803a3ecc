"""Every measure of a stride: its column, unit, kind, and the words that define it.

The one list from which table schemas, summaries, comparisons and the report's wording are made.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Kind = Literal["timing", "length", "clearance", "angle", "rate", "shock"]


@dataclass(frozen=True)
class Measure:
    """One measure: ``column`` is its name in strides.parquet, unit included.

    has_se: whether strides.parquet holds a twin ``<column>_se``. decimals: how many are worth printing.
    """

    column: str
    unit: str
    label: str
    kind: Kind
    definition: str
    has_se: bool
    decimals: int


def _timing(column: str, unit: str, label: str, definition: str, decimals: int = 2) -> Measure:
    return Measure(column, unit, label, "timing", definition, has_se=False, decimals=decimals)


def _measure(column: str, unit: str, label: str, kind: Kind, definition: str, decimals: int) -> Measure:
    return Measure(column, unit, label, kind, definition, has_se=True, decimals=decimals)


def _angle(column: str, label: str, definition: str) -> Measure:
    return _measure(column, "deg", label, "angle", definition, 1)


def _rate(column: str, label: str, definition: str) -> Measure:
    return _measure(column, "deg/s", label, "rate", definition, 0)


MEASURES: tuple[Measure, ...] = (
    _timing("stride_time_s", "s", "Stride time", "Heel strike to the next heel strike of the same foot."),
    _timing("stance_time_s", "s", "Stance time", "Heel strike to toe off."),
    _timing("swing_time_s", "s", "Swing time", "Toe off to the next heel strike."),
    _timing("loading_time_s", "s", "Loading time", "Heel strike to foot flat.", 3),
    _timing("stance_percent", "%", "Stance", "Stance time as a share of stride time.", 1),
    _timing("cadence_steps_min", "steps/min", "Cadence", "120 / stride time.", 0),
    _measure(
        "stride_length_m",
        "m",
        "Stride length",
        "length",
        "Horizontal distance between the foot's places in two stances in a row.",
        2,
    ),
    _measure("walking_speed_m_s", "m/s", "Walking speed", "length", "Stride length / stride time.", 2),
    _measure(
        "toe_clearance_min_mm",
        "mm",
        "Minimum toe clearance",
        "clearance",
        "Least height over the ground of the front lower edge of the outsole in mid-swing; where there is no local "
        "minimum, its height at the foot's greatest forward speed.",
        0,
    ),
    _measure(
        "heel_clearance_max_mm",
        "mm",
        "Maximum heel clearance",
        "clearance",
        "Greatest height of the heel's lower edge in swing.",
        0,
    ),
    _measure(
        "circumduction_mm",
        "mm",
        "Circumduction",
        "clearance",
        "Greatest sideways excursion of the foot in swing from the straight line between its two places, positive "
        "away from the body.",
        0,
    ),
    _angle("foot_pitch_heel_strike_deg", "Foot pitch at heel strike", "Toes-up positive, zero on a flat foot."),
    _angle("foot_pitch_mid_swing_deg", "Foot pitch in mid-swing", "At the instant of minimum toe clearance."),
    _angle("foot_pitch_toe_off_deg", "Foot pitch at toe off", "Toes-up positive."),
    _angle("ankle_heel_strike_deg", "Ankle at heel strike", "Dorsiflexion positive."),
    _angle("ankle_foot_flat_deg", "Ankle at foot flat", "Dorsiflexion positive."),
    _angle("ankle_peak_dorsiflexion_deg", "Peak ankle dorsiflexion in stance", "Greatest value in stance."),
    _angle("ankle_mid_swing_deg", "Ankle in mid-swing", "At the instant of minimum toe clearance."),
    _rate(
        "slap_rate_deg_s",
        "Slap rate",
        "Greatest plantarflexion velocity of the ankle between heel strike and foot flat.",
    ),
    _rate("foot_lowering_rate_deg_s", "Foot lowering rate", "Greatest downward pitch rate of the foot in loading."),
    _angle(
        "first_rocker_range_deg",
        "First-rocker range",
        "Ankle angle at heel strike minus its least value up to foot flat.",
    ),
    _measure(
        "ankle_share",
        "1",
        "Ankle share",
        "angle",
        "Of the foot's fall in pitch from heel strike to foot flat, the part that plantarflexion took up, the rest "
        "having driven the shank forward. Only where the heel strikes first and the fall is at least 5 deg.",
        2,
    ),
    _rate("push_off_rate_deg_s", "Push-off rate", "Greatest plantarflexion velocity from heel off to toe off."),
    _angle("shank_heel_strike_deg", "Shank-to-vertical at heel strike", "Inclined (knee ahead of ankle) positive."),
    _angle("shank_foot_flat_deg", "Shank-to-vertical at foot flat", "Inclined positive."),
    _angle("shank_mid_stance_deg", "Shank-to-vertical at mid-stance", "Half-way from foot flat to heel off."),
    _rate(
        "shank_forward_rate_deg_s",
        "Shank forward rate",
        "Greatest forward rotation rate of the shank from heel strike to foot flat.",
    ),
    Measure(
        "heel_strike_shock_m_s2",
        "m/s^2",
        "Heel-strike shock",
        "shock",
        "Greatest shank acceleration (foot where there is no shank log), gravity taken off, within 50 ms after heel "
        "strike.",
        has_se=False,
        decimals=0,
    ),
    Measure(
        "slap_shock_m_s2",
        "m/s^2",
        "Slap shock",
        "shock",
        "Greatest foot acceleration, gravity taken off, within 50 ms after foot flat.",
        has_se=False,
        decimals=0,
    ),
)

BY_COLUMN: dict[str, Measure] = {m.column: m for m in MEASURES}
