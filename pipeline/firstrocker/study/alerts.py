"""The alerts of one person: which series are watched, for what, and what an alert says."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from firstrocker.model import FloatArray, IntArray
from firstrocker.study.day_series import CLEARANCE, LOW, SLAPS, SPEED, WORN, Leg, Series
from firstrocker.study.watch import Level, Raised, change_since, decision_limit, watch

Scale = Callable[[FloatArray], FloatArray]


@dataclass(frozen=True)
class Watched:
    """What is watched: measure, and whether a rise or a fall of it is bad. Shares are watched by their arcsine."""

    kind: str
    measure: str
    rises: bool
    share: bool

    def forth(self, values: FloatArray) -> FloatArray:
        """Onto the scale on which a rise is bad and the scatter of shares does not hang on their size."""
        scaled = np.arcsin(np.sqrt(np.clip(values, 0.0, 1.0))) if self.share else values
        return scaled if self.rises else -scaled

    def back(self, value: float) -> float:
        """From that scale."""
        value = value if self.rises else -value
        return float(np.sin(np.clip(value, 0.0, np.pi / 2.0)) ** 2) if self.share else value

    def variance(self, values: FloatArray, errors: FloatArray, n: IntArray) -> FloatArray:
        """Of sampling, on that scale; for shares never less than that of n independent strides."""
        if not self.share:
            return errors**2
        p = np.clip(values, 0.0, 1.0)
        inner = np.clip(p * (1.0 - p), 0.5 / np.maximum(n, 1), None)
        return np.asarray(np.maximum(errors**2 / (4.0 * inner), 0.25 / np.maximum(n, 1)))

    def sought(self, least: float) -> Callable[[float], float]:
        """From a level on that scale, how far it is to the change that is worth an alert."""

        def size(level: float) -> float:
            changed = self.back(level) + (least if self.rises else -least)
            if self.share:
                changed = min(changed, 1.0)
            return max(float(self.forth(np.array(changed))) - level, 1e-6)

        return size


WATCHED: tuple[Watched, ...] = (
    Watched("slaps", SLAPS, rises=True, share=True),
    Watched("clearance", CLEARANCE, rises=False, share=False),
    Watched("scuffs", LOW, rises=True, share=True),
    Watched("wear", WORN, rises=False, share=False),
)
"""In the order in which a page lists them."""


@dataclass(frozen=True)
class Watching:
    """How it is watched. least: change worth an alert, by kind. months: to one false alarm of a kind and person."""

    baseline: int
    months: float
    confidence: float
    least: Mapping[str, float]


@dataclass(frozen=True)
class Alert:
    """One alert, in units of its measure; everything but ``ended`` and ``change_now`` is as it was on ``day``.

    day: when it was raised. since: first day of the run that raised it. ended: None while it stands. baseline: level
    it is held against, of ``baseline_days`` days. change, low, high: since then, less the baseline. change_now: of the
    last days, as many as raised it. days, strides: behind the change. speed_change: m/s by which the person walked
    faster on those days than in the baseline, None where unknown.
    """

    kind: str
    leg: Leg
    measure: str
    day: int
    since: int
    ended: int | None
    baseline: float
    baseline_days: int
    change: float
    low: float
    high: float
    change_now: float
    days: int
    strides: int
    speed_change: float | None


def alerts_of(series: Sequence[Series], *, how: Watching) -> list[Alert]:
    """Every alert of one person, by the day it was raised; a night more of data changes none that was raised before.

    Where several settings of a person are watched, the false alarms that are accepted are shared between those that
    have their baseline by then.

    Args:
        series: of the side that is watched.
        how: settings of the watching.
    """
    found: list[Alert] = []
    for watched in WATCHED:
        mine = [one for one in series if one.measure == watched.measure]
        begins = sorted(int(one.days[one.known[how.baseline - 1]]) for one in mine if len(one.known) >= how.baseline)
        for one in mine:
            speeds = next((other for other in series if other.leg == one.leg and other.measure == SPEED), None)
            found += _of_series(watched, one, begins, speeds, how)
    return sorted(found, key=lambda alert: alert.day)


def _of_series(
    watched: Watched, series: Series, begins: Sequence[int], speeds: Series | None, how: Watching
) -> list[Alert]:
    days = series.days[series.known]
    points = [series.values[place] for place in series.known]
    given = np.array([one.value for one in points])
    n = np.array([one.n for one in points])
    values = watched.forth(given)
    variances = watched.variance(given, np.array([one.se for one in points]), n)
    together = [max(sum(begin <= day for begin in begins), 1) for day in days]
    raised = watch(
        values,
        variances,
        sought=watched.sought(how.least[watched.kind]),
        baseline=how.baseline,
        limits=[decision_limit(baseline=how.baseline, months=how.months * k) for k in together],
        confidence=how.confidence,
    )
    found = []
    for one in raised:
        run = slice(one.since, one.day + 1)
        width = one.day - one.since + 1
        now = change_since(values[-width:], variances[-width:], one.level, how.confidence)[0]
        change, low, high, latest = (
            _in_unit(watched, one.level, size) for size in (one.change, one.low, one.high, now)
        )
        found.append(
            Alert(
                kind=watched.kind,
                leg=series.leg,
                measure=series.measure,
                day=int(days[one.day]),
                since=int(days[one.since]),
                ended=None if one.ended is None else int(days[one.ended]),
                baseline=watched.back(one.level.mean),
                baseline_days=one.level.days,
                change=change,
                low=min(low, high),
                high=max(low, high),
                change_now=latest,
                days=width,
                strides=int(n[run].sum()),
                speed_change=None if speeds is None else _speed_change(speeds, days, one),
            )
        )
    return found


def _in_unit(watched: Watched, level: Level, change: float) -> float:
    return watched.back(level.mean + change) - watched.back(level.mean)


def _speed_change(speeds: Series, days: IntArray, alert: Raised) -> float | None:
    """Median speed of the alert's days less that of the baseline's, m/s."""
    by_day = {int(speeds.days[place]): speeds.values[place].value for place in speeds.known}
    before = [by_day[int(day)] for day in days[: alert.level.days] if int(day) in by_day]
    after = [by_day[int(day)] for day in days[alert.since : alert.day + 1] if int(day) in by_day]
    return float(np.median(after) - np.median(before)) if before and after else None
