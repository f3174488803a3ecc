"""Units that logs may come in, as factors to SI, and how to name them."""

from __future__ import annotations

from math import pi
from typing import Literal

from firstrocker.model import STANDARD_GRAVITY

TimeUnit = Literal["s", "ms", "us", "ns", "iso8601", "none"]
AccelerationUnit = Literal["m/s^2", "g", "mg"]
AngularVelocityUnit = Literal["rad/s", "deg/s"]

SECONDS: dict[str, float] = {"s": 1.0, "ms": 1e-3, "us": 1e-6, "ns": 1e-9, "iso8601": 1.0}
METRES_PER_SECOND_SQUARED: dict[str, float] = {"m/s^2": 1.0, "g": STANDARD_GRAVITY, "mg": STANDARD_GRAVITY / 1000.0}
RADIANS_PER_SECOND: dict[str, float] = {"rad/s": 1.0, "deg/s": pi / 180.0}


def confusion(ratio: float, units: dict[str, float], *, tolerance: float) -> tuple[str, str] | None:
    """Which unit was declared and which the numbers are in, told by how far the values are off.

    Args:
        ratio: value found / value that must be, in SI units after conversion with the declared unit.
        units: unit -> factor to SI.
        tolerance: how far, as a share, ``ratio`` may lie from the ratio of two units.

    Returns:
        (declared, meant), or None where no two units explain it.

    >>> confusion(0.102, METRES_PER_SECOND_SQUARED, tolerance=0.2)
    ('m/s^2', 'g')
    """
    for declared, factor in units.items():
        for meant, right in units.items():
            if declared != meant and abs(ratio * right / factor - 1.0) <= tolerance:
                return declared, meant
    return None
