"""The ankle as a point that foot and shank share: it tells where both sensors sit and how their clocks lie.

A sensor at ``-r`` from the ankle that reads specific force ``a``, angular velocity ``w`` and its derivative ``q`` knows
the ankle's specific force, ``p = a + q x r + w x (w x r)``, in its own axes. Foot and shank must agree on ``|p|`` at
every instant, whatever the sensors' mounting (after Seel, Schauer and Raisch 2012, who fit both levers so on one clock;
here the clocks' lag, its drift and the ratio of the accelerometers' gains are fitted along with them).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from firstrocker.model import BoolArray, FloatArray, IntArray, Signal

LEVER_SPREAD = 0.25
"""m: how long levers are expected to be; keeps the fit at rest where movement in one plane leaves a direction open."""
GAIN_SPREAD = 0.05
DRIFT_SPREAD = 100e-6
"""Two crystals differ by some ten parts in a million, cheap or hot ones by a hundred; common practice, no source."""
OUTLIER = 2.0
"""Residuals beyond this many robust standard deviations count less (Huber 1964)."""
_RESIDUAL_FLOOR = 0.02
_MAX_STEP = 3.0
_SETTLED = 1e-4
_LEAST = 30


@dataclass(frozen=True)
class Track:
    """One sensor on a uniform clock of its own, smoothed, made ready for the fit.

    acceleration: (3, n) m/s^2. arms: (3, 3, n) 1/s^2, by axis what a metre of lever along it adds to that: q x r and
    w x (w x r). good: (n,) which samples were measured, and those that smoothing took in.
    """

    acceleration: FloatArray
    arms: FloatArray
    good: BoolArray

    def part(self, rows: slice) -> Track:
        """These samples alone."""
        return Track(self.acceleration[:, rows], self.arms[:, :, rows], self.good[rows])

    def thinned(self, stride: int) -> Track:
        """Every so manieth sample, from the first on."""
        a, arms = (np.ascontiguousarray(values[..., ::stride]) for values in (self.acceleration, self.arms))
        return Track(a, arms, self.good[::stride])

    def ankle(self, lever: FloatArray) -> FloatArray:
        """(3, n) m/s^2 specific force of the ankle, the sensor's axes, for a lever (3,) in m."""
        return np.asarray(self.acceleration + np.tensordot(lever, self.arms, axes=1))

    def sight(self, lever: FloatArray) -> tuple[FloatArray, FloatArray]:
        """The ankle's |p| (n,) for a lever, and its derivative by the lever (3, n)."""
        force = self.ankle(lever)
        size = _size(force)
        return size, np.einsum("jin,in->jn", self.arms, force) / size


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


def track(signal: Signal, first: int, last: int, *, rate_hz: float, smooth_s: float) -> Track:
    """A part of a sensor's signals made ready.

    Args:
        signal: on a uniform clock.
        first: sample.
        last: before which the part ends; both may lie beyond the signal.
        rate_hz: of the clock.
        smooth_s: standard deviation of a Gaussian over both signals. The shock of heel strike runs up the leg and soft
            tissue swings after it; on recordings of two legs on one clock the lag found was below 0.2 ms with 20 ms
            and up to 10 ms with 5 ms.
    """
    from scipy.ndimage import binary_erosion, gaussian_filter1d

    # With those about it that smoothing, four standard deviations wide, and the derivative take in.
    about = int(np.ceil(5.0 * smooth_s * rate_hz))
    count = len(signal.valid)
    first = min(max(first, 0), count)
    last = min(max(last, first), count)
    begin = max(min(first - about, count - 2), 0)
    part, inner = slice(begin, last + about), slice(first - begin, last - begin)
    a, w = (
        gaussian_filter1d(np.array(values[part].T, order="C"), smooth_s * rate_hz, axis=1, mode="nearest")
        for values in (signal.acceleration, signal.angular_velocity)
    )
    (x, y, z), (q, r, s) = w[:, inner], (np.gradient(w, axis=1) * rate_hz)[:, inner]
    xx, yy, zz, xy, xz, yz = x * x, y * y, z * z, x * y, x * z, y * z
    arms = np.array([[-yy - zz, xy + s, xz - r], [xy - s, -xx - zz, yz + q], [xz + r, yz - q, -xx - yy]])
    width = 2 * int(np.ceil(1.5 * smooth_s * rate_hz)) + 1
    good = signal.valid[part] & ~signal.saturated[part]
    good = binary_erosion(good, np.ones(width, dtype=bool), border_value=1)
    return Track(np.ascontiguousarray(a[:, inner]), arms, np.asarray(good[inner]))


