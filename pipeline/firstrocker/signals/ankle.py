"""The ankle as a point that foot and shank share: it tells where both sensors sit and how their clocks lie.

A sensor at ``-r`` from the ankle that reads specific force ``a``, angular velocity ``w`` and its derivative ``q`` knows
the ankle's specific force, ``p = a + q x r + w x (w x r)``, in its own axes. Foot and shank must agree on ``|p|`` at
every instant, whatever the sensors' mounting (after Seel, Schauer and Raisch 2012, who fit both levers so on one clock;
here the clocks' lag, its drift and the ratio of the accelerometers' gains are fitted along with them).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from firstrocker.model import BoolArray, FloatArray, IntArray

LEVER_SPREAD = 0.25
"""m: how long levers are expected to be; keeps the fit at rest where movement in one plane leaves a direction open."""
GAIN_SPREAD = 0.05
DRIFT_SPREAD = 100e-6
"""Two crystals differ by some ten parts in a million, cheap or hot ones by a hundred; common practice, no source."""
OUTLIER = 2.0
"""Residuals beyond this many robust standard deviations count less (Huber 1964)."""
_RESIDUAL_FLOOR = 0.02
_MAX_STEP = 3.0


@dataclass(frozen=True)
class Track:
    """One sensor on a uniform clock of its own, smoothed, made ready for the fit.

    acceleration: (n, 3) m/s^2. lever: (n, 3, 3), takes a lever in m to the ankle's extra acceleration. good: (n,).
    """

    acceleration: FloatArray
    lever: FloatArray
    good: BoolArray

    def part(self, first: int, last: int) -> Track:
        """Samples ``first`` to before ``last``."""
        return Track(self.acceleration[first:last], self.lever[first:last], self.good[first:last])


@dataclass(frozen=True)
class Fit:
    """Levers (m, sensor axes), gain ratio, lag and drift in samples; how well they fit.

    lag: what foot sample ``k`` shows, shank sample ``k + lag + drift * (k - middle)`` shows. lag_se: from the residuals
    alone, as if they were independent. likeness: correlation of the two magnitudes. residual: robust spread, m/s^2.
    """

    foot_lever: FloatArray
    shank_lever: FloatArray
    gain: float
    lag: float
    drift: float = 0.0
    lag_se: float = np.inf
    likeness: float = 0.0
    residual: float = np.inf


def start_fit(lag: float) -> Fit:
    """Where an iteration begins: levers of no length."""
    return Fit(np.zeros(3), np.zeros(3), 1.0, lag)


def track(
    acceleration: FloatArray, angular_velocity: FloatArray, good: BoolArray, *, rate_hz: float, smooth_s: float
) -> Track:
    """A sensor's signals made ready.

    Args:
        acceleration: (n, 3) m/s^2 on a uniform clock.
        angular_velocity: (n, 3) rad/s.
        good: (n,) which samples were measured and below the sensors' limits.
        rate_hz: of the clock.
        smooth_s: standard deviation of a Gaussian over both signals. The shock of heel strike runs up the leg and soft
            tissue swings after it; on recordings of two legs on one clock the lag found was below 0.2 ms with 20 ms
            and up to 10 ms with 5 ms.
    """
    from scipy.ndimage import binary_erosion, gaussian_filter1d

    a, w = (gaussian_filter1d(s, smooth_s * rate_hz, axis=0, mode="nearest") for s in (acceleration, angular_velocity))
    q = np.gradient(w, axis=0) * rate_hz
    x, y, z = w.T
    matrix = np.empty((len(w), 3, 3))
    matrix[:, 0, 0], matrix[:, 1, 1], matrix[:, 2, 2] = -(y * y + z * z), -(x * x + z * z), -(x * x + y * y)
    matrix[:, 0, 1], matrix[:, 1, 0] = x * y - q[:, 2], x * y + q[:, 2]
    matrix[:, 0, 2], matrix[:, 2, 0] = x * z + q[:, 1], x * z - q[:, 1]
    matrix[:, 1, 2], matrix[:, 2, 1] = y * z - q[:, 0], y * z + q[:, 0]
    width = 2 * int(np.ceil(1.5 * smooth_s * rate_hz)) + 1
    return Track(a, matrix, np.asarray(binary_erosion(good, np.ones(width, dtype=bool), border_value=1)))


def fit_ankle(foot: Track, shank: Track, start: Fit, *, drifting: bool, iterations: int = 20) -> Fit:
    """Levers, gain ratio, lag and, if ``drifting``, drift, by Gauss-Newton steps with Huber's weights."""
    return _fit(foot, shank, start, free=np.array([1] * 6 + [1, drifting, 1], dtype=bool), iterations=iterations)


