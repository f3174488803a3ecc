"""Values that a logger wrote again because the sensor had no new ones: found while the sensor moved, and taken out.

A moving sensor never gives three, let alone six, numbers twice running. Where it seems to, either the logger writes
faster than the sensor measures (sample and hold), or it filled lost samples with the last one that came.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from firstrocker.errors import LogError
from firstrocker.model import BoolArray, Finding, FloatArray, IntArray
from firstrocker.signals.noticed import counted

MOVING_RAD_S = 0.5
"""Angular velocity above which a sensor is surely moving: ten times what a foot at rest rocks by."""
LEAST_CHANGE = 4.0
"""Smallest steps of the numbers by which the next value must differ: a coarse sensor may well repeat itself."""
CHANCE = 2
"""Repetitions of three numbers that are put down to chance."""
MANY = 0.2
REGULAR_SHARE = 0.05
REGULAR = 0.35
"""Held rows are the logger's habit where they are more than ``MANY`` of those in movement, or more than
``REGULAR_SHARE`` and evenly spread: spacing with a coefficient of variation below ``REGULAR`` (at random it is 1)."""
LEAST_RATE_HZ = 20.0
_SENSORS = {"acceleration": slice(0, 3), "angular velocity": slice(3, 6)}


@dataclass(frozen=True)
class _Runs:
    """Stretches of equal rows: where each begins, how many rows it has, whether it was held in movement."""

    start: IntArray
    length: IntArray
    moving: BoolArray

    @property
    def held(self) -> BoolArray:
        return self.moving & (self.length > 1)

    @property
    def share(self) -> float:
        rows = int(self.length[self.moving].sum())
        return float((self.length[self.held] - 1).sum()) / rows if rows else 0.0

    @property
    def habit(self) -> bool:
        """Whether the logger holds values as a rule."""
        if self.share >= MANY:
            return True
        spacing = np.diff(self.start[self.held])
        spacing = spacing[spacing < 3 * np.median(spacing)] if len(spacing) else spacing
        even = len(spacing) >= 20 and float(spacing.std() / spacing.mean()) < REGULAR
        return even and self.share >= REGULAR_SHARE

    def rows_per_value(self) -> float:
        return float(self.length[self.moving].mean())


_NOTHING = _Runs(np.empty(0, dtype=np.int64), np.empty(0, dtype=np.int64), np.empty(0, dtype=bool))


def release(seconds: FloatArray, values: FloatArray, *, where: str) -> tuple[FloatArray, FloatArray, list[Finding]]:
    """A log without the values that were held.

    Args:
        seconds: (n,) rising.
        values: (n, 6) acceleration in m/s^2 and angular velocity in rad/s.
        where: how to name the log in errors and findings.

    Returns:
        times and values of the samples that the sensor gave, at the times at which they first appeared (evenly spread
        where the logger's and the sensor's rates are no multiples); a sensor that gives fewer values than the other is
        interpolated in a straight line between those it gave. And what was noticed.

    Raises:
        LogError: a sensor gave fewer than 20 values per second.
    """
    findings: list[Finding] = []
    runs = _runs(values, values)
    if runs.held.any():
        step = float(np.median(np.diff(seconds)))
        if runs.habit:
            rows = runs.rows_per_value()
            _check_rate(1.0 / (rows * step), "sensor", where)
            findings.append(_habit_told("sensor gives", 1.0 / step, rows, "those between were left out", where))
            seconds, values = _freed(seconds, values, runs, rows * step, step)
        else:
            keep = _first_rows(runs, len(seconds))
            findings.append(_filled(int((~keep).sum()), len(seconds), "all values", where))
            seconds, values = seconds[keep], _taken(values, np.flatnonzero(keep))
    for name, part in _SENSORS.items():
        runs = _runs(values[:, part], values)
        if not runs.held.any():
            continue
        step = float(np.median(np.diff(seconds)))
        if runs.habit:
            rows = runs.rows_per_value()
            _check_rate(1.0 / (rows * step), name, where)
            told = f"{name} comes"
            findings.append(_habit_told(told, 1.0 / step, rows, "straight lines were drawn between", where))
            values = values.copy()
            time, known = _freed(seconds, values[:, part], runs, rows * step, step)
            values[:, part] = np.column_stack([np.interp(seconds, time, column) for column in known.T])
        else:
            keep = _first_rows(runs, len(seconds))
            findings.append(_filled(int((~keep).sum()), len(seconds), f"the {name}", where))
            seconds, values = seconds[keep], _taken(values, np.flatnonzero(keep))
    return seconds, values, findings


def _taken(values: FloatArray, rows: IntArray) -> FloatArray:
    """These rows, each column in one piece as before: what is done to a column, and nearly all is, reads no others."""
    return np.take(values.T, rows, axis=1).T


def _runs(part: FloatArray, values: FloatArray) -> _Runs:
    new = np.zeros(len(part), dtype=bool)
    new[0] = True
    for column in part.T:
        new[1:] |= column[1:] != column[:-1]
    # Most logs end here: what they repeat, if anything, they repeat at rest.
    repeated = np.flatnonzero(new[:-1] & ~new[1:])
    if not (np.linalg.norm(values[repeated, 3:], axis=1) > MOVING_RAD_S).any():
        return _NOTHING
    start = np.flatnonzero(new)
    length = np.diff(np.append(start, len(part)))
    rows = _taken(part, start)
    moving = np.linalg.norm(_taken(values[:, 3:], start), axis=1) > MOVING_RAD_S
    changed = np.zeros(len(start), dtype=bool)
    for column, step in zip(rows.T, _finest(part), strict=True):
        changed[:-1] |= np.abs(np.diff(column)) > LEAST_CHANGE * step
    runs = _Runs(start, length, moving & changed)
    if not runs.habit and runs.held.sum() <= _by_chance(_taken(rows, np.flatnonzero(runs.moving))):
        return _NOTHING
    return runs


def _by_chance(rows: FloatArray) -> float:
    """As many repetitions as coarse numbers may make by themselves: their columns are taken to be independent."""
    least = CHANCE if rows.shape[1] == 3 else 0.0
    if len(rows) < 2:
        return least
    return least + 5.0 * len(rows) * float(np.prod([np.mean(column[1:] == column[:-1]) for column in rows.T]))


def _finest(part: FloatArray) -> FloatArray:
    """(c,) the smallest step between two different numbers of each column, rounding errors aside."""
    finest = np.zeros(part.shape[1])
    for c, column in enumerate(part.T):
        steps = np.diff(np.unique(column))
        steps = steps[steps > 1e-9 * max(float(np.abs(column).max()), 1e-300)]
        finest[c] = steps.min() if len(steps) else 0.0
    return finest


def _first_rows(runs: _Runs, n: int) -> BoolArray:
    """(n,) which rows are no repetition within a run that was held in movement."""
    keep = np.ones(n, dtype=bool)
    for start, length in zip(runs.start[runs.held], runs.length[runs.held], strict=True):
        keep[start + 1 : start + length] = False
    return keep


def _freed(
    seconds: FloatArray, values: FloatArray, runs: _Runs, period: float, step: float
) -> tuple[FloatArray, FloatArray]:
    """The sensor's own samples: one per run, more where a run is so long that the sensor repeated itself."""
    rows = period / step
    count = np.maximum(np.round(runs.length / rows), 1).astype(int)
    count[runs.length <= np.ceil(rows - 0.02)] = 1
    first = np.repeat(runs.start, count)
    nth = np.arange(len(first)) - np.repeat(np.cumsum(count) - count, count)
    time = seconds[first] + nth * period
    keep = np.concatenate([[True], np.diff(np.maximum.accumulate(time)) > 0.25 * step])
    time, first = time[keep], first[keep]
    return _evened(time, period, step), _taken(values, first)


