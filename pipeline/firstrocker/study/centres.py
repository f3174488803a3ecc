"""What is compared: each walk, and each condition with its walks pooled by setting."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from firstrocker.model import BoolArray, FloatArray, IntArray
from firstrocker.study.dependence import WalkFit, fit_walk, sampling_variance, weigh
from firstrocker.study.intervals import Centre, draw_centres
from firstrocker.study.measurement import ErrorShares, common_variance
from firstrocker.study.repeats import Key, repeat_variance, setting_key
from firstrocker.study.strides import SideStrides, WalkStrides, pooled


@dataclass(frozen=True)
class Plan:
    """How intervals are made: see :func:`firstrocker.study.compare.compare`."""

    confidence: float
    resamples: int
    seed: int
    min_strides: int
    shares: Mapping[str, ErrorShares]


@dataclass(frozen=True)
class Compared:
    """A label and the estimate of one walk or condition; arrays (m,), ``draws`` (resamples, m).

    squared_error: that of the estimate, for the smallest real change. draws: how far it may lie from the truth.
    """

    label: str
    count: IntArray
    enough: BoolArray
    mean: FloatArray
    squared_error: FloatArray
    draws: FloatArray


def compared_walks_and_conditions(side: SideStrides, plan: Plan) -> tuple[list[Compared], list[Compared]]:
    """All that is compared on one side of one session.

    Returns:
        the walks in session order, and unbraced and braced (empty unless the session has both).
    """
    walks = list(side.walks)
    fits = [_fit(walk) for walk in walks]
    grid = weigh(fits)
    common = [common_variance(walk, plan.shares, with_session=False) for walk in walks]
    repeat = repeat_variance(walks, fits, grid, min_strides=plan.min_strides)
    ones = np.ones((1, len(repeat)))
    centres = [Centre((place,), ones, common[place]) for place in range(len(walks))]
    draws = _draws([walk.walk for walk in walks], fits, grid, centres, plan)
    each = [
        Compared(
            label=f"walk:{walk.walk}",
            count=fit.n,
            enough=fit.n >= plan.min_strides,
            mean=fit.mean,
            squared_error=sampling_variance(fit, grid) + repeat + common[place],
            draws=draws[place],
        )
        for place, (walk, fit) in enumerate(zip(walks, fits, strict=True))
    ]
    return each, _conditions(walks, repeat, plan)


def _fit(walk: WalkStrides) -> WalkFit:
    return fit_walk(walk.values, walk.bout, walk.stride)


def _conditions(walks: list[WalkStrides], repeat: FloatArray, plan: Plan) -> list[Compared]:
    names = [name for name in ("unbraced", "braced") if any(walk.condition == name for walk in walks)]
    if len(names) < 2:
        return []
    settings: dict[Key, list[WalkStrides]] = {}
    for walk in walks:
        settings.setdefault(setting_key(walk), []).append(walk)
    units = [pooled(members) for members in settings.values()]
    fits = [_fit(unit) for unit in units]
    grid = weigh(fits)
    found = [_condition(name, units, fits, grid, settings, repeat, plan) for name in names]
    draws = _draws([unit.walk for unit in units], fits, grid, [centre for _, centre in found], plan)
    return [
        Compared(one.label, one.count, one.enough, one.mean, one.squared_error, drawn)
        for (one, _), drawn in zip(found, draws, strict=True)
    ]


def _condition(
    name: str,
    units: list[WalkStrides],
    fits: list[WalkFit],
    grid: FloatArray,
    settings: Mapping[Key, list[WalkStrides]],
    repeat: FloatArray,
    plan: Plan,
) -> tuple[Compared, Centre]:
    """One condition, still without draws, and how its centre is made of units."""
    members = tuple(place for place, unit in enumerate(units) if unit.condition == name)
    n = np.stack([fits[place].n for place in members])
    enough = n >= plan.min_strides
    # Where no setting has enough strides the row says so: the count and the mean are then of all there are.
    used = np.where(enough.any(axis=0), np.where(enough, n, 0), n)
    total = used.sum(axis=0)
    weights = used / np.maximum(total, 1)
    mean = np.stack([np.where(used[i] > 0, fits[place].mean, 0.0) for i, place in enumerate(members)])
    sampling = np.stack([sampling_variance(fits[place], grid) for place in members])
    error = np.where(used > 0, weights**2 * sampling, 0.0).sum(axis=0)
    common = np.zeros_like(error)
    for i, place in enumerate(members):
        for walk in settings[setting_key(units[place])]:
            part = np.where(used[i] > 0, walk.counts, 0) / np.maximum(total, 1)
            common += part**2 * common_variance(walk, plan.shares, with_session=False)
            error += part**2 * repeat
    estimate = np.where(total > 0, (weights * mean).sum(axis=0), np.nan)
    any_enough = np.asarray(enough.any(axis=0), dtype=np.bool_)
    whole = Compared(name, total, any_enough, estimate, error + common, np.empty(0))
    return whole, Centre(members, weights, common)


def _draws(
    names: list[str], fits: list[WalkFit], grid: FloatArray, centres: list[Centre], plan: Plan
) -> list[FloatArray]:
    """Draws by name and not by session order, so that swapping two walks mirrors an interval exactly."""
    order = sorted(range(len(names)), key=names.__getitem__)
    rank = {place: position for position, place in enumerate(order)}
    moved = [Centre(tuple(rank[unit] for unit in centre.units), centre.weights, centre.common) for centre in centres]
    by_first = sorted(range(len(moved)), key=lambda place: min(moved[place].units))
    drawn = draw_centres(
        [fits[place] for place in order],
        grid,
        [moved[place] for place in by_first],
        resamples=plan.resamples,
        seed=plan.seed,
    )
    return [drawn[by_first.index(place)] for place in range(len(centres))]
