"""The comparisons in sentences that say no more than their intervals do."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from firstrocker.measures import BY_COLUMN, Measure
from firstrocker.report.numbers import decimals_of, interval, number, with_unit

Row = Mapping[str, Any]


@dataclass(frozen=True)
class Question:
    """What is asked, the measures that answer it (the first that was measured leads), and what to bear in mind."""

    title: str
    leading: tuple[str, ...]
    further: tuple[str, ...]
    note: str
    lacking: str


QUESTIONS: tuple[Question, ...] = (
    Question(
        title="Is the toe clear?",
        leading=("toe_clearance_min_mm",),
        further=("foot_pitch_mid_swing_deg", "ankle_mid_swing_deg", "circumduction_mm"),
        note="No clearance is known that is safe for everyone: look at the lowest strides as well as at the mean.",
        lacking="Minimum toe clearance could not be had in any stride that counts.",
    ),
    Question(
        title="Is the foot let down, or does it slap?",
        leading=("slap_rate_deg_s", "foot_lowering_rate_deg_s"),
        further=("slap_shock_m_s2", "loading_time_s", "first_rocker_range_deg", "foot_pitch_heel_strike_deg"),
        note="A slap is a high slap rate together with a high slap shock and a short loading time. No published rate "
        "says where a slap begins.",
        lacking="Neither slap rate nor foot lowering rate could be had in any stride that counts.",
    ),
    Question(
        title="Is the shank driven forward?",
        leading=("shank_forward_rate_deg_s",),
        further=("ankle_share", "shank_foot_flat_deg"),
        note="A brace that resists too much shows a low slap rate, a low ankle share and a high shank forward rate. "
        "The shank stands in for the knee, whose own angle and moment are not measured.",
        lacking="No shank log: what the shank does, and the knee with it, is not known.",
    ),
)

MAIN: tuple[str, ...] = (
    *(column for question in QUESTIONS for column in (*question.leading, *question.further)),
    "heel_strike_shock_m_s2",
    "walking_speed_m_s",
    "stride_length_m",
    "cadence_steps_min",
    "stance_percent",
)
"""The measures of the first tables; every measure stands further down."""

KEY: frozenset[str] = frozenset(
    {
        "toe_clearance_min_mm",
        "slap_rate_deg_s",
        "foot_lowering_rate_deg_s",
        "loading_time_s",
        "shank_forward_rate_deg_s",
        "ankle_share",
        "heel_strike_shock_m_s2",
        "slap_shock_m_s2",
        "walking_speed_m_s",
    }
)
"""Those of them that are printed on paper too."""


def called(label: str, names: Mapping[str, str]) -> str:
    """What a reference or other of the comparison is called in a sentence."""
    return names.get(label, f"{label} walking" if label in ("unbraced", "braced") else label)


def compared(row: Row, names: Mapping[str, str]) -> str:
    """One comparison as a sentence.

    Args:
        row: of the comparison table.
        names: reference and other -> how they are called, as in "walk b (soft)".
    """
    measure = BY_COLUMN[row["measure"]]
    reference, other = (called(row[end], names) for end in ("reference", "other"))
    inside = "with" if row["reference"].startswith("walk:") else "in"
    if row["verdict"] == "too few strides":
        return (
            f"{measure.label}: too few strides to compare {reference} ({row['n_reference']}) with {other} "
            f"({row['n_other']})."
        )
    if row["ci_low"] is None or row["difference"] is None:
        return f"{measure.label}: {reference} and {other} cannot be compared; the strides of one do not vary at all."
    decimals = decimals_of(row)
    change = with_unit(number(row["smallest_real_change"], decimals), measure)
    span = with_unit(interval(row), measure)
    if row["verdict"] in ("higher", "lower"):
        amount = with_unit(number(abs(row["difference"]), decimals), measure)
        return (
            f"{measure.label} is {amount} {row['verdict']} {inside} {other} than {inside} {reference} "
            f"(interval {span}; smallest real change {change})."
        )
    difference = with_unit(number(row["difference"], decimals, signed=True), measure)
    sentence = f"{measure.label}: no clear change from {reference} to {other}. Difference {difference}, interval {span}"
    if row["ci_low"] > 0 or row["ci_high"] < 0:
        return f"{sentence}, but not greater than the smallest real change of {change}."
    return f"{sentence}: any difference within it fits these strides."


def answers(comparison: Sequence[Row], question: Question, side: str, names: Mapping[str, str]) -> dict[str, Any]:
    """What the comparisons of one side say to a question.

    Returns:
        ``leading`` column or None where none was measured; ``conditions``, the sentence on unbraced and braced;
        ``further``, those on the further measures that changed clearly; ``unchanged``, the labels of those that did
        not; ``settings``, sentences on pairs of braced walks that differ; ``tied``, the pairs that do not.
    """
    rows = [row for row in comparison if row["side"] == side]
    measured = {row["measure"] for row in rows}
    leading = next((column for column in question.leading if column in measured), None)
    of_conditions = {row["measure"]: row for row in rows if row["reference"] == "unbraced"}
    further = [of_conditions[column] for column in question.further if column in of_conditions]
    between = [row for row in rows if row["measure"] == leading and row["reference"].startswith("walk:")]
    braced = [row for row in between if all(names.get(f"{row[end]}|braced") for end in ("reference", "other"))]
    clear = [row for row in braced if row["verdict"] in ("higher", "lower")]
    return {
        "leading": leading,
        "conditions": compared(of_conditions[leading], names) if leading in of_conditions else None,
        "further": [compared(row, names) for row in further if row["verdict"] in ("higher", "lower")],
        "unchanged": [BY_COLUMN[row["measure"]].label for row in further if row["verdict"] == "no clear change"],
        "settings": [compared(row, names) for row in clear],
        "tied": [_tie(row, names) for row in braced if row["verdict"] == "no clear change"],
        "few": [_pair(row, names) for row in braced if row["verdict"] == "too few strides"],
    }


def _pair(row: Row, names: Mapping[str, str]) -> str:
    return f"{called(row['reference'], names)} and {called(row['other'], names)}"


def _tie(row: Row, names: Mapping[str, str]) -> str:
    measure: Measure = BY_COLUMN[row["measure"]]
    return f"{_pair(row, names)} ({with_unit(interval(row), measure)})"


LEFT_OUT = {
    "first": "first of a bout",
    "last": "last of a bout",
    "turn": "turning",
    "stairs": "on stairs or just off them",
    "slope": "on a ramp, just off it, or on ground not made out",
    "short_bout": "bout under 4 strides",
    "quality": "touched by a finding",
}

STATUS = {
    "ok": "Nothing was found that speaks against these results.",
    "flagged": "Something was found that these results may have suffered from. Read the findings before relying on "
    "them.",
    "rejected": "This session could not be analysed. No number on it is given; what was found, and how to mend it, "
    "stands below.",
}

NOTHING = "No fault was found, but no stride counts: nothing can be said."
"""In place of the words for ``ok`` where there is no number."""
