"""A person's days as series: one per side, condition, setting and measure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from firstrocker.measures import BY_COLUMN
from firstrocker.model import BoolArray, FloatArray, IntArray
from firstrocker.study.days import DayValue, day_median, day_share, lacking
from firstrocker.study.marks import low_passes, slap_limit, why_no_low_passes

CLEARANCE, SLAP, SPEED = "toe_clearance_min_mm", "slap_rate_deg_s", "walking_speed_m_s"
SLAPS, LOW, WORN = "slap_share", "low_pass_share", "worn_h"
UNITS = {SLAPS: "1", LOW: "1", WORN: "h"}
"""Of the measures of a day that are none of a stride."""


@dataclass(frozen=True)
class Leg:
    """What is compared with itself over days; all None for what is of the person, as wear time is."""

    side: str | None = None
    condition: str | None = None
    setting: str | None = None
    resistance: float | None = None


@dataclass(frozen=True)
class StrideDay:
    """The strides that count of one leg on one day.

    day: number of the day, from any origin. bout: (n,) unique in the day. values: (n,) by column of strides.parquet,
    NaN where there is none. under: (n,) whether the toe came out under the ground.
    """

    day: int
    bout: IntArray
    values: Mapping[str, FloatArray]
    under: BoolArray

    @property
    def n(self) -> int:
        """Strides."""
        return len(self.bout)


@dataclass(frozen=True)
class Marking:
    """How strides are marked and days counted.

    baseline: days. least: strides of a day that is taken. quantile: of the person's own slap rates; slap: a limit for
    all instead, deg/s. near_mm: height of a low pass.
    """

    baseline: int
    least: int
    quantile: float
    slap: float | None
    near_mm: float


@dataclass(frozen=True)
class Series:
    """One measure of one leg over days, in order.

    limit: what a stride is held against, where there is such a limit and it is known.
    """

    leg: Leg
    measure: str
    days: IntArray
    values: Sequence[DayValue]
    limit: float | None = None

    @property
    def unit(self) -> str:
        """Unit of the values."""
        return UNITS.get(self.measure) or BY_COLUMN[self.measure].unit

    @cached_property
    def known(self) -> IntArray:
        """Places of the days that have a value."""
        return np.flatnonzero([np.isfinite(one.value) for one in self.values])


@dataclass(frozen=True)
class DayBrief:
    """What follows of a leg's strides of one day, and need not be read of them again.

    values: medians, and the share of low passes, by measure. slap_n: strides with a slap rate. slaps: the share of
    slaps by the limit that strides were held against.
    """

    day: int
    values: Mapping[str, DayValue]
    slap_n: int
    slaps: Mapping[float, DayValue] = field(default_factory=dict)


@dataclass(frozen=True)
class LegBriefs:
    """A leg's days in brief, in order, and what a slap is for the person, None while it is not known."""

    days: Sequence[DayBrief]
    limit: float | None


def brief_of(day: StrideDay, *, how: Marking) -> DayBrief:
    """A leg's day in brief, but for its share of slaps."""
    values = {column: _median(day, column, how.least) for column in (SLAP, CLEARANCE, SPEED)} | {LOW: _low(day, how)}
    return DayBrief(day.day, values, int(np.isfinite(day.values[SLAP]).sum()))


def baseline_of(days: Sequence[DayBrief], *, how: Marking) -> Sequence[DayBrief]:
    """The days that tell what a slap is for the person; empty while there are too few."""
    first = [one for one in days if one.slap_n >= how.least][: how.baseline]
    return first if len(first) == how.baseline else ()


def own_limit(days: Sequence[StrideDay], *, how: Marking) -> float:
    """The slap rate (deg/s) that a slap exceeds, from the days of :func:`baseline_of`."""
    return slap_limit([day.values[SLAP][np.isfinite(day.values[SLAP])] for day in days], quantile=how.quantile)


def slaps_of(day: StrideDay, limit: float) -> DayValue:
    """The share of strides with a slap rate that exceed a limit (deg/s)."""
    has = np.isfinite(day.values[SLAP])
    return day_share(day.values[SLAP][has] > limit, day.bout[has])


def briefs_of(days: Sequence[StrideDay], *, how: Marking) -> LegBriefs:
    """A leg's days in brief, all of their strides at hand."""
    briefs = [brief_of(day, how=how) for day in days]
    limit, by_day = how.slap, {day.day: day for day in days}
    if limit is None and (first := baseline_of(briefs, how=how)):
        limit = own_limit([by_day[one.day] for one in first], how=how)
    if limit is None:
        return LegBriefs(briefs, None)
    told = [
        replace(one, slaps={limit: slaps_of(day, limit)}) if one.slap_n >= how.least else one
        for one, day in zip(briefs, days, strict=True)
    ]
    return LegBriefs(told, limit)


def series_of(leg: Leg, days: Sequence[StrideDay] | LegBriefs, *, how: Marking) -> list[Series]:
    """All series of a leg: medians of slap rate, clearance and speed, shares of slaps and of low passes.

    Args:
        leg: whose strides they are.
        days: in order.
        how: settings of the marking.
    """
    briefs = days if isinstance(days, LegBriefs) else briefs_of(days, how=how)
    when = np.array([one.day for one in briefs.days], dtype=np.int64)
    found = [
        Series(leg, column, when, [one.values[column] for one in briefs.days]) for column in (SLAP, CLEARANCE, SPEED)
    ]
    found.append(Series(leg, SLAPS, when, [_slaps(one, briefs.limit, how) for one in briefs.days], briefs.limit))
    found.append(Series(leg, LOW, when, [one.values[LOW] for one in briefs.days], how.near_mm))
    return found


def worn_series(worn_h: Mapping[int, float | None]) -> Series:
    """Hours worn by day; None where they cannot be had."""
    when = sorted(worn_h)
    values = [
        lacking("wear time could not be told") if hours is None else DayValue(0, 0, hours, np.nan, 0.0)
        for hours in (worn_h[day] for day in when)
    ]
    return Series(Leg(), WORN, np.array(when, dtype=np.int64), values)


def _median(day: StrideDay, column: str, least: int) -> DayValue:
    n = int(np.isfinite(day.values[column]).sum())
    if n == 0:
        return lacking("no shank log, or no loading could be measured" if column == SLAP else "not measured")
    return day_median(day.values[column], day.bout) if n >= least else lacking(f"fewer than {least} strides", n)


def _slaps(day: DayBrief, limit: float | None, how: Marking) -> DayValue:
    if day.slap_n < how.least:
        return day.values[SLAP]
    if limit is None:
        return lacking(f"what a slap is for this person is known after {how.baseline} days", day.slap_n)
    return day.slaps[limit]


def _low(day: StrideDay, how: Marking) -> DayValue:
    clearance, error = day.values[CLEARANCE], day.values[f"{CLEARANCE}_se"]
    has = np.isfinite(clearance) & np.isfinite(error)
    if reason := why_no_low_passes(clearance, error, day.under):
        return lacking(reason, int(has.sum()))
    if int(has.sum()) < how.least:
        return lacking(f"fewer than {how.least} strides", int(has.sum()))
    return day_share(low_passes(clearance[has], error[has], near_mm=how.near_mm), day.bout[has])
