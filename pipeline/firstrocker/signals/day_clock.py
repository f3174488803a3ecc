"""How a log's clock lies on another's through a whole day: crystals drift by seconds, loggers begin anew.

First roughly, by when both sensors moved at all, window by window; then, where foot and shank share an ankle, closely
in the stretches that tell, and between those by a line through the nearest. What a stretch cannot tell, it inherits.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from firstrocker.model import FloatArray, IntArray
from firstrocker.signals.digest import TENTHS, Digest

WINDOW_S = 600.0
SMOOTH_S = 2.0
"""Standard deviation of the smoothing of both courses: the two feet swing by turns."""
LEAST_LIKENESS = 0.5
LEAST_LIKENESS_ANYWHERE = 0.7
LEAST_COURSE = 0.25
"""Spread of a window's course (logarithm of turning) from which it tells anything."""
FOLLOWED_S = 3.0
"""How far a lag is searched from where the last window leaves it, besides what crystals may have drifted."""
MOST_DRIFT = 500e-6
DRIFT_SPREAD = 100e-6
"""Two crystals differ by some ten parts in a million, cheap or hot ones by a hundred; common practice, no source."""
WANDER_SPREAD = 20e-6
"""By which their difference wanders in a day, with temperature; from memory, no source."""
NEAR_S = 2700.0
"""Standard deviation of the weights with which neighbours in time tell of a lag."""


@dataclass(frozen=True)
class ClockCourse:
    """Lags of one clock after another through a log; see :func:`lag_at`.

    time: (k,) s on the first clock at which the lag was found. lag: (k,) s: what happens at ``t`` on the first clock
    bears ``t + lag`` on the other. se: (k,) s. breaks: times on the first clock at which either began anew.
    """

    time: FloatArray
    lag: FloatArray
    se: FloatArray
    breaks: tuple[float, ...] = ()

    @property
    def known(self) -> bool:
        """Whether anything was found."""
        return len(self.time) > 0

    def drift_ppm(self) -> float:
        """The mean drift in parts per million, over the part between breaks that tells most."""
        if not self.known:
            return 0.0
        parts = np.searchsorted(self.breaks, self.time)
        most = parts == np.bincount(parts).argmax()
        return 1e6 * _line(self.time[most], self.lag[most], self.se[most], 0.0, DRIFT_SPREAD, float("inf"))[1]


def lag_at(course: ClockCourse, time: float) -> tuple[float, float]:
    """The lag at a time on the first clock and its standard error, s; NaN where nothing tells.

    A robust straight line through the lags found near by and on the same side of every break, its slope held to the
    slope of the whole part.
    """
    if not course.known:
        return float("nan"), float("inf")
    part = np.searchsorted(course.breaks, course.time) == np.searchsorted(course.breaks, time)
    if not part.any():
        return float("nan"), float("inf")
    times, lags, se = course.time[part], course.lag[part], course.se[part]
    _, slope, _ = _line(times - time, lags, se, 0.0, DRIFT_SPREAD, float("inf"))
    level, _, level_se = _line(times - time, lags, se, slope, WANDER_SPREAD, NEAR_S)
    return level, level_se


def _line(
    times: FloatArray, lags: FloatArray, se: FloatArray, prior: float, spread: float, near_s: float
) -> tuple[float, float, float]:
    """Level at time 0 and slope of a robust line, and the level's standard error."""
    weight = 1.0 / se**2
    if np.isfinite(near_s):
        weight = weight * (1e-4 + np.exp(-0.5 * (times / near_s) ** 2))
    near = np.abs(times) < 2.0 * near_s
    near = near if near.sum() >= 3 else np.ones(len(times), dtype=np.bool_)
    robust, scatter = np.ones(len(times)), 1.0
    level, slope = float(np.median(lags - prior * times)), prior
    normal = np.eye(2)
    for _ in range(10):
        design = np.column_stack([np.ones(len(times)), times])
        w = weight * robust
        normal = design.T @ (design * w[:, None]) + np.diag([0.0, spread**-2])
        level, slope = np.linalg.solve(normal, design.T @ (w * lags) + np.array([0.0, prior / spread**2]))
        off = np.abs(lags - level - slope * times) / se
        # Far from here a clock that wanders lies elsewhere, and that is no scatter.
        scatter = max(1.0, 1.4826 * float(np.median(off[near])))
        robust = 1.0 / np.maximum(1.0, off / (2.0 * scatter))
    covariance = np.linalg.inv(normal)
    return float(level), float(slope), float(scatter * np.sqrt(covariance[0, 0]))


