"""The strides that count, walk by walk, as arrays: what every other module of this leg starts from."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pyarrow as pa

from firstrocker.measures import MEASURES
from firstrocker.model import FloatArray, IntArray

REPEAT_GAP = 10_000
"""Bouts of the n-th walk in a pool are counted from n times this: no bout of one walk is one of another."""


@dataclass(frozen=True)
class WalkStrides:
    """The counted strides of one walk and side, in the order of bout and stride.

    values, errors: (n, m) in table units, m the measures of :data:`firstrocker.measures.MEASURES`; NaN where a stride
    has no value or no standard error. bout, stride: (n,).
    """

    walk: str
    condition: str
    setting: str | None
    resistance: float | None
    values: FloatArray
    errors: FloatArray
    bout: IntArray
    stride: IntArray

    @property
    def counts(self) -> IntArray:
        """(m,) strides that have a value of each measure."""
        return np.asarray(np.isfinite(self.values).sum(axis=0), dtype=np.int64)


@dataclass(frozen=True)
class SideStrides:
    """One session's walks of one side, in session order (the order of their first rows)."""

    subject: str
    session: str
    side: str
    walks: tuple[WalkStrides, ...]

    @property
    def measured(self) -> list[int]:
        """The measures, as places in ``MEASURES``, that at least one counted stride of one walk has."""
        if not self.walks:
            return []
        found = np.any([walk.counts > 0 for walk in self.walks], axis=0)
        return [int(place) for place in np.flatnonzero(found)]


def by_side(strides: pa.Table) -> list[SideStrides]:
    """Sort a table of strides into sessions, sides and walks.

    A walk that has strides on a side but none that counts stays, with no rows: that it lacks them is told.

    Args:
        strides: rows of ``firstrocker.tables.STRIDES``, of one session or of many. Only rows with ``steady`` True
            give values.

    Returns:
        sessions by first appearance, left before right, walks by first appearance.
    """
    walks: dict[tuple[str, str], dict[str, dict[str, list[int]]]] = {}
    columns = (strides.column(name).to_pylist() for name in ("subject", "session", "side", "walk"))
    for row, (subject, session, side, walk) in enumerate(zip(*columns, strict=True)):
        walks.setdefault((subject, session), {}).setdefault(side, {}).setdefault(walk, []).append(row)

    values = _matrix(strides, [measure.column for measure in MEASURES])
    errors = _matrix(strides, [f"{measure.column}_se" for measure in MEASURES])
    steady = np.array([value is True for value in strides.column("steady").to_pylist()], dtype=bool)
    bout = _integers(strides, "bout")
    stride = _integers(strides, "stride")
    conditions = strides.column("condition").to_pylist()
    settings = strides.column("setting").to_pylist()
    resistances = strides.column("resistance").to_pylist()

    found: list[SideStrides] = []
    for (subject, session), sides in walks.items():
        for side in sorted(sides):
            ordered: list[WalkStrides] = []
            for walk, rows in sides[side].items():
                first = rows[0]
                every = np.array(rows, dtype=np.int64)
                counted = every[steady[every]]
                counted = counted[np.lexsort((stride[counted], bout[counted]))]
                ordered.append(
                    WalkStrides(
                        walk=walk,
                        condition=conditions[first],
                        setting=settings[first],
                        resistance=resistances[first],
                        values=values[counted],
                        errors=errors[counted],
                        bout=bout[counted],
                        stride=stride[counted],
                    )
                )
            found.append(SideStrides(subject, session, side, tuple(ordered)))
    return found


def pooled(walks: list[WalkStrides]) -> WalkStrides:
    """Several walks of one condition and setting as one, every bout of every walk kept apart."""
    if len(walks) == 1:
        return walks[0]
    first = walks[0]
    return WalkStrides(
        walk=min(walk.walk for walk in walks),
        condition=first.condition,
        setting=first.setting,
        resistance=first.resistance,
        values=np.concatenate([walk.values for walk in walks]),
        errors=np.concatenate([walk.errors for walk in walks]),
        bout=np.concatenate([walk.bout + place * REPEAT_GAP for place, walk in enumerate(walks)]),
        stride=np.concatenate([walk.stride for walk in walks]),
    )


def _matrix(strides: pa.Table, columns: list[str]) -> FloatArray:
    """Those columns side by side; a column the table does not have (or infinity) is NaN."""
    matrix = np.full((strides.num_rows, len(columns)), np.nan)
    known = set(strides.column_names)
    for place, name in enumerate(columns):
        if name in known:
            matrix[:, place] = strides.column(name).to_numpy()
    matrix[~np.isfinite(matrix)] = np.nan
    return matrix


def _integers(strides: pa.Table, column: str) -> IntArray:
    return np.asarray(strides.column(column).to_numpy(), dtype=np.int64)
