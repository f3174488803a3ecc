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

    acceleration: (3, n) m/s^2. turning: (3, n) rad/s. change: (3, n) rad/s^2, its derivative. good: (n,).
    """

    acceleration: FloatArray
    turning: FloatArray
    change: FloatArray
    good: BoolArray

    def part(self, rows: slice | IntArray) -> Track:
        """These samples alone."""
        return Track(self.acceleration[:, rows], self.turning[:, rows], self.change[:, rows], self.good[rows])

    def ankle(self, lever: FloatArray) -> FloatArray:
        """(3, n) m/s^2 specific force of the ankle, the sensor's axes, for a lever (3,) in m."""
        (a, b, c), (x, y, z), (q, r, s), (u, v, w) = self.acceleration, self.turning, self.change, lever
        along, square = x * u + y * v + z * w, self._square()
        return np.array(
            [
                a + (r * w - s * v) + (x * along - square * u),
                b + (s * u - q * w) + (y * along - square * v),
                c + (q * v - r * u) + (z * along - square * w),
            ]
        )

    def leverage(self, force: FloatArray) -> FloatArray:
        """(3, n) by which m of lever change the ankle's specific force along ``force`` (3, n), times its size."""
        (a, b, c), (x, y, z), (q, r, s) = force, self.turning, self.change
        along, square = x * a + y * b + z * c, self._square()
        return np.array(
            [
                (s * b - r * c) + (x * along - square * a),
                (q * c - s * a) + (y * along - square * b),
                (r * a - q * b) + (z * along - square * c),
            ]
        )

    def _square(self) -> FloatArray:
        x, y, z = self.turning
        return np.asarray(x * x + y * y + z * z)


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

    a, w = (
        gaussian_filter1d(np.array(signal.T, order="C"), smooth_s * rate_hz, axis=1, mode="nearest")
        for signal in (acceleration, angular_velocity)
    )
    width = 2 * int(np.ceil(1.5 * smooth_s * rate_hz)) + 1
    q = np.gradient(w, axis=1) * rate_hz
    return Track(a, w, q, np.asarray(binary_erosion(good, np.ones(width, dtype=bool), border_value=1)))


def fit_ankle(foot: Track, shank: Track, start: Fit, *, drifting: bool, iterations: int = 20) -> Fit:
    """Levers, gain ratio, lag and, if ``drifting``, drift, by Gauss-Newton steps with Huber's weights."""
    return _fit(foot, shank, start, free=np.array([1] * 6 + [1, drifting, 1], dtype=bool), iterations=iterations)


def fit_lag(foot: Track, shank: Track, start: Fit, *, iterations: int = 12) -> Fit:
    """The lag alone, levers and gain ratio as in ``start``."""
    return _fit(
        foot, shank, replace(start, drift=0.0), free=np.array([0] * 6 + [1, 0, 0], dtype=bool), iterations=iterations
    )


