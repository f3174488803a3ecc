"""Standard errors of the measures of one stride: what the sensors, the geometry and the anchoring leave unknown.

Each measure's error is built from causes: the tilt that is left after anchoring (its covariance comes with the course),
the instant of the event times the rate at which the curve then changes, the scale of the sensors, the ruler, and for
the shank the posture in standing that counts as its zero. The size of each cause was set on simulated walks of all
kinds with ordinary sensors, and checked on others (see ``firstrocker validate``).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from firstrocker.gait.bouts import Stride
from firstrocker.gait.measures import Curves
from firstrocker.model import FloatArray
from firstrocker.motion.integrate import at

HEEL_STRIKE_S, FOOT_FLAT_S, HEEL_OFF_S, TOE_OFF_S = 0.0018, 0.0028, 0.0080, 0.0055
"""s, one standard error of the instants, of a sensor that is read 100 times a second or more often."""
SLOW_READING = 0.5
"""How many of the seconds beyond a hundredth between two samples are added to the error of a contact's instant."""
DIP_S, PEAK_SPEED_S = 0.0015, 0.015
"""s, the same of mid-swing, by how it was taken."""
LENGTH_SCALE, HEIGHT_SCALE, RATE_SCALE, SLAP_SCALE = 0.0066, 0.006, 0.010, 0.035
"""Shares: sensors of half a percent, axes found to a few degrees; a slap is the difference of two large rates."""
PATH_M, SIDE_M, HEIGHT_M, HEEL_M = 0.0020, 0.0014, 0.0009, 0.0010
"""m left of the foot's path after anchoring: along, sideways, and in the heights of toe and heel."""
MISSED = 0.12
"""Share of the velocity missing at the end of a swing, times its length, that its path is uncertain by."""
TILT_FLOOR = np.radians(0.17)
"""rad that smoothing, cross-axis sensitivity and creep of the sole leave."""
RATE_FLOOR = np.radians(1.2)
"""rad/s"""


