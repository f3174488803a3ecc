"""Each walk by itself: how many strides, their centre, their spread, and how sure the centre is."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import pyarrow as pa

from firstrocker.measures import MEASURES
from firstrocker.study.dependence import fit_walk, sampling_variance, weigh
from firstrocker.study.measurement import ErrorShares, common_variance
from firstrocker.study.strides import SideStrides, by_side
from firstrocker.tables import SUMMARY


def summarise(strides: pa.Table, *, shares: Mapping[str, ErrorShares] | None = None) -> pa.Table:
    """Summarise the strides that count, per walk, side and measure.

    ``se`` is the standard error of the mean as a value of that walk: how far it may lie from the mean of endless
    walking in the same way, measured without error. It holds two parts, summed as variances:

    - sampling, honest about strides that resemble each other within a bout and from one to the next
      (:mod:`firstrocker.study.dependence`: the model, and what it assumes);
    - what measurement error the strides of the walk have in common and no number of strides averages out
      (:mod:`firstrocker.study.measurement`). What is drawn anew with each stride is in the scatter already. Unless
      ``shares`` says otherwise all of it is taken as common: an ``se`` never falls below the strides' own.

    Timing and shock have no standard error of their own, so theirs is that of sampling alone.

    Args:
        strides: rows of ``firstrocker.tables.STRIDES``, of one session or of many.
        shares: by column name, what part of the measurement's error variance is common.

    Returns:
        rows of ``firstrocker.tables.SUMMARY``. A measure that no walk of a session and side has is left out; where
        some walk has it, each walk has its row, with n 0 and nulls where it lacks it. sd and se are null under two
        strides, se also where all values are exactly the same: such strides say nothing of how much they vary. sd is
        that of the sample (n - 1), quartiles by linear interpolation.
    """
    rows = [row for side in by_side(strides) for row in _side_rows(side, shares or {})]
    return pa.Table.from_pylist(rows, schema=SUMMARY)


def _side_rows(side: SideStrides, shares: Mapping[str, ErrorShares]) -> list[dict[str, Any]]:
    measured = side.measured
    if not measured:
        return []
    fits = [fit_walk(walk.values, walk.bout, walk.stride) for walk in side.walks]
    grid = weigh(fits)
    rows: list[dict[str, Any]] = []
    for walk, fit in zip(side.walks, fits, strict=True):
        variance = sampling_variance(fit, grid) + common_variance(walk, shares, with_session=True)
        for place in measured:
            values = walk.values[:, place]
            values = values[np.isfinite(values)]
            row: dict[str, Any] = {
                "subject": side.subject,
                "session": side.session,
                "walk": walk.walk,
                "condition": walk.condition,
                "setting": walk.setting,
                "resistance": walk.resistance,
                "side": side.side,
                "measure": MEASURES[place].column,
                "unit": MEASURES[place].unit,
                "n": len(values),
            }
            if len(values) > 0:
                q25, median, q75 = np.quantile(values, [0.25, 0.5, 0.75]).tolist()
                row |= {"mean": float(values.mean()), "median": median, "q25": q25, "q75": q75}
            if len(values) > 1:
                row["sd"] = float(values.std(ddof=1))
                row["se"] = float(np.sqrt(variance[place])) if np.isfinite(variance[place]) else None
            rows.append(row)
    return rows
