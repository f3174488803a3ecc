"""What the strides of one side of a walk say about whether they can be trusted."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from firstrocker.gait.bouts import Stride
from firstrocker.model import Finding
from firstrocker.motion.ground import UNKNOWN

MANY_SPOILT = 0.2
"""Share of the strides spoilt by faults of the signal from which the session is flagged."""


def stride_findings(strides: list[Stride]) -> tuple[Finding, ...]:
    """Findings of one side of a walk; the caller fills in walk and side.

    Args:
        strides: all of them, in order.
    """
    found: list[Finding] = []
    counting = sum(not s.left_out for s in strides)
    spoilt = sum(s.left_out == "quality" for s in strides)
    if not counting:
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


def _uneven(strides: list[Stride]) -> str:
    """How many strides were left out for the ground they were on, by kind; empty for none."""
    kinds = [(s.left_out, s.ground) for s in strides if s.left_out in ("stairs", "slope")]
    unclear = sum(ground == UNKNOWN for _, ground in kinds)
    stairs = sum(reason == "stairs" and ground != UNKNOWN for reason, ground in kinds)
    ramps = len(kinds) - unclear - stairs
    parts = (
        (stairs, "on stairs or just off them"),
        (ramps, "on a ramp or just off it"),
        (unclear, "on ground not made out"),
    )
    return " and ".join(f"{count} {where}" for count, where in parts if count)


def clearance_findings(rows: Sequence[Mapping[str, object]]) -> tuple[Finding, ...]:
    """What the toe clearances of one side of a walk say of where the sensor sits.

    Args:
        rows: of strides.parquet.
    """
    lost = sum(row["toe_clearance_min_mm"] is None and row["toe_clearance_kind"] is not None for row in rows)
    if not lost:
        return ()
    return (
        Finding(
            "toe-below-ground",
            "warning",
            f"In {lost} of {len(rows)} strides the tip of the shoe came out under the ground, so its clearance is not "
            "given: the sensor sits elsewhere on the shoe than the session file says or than was estimated.",
            "Measure the sensor's distance to the tip of the shoe and its height over the floor again.",
        ),
    )
