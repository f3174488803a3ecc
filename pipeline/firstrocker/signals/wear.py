"""How long a sensor recorded, and how long of it it was worn.

A sensor that nobody wears lies still. After van Hees et al. (2013; the numbers from memory) it is not worn where, for
an hour or more, its acceleration spreads by less than 13 mg per axis; here it must besides lie in one direction, and
its gyroscope, averaged over each second, must show no sway beyond its noise.

What it costs: sensors taken off for less than an hour count as worn. Who keeps the leg still for an hour, with less
sway than the sensor sees, is taken for one who took it off: of a night in which someone turns over 2, 3 or 4 times an
hour at random, and shows no sway in between, that makes 41, 20 or 9 % (so much is random intervals alone).
"""

from __future__ import annotations

import numpy as np

from firstrocker.model import STANDARD_GRAVITY, BoolArray, FloatArray
from firstrocker.signals.digest import TENTHS, Digest

MINUTE = 60
STILL_SPREAD = 0.013 * STANDARD_GRAVITY
"""m/s^2 per axis, of the acceleration within a second."""
OVER_NOISE, STEADY = 2.0, np.radians(0.01)
"""A gyroscope shows no sway where its means over a second spread, within a minute, by less than so many times what its
own noise lets them, and rad/s for the wander of its bias. Invented; no source."""
SAME_WAY = np.radians(1.0)
"""rad between one minute's gravity and the next's, and over an interruption. Common practice, no source."""
INTERRUPTED_MIN = 2
"""Minutes in which someone may knock against the table; after Choi et al. (2011), from memory."""
_STIRRED_SHARE = 0.05


def recorded_s(log: Digest) -> float:
    """Seconds that hold samples, to a tenth."""
    return float(np.count_nonzero(log.samples)) / TENTHS


def unworn(log: Digest, *, unworn_min_s: float) -> BoolArray:
    """(s,) the seconds in which the sensor was not worn.

    Args:
        log: in brief.
        unworn_min_s: shortest time of lying still that counts.
    """
    still, way = _minutes(log)
    off = np.zeros(len(log.spread), dtype=np.bool_)
    for first, stop in _lying(still, way):
        if (stop - first) * MINUTE >= unworn_min_s:
            off[first * MINUTE : stop * MINUTE] = True
    return off


def worn_s(log: Digest, *, unworn_min_s: float) -> float:
    """Seconds that were recorded while the sensor was worn."""
    off = np.repeat(unworn(log, unworn_min_s=unworn_min_s), TENTHS)[: len(log.samples)]
    return float(np.count_nonzero((log.samples > 0) & ~off)) / TENTHS


def _minutes(log: Digest) -> tuple[BoolArray, FloatArray]:
    """(m,) which minutes the sensor lay still throughout, and (m, 3) gravity's direction; NaN without samples."""
    count = -(-len(log.spread) // MINUTE)
    filled = np.full((count * MINUTE, 7), np.nan)
    filled[: len(log.spread)] = np.column_stack([log.gravity, log.spread, log.turn])
    minutes, noise = filled.reshape(count, MINUTE, 7), _noise(log, count)
    there = np.isfinite(minutes[:, :, 3])
    some = there.any(axis=1)
    still, way = np.zeros(count, dtype=np.bool_), np.full((count, 3), np.nan)
    for m in np.flatnonzero(some):
        rows = minutes[m][there[m]]
        stirred = np.mean(rows[:, 3] / np.sqrt(3.0) > STILL_SPREAD)
        sway = float(rows[:, 4:].std(axis=0).max())
        still[m] = stirred < _STIRRED_SHARE and sway < OVER_NOISE * noise[m] + STEADY
        way[m] = rows[:, :3].mean(axis=0)
    way /= np.linalg.norm(way, axis=1, keepdims=True)
    return still, way


def _noise(log: Digest, minutes: int) -> FloatArray:
    """(m,) rad/s per axis, by which noise alone lets means over a second spread; NaN without samples."""
    size = minutes * MINUTE
    tenths = np.zeros((2, size * TENTHS))
    tenths[:, : len(log.samples)] = log.samples, log.samples * log.turning.astype(np.float64) ** 2
    samples, squares = tenths.reshape(2, size, TENTHS).sum(axis=2)
    means = np.full(size, np.nan)
    means[: len(log.turn)] = (log.turn.astype(np.float64) ** 2).sum(axis=1)
    samples[samples == 0] = np.nan
    variance = np.maximum(squares / samples - means, 0.0) / 3.0 / samples
    known = np.isfinite(variance).reshape(minutes, MINUTE)
    summed = np.where(known, variance.reshape(minutes, MINUTE), 0.0).sum(axis=1)
    return np.asarray(np.sqrt(summed / np.where(known.any(axis=1), known.sum(axis=1), np.nan)))


def _lying(still: BoolArray, way: FloatArray) -> list[tuple[int, int]]:
    """Runs of still minutes in one direction, short interruptions within counted in; minutes without samples too."""
    runs: list[tuple[int, int]] = []
    first, last = -1, -1
    for m in np.flatnonzero(still):
        if first >= 0:
            known = np.flatnonzero(np.isfinite(way[last + 1 : m, 0]))
            goes_on = len(known) <= INTERRUPTED_MIN and _angle(way[last], way[m]) < SAME_WAY
            if not goes_on:
                runs.append((first, last + 1))
                first = int(m)
        else:
            first = int(m)
        last = int(m)
    return [*runs, (first, last + 1)] if first >= 0 else []


def _angle(one: FloatArray, other: FloatArray) -> float:
    return float(np.arccos(np.clip(one @ other, -1.0, 1.0)))
