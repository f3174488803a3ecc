"""Standard errors of the measures of one stride: what the sensors, the geometry and the anchoring leave unknown."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from firstrocker.gait.bouts import Stride
from firstrocker.gait.measures import Curves

TILT_FLOOR = np.radians(0.35)  # rad; what smoothing, scale and mounting leave even after perfect anchoring


@dataclass(frozen=True)
class Errors:
    """The error model of one side of a walk."""

    data: Curves

    def of(self, stride: Stride, values: dict[str, float]) -> dict[str, float]:
        """Standard errors in SI and radians of the measures that have one.

        Args:
            stride: the stride.
            values: its measures, SI and radians.
        """
        foot, shank = self.data.foot, self.data.shank
        geometry = foot.geometry
        node = int(np.searchsorted(foot.anchors, stride.swing.start))
        pitch = float(np.hypot(foot.tilt_se[node : node + 2].max(), TILT_FLOOR))
        tilt = 0.0 if shank is None else float(np.hypot(shank.tilt_se[node : node + 2].max(), shank.reference_se))
        ankle = float(np.hypot(pitch, tilt))
        middle = np.nan_to_num(values["foot_pitch_mid_swing_deg"])
        clearance = np.sqrt(
            0.002**2
            + (geometry.to_toe * 0.5 * pitch) ** 2
            + (geometry.to_toe_se * np.sin(middle)) ** 2
            + (geometry.above_ground_se * (1.0 - np.cos(middle))) ** 2
        )
        length = 0.010
        return {
            "stride_length_m": length,
            "walking_speed_m_s": length / max(values["stride_time_s"], 1e-3),
            "toe_clearance_min_mm": float(clearance),
            "heel_clearance_max_mm": float(np.hypot(0.004, geometry.to_heel_se)),
            "circumduction_mm": 0.005,
            "ankle_share": 0.05,
        } | {
            name: (pitch if name.startswith("foot") else tilt if name.startswith("shank") else ankle)
            * (15.0 if name.endswith("deg_s") else 1.0)
            for name in values
            if name.endswith(("_deg", "_deg_s"))
        }
