"""A strip per walk: every stride that counts as a faint mark, the mean with its interval on top, its number beside."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import chain

import numpy as np
from markupsafe import Markup

from firstrocker.measures import BY_COLUMN
from firstrocker.report.figures import marks
from firstrocker.report.figures.scale import reach, set_x
from firstrocker.report.figures.svg import INK, SOFT, sheet
from firstrocker.report.figures.walked import Walked
from firstrocker.report.numbers import number, with_unit

_ROW, _FOOT, _TOP = 31, 24, 2
_BELOW, _ABOVE = 0.2, -0.12  # of a row: strides a little lower than their mean


def strip(walks: Sequence[Walked], column: str, *, level: str, width: float = 300, name: str = "") -> Markup | None:
    """One measure of each walk.

    Args:
        walks: with the measure among their columns.
        column: the measure.
        level: of the intervals, as printed, with its space behind, or empty.
        width: px.
        name: of the picture's ids; made of the column where empty.

    Returns:
        None where no walk has a mean of it.
    """
    drawn = [walk for walk in walks if walk.has(column)]
    if not drawn:
        return None
    measure = BY_COLUMN[column]
    height = _TOP + _ROW * len(drawn) + _FOOT
    left = 14 + 8.0 * max(len(walk.look.name) for walk in drawn)
    right = 62.0
    with sheet(name or f"strip-{column.replace('_', '-')}", width, height) as surface:
        axes = surface.axes(left, _TOP, width - left - right, _ROW * len(drawn))
        means = [end for walk in drawn for end in (walk.means[column].low, walk.means[column].high)]
        values = [value for value in chain(*(walk.strides[column] for walk in drawn), means) if np.isfinite(value)]
        low, high = reach(values, zero=measure.kind in ("clearance", "shock", "rate") and min(values) >= 0)
        set_x(axes, low, high, most=3, lines=True)
        axes.spines[["left", "bottom"]].set_visible(False)
        axes.set_ylim(len(drawn) - 0.5, -0.5)
        axes.set_yticks([])
        across, beside = axes.get_yaxis_transform(), -10 / (width - left - right)
        for place, walk in enumerate(drawn):
            mean, look = walk.means[column], walk.look
            dots = walk.strides[column]
            marks.strides(axes, look, dots, np.full(len(dots), place + _BELOW), size=4.2)
            marks.interval(axes, look, mean, place + _ABOVE)
            marks.means(axes, look, [mean.value], [place + _ABOVE], size=9)
            axes.text(beside, place, look.name, transform=across, ha="right", va="center_baseline", color=INK)
            text = with_unit(number(mean.value, measure.decimals), measure)
            surface.text(width, _TOP + _ROW * (place + 0.5), text, ha="right", va="center_baseline", color=SOFT)
        return surface.svg(measure.label, _described(drawn, column, level))


def _described(walks: Sequence[Walked], column: str, level: str) -> str:
    measure = BY_COLUMN[column]
    parts = []
    for walk in walks:
        mean = walk.means[column]
        text = f"{walk.look.name}: {with_unit(number(mean.value, measure.decimals), measure)}"
        if mean.reach is not None:
            low, high = (number(end, measure.decimals) for end in (mean.low, mean.high))
            text += f" ({level}interval {low} to {high})"
        parts.append(f"{text}, {mean.n} strides")
    return f"{measure.label} of each walk, its strides and its mean with its interval. " + ". ".join(parts) + "."
