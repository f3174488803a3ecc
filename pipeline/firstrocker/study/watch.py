"""Watching day after day: has a person's level risen above that of their own first days?

Each day is set against the person's baseline in units of how their days differ, and what lies beyond half of a change
worth an alert is summed (the cumulative sum of Page 1954). An alert is raised where the sum passes a limit. The limit
is not that of a known mean and spread: both were learnt from a few days, and days resemble their neighbours. So it is
found by simulating this rule on days without any change, for the false alarms that are accepted under nightly looks. A
day counts ``CAP`` at most, so that odd days, in other shoes say, raise no alert unless three come together.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from firstrocker.model import FloatArray

CAP = 3.0
"""Day-to-day standard deviations that a day counts at most, the allowance of ``SLACK`` in them."""
SLACK = 1.0
"""Half of the change that is sought where days scatter much, in those standard deviations. Chosen on simulated months:
0.5, the usual choice, was no better at a change of one standard deviation and slower at two and three."""
LEARNT, LAG = 3, 1
"""The baseline goes on growing to three times its first days, always leaving out as many last days as it began with,
so that a change is not learnt before it can be seen; from the first alert on it grows no more. Against a fixed baseline
this halved the limit, for an error of the baseline is summed every day."""
RESEMBLANCE = 0.4
"""Correlation of a day's level with the day before that the limit allows for: no source, set on simulated months."""
MONTH = 30
"""Days with data in what is called a month."""

_DRAWS, _MONTHS, _SEED = 6000, 3, 20
_FLOOR = 0.1  # of the change that is sought: where all days of a baseline are equal, a hair's breadth is no change


@dataclass(frozen=True)
class Level:
    """A baseline: its mean, the variance between days beyond sampling, its days, and the variance of its mean."""

    mean: float
    between: float
    days: int
    variance: float


@dataclass(frozen=True)
class Raised:
    """An alert, by places in the series.

    day: when it was raised. since: the first day of the run that raised it. ended: the day it was over, None while it
    stands. level: the baseline as it then was. change, low, high: level of the days from since to day, less the
    baseline's, and its interval.
    """

    day: int
    since: int
    ended: int | None
    level: Level
    change: float
    low: float
    high: float


def level_of(values: FloatArray, variances: FloatArray) -> Level:
    """Mean of days that differ, each known as well as its strides allow.

    The variance between days is the one that makes the weighted sum of squares what it should be (Paule & Mandel 1982,
    from memory).

    Args:
        values: (n,) n >= 2, one per day.
        variances: (n,) of sampling within the day.
    """
    n = len(values)
    spread = float(np.var(values, ddof=1))
    between = spread if not variances.any() else _between(values, variances, spread)
    total = variances + between
    if total.min() <= 0.0:
        return Level(float(values.mean()), between, n, float(total.max()) / n)
    weights = 1.0 / total
    return Level(float(weights @ values / weights.sum()), between, n, float(1.0 / weights.sum()))


def _between(values: FloatArray, variances: FloatArray, spread: float) -> float:
    """Newton's steps from zero: the weighted sum of squares falls, ever more slowly, so that they never overshoot."""
    if spread <= 0.0:
        return 0.0
    between = 1e-9 * spread
    for _ in range(60):
        weights = 1.0 / (variances + between)
        weighted = weights * (values - weights @ values / weights.sum()) ** 2
        excess = float(weighted.sum()) - (len(values) - 1)
        if excess <= 1e-9 * len(values):
            break
        between += excess / float(weights @ weighted)
    return 0.0 if between <= 1e-9 * spread else between


def cusum(steps: FloatArray) -> FloatArray:
    """The running sum that never falls below zero (Page 1954).

    Args:
        steps: (n, ...) what each day adds, the allowance taken off.

    >>> cusum(np.array([1.0, -3.0, 2.0, 1.0])).tolist()
    [1.0, 0.0, 2.0, 3.0]
    """
    sums = np.empty_like(steps)
    now = np.zeros_like(steps[0])
    for place, step in enumerate(steps):
        now = np.maximum(now + step, 0.0)
        sums[place] = now
    return sums


def learnt(day: int, baseline: int) -> int:
    """How many of the first days make the baseline that a day is set against.

    >>> [learnt(day, 14) for day in (14, 28, 30, 56, 300)]
    [14, 14, 16, 42, 42]
    """
    return min(max(baseline, day - LAG * baseline), LEARNT * baseline)


