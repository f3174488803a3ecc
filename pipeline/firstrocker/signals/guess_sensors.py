"""Which columns of an unknown log are acceleration and angular velocity, of one sensor or several, and their units."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from firstrocker.model import STANDARD_GRAVITY, FloatArray, IntArray
from firstrocker.signals.description import Sure
from firstrocker.signals.guess_motion import SIGNED, liveliness, misfit, rest_size
from firstrocker.signals.guess_names import read_name, stem_of
from firstrocker.signals.units import METRES_PER_SECOND_SQUARED, RADIANS_PER_SECOND

AT_REST = 0.07
"""Share by which gravity at rest may differ from what its unit says: good sensors read up to 7 % wrong."""
STEADY = 0.08
LIVELY = 0.3
"""Swing of the acceleration's length in movement, as a share of gravity, below which nobody walked."""
NO_TURN = 0.2
FASTEST_RAD_S = 35.0
FASTEST_DEG_S = 2500.0
UPRIGHT = 0.25
"""Misfit beyond which columns without names are no sensor: those 80 logs gave 0.02 to 0.12."""
CLEAR, AGAINST = 1.15, 0.7
"""Of the next best order's misfit over that of the order as it stands: from here it is sure; below, it is refused. Of
80 logs (recordings of feet, simulated feet and shanks) 72 stood above the first, none below 0.98."""
_COUNTS_PER_G = tuple(2.0**bits for bits in range(7, 16))
_DEGREES_PER_COUNT = tuple(full / 32768.0 for full in (125.0, 250.0, 500.0, 1000.0, 2000.0, 4000.0)) + tuple(
    full * 35e-6 for full in (125.0, 250.0, 500.0, 1000.0, 2000.0)
)
"""What a count is worth where the widest number is the range, or a little more; common practice, no source."""


@dataclass(frozen=True)
class Sensor:
    """Two triples of columns, what they are in, and what the motion says of them.

    A scale is None where what a count is worth cannot be told; ``order_ratio`` is the misfit of the next best order and
    signs of the angular velocity's axes over that of those proposed, None where nobody moved; ``gravity`` is False
    where the acceleration vanishes at rest.
    """

    acceleration: tuple[str, str, str]
    angular_velocity: tuple[str, str, str]
    named: bool
    acceleration_unit: str
    acceleration_scale: float
    acceleration_sure: Sure
    acceleration_why: str
    turning_unit: str
    turning_scale: float | None
    turning_sure: Sure
    turning_why: str
    scales: tuple[float, ...]
    order_ratio: float | None
    gravity: bool
    stem: str


def find_sensors(columns: Mapping[str, FloatArray], quiet: IntArray, rate_hz: float | None) -> list[Sensor]:
    """Every sensor in a table, the likeliest first; empty where no two triples behave as one.

    Args:
        columns: the columns of numbers that are no clock, each (n,) without gaps, in the file's order.
        quiet: (k, w) rows of quiet stretches.
        rate_hz: samples per second; None where nobody knows: then orders and signs are not judged.
    """
    named = _named_pairs(columns)
    if named:
        return [_judge(columns, a, w, quiet, rate_hz, named=True, stem=stem) for a, w, stem in named]
    return _by_motion(columns, quiet, rate_hz)


def _matrix(columns: Mapping[str, FloatArray], names: Sequence[str]) -> FloatArray:
    return np.column_stack([columns[name] for name in names])


def _named_pairs(columns: Mapping[str, FloatArray]) -> list[tuple[tuple[str, ...], tuple[str, ...], str]]:
    """Triples whose names speak of acceleration and of angular velocity, paired by what else their names share."""
    groups: dict[tuple[str, str], dict[int, str]] = {}
    for name in columns:
        said = read_name(name)
        if said.axis is not None and said.kind in ("acceleration", "angular_velocity"):
            groups.setdefault((said.kind, said.key), {}).setdefault(said.axis, name)
    place = {name: n for n, name in enumerate(columns)}
    whole = [
        (kind, stem_of(key), tuple(axes[n] for n in range(3))) for (kind, key), axes in groups.items() if len(axes) == 3
    ]
    turning = [(stem, names) for kind, stem, names in whole if kind == "angular_velocity"]
    pairs = []
    for kind, stem, names in whole:
        if kind != "acceleration" or not turning:
            continue
        same = [one for one in turning if one[0] == stem]
        free = same or turning
        best = min(free, key=lambda one: abs(place[one[1][0]] - place[names[0]]))
        turning.remove(best)
        pairs.append((names, best[1], stem.replace("~", "").strip(" _-.*")))
    return pairs


