"""Every measure of a stride, as the definitions word them; SI units and radians, NaN where one cannot be had."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from firstrocker.gait.bouts import Strides
from firstrocker.gait.clearance import MidSwings, lowest_toe
from firstrocker.gait.flights import CONTACT_PITCH
from firstrocker.gait.rates import greatest, spline
from firstrocker.gait.side import aside
from firstrocker.gait.smooth import running_parabola
from firstrocker.gait.windows import Windows, how_many, within
from firstrocker.model import BoolArray, FloatArray, IntArray, TextArray
from firstrocker.motion.foot import FootMotion
from firstrocker.motion.integrate import Between, at, between
from firstrocker.motion.sensor import pieces
from firstrocker.motion.shank import ShankMotion
from firstrocker.signals.sizes import magnitude

SHOCK_S = 0.05
NEAR_S = 0.03
"""s about a stride within which smoothing lets in what was not measured."""
LEAST_FALL = np.radians(5.0)

Columns = dict[str, FloatArray]
"""Measures by their names in strides.parquet, (k,) each, one value per stride."""


BY_SHANK = frozenset(
    {
        "ankle_heel_strike_deg",
        "ankle_foot_flat_deg",
        "ankle_peak_dorsiflexion_deg",
        "ankle_mid_swing_deg",
        "slap_rate_deg_s",
        "first_rocker_range_deg",
        "ankle_share",
        "push_off_rate_deg_s",
        "shank_heel_strike_deg",
        "shank_foot_flat_deg",
        "shank_mid_stance_deg",
        "shank_forward_rate_deg_s",
    }
)
"""Measures that cannot be had where the shank was not seen."""


@dataclass(frozen=True)
class Curves:
    """What the measures are read from, (n,) each: angles rad, rates rad/s (raw and smoothed), shock m/s^2.

    Shank and ankle are None where there is no shank log.
    """

    foot: FootMotion
    shank: ShankMotion | None
    pitch_rate: FloatArray
    shank_rate: FloatArray | None
    trusted: BoolArray

    @cached_property
    def ankle(self) -> FloatArray | None:
        """Foot pitch + shank-to-vertical angle, dorsiflexion positive."""
        return None if self.shank is None else self.foot.pitch + self.shank.angle

    @cached_property
    def ankle_rate(self) -> FloatArray | None:
        """Pitch rate + shank rate; the identity holds for the smoothed ones, for smoothing is linear."""
        return None if self.shank_rate is None else self.pitch_rate + self.shank_rate

    @cached_property
    def unrest(self) -> float:
        """rad/s by which the foot's sensor typically turns while the foot stands: how firmly it sits."""
        foot = self.foot
        parts = [magnitude(foot.turning(part)[foot.still[part]]) for part in pieces(0, len(foot.still))]
        turning = np.concatenate(parts)
        return float(np.median(turning)) if len(turning) else 0.0

    @cached_property
    def distrusted(self) -> IntArray:
        """Samples that a gap or a sensor at its limit touched."""
        return np.flatnonzero(~self.trusted)

    @cached_property
    def loading_rates(self) -> dict[str, FloatArray]:
        """Splines (see ``rates.py``) through the rates whose greatest values in loading are measures, by their names.

        Through the rates as they are: each loading is smoothed by its own length.
        """
        lowering = spline(-self.foot.pitch_rate)
        if self.shank is None:
            return {"foot_lowering_rate_deg_s": lowering}
        forward = spline(self.shank.rate)
        return {
            "slap_rate_deg_s": lowering - forward,
            "foot_lowering_rate_deg_s": lowering,
            "shank_forward_rate_deg_s": forward,
        }


