"""Every measure of a stride, as the definitions word them; SI units and radians, NaN where one cannot be had."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from math import ceil, floor, isnan

import numpy as np

from firstrocker.gait.bouts import Stride
from firstrocker.gait.clearance import MidSwing, lowest_toe
from firstrocker.gait.crossings import peak
from firstrocker.gait.events import contact_kind
from firstrocker.gait.rates import blurred, greatest, spline
from firstrocker.gait.smooth import running_parabola
from firstrocker.model import BoolArray, FloatArray
from firstrocker.motion.foot import FootMotion
from firstrocker.motion.integrate import at_one
from firstrocker.motion.shank import ShankMotion

SHOCK_S = 0.05
LEAST_FALL = np.radians(5.0)
NAN = float("nan")


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
    def plantarflexion_rate(self) -> FloatArray | None:
        """The ankle rate with its sign turned."""
        return None if self.ankle_rate is None else -self.ankle_rate

    @cached_property
    def unrest(self) -> float:
        """rad/s by which the foot's sensor typically turns while the foot stands: how firmly it sits."""
        turning = np.linalg.norm(self.foot.angular_velocity[self.foot.still], axis=1)
        return float(np.median(turning)) if len(turning) else 0.0

    @cached_property
    def unlevel(self) -> tuple[FloatArray, FloatArray]:
        """rad, (n,) each: what foot's and shank's roll, wrongly taken for pitch, may come to.

        The less clearly a sideways axis stood out, the farther the forward axis may be from the true one; through it a
        segment's roll leaks into its pitch.
        """
        foot = (1.0 - self.foot.mounting.planar) * self.foot.roll
        if self.shank is None:
            return foot, np.zeros_like(foot)
        return foot, (1.0 - self.shank.mounting.planar) * self.shank.roll

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

    @cached_property
    def blurred_rates(self) -> dict[str, FloatArray]:
        """The same, each sample blurred with its neighbours."""
        return {name: blurred(rate) for name, rate in self.loading_rates.items()}


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


def _value(series: FloatArray | None, place: float) -> float:
    return NAN if series is None or isnan(place) else at_one(series, place)


def _window(first: float, last: float) -> slice | None:
    """Whole samples within an interval, at least two; None where it has no ends or ends before it begins."""
    if isnan(first) or isnan(last) or last < first:
        return None
    a, b = ceil(first), floor(last)
    return slice(a, b + 1) if b > a else slice(floor(first), ceil(last) + 1)


def _greatest(series: FloatArray | None, first: float, last: float) -> float:
    """Greatest value of an interval, by the parabola over its whole samples or at one of its ends."""
    window = _window(first, last)
    if series is None or window is None:
        return NAN
    return max(peak(series[window])[1], _value(series, first), _value(series, last))


def _least(series: FloatArray, first: float, last: float) -> float:
    window = _window(first, last)
    if window is None:
        return NAN
    return min(-peak(-series[window])[1], _value(series, first), _value(series, last))


def timing(stride: Stride, rate_hz: float) -> dict[str, float]:
    """Times, s."""
    strike, flat = stride.before.heel_strike, stride.before.foot_flat
    off, after = stride.swing.toe_off, stride.swing.heel_strike
    time = (after - strike) / rate_hz
    return {
        "stride_time_s": time,
        "stance_time_s": (off - strike) / rate_hz,
        "swing_time_s": (after - off) / rate_hz,
        "loading_time_s": (flat - strike) / rate_hz,
        "stance_percent": (off - strike) / (after - strike),
        "cadence_steps_min": 120.0 / time,
    }


