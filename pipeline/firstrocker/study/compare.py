"""Walks and conditions against each other: difference, interval, smallest real change, verdict."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import combinations
from typing import Any

import numpy as np
import pyarrow as pa

from firstrocker.measures import MEASURES
from firstrocker.model import BoolArray, FloatArray, IntArray
from firstrocker.study.centres import Compared, Plan, compared_walks_and_conditions
from firstrocker.study.intervals import half_widths
from firstrocker.study.measurement import ErrorShares
from firstrocker.study.strides import by_side
from firstrocker.tables import COMPARISON

MDC = 1.96
"""Times the standard error of a difference: the change that 95 % of pairs of walks without a change stay under."""


def compare(
    strides: pa.Table,
    *,
    confidence: float,
    resamples: int,
    seed: int,
    min_strides: int,
    shares: Mapping[str, ErrorShares] | None = None,
) -> pa.Table:
    """Compare, per session, side and measure, the conditions and each pair of walks.

    ``unbraced`` is the reference of ``braced``; of two walks the earlier is the reference. The difference is that of
    means, so that it equals the difference of the summary's means. A condition's mean is over its strides, each
    counting the same; its walks are pooled by setting (walks of one setting are repeats, and what differs between
    them counts as differing between bouts), and the settings are taken as they were walked: another choice of settings
    would have another mean. A setting with fewer than ``min_strides`` strides is not pooled.

    The interval covers sampling, with the likeness of neighbouring strides and of the strides of a bout
    (:mod:`firstrocker.study.dependence`), and measurement error that neither averages out over strides nor cancels
    between walks (:mod:`firstrocker.study.measurement`). It speaks of the walks as walked.

    Several comparisons: the intervals of all pairs of walks of one measure hold together with that confidence; that
    of unbraced and braced, the question asked first, stands alone. The measures are not corrected for each other:
    of 20 measures of two walks that do not differ, one interval is expected to leave out zero by chance.

    ``smallest_real_change`` is the change that 95 of 100 pairs of walks stay under where nothing has changed: 1.96
    times the root of the summed squared errors of both centres, which for equal errors is 1.96 * sqrt(2) * SEM (the
    minimal detectable change of Weir 2005, from memory). A centre's squared error is the sum of

    - what its strides leave uncertain (the sampling part of the interval above, from the walk's own scatter between
      strides, from stride to stride and from bout to bout);
    - what a walk differs from its own repeat beyond that, where a session has two walks of the same condition and
      setting (:mod:`firstrocker.study.repeats`); without repeats it is unknown and left out, and the change is
      then a lower bound: putting the brace on anew is not in it;
    - the measurement error common to a walk's strides, from the ``_se`` twins, not divided by the number of strides.

    Args:
        strides: rows of ``firstrocker.tables.STRIDES``, of one session or of many.
        confidence: of the intervals, for example 0.95.
        resamples: draws behind each interval; with 4000 a half-width is good to 2 %.
        seed: the same seed gives the same intervals.
        min_strides: fewer on either side and the verdict is ``too few strides``.
        shares: by column name, what part of the measurement's error variance is common.

    Returns:
        rows of ``firstrocker.tables.COMPARISON``. ``higher`` or ``lower`` only where the interval leaves out zero and
        the difference is greater than the smallest real change. Interval and smallest real change are null for too
        few strides, and where the values of one side are all exactly the same (no clear change, then); the
        difference is null where one side has no stride. Measures that no walk of the side has are left out.
    """
    plan = Plan(confidence, resamples, seed, min_strides, shares or {})
    rows: list[dict[str, Any]] = []
    for side in by_side(strides):
        measured = side.measured
        if not measured:
            continue
        walks, conditions = compared_walks_and_conditions(side, plan)
        pairs = pairs_of(conditions, confidence) + pairs_of(walks, confidence)
        for place in measured:
            base = {
                "subject": side.subject,
                "session": side.session,
                "side": side.side,
                "measure": MEASURES[place].column,
                "unit": MEASURES[place].unit,
            }
            rows += [base | pair.row(place) for pair in pairs]
    return pa.Table.from_pylist(rows, schema=COMPARISON)


@dataclass(frozen=True)
class Pair:
    """One pair for all measures, each array (m,)."""

    reference: str
    other: str
    n_reference: IntArray
    n_other: IntArray
    difference: FloatArray
    half_width: FloatArray
    real_change: FloatArray
    enough: BoolArray

    def row(self, place: int) -> dict[str, Any]:
        """What a row of the comparison says of one measure, by its place."""
        difference = _number(self.difference[place])
        half, real = _number(self.half_width[place]), _number(self.real_change[place])
        low = high = None
        verdict = "no clear change" if self.enough[place] else "too few strides"
        if not self.enough[place]:
            real = None
        elif difference is not None and half is not None:
            low, high = difference - half, difference + half
            if real is not None and abs(difference) > real and (low > 0 or high < 0):
                verdict = "higher" if difference > 0 else "lower"
        return {
            "reference": self.reference,
            "other": self.other,
            "n_reference": int(self.n_reference[place]),
            "n_other": int(self.n_other[place]),
            "difference": difference,
            "ci_low": low,
            "ci_high": high,
            "smallest_real_change": real,
            "verdict": verdict,
        }


def _number(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None


def pairs_of(compared: list[Compared], confidence: float) -> list[Pair]:
    """All pairs, the earlier as the reference, their intervals holding together; none of fewer than two."""
    pairs = list(combinations(compared, 2))
    if not pairs:
        return []
    enough = [one.enough & other.enough for one, other in pairs]
    errors = [
        np.where(usable, other.draws - one.draws, np.nan) for (one, other), usable in zip(pairs, enough, strict=True)
    ]
    return [
        Pair(
            reference=one.label,
            other=other.label,
            n_reference=one.count,
            n_other=other.count,
            difference=other.mean - one.mean,
            half_width=half_width,
            real_change=MDC * np.sqrt(one.squared_error + other.squared_error),
            enough=usable,
        )
        for (one, other), half_width, usable in zip(
            pairs, half_widths(errors, confidence=confidence), enough, strict=True
        )
    ]
