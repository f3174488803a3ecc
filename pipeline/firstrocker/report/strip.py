"""A strip per walk: every stride that counts as a faint dot, the mean with twice its standard error on top."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from firstrocker.measures import BY_COLUMN
from firstrocker.report.numbers import number, unit_of, with_unit

WIDTH, LEFT, RIGHT, ROW, FOOT = 640, 150, 130, 30, 26


def strip(
    column: str, summary: Sequence[Mapping[str, Any]], strides: Mapping[str, Sequence[float]], names: Mapping[str, str]
) -> dict[str, Any] | None:
    """Where everything of the picture lies, in px, for the template to draw.

    Args:
        column: the measure.
        summary: its rows of the summary on one side, one per walk.
        strides: walk -> its values in strides that count.
        names: walk -> how it is called.

    Returns:
        None where no walk has a mean.
    """
    rows = [row for row in summary if row["mean"] is not None]
    if not rows:
        return None
    measure = BY_COLUMN[column]
    ends: list[float] = []
    for row in rows:
        reach = 2 * (row["se"] or 0.0)
        ends += [row["mean"] - reach, row["mean"] + reach, *strides.get(row["walk"], ())]
    ticks = _ticks(min(ends), max(ends))
    low, high = min(ticks[0], min(ends)), max(ticks[-1], max(ends))
    scale = (WIDTH - LEFT - RIGHT) / (high - low)

    def x(value: float) -> float:
        return round(LEFT + (value - low) * scale, 1)

    drawn = []
    for place, row in enumerate(rows):
        mean = with_unit(number(row["mean"], measure.decimals), measure)
        se = row["se"]
        drawn.append(
            {
                "y": ROW // 2 + place * ROW,
                "name": names.get(row["walk"], row["walk"]),
                "braced": row["condition"] == "braced",
                "dots": [x(value) for value in strides.get(row["walk"], ())],
                "mean": x(row["mean"]),
                "low": None if se is None else x(row["mean"] - 2 * se),
                "high": None if se is None else x(row["mean"] + 2 * se),
                "text": f"{mean} (n {row['n']})",
            }
        )
    step = ticks[1] - ticks[0]
    decimals = max(0, -int(np.floor(np.log10(step) + 1e-9)))
    height = ROW * len(rows) + FOOT
    return {
        "label": measure.label,
        "unit": unit_of(measure),
        "width": WIDTH,
        "height": height,
        "left": LEFT,
        "axis": height - FOOT + 2,
        "ticks": [{"x": x(tick), "text": number(tick, decimals)} for tick in ticks],
        "rows": drawn,
    }


def _ticks(low: float, high: float) -> list[float]:
    """Three to seven round numbers inside the range, or just around it where the range is hardly one."""
    span = max(high - low, 1e-6 * max(abs(low), abs(high), 1e-3))
    step = 10.0 ** np.floor(np.log10(span / 3))
    for factor in (1.0, 2.0, 5.0, 10.0):
        if span / (step * factor) <= 6:
            step *= factor
            break
    first, last = np.ceil(low / step - 1e-9), np.floor(high / step + 1e-9)
    if last - first < 1:
        first, last = np.floor(low / step), np.floor(low / step) + 1
    return [float(step * place) for place in np.arange(first, last + 1)]