def curves(foot: FootMotion, shank: ShankMotion | None, *, smooth_s: float) -> Curves:
    """Smooth the rates once for a whole walk.

    Args:
        foot: the foot's motion.
        shank: the shank's of the same side, if any.
        smooth_s: width of the running parabola, s.
    """
    pitch_rate = running_parabola(foot.pitch_rate, foot.rate_hz, width_s=smooth_s)
    shank_rate = None if shank is None else running_parabola(shank.rate, foot.rate_hz, width_s=smooth_s)
    trusted = foot.trusted if shank is None else foot.trusted & shank.trusted
    return Curves(foot, shank, pitch_rate, shank_rate, trusted)


def unseen_shank(strides: Strides, data: Curves) -> BoolArray:
    """(k,) strides, from one heel strike to the next, within which the shank's signal is not to be trusted."""
    before, swing = strides.before, strides.swing
    if data.shank is None:
        return np.zeros(len(swing.stop), dtype=np.bool_)
    near = round(NEAR_S * data.foot.rate_hz)
    first = np.where(np.isnan(before.heel_strike), before.start, before.heel_strike).astype(np.int64) - near
    stop = np.where(np.isnan(swing.heel_strike), swing.stop, swing.heel_strike).astype(np.int64) + near
    return how_many(np.flatnonzero(~data.shank.trusted), first, stop + 1) > 0


def timing(strides: Strides, rate_hz: float) -> Columns:
    """Times, s."""
    strike, flat = strides.before.heel_strike, strides.before.foot_flat
    off, after = strides.swing.toe_off, strides.swing.heel_strike
    time = (after - strike) / rate_hz
    return {
        "stride_time_s": time,
        "stance_time_s": (off - strike) / rate_hz,
        "swing_time_s": (after - off) / rate_hz,
        "loading_time_s": (flat - strike) / rate_hz,
        "stance_percent": (off - strike) / (after - strike),
        "cadence_steps_min": 120.0 / time,
    }


def swing(strides: Strides, data: Curves) -> tuple[Columns, MidSwings]:
    """Length, speed and clearances (m, m/s), angles in swing (rad), and mid-swing in sample numbers of the walk."""
    foot, own = data.foot, strides.swing
    way = (foot.position[own.stop] - foot.position[own.start])[:, :2]
    length = np.hypot(way[:, 0], way[:, 1])
    windows = within(own.toe_off, own.heel_strike, len(foot.pitch))
    forward = windows.of(foot.velocity[:, :2]) * windows.each(way / np.maximum(length, 1e-9)[:, None])
    lowest = lowest_toe(windows, windows.of(foot.toe_height), forward.sum(axis=1), foot.rate_hz)
    mid_swing = lowest.later(windows.first)
    middle = between(mid_swing.place, 0, len(foot.pitch) - 1)
    values = {
        "stride_length_m": length,
        "walking_speed_m_s": length / ((own.heel_strike - strides.before.heel_strike) / foot.rate_hz),
        "toe_clearance_min_mm": middle.read(foot.toe_height),
        "heel_clearance_max_mm": windows.peak(windows.of(foot.heel_height))[1],
        "circumduction_mm": windows.peak(aside(foot, own, windows))[1],
        "foot_pitch_toe_off_deg": at(foot.pitch, own.toe_off),
        "foot_pitch_mid_swing_deg": middle.read(foot.pitch),
        "ankle_mid_swing_deg": _value(data.ankle, middle),
    }
    return values, mid_swing


