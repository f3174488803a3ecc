"""Standard errors of the measures of one stride: what the sensors, the geometry and the anchoring leave unknown."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import sqrt
from types import MappingProxyType

from firstrocker.gait.bouts import Stride
from firstrocker.gait.causes import Causes
from firstrocker.gait.clearance import MidSwing
from firstrocker.gait.measures import Curves

WEIGHTS: Mapping[str, Mapping[str, float]] = MappingProxyType(
    {
        "stride_length_m": {"floor": 0.0013, "scale": 0.0050, "missed": 0.4},
        "walking_speed_m_s": {"floor": 0.0023, "scale": 0.0037, "missed": 0.56, "strike": 0.0037, "slow": 0.25},
        "toe_clearance_min_mm": {
            "floor": 0.00069,
            "tilt": 0.75,
            "scale": 0.0019,
            "missed": 0.044,
            "ruler": 1,
            "instant": 0.57,
            "rival": 0.55,
            "lost": 0.029,
        },
        "heel_clearance_max_mm": {"floor": 0.00082, "scale": 0.006, "missed": 0.041, "ruler": 1, "lost": 0.065},
        "circumduction_mm": {"floor": 0.00038, "scale": 0.033, "length": 0.00078, "missed": 0.023, "lost": 0.023},
        "foot_pitch_heel_strike_deg": {
            "floor": 0.0022,
            "tilt": 1.5,
            "instant": 0.0049,
            "slow": 0.066,
            "lost": 0.91,
            "heading": 0.42,
            "unrest": 0.061,
        },
        "foot_pitch_mid_swing_deg": {
            "floor": 0.0015,
            "tilt": 2.2,
            "instant": 0.31,
            "slow": 0.25,
            "heading": 0.094,
            "unrest": 0.08,
            "rival": 0.55,
        },
        "foot_pitch_toe_off_deg": {"floor": 0.0098, "tilt": 7.2, "instant": 0.0011, "slow": 0.12, "unrest": 0.085},
        "ankle_heel_strike_deg": {
            "floor": 0.0056,
            "zero": 1,
            "shank tilt": 0.42,
            "tilt": 1.6,
            "instant": 0.0083,
            "slow": 0.099,
            "lost": 0.42,
            "heading": 0.2,
            "unrest": 0.1,
        },
        "ankle_foot_flat_deg": {
            "floor": 0.0047,
            "zero": 1,
            "shank tilt": 0.34,
            "tilt": 0.75,
            "instant": 0.0012,
            "slow": 0.11,
            "lost": 0.23,
            "heading": 0.22,
            "unrest": 0.11,
            "undrawn": 0.013,
        },
        "ankle_peak_dorsiflexion_deg": {
            "floor": 0.004,
            "zero": 1,
            "shank tilt": 0.35,
            "tilt": 1.9,
            "lost": 0.42,
            "unrest": 0.085,
        },
        "ankle_mid_swing_deg": {
            "floor": 0.0091,
            "zero": 1,
            "shank tilt": 0.56,
            "tilt": 1.9,
            "instant": 0.41,
            "slow": 0.23,
            "lost": 0.33,
            "heading": 0.5,
            "unrest": 0.11,
            "rival": 0.55,
        },
        "slap_rate_deg_s": {
            "floor": 0.017,
            "unrest": 1.6,
            "scale": 0.026,
            "bend": 0.81,
            "heading": 0.31,
            "lowering": 0.014,
            "edge": 1.6,
        },
        "foot_lowering_rate_deg_s": {
            "floor": 0.023,
            "unrest": 1.3,
            "scale": 0.0024,
            "bend": 0.58,
            "heading": 0.48,
            "lowering": 0.0027,
            "edge": 1.8,
        },
        "first_rocker_range_deg": {
            "floor": 0.0034,
            "unrest": 0.086,
            "instant": 0.0043,
            "flat": 0.0025,
            "slow": 0.052,
            "lost": 0.12,
        },
        "ankle_share": {
            "floor": 0.0018,
            "unrest": 0.1,
            "instant": 0.0043,
            "flat": 0.00015,
            "slow": 0.067,
            "lost": 0.019,
        },
        "push_off_rate_deg_s": {"floor": 0.022, "unrest": 2.1, "scale": 0.0017, "bend": 1.9, "heading": 0.4},
        "shank_heel_strike_deg": {
            "floor": 0.0054,
            "zero": 1,
            "shank tilt": 0.48,
            "instant": 0.0068,
            "slow": 0.36,
            "lost": 0.71,
            "heading": 0.1,
            "unrest": 0.081,
        },
        "shank_foot_flat_deg": {
            "floor": 0.0073,
            "zero": 1,
            "shank tilt": 0.41,
            "instant": 0.00075,
            "slow": 0.15,
            "lost": 0.28,
            "heading": 0.3,
            "unrest": 0.13,
            "undrawn": 0.012,
        },
        "shank_mid_stance_deg": {
            "floor": 0.0068,
            "zero": 1,
            "shank tilt": 0.39,
            "instant": 0.0085,
            "slow": 0.41,
            "lost": 0.25,
            "unrest": 0.13,
        },
        "shank_forward_rate_deg_s": {
            "floor": 0.0043,
            "unrest": 1.4,
            "scale": 0.001,
            "bend": 0.46,
            "lost": 0.23,
            "heading": 0.1,
            "lowering": 0.00057,
            "edge": 0.44,
        },
    }
)
"""By measure and cause. An event's ``instant`` and ``flat`` are in s, ``floor`` in the measure's SI unit, ``lost`` in m
or 1 per s lost; the rest are shares. ``ruler``, ``zero`` and ``rival`` are given. The others were fitted (greatest
likelihood of a normal error, long tails damped) on simulated walks of all kinds, ordinary conditions weighing four
times each of the worse ones of ``synth/validate.py``; seeds 400 to 412 and 500 to 501. The scale of the stride's length
was then raised from 0.0042, towards what earlier fits on more walks had given (0.0047 and 0.0056)."""


@dataclass(frozen=True)
class Errors:
    """The error model of one side of a walk."""

    data: Curves

    def of(self, stride: Stride, values: dict[str, float], middle: MidSwing | None) -> dict[str, float]:
        """Standard errors in SI and radians of the measures that have one.

        Args:
            stride: the stride.
            values: its measures, SI and radians.
            middle: mid-swing, None without one.
        """
        causes = Causes(self.data, stride, values, middle).of()
        return {name: _together(WEIGHTS[name], sizes) for name, sizes in causes.items()}


def _together(weights: Mapping[str, float], sizes: Mapping[str, float]) -> float:
    """The root of the sum of squares; NaN where a cause cannot be had."""
    return sqrt(sum([(weights.get(cause, 0.0) * size) ** 2 for cause, size in sizes.items()]))