def rough_course(first: Digest, other: Digest) -> ClockCourse:
    """When both sensors moved, window by window, each log's time counted from its own first sample.

    Args:
        first: the log whose clock is the reference.
        other: a log of the same person's.

    Returns:
        good to some tenths of a second; unknown where the two never moved alike.
    """
    one, two = _course(first), _course(other)
    width = int(min(WINDOW_S * TENTHS, len(one)))
    starts = np.unique(np.append(np.arange(0, len(one) - width + 1, max(width // 2, 1)), len(one) - width))
    spreads = np.array([float(np.std(one[start : start + width])) for start in starts])
    found: dict[int, float] = {}
    for seed in np.argsort(-spreads)[:5]:
        lag = _anywhere(one[starts[seed] : starts[seed] + width], two, int(starts[seed]))
        if lag is not None:
            again = tuple(np.array([time - log.start for time in log.restarts]) for log in (first, other))
            found = _followed(one, two, starts, width, spreads, int(seed), lag, again)
            break
    windows = sorted(found)
    begins = np.array([starts[w] / TENTHS for w in windows])
    lags = np.array([found[w] / TENTHS for w in windows])
    width_s = width / TENTHS
    there = [_before(begins, lags, width_s, time - other.start) for time in other.restarts]
    breaks = sorted([time - first.start for time in first.restarts] + [time for time in there if time is not None])
    whole = np.array([not any(begin < time < begin + width_s for time in breaks) for begin in begins], dtype=np.bool_)
    if not whole.any():
        whole[:] = not breaks
    return ClockCourse((begins + 0.5 * width_s)[whole], lags[whole], np.full(int(whole.sum()), 0.1), tuple(breaks))


def together(first: Digest, other: Digest) -> float:
    """The lag in s if nothing but the logs' own times tells: one clock where they overlap, else both began together."""
    both = min(first.end, other.end) - max(first.start, other.start)
    shared = both >= 0.5 * min(first.end - first.start, other.end - other.start)
    return first.start - other.start if shared else 0.0


def _before(begins: FloatArray, lags: FloatArray, width_s: float, time: float) -> float | None:
    """Where on the first clock the other stood at ``time`` when it began anew: by the lags found before, else after."""
    if not len(lags):
        return None
    earlier = begins + width_s + lags < time
    return float(time - (lags[earlier][-1] if earlier.any() else lags[0]))


def _course(log: Digest) -> FloatArray:
    """(t,) logarithm of turning, smoothed, less its mean."""
    from scipy.ndimage import gaussian_filter1d

    # Below the noise of any gyroscope, bias included, nothing tells.
    turning = np.log(np.maximum(log.turning.astype(np.float64), 0.1))
    smooth = gaussian_filter1d(turning, SMOOTH_S * TENTHS, mode="nearest")
    return np.asarray(smooth - smooth.mean())


def _followed(
    one: FloatArray,
    two: FloatArray,
    starts: IntArray,
    width: int,
    spreads: FloatArray,
    seed: int,
    lag: float,
    again: tuple[FloatArray, ...],
) -> dict[int, float]:
    """Lags in tenths of the windows that tell, followed both ways from one of them.

    again: s since each log's first sample at which it began anew: beyond, a lag says nothing of the next.
    """
    found = {seed: lag}
    for run in (range(seed + 1, len(starts)), range(seed - 1, -1, -1)):
        here, last = lag, seed
        for w in run:
            if spreads[w] < LEAST_COURSE:
                continue
            start = int(starts[w])
            reach = FOLLOWED_S * TENTHS + MOST_DRIFT * width * abs(w - last)
            begin, end = min(starts[last], start), max(starts[last], start) + width
            parted = any(
                ((TENTHS * times > begin + off) & (TENTHS * times < end + off)).any()
                for times, off in zip(again, (0.0, here), strict=True)
            )
            near = None if parted else _near(one[start : start + width], two, start, here, reach)
            if near is None:
                near = _anywhere(one[start : start + width], two, start)
            if near is not None:
                found[w], here, last = near, near, w
    return found


def _near(part: FloatArray, two: FloatArray, start: int, lag: float, reach: float) -> float | None:
    """The likeliest lag within ``reach`` of ``lag``, to a fraction of a tenth; None where none is likely."""
    lags = np.arange(int(np.floor(lag - reach)), int(np.ceil(lag + reach)) + 1)
    likeness = np.array([_likeness(part, two, start + int(k)) for k in lags])
    return _peak(lags.astype(np.float64), likeness, LEAST_LIKENESS)


def _anywhere(part: FloatArray, two: FloatArray, start: int) -> float | None:
    """The likeliest lag at all; None where none stands out."""
    from scipy.signal import correlate

    # Ten times coarser first: a day is searched in no time.
    x, y = _coarse(part), _coarse(two)
    x = x - x.mean()
    least = max(len(x) // 2, 1)
    padded = np.concatenate([np.zeros(least), y, np.zeros(least)])
    if len(padded) < len(x):
        return None
    dot = correlate(padded, x, mode="valid")
    sums = np.concatenate([[0.0], np.cumsum(padded)])
    squares = np.concatenate([[0.0], np.cumsum(padded**2)])
    size = (squares[len(x) :] - squares[: -len(x)]) - (sums[len(x) :] - sums[: -len(x)]) ** 2 / len(x)
    likeness = dot / np.sqrt(np.maximum(size, 1e-3 * len(x)) * max(float(x @ x), 1e-9))
    best = int(np.argmax(likeness))
    if likeness[best] < LEAST_LIKENESS_ANYWHERE:
        return None
    lag = (best - least) * TENTHS - start
    return _near(part, two, start, float(lag), 2.0 * TENTHS)


def _coarse(course: FloatArray) -> FloatArray:
    whole = len(course) // TENTHS * TENTHS
    return np.asarray(course[:whole].reshape(-1, TENTHS).mean(axis=1))


def _likeness(part: FloatArray, two: FloatArray, start: int) -> float:
    """Correlation of a window with the other course from ``start`` on, where both are."""
    low, high = max(start, 0), min(start + len(part), len(two))
    if high - low < 0.5 * len(part):
        return 0.0
    x, y = part[low - start : high - start], two[low:high]
    x, y = x - x.mean(), y - y.mean()
    return float(x @ y / max(float(np.sqrt((x @ x) * (y @ y))), 1e-9))


def _peak(lags: FloatArray, likeness: FloatArray, least: float) -> float | None:
    best = int(np.argmax(likeness))
    if likeness[best] < least:
        return None
    if not 0 < best < len(lags) - 1:
        return float(lags[best])
    a, b, c = likeness[best - 1 : best + 2]
    return float(lags[best] + 0.5 * (a - c) / min(a - 2 * b + c, -1e-12))


def close_course(rough: ClockCourse, times: Sequence[float], lags: Sequence[float], se: Sequence[float]) -> ClockCourse:
    """The course told by lags that were found closely, with the breaks of the rough one."""
    return ClockCourse(np.array(times), np.array(lags), np.array(se), rough.breaks)