def swing(stride: Stride, data: Curves) -> tuple[dict[str, float], MidSwing | None]:
    """Length, speed and clearances (m, m/s), angles in swing (rad), and mid-swing in sample numbers of the walk."""
    foot, own = data.foot, stride.swing
    time = (own.heel_strike - stride.before.heel_strike) / foot.rate_hz
    way = (foot.position[own.stop] - foot.position[own.start])[:2]
    length = float(np.hypot(*way))
    window = _window(own.toe_off, own.heel_strike)
    values = dict.fromkeys(
        ("toe_clearance_min_mm", "heel_clearance_max_mm", "circumduction_mm", "foot_pitch_mid_swing_deg"), NAN
    )
    values |= {"ankle_mid_swing_deg": NAN, "stride_length_m": length, "walking_speed_m_s": length / time}
    values["foot_pitch_toe_off_deg"] = _value(foot.pitch, own.toe_off)
    if window is None:
        return values, None
    within = lowest_toe(foot.toe_height[window], foot.velocity[window, :2] @ (way / max(length, 1e-9)), foot.rate_hz)
    mid_swing = MidSwing(window.start + within.place, within.kind, window.start + within.rival)
    middle = mid_swing.place
    values["toe_clearance_min_mm"] = _value(foot.toe_height, middle)
    values["heel_clearance_max_mm"] = peak(foot.heel_height[window])[1]
    left = np.array([-way[1], way[0]]) / max(length, 1e-9)
    aside = (foot.position[window, :2] - foot.position[own.start, :2]) @ left
    values["circumduction_mm"] = peak(aside if foot.side == "left" else -aside)[1]
    values["foot_pitch_mid_swing_deg"] = _value(foot.pitch, middle)
    values["ankle_mid_swing_deg"] = _value(data.ankle, middle)
    return values, mid_swing


def loading(stride: Stride, data: Curves) -> tuple[dict[str, float], str | None]:
    """Angles (rad), rates (rad/s) and shocks (m/s^2) of the first rocker, and the kind of contact."""
    strike, flat, foot = stride.before.heel_strike, stride.before.foot_flat, data.foot
    kind = None if np.isnan(strike) else contact_kind(foot, strike, slope=stride.slope)
    ankle, shank = data.ankle, data.shank
    shank_angle = None if shank is None else shank.angle
    values = {
        "foot_pitch_heel_strike_deg": _value(foot.pitch, strike),
        "ankle_heel_strike_deg": _value(ankle, strike),
        "ankle_foot_flat_deg": _value(ankle, flat),
        "shank_heel_strike_deg": _value(shank_angle, strike),
        "shank_foot_flat_deg": _value(shank_angle, flat),
        "slap_rate_deg_s": NAN,
        "foot_lowering_rate_deg_s": NAN,
        "shank_forward_rate_deg_s": NAN,
        "first_rocker_range_deg": NAN,
        "ankle_share": NAN,
        "heel_strike_shock_m_s2": NAN,
        "slap_shock_m_s2": NAN,
    }
    for name, rate in data.loading_rates.items():
        values[name] = float(greatest(rate, np.array([strike]), np.array([flat]), rate_hz=foot.rate_hz)[0])
    if ankle is not None:
        least = _least(ankle, strike, flat)
        values["first_rocker_range_deg"] = values["ankle_heel_strike_deg"] - min(least, values["ankle_foot_flat_deg"])
        fall = values["foot_pitch_heel_strike_deg"] - _value(foot.pitch, flat)
        if kind == "heel" and fall >= LEAST_FALL:
            values["ankle_share"] = (values["ankle_heel_strike_deg"] - values["ankle_foot_flat_deg"]) / fall
    width = SHOCK_S * foot.rate_hz
    shock = foot.shock if shank is None else shank.shock
    for name, series, place in (("heel_strike_shock_m_s2", shock, strike), ("slap_shock_m_s2", foot.shock, flat)):
        window = _window(place, place + width)
        if window is not None and data.trusted[window].all():
            values[name] = float(series[window].max())
    return values, kind


def stance(stride: Stride, data: Curves) -> dict[str, float]:
    """Angles (rad) and the push-off rate (rad/s)."""
    strike, flat = stride.before.heel_strike, stride.before.foot_flat
    rise, off = stride.swing.heel_off, stride.swing.toe_off
    return {
        "ankle_peak_dorsiflexion_deg": _greatest(data.ankle, strike, off),
        "shank_mid_stance_deg": _value(None if data.shank is None else data.shank.angle, 0.5 * (flat + rise)),
        "push_off_rate_deg_s": _greatest(data.plantarflexion_rate, rise, off),
    }