def watch(
    values: FloatArray,
    variances: FloatArray,
    *,
    sought: Callable[[float], float],
    baseline: int,
    limits: Sequence[float],
    confidence: float,
) -> list[Raised]:
    """Every alert of a series, each as it was raised on its day: later days change nothing but when it ends.

    Args:
        values: (n,) one per day with data, in order of the days; a rise is sought.
        variances: (n,) of sampling within each day.
        sought: from the baseline's mean the change that is worth an alert, above zero; half of it is the allowance,
            unless days scatter so much that ``SLACK`` of their standard deviations are more.
        baseline: days at the beginning that are only learnt from.
        limits: (n,) of the sum on each day.
        confidence: of the interval of the change.
    """
    found: list[Raised] = []
    total, since, standing, known = 0.0, baseline, False, baseline
    level: Level | None = None
    for day in range(baseline, len(values)):
        if level is None or (not found and learnt(day, baseline) != known):
            known = learnt(day, baseline)
            level = level_of(values[:known], variances[:known])
        wanted = sought(level.mean)
        spread = max(float(np.sqrt(level.between + variances[day])), _FLOOR * wanted)
        beyond = (float(values[day]) - level.mean) / spread - max(SLACK, 0.5 * wanted / spread)
        if total <= 0.0:
            since = day
        total = max(total + min(max(beyond, -CAP - SLACK), CAP - SLACK), 0.0)
        if total > limits[day] and not standing:
            run = slice(since, day + 1)
            change = change_since(values[run], variances[run], level, confidence)
            found.append(Raised(day, since, None, level, *change))
            standing = True
        if standing:
            total = min(total, limits[day])
            if total < 0.5 * limits[day]:
                found[-1] = replace(found[-1], ended=day)
                total, standing = 0.0, False
    return found


def change_since(
    values: FloatArray, variances: FloatArray, level: Level, confidence: float
) -> tuple[float, float, float]:
    """Level of some days less the baseline's, and its interval by Student's t with the baseline's days.

    The interval says how well the two levels are known. An alert is raised when chance lends a hand, so that on its
    first day the change comes out too large rather than too small.
    """
    from scipy.special import stdtrit

    weights = 1.0 / np.maximum(variances + level.between, 1e-12)
    change = float(weights @ values / weights.sum()) - level.mean
    half = float(stdtrit(level.days - 1, 0.5 + confidence / 2.0)) * float(np.sqrt(1.0 / weights.sum() + level.variance))
    return change, change - half, change + half


@lru_cache(maxsize=256)
def decision_limit(*, baseline: int, months: float) -> float:
    """The limit of the sum that on days without change is passed once in so many months.

    Simulated: normal days, each correlated with the one before by ``RESEMBLANCE``, watched for three months by the rule
    of :func:`watch`; an alert counts when it is raised. The same numbers are drawn every time. The limit is at least
    what two days can add up to.

    Args:
        baseline: days of the baseline, at least 4.
        months: of 30 days with data, to one false alarm.

    >>> decision_limit(baseline=14, months=12) < decision_limit(baseline=14, months=48)
    True
    """
    low, high = 2.0 * (CAP - SLACK), 100.0
    with_time = _null_days(baseline)
    for _ in range(20):
        middle = 0.5 * (low + high)
        often = _alerts(with_time, middle) * months > _DRAWS * _MONTHS
        low, high = (middle, high) if often else (low, middle)
    return float(np.round(high, 3))


@lru_cache(maxsize=4)
def _null_days(baseline: int) -> FloatArray:
    """(days, draws) what each day without change adds to the sum."""
    rng = np.random.Generator(np.random.PCG64(_SEED))
    days = rng.standard_normal((baseline + _MONTHS * MONTH, _DRAWS))
    for place in range(1, len(days)):
        days[place] = RESEMBLANCE * days[place - 1] + np.sqrt(1.0 - RESEMBLANCE**2) * days[place]
    return steps_of(days, baseline)


def steps_of(days: FloatArray, baseline: int) -> FloatArray:
    """(n - baseline, ...) what each of (n, ...) days adds to the sum while no alert was raised; sampling left aside."""
    sums, squares = np.cumsum(days, axis=0), np.cumsum(days**2, axis=0)
    steps = np.empty_like(days[baseline:])
    for day in range(baseline, len(days)):
        known = learnt(day, baseline)
        mean = sums[known - 1] / known
        spread = np.sqrt((squares[known - 1] - known * mean**2) / (known - 1))
        steps[day - baseline] = np.clip((days[day] - mean) / spread, -CAP, CAP) - SLACK
    return steps


def _alerts(steps: FloatArray, limit: float) -> int:
    """How many alerts the rule of :func:`watch` raises on all series together."""
    total = np.zeros(steps.shape[1])
    standing = np.zeros(steps.shape[1], dtype=bool)
    raised = 0
    for step in steps:
        total = np.maximum(total + step, 0.0)
        raised += int(((total > limit) & ~standing).sum())
        standing |= total > limit
        total = np.minimum(total, limit)
        over = standing & (total < 0.5 * limit)
        total[over] = 0.0
        standing &= ~over
    return raised
