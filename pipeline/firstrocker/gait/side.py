"""Whether a foot swings out to its own side, as far as that tells left from right."""

from __future__ import annotations

import numpy as np

from firstrocker.gait.bouts import Strides
from firstrocker.gait.events import Swings
from firstrocker.gait.windows import Windows, spanning, whole
from firstrocker.model import Finding, FloatArray
from firstrocker.motion.foot import FootMotion

INWARD_M = 0.010
INWARD_SHARE = 0.8
LEAST_STRIDES = 6
"""A foot that swings inwards by more than this in the middle of its swing (median), in this share of its steady
strides, is of the other side, or of a gait that crosses over."""


def aside(foot: FootMotion, swings: Swings, windows: Windows) -> FloatArray:
    """(m,) m by which the foot is away from the body's side of the straight line between its two places.

    Args:
        foot: the foot's motion.
        swings: (k,).
        windows: (k,) samples of each, m in all.
    """
    way = (foot.position[swings.stop] - foot.position[swings.start])[:, :2]
    length = np.maximum(np.hypot(way[:, 0], way[:, 1]), 1e-9)
    out = np.stack([-way[:, 1], way[:, 0]], axis=1) / (length if foot.side == "left" else -length)[:, None]
    away = windows.of(foot.position[:, :2]) - windows.each(foot.position[swings.start, :2])
    return np.asarray((away * windows.each(out)).sum(axis=1))


def outward(strides: Strides, foot: FootMotion) -> FloatArray:
    """(k,) m of :func:`aside`, its mean over the middle half of the swing of each steady stride."""
    seen = strides.swing.those(strides.steady & ~np.isnan(strides.swing.toe_off + strides.swing.heel_strike))
    quarter = 0.25 * (seen.heel_strike - seen.toe_off)
    middle = spanning(whole(seen.toe_off + quarter), whole(seen.heel_strike - quarter))
    return middle.mean(aside(foot, seen, middle))


def side_findings(strides: Strides, foot: FootMotion) -> tuple[Finding, ...]:
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