def _by_motion(columns: Mapping[str, FloatArray], quiet: IntArray, rate_hz: float | None) -> list[Sensor]:
    """The pair of triples that fits best how bodies move, among neighbours and every second column."""
    names = [name for name in columns if read_name(name).kind != "other"]
    triples = [tuple(names[n : n + 3]) for n in range(len(names) - 2)]
    triples += [tuple(names[n : n + 5 : 2]) for n in range(len(names) - 4)]
    felt = [one for one in triples if _is_felt(_matrix(columns, one), quiet)]
    turned = [one for one in triples if _is_turning(_matrix(columns, one), quiet)]
    felt = sorted(felt, key=lambda one: _unit_error(_matrix(columns, one), quiet))[:4]
    pairs = [(a, w) for a in felt for w in turned if not set(a) & set(w)][:12]
    found: list[tuple[float, Sensor]] = []
    for a, w in pairs:
        fit = _fit(columns, a, w, quiet, rate_hz)
        if fit is None and rate_hz is not None:
            continue
        misses = 1.0
        if fit is not None:
            order = int(np.argmin(fit))
            misses = float(fit[order])
            if misses > UPRIGHT:
                continue
            a, w = _reordered(a, w, SIGNED[order])
        found.append((misses, _judge(columns, a, w, quiet, rate_hz, named=False, stem="")))
    found = [one for one in found if one[1].acceleration_sure != "low"]
    return [sensor for _, sensor in sorted(found, key=lambda one: one[0])[:1]]


