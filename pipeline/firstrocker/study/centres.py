"""What is compared: each walk, each setting with its repeats pooled, each condition with its settings pooled."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
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


@dataclass(frozen=True)
class Pools:
    """The settings of one side: the walks of each taken together, and how they were fitted.

    walks: those of each setting. units: each setting's walks as one. fits: theirs. grid: (G, m) weights of the nodes.
    repeat: (m,) variance between repeats of one setting beyond what their strides explain.
    """

    walks: tuple[tuple[WalkStrides, ...], ...]
    units: tuple[WalkStrides, ...]
    fits: tuple[WalkFit, ...]
    grid: FloatArray
    repeat: FloatArray


def pool_settings(side: SideStrides, plan: Plan) -> Pools:
    """Pool the walks of each condition, setting and resistance, in the order in which settings were first walked."""
    walks = list(side.walks)
    fits = [_fit(walk) for walk in walks]
    return _pools(walks, repeat_variance(walks, fits, weigh(fits), min_strides=plan.min_strides))


def compared_settings(pools: Pools, plan: Plan) -> list[Compared]:
    """Each setting's estimate; where no setting was walked twice, the same as that of its walk."""
    places = [(place,) for place in range(len(pools.units))]
    labels = ["walk:" + "+".join(walk.walk for walk in walks) for walks in pools.walks]
    return _pooled_estimates(labels, places, pools, plan)


def _pools(walks: list[WalkStrides], repeat: FloatArray) -> Pools:
    settings: dict[Key, list[WalkStrides]] = {}
    for walk in walks:
        settings.setdefault(setting_key(walk), []).append(walk)
    members = tuple(tuple(found) for found in settings.values())
    units = tuple(pooled(list(found)) for found in members)
    fits = [_fit(unit) for unit in units]
    return Pools(members, units, tuple(fits), weigh(fits), repeat)


def _conditions(walks: list[WalkStrides], repeat: FloatArray, plan: Plan) -> list[Compared]:
    names = [name for name in ("unbraced", "braced") if any(walk.condition == name for walk in walks)]
    if len(names) < 2:
        return []
    pools = _pools(walks, repeat)
    places = [tuple(p for p, unit in enumerate(pools.units) if unit.condition == name) for name in names]
    return _pooled_estimates(names, places, pools, plan)


def _pooled_estimates(
    labels: Sequence[str], places: Sequence[tuple[int, ...]], pools: Pools, plan: Plan
) -> list[Compared]:
    found = [_centre(label, members, pools, plan) for label, members in zip(labels, places, strict=True)]
    names = [unit.walk for unit in pools.units]
    draws = _draws(names, list(pools.fits), pools.grid, [centre for _, centre in found], plan)
    return [
        Compared(one.label, one.count, one.enough, one.mean, one.squared_error, drawn)
        for (one, _), drawn in zip(found, draws, strict=True)
    ]


def _centre(label: str, members: tuple[int, ...], pools: Pools, plan: Plan) -> tuple[Compared, Centre]:
    """Several units as one, still without draws, and how its centre is made of them."""
    n = np.stack([pools.fits[place].n for place in members])
    enough = n >= plan.min_strides
    # Where no setting has enough strides the row says so: the count and the mean are then of all there are.
    used = np.where(enough.any(axis=0), np.where(enough, n, 0), n)
    total = used.sum(axis=0)
    weights = used / np.maximum(total, 1)
    mean = np.stack([np.where(used[i] > 0, pools.fits[place].mean, 0.0) for i, place in enumerate(members)])
    sampling = np.stack([sampling_variance(pools.fits[place], pools.grid) for place in members])
    error = np.where(used > 0, weights**2 * sampling, 0.0).sum(axis=0)
    common = np.zeros_like(error)
    for i, place in enumerate(members):
        for walk in pools.walks[place]:
            part = np.where(used[i] > 0, walk.counts, 0) / np.maximum(total, 1)
            common += part**2 * common_variance(walk, plan.shares, with_session=False)
            error += part**2 * pools.repeat
    estimate = np.where(total > 0, (weights * mean).sum(axis=0), np.nan)
    any_enough = np.asarray(enough.any(axis=0), dtype=np.bool_)
    whole = Compared(label, total, any_enough, estimate, error + common, np.empty(0))
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
