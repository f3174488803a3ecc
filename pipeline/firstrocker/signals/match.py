"""How a shank log's clock lies on its foot log's, found from the movement of both.

First the lags at which both moved alike, then at each of them the ankle they share, which the right lag alone lets them
agree on; from the best, window by window outwards, and a line through the windows' lags for the drift.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from firstrocker.model import FloatArray, Signal
from firstrocker.signals.ankle import DRIFT_SPREAD, Fit, Track, fit_ankle, fit_lag, start_fit, track
from firstrocker.signals.lag import candidate_lags
from firstrocker.signals.sizes import magnitude

MATCH_RATE_HZ = 100.0
"""Both logs are matched on clocks of this rate; smoothed as they are, they hold nothing above a tenth of it."""
SMOOTH_S = 0.02
COARSE_STRIDE = 4
CANDIDATES = 5
LONG_S, LOOK_S = 1200.0, 600.0
"""In walks longer than the one, the lag is searched in a stretch as long as the other."""
NEARBY_S = (0.0, -0.05, 0.05, -0.1, 0.1)
"""The fit falls into place from some 60 ms away; likeness alone is good to some 50."""
PROBE_S = 60.0
ROUGH_STEPS = 6
ROUGH_STRIDE = 3
"""Rough fits ask every third sample: of what there is at half of that rate, smoothing leaves a tenth. The offsets
found in 66 simulated walks moved by a microsecond at most, with every fourth as well."""
REFINED = 3
PROBE_REACH_S = 1.5
"""About a probe that the fit may look at: it never goes farther from where it starts."""
WINDOW_S = (5.0, 20.0)
WINDOWS, WINDOWS_APART = 45, 4
"""With twice as many windows of walking, that is from half an hour of it on, every second is asked, with thrice as many
every third, and so on up to every fourth: fewer tell a clock's offset well enough, but to follow its drift they must
lie near each other."""
WINDOW_REACH = 48
"""Samples: as far as a window's lag can move."""
MOVING_RATE, SLOW_RATE = 0.6, 0.2
"""rad/s: spread of the foot's turning from which a window tells something of clocks; and the least of it in the walk of
somebody slow, of whom windows count that have half the spread of the busiest one."""
LEAST_LIKENESS = 0.94
"""Of the two magnitudes at the ankle. Open recordings of two legs gave 0.97, the wrong leg's shank 0.6 at the most
favourable lag. Simulated walkers give 1.00, but on symmetric gaits the wrong leg's shank, laid half a stride off, up to
0.933: below this, nothing but the logs' own times can tell the legs apart."""
LEAST_LIKENESS_SAME_CLOCK = 0.85
SAME_CLOCK_S = 0.05
"""Where the lag found is also the one that the logs' times tell, to this, likeness is not the only witness."""
LEAST_WINDOW_LIKENESS = 0.7
WINDOW_STEP_S = 0.06
WORST_SCATTER_S = 0.012
SYSTEMATIC_S = 0.003
"""Standard error that no number of strides takes away: soft tissue, strap and shoe. Lags found on open recordings of
two legs on one clock moved by this as the smoothing changed, and simulated straps that ring at 15 Hz moved them by 2 to
4 ms (at 10 Hz by 7 to 12)."""
WINDOW_FLOOR_S = 0.001
MAX_DRIFT = 500e-6


@dataclass(frozen=True)
class Match:
    """Shank time = foot time + lag + drift * (foot time - middle), each since its own log's first sample, in s.

    lag_se: standard error at the middle. end_se: at the ends of what both saw. likeness: of the magnitudes at the
    ankle. why: empty where they match, else why they do not, as the end of a sentence.
    """

    lag: float = 0.0
    drift: float = 0.0
    middle: float = 0.0
    lag_se: float = np.inf
    end_se: float = np.inf
    likeness: float = 0.0
    span: tuple[float, float] = (0.0, 0.0)
    why: str = ""

    def at(self, time: float) -> float:
        """The lag at a foot time."""
        return self.lag + self.drift * (time - self.middle)


