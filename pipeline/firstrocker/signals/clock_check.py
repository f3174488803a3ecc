"""Whether foot and shank really lie on one clock: the ankle as both see it, before and after their clocks were laid."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from firstrocker.model import ClockFit, FloatArray, Side, Signal, WalkSignals
from firstrocker.signals.ankle import Fit, Track, fit_ankle, fit_lag, start_fit, track
from firstrocker.signals.match import MOVING_RATE, SMOOTH_S, busiest
from firstrocker.signals.sizes import magnitude

SPAN_S = 60.0
"""The busiest stretch of so long is looked at."""
WINDOW_S = 5.0
PIECE_S = 2.4
"""Two strides or so: what a picture shows."""
_FOUND = 0.06  # s: a lag found further off than this is not that of clocks laid together


@dataclass(frozen=True)
class ClockCheck:
    """The magnitude of the ankle's specific force, m/s^2, as the foot's and the shank's sensors tell it.

    likeness: correlation of both on the walk's clock. left_over: s by which the shank's still comes late, found anew on
    that clock (NaN where it cannot be told). scatter: s, standard deviation of the same from window to window, NaN
    under two. residual: m/s^2, robust spread of the difference. time: (k,) s of a piece of walking; foot, shank: (k,)
    as laid; before: (k,) the shank by its log's own times, NaN where it holds nothing then.
    """

    side: Side
    likeness: float
    left_over: float
    scatter: float
    residual: float
    time: FloatArray
    foot: FloatArray
    shank: FloatArray
    before: FloatArray


def check_clock(walk: WalkSignals, side: Side) -> ClockCheck | None:
    """Look at the ankle from both sides.

    Returns:
        None where the walk has not both sensors of that side on its clock, or too little movement.
    """
    foot, shank = walk.find("foot", side), walk.find("shank", side)
    clocks = {clock.segment: clock for clock in walk.clocks if clock.side == side}
    if foot is None or shank is None or not {"foot", "shank"} <= clocks.keys():
        return None
    rate = walk.rate_hz
    turning = magnitude(foot.angular_velocity) * (foot.valid & shank.valid)
    first, last = _busiest(turning, round(SPAN_S * rate))
    both = [_track(signal, rate, first, last) for signal in (foot, shank)]
    fit = fit_ankle(both[0], both[1], start_fit(0.0), drifting=False)
    if not np.isfinite(fit.lag_se):
        return None
    lags = _window_lags(both[0], both[1], fit, turning[first:last], rate)
    start, stop = (first + place for place in _busiest(turning[first:last], round(PIECE_S * rate)))
    time = walk.time[start:stop]
    here = slice(start - first, stop - first)
    return ClockCheck(
        side=side,
        likeness=fit.likeness,
        left_over=fit.lag / rate if abs(fit.lag) < _FOUND * rate else float("nan"),
        scatter=float(np.std(lags, ddof=1)) if len(lags) > 1 else float("nan"),
        residual=fit.residual,
        time=time,
        foot=np.linalg.norm(both[0].part(here).ankle(fit.foot_lever), axis=0),
        shank=_at(walk.time, shank, fit, rate, time),
        before=_at(walk.time, shank, fit, rate, _unlaid(time, clocks["foot"], clocks["shank"])),
    )


def _track(signal: Signal, rate_hz: float, first: int, last: int) -> Track:
    return track(signal, first, last, rate_hz=rate_hz, smooth_s=SMOOTH_S)


def _busiest(turning: FloatArray, width: int) -> tuple[int, int]:
    """First and one-past-last sample of the stretch with most turning; all where it is no longer than that."""
    width = min(width, len(turning))
    first = busiest(turning, width)
    return first, first + width


def _window_lags(foot: Track, shank: Track, fit: Fit, turning: FloatArray, rate_hz: float) -> list[float]:
    """The lag in s of each window of walking in which it can be told."""
    width = round(WINDOW_S * rate_hz)
    found: list[float] = []
    for first in range(0, len(turning) - width + 1, width):
        if float(np.std(turning[first : first + width])) < MOVING_RATE:
            continue
        one = fit_lag(foot.part(slice(first, first + width)), shank.part(slice(first, first + width)), fit)
        if np.isfinite(one.lag_se) and abs(one.lag - fit.lag) < _FOUND * rate_hz:
            found.append(one.lag / rate_hz)
    return found


def _unlaid(time: FloatArray, foot: ClockFit, shank: ClockFit) -> FloatArray:
    """Where on the walk's clock the shank's log lies that bears the times which the foot's log bears at ``time``."""
    own = (time - foot.offset_s) / (1.0 + foot.drift_ppm * 1e-6)
    return np.asarray(shank.offset_s + (1.0 + shank.drift_ppm * 1e-6) * own)


def _at(time: FloatArray, shank: Signal, fit: Fit, rate_hz: float, where: FloatArray) -> FloatArray:
    """(k,) what the shank's sensor tells of the ankle at rising times, NaN where it holds nothing."""
    first, last = (int(place) for place in np.searchsorted(time, where[[0, -1]]))
    first, last = max(first - 2, 0), min(last + 2, len(time))
    if last - first < 2:
        return np.full(len(where), np.nan)
    ready = _track(shank, rate_hz, first, last)
    sizes = np.linalg.norm(ready.ankle(fit.shank_lever), axis=0) * fit.gain
    sizes[~ready.good] = np.nan
    found = np.interp(where, time[first:last], sizes)
    return np.where((where >= time[0]) & (where <= time[-1]), found, np.nan)
