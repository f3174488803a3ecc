"""Where the sensors sat: the axes of each, as they were found or declared, seen from the side."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from markupsafe import Markup
from matplotlib.axes import Axes

from firstrocker.report.evidence import SeatPicture
from firstrocker.report.figures.looks import shortened
from firstrocker.report.figures.svg import INK, PAPER, RULE, SMALL, SOFT, WALK, sheet

_CELL, _LEFT, _TOP = (132, 118), 58, 26
_COLOURS = {"x": WALK[1], "y": WALK[2], "z": WALK[3]}
_ARROW, _END_ON = 0.72, 0.35  # length of a whole axis; shorter than this it is seen end on
_SHOE = np.array(
    [
        (-0.75, -0.62),
        (1.05, -0.62),
        (1.1, -0.45),
        (0.45, -0.2),
        (0.1, 0.15),
        (-0.1, 0.45),
        (-0.62, 0.45),
        (-0.75, -0.62),
    ]
)
_SHANK = np.array([(-0.28, -0.95), (-0.34, 0.95), (0.34, 0.95), (0.22, -0.95), (-0.28, -0.95)])


def seats(pictures: Sequence[SeatPicture], names: Mapping[str, str], *, side: str) -> Markup | None:
    """One small picture per walk and segment, forward to the right; the sensor's own axes x, y and z as arrows.

    Args:
        pictures: of any walks and sides.
        names: walk -> how it is called.
        side: the side that is drawn.

    Returns:
        None where that side has none.
    """
    mine = [one for one in pictures if one.side == side]
    if not mine:
        return None
    walks = list(dict.fromkeys(one.walk for one in mine))
    segments = [segment for segment in ("foot", "shank") if any(one.segment == segment for one in mine)]
    width, height = _LEFT + _CELL[0] * len(walks), _TOP + _CELL[1] * len(segments)
    with sheet("seats", width, height) as surface:
        for column, walk in enumerate(walks):
            middle = _LEFT + _CELL[0] * (column + 0.5)
            surface.text(middle, 14, shortened(names.get(walk, walk)), ha="center", va="baseline")
        for row, segment in enumerate(segments):
            surface.text(0, _TOP + _CELL[1] * (row + 0.5), segment, va="center_baseline")
        for one in mine:
            left = _LEFT + _CELL[0] * walks.index(one.walk)
            axes = surface.axes(left, _TOP + _CELL[1] * segments.index(one.segment), *_CELL)
            _seat(axes, one)
        return surface.svg("How the sensors sat", _described(mine, names))


def _seat(axes: Axes, seat: SeatPicture) -> None:
    axes.set_axis_off()
    half = 1.15
    axes.set_xlim(-half * _CELL[0] / _CELL[1], half * _CELL[0] / _CELL[1])
    axes.set_ylim(-half, half)
    outline = _SHOE if seat.segment == "foot" else _SHANK
    axes.plot(*outline.T, color=RULE, linewidth=1.6, zorder=1, solid_joinstyle="round")
    at_end = []
    for name, (forward, left, up) in seat.axes.items():
        tip = _ARROW * np.array([forward, up])
        if np.hypot(forward, up) < _END_ON:
            at_end.append((name, left))
            continue
        axes.annotate(
            "",
            xy=(float(tip[0]), float(tip[1])),
            xytext=(0, 0),
            arrowprops={"arrowstyle": "-|>", "color": _COLOURS[name], "linewidth": 1.8, "shrinkA": 0, "shrinkB": 0},
            zorder=3,
        )
        away = tip * (1 + 0.2 / np.hypot(*tip))
        axes.text(
            float(away[0]),
            float(away[1]),
            name,
            ha="center",
            va="center_baseline",
            color=INK,
            size=SMALL,
            zorder=5,
            gid="class:halo-small",
        )
    axes.plot([0], [0], marker="s", markersize=10, markerfacecolor=PAPER, markeredgecolor=SOFT, zorder=3.5)
    for name, left in at_end:  # away from who looks from the right is a cross, towards them a dot
        axes.plot([0], [0], marker="x" if left > 0 else "o", markersize=5, color=_COLOURS[name], zorder=4)
        axes.text(
            0.2, -0.22, name, ha="center", va="center_baseline", color=INK, size=SMALL, zorder=5, gid="class:halo-small"
        )


def _described(seats_drawn: Sequence[SeatPicture], names: Mapping[str, str]) -> str:
    words = ("forward", "left", "up")
    parts = []
    for seat in seats_drawn:
        points = []
        for name, direction in seat.axes.items():
            place = int(np.argmax(np.abs(direction)))
            opposite = {"forward": "backward", "left": "right", "up": "down"}
            towards = words[place] if direction[place] > 0 else opposite[words[place]]
            points.append(f"{name} mostly {towards}")
        parts.append(f"{names.get(seat.walk, seat.walk)}, {seat.segment}: {', '.join(points)}")
    return "The axes of each sensor seen from the right, walking to the right. " + "; ".join(parts) + "."
