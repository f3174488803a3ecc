"""Strides of one stretch put behind those of the stretches before: times of the walk's clock, bouts counted on."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from firstrocker.day.stretches import Piece
from firstrocker.tables import STRIDE_EVENTS


@dataclass(frozen=True)
class Joint:
    """Where a side's strides stand so far: the next bout's number, and the next stride's in the last bout."""

    bout: int = 0
    stride: int = 0


def joined(
    strides: pa.Table, curves: pa.Table, piece: Piece, begins: float, before: Joint
) -> tuple[pa.Table, pa.Table, Joint]:
    """A stretch's strides and curves as part of the walk's.

    Args:
        strides: of one side of the stretch, times in s from the stretch's first sample.
        curves: the same strides' curves.
        piece: the stretch; strides that begin outside its own part are another's.
        begins: s of the walk's clock at the stretch's first sample.
        before: where the side's strides stand.

    Returns:
        strides, curves, and where they stand now.
    """
    for name in STRIDE_EVENTS:
        place = strides.schema.get_field_index(name)
        strides = strides.set_column(place, strides.schema.field(place), pc.add(strides[name], begins))
    at = pc.coalesce(*(strides[name] for name in STRIDE_EVENTS[:4])).to_numpy()
    own = (at >= piece.own[0]) & (at < piece.own[1])
    if not own.any():
        return strides.slice(0, 0), curves.slice(0, 0), before
    bouts, numbers = strides["bout"].to_numpy(), strides["stride"].to_numpy()
    first = int(np.flatnonzero(own)[0])
    # A bout that the cut went through goes on under its number.
    goes_on = piece.goes_on and before.bout > 0 and first > 0 and bouts[first - 1] == bouts[first]
    bout_on = before.bout - (1 if goes_on else 0) - int(bouts[first])
    stride_on = before.stride - int(numbers[first]) if goes_on else 0
    after = _numbered(strides.filter(pa.array(own)), int(bouts[first]), bout_on, stride_on)
    pairs = {(int(b), int(n)) for b, n in zip(bouts[own], numbers[own], strict=True)}
    mine = [pair in pairs for pair in zip(curves["bout"].to_pylist(), curves["stride"].to_pylist(), strict=True)]
    shown = _numbered(curves.filter(pa.array(mine, pa.bool_())), int(bouts[first]), bout_on, stride_on)
    last = after.num_rows - 1
    return after, shown, Joint(after["bout"][last].as_py() + 1, after["stride"][last].as_py() + 1)


def _numbered(table: pa.Table, first: int, bout_on: int, stride_on: int) -> pa.Table:
    """The table with its bouts counted on, and the strides of the bout ``first``."""
    bouts = table["bout"].to_numpy()
    numbers = table["stride"].to_numpy() + np.where(bouts == first, stride_on, 0)
    for name, values in (("bout", bouts + bout_on), ("stride", numbers)):
        place = table.schema.get_field_index(name)
        table = table.set_column(place, table.schema.field(place), pa.array(values, pa.int64()))
    return table
