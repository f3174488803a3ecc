"""A person's days as series: one per side, condition, setting and measure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
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


def series_of(leg: Leg, days: Sequence[StrideDay], *, how: Marking) -> list[Series]:
    """All series of a leg: medians of slap rate, clearance and speed, shares of slaps and of low passes.

    Args:
        leg: whose strides they are.
        days: in order.
        how: settings of the marking.
    """
    when = np.array([one.day for one in days], dtype=np.int64)
    found = [
        Series(leg, column, when, [_median(one, column, how.least) for one in days])
        for column in (SLAP, CLEARANCE, SPEED)
    ]
    limit = _own_slap_limit(days, how)
    found.append(Series(leg, SLAPS, when, [_slaps(one, limit, how) for one in days], limit))
    found.append(Series(leg, LOW, when, [_low(one, how) for one in days], how.near_mm))
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


def _own_slap_limit(days: Sequence[StrideDay], how: Marking) -> float | None:
    if how.slap is not None:
        return how.slap
    measured = [day.values[SLAP][np.isfinite(day.values[SLAP])] for day in days]
    first = [one for one in measured if len(one) >= how.least][: how.baseline]
    return slap_limit(first, quantile=how.quantile) if len(first) == how.baseline else None


def _slaps(day: StrideDay, limit: float | None, how: Marking) -> DayValue:
    has = np.isfinite(day.values[SLAP])
    n = int(has.sum())
    if n < how.least:
        return _median(day, SLAP, how.least)
    if limit is None:
        return lacking(f"what a slap is for this person is known after {how.baseline} days", n)
    return day_share(day.values[SLAP][has] > limit, day.bout[has])


def _low(day: StrideDay, how: Marking) -> DayValue:
    clearance, error = day.values[CLEARANCE], day.values[f"{CLEARANCE}_se"]
    has = np.isfinite(clearance) & np.isfinite(error)
    if reason := why_no_low_passes(clearance, error, day.under):
        return lacking(reason, int(has.sum()))
    if int(has.sum()) < how.least:
        return lacking(f"fewer than {how.least} strides", int(has.sum()))
    return day_share(low_passes(clearance[has], error[has], near_mm=how.near_mm), day.bout[has])
