"""Whole curves of a stride, braced against unbraced across people: one-dimensional statistical parametric mapping."""

from __future__ import annotations

import warnings
from collections.abc import Iterable, Iterator, Sequence
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


COLUMNS = ("subject", "session", "walk", "condition", "side", "percent", "steady", *CURVES)
"""Of a session's curves, those that are read here."""


def walk_curves(parts: Iterable[pa.Table], *, min_strides: int) -> list[WalkCurves]:
    """The mean of the strides that count, walk by walk; of a session of any length a part at a time is held.

    Args:
        parts: rows in the schema CURVES, of one session, in parts; at least the columns ``COLUMNS``.
        min_strides: a curve is the mean of as many strides at least at every percent, else there is none.
    """
    sums: dict[tuple[str, ...], FloatArray] = {}
    for part in parts:
        for key, added in _summed(part):
            sums[key] = sums.get(key, 0.0) + added
    found = []
    for (subject, session, _, condition, side), (total, count) in sums.items():
        mean = np.where(count >= min_strides, total / np.maximum(count, 1), np.nan)
        mean[~np.isfinite(mean).all(axis=1)] = np.nan
        found.append(WalkCurves(subject, session, side, condition, mean))
    return found


def _summed(part: pa.Table) -> Iterator[tuple[tuple[str, ...], FloatArray]]:
    """Of each walk and side, its key, and (2, 4, 101) the sums and counts of the strides that count."""
    if part.num_rows == 0:
        return
    coded = [part[name].combine_chunks().dictionary_encode() for name in COLUMNS[:5]]
    shape = [len(code.dictionary) for code in coded]
    where = np.ravel_multi_index([code.indices.to_numpy() for code in coded], shape)
    steady, percent = part["steady"].to_numpy().astype(bool), part["percent"].to_numpy()
    groups, first, group = np.unique(where, return_index=True, return_inverse=True)
    sums = np.empty((len(groups), 2, len(CURVES), POINTS))
    for place, name in enumerate(CURVES):
        value = part[name].to_numpy().astype(np.float64)
        use = steady & np.isfinite(value)
        at = group[use] * POINTS + percent[use]
        for which, weights in enumerate((value[use], None)):
            summed = np.bincount(at, weights=weights, minlength=len(groups) * POINTS)
            sums[:, which, place] = summed.reshape(len(groups), POINTS)
    for number in np.argsort(first).tolist():
        places = np.unravel_index(groups[number], shape)
        yield tuple(code.dictionary[int(at)].as_py() for code, at in zip(coded, places, strict=True)), sums[number]


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
    means = (
        np.stack([_mean(members) for members in people.values()]) if people else np.empty((0, 2, len(CURVES), POINTS))
    )
    keys = [(leg, subject, condition) for leg, subject in people for condition in ("unbraced", contrast)]
    columns: dict[str, Any] = {
        name: np.repeat(np.array([key[place] for key in keys], dtype=object), POINTS)
        for place, name in enumerate(("leg", "subject", "condition"))
    }
    columns["percent"] = np.tile(np.arange(POINTS), len(keys))
    for place, name in enumerate(CURVES):
        columns[name] = pa.array(means[:, :, place].ravel(), from_pandas=True)
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
        pairs = {name: paired(people, leg, name, contrast) for name in CURVES}
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


def paired(people: pa.Table, leg: str, name: str, contrast: str = "braced") -> tuple[FloatArray, FloatArray]:
    """(n, 101) unbraced and contrasted curves of the people who have both, of rows in the schema COHORT_CURVES."""
    starts = people.take(np.arange(0, people.num_rows, POINTS)) if people.num_rows else people
    mine, way = (starts[column].to_numpy(zero_copy_only=False) for column in ("leg", "condition"))
    values = people[name].to_numpy().astype(np.float64).reshape(-1, POINTS)
    low, high = (values[(mine == leg) & (way == wanted)] for wanted in ("unbraced", contrast))
    keep = np.isfinite(low).all(axis=1) & np.isfinite(high).all(axis=1)
    return low[keep], high[keep]


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
