"""Readers of the tab-separated tables of optical markers (.trc) and of forces and angles (.mot, .sto)."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

METRES = {"mm": 1e-3, "m": 1.0}


@dataclass(frozen=True)
class Markers:
    """Optical markers.

    time: (n,) s. position: by name, (n, 3) m in world axes x forward, y left, z up; NaN where a marker was not seen.
    """

    time: FloatArray
    position: dict[str, FloatArray]


@dataclass(frozen=True)
class Columns:
    """A table by column name. time: (n,) s. in_degrees: what its header says of angles."""

    time: FloatArray
    column: dict[str, FloatArray]
    in_degrees: bool


def to_world(laboratory: FloatArray) -> FloatArray:
    """(n, 3) from the laboratory's x forward, y up, z right to x forward, y left, z up.

    >>> to_world(np.array([[1.0, 2.0, 3.0]])).tolist()
    [[1.0, -3.0, 2.0]]
    """
    return np.column_stack([laboratory[:, 0], -laboratory[:, 2], laboratory[:, 1]])


def read_trc(path: Path) -> Markers:
    """Read a marker file whose laboratory has x forward, y up, z right.

    Times are counted from the frame numbers: the column is rounded to milliseconds, which on a moving belt would shake
    the markers at a third of the frame rate.
    """
    lines = path.read_text().splitlines()
    header = dict(zip(lines[1].split(), lines[2].split(), strict=False))
    unit, rate = METRES[header["Units"]], float(header["DataRate"])
    names = [name.strip() for name in lines[3].split("\t")[2:] if name.strip()]
    width = 2 + 3 * len(names)
    rows = []
    for line in lines[5:]:
        fields = [float(field) if field.strip() else np.nan for field in line.split("\t")][:width]
        if len(fields) > 2:
            rows.append(fields + [np.nan] * (width - len(fields)))
    table = np.array(rows)
    place = {name: to_world(table[:, 2 + 3 * k : 5 + 3 * k]) * unit for k, name in enumerate(names)}
    frame = table[:, 0] - table[0, 0]
    return Markers(table[0, 1] + frame / rate, place)


def read_columns(path: Path) -> Columns:
    """Read a table of forces, angles or coordinates, every column as it stands."""
    lines = path.read_text().splitlines()
    end = next(k for k, line in enumerate(lines) if line.strip() == "endheader")
    header = dict(line.strip().split("=", 1) for line in lines[:end] if "=" in line)
    names = lines[end + 1].split()
    table = np.array([[float(field) for field in line.split()] for line in lines[end + 2 :] if line.strip()])
    return Columns(
        table[:, 0], dict(zip(names[1:], table[:, 1:].T, strict=True)), header.get("inDegrees", "no").lower() == "yes"
    )


def crossings(time: FloatArray, values: FloatArray, threshold: float) -> tuple[FloatArray, FloatArray]:
    """Instants at which values rise over and fall under a threshold, straight between samples.

    >>> rise, fall = crossings(np.arange(5.0), np.array([0.0, 0.0, 4.0, 4.0, 0.0]), 1.0)
    >>> rise.tolist(), fall.tolist()
    ([1.25], [3.75])
    """
    over = values > threshold
    change = np.flatnonzero(over[1:] != over[:-1])
    part = (threshold - values[change]) / (values[change + 1] - values[change])
    instant = time[change] + part * (time[change + 1] - time[change])
    return instant[~over[change]], instant[over[change]]