def loading(strides: Strides, data: Curves) -> tuple[Columns, TextArray]:
    """Angles (rad), rates (rad/s) and shocks (m/s^2) of the first rocker, and the kind of contact: ``heel``, ``flat``,
    ``forefoot``, or empty without a heel strike.
    """
    foot, shank, before = data.foot, data.shank, strides.before
    rocker = _interval(before.heel_strike, before.foot_flat, len(foot.pitch))
    strike, flat = rocker.first, rocker.last
    shank_angle = None if shank is None else shank.angle
    pitch, ankle, ankle_flat = strike.read(foot.pitch), _value(data.ankle, strike), _value(data.ankle, flat)
    kind = _contact(pitch - strides.slope)
    fall = pitch - flat.read(foot.pitch)
    rocked = (kind == "heel") & (fall >= LEAST_FALL)
    values = {
        "foot_pitch_heel_strike_deg": pitch,
        "ankle_heel_strike_deg": ankle,
        "ankle_foot_flat_deg": ankle_flat,
        "shank_heel_strike_deg": _value(shank_angle, strike),
        "shank_foot_flat_deg": _value(shank_angle, flat),
        "slap_rate_deg_s": np.full(len(pitch), np.nan),
        "foot_lowering_rate_deg_s": np.full(len(pitch), np.nan),
        "shank_forward_rate_deg_s": np.full(len(pitch), np.nan),
        "first_rocker_range_deg": ankle - rocker.least(data.ankle),
        "ankle_share": np.where(rocked, ankle - ankle_flat, np.nan) / np.where(rocked, fall, 1.0),
        "heel_strike_shock_m_s2": _shock(foot.shock if shank is None else shank.shock, before.heel_strike, data),
        "slap_shock_m_s2": _shock(foot.shock, before.foot_flat, data),
    }
    for name, rate in data.loading_rates.items():
        values[name] = greatest(rate, before.heel_strike, before.foot_flat, rate_hz=foot.rate_hz)
    return values, kind


def stance(strides: Strides, data: Curves) -> Columns:
    """Angles (rad) and the push-off rate (rad/s)."""
    strike, flat = strides.before.heel_strike, strides.before.foot_flat
    rise, off, n = strides.swing.heel_off, strides.swing.toe_off, len(data.foot.pitch)
    middle = between(0.5 * (flat + rise), 0, n - 1)
    return {
        "ankle_peak_dorsiflexion_deg": _interval(strike, off, n).greatest(data.ankle),
        "shank_mid_stance_deg": _value(None if data.shank is None else data.shank.angle, middle),
        "push_off_rate_deg_s": -_interval(rise, off, n).least(data.ankle_rate),
    }


def _contact(pitch: FloatArray) -> TextArray:
    """``heel``, ``flat`` or ``forefoot``: by the foot's pitch (k,) rad against the ground; empty for NaN."""
    kinds = np.where(pitch > CONTACT_PITCH, "heel", np.where(pitch < -CONTACT_PITCH, "forefoot", "flat"))
    return np.where(np.isnan(pitch), "", kinds)


def _value(curve: FloatArray | None, places: Between) -> FloatArray:
    return np.full(len(places.here), np.nan) if curve is None else places.read(curve)


@dataclass(frozen=True)
class _Interval:
    """From one event of each stride to another."""

    windows: Windows
    first: Between
    last: Between

    def greatest(self, curve: FloatArray | None) -> FloatArray:
        """(k,) greatest value, by the parabola over the whole samples or at one of the ends."""
        return self._furthest(curve, 1.0)

    def least(self, curve: FloatArray | None) -> FloatArray:
        """(k,) least value, as :meth:`greatest`."""
        return -self._furthest(curve, -1.0)

    def _furthest(self, curve: FloatArray | None, sign: float) -> FloatArray:
        if curve is None:
            return np.full(len(self.windows.first), np.nan)
        inner = self.windows.peak(sign * self.windows.of(curve))[1]
        return np.maximum(inner, np.maximum(sign * self.first.read(curve), sign * self.last.read(curve)))


def _interval(first: FloatArray, last: FloatArray, n: int) -> _Interval:
    return _Interval(within(first, last, n), between(first, 0, n - 1), between(last, 0, n - 1))


def _shock(curve: FloatArray, place: FloatArray, data: Curves) -> FloatArray:
    """(k,) greatest value soon after an event; NaN where the signal is not to be trusted."""
    windows = within(place, place + SHOCK_S * data.foot.rate_hz, len(curve))
    spoilt = how_many(data.distrusted, windows.first, windows.first + windows.count) > 0
    return np.where(spoilt, np.nan, windows.greatest(windows.of(curve)))