def fit_lag(foot: Track, shank: Track, start: Fit, *, iterations: int = 12) -> Fit:
    """The lag alone, levers and gain ratio as in ``start``."""
    return _fit(
        foot, shank, replace(start, drift=0.0), free=np.array([0] * 6 + [1, 0, 0], dtype=bool), iterations=iterations
    )


def _fit(foot: Track, shank: Track, start: Fit, *, free: BoolArray, iterations: int) -> Fit:
    k = np.arange(len(foot.acceleration), dtype=float)
    off_middle = k - k.mean() if len(k) else k
    levers = np.concatenate([start.foot_lever, start.shank_lever])
    gain, lag, drift, residual = start.gain, start.lag, start.drift, np.inf
    normal = np.zeros((9, 9))
    likeness = 0.0
    for _ in range(iterations):
        at = k + lag + drift * off_middle
        here = np.flatnonzero((at >= 1) & (at < len(shank.good) - 2) & foot.good)
        here = here[shank.good[np.minimum(at[here].astype(np.int64), len(shank.good) - 1)]]
        if len(here) < 30:
            return replace(start, lag_se=np.inf, likeness=0.0, residual=np.inf)
        from_foot, slope_foot = _magnitude(foot, levers[:3], here)
        # Only the stretch of the shank's log that is asked for.
        first, last = max(int(at[here[0]]) - 3, 0), min(int(at[here[-1]]) + 5, len(shank.good))
        whole, slopes = _magnitude(shank.part(first, last), levers[3:], None)
        columns = np.column_stack([whole, slopes, np.gradient(whole)])
        from_shank = _between(columns, at[here] - first)
        error = from_foot - gain * from_shank[:, 0]
        steps = np.column_stack(
            [
                slope_foot,
                -gain * from_shank[:, 1:4],
                -gain * from_shank[:, 4],
                -gain * from_shank[:, 4] * off_middle[here],
                -from_shank[:, 0],
            ]
        )
        residual = 1.4826 * float(np.median(np.abs(error))) + _RESIDUAL_FLOOR
        weight = 1.0 / np.maximum(1.0, np.abs(error) / (OUTLIER * residual))
        prior = np.array([LEVER_SPREAD**-2] * 6 + [0.0, DRIFT_SPREAD**-2, GAIN_SPREAD**-2]) * residual**2
        weighted = steps * weight[:, None]
        normal = weighted.T @ steps + np.diag(prior)
        gradient = weighted.T @ error + prior * np.concatenate([levers, [0.0, drift, gain - 1.0]])
        step = np.zeros(9)
        step[free] = -np.linalg.solve(normal[np.ix_(free, free)] + 1e-12 * np.eye(int(free.sum())), gradient[free])
        levers = np.clip(levers + step[:6], -1.0, 1.0)
        lag += float(np.clip(step[6], -_MAX_STEP, _MAX_STEP))
        drift += float(step[7])
        gain = float(np.clip(gain + step[8], 0.5, 2.0))
        likeness = _correlation(from_foot, from_shank[:, 0])
        if abs(step[6]) < 1e-4 and np.abs(step[:6]).max() < 1e-4:
            break
    inverse = np.linalg.pinv(normal[np.ix_(free, free)])
    place = int(free[:6].sum())
    lag_se = residual * float(np.sqrt(max(inverse[place, place], 0.0)))
    return Fit(levers[:3], levers[3:], gain, lag, drift, lag_se, likeness, residual)


def _magnitude(sensor: Track, lever: FloatArray, rows: IntArray | None) -> tuple[FloatArray, FloatArray]:
    """|p| (n,) and its derivative by the lever (n, 3)."""
    acceleration = sensor.acceleration if rows is None else sensor.acceleration[rows]
    matrix = sensor.lever if rows is None else sensor.lever[rows]
    point = acceleration + matrix @ lever
    size = np.maximum(np.linalg.norm(point, axis=1), 1e-6)
    return size, np.einsum("nij,ni->nj", matrix, point) / size[:, None]


def _between(columns: FloatArray, at: FloatArray) -> FloatArray:
    """Columns (n, c) at fractional samples, by the cubic through four neighbours' slopes (Catmull and Rom 1974)."""
    before = np.clip(np.floor(at).astype(np.int64), 1, len(columns) - 3)
    u = (at - before)[:, None]
    a, b, c, d = (columns[before + k] for k in (-1, 0, 1, 2))
    return np.asarray(b + 0.5 * u * (c - a + u * (2 * a - 5 * b + 4 * c - d + u * (3 * (b - c) + d - a))))


def _correlation(x: FloatArray, y: FloatArray) -> float:
    x, y = x - x.mean(), y - y.mean()
    return float(x @ y / max(float(np.sqrt((x @ x) * (y @ y))), 1e-12))
