"""What the strides of one side of a walk say about whether they can be trusted."""

from __future__ import annotations

import numpy as np
import pyarrow as pa

from firstrocker.gait.bouts import Strides
from firstrocker.model import Finding
from firstrocker.motion.ground import UNKNOWN

MANY_SPOILT = 0.2
"""Share of the strides spoilt by faults of the signal from which the session is flagged."""


def stride_findings(strides: Strides) -> tuple[Finding, ...]:
    """Findings of one side of a walk; the caller fills in walk and side.

    Args:
        strides: all of them, in order.
    """
    found: list[Finding] = []
    spoilt = int((strides.left_out == "quality").sum())
    if not strides.steady.any():
        found.append(
            Finding(
                "no-steady-stride",
                "warning",
                f"None of the {len(strides)} strides counts: each is the first or last of its bout, in a turn, "
                "on stairs or a ramp, in a bout that is too short, or spoilt by a fault of the signal.",
                "Let the person walk at least ten strides straight ahead.",
            )
        )
    uneven = _uneven(strides)
    if uneven:
        found.append(
            Finding(
                "ground-not-level",
                "info",
                f"Of {len(strides)} strides {uneven} do not count, for the measures are of level walking.",
                "Nothing needs to be done; `ground` in strides.parquet tells them apart.",
            )
        )
    if spoilt:
        found.append(spoilt_strides(spoilt, len(strides)))
    return tuple(found)


def spoilt_strides(spoilt: int, count: int) -> Finding:
    """That ``spoilt`` of ``count`` strides were left out for faults of the signal."""
    return Finding(
        "strides-left-out",
        "warning" if spoilt > MANY_SPOILT * count else "info",
        f"{spoilt} of {count} strides were left out because samples were missing, a sensor stood at its limit or did "
        "not see all of the movement, or an event could not be found in them.",
        "Check the strap, the sensor's range and its radio link.",
    )


def _uneven(strides: Strides) -> str:
    """How many strides were left out for the ground they were on, by kind; empty for none."""
    unknown = strides.ground == UNKNOWN
    on_stairs, on_slope = strides.left_out == "stairs", strides.left_out == "slope"
    stairs = int((on_stairs & ~unknown).sum())
    ramps = int((on_slope & ~unknown).sum())
    unclear = int(((on_stairs | on_slope) & unknown).sum())
    parts = (
        (stairs, "on stairs or just off them"),
        (ramps, "on a ramp or just off it"),
        (unclear, "on ground not made out"),
    )
    return " and ".join(f"{count} {where}" for count, where in parts if count)


def clearance_findings(strides: pa.Table) -> tuple[Finding, ...]:
    """What the toe clearances of one side of a walk say of where the sensor sits.

    Args:
        strides: rows of strides.parquet.
    """
    kinds, heights = strides["toe_clearance_kind"], strides["toe_clearance_min_mm"]
    lost = int(np.sum(kinds.is_valid().to_numpy() & heights.is_null().to_numpy()))
    if not lost:
        return ()
    return (
        Finding(
            "toe-below-ground",
            "warning",
            f"In {lost} of {len(strides)} strides the tip of the shoe came out under the ground, so its clearance is "
            "not given: the sensor sits elsewhere on the shoe than the session file says or than was estimated.",
            "Measure the sensor's distance to the tip of the shoe and its height over the floor again.",
        ),
    )
