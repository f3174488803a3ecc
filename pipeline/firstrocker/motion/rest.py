"""Where a sensor rests, and what rest tells: gyroscope bias, the direction of gravity, the accelerometer's gain."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from firstrocker.model import STANDARD_GRAVITY, BoolArray, FloatArray, IntArray
from firstrocker.motion.sensor import pieces

WINDOW_S = 0.25
ACCELERATION_SPREAD = 0.25  # m/s^2; standing sway plus the noise of ordinary sensors stays below
LEANING, LEANING_PACE = np.radians(0.7), np.radians(0.75)
"""rad, and rad/s, by which gravity turns within a stretch that is no rest to a gyroscope: the shank of who walks slowly
turns over the standing foot so evenly that its rate hardly spreads. From memory, no source: standing sway stays below
the one, or below the other."""


@dataclass(frozen=True)
class Rest:
    """What the quiet stretches of one sensor say.

    quiet: (n,) True where the sensor rests. spans: (k, 2) first and one-past-last samples of the stretches that are
    long enough. bias: (3,) rad/s mean angular velocity in those in which gravity keeps its way, None without any.
    gravity: (k, 3) m/s^2 mean specific force of each stretch.
    """

    quiet: BoolArray
    spans: tuple[tuple[int, int], ...]
    bias: FloatArray | None
    gravity: FloatArray


def moving_spread(values: FloatArray, window: int) -> FloatArray:
    """Standard deviation over a centred window, all axes together.

    Args:
        values: (n, 3).
        window: samples, odd.

    Returns:
        (n,) root of the summed variances; the ends use the nearest whole window.
    """
    n = len(values)
    window = min(window, n)
    spread = np.empty(n - window + 1)
    for part in pieces(0, len(spread)):
        rows = values[part.start : part.stop + window - 1].T
        # Each axis in one piece, for sums run along it.
        block = np.subtract(rows, rows.mean(axis=1, keepdims=True), order="C")
        sums, squares = _windowed(block, window), _windowed((block * block).sum(axis=0), window)
        spread[part] = np.sqrt(np.maximum(squares - (sums * sums).sum(axis=0) / window, 0.0) / window)
    left = (window - 1) // 2
    return np.pad(spread, (left, n - len(spread) - left), mode="edge")


def _windowed(values: FloatArray, window: int) -> FloatArray:
    """(..., n - window + 1) sums of (..., n) over every window."""
    sums = np.cumsum(values, axis=-1)
    within = sums[..., window - 1 :].copy()
    within[..., 1:] -= sums[..., :-window]
    return within


def edges_of(mask: BoolArray) -> tuple[IntArray, IntArray]:
    """Runs of True: the first (k,) and one past the last (k,) of each.

    >>> [edge.tolist() for edge in edges_of(np.array([True, True, False, True]))]
    [[0, 3], [2, 4]]
    """
    edges = np.flatnonzero(np.concatenate([mask[:1], mask[1:] != mask[:-1], mask[-1:]]))
    return edges[::2], edges[1::2]


def spans_of(mask: BoolArray) -> list[tuple[int, int]]:
    """Runs of True as (first, one past last).

    >>> spans_of(np.array([True, True, False, True]))
    [(0, 2), (3, 4)]
    """
    first, stop = edges_of(mask)
    return list(zip(first.tolist(), stop.tolist(), strict=True))


def find_rest(
    acceleration: FloatArray,
    angular_velocity: FloatArray,
    valid: BoolArray,
    rate_hz: float,
    *,
    rest_min_s: float,
    rest_gyro: float,
) -> Rest:
    """Find the quiet stretches of one sensor.

    Args:
        acceleration: (n, 3) m/s^2, sensor axes.
        angular_velocity: (n, 3) rad/s, bias included: only its spread is judged, so a large bias does no harm.
        valid: (n,) False where nothing was measured.
        rate_hz: samples per second.
        rest_min_s: least length of a quiet stretch, s.
        rest_gyro: greatest spread of the angular velocity within a quarter of a second, rad/s.

    Returns:
        The stretches, their mean angular velocity, those left aside in which gravity turns, and each one's mean
        specific force.
    """
    window = max(3, round(WINDOW_S * rate_hz) | 1)
    quiet = (
        (moving_spread(angular_velocity, window) < rest_gyro)
        & (moving_spread(acceleration, window) < ACCELERATION_SPREAD)
        & valid
    )
    spans = tuple(s for s in spans_of(quiet) if s[1] - s[0] >= rest_min_s * rate_hz)
    if not spans:
        return Rest(quiet, (), None, np.empty((0, 3)))
    lengths = np.array([b - a for a, b in spans], dtype=np.float64)
    rates = np.array([angular_velocity[a:b].mean(axis=0) for a, b in spans])
    gravity = np.array([acceleration[a:b].mean(axis=0) for a, b in spans])
    return Rest(quiet, spans, _bias(rates, lengths, _leaning(acceleration, spans, rate_hz)), gravity)


def _leaning(acceleration: FloatArray, spans: tuple[tuple[int, int], ...], rate_hz: float) -> BoolArray:
    """(k,) in which stretches gravity turns, from their first thirds to their last ones."""
    first, stop = np.array(spans).T
    third = np.maximum((stop - first) // 3, 1)
    begins, ends = (
        np.array([acceleration[a : a + n].mean(axis=0) for a, n in zip(at.tolist(), third.tolist(), strict=True)])
        for at in (first, stop - third)
    )
    sizes = np.linalg.norm(begins, axis=1) * np.linalg.norm(ends, axis=1)
    apart = np.linalg.norm(np.cross(begins, ends), axis=1) / np.maximum(sizes, 1e-9)
    return np.asarray((apart > LEANING) & (apart * rate_hz > LEANING_PACE * (stop - first - third)))


def _bias(rates: FloatArray, lengths: FloatArray, leaning: BoolArray) -> FloatArray | None:
    """(3,) rad/s of the mean rates (k, 3) of the stretches that do not lean; None where all do.

    Who turns slowly about the vertical passes for rest even so; a median over stretches outvotes the odd one.
    """
    rates, lengths = rates[~leaning], lengths[~leaning]
    if not len(rates):
        return None
    return np.asarray(np.median(rates, axis=0) if len(rates) > 2 else np.average(rates, axis=0, weights=lengths))


def gain(gravity: FloatArray) -> float:
    """Factor that brings the accelerometer's magnitude at rest to standard gravity.

    Args:
        gravity: (k, 3) m/s^2 mean specific force of stretches at rest, k >= 1.

    Returns:
        Factor by which to multiply, 1 for a true sensor.
    """
    return float(STANDARD_GRAVITY / np.median(np.linalg.norm(gravity, axis=1)))
