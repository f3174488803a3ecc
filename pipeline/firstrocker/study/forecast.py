"""What more walking would tell: intervals and verdicts as they would be after further walks, from what is known now.

A setting's mean after further walks keeps the scatter found so far: what strides leave uncertain shrinks with their
number (further strides come in bouts like those walked), while the measurement error that the strides of one walk have
in common, and what a walk differs from its own repeat, shrink with the number of walks only.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import Literal

import numpy as np
from scipy.special import ndtr, ndtri

from firstrocker.model import FloatArray
from firstrocker.study.centres import Plan, Pools
from firstrocker.study.compare import MDC
from firstrocker.study.dependence import WalkFit, sampling_variance
from firstrocker.study.intervals import Centre, draw_centres, half_widths
from firstrocker.study.measurement import common_variance

POWER = 0.8
"""A further walk is called enough if it would bring a clear verdict in so many of 100 repeats; common practice."""
STRIDES = (5, 10, 15, 20, 25, 30, 40, 50, 60)
"""Counted strides of a further walk that are tried; 60 of one leg take over a minute of steady walking."""
WALKS = (1, 2, 3, 4)
_DRAWS = 1000

Kind = Literal["strides", "walks", "too small", "out of reach", "too few"]


@dataclass(frozen=True)
class Further:
    """Further walks of one setting, each with so many strides that count."""

    walks: int
    strides: int


@dataclass(frozen=True)
class Foreseen:
    """All pairs after further walks, each (p, c): p pairs in the order of combinations, c columns.

    half_width, real_change: as the comparison would give them. sd: by how much the difference found would scatter
    about the true one.
    """

    half_width: FloatArray
    real_change: FloatArray
    sd: FloatArray

    def power(self, difference: FloatArray) -> FloatArray:
        """(p, c) chance of a verdict of higher or lower if these are the true differences; NaN where not known."""
        least = np.maximum(self.half_width, self.real_change)
        sd = np.where(self.sd > 0, self.sd, np.nan)
        return np.asarray(ndtr((np.abs(difference) - least) / sd) + ndtr((-np.abs(difference) - least) / sd))


@dataclass(frozen=True)
class Outlook:
    """What would bring a clear verdict on one pair of settings in one measure, if it differs by what was found.

    kind: ``strides``, one further walk of each of both settings; ``walks``, several; ``too small``, the difference is
    below what error common to the strides of a walk would leave even after the most walks tried, however long; ``out
    of reach``, it would take more walking than was tried; ``too few``, the strides so far say nothing. further: of
    each of both settings, None where there is none. shared: whether that error stands in the way of one further walk,
    however long. same: further walks of each after which the interval would lie within ``margin``, the smallest real
    change of today, on both sides of zero, so that the settings could be called the same; None where none would.
    """

    kind: Kind
    further: Further | None = None
    shared: bool = False
    same: Further | None = None
    margin: float | None = None


def foresee(pools: Pools, plan: Plan, further: Mapping[int, Further], columns: Sequence[int]) -> Foreseen:
    """All pairs of settings as they would be after further walks.

    Args:
        pools: the settings of one side as walked so far.
        plan: how intervals are made.
        further: by place of the setting; settings not named stay as they are.
        columns: measures, as places in ``MEASURES``.
    """
    fits: list[WalkFit] = []
    common: list[FloatArray] = []
    repeat: list[FloatArray] = []
    grid = pools.grid[:, columns]
    for place, (unit, walks) in enumerate(zip(pools.fits, pools.walks, strict=True)):
        more = further.get(place, Further(0, 0))
        so_far = unit.n[columns]
        n = np.asarray(so_far + more.walks * more.strides, dtype=np.int64)
        shrunk = unit.variance[:, columns] * np.where(n > 0, so_far / np.maximum(n, 1), np.nan)
        fits.append(replace(unit, n=n, variance=shrunk, likelihood=unit.likelihood[:, columns]))
        errors = np.stack([common_variance(walk, plan.shares, with_session=False)[columns] for walk in walks])
        parts = np.stack([walk.counts[columns] for walk in walks]) / np.maximum(n, 1)
        new = more.walks * (more.strides / np.maximum(n, 1)) ** 2
        common.append((parts**2 * errors).sum(axis=0) + new * errors.mean(axis=0))
        repeat.append(((parts**2).sum(axis=0) + new) * pools.repeat[columns])
    ones = np.ones((1, len(columns)))
    centres = [Centre((place,), ones, common[place]) for place in range(len(fits))]
    drawn = draw_centres(fits, grid, centres, resamples=min(plan.resamples, _DRAWS), seed=plan.seed)
    error = [sampling_variance(fit, grid) + c + r for fit, c, r in zip(fits, common, repeat, strict=True)]
    pairs = list(combinations(range(len(fits)), 2))
    sd = np.sqrt(np.stack([error[a] + error[b] for a, b in pairs]))
    half = half_widths([drawn[b] - drawn[a] for a, b in pairs], confidence=plan.confidence)
    return Foreseen(half, MDC * sd, sd)


def outlooks(
    pools: Pools, plan: Plan, columns: Sequence[int], difference: FloatArray, real_change: FloatArray
) -> list[list[Outlook]]:
    """For each pair of settings and measure, how much more walking of both would bring a clear verdict.

    The forecast takes the difference found for the true one, and scatter and errors as they are estimated now. So it
    is no promise. On simulated sessions of two walks of 12 strides in two bouts, walked on as forecast (some 400 a
    case, ``tests/study/test_forecast.py``), a clear verdict came out in 84 to 94 of 100 where the forecast was told the
    true difference (74 where 30 % of the variance lay between bouts, of which two bouts show little), and in 71 to 93
    where it had to take the one found.

    Args:
        pools: the settings of one side as walked so far.
        plan: how intervals are made.
        columns: measures, as places in ``MEASURES``.
        difference: (p, c) that of each pair, pairs in the order of combinations.
        real_change: (p, c) the smallest real change of each pair today.

    Returns:
        per pair and column. All settings are foreseen with the further walks at once.
    """
    steps = [Further(walks, strides) for walks in WALKS for strides in STRIDES]
    steps.sort(key=lambda step: (step.walks * step.strides, step.walks))
    seen = [_all_further(pools, plan, step, columns) for step in steps]
    power = np.stack([one.power(difference) for one in seen])
    inside = np.stack([np.abs(difference) + one.half_width <= real_change for one in seen])
    floor, floor_of_one = (_floor(pools, plan, columns, walks) for walks in (max(WALKS), 1))
    few = np.stack([np.isnan(unit.variance[:, columns]).any(axis=0) for unit in pools.fits])
    found: list[list[Outlook]] = []
    for p, (a, b) in enumerate(combinations(range(len(pools.units)), 2)):
        row: list[Outlook] = []
        for c in range(len(columns)):
            if few[a, c] or few[b, c] or not np.isfinite(difference[p, c]):
                row.append(Outlook("too few"))
                continue
            enough = np.flatnonzero(power[:, p, c] >= POWER)
            one_walk = [int(place) for place in enough if steps[place].walks == 1]
            same = np.flatnonzero(inside[:, p, c])
            settled = steps[int(same[0])] if len(same) else None
            margin = float(real_change[p, c]) if np.isfinite(real_change[p, c]) else None
            size = abs(float(difference[p, c]))
            kind: Kind = "too small" if size <= floor[p, c] else "out of reach"
            further = None
            if len(enough):
                kind, further = ("strides", steps[one_walk[0]]) if one_walk else ("walks", steps[int(enough[0])])
            row.append(Outlook(kind, further, bool(size <= floor_of_one[p, c]), settled, margin))
        found.append(row)
    return found


def _all_further(pools: Pools, plan: Plan, step: Further, columns: Sequence[int]) -> Foreseen:
    return foresee(pools, plan, dict.fromkeys(range(len(pools.units)), step), columns)


def _floor(pools: Pools, plan: Plan, columns: Sequence[int], walks: int) -> FloatArray:
    """(p, c) the least difference that so many further walks would make clear if strides did not scatter at all."""
    still = tuple(replace(fit, variance=np.where(np.isnan(fit.variance), np.nan, 0.0)) for fit in pools.fits)
    seen = _all_further(replace(pools, fits=still), plan, Further(walks, max(STRIDES)), columns)
    least = np.maximum(seen.half_width, seen.real_change)
    return np.asarray(least + ndtri(POWER) * seen.sd, dtype=np.float64)