def match_clocks(
    foot: Signal,
    shank: Signal,
    *,
    same_clock_lag_s: float | None,
    max_offset_s: float,
    candidates: int = CANDIDATES,
) -> Match:
    """The shank's clock on the foot's.

    Args:
        foot: on a uniform clock of MATCH_RATE_HZ that begins with its first sample.
        shank: the same of its own clock.
        same_clock_lag_s: the lag if both logs had one clock; None where their times exclude it.
        max_offset_s: the lag is searched this far around 0 (both begun together) and around ``same_clock_lag_s``.
        candidates: how many lags at which both moved alike are looked at.
    """
    rate = MATCH_RATE_HZ
    around = (0.0,) if same_clock_lag_s is None else (0.0, same_clock_lag_s)
    turning = magnitude(foot.angular_velocity)
    look, there = _looked_at(foot, shank, turning, (min(around) - max_offset_s, max(around) + max_offset_s))
    shift = (there.start - look.start) / rate
    lags = shift + candidate_lags(
        _coarse(foot, look),
        _coarse(shank, there),
        rate_hz=rate / COARSE_STRIDE,
        around_s=tuple(lag - shift for lag in around),
        within_s=max_offset_s,
        count=candidates,
    )
    if same_clock_lag_s is not None:
        lags = np.append(lags, same_clock_lag_s)
    best, place = _best_fit(foot, shank, lags, turning, look)
    if best is None:
        return Match(why="the logs overlap too little, or nobody walks in them")
    agrees = same_clock_lag_s is not None and abs(best.lag / rate - same_clock_lag_s) <= SAME_CLOCK_S
    if best.likeness < (LEAST_LIKENESS_SAME_CLOCK if agrees else LEAST_LIKENESS):
        return Match(
            likeness=best.likeness, why=f"at no lag up to {max_offset_s:g} s do both sensors see one ankle move"
        )
    times, found, moving = _window_lags(foot, shank, best, place, turning)
    if not moving:
        return Match(likeness=best.likeness, why="there is too little walking in both")
    if len(found) < max(1, 0.5 * moving):
        why = f"they agree in {len(found)} of {moving} parts of the walk only"
        return Match(likeness=best.likeness, why=why)
    match = _line(times, found, span=_span(len(foot.valid), len(shank.valid), float(np.median(found))))
    if match.lag_se > WORST_SCATTER_S or abs(match.drift) > MAX_DRIFT:
        return Match(likeness=best.likeness, why="the lag wanders more than clocks do")
    return replace(match, likeness=best.likeness)


def _part(signal: Signal, first: float, last: float) -> Track:
    return track(signal, int(np.floor(first)), int(np.ceil(last)), rate_hz=MATCH_RATE_HZ, smooth_s=SMOOTH_S)


def _looked_at(foot: Signal, shank: Signal, turning: FloatArray, lags_s: tuple[float, float]) -> tuple[slice, slice]:
    """The samples of both in which the lag is searched: all, but where a walk is long those of its busiest stretch.

    Over an hour two clocks drift apart by some tenths of a second: no one lag then makes both logs alike all along.
    """
    rate, n, m = MATCH_RATE_HZ, len(foot.valid), len(shank.valid)
    least, most = int(np.floor(lags_s[0] * rate)), int(np.ceil(lags_s[1] * rate))
    # Only where the shank's log holds something, whatever the lag.
    first, last, width = max(0, -least), min(n, m - most), int(LOOK_S * rate)
    if n <= LONG_S * rate or last - first <= width:
        return slice(0, n), slice(0, m)
    start = first + busiest(turning[first:last], width)
    return slice(start, start + width), slice(start + least, start + width + most)


def busiest(turning: FloatArray, width: int) -> int:
    """Where the stretch of so many samples begins in which most is turned."""
    busy = np.concatenate([[0.0], np.cumsum(turning)])
    return int(np.argmax(busy[width:] - busy[: len(busy) - width]))


def _coarse(signal: Signal, rows: slice) -> FloatArray:
    from scipy.ndimage import gaussian_filter1d

    sizes = (magnitude(values[rows]) for values in (signal.angular_velocity, signal.acceleration))
    return np.array([gaussian_filter1d(size, COARSE_STRIDE)[::COARSE_STRIDE] for size in sizes]).T


@dataclass(frozen=True)
class _Probe:
    """The part of an overlap with most movement: foot samples from ``first`` on, the shank's about them from ``begin``.

    fit: with a lag between these two parts.
    """

    foot: Track
    shank: Track
    first: int
    begin: int
    fit: Fit


def _best_fit(
    foot: Signal, shank: Signal, lags: FloatArray, turning: FloatArray, look: slice
) -> tuple[Fit | None, int]:
    """The fit, over the part of the overlap with most movement, with the greatest likeness; and that part's middle."""
    rate = MATCH_RATE_HZ
    tried: dict[float, list[_Probe]] = {}
    for lag in lags:
        if lag in tried:
            continue
        low, high = max(look.start, int(-lag * rate)), min(look.stop, int(len(shank.valid) - lag * rate))
        width = min(high - low, int(PROBE_S * rate))
        if width < 2 * rate:
            continue
        first = low + busiest(turning[low:high], width)
        about, reach = first + lag * rate, PROBE_REACH_S * rate
        begin = max(int(np.floor(about - reach)), 0)
        parts = _part(foot, first, first + width), _part(shank, begin, about + width + reach)
        rough = parts[0].thinned(ROUGH_STRIDE), parts[1].thinned(ROUGH_STRIDE)
        starts = [start_fit((about - begin + near * rate) / ROUGH_STRIDE) for near in NEARBY_S]
        fits = [fit_ankle(*rough, start, drifting=False, iterations=ROUGH_STEPS) for start in starts]
        tried[lag] = [_Probe(*parts, first, begin, replace(fit, lag=fit.lag * ROUGH_STRIDE)) for fit in fits]
    # A lag named twice, by movement and by the logs' times, counts twice.
    all_tried = [probe for lag in lags for probe in tried.get(lag, [])]
    best, place = None, 0
    refined: list[_Probe] = []
    for probe in sorted(all_tried, key=lambda t: -t.fit.likeness)[:REFINED]:
        if any(probe is other for other in refined):
            continue
        refined.append(probe)
        width = len(probe.foot.good)
        fit = fit_ankle(probe.foot, probe.shank, probe.fit, drifting=width > 20 * rate)
        if best is None or fit.likeness > best.likeness:
            best = replace(fit, lag=fit.lag + probe.begin - probe.first)
            place = probe.first + width // 2
    return best, place


