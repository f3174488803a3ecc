"""Standard errors of strides' measures: what the sensors, the geometry and the anchoring leave unknown."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

import numpy as np

from firstrocker.gait.bouts import Strides
from firstrocker.gait.causes import Causes, Sizes
from firstrocker.gait.clearance import MidSwings
from firstrocker.gait.measures import Columns, Curves
from firstrocker.model import FloatArray

WEIGHTS: Mapping[str, Mapping[str, float]] = MappingProxyType(
    {
        "stride_length_m": {"floor": 0.0016, "scale": 0.0036, "missed": 0.48, "rolled": 1.2, "long": 0.004},
        "walking_speed_m_s": {
            "floor": 0.0022,
            "scale": 0.0034,
            "missed": 0.45,
            "rolled": 1.2,
            "long": 0.004,
            "strike": 0.0011,
            "slow": 0.51,
        },
        "toe_clearance_min_mm": {
            "floor": 0.00055,
            "tilt": 0.54,
            "scale": 0.0011,
            "missed": 0.055,
            "ruler": 1,
            "instant": 0.43,
            "rival": 0.55,
            "lost": 0.025,
            "heading": 0.15,
            "axis": 0.8,
        },
        "heel_clearance_max_mm": {
            "floor": 0.00052,
            "scale": 0.0041,
            "missed": 0.054,
            "long": 0.002,
            "ruler": 1,
            "lost": 0.024,
        },
        "circumduction_mm": {
            "floor": 0.00037,
            "scale": 0.014,
            "length": 0.00055,
            "missed": 0.02,
            "long": 0.0012,
            "lost": 0.019,
        },
        "foot_pitch_heel_strike_deg": {
            "floor": 0.0043,
            "tilt": 0.47,
            "instant": 0.0036,
            "slow": 0.12,
            "heading": 0.11,
            "axis": 0.8,
            "unrest": 0.063,
        },
        "foot_pitch_mid_swing_deg": {
            "floor": 0.0032,
            "tilt": 0.62,
            "instant": 0.3,
            "slow": 0.23,
            "lost": 0.069,
            "heading": 0.086,
            "axis": 0.8,
            "unrest": 0.075,
            "rival": 0.55,
        },
        "foot_pitch_toe_off_deg": {
            "floor": 0.011,
            "tilt": 1.5,
            "instant": 0.0017,
            "slow": 0.15,
            "heading": 0.19,
            "axis": 0.8,
            "unrest": 0.092,
        },
        "ankle_heel_strike_deg": {
            "floor": 0.006,
            "zero": 1,
            "shank tilt": 0.34,
            "tilt": 0.38,
            "instant": 0.0034,
            "slow": 0.13,
            "heading": 0.061,
            "axis": 0.8,
            "unrest": 0.12,
        },
        "ankle_foot_flat_deg": {
            "floor": 0.0046,
            "zero": 1,
            "shank tilt": 0.37,
            "tilt": 0.35,
            "instant": 0.00096,
            "slow": 0.1,
            "heading": 0.28,
            "axis": 0.8,
            "unrest": 0.14,
            "undrawn": 0.0077,
        },
        "ankle_peak_dorsiflexion_deg": {
            "floor": 0.0045,
            "zero": 1,
            "shank tilt": 0.34,
            "tilt": 0.32,
            "lost": 0.043,
            "unrest": 0.11,
        },
        "ankle_mid_swing_deg": {
            "floor": 0.0075,
            "zero": 1,
            "shank tilt": 0.53,
            "tilt": 0.48,
            "instant": 0.67,
            "slow": 0.14,
            "heading": 0.095,
            "axis": 0.8,
            "unrest": 0.14,
            "rival": 0.55,
        },
        "slap_rate_deg_s": {
            "floor": 0.022,
            "unrest": 1.6,
            "scale": 0.018,
            "bend": 0.42,
            "lost": 3,
            "heading": 0.23,
            "axis": 0.8,
            "lowering": 0.0095,
            "edge": 1.1,
            "blur": 0.17,
            "coarse": 1.5,
        },
        "foot_lowering_rate_deg_s": {
            "floor": 0.0049,
            "unrest": 1.4,
            "scale": 0.002,
            "bend": 0.54,
            "heading": 0.26,
            "axis": 0.8,
            "lowering": 0.002,
            "edge": 1.3,
            "blur": 0.33,
            "coarse": 1.4,
        },
        "first_rocker_range_deg": {
            "floor": 0.0029,
            "unrest": 0.095,
            "instant": 0.0015,
            "flat": 0.0028,
            "slow": 0.058,
            "lost": 0.033,
        },
        "ankle_share": {
            "floor": 0.0017,
            "unrest": 0.088,
            "instant": 0.0042,
            "flat": 0.00015,
            "slow": 0.12,
            "lost": 0.017,
        },
        "push_off_rate_deg_s": {
            "floor": 0.014,
            "unrest": 1.9,
            "scale": 0.0058,
            "bend": 0.76,
            "lost": 0.077,
            "heading": 0.2,
            "axis": 0.8,
            "sampling": 0.39,
        },
        "shank_heel_strike_deg": {
            "floor": 0.0024,
            "zero": 1,
            "shank tilt": 0.37,
            "instant": 0.0033,
            "slow": 0.16,
            "heading": 0.062,
            "unrest": 0.1,
        },
        "shank_foot_flat_deg": {
            "floor": 0.0036,
            "zero": 1,
            "shank tilt": 0.42,
            "instant": 0.00058,
            "slow": 0.15,
            "heading": 0.28,
            "unrest": 0.16,
            "undrawn": 0.0068,
        },
        "shank_mid_stance_deg": {
            "floor": 0.0017,
            "zero": 1,
            "shank tilt": 0.35,
            "instant": 0.008,
            "slow": 0.23,
            "heading": 0.23,
            "unrest": 0.12,
        },
        "shank_forward_rate_deg_s": {
            "floor": 0.005,
            "unrest": 1.4,
            "scale": 0.0011,
            "bend": 0.38,
            "lost": 1.2,
            "heading": 0.14,
            "edge": 0.47,
            "blur": 0.13,
            "coarse": 0.65,
        },
    }
)
"""By measure and cause. An event's ``instant`` and ``flat`` are in s, ``floor`` in the measure's SI unit, ``lost`` in m
or 1 per s lost; the rest are shares. ``ruler``, ``zero`` and ``rival`` are given; ``rolled`` was set on six walks of a
real foot against optics, for simulated feet stand too still to tell. The others were fitted (greatest likelihood of a
normal error, long tails damped) on simulated walks of all kinds, no two of which share a person or a sensor, ordinary
conditions weighing four times each of the worse ones of ``synth/validate.py``; seeds 300,000 to 310,800.
Those of the three rates in loading were fitted on walks of their own (seeds 540,000 to 574,000), some with other
filters in their sensors; ``coarse``, ``bend`` and ``lost`` were then set higher, for few samples blur all rates alike
and the kind whose rates jump was covered least. ``heading`` of toe clearance was fitted alone, on hemiparetic
walks (seeds 310,000 to 310,019), for it matters in theirs alone."""


def standard_errors(data: Curves, strides: Strides, values: Columns, middle: MidSwings) -> Columns:
    """Standard errors (k,) in SI and radians of the measures that have one.

    Args:
        data: the curves they were measured on.
        strides: k of them.
        values: their measures, SI and radians.
        middle: their mid-swings.

    Returns:
        By measure; NaN where a cause cannot be had.
    """
    causes = Causes(data, strides, values, middle).of()
    return {name: _together(WEIGHTS[name], sizes) for name, sizes in causes.items()}


def _together(weights: Mapping[str, float], sizes: Sizes) -> FloatArray:
    """The root of the sum of squares."""
    return np.sqrt(sum((weights.get(cause, 0.0) * size) ** 2 for cause, size in sizes.items()))