@dataclass(frozen=True)
class Errors:
    """The error model of one side of a walk."""

    data: Curves

    def of(
        self, stride: Stride, values: dict[str, float], clearance_kind: str | None, middle: float
    ) -> dict[str, float]:
        """Standard errors in SI and radians of the measures that have one.

        Args:
            stride: the stride.
            values: its measures, SI and radians.
            clearance_kind: how its toe clearance, and with it mid-swing, was taken.
            middle: sample number of mid-swing.
        """
        instant = (middle, DIP_S if clearance_kind == "local_minimum" else PEAK_SPEED_S)
        return self._way(stride, values, instant) | self._angles(stride, values, instant) | self._rates(stride, values)

    @property
    def _strike_s(self) -> float:
        return HEEL_STRIKE_S + SLOW_READING * max(1.0 / self.data.foot.rate_hz - 0.01, 0.0)

    def _tilts(self, stride: Stride) -> tuple[float, float]:
        """rad, of foot and of shank in this stride, the shank's without its zero."""
        foot, shank = self.data.foot, self.data.shank
        nodes = np.searchsorted(foot.anchors, [stride.before.start, stride.swing.stop])
        part = slice(int(nodes[0]), int(nodes[1]) + 1)
        of_foot = float(np.hypot(foot.tilt_se[part].max(), TILT_FLOOR))
        return of_foot, 0.0 if shank is None else float(np.hypot(shank.tilt_se[part].max(), TILT_FLOOR))

    def _way(self, stride: Stride, values: dict[str, float], instant: tuple[float, float]) -> dict[str, float]:
        geometry = self.data.foot.geometry
        tilt, _ = self._tilts(stride)
        length, time = values["stride_length_m"], max(values["stride_time_s"], 1e-3)
        middle = values["foot_pitch_mid_swing_deg"]
        toe = self.data.foot.toe[:, 2]
        around = np.array([-1.0, 1.0]) + (0.0 if np.isnan(instant[0]) else instant[0])
        rising = float(np.diff(at(toe, around))[0]) * 0.5 * self.data.foot.rate_hz
        ahead, up = self._missed(stride)
        of_length = float(np.sqrt(PATH_M**2 + (LENGTH_SCALE * length) ** 2 + ahead**2))
        lifted = HEIGHT_SCALE * max(values["heel_clearance_max_mm"], 0.0)
        lever = np.hypot(geometry.to_toe_se * np.sin(middle), geometry.above_ground_se * (1.0 - np.cos(middle)))
        clearance = np.sqrt(
            HEIGHT_M**2
            + (0.5 * geometry.to_toe * tilt) ** 2
            + (0.3 * lifted) ** 2
            + lever**2
            + (rising * instant[1]) ** 2
        )
        pitch_off = values["foot_pitch_toe_off_deg"]
        heel_lever = np.hypot(
            geometry.to_heel_se * np.sin(pitch_off), geometry.above_ground_se * (1 - np.cos(pitch_off))
        )
        return {
            "stride_length_m": of_length,
            "walking_speed_m_s": float(np.hypot(of_length / time, length / time**2 * 1.4 * self._strike_s)),
            "toe_clearance_min_mm": float(clearance),
            "heel_clearance_max_mm": float(np.sqrt(HEEL_M**2 + up**2 + lifted**2 + heel_lever**2)),
            "circumduction_mm": float(np.hypot(SIDE_M, 0.03 * values["circumduction_mm"])),
        }

    def _missed(self, stride: Stride) -> tuple[float, float]:
        """m, along and in height, that the velocity missing at the end of the swing may have cost on its way."""
        foot, swing = self.data.foot, stride.swing
        node = int(np.searchsorted(foot.anchors, swing.start))
        velocity, time = foot.misclosure[node], (swing.stop - swing.start) / foot.rate_hz
        return MISSED * time * float(np.hypot(*velocity[:2])), MISSED * time * abs(float(velocity[2]))

    def _angles(self, stride: Stride, values: dict[str, float], instant: tuple[float, float]) -> dict[str, float]:
        data = self.data
        tilt, shank_tilt = self._tilts(stride)
        strike, flat = stride.before.heel_strike, stride.before.foot_flat
        rise, off = stride.swing.heel_off, stride.swing.toe_off
        errors = {
            "foot_pitch_heel_strike_deg": _moved(tilt, data.pitch_rate, strike, self._strike_s),
            "foot_pitch_toe_off_deg": _moved(tilt, data.pitch_rate, off, TOE_OFF_S),
        }
        errors["foot_pitch_mid_swing_deg"] = _moved(tilt, data.pitch_rate, *instant)
        shank, shank_rate, ankle_rate = data.shank, data.shank_rate, data.ankle_rate
        if shank is None or shank_rate is None or ankle_rate is None:
            return errors
        zero = float(np.hypot(shank_tilt, shank.reference_se))
        both = float(np.hypot(tilt, zero))
        errors |= {
            "ankle_heel_strike_deg": _moved(both, ankle_rate, strike, self._strike_s),
            "ankle_foot_flat_deg": _moved(both, ankle_rate, flat, FOOT_FLAT_S),
            "ankle_peak_dorsiflexion_deg": both,
            "ankle_mid_swing_deg": _moved(both, ankle_rate, *instant),
            "shank_heel_strike_deg": _moved(zero, shank_rate, strike, self._strike_s),
            "shank_foot_flat_deg": _moved(zero, shank_rate, flat, FOOT_FLAT_S),
            "shank_mid_stance_deg": _moved(zero, shank_rate, 0.5 * (flat + rise), 0.5 * HEEL_OFF_S),
        }
        # The zero cancels in a range; what is left is the tilt's change within a tenth of a second.
        change = _moved(_moved(TILT_FLOOR, ankle_rate, strike, self._strike_s), ankle_rate, flat, FOOT_FLAT_S)
        errors["first_rocker_range_deg"] = change
        fall = abs(values["foot_pitch_heel_strike_deg"]) + 1e-6
        errors["ankle_share"] = float(np.hypot(change, TILT_FLOOR)) / fall
        return errors

    def _rates(self, stride: Stride, values: dict[str, float]) -> dict[str, float]:
        foot = self.data.foot
        strike, flat = stride.before.heel_strike, stride.before.foot_flat
        step = 1.0 / foot.rate_hz
        # A peak between two samples is read too low by what it bends within half a step; short loading bends sharply.
        bend = (step / max((flat - strike) * step, 2.0 * step)) ** 2
        loaded = (strike - self._strike_s * foot.rate_hz, flat + FOOT_FLAT_S * foot.rate_hz)
        rates = {
            "slap_rate_deg_s": (self.data.plantarflexion_rate, SLAP_SCALE),
            "foot_lowering_rate_deg_s": (self.data.lowering_rate, RATE_SCALE),
            "shank_forward_rate_deg_s": (self.data.shank_rate, RATE_SCALE),
        }
        errors = {"push_off_rate_deg_s": float(np.hypot(RATE_FLOOR, RATE_SCALE * values["push_off_rate_deg_s"]))}
        for name, (rate, scale) in rates.items():
            size = abs(values[name])
            edge = 0.5 * (_top(rate, *loaded) - _top(rate, strike + 1.0, flat - 1.0))
            if name == "slap_rate_deg_s":
                size = float(np.hypot(size, 0.4 * values["foot_lowering_rate_deg_s"]))
            errors[name] = float(np.sqrt(RATE_FLOOR**2 + (scale * size) ** 2 + (bend * size) ** 2 + (0.6 * edge) ** 2))
        return errors


def _top(series: FloatArray | None, first: float, last: float) -> float:
    """Greatest value between two sample numbers, the ends by interpolation."""
    if series is None or np.isnan(first + last):
        return float("nan")
    first, last = min(first, last), max(first, last)
    places = np.concatenate([[first, last], np.arange(np.ceil(first), np.floor(last) + 1.0)])
    return float(at(series, places).max())


def _moved(angle: float, rate: FloatArray, place: float, instant_s: float) -> float:
    """An angle's standard error at an event whose instant is uncertain."""
    if np.isnan(place):
        return float("nan")
    return float(np.hypot(angle, instant_s * float(at(rate, np.array([place]))[0])))
