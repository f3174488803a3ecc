"""From a log's own samples to a uniform clock: short gaps filled, long gaps bridged by straight lines and marked.

Between samples a cubic spline is used. Measured on signals of a simulated foot with a known truth and on real ones from
which samples were taken away (100 Hz, 3 % lost), its error was half to two thirds of straight lines' in angular
velocity and a third to the same in acceleration; Akima's and monotone splines lay between.
"""

from __future__ import annotations

import numpy as np

from firstrocker.model import BoolArray, FloatArray, IntArray, Log, Signal

_MIN_SPLINE = 4
GAP_STEPS = 1.5
"""Samples farther apart than this many usual steps have lost one between them."""
END_SLACK = 1e-3
"""Steps by which a clock may run past a log's last sample: seconds since 1970 carry rounding errors of that order."""

PIECE, REACH = 16384, 64
"""Samples splined at once, and those beyond on either side: what a sample adds falls to a quarter with each of them."""


def sampling_rate(time: FloatArray) -> float:
    """Samples per second where none were lost: the mean of the steps that are no gaps, Hz.

    A rate within 0.1 % of a whole number is that number: loggers are set to whole numbers, and clocks are off by less.

    >>> sampling_rate(np.array([0.0, 0.01, 0.02, 0.05, 0.06]))
    100.0
    """
    steps = np.diff(time)
    rate = 1.0 / float(np.mean(steps[steps < GAP_STEPS * np.median(steps)]))
    return float(round(rate)) if abs(rate / max(round(rate), 1) - 1.0) < 1e-3 else rate


def uniform_times(start_s: float, end_s: float, *, rate_hz: float) -> FloatArray:
    """(n,) times from ``start_s``, 1 / rate_hz apart, the last not after ``end_s`` (but for rounding)."""
    n = int(np.floor((end_s - start_s) * rate_hz + END_SLACK)) + 1
    return np.asarray(start_s + np.arange(max(n, 1)) / rate_hz)


def resample(log: Log, times: FloatArray, *, max_bridge_s: float, saturated: BoolArray | None = None) -> Signal:
    """The log's signals at ``times``.

    Args:
        log: its clock must be that of ``times``.
        times: (m,) s, rising, evenly spaced.
        max_bridge_s: gaps up to this long are interpolated and count as measured; over longer ones the signals are
            straight lines and ``valid`` is False. Before the first sample and after the last the signals stand still
            at it, and ``valid`` is False: nothing is made up.
        saturated: (n,) which of the log's samples stood at a sensor's limit.

    Returns:
        Signal of m samples, sensor axes.
    """
    values = np.concatenate([log.acceleration.T, log.angular_velocity.T]).T
    time = log.time
    if len(times) > 1:
        time, values, saturated = _thinned(time, values, saturated, step_s=float(times[1] - times[0]))
    # A rounding error must not make the end of a grid fall off the end of the log.
    step = float(np.median(np.diff(time)))
    slack = 1e-4 * step
    inside = (times >= time[0] - END_SLACK * step) & (times <= time[-1] + END_SLACK * step)
    at = np.clip(times, time[0], time[-1])
    after = np.clip(np.searchsorted(time, at, side="left"), 1, len(time) - 1)
    close = np.diff(time) <= max_bridge_s
    on_sample = (at - time[after - 1] <= slack) | (time[after] - at <= slack)
    nearest = after - (at - time[after - 1] <= slack)
    result = np.take(values.T, nearest, axis=1).T
    straight = ~on_sample
    for first, last in _stretches(close) if not on_sample.all() else ():
        here = slice(*np.searchsorted(at, (time[first], time[last]), side="left"))
        if last - first + 1 >= _MIN_SPLINE and here.stop > here.start:
            result[here] = _spline(time[first : last + 1], values[first : last + 1], at[here])
            straight[here] = False
    if straight.any():
        result[straight] = np.column_stack([np.interp(at[straight], time, column) for column in values.T])
    at_limit = np.zeros(len(times), dtype=bool)
    if saturated is not None:
        at_limit = (saturated[after] | saturated[after - 1]) & inside
    return Signal(
        segment=log.segment,
        side=log.side,
        acceleration=result[:, :3],
        angular_velocity=result[:, 3:],
        valid=inside & (close[after - 1] | on_sample),
        saturated=at_limit,
        mounting=log.mounting,
        source=log.source,
        bridged=inside & ~on_sample & (np.diff(time) > GAP_STEPS * step)[after - 1],
    )


def _spline(time: FloatArray, values: FloatArray, at: FloatArray) -> FloatArray:
    """Piece by piece, for a spline's coefficients take four times the room of its samples."""
    from scipy.interpolate import CubicSpline

    result = np.empty((len(at), values.shape[1]))
    for first in range(0, len(time), PIECE):
        last = first + PIECE
        known = slice(max(first - REACH, 0), last + REACH)
        here = slice(
            int(np.searchsorted(at, time[first])) if first else 0,
            int(np.searchsorted(at, time[last])) if last < len(time) else len(at),
        )
        start = time[known.start]
        result[here] = CubicSpline(time[known] - start, values[known])(at[here] - start)
    return result


def _stretches(close: BoolArray) -> IntArray:
    """(k, 2) first and last sample of each run of samples with no long gap between them."""
    breaks = np.flatnonzero(~close)
    return np.column_stack([np.r_[0, breaks + 1], np.r_[breaks, len(close)]])


def _thinned(
    time: FloatArray, values: FloatArray, saturated: BoolArray | None, *, step_s: float
) -> tuple[FloatArray, FloatArray, BoolArray | None]:
    """A running mean where the log is much denser than the wanted clock, so that nothing folds back into the band."""
    width = int(step_s / np.median(np.diff(time)) + 0.5)
    if width < 2:
        return time, values, saturated
    width += 1 - width % 2
    from scipy.ndimage import maximum_filter1d, uniform_filter1d

    smooth = uniform_filter1d(values, width, axis=0, mode="nearest")
    wide = None if saturated is None else np.asarray(maximum_filter1d(saturated.view(np.uint8), width), dtype=bool)
    return time, smooth, wide