def _evened(time: FloatArray, period: float, step: float) -> FloatArray:
    """Times freed from the logger's own steps, where one even course explains them all to a step."""
    steps = np.diff(time)
    lost = steps > (np.ceil(period / step - 0.02) + 0.5) * step
    place = np.concatenate([[0.0], np.cumsum(np.where(lost, np.round(steps / period), 1.0))])
    if len(time) < 3:
        return time
    slope, start = np.polyfit(place, time - time[0], 1)
    even = time[0] + start + slope * place
    return even if np.abs(even - time).max() <= step and slope > 0 else time


def _check_rate(rate_hz: float, name: str, where: str) -> None:
    if rate_hz < LEAST_RATE_HZ:
        raise LogError(
            f"The {name} gives no more than {rate_hz:.3g} new values per second; the logger repeats them in between.",
            where=where,
            remedy="Set the sensor itself to 100 samples per second or more.",
        )


def _habit_told(subject: str, rate_hz: float, rows: float, deed: str, where: str) -> Finding:
    return Finding(
        "sample-and-hold",
        "warning",
        f"{where}: the {subject} {rate_hz / rows:.3g} times a second and the logger wrote {rate_hz:.3g} rows, each "
        f"value {rows:.3g} times over; {deed}.",
        "Set sensor and logger to one rate, 100 per second or more.",
    )


def _filled(count: int, n: int, what: str, where: str) -> Finding:
    return Finding(
        "samples-held",
        "warning" if count > 0.02 * n else "info",
        f"{where}: {counted(count, 'row')} of {n} repeat {what} of the row before though the sensor moved; taken for "
        "lost samples.",
        "Keep the logger close and its battery charged.",
    )
