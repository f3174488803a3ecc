"""Braced against unbraced, and resistance as a dose, across people."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from statistics import fmean
from typing import Any

import numpy as np
import pyarrow as pa

from firstrocker import tables
from firstrocker.measures import MEASURES
from firstrocker.model import FloatArray, IntArray, Side
from firstrocker.study.assumptions import check
from firstrocker.study.known import Known, no_surer_than
from firstrocker.study.mixed import MIN_PEOPLE, WalkMeans, contributing, effect_across_people
from firstrocker.study.multiple import LEADING, holm

LEGS = ("affected", "other")

Sessions = Mapping[tuple[str, str], Side]
"""(subject, session) -> affected side; sessions not in it are left out."""

Units = Mapping[tuple[str, str, str], str]
"""(subject, session, walk) -> unit of the walk's resistance."""


@dataclass(frozen=True)
class _Rows:
    """Walk means of one leg and measure; arrays (n,). unit: of the resistance, "" where there is none."""

    subject: tuple[str, ...]
    session: tuple[str, ...]
    condition: tuple[str, ...]
    unit: tuple[str, ...]
    value: FloatArray
    resistance: FloatArray
    strides: IntArray


def effects(
    summary: pa.Table,
    affected: Sessions,
    *,
    units: Units,
    confidence: float,
    min_strides: int,
    contrast: str = "braced",
    known: Known | None = None,
) -> pa.Table:
    """Every measure's effects across people, per leg.

    ``braced``: braced minus unbraced, over sessions in which both were walked; settings as they were walked. The dose:
    change of the measure for one unit of resistance along a straight line, over sessions in which braced walks had two
    settings or more with numbers of one unit. Units are never mixed: each has rows of its own, and settings with a
    label only have none. How an effect is fitted, and what its interval rests on, is told in
    :func:`firstrocker.study.mixed.effect_across_people`.

    ``p_adjusted`` is Holm's over the measures of one leg and question, in two families named before any data: the
    measures that answer the report's questions, and all others. ``verdict`` is by it; the interval stands alone.

    Args:
        summary: rows in the schema SUMMARY, of all sessions.
        affected: which sessions count, and their affected side.
        units: of the walks' resistances; a walk that is not in it has a label only.
        confidence: level of the interval, in (0, 1).
        min_strides: walks with fewer strides are left out.
        contrast: the condition set against ``unbraced``.
        known: of braced against unbraced, the standard errors of people's own changes
            (:func:`firstrocker.study.known.own_errors`), which the interval is never surer than.

    Returns:
        rows in the schema EFFECTS, by leg, question and measure; a measure that nobody has in more than one condition
        has none.
    """
    found: dict[tuple[str, str, str], list[dict[str, Any]]] = {}
    for leg, measure, unit_of_measure, rows in _by_measure(summary, affected, units, min_strides):
        braced = np.array([one == contrast for one in rows.condition])
        asked = [("braced", "", np.isin(rows.condition, ("unbraced", contrast)), braced.astype(np.float64))]
        for dose in sorted({one for one in rows.unit if one}):
            asked.append(("resistance", dose, braced & (np.array(rows.unit) == dose), rows.resistance))
        for question, dose, keep, cause in asked:
            errors = (known or {}).get((leg, measure), {}) if question == "braced" else {}
            row = _row(rows, keep, cause, confidence, errors)
            if row is not None:
                head = {"leg": leg, "question": question, "dose_unit": dose or None, "measure": measure}
                names = ("unbraced", contrast) if question == "braced" else ("less resistance", "more resistance")
                unit = unit_of_measure if question == "braced" else f"{unit_of_measure} per {dose}"
                head |= {"unit": unit, "reference": names[0], "other": names[1]}
                head["family"] = "leading" if measure in LEADING else "further"
                found.setdefault((leg, question, dose), []).append(head | row)
    order = sorted(found, key=lambda key: (LEGS.index(key[0]), key[1:]))
    rows_out = [row for key in order for row in _judged(found[key], confidence)]
    return pa.Table.from_pylist(rows_out, schema=tables.EFFECTS)


def _by_measure(
    summary: pa.Table, affected: Sessions, units: Units, min_strides: int
) -> Iterator[tuple[str, str, str, _Rows]]:
    """Leg, measure, its unit, and its walk means with enough strides."""
    names = ("subject", "session", "walk", "condition", "side", "measure")
    subject, session, walk, condition, side, measure = (summary[name].to_pylist() for name in names)
    mean = summary["mean"].to_numpy().astype(np.float64)
    resistance = summary["resistance"].to_numpy().astype(np.float64)
    n = summary["n"].to_numpy()
    usable = np.isfinite(mean) & (n >= min_strides)
    places: dict[tuple[str, str], list[int]] = {}
    for at in np.flatnonzero(usable).tolist():
        key = (subject[at], session[at])
        if key in affected:
            leg = "affected" if side[at] == affected[key] else "other"
            places.setdefault((leg, measure[at]), []).append(at)
    for leg in LEGS:
        for known in MEASURES:
            mine = places.get((leg, known.column))
            if mine is None:
                continue
            dosed = [
                _same_unit(units.get((subject[at], session[at], walk[at]), "")) if np.isfinite(resistance[at]) else ""
                for at in mine
            ]
            yield (
                leg,
                known.column,
                known.unit,
                _Rows(
                    tuple(subject[at] for at in mine),
                    tuple(session[at] for at in mine),
                    tuple(condition[at] for at in mine),
                    tuple(dosed),
                    mean[mine],
                    resistance[mine],
                    n[mine].astype(np.int64),
                ),
            )


