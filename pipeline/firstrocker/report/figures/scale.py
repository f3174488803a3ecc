"""Axes that hold all the data and carry few round numbers."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.ticker import MaxNLocator

from firstrocker.report.figures.svg import RULE
from firstrocker.report.numbers import number

_ROOM = 0.06  # of the range, at each end


def reach(values: Sequence[float], *, zero: bool = False) -> tuple[float, float]:
    """A range with some room around finite values; ``zero`` draws it out to zero."""
    finite = [value for value in values if np.isfinite(value)]
    low, high = (min(finite), max(finite)) if finite else (0.0, 1.0)
    if zero:
        low, high = min(low, 0.0), max(high, 0.0)
    if low == high == 0:
        return (0.0, 1.0) if zero else (-1.0, 1.0)
    room = _ROOM * (high - low) or max(abs(high), 1.0) * _ROOM
    return (low if zero and low == 0 else low - room), (high if zero and high == 0 else high + room)


def ticks(low: float, high: float, *, most: int = 5) -> tuple[list[float], list[str]]:
    """Round numbers within a range, and how they are printed."""
    places = MaxNLocator(nbins=most, steps=[1, 2, 5, 10]).tick_values(low, high)
    inside = [float(place) for place in places if low - 1e-9 <= place <= high + 1e-9]
    step = float(places[1] - places[0])
    decimals = max(0, -int(np.floor(np.log10(step) + 1e-9)))
    return inside, [number(place, decimals) for place in inside]


def set_x(axes: Axes, low: float, high: float, *, most: int = 5, lines: bool = False) -> None:
    """Range and numbers of the x axis; ``lines`` draws a rule at each."""
    places, words = ticks(low, high, most=most)
    axes.set_xlim(low, high)
    axes.set_xticks(places, words)
    if lines:
        axes.vlines(places, 0, 1, transform=axes.get_xaxis_transform(), colors=RULE, linewidth=1, zorder=0.5)


def set_y(axes: Axes, low: float, high: float, *, most: int = 5, lines: bool = False) -> None:
    """Range and numbers of the y axis; ``lines`` draws a rule at each."""
    places, words = ticks(low, high, most=most)
    axes.set_ylim(low, high)
    axes.set_yticks(places, words)
    if lines:
        axes.hlines(places, 0, 1, transform=axes.get_yaxis_transform(), colors=RULE, linewidth=1, zorder=0.5)
