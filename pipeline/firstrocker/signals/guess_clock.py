"""Which column of an unknown log tells the time, in which unit; or which counts the samples."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from firstrocker.model import FloatArray
from firstrocker.signals.description import Item, Sure
from firstrocker.signals.guess_names import COUNTER, TIME, unit_of
from firstrocker.signals.strict import quoted
from firstrocker.signals.units import SECONDS

LIKELY_HZ = (20.0, 2000.0)
_EVEN = 0.8
_MOST_SHARED = 0.02


@dataclass(frozen=True)
class Clock:
    """How a log's samples are timed.

    ``kind`` is ``time``, ``counter`` or ``none``; ``rate_hz`` the samples per second (None: nothing tells); ``entries``
    are the profile's entries, ``items`` say how sure each is.
    """

    kind: str
    column: str | None
    rate_hz: float | None
    entries: dict[str, object]
    items: tuple[Item, ...]
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class _Candidate:
    name: str
    unit: str
    rate_hz: float
    named: bool
    told: str
    even: float


def guess_clock(columns: Mapping[str, FloatArray], stamps: Mapping[str, FloatArray], above: Sequence[str]) -> Clock:
    """The clock of a log.

    Args:
        columns: the columns of numbers, each (n,).
        stamps: columns of ISO 8601 stamps, as seconds.
        above: the lines above the table, which may tell the rate.
    """
    times = [one for name, values in columns.items() if (one := _time(name, values)) is not None]
    times += [one for name, values in stamps.items() if (one := _stamp(name, values)) is not None]
    times.sort(key=lambda one: (one.named, round(one.even, 2), one.unit != "iso8601"), reverse=True)
    counters = [(name, *found) for name, values in columns.items() if (found := _counter(name, values)) is not None]
    counters.sort(key=lambda one: one[1], reverse=True)
    if times and (times[0].named or not counters or not counters[0][1]):
        return _by_time(times, counters)
    if counters:
        return _by_counter(counters, above)
    return _by_rate(above, _coarse(columns, stamps))


def rates_told(above: Sequence[str]) -> list[float]:
    """Samples per second that the lines above a table speak of."""
    text = "\n".join(above)
    found = re.findall(r"(\d+(?:[.,]\d+)?)\s*(?:hz\b|samples?\s*(?:/|per)\s*s)", text, flags=re.IGNORECASE)
    found += re.findall(r"(?:rate|frequency|freq)\b[^\d\n]{0,12}(\d+(?:[.,]\d+)?)(?!\s*hz)", text, flags=re.IGNORECASE)
    rates = {float(one.replace(",", ".")) for one in found}
    return sorted(rate for rate in rates if LIKELY_HZ[0] <= rate <= 10_000.0)


def _rising(values: FloatArray) -> FloatArray | None:
    """The steps of a column that hardly ever falls back and seldom stands still; None for any other."""
    values = values[np.isfinite(values)]
    if len(values) < 20:
        return None
    steps = np.diff(values)
    if (steps < 0).mean() > 0.01 or (steps == 0).mean() > _MOST_SHARED or np.median(steps) <= 0:
        return None
    return steps


def _evenness(steps: FloatArray) -> float:
    usual = float(np.median(steps))
    return float(np.mean(np.abs(steps / usual - 1.0) < 0.5))


def _time(name: str, values: FloatArray) -> _Candidate | None:
    steps = _rising(values)
    if steps is None or _evenness(steps) < _EVEN:
        return None
    usual = float(np.median(steps))
    fits = [unit for unit in ("s", "ms", "us", "ns") if LIKELY_HZ[0] <= 1.0 / (usual * SECONDS[unit]) <= LIKELY_HZ[1]]
    if not fits:
        return None
    told = unit_of(name)
    rate = 1.0 / (float(np.mean(steps[(steps > 0) & (steps < 1.5 * usual)])) * SECONDS[fits[0]])
    named = re.search(TIME, name.lower()) is not None and not _counts(name)
    if usual == 1.0 and np.mean(steps == 1.0) > 0.5 and not (named or told == "ms"):
        return None
    return _Candidate(name, fits[0], rate, named, told if told in SECONDS else "", _evenness(steps))


def _stamp(name: str, values: FloatArray) -> _Candidate | None:
    steps = _rising(values)
    if steps is None or _evenness(steps) < 0.5:
        return None
    usual = float(np.median(steps))
    if not LIKELY_HZ[0] <= 1.0 / usual <= 10_000.0:
        return None
    return _Candidate(
        name, "iso8601", 1.0 / float(np.mean(steps[(steps > 0) & (steps < 1.5 * usual)])), True, "", _evenness(steps)
    )


def _counts(name: str) -> bool:
    return re.search(COUNTER, name.lower()) is not None


def _counter(name: str, values: FloatArray) -> tuple[bool, float] | None:
    """Whether the name speaks of a counter, and the usual step, of a column that counts."""
    values = values[np.isfinite(values)]
    if len(values) < 20 or (values != np.round(values)).any():
        return None
    steps = np.diff(values)
    usual = float(np.median(steps))
    if usual <= 0 or np.mean(steps == usual) < _EVEN or (steps < 0).mean() > 0.02:
        return None
    return _counts(name), usual


def _by_time(times: list[_Candidate], counters: list[tuple[str, bool, float]]) -> Clock:
    best = times[0]
    others = tuple(one.name for one in times[1:])
    apart = [one.name for one in times[1:] if abs(one.rate_hz / best.rate_hz - 1.0) > 0.02]
    sure: Sure = "high" if best.named and not apart else "fair" if not apart else "low"
    why = f"It rises evenly, {best.rate_hz:.4g} times a second in {best.unit}"
    why += "." if best.named else ", but its name does not speak of time."
    if apart:
        why += f" {quoted(apart[0])} does so too, at another rate."
    rate = (
        float(round(best.rate_hz))
        if abs(best.rate_hz - round(best.rate_hz)) < 5e-3 * best.rate_hz
        else round(best.rate_hz, 2)
    )
    wrong = best.told and best.told != best.unit and best.unit != "iso8601"
    unit_why = f"Only in {best.unit} do the samples follow each other at a rate that sensors of movement have."
    if best.unit == "iso8601":
        unit_why = "Its cells are dates and times."
    elif wrong:
        unit_why += f" Its name says {best.told}."
    unit_sure: Sure = "low" if wrong else sure if best.unit != "ms" or best.told or best.rate_hz < 900 else "fair"
    items = (
        Item("columns.time", best.name, sure, why, others),
        Item("units.time", best.unit, unit_sure, unit_why, (best.told,) if wrong else ()),
        Item("sampling_rate_hz", rate, "high" if sure == unit_sure == "high" else "fair", "As the times say."),
    )
    notes: tuple[str, ...] = ()
    if best.even < 0.95 and counters:
        notes = (f"The times are uneven; the column {quoted(counters[0][0])} counts and may be the better clock.",)
    entries: dict[str, object] = {"time": best.name, "unit": best.unit, "sampling_rate_hz": rate}
    return Clock("time", best.name, best.rate_hz, entries, items, notes)


def _by_counter(counters: list[tuple[str, bool, float]], above: Sequence[str]) -> Clock:
    name, named, step = counters[0]
    rate = _told_rate(above)
    why = f"It rises by {step:.0f} from row to row" + ("." if named else ", but its name does not speak of a counter.")
    item = Item("counter.column", name, "high" if named else "fair", why, tuple(one[0] for one in counters[1:]))
    entries: dict[str, object] = {"counter": {"column": name}, "sampling_rate_hz": rate.value}
    if step != 1.0 and rate.value is not None:
        entries["counter"] = {"column": name, "per_second": step * rate.value}
    return Clock("counter", name, rate.value, entries, (item, rate))


def _by_rate(above: Sequence[str], coarse: str) -> Clock:
    rate = _told_rate(above)
    why = "No column rises evenly from row to row."
    if coarse:
        why = f"The column {quoted(coarse)} is too coarse: many rows share their time."
    item = Item("units.time", "none", "fair" if not coarse else "low", f"{why} Samples lost cannot be seen.")
    return Clock("none", None, rate.value, {"unit": "none", "sampling_rate_hz": rate.value}, (item, rate))


def _told_rate(above: Sequence[str]) -> Item:
    rates = rates_told(above)
    if len(rates) == 1:
        return Item("sampling_rate_hz", rates[0], "fair", "The lines above the table say so.")
    why = "The file does not tell it." if not rates else "The lines above the table speak of several rates."
    return Item("sampling_rate_hz", None, "low", why, tuple(rates))


def _coarse(columns: Mapping[str, FloatArray], stamps: Mapping[str, FloatArray]) -> str:
    """A column that tells the time, but not finely enough."""
    for name, values in [*stamps.items(), *columns.items()]:
        steps = np.diff(values[np.isfinite(values)])
        named = name in stamps or re.search(TIME, name.lower()) is not None
        if named and len(steps) and (steps >= 0).all() and _MOST_SHARED < (steps == 0).mean() < 1.0:
            return name
    return ""
