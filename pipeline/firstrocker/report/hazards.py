"""What could turn every conclusion round, what was looked at to catch it, and what to ask: never a verdict.

Rates of hits and false alarms are those on simulated sessions (``tests/bench/hazard_rates.py``: 12 sessions of a
slapping foot, unbraced and in three resistances, some 10 strides a walk; 6 two-sided walks of each of 7 kinds of gait
with one affected leg). On people they are not known.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import permutations
from typing import Any, Literal

import numpy as np
import pyarrow as pa

from firstrocker.report.hazard_words import listed_changes, side_words
from firstrocker.report.numbers import number

Row = Mapping[str, Any]
State = Literal["ask", "nothing found", "cannot be told"]

CAUTIONS: tuple[str, ...] = (
    "For research; not a medical device. A qualified orthotist decides, with the patient in the room.",
    "Look at the findings and at the strides left out before any number.",
    "A measure that cannot be had is left empty, never guessed.",
    "Shank angles without a thigh sensor say nothing of the knee's own angle or moment.",
    "Errors measured on simulated signals are not errors measured on people.",
    "This page is health data: keep it where it is safe.",
)


@dataclass(frozen=True)
class Hazard:
    """One thing that may be wrong.

    checked: what the software did to catch it and what it saw. question: to the clinician, None unless ``ask``.
    """

    code: Literal["side", "sign", "swapped", "order"]
    title: str
    state: State
    checked: str
    question: str | None = None


@dataclass(frozen=True)
class SideSign:
    """One way in which an affected leg differs from the other: by at least ``least``, in units of the measure."""

    measure: str
    affected: Literal["higher", "lower"]
    least: float


SIDE_SIGNS: tuple[SideSign, ...] = (
    SideSign("foot_pitch_heel_strike_deg", "lower", 3.0),
    SideSign("loading_time_s", "lower", 0.01),
    SideSign("stance_percent", "lower", 1.0),
    SideSign("circumduction_mm", "higher", 10.0),
)
"""Chosen on simulated walkers; how an affected leg differs is common knowledge of the trade, the least differences are
from memory. Toe clearance, slap rate and mid-swing angles told nothing: they go either way with the kind of gait."""
CLEAR = 2.0
"""A difference of sides counts from so many of its standard errors on."""
RECLINED_DEG = -10.0
"""Shank-to-vertical in mid-stance, foot flat, below which its sign is asked about. Simulated walks of all kinds gave -7
and more, with the shank gyroscope's sign turned -10 to -25."""

SIGN_FINDINGS = ("axes-unclear", "foot-points-aside", "foot-shank-exchanged", "toe-below-ground")


def hazards(summary: pa.Table, comparison: pa.Table, quality: Mapping[str, Any]) -> list[Hazard]:
    """Every hazard with what was looked at.

    Args:
        summary: rows in the schema SUMMARY of one session.
        comparison: rows in the schema COMPARISON of the same.
        quality: the content of its quality.json.
    """
    summed, compared = summary.to_pylist(), comparison.to_pylist()
    affected = quality.get("affected_side")
    walks = list(quality.get("walks") or [])
    mine = [row for row in compared if row["side"] == affected]
    return [
        wrong_side(summed, affected, walks),
        wrong_sign(summed, list(quality.get("findings") or [])),
        swapped_conditions(mine, walks),
        wrong_order(mine, walks),
    ]