def _window_lags(
    foot: Signal, shank: Signal, best: Fit, place: int, turning: FloatArray
) -> tuple[FloatArray, FloatArray, int]:
    """Middles and lags in s of the windows that tell, and how many windows were asked; followed outwards."""
    rate = MATCH_RATE_HZ
    low, high = (round(rate * t) for t in _span(len(foot.valid), len(shank.valid), best.lag / rate))
    width = int(np.clip((high - low) / 6, WINDOW_S[0] * rate, WINDOW_S[1] * rate))
    starts = np.arange(low, max(high - width // 2, low + 1), width)
    lasts = np.minimum(starts + width, high)
    spread = np.array([float(np.std(turning[a:b])) for a, b in zip(starts, lasts, strict=True)])
    moving = np.flatnonzero(spread >= np.clip(0.5 * spread.max(), SLOW_RATE, MOVING_RATE))
    asked = moving[:: min(max(len(moving) // WINDOWS, 1), WINDOWS_APART)]
    nearest = int(np.argmin(np.abs(starts + width / 2 - place)))
    found: dict[int, float] = {}
    for run in (asked[asked >= nearest], asked[asked < nearest][::-1]):
        here, known = best.lag, float(place)
        if nearest in found:
            here, known = found[nearest], starts[nearest] + width / 2
        for w in run:
            first, last = int(starts[w]), int(lasts[w])
            middle = 0.5 * (first + last)
            expected = here + best.drift * (middle - known)
            begin = max(int(np.floor(first + expected)) - WINDOW_REACH, 0)
            parts = _part(foot, first, last), _part(shank, begin, last + expected + WINDOW_REACH)
            fit = fit_lag(*parts, replace(best, lag=expected + first - begin))
            lag = fit.lag + begin - first
            near = abs(lag - expected) < WINDOW_STEP_S * rate
            if near and fit.likeness > LEAST_WINDOW_LIKENESS and fit.lag_se < WORST_SCATTER_S * rate:
                found[w], here, known = lag, lag, middle
    order = sorted(found)
    middles = starts[order] + 0.5 * (lasts[order] - starts[order])
    return middles / rate, np.array([found[w] for w in order]) / rate, len(asked)


def _span(foot_samples: int, shank_samples: int, lag_s: float) -> tuple[float, float]:
    """Foot times in s between which both logs hold samples."""
    rate = MATCH_RATE_HZ
    return max(0.0, -lag_s), max(min(foot_samples / rate, shank_samples / rate - lag_s), 0.0)


def _line(times: FloatArray, lags: FloatArray, *, span: tuple[float, float]) -> Match:
    """A straight line through the windows' lags, in which far ones count less and which short walks leave level."""
    middle = float(times.mean())
    weight = np.ones(len(times))
    level, slope, spread = float(np.median(lags)), 0.0, WINDOW_FLOOR_S
    normal = np.eye(2)
    for _ in range(20):
        design = np.column_stack([np.ones(len(times)), times - middle])
        normal = design.T @ (design * weight[:, None]) / spread**2 + np.diag([0.0, DRIFT_SPREAD**-2])
        level, slope = np.linalg.solve(normal, design.T @ (weight * lags) / spread**2)
        off = np.abs(lags - level - slope * (times - middle))
        spread = float(np.hypot(WINDOW_FLOOR_S, 1.4826 * np.median(off)))
        weight = 1.0 / np.maximum(1.0, off / (2.0 * spread))
    covariance = np.linalg.inv(normal)
    reach = max(abs(span[0] - middle), abs(span[1] - middle))
    return Match(
        lag=float(level),
        drift=float(slope),
        middle=middle,
        lag_se=float(np.hypot(np.sqrt(covariance[0, 0]), SYSTEMATIC_S)),
        end_se=float(np.sqrt(covariance[0, 0] + covariance[1, 1] * reach**2 + SYSTEMATIC_S**2)),
        span=span,
    )
