"""The marks of strides and means, alike in every picture."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.axes import Axes

from firstrocker.model import FloatArray
from firstrocker.report.figures.looks import Look
from firstrocker.report.figures.svg import PAPER
from firstrocker.report.figures.walked import Mean


def strides(axes: Axes, look: Look, x: FloatArray, y: FloatArray, *, size: float) -> None:
    """A small faint mark for each stride."""
    axes.plot(
        x,
        y,
        marker=look.shape,
        markersize=size,
        markerfacecolor=look.fill,
        markeredgecolor=look.colour,
        markeredgewidth=0.9,
        alpha=0.65,
        linestyle="none",
        zorder=2,
        clip_on=False,
    )


def means(axes: Axes, look: Look, x: Sequence[float], y: Sequence[float], *, size: float) -> None:
    """A large mark for each mean."""
    hollow = look.fill == PAPER
    axes.plot(
        x,
        y,
        marker=look.shape,
        markersize=size,
        markerfacecolor=look.fill,
        markeredgecolor=look.colour if hollow else PAPER,
        markeredgewidth=size * (0.2 if hollow else 0.11),
        linestyle="none",
        zorder=4,
        clip_on=False,
    )


def interval(axes: Axes, look: Look, mean: Mean, other: float, *, upright: bool = False, width: float = 2.4) -> None:
    """A bar over the interval of a mean, at a place of the other axis; nothing where there is no interval."""
    if mean.reach is None:
        return
    along, across = [mean.low, mean.high], [other, other]
    x, y = (across, along) if upright else (along, across)
    for colour, thick, order in ((PAPER, width + 3, 1.5), (look.colour, width, 3)):
        axes.plot(x, y, color=colour, linewidth=thick, zorder=order, clip_on=False)