def _reordered(a: tuple[str, ...], w: tuple[str, ...], turn: FloatArray) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Columns in an order that makes a turn of pure positive signs of them, where order alone can."""
    places = [int(np.argmax(np.abs(row))) for row in turn]
    if (turn >= 0).all():
        return a, tuple(w[n] for n in places)
    if (turn <= 0).all():
        # A mirror image of both: two axes of the acceleration have changed places too.
        return (a[0], a[2], a[1]), (w[places[0]], w[places[2]], w[places[1]])
    return a, w


def _is_felt(triple: FloatArray, quiet: IntArray) -> bool:
    usual, spread = rest_size(triple, quiet)
    return spread < STEADY and usual > 0 and liveliness(triple, usual) > LIVELY


def _is_turning(triple: FloatArray, quiet: IntArray) -> bool:
    usual, _ = rest_size(triple, quiet)
    return usual < NO_TURN * float(np.percentile(np.linalg.norm(triple, axis=1), 95))


def _unit_error(triple: FloatArray, quiet: IntArray) -> float:
    usual, _ = rest_size(triple, quiet)
    known = [STANDARD_GRAVITY / factor for factor in METRES_PER_SECOND_SQUARED.values()]
    return min(abs(usual / one - 1.0) for one in (*known, *_COUNTS_PER_G))


def _fit(
    columns: Mapping[str, FloatArray], a: Sequence[str], w: Sequence[str], quiet: IntArray, rate_hz: float | None
) -> FloatArray | None:
    if rate_hz is None:
        return None
    force, turning = _matrix(columns, a), _matrix(columns, w)
    usual, _ = rest_size(force, quiet)
    scale = turning_factor(turning)
    turning = (turning - turning[quiet].mean(axis=(0, 1))) * scale
    return misfit(force / max(usual, 1e-12), turning, rate_hz=rate_hz)


def turning_factor(turning: FloatArray) -> float:
    """By what to multiply numbers of angular velocity to have rad/s, told by how fast they become in movement.

    Legs in walking turn at 3 to 15 rad/s, which is 170 to 860 deg/s; what is beyond both are counts.
    """
    fastest = float(np.percentile(np.linalg.norm(turning, axis=1), 99))
    if fastest <= FASTEST_RAD_S:
        return RADIANS_PER_SECOND["rad/s"]
    if fastest <= FASTEST_DEG_S:
        return RADIANS_PER_SECOND["deg/s"]
    return RADIANS_PER_SECOND["deg/s"] * 400.0 / fastest


def _judge(
    columns: Mapping[str, FloatArray],
    a: Sequence[str],
    w: Sequence[str],
    quiet: IntArray,
    rate_hz: float | None,
    *,
    named: bool,
    stem: str,
) -> Sensor:
    force, turning = _matrix(columns, a), _matrix(columns, w)
    a_unit, a_scale, a_sure, a_why = _acceleration_unit(force, a, quiet)
    usual, _ = rest_size(force, quiet)
    force = force / max(usual, 1e-12)
    free = turning - turning[quiet].mean(axis=(0, 1))
    moved = liveliness(force, 1.0) > LIVELY
    w_unit, w_scale, w_sure, w_why, scales = _turning_unit(force, free, w, rate_hz, moved=moved, whole=_whole(turning))
    ratio = None
    if rate_hz is not None and moved:
        worth = RADIANS_PER_SECOND[w_unit] * (w_scale or (scales[0] if scales else 1.0))
        fit = misfit(force, free * worth, rate_hz=rate_hz)
        ratio = None if fit is None else float(fit[1:].min() / max(fit[0], 1e-12))
    first, second = tuple(a), tuple(w)
    return Sensor(
        (first[0], first[1], first[2]),
        (second[0], second[1], second[2]),
        named,
        a_unit,
        a_scale,
        a_sure,
        a_why,
        w_unit,
        w_scale,
        w_sure,
        w_why,
        scales,
        ratio,
        not _is_turning(_matrix(columns, a), quiet),
        stem,
    )


def _whole(values: FloatArray) -> bool:
    return bool((values == np.round(values)).all())


def _acceleration_unit(force: FloatArray, names: Sequence[str], quiet: IntArray) -> tuple[str, float, Sure, str]:
    usual, spread = rest_size(force, quiet)
    told = {read_name(name).unit for name in names} & set(METRES_PER_SECOND_SQUARED)
    still = spread < STEADY and usual > 0
    for unit, factor in METRES_PER_SECOND_SQUARED.items():
        if abs(usual * factor / STANDARD_GRAVITY - 1.0) < (AT_REST if still else 3 * AT_REST):
            why = f"At rest its length is {usual:.4g}, which is gravity in {unit}."
            if told and unit not in told:
                return unit, 1.0, "low", f"{why} The names say {told.pop()}."
            return unit, 1.0, "high" if still else "low", why if still else f"{why} But it is never quite at rest."
    if not _whole(force):
        why = f"At rest its length is {usual:.4g}, which is gravity in no unit known here."
        return "g", _rounded(1.0 / max(usual, 1e-12)), "low", why
    near = [one for one in _COUNTS_PER_G if abs(usual / one - 1.0) < AT_REST]
    if near:
        return (
            "g",
            1.0 / near[0],
            "fair",
            f"Whole numbers whose length at rest is {usual:.4g}: near {near[0]:.0f} per g.",
        )
    why = f"Whole numbers whose length at rest is {usual:.4g}, taken for one g."
    return "g", _rounded(1.0 / max(usual, 1e-12)), "fair" if still else "low", why


def _rounded(value: float) -> float:
    return float(f"{value:.5g}")


def _turning_unit(
    force: FloatArray, turning: FloatArray, names: Sequence[str], rate_hz: float | None, *, moved: bool, whole: bool
) -> tuple[str, float | None, Sure, str, tuple[float, ...]]:
    told = {read_name(name).unit for name in names}
    fastest = float(np.percentile(np.linalg.norm(turning, axis=1), 99))
    if fastest > FASTEST_DEG_S:
        if "mdeg/s" in told:
            return "deg/s", 1e-3, "high", "The names say thousandths of deg/s.", ()
        why = (
            f"Its numbers reach {fastest:.0f}, too much for any unit: they are counts, whose worth the log cannot tell."
        )
        return "deg/s", None, "low", why, _likely_scales(force, turning, rate_hz)
    unit = "rad/s" if fastest <= FASTEST_RAD_S else "deg/s"
    other = "deg/s" if unit == "rad/s" else "rad/s"
    why = f"In movement it reaches {fastest:.3g}, as legs do in {unit}."
    if not moved:
        known = told & set(RADIANS_PER_SECOND)
        if len(known) == 1:
            return known.pop(), 1.0, "fair", "The names say so; the log shows too little movement to tell.", ()
        return unit, 1.0, "low", "The log shows too little movement to tell.", ()
    if whole and unit == "deg/s" and unit not in told:
        why = f"Whole numbers up to {fastest:.3g}: deg/s, or counts, whose worth the log cannot tell."
        return unit, None, "low", why, (1.0, *_likely_scales(force, turning, rate_hz))
    fit = None
    if rate_hz is not None:
        turns = SIGNED[:1] * np.array([1.0, RADIANS_PER_SECOND[other] / RADIANS_PER_SECOND[unit]])[:, None, None]
        fit = misfit(force, turning * RADIANS_PER_SECOND[unit], rate_hz=rate_hz, turns=turns)
    if fit is not None and fit[0] > 1.1 * fit[1]:
        return unit, 1.0, "low", f"{why} But gravity turns as if it were in {other}, or in counts.", ()
    if other in told:
        return unit, 1.0, "low", f"{why} The names say {other}.", ()
    return unit, 1.0, "high" if fit is not None or unit in told else "fair", why, ()


def _likely_scales(force: FloatArray, turning: FloatArray, rate_hz: float | None) -> tuple[float, ...]:
    """What a count may be worth in deg/s, the best fitting first."""
    fastest = float(np.percentile(np.linalg.norm(turning, axis=1), 99))
    known = [one for one in _DEGREES_PER_COUNT if 60.0 <= one * fastest <= 1500.0]
    if rate_hz is not None and known:
        turns = SIGNED[:1] * np.array(known)[:, None, None]
        fit = misfit(force, turning * RADIANS_PER_SECOND["deg/s"], rate_hz=rate_hz, turns=turns)
        if fit is not None:
            known = [known[n] for n in np.argsort(fit, kind="stable")]
    return tuple(_rounded(one) for one in known[:5])
