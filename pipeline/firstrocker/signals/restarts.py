"""The times of a log that is read in parts, unrolled: a logger that began anew goes on where it had ended."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from firstrocker.errors import LogError
from firstrocker.model import BoolArray, FloatArray
from firstrocker.signals.samples import MAX_STEP_BACK_S

MOST_RESTARTS = 200
RESTART_STEP_S = 0.01
AHEAD_S = 5.0
"""A time farther ahead than this, after which the next row goes on as before, is a damaged number."""


@dataclass(frozen=True)
class Rows:
    """Part of a log. time: (n,) s, out of order by a second at the most. values: (n, 6) as read, NaN where empty.

    restarts: times at which the logger had begun anew; how long it had stopped before, nobody knows.
    """

    time: FloatArray
    values: FloatArray
    restarts: tuple[float, ...] = ()


def unrolled(parts: Iterable[tuple[FloatArray, FloatArray]], *, where: str) -> Iterator[Rows]:
    """A log's parts with times that never fall back by more than a second.

    What is given depends on the rows alone, not on how they were parted.

    Args:
        parts: times (n,) in s and values (n, 6); rows without a time are dropped.
        where: how to name the log in errors.

    Raises:
        LogError: ``time-runs-back``: so often that these are no times.
    """
    latest, shift, count = -np.inf, 0.0, 0
    held = np.empty((0, 7))
    for time, values in parts:
        rows = np.column_stack([time, values])
        rows = np.concatenate([held, rows[np.isfinite(time)]])
        rows, held = rows[:-1], rows[-1:]
        if not len(rows):
            continue
        rows = rows[~_damaged(rows[:, 0], float(held[0, 0]), latest - shift)]
        found, latest, shift = _part(rows, latest, shift)
        count += len(found.restarts)
        if count > MOST_RESTARTS:
            raise LogError(
                f"Time runs back more than {MOST_RESTARTS} times.",
                code="time-runs-back",
                where=where,
                remedy="Check which column holds the time.",
            )
        yield found
    if len(held):
        yield _part(held, latest, shift)[0]


def _damaged(time: FloatArray, following: float, before: float) -> BoolArray:
    """(n,) times far ahead of the one before them, after which time goes on as if they had not been."""
    last = np.concatenate([[before if np.isfinite(before) else time[0]], time[:-1]])
    following_each = np.append(time[1:], following)
    return np.asarray((time > last + AHEAD_S) & (np.abs(following_each - last) < MAX_STEP_BACK_S))


def _part(rows: FloatArray, latest: float, shift: float) -> tuple[Rows, float, float]:
    time = rows[:, 0] + shift
    restarts: list[float] = []
    begin = 0
    while len(time):
        reached = np.maximum.accumulate(np.concatenate([[latest], time]))[:-1]
        back = np.flatnonzero(time[begin:] < reached[begin:] - MAX_STEP_BACK_S)
        if not len(back) or len(restarts) > MOST_RESTARTS:
            break
        begin += int(back[0])
        begins = float(reached[begin]) + RESTART_STEP_S
        shift += begins - float(time[begin])
        time = np.concatenate([time[:begin], rows[begin:, 0] + shift])
        restarts.append(begins)
    latest = max(latest, float(time.max(initial=-np.inf)))
    return Rows(time, rows[:, 1:], tuple(restarts)), latest, shift