def fit_ankle(foot: Track, shank: Track, start: Fit, *, drifting: bool, iterations: int = 20) -> Fit:
    """Levers, gain ratio, lag and, if ``drifting``, drift, by Gauss-Newton steps with Huber's weights.

    What is asked of the shank's log should lie within its track, and not much more, for all of it is looked at.
    """
    off_middle: FloatArray = np.arange(len(foot.good), dtype=float) - 0.5 * (len(foot.good) - 1)
    free = np.array([1] * 6 + [1, drifting, 1], dtype=bool)
    prior = np.array([LEVER_SPREAD**-2] * 6 + [0.0, DRIFT_SPREAD**-2, GAIN_SPREAD**-2])[free]
    levers = np.concatenate([start.foot_lever, start.shank_lever])
    gain, lag, drift, residual = start.gain, start.lag, start.drift, np.inf
    normal = np.zeros((len(prior), len(prior)))
    shared, from_foot, from_shank = None, np.zeros(1), np.zeros(1)
    for _ in range(iterations):
        shared = _shared(foot, shank, lag, drift * off_middle if drift else None)
        if shared is None:
            return _untold(start)
        size, by_lever = foot.sight(levers[:3])
        from_foot, by_foot = size[shared.rows], by_lever[:, shared.rows]
        size, by_lever = shank.sight(levers[3:])
        from_shank, slope, *by_shank = shared.of_shank(np.array([size, np.gradient(size), *by_lever]))
        error = from_foot - gain * from_shank
        drifts = [slope * off_middle[shared.rows]] if drifting else []
        steps = np.array([*by_foot, *(-gain * np.array([*by_shank, slope, *drifts])), -from_shank])
        residual, weight = shared.weigh(error)
        weighted = steps * weight
        normal = weighted @ steps.T + np.diag(prior * residual**2)
        at = np.concatenate([levers, [0.0, drift, gain - 1.0]])[free]
        step = np.zeros(9)
        gradient = weighted @ error + prior * residual**2 * at
        step[free] = -np.linalg.solve(normal + 1e-12 * np.eye(len(prior)), gradient)
        levers = np.clip(levers + step[:6], -1.0, 1.0)
        lag += float(np.clip(step[6], -_MAX_STEP, _MAX_STEP))
        drift += float(step[7])
        gain = float(np.clip(gain + step[8], 0.5, 2.0))
        if abs(step[6]) < _SETTLED and np.abs(step[:6]).max() < _SETTLED:
            break
    lag_se = residual * float(np.sqrt(max(np.linalg.pinv(normal)[6, 6], 0.0)))
    likeness = shared.likeness(from_foot, from_shank) if shared else 0.0
    return Fit(levers[:3], levers[3:], gain, lag, drift, lag_se, likeness, residual)


def fit_lag(foot: Track, shank: Track, start: Fit, *, iterations: int = 12) -> Fit:
    """The lag alone, without drift; levers and gain ratio as in ``start``."""
    start = replace(start, drift=0.0)
    if _shared(foot, shank, start.lag, None) is None:
        return _untold(start)
    told, size = _size(foot.ankle(start.foot_lever)), _size(shank.ankle(start.shank_lever))
    curves = start.gain * np.array([size, np.gradient(size)])
    lag, residual, normal = start.lag, np.inf, 0.0
    shared, from_foot, from_shank = None, np.zeros(1), np.zeros(1)
    for _ in range(iterations):
        shared = _shared(foot, shank, lag, None)
        if shared is None:
            return _untold(start)
        from_foot = told[shared.rows]
        from_shank, slope = shared.of_shank(curves)
        error = from_foot - from_shank
        residual, weight = shared.weigh(error)
        weighted = slope * weight
        normal = float(weighted @ slope)
        step = float(weighted @ error) / (normal + 1e-12)
        lag += float(np.clip(step, -_MAX_STEP, _MAX_STEP))
        if abs(step) < _SETTLED:
            break
    lag_se = residual / float(np.sqrt(normal)) if normal > 0.0 else 0.0
    likeness = shared.likeness(from_foot, from_shank) if shared else 0.0
    return replace(start, lag=lag, lag_se=lag_se, likeness=likeness, residual=residual)