def wrong_side(summary: Sequence[Row], affected: str | None, walks: Sequence[Row]) -> Hazard:
    """Does the side called affected look it?

    Unbraced walks tell more, so they are used where there are any. On simulated walks a wrong side was asked about in
    42 of 42, a right one in 0 of 42.
    """
    title = "Wrong side"
    sides = sorted({row["side"] for row in summary if row["mean"] is not None})
    if affected is None or len(sides) < 2:
        text = (
            "One side was logged, so the other could not be looked at: whether this is the affected one cannot be told."
        )
        return Hazard("side", title, "cannot be told", text)
    unbraced = {walk["walk"] for walk in walks if walk["condition"] == "unbraced"}
    rows = [row for row in summary if not unbraced or row["walk"] in unbraced]
    other = next(side for side in sides if side != affected)
    speak_for: list[str] = []
    against: list[str] = []
    for sign in SIDE_SIGNS:
        means = [_mean(rows, sign.measure, side) for side in (affected, other)]
        if means[0] is None or means[1] is None:
            continue
        difference = means[0][0] - means[1][0]
        clear = abs(difference) >= max(sign.least, CLEAR * float(np.hypot(means[0][1], means[1][1])))
        if clear:
            as_said = (difference > 0) == (sign.affected == "higher")
            (speak_for if as_said else against).append(side_words(sign.measure, means[0][0], means[1][0]))
    which = "unbraced walking" if unbraced else "all walks, for none was unbraced"
    looked = f"Both sides were compared in {which}. Like an affected leg, the {affected} has"
    yes = f"{looked} {listed_changes(speak_for)}." if speak_for else ""
    no = f"The {other} looks more affected in {listed_changes(against)}." if against else ""
    if len(against) > len(speak_for):
        question = f"Is the affected side really the {affected}, and were left and right sensors not exchanged?"
        return Hazard("side", title, "ask", " ".join(filter(None, (yes, no))), question)
    if len(speak_for) > len(against):
        return Hazard("side", title, "nothing found", " ".join(filter(None, (yes, no))))
    text = " ".join(filter(None, (yes, no))) or f"Both sides were compared in {which} and differ in nothing that tells."
    return Hazard("side", title, "cannot be told", text)


def _mean(rows: Sequence[Row], measure: str, side: str) -> tuple[float, float] | None:
    """Mean of the walks' means and its standard error."""
    found = [row for row in rows if row["measure"] == measure and row["side"] == side and row["se"] is not None]
    if not found:
        return None
    return (
        float(np.mean([row["mean"] for row in found])),
        float(np.sqrt(sum(row["se"] ** 2 for row in found)) / len(found)),
    )


def wrong_sign(summary: Sequence[Row], findings: Sequence[Row]) -> Hazard:
    """Do foot and shank turn the way walking turns them?"""
    title = "Wrong sign or axis"
    odd = []
    for row in summary:
        if row["mean"] is None:
            continue
        place = f"walk {row['walk']}, {row['side']}"
        if row["measure"] == "foot_pitch_toe_off_deg" and row["mean"] > 0:
            odd.append(f"{place}: the toes point up at toe off ({number(row['mean'], 0)}\u00b0)")
        if row["measure"] == "shank_mid_stance_deg" and row["mean"] < RECLINED_DEG:
            odd.append(f"{place}: the shank leans back in mid-stance ({number(row['mean'], 0)}\u00b0)")
    noticed = sorted({f["code"] for f in findings if f["code"] in SIGN_FINDINGS})
    looked = (
        "Forward was taken from where the foot went, sideways from how foot and shank turned, up from gravity. Looked "
        "at again: whether the toes point down at toe off and the shank does not lean back over the flat foot."
    )
    if not odd and not noticed:
        if not any(row["measure"] == "foot_pitch_toe_off_deg" for row in summary):
            return Hazard("sign", title, "cannot be told", "There is no stride that counts to look at.")
        return Hazard("sign", title, "nothing found", f"{looked} All walks do.")
    told = "; ".join(odd) + "." if odd else ""
    if noticed:
        told += f" See the findings on {', '.join(noticed)}."
    question = (
        "Are the columns of the logger profile in the right order and with the right signs, and did the person stand "
        "upright at the start?"
    )
    return Hazard("sign", title, "ask", f"{looked} {told.strip()}", question)


