"""How one person's measures develop from session to session, each condition and setting against its first session."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from scipy.special import ndtri

from firstrocker.measures import BY_COLUMN

Row = Mapping[str, Any]
Verdict = Literal["first", "clear change", "more than the walks explain", "no clear change", "too few strides"]

HEADLINES: tuple[tuple[str, ...], ...] = (
    ("toe_clearance_min_mm",),
    ("slap_rate_deg_s", "foot_lowering_rate_deg_s"),
    ("shank_forward_rate_deg_s",),
    ("foot_pitch_heel_strike_deg",),
    ("walking_speed_m_s",),
)
"""What is followed; of several measures the first that was measured in any session."""


def between_visits(measure: str, mean: float) -> float | None:
    """What a measure is known to differ by between two visits although nothing has changed; None where no one knows.

    Walking speed after stroke: 0.10, 0.15 and 0.18 m/s for people who walk slower than 0.4, up to 0.8, and faster
    (Lewek & Sykes 2019). Angles: some 5 deg between sessions of healthy people (Wilken et al. 2012). Both as cited in
    reviews and search results, not read in full. Nothing was found on clearance and rates.
    """
    if measure == "walking_speed_m_s":
        return 0.10 if mean < 0.4 else 0.15 if mean <= 0.8 else 0.18
    return 5.0 if BY_COLUMN[measure].kind == "angle" and BY_COLUMN[measure].unit == "deg" else None


@dataclass(frozen=True)
class CoursePoint:
    """One condition and setting in one session, against the first session in which it was walked.

    mean, ci_low, ci_high: of the session itself. difference, difference_low, difference_high: from the first session,
    None there. real_change: what the difference must exceed: what strides and measurement leave uncertain in both
    sessions and, where it is known, what visits differ by anyway. between_known: whether that is in it.
    """

    session: str
    condition: str
    setting: str | None
    resistance: float | None
    measure: str
    n: int
    mean: float
    ci_low: float | None
    ci_high: float | None
    difference: float | None
    difference_low: float | None
    difference_high: float | None
    real_change: float | None
    between_known: bool
    verdict: Verdict


@dataclass(frozen=True)
class _Pooled:
    n: int
    mean: float
    variance: float | None


def course(
    sessions: Sequence[tuple[str, str | None, Sequence[Row]]], *, confidence: float, min_strides: int
) -> list[CoursePoint]:
    """Follow the headline measures over sessions.

    Walks of one condition, setting and resistance of a session are taken together, each stride counting the same. The
    standard errors are those of the summary, which hold the strides' scatter and all of the measurement's own error,
    where the sensor sits on the shoe included. Two sessions are independent of each other: sensors were put on anew.

    What no number here holds is how a person differs from day to day and the brace from one putting on to the next. So
    an interval that leaves out zero says that the walks differ, and not yet that the person has changed; where nobody
    has published what visits differ by, ``more than the walks explain`` is all that is said.

    Args:
        sessions: label, affected side and rows of the summary, in order. Sessions without a side are passed over.
        confidence: of the intervals.
        min_strides: fewer in either session are too few to compare.

    Returns:
        by measure, then condition and setting, then session.
    """
    z = float(ndtri(0.5 + confidence / 2.0))
    measured = {
        row["measure"] for _, side, rows in sessions for row in rows if row["side"] == side and row["mean"] is not None
    }
    chosen = [next((c for c in columns if c in measured), None) for columns in HEADLINES]
    found: list[CoursePoint] = []
    for measure in (column for column in chosen if column is not None):
        pooled: dict[tuple[str, str | None, float | None], list[tuple[str, _Pooled]]] = {}
        for label, side, rows in sessions:
            for key, mine in _by_setting(rows, side, measure).items():
                pooled.setdefault(key, []).append((label, mine))
        for key, points in pooled.items():
            first = points[0][1]
            for place, (label, point) in enumerate(points):
                found.append(_point(label, key, measure, point, first if place else None, z, min_strides))
    return found


def _by_setting(
    rows: Sequence[Row], side: str | None, measure: str
) -> dict[tuple[str, str | None, float | None], _Pooled]:
    groups: dict[tuple[str, str | None, float | None], list[Row]] = {}
    for row in rows:
        if row["side"] == side and row["measure"] == measure and row["mean"] is not None:
            groups.setdefault((row["condition"], row["setting"], row["resistance"]), []).append(row)
    return {key: _pool(members) for key, members in groups.items()}


def _pool(rows: Sequence[Row]) -> _Pooled:
    n = np.array([row["n"] for row in rows], dtype=np.float64)
    weights = n / n.sum()
    mean = float(weights @ np.array([row["mean"] for row in rows], dtype=np.float64))
    if any(row["se"] is None for row in rows):
        return _Pooled(int(n.sum()), mean, None)
    squares = np.array([row["se"] ** 2 for row in rows], dtype=np.float64)
    return _Pooled(int(n.sum()), mean, float(weights**2 @ squares))


def _point(
    session: str,
    key: tuple[str, str | None, float | None],
    measure: str,
    point: _Pooled,
    first: _Pooled | None,
    z: float,
    min_strides: int,
) -> CoursePoint:
    condition, setting, resistance = key
    half = None if point.variance is None else z * float(np.sqrt(point.variance))
    difference = low = high = real = None
    verdict: Verdict = "first"
    between = None
    if first is not None:
        difference = point.mean - first.mean
        between = between_visits(measure, first.mean)
        enough = min(point.n, first.n) >= min_strides and point.variance is not None and first.variance is not None
        verdict = "too few strides"
        if enough:
            se = float(np.sqrt((point.variance or 0.0) + (first.variance or 0.0)))
            low, high = difference - z * se, difference + z * se
            real = max(1.96 * se, between or 0.0)
            beyond = abs(difference) > real and (low > 0 or high < 0)
            clear: Verdict = "clear change" if between is not None else "more than the walks explain"
            verdict = clear if beyond else "no clear change"
    return CoursePoint(
        session=session,
        condition=condition,
        setting=setting,
        resistance=resistance,
        measure=measure,
        n=point.n,
        mean=point.mean,
        ci_low=None if half is None else point.mean - half,
        ci_high=None if half is None else point.mean + half,
        difference=difference,
        difference_low=low,
        difference_high=high,
        real_change=real,
        between_known=between is not None,
        verdict=verdict,
    )
