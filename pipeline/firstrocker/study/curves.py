"""Whole curves of a stride, braced against unbraced across people: one-dimensional statistical parametric mapping."""

from __future__ import annotations

import warnings
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pyarrow as pa

from firstrocker import tables
from firstrocker.model import FloatArray
from firstrocker.study.cohort import LEGS, Sessions

CURVES = ("foot_pitch_deg", "ankle_deg", "shank_deg", "toe_height_mm")
"""The curves that are compared."""

POINTS = 101
"""0 to 100 % of the stride."""

MIN_PEOPLE = 4
"""Fewer people than this and nothing is said of a curve: the smoothness of the residuals, on which the threshold rests,
cannot be had from two or three of them; from memory, no source."""


@dataclass(frozen=True)
class WalkCurves:
    """The mean curves of one walk and side: ``curves`` (4, 101) in the order of ``CURVES``, NaN where it has none."""

    subject: str
    session: str
    side: str
    condition: str
    curves: FloatArray


def walk_curves(curves: pa.Table, *, min_strides: int) -> list[WalkCurves]:
    """The mean of the strides that count, walk by walk.

    Args:
        curves: rows in the schema CURVES, of one session.
        min_strides: a curve is the mean of as many strides at least at every percent, else there is none.
    """
    if curves.num_rows == 0:
        return []
    keys = ("subject", "session", "walk", "condition", "side")
    codes = [curves[name].combine_chunks().dictionary_encode() for name in keys]
    steady = curves["steady"].to_numpy().astype(bool)
    percent = curves["percent"].to_numpy()
    values = np.column_stack([curves[name].to_numpy().astype(np.float64) for name in CURVES])
    where = np.column_stack([code.indices.to_numpy() for code in codes])
    found = []
    for group in np.unique(where, axis=0):
        mine = steady & np.all(where == group, axis=1)
        known = np.isfinite(values[mine])
        count = np.stack([np.bincount(percent[mine], weights=column, minlength=POINTS) for column in known.T])
        total = np.where(known, values[mine], 0.0)
        summed = np.stack([np.bincount(percent[mine], weights=column, minlength=POINTS) for column in total.T])
        mean = np.where(count >= min_strides, summed / np.maximum(count, 1), np.nan)
        mean[~np.isfinite(mean).all(axis=1)] = np.nan
        subject, session, _, condition, side = (
            code.dictionary[int(at)].as_py() for code, at in zip(codes, group, strict=True)
        )
        found.append(WalkCurves(subject, session, side, condition, mean))
    return found


def person_curves(walks: Iterable[WalkCurves], affected: Sessions, *, contrast: str = "braced") -> pa.Table:
    """Each person's mean curves, unbraced and braced, from sessions that have both.

    The mean is of walks within a session, then of sessions.

    Returns:
        rows in the schema COHORT_CURVES.
    """
    sessions: dict[tuple[str, str, str], dict[str, list[FloatArray]]] = {}
    for walk in walks:
        if (walk.subject, walk.session) in affected:
            leg = "affected" if walk.side == affected[walk.subject, walk.session] else "other"
            sessions.setdefault((leg, walk.subject, walk.session), {}).setdefault(walk.condition, []).append(
                walk.curves
            )
    people: dict[tuple[str, str], list[FloatArray]] = {}
    for (leg, subject, _), conditions in sorted(sessions.items()):
        if "unbraced" in conditions and contrast in conditions:
            both = np.stack([_mean(conditions["unbraced"]), _mean(conditions[contrast])])
            both[:, ~np.isfinite(both).all(axis=(0, 2))] = np.nan
            people.setdefault((leg, subject), []).append(both)
    columns: dict[str, list[Any]] = {name: [] for name in tables.COHORT_CURVES.names}
    for (leg, subject), members in people.items():
        mean = _mean(members)
        for which, condition in enumerate(("unbraced", contrast)):
            columns["leg"] += [leg] * POINTS
            columns["subject"] += [subject] * POINTS
            columns["condition"] += [condition] * POINTS
            columns["percent"] += range(POINTS)
            for place, name in enumerate(CURVES):
                columns[name] += [value if np.isfinite(value) else None for value in mean[which, place].tolist()]
    return pa.table(columns, schema=tables.COHORT_CURVES)


