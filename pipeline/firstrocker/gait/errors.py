"""Standard errors of the measures of one stride: what the sensors, the geometry and the anchoring leave unknown."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from firstrocker.gait.bouts import Stride
from firstrocker.gait.causes import Causes
from firstrocker.gait.clearance import MidSwing
from firstrocker.gait.measures import Curves

WEIGHTS: dict[str, dict[str, float]] = {}


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
        return {
            name: float(
                np.sqrt(sum((WEIGHTS.get(name, {}).get(cause, 0.0) * size) ** 2 for cause, size in sizes.items()))
            )
            for name, sizes in causes.items()
        }