def swapped_conditions(comparison: Sequence[Row], walks: Sequence[Row]) -> Hazard:
    """Does a braced walk slap clearly more than an unbraced one?

    On simulated sessions asked about where the label of the unbraced walk was exchanged with soft in 5 of 12, with
    medium in 10, with firm in 12; as walked in 0.
    """
    title = "Braced and unbraced swapped"
    condition = {f"walk:{walk['walk']}": walk["condition"] for walk in walks}
    rate = _leading(comparison)
    pairs = [
        row
        for row in comparison
        if row["measure"] == rate
        and {condition.get(row["reference"]), condition.get(row["other"])} == {"braced", "unbraced"}
    ]
    if not any(row["verdict"] != "too few strides" for row in pairs):
        text = "Unbraced and braced walks cannot be compared, so a swapped label would not show."
        return Hazard("swapped", title, "cannot be told", text)
    asked = [row for row in pairs if row["verdict"] == ("higher" if condition[row["other"]] == "braced" else "lower")]
    what = "ankle" if rate == "slap_rate_deg_s" else "foot"
    looked = (
        f"Each braced walk was set against each unbraced one: does the {what} come down clearly faster in the brace?"
    )
    if not asked:
        return Hazard("swapped", title, "nothing found", f"{looked} In none.")
    braced = [row["other"] if condition[row["other"]] == "braced" else row["reference"] for row in asked]
    names = ", ".join(dict.fromkeys(key.removeprefix("walk:") for key in braced))
    text = f"{looked} In walk {names} it does."
    return Hazard("swapped", title, "ask", text, "Were braced and unbraced walks labelled as they were walked?")


def wrong_order(comparison: Sequence[Row], walks: Sequence[Row]) -> Hazard:
    """Does a walk labelled with more resistance look softer than one labelled with less?

    On simulated sessions asked about where the labels of two settings were exchanged: soft and medium in 11 of 12,
    medium and firm in 12, soft and firm in 12; as walked in 0.
    """
    title = "Setting mislabelled"
    labelled = [
        (f"walk:{walk['walk']}", walk["setting"])
        for walk in walks
        if walk["condition"] == "braced" and (walk.get("setting") or {}).get("resistance") is not None
    ]
    verdicts = {(row["reference"], row["other"], row["measure"]): row["verdict"] for row in comparison}
    asked, looked_at = [], 0
    for (soft, one), (stiff, other) in permutations(labelled, 2):
        if one.get("unit") != other.get("unit") or one["resistance"] >= other["resistance"]:
            continue
        seen = {
            m: _verdict(verdicts, soft, stiff, m)
            for m in ("slap_rate_deg_s", "shank_forward_rate_deg_s", "ankle_share")
        }
        if seen["slap_rate_deg_s"] in (None, "too few strides"):
            continue
        looked_at += 1
        softer = (seen["slap_rate_deg_s"] == "higher") + (seen["shank_forward_rate_deg_s"] == "lower")
        softer += seen["ankle_share"] == "higher"
        stiffer = (seen["slap_rate_deg_s"] == "lower") + (seen["shank_forward_rate_deg_s"] == "higher")
        stiffer += seen["ankle_share"] == "lower"
        if softer > stiffer:
            asked.append(f"walk {stiff[5:]} ({other['label']}) looks softer than walk {soft[5:]} ({one['label']})")
    if not looked_at:
        text = "No two braced walks have a shank log and a resistance in one unit, so their order cannot be looked at."
        return Hazard("order", title, "cannot be told", text)
    looked = (
        "Of each two resistances: is slap rate or ankle share clearly higher, or shank forward rate clearly lower, "
    )
    looked += "with the greater one?"
    if not asked:
        return Hazard("order", title, "nothing found", f"{looked} In no pair of {looked_at}.")
    question = "Were the settings labelled as they were walked, and is the resistance of each what the label says?"
    return Hazard("order", title, "ask", f"{looked} {'; '.join(asked)}.", question)


def _verdict(verdicts: Mapping[tuple[str, str, str], str], reference: str, other: str, measure: str) -> str | None:
    """Of ``other`` against ``reference``, whichever of them was walked first."""
    turned = {"higher": "lower", "lower": "higher"}
    if (reference, other, measure) in verdicts:
        return verdicts[reference, other, measure]
    found = verdicts.get((other, reference, measure))
    return None if found is None else turned.get(found, found)


def _leading(comparison: Sequence[Row]) -> str:
    measured = {row["measure"] for row in comparison}
    return "slap_rate_deg_s" if "slap_rate_deg_s" in measured else "foot_lowering_rate_deg_s"
