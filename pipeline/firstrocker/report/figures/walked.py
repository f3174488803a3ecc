"""What the pictures draw of each walk: its strides, and its mean with the interval that the mean has by itself."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pyarrow as pa
from scipy.special import stdtrit

from firstrocker.model import FloatArray
from firstrocker.report.figures.looks import Look


@dataclass(frozen=True)
class Mean:
    """A walk's mean of one measure; ``reach``, half the width of its interval, is None where the strides give none."""

    value: float
    reach: float | None
    n: int

    @property
    def low(self) -> float:
        """The interval's lower end, or the mean itself."""
        return self.value - (self.reach or 0.0)

    @property
    def high(self) -> float:
        """The interval's upper end, or the mean itself."""
        return self.value + (self.reach or 0.0)


@dataclass(frozen=True)
class Walked:
    """One walk on one side. ``strides``: column -> (n,) values of the strides that count, NaN where not measured.

    means: column -> mean; columns that the walk lacks are not there.
    """

    walk: str
    look: Look
    strides: Mapping[str, FloatArray]
    means: Mapping[str, Mean] = field(default_factory=dict)

    def has(self, *columns: str) -> bool:
        """Whether every one of these measures has a mean."""
        return all(column in self.means for column in columns)


def walked(
    strides: pa.Table,
    summary: Sequence[Mapping[str, Any]],
    *,
    side: str,
    looks: Mapping[str, Look],
    columns: Sequence[str],
    confidence: float,
) -> list[Walked]:
    """Each walk with strides that count on this side, in the order of ``looks``.

    The interval of a mean is Student's, of its standard error in the summary with n - 1 degrees of freedom.

    Args:
        strides: rows in the schema STRIDES.
        summary: rows in the schema SUMMARY.
        side: left or right.
        looks: walk -> its look.
        columns: the measures in question.
        confidence: of the intervals, for example 0.95.
    """
    counted = strides.select(["walk", "side", "steady", *columns]).to_pydict()
    use = [
        place
        for place, (of_side, steady) in enumerate(zip(counted["side"], counted["steady"], strict=True))
        if steady and of_side == side
    ]
    means: dict[str, dict[str, Mean]] = {}
    for row in summary:
        if row["side"] == side and row["measure"] in columns and row["mean"] is not None:
            means.setdefault(row["walk"], {})[row["measure"]] = _mean(row, confidence)
    found = []
    for walk, look in looks.items():
        mine = [place for place in use if counted["walk"][place] == walk]
        if mine:
            values = {c: np.array([counted[c][place] for place in mine], dtype=np.float64) for c in columns}
            found.append(Walked(walk, look, values, means.get(walk, {})))
    return found


def _mean(row: Mapping[str, Any], confidence: float) -> Mean:
    if row["se"] is None or row["n"] < 2:
        return Mean(row["mean"], None, row["n"])
    return Mean(row["mean"], float(stdtrit(row["n"] - 1, (1 + confidence) / 2) * row["se"]), row["n"])