def _same_unit(unit: str) -> str:
    """Units differ unless they are written alike but for blanks at the ends: no other guess is made."""
    return " ".join(unit.split())


def _row(
    rows: _Rows, keep: np.ndarray, cause: FloatArray, confidence: float, errors: Mapping[str, float]
) -> dict[str, Any] | None:
    """The numbers of one effect; None where no session has the cause at two levels."""
    at = np.flatnonzero(keep)
    if len(at) == 0:
        return None
    people, person = np.unique([rows.subject[place] for place in at], return_inverse=True)
    keys = [(rows.subject[place], rows.session[place]) for place in at]
    numbers = {key: number for number, key in enumerate(dict.fromkeys(keys))}
    session = np.array([numbers[key] for key in keys])
    walks = WalkMeans(rows.value[at], cause[at], person, session)
    used = contributing(walks)
    if len(used.value) == 0:
        return None
    strides = int(rows.strides[at][np.isin(session, used.session)].sum())
    fit = effect_across_people(walks, confidence=confidence)
    names = [str(people[place]) for place in fit.people]
    fit = no_surer_than(fit, np.array([errors.get(name, 0.0) for name in names]), confidence=confidence)
    checks = check(fit, used, names)
    without = fit.without[np.isfinite(fit.without)]
    return {
        "people": len(names),
        "sessions": len(np.unique(used.session)),
        "walks": len(used.value),
        "strides": strides,
        "cause_low": float(used.cause.min()),
        "cause_high": float(used.cause.max()),
        "difference": fit.value,
        "se": _number(fit.se),
        "df": _number(fit.freedom),
        "ci_low": _number(fit.ci_low),
        "ci_high": _number(fit.ci_high),
        "p_value": _number(fit.p_value),
        "sd": float(fit.own.std(ddof=1)) if len(names) > 1 else None,
        "slope_sd": _number(fit.slope_sd),
        "model": fit.model,
        "without_one_low": float(without.min()) if len(without) else None,
        "without_one_high": float(without.max()) if len(without) else None,
        "leans_on": None if checks.leaning is None else names[checks.leaning],
        "checks": " ".join(checks.words),
        "doubtful": checks.doubtful,
    }


def _judged(rows: Sequence[dict[str, Any]], confidence: float) -> Iterator[dict[str, Any]]:
    """The rows of one leg and question, with adjusted p values and verdicts."""
    for family in ("leading", "further"):
        members = [row for row in rows if row["family"] == family]
        adjusted = holm(np.array([np.nan if row["p_value"] is None else row["p_value"] for row in members]))
        for row, p in zip(members, adjusted.tolist(), strict=True):
            row["p_adjusted"] = _number(p)
            row["verdict"] = _verdict(row, 1.0 - confidence)
    return iter(rows)


def _verdict(row: Mapping[str, Any], level: float) -> str:
    if row["people"] < MIN_PEOPLE:
        return "too few people"
    if row["p_adjusted"] is None or row["p_adjusted"] >= level:
        return "no clear change"
    return "higher" if row["difference"] > 0 else "lower"


def own_effects(summary: pa.Table, affected: Sessions, *, min_strides: int, contrast: str = "braced") -> pa.Table:
    """Each person's unbraced and braced means and their difference, per leg and measure: what the effects average.

    Args:
        summary: rows in the schema SUMMARY, of all sessions.
        affected: which sessions count, and their affected side.
        min_strides: walks with fewer strides are left out.
        contrast: the condition set against ``unbraced``.

    Returns:
        rows in the schema PEOPLE.
    """
    out: list[dict[str, Any]] = []
    for leg, measure, unit, rows in _by_measure(summary, affected, {}, min_strides):
        means: dict[str, dict[str, dict[str, list[float]]]] = {}
        for subject, session, condition, value in zip(
            rows.subject, rows.session, rows.condition, rows.value.tolist(), strict=True
        ):
            means.setdefault(subject, {}).setdefault(session, {}).setdefault(condition, []).append(value)
        for subject in sorted(means):
            both = [one for one in means[subject].values() if "unbraced" in one and contrast in one]
            if both:
                low, high = (fmean(fmean(one[name]) for one in both) for name in ("unbraced", contrast))
                head = {"subject": subject, "leg": leg, "measure": measure, "unit": unit, "sessions": len(both)}
                out.append(head | {"unbraced": low, "braced": high, "difference": high - low})
    return pa.Table.from_pylist(out, schema=tables.PEOPLE)


def _number(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None
