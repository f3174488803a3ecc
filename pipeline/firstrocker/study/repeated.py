"""How well walks and sessions that repeat each other agree, across people: reliability of every measure."""

from __future__ import annotations

from collections.abc import Iterator
from statistics import fmean
from typing import Any

import numpy as np
import pyarrow as pa
from scipy.special import chdtri

from firstrocker import tables
from firstrocker.measures import BY_COLUMN, MEASURES
from firstrocker.model import FloatArray
from firstrocker.study.cohort import LEGS, Sessions
from firstrocker.study.reliability import (
    Bounded,
    bland_altman,
    intraclass_correlation,
    minimal_detectable_change,
    sem_from_differences,
)

MIN_PEOPLE = 3
"""People with repeats below which nothing is given; from memory, no source."""

_Way = tuple[str, str | None, float | None]  # condition, setting, resistance
_Walks = dict[tuple[str, str], dict[str, dict[str, dict[_Way, list[float]]]]]  # leg, measure: subject: session: way


def reliability(summary: pa.Table, affected: Sessions, *, confidence: float, min_strides: int) -> pa.Table:
    """Agreement of each person's first with their second measurement of the same thing.

    ``walks``: the first two walks of one condition and setting within one session, of the first session that has them.
    ``sessions``: the means of one condition and setting in the first two sessions that share it. Each person counts
    once per condition; of several settings the first by name that has repeats is taken. Correlations are ICC(2,1) and
    ICC(3,1) of single measurements (:mod:`firstrocker.study.reliability`); ``sem`` is SD of the differences / sqrt(2),
    so that a shift common to all people is not in it: that is the bias of the limits of agreement. ``mdc95`` is
    1.96 * sqrt(2) * sem, its interval by the chi-square distribution of the differences' variance. Values of sessions
    weeks apart hold true change too, and then say the least of the measurement.

    Args:
        summary: rows in the schema SUMMARY, of all sessions.
        affected: (subject, session) -> affected side; sessions not in it are left out.
        confidence: of the intervals.
        min_strides: walks with fewer strides are left out.

    Returns:
        rows in the schema RELIABILITY, none where fewer than :data:`MIN_PEOPLE` people have repeats.
    """
    walks = _walks(summary, affected, min_strides)
    rows: list[dict[str, Any]] = []
    for leg in LEGS:
        for measure in MEASURES:
            people = walks.get((leg, measure.column), {})
            for repeats, condition, pairs in _pairs(people):
                if len(pairs) >= MIN_PEOPLE:
                    head = {"leg": leg, "measure": measure.column, "unit": measure.unit}
                    head |= {"repeats": repeats, "condition": condition}
                    rows.append(head | _numbers(np.array(pairs), confidence))
    return pa.Table.from_pylist(rows, schema=tables.RELIABILITY)


def _walks(summary: pa.Table, affected: Sessions, min_strides: int) -> _Walks:
    names = ("subject", "session", "side", "measure", "condition", "setting", "resistance", "n", "mean")
    found: _Walks = {}
    for subject, session, side, measure, condition, setting, resistance, n, mean in zip(
        *(summary[name].to_pylist() for name in names), strict=True
    ):
        if (subject, session) in affected and n >= min_strides and mean is not None and measure in BY_COLUMN:
            leg = "affected" if side == affected[subject, session] else "other"
            of_session = found.setdefault((leg, measure), {}).setdefault(subject, {}).setdefault(session, {})
            of_session.setdefault((condition, setting, resistance), []).append(mean)
    return found


def _pairs(people: dict[str, dict[str, dict[_Way, list[float]]]]) -> Iterator[tuple[str, str, list[list[float]]]]:
    """What is repeated, the condition, and each person's first and second value."""
    for condition in ("unbraced", "braced"):
        within: list[list[float]] = []
        between: list[list[float]] = []
        for subject in sorted(people):
            sessions = [people[subject][name] for name in sorted(people[subject])]
            ways = sorted({way for one in sessions for way in one if way[0] == condition}, key=str)
            same = [one[way][:2] for one in sessions for way in ways if len(one.get(way, ())) > 1]
            within += same[:1]
            again = [[fmean(one[way]) for one in sessions if way in one] for way in ways]
            between += [values[:2] for values in again if len(values) > 1][:1]
        yield "walks", condition, within
        yield "sessions", condition, between


def _numbers(pairs: FloatArray, confidence: float) -> dict[str, Any]:
    correlations = intraclass_correlation(pairs, confidence=confidence)
    agreement = bland_altman(pairs[:, 1], pairs[:, 0], confidence=confidence)
    sem = sem_from_differences(pairs[:, 1] - pairs[:, 0])
    freedom, tail = len(pairs) - 1, (1.0 - confidence) / 2.0
    mdc = minimal_detectable_change(sem)
    ends = [mdc * float(np.sqrt(freedom / chdtri(freedom, share))) for share in (tail, 1.0 - tail)]
    return (
        {"people": len(pairs), "mean": float(pairs.mean()), "sem": _number(sem)}
        | _bounded("mdc95", Bounded(mdc, *ends))
        | _bounded("icc_agreement", correlations.agreement)
        | _bounded("icc_consistency", correlations.consistency)
        | _bounded("bias", agreement.bias)
        | _bounded("limit_low", agreement.lower)
        | _bounded("limit_high", agreement.upper)
    )


def _bounded(name: str, number: Bounded) -> dict[str, float | None]:
    return {
        name: _number(number.value),
        f"{name}_ci_low": _number(number.ci_low),
        f"{name}_ci_high": _number(number.ci_high),
    }


def _number(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None