def _mean(members: Sequence[FloatArray]) -> FloatArray:
    """The mean of those that are known, NaN where none is."""
    stacked = np.stack(members)
    known = np.isfinite(stacked)
    count = known.sum(axis=0)
    total = np.where(known, stacked, 0.0).sum(axis=0)
    return np.asarray(np.where(count > 0, total / np.maximum(count, 1), np.nan))


def compare_curves(people: pa.Table, *, confidence: float, contrast: str = "braced") -> pa.Table:
    """Where along the stride braced and unbraced curves differ, across people.

    A paired t at every percent, and the height that a t curve as smooth as this one reaches anywhere along the stride
    by chance alone (random field theory; Pataky 2010, by spm1d). The curves of one leg share the chance of a false
    claim evenly (Bonferroni): one threshold each is needed, not a p value. It takes people's differences for normal at
    every percent and equally smooth all along, which few people cannot show.

    Args:
        people: rows in the schema COHORT_CURVES.
        confidence: one minus the chance of any false claim on a leg.
        contrast: the condition set against ``unbraced``.

    Returns:
        rows in the schema SPM, per leg, curve and percent. t, threshold and clusters are null with fewer than
        :data:`MIN_PEOPLE` people or where the curves' differences do not vary.
    """
    columns: dict[str, list[Any]] = {name: [] for name in tables.SPM.names}
    for leg in LEGS:
        pairs = {name: _paired(people, leg, name, contrast) for name in CURVES}
        asked = {name: pair for name, pair in pairs.items() if len(pair[0])}
        tested = sum(len(pair[0]) >= MIN_PEOPLE for pair in asked.values())
        for name, (low, high) in asked.items():
            columns["leg"] += [leg] * POINTS
            columns["curve"] += [name] * POINTS
            columns["percent"] += range(POINTS)
            columns["people"] += [len(low)] * POINTS
            columns["unbraced"] += low.mean(axis=0).tolist()
            columns["braced"] += high.mean(axis=0).tolist()
            columns["difference"] += (high - low).mean(axis=0).tolist()
            found = _mapped(low, high, (1.0 - confidence) / max(tested, 1))
            for key, values in found.items():
                columns[key] += values
    return pa.table(columns, schema=tables.SPM)


def _paired(people: pa.Table, leg: str, name: str, contrast: str) -> tuple[FloatArray, FloatArray]:
    """(n, 101) unbraced and contrasted curves of the people who have both."""
    legs, condition = people["leg"].to_pylist(), people["condition"].to_pylist()
    values = people[name].to_numpy().astype(np.float64)
    starts = [at for at in range(0, len(legs), POINTS) if legs[at] == leg]
    rows = {
        way: np.array([values[at : at + POINTS] for at in starts if condition[at] == way]).reshape(-1, POINTS)
        for way in ("unbraced", contrast)
    }
    keep = np.isfinite(rows["unbraced"]).all(axis=1) & np.isfinite(rows[contrast]).all(axis=1)
    return rows["unbraced"][keep], rows[contrast][keep]


def _mapped(low: FloatArray, high: FloatArray, level: float) -> dict[str, list[Any]]:
    """t, threshold, cluster number and p value at every percent."""
    none: list[Any] = [None] * POINTS
    if len(low) < MIN_PEOPLE or np.ptp(high - low, axis=0).min() <= 0:
        return {"t": none, "threshold": none, "cluster": none, "p_value": none}
    import spm1d  # a second and a half at start-up

    with warnings.catch_warnings(), np.errstate(all="ignore"):
        warnings.simplefilter("ignore")  # of its own numerics; what it gives is checked below
        found = spm1d.stats.ttest_paired(high, low).inference(level, two_tailed=True, interp=True)
    t, threshold = np.asarray(found.z, dtype=np.float64), float(found.zstar)
    if not np.isfinite(t).all() or not np.isfinite(threshold):
        return {"t": none, "threshold": none, "cluster": none, "p_value": none}
    cluster, p_value = list(none), list(none)
    for number, one in enumerate(found.clusters):
        first, last = one.endpoints
        for at in range(max(0, int(np.ceil(first))), min(POINTS - 1, int(np.floor(last))) + 1):
            cluster[at], p_value[at] = number, float(one.P)
    return {"t": t.tolist(), "threshold": [threshold] * POINTS, "cluster": cluster, "p_value": p_value}
