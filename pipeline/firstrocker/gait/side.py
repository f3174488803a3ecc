"""Whether a foot swings out to its own side, as far as that tells left from right."""

from __future__ import annotations

import numpy as np

from firstrocker.gait.bouts import Stride
from firstrocker.model import Finding, FloatArray
from firstrocker.motion.foot import FootMotion

INWARD_M = 0.010
INWARD_SHARE = 0.8
LEAST_STRIDES = 6
"""A foot that swings inwards by more than this in the middle of its swing (median), in this share of its steady
strides, is of the other side, or of a gait that crosses over."""


def outward(strides: list[Stride], foot: FootMotion) -> FloatArray:
    """(k,) m by which the foot is away from the body's side of the straight line between its two places.

    Mean over the middle half of the swing of each steady stride.
    """
    out = []
    for stride in strides:
        own = stride.swing
        if stride.left_out or np.isnan(own.toe_off + own.heel_strike):
            continue
        way = (foot.position[own.stop] - foot.position[own.start])[:2]
        left = np.array([-way[1], way[0]]) / max(float(np.hypot(*way)), 1e-9)
        quarter = 0.25 * (own.heel_strike - own.toe_off)
        middle = slice(int(own.toe_off + quarter), int(own.heel_strike - quarter) + 1)
        aside = float(np.mean((foot.position[middle, :2] - foot.position[own.start, :2]) @ left))
        out.append(aside if foot.side == "left" else -aside)
    return np.array(out)


def side_findings(strides: list[Stride], foot: FootMotion) -> tuple[Finding, ...]:
    """A warning where the foot swings inwards, as it seems to where left and right are exchanged."""
    course = outward(strides, foot)
    if len(course) < LEAST_STRIDES or np.median(course) > -INWARD_M or (course < 0).mean() < INWARD_SHARE:
        return ()
    return (
        Finding(
            "side-doubtful",
            "warning",
            f"This foot swings inwards, by {-1000 * np.median(course):.0f} mm in the middle of its swings, as it would "
            "seem to if left and right were exchanged.",
            "Check 'side' of each log in session.yaml; if it is right, the person crosses over in walking.",
        ),
    )
