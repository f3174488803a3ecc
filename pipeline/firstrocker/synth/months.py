"""Months at home of invented people, as tables of strides: for working out how often alerts are false, and how late.

Every number here is invented. What is modelled is what makes days differ although nothing has changed: sensors put on
anew each morning (an error that all strides of a day share), days that resemble their neighbours, weekends, a slow
drift of the sensors, days in other shoes, days with twenty strides and days with thousands, days without data, runs of
them. What real people's days do beyond that is not in it, and false alarms among real people may be more.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from firstrocker.model import BoolArray, FloatArray
from firstrocker.study.day_series import CLEARANCE, SLAP, SPEED, StrideDay


@dataclass(frozen=True)
class Amount:
    """How one measure varies: its mean, and standard deviations.

    stride: of strides of a bout. bout: between bouts. remount: between days, of putting on. habit: between days that
    resemble their neighbours. weekend: what Saturday and Sunday add. drift: over 30 days, of a person's sensors. odd:
    of days in other shoes.
    """

    mean: float
    stride: float = 0.0
    bout: float = 0.0
    remount: float = 0.0
    habit: float = 0.0
    weekend: float = 0.0
    drift: float = 0.0
    odd: float = 0.0


USUAL: Mapping[str, Amount] = {
    SLAP: Amount(250.0, 35.0, 12.0, 10.0, 8.0, 6.0, 2.5, 30.0),
    CLEARANCE: Amount(14.0, 3.5, 1.0, 1.3, 0.8, -0.5, 0.3, 4.0),
    SPEED: Amount(0.95, 0.07, 0.06, 0.01, 0.03, -0.03, 0.0, 0.0),
    "worn_h": Amount(9.0, remount=1.2, habit=0.8, weekend=-1.0, odd=2.0),
}
"""Invented; of a size that the demo's strides and their errors have."""


@dataclass(frozen=True)
class Life:
    """How days come about. rough: all that days differ by is so many times larger."""

    amounts: Mapping[str, Amount] = field(default_factory=lambda: USUAL)
    rough: float = 1.0
    resemblance: float = 0.5
    odd_days: float = 0.04
    missing: float = 0.12
    outage: float = 0.01
    outage_days: float = 4.0
    strides: float = 300.0
    strides_spread: float = 1.0
    bout_strides: int = 12
    most_strides: int = 5000


@dataclass(frozen=True)
class Change:
    """A change of one measure by ``size`` from a day on, at once or grown over ``over`` days."""

    measure: str
    size: float
    day: int
    over: int = 0


@dataclass(frozen=True)
class Months:
    """One person: strides of the days that have any, and hours worn by day."""

    days: list[StrideDay]
    worn_h: dict[int, float | None]


def live(rng: np.random.Generator, days: int, *, life: Life, change: Change | None = None) -> Months:
    """One invented person's days; day 0 is a Monday.

    Args:
        rng: where chance comes from.
        days: how many, those without data included.
        life: how days come about.
        change: what becomes of the person.
    """
    levels = {name: _levels(rng, days, amount, life) for name, amount in life.amounts.items()}
    odd = rng.random(days) < life.odd_days
    for name, amount in life.amounts.items():
        levels[name][odd] += amount.odd * rng.standard_normal(int(odd.sum()))
    if change is not None:
        grown = np.clip((np.arange(days) - change.day + 1) / max(change.over, 1), 0.0, 1.0)
        levels[change.measure] += change.size * grown
    usual = np.exp(np.log(life.strides) + 0.5 * rng.standard_normal())
    counts = np.exp(np.log(usual) + life.strides_spread * rng.standard_normal(days))
    found = [
        _day(rng, int(day), int(np.clip(counts[day], 20, life.most_strides)), levels, life)
        for day in np.flatnonzero(_there(rng, days, life))
    ]
    worn: dict[int, float | None] = {one.day: float(np.clip(levels["worn_h"][one.day], 0.0, 24.0)) for one in found}
    return Months(found, worn)


def _levels(rng: np.random.Generator, days: int, amount: Amount, life: Life) -> FloatArray:
    habit = rng.standard_normal(days)
    for day in range(1, days):
        habit[day] = life.resemblance * habit[day - 1] + np.sqrt(1.0 - life.resemblance**2) * habit[day]
    weekend = np.isin(np.arange(days) % 7, (5, 6))
    scatter = amount.remount * rng.standard_normal(days) + amount.habit * habit + amount.weekend * weekend
    drift = amount.drift * rng.standard_normal() * np.arange(days) / 30.0
    return np.asarray(amount.mean + life.rough * scatter + drift)


def _there(rng: np.random.Generator, days: int, life: Life) -> BoolArray:
    there = rng.random(days) >= life.missing
    for day in np.flatnonzero(rng.random(days) < life.outage):
        there[day : day + 1 + int(rng.exponential(life.outage_days))] = False
    there[0] = True
    return there


def _day(rng: np.random.Generator, day: int, n: int, levels: Mapping[str, FloatArray], life: Life) -> StrideDay:
    bout = np.arange(n) // life.bout_strides
    values: dict[str, FloatArray] = {}
    for name in (SLAP, CLEARANCE, SPEED):
        amount = life.amounts[name]
        own = amount.bout * rng.standard_normal(int(bout[-1]) + 1)
        values[name] = levels[name][day] + own[bout] + amount.stride * rng.standard_normal(n)
    values[f"{CLEARANCE}_se"] = np.full(n, 1.1)
    under = values[CLEARANCE] < -5.0 - 2.0 * 1.1
    values[CLEARANCE] = np.where(under, np.nan, values[CLEARANCE])
    return StrideDay(day, bout, values, under)