def _untold(start: Fit) -> Fit:
    return replace(start, lag_se=np.inf, likeness=0.0, residual=np.inf)


@dataclass(frozen=True)
class _Shared:
    """What both logs saw: rows of the foot's, where those lie between the shank's samples, and which of them tell.

    before: of the first row, or (n,) of each, the shank's sample before it. weights: of the four about it, of each row
    or of all, by the cubic through the neighbours' slopes (Catmull and Rom 1974). good: (n,); None where all tell.
    """

    rows: slice
    before: int | IntArray
    weights: tuple[FloatArray | float, ...]
    good: BoolArray | None

    def of_shank(self, curves: FloatArray) -> FloatArray:
        """(..., n) curves of the shank's at the foot's times."""
        count = self.rows.stop - self.rows.start
        found = np.zeros((*curves.shape[:-1], count))
        for aside, weight in enumerate(self.weights, start=-1):
            if isinstance(self.before, int):
                found += weight * curves[..., self.before + aside : self.before + aside + count]
            else:
                found += weight * np.take(curves, self.before + aside, axis=-1)
        return found

    def weigh(self, error: FloatArray) -> tuple[float, FloatArray]:
        """The robust spread of errors (n,), and Huber's weights (n,)."""
        off = np.abs(error)
        residual = 1.4826 * float(np.median(off if self.good is None else off[self.good])) + _RESIDUAL_FLOOR
        weight = 1.0 / np.maximum(1.0, off / (OUTLIER * residual))
        return residual, weight if self.good is None else weight * self.good

    def likeness(self, x: FloatArray, y: FloatArray) -> float:
        """Correlation of two courses (n,)."""
        if self.good is not None:
            x, y = x[self.good], y[self.good]
        x, y = x - x.mean(), y - y.mean()
        return float(x @ y / max(float(np.sqrt((x @ x) * (y @ y))), 1e-12))


def _shared(foot: Track, shank: Track, lag: float, off: FloatArray | None) -> _Shared | None:
    """Where foot sample ``k`` lies at ``k + lag``, or ``k + lag + off``; None where hardly a second of it is there."""
    n, m = len(foot.good), len(shank.good) - 2
    if not abs(lag) < n + m:
        return None
    before: int | IntArray
    u: FloatArray | float
    if off is None:
        whole = int(np.floor(lag))
        first, last = max(0, 1 - whole), min(n, int(np.ceil(m - lag)))
        if last - first < _LEAST:
            return None
        before, u = first + whole, lag - whole
        seen = shank.good[before : before + last - first]
    else:
        at = np.arange(n) + lag + off
        inside = np.flatnonzero((at >= 1) & (at < m))
        if len(inside) < _LEAST:
            return None
        first, last = int(inside[0]), int(inside[-1]) + 1
        before = np.clip(np.floor(at[first:last]).astype(np.int64), 1, m - 1)
        u = at[first:last] - before
        seen = shank.good[before]
    good = foot.good[first:last] & seen
    if np.count_nonzero(good) < _LEAST:
        return None
    square, cube = u * u, u * u * u
    weights = (
        0.5 * (2.0 * square - u - cube),
        0.5 * (3.0 * cube - 5.0 * square) + 1.0,
        0.5 * (u + 4.0 * square - 3.0 * cube),
        0.5 * (cube - square),
    )
    return _Shared(slice(first, last), before, weights, None if good.all() else good)


def _size(force: FloatArray) -> FloatArray:
    x, y, z = force
    return np.asarray(np.maximum(np.sqrt(x * x + y * y + z * z), 1e-6))
