"""How sure an effect across people can be at the most, by what is known of each person's own change."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import pyarrow as pa
from scipy.special import ndtr, ndtri

from firstrocker.model import FloatArray, Side
from firstrocker.study.mixed import Effect

Known = Mapping[tuple[str, str], Mapping[str, float]]
"""(leg, measure) -> person -> standard error of the person's own change, braced minus unbraced."""


def own_errors(
    comparison: pa.Table, affected: Mapping[tuple[str, str], Side], *, confidence: float, contrast: str = "braced"
) -> Known:
    """The standard errors of people's own changes, from the intervals that their sessions give.

    Strides that resemble each other and what all strides share, as a sensor's place that was not measured, are in those
    intervals; they are taken for normal, which makes the error of a few strides a little too large. Of several sessions
    it is that of their mean; a session without an interval says nothing.

    Args:
        comparison: rows in the schema COMPARISON, of all sessions.
        affected: (subject, session) -> affected side; other sessions are left out.
        confidence: of the intervals, in (0, 1).
        contrast: the condition set against ``unbraced``.
    """
    names = ("subject", "session", "side", "measure", "reference", "other", "ci_low", "ci_high")
    errors: dict[tuple[str, str], dict[str, list[float]]] = {}
    for subject, session, side, measure, reference, other, low, high in zip(
        *(comparison[name].to_pylist() for name in names), strict=True
    ):
        if (reference, other) != ("unbraced", contrast) or low is None or (subject, session) not in affected:
            continue
        leg = "affected" if side == affected[subject, session] else "other"
        own = errors.setdefault((leg, measure), {}).setdefault(subject, [])
        own.append((high - low) / (2.0 * _width(confidence)))
    return {
        key: {subject: float(np.linalg.norm(some)) / len(some) for subject, some in people.items()}
        for key, people in errors.items()
    }


def no_surer_than(effect: Effect, own_se: FloatArray, *, confidence: float) -> Effect:
    """The effect, its interval widened to what the errors of people's own changes leave, where it is narrower.

    Few people's changes may lie closer together by chance than each of them is known, and an interval that is made of
    their distances alone would then say more than was measured. The wider of the two intervals is kept: it holds the
    truth at least as often as either.

    Args:
        effect: as fitted.
        own_se: (people,) the standard errors of people's own changes, in the order of ``effect.people``; 0 where
            nothing is known.
        confidence: of the interval, in (0, 1).

    Returns:
        the effect as it is, or with its standard error, interval and p value of people's own errors, degrees of freedom
        without end.
    """
    if not np.isfinite(effect.ci_low):
        return effect
    se = float(np.linalg.norm(effect.share * own_se))
    half = _width(confidence) * se
    if half <= (effect.ci_high - effect.ci_low) / 2.0:
        return effect
    return replace(
        effect,
        se=se,
        freedom=float("inf"),
        ci_low=effect.value - half,
        ci_high=effect.value + half,
        p_value=float(2.0 * ndtr(-abs(effect.value) / se)),
    )


def _width(confidence: float) -> float:
    """Half an interval in standard errors."""
    return float(ndtri(0.5 + confidence / 2.0))