def _fit(foot: Track, shank: Track, start: Fit, *, free: BoolArray, iterations: int) -> Fit:
    k = np.arange(len(foot.good), dtype=float)
    off_middle = k - k.mean() if len(k) else k
    levers = np.concatenate([start.foot_lever, start.shank_lever])
    gain, lag, drift, residual = start.gain, start.lag, start.drift, np.inf
    normal = np.zeros((int(free.sum()),) * 2)
    likeness = 0.0
    # With levers that stay nothing but the lag between two known curves changes.
    moving = bool(free[:6].any())
    reach = int(iterations * _MAX_STEP) + 8
    known = None if moving else (_sight(foot, levers[:3])[0], _Piece.around(shank, lag, len(k), reach, levers[3:]))
    for _ in range(iterations):
        at = k + lag + drift * off_middle
        here = np.flatnonzero((at >= 1) & (at < len(shank.good) - 2) & foot.good)
        here = here[shank.good[np.minimum(at[here].astype(np.int64), len(shank.good) - 1)]]
        if len(here) < 30:
            return replace(start, lag_se=np.inf, likeness=0.0, residual=np.inf)
        rows = slice(int(here[0]), int(here[-1]) + 1) if here[-1] - here[0] == len(here) - 1 else here
        if known is None:
            from_foot, slope_foot = _sight(foot.part(rows), levers[:3])
            # Only the stretch of the shank's log that is asked for.
            piece = _Piece.of(shank, int(at[here[0]]) - 3, int(at[here[-1]]) + 5, levers[3:])
        else:
            from_foot, slope_foot, piece = known[0][rows], np.empty((0, len(here))), known[1]
        from_shank = _between(piece.curves if moving else piece.curves[:2], at[rows] - piece.first)
        error = from_foot - gain * from_shank[0]
        by_lag = -gain * from_shank[1]
        slopes = [*slope_foot, *(-gain * from_shank[2:])] if moving else []
        steps = np.array([*slopes, *np.array([by_lag, by_lag * off_middle[rows], -from_shank[0]])[free[6:]]])
        residual = 1.4826 * float(np.median(np.abs(error))) + _RESIDUAL_FLOOR
        weight = 1.0 / np.maximum(1.0, np.abs(error) / (OUTLIER * residual))
        prior = np.array([LEVER_SPREAD**-2] * 6 + [0.0, DRIFT_SPREAD**-2, GAIN_SPREAD**-2])[free] * residual**2
        weighted = steps * weight
        normal = weighted @ steps.T + np.diag(prior)
        gradient = weighted @ error + prior * np.concatenate([levers, [0.0, drift, gain - 1.0]])[free]
        step = np.zeros(9)
        step[free] = -np.linalg.solve(normal + 1e-12 * np.eye(len(prior)), gradient)
        levers = np.clip(levers + step[:6], -1.0, 1.0)
        lag += float(np.clip(step[6], -_MAX_STEP, _MAX_STEP))
        drift += float(step[7])
        gain = float(np.clip(gain + step[8], 0.5, 2.0))
        likeness = _correlation(from_foot, from_shank[0])
        if abs(step[6]) < 1e-4 and np.abs(step[:6]).max() < 1e-4:
            break
    inverse = np.linalg.pinv(normal)
    place = int(free[:6].sum())
    lag_se = residual * float(np.sqrt(max(inverse[place, place], 0.0)))
    return Fit(levers[:3], levers[3:], gain, lag, drift, lag_se, likeness, residual)


@dataclass(frozen=True)
class _Piece:
    """A stretch of the shank's log from ``first`` on; curves: (5, n) |p|, its change per sample and by the lever."""

    first: int
    curves: FloatArray

    @classmethod
    def of(cls, shank: Track, first: int, last: int, lever: FloatArray) -> _Piece:
        first = min(max(first, 0), max(len(shank.good) - 2, 0))
        size, slope = _sight(shank.part(slice(first, max(last, first + 2))), lever)
        return cls(first, np.concatenate([[size, np.gradient(size)], slope]))

    @classmethod
    def around(cls, shank: Track, lag: float, count: int, reach: int, lever: FloatArray) -> _Piece:
        return cls.of(shank, int(lag) - reach, int(lag) + count + reach, lever)


def _sight(sensor: Track, lever: FloatArray) -> tuple[FloatArray, FloatArray]:
    """|p| (n,) and its derivative by the lever (3, n)."""
    x, y, z = force = sensor.ankle(lever)
    size = np.maximum(np.sqrt(x * x + y * y + z * z), 1e-6)
    return size, sensor.leverage(force) / size


def _between(curves: FloatArray, at: FloatArray) -> FloatArray:
    """Curves (c, n) at fractional samples, by the cubic through four neighbours' slopes (Catmull and Rom 1974)."""
    before = np.clip(np.floor(at).astype(np.int64), 1, curves.shape[1] - 3)
    u = at - before
    a, b, c, d = (np.take(curves, before + k, axis=1) for k in (-1, 0, 1, 2))
    return np.asarray(b + 0.5 * u * (c - a + u * (2 * a - 5 * b + 4 * c - d + u * (3 * (b - c) + d - a))))


def _correlation(x: FloatArray, y: FloatArray) -> float:
    x, y = x - x.mean(), y - y.mean()
    return float(x @ y / max(float(np.sqrt((x @ x) * (y @ y))), 1e-12))
