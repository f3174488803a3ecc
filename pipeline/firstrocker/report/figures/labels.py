"""Where direct labels go: beside what they name, over as little else as can be."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from firstrocker.model import FloatArray

_LETTER, _LINE = 8.4, 17.0  # px of a letter and of a line, of text of the body's size

Box = tuple[float, float, float, float]


def beside(
    anchors: Sequence[tuple[float, float]],
    reaches: Sequence[tuple[float, float]],
    words: Sequence[str],
    marks: FloatArray,
    frame: Box,
) -> list[tuple[float, float]]:
    """Centres of labels, px.

    Args:
        anchors: what each names, px.
        reaches: half-widths and half-heights that each anchor takes up, px.
        words: the labels.
        marks: (n, 2) px of what should stay in sight.
        frame: left, lower, right and upper edge that labels stay within.
    """
    taken: list[Box] = [(x - rx, y - 3, x + rx, y + 3) for (x, y), (rx, _) in zip(anchors, reaches, strict=True)]
    taken += [(x - 3, y - ry, x + 3, y + ry) for (x, y), (_, ry) in zip(anchors, reaches, strict=True)]
    placed: list[tuple[float, float]] = []
    for (x, y), (reach_x, reach_y), word in zip(anchors, reaches, words, strict=True):
        half_width, half_height = _LETTER * len(word) / 2, _LINE / 2
        best: tuple[float, tuple[float, float], Box] | None = None
        for order, (dx, dy) in enumerate(_directions(reach_x, reach_y, half_width, half_height)):
            centre = (x + dx, y + dy)
            box = (centre[0] - half_width, centre[1] - half_height, centre[0] + half_width, centre[1] + half_height)
            cost = order * 0.05 + _cost(box, taken, marks, frame)
            if best is None or cost < best[0]:
                best = (cost, centre, box)
        if best is None:  # no direction at all; cannot be
            continue
        placed.append(best[1])
        taken.append(best[2])
    return placed


def _directions(reach_x: float, reach_y: float, width: float, height: float) -> list[tuple[float, float]]:
    near = [
        (sx * (13 + width), sy * (6 + height)) for sx, sy in ((1, 1), (-1, 1), (1, -1), (-1, -1))
    ]  # in the cross's quarters
    beyond = [
        (reach_x + 8 + width, 0),
        (-reach_x - 8 - width, 0),
        (0, reach_y + 6 + height),
        (0, -reach_y - 6 - height),
    ]
    far = [(sx * (reach_x + 20 + width), sy * (reach_y + 16 + height)) for sx in (1, -1) for sy in (1, -1)]
    return near + beyond + far


def _cost(box: Box, taken: Sequence[Box], marks: FloatArray, frame: Box) -> float:
    left, lower, right, upper = box
    out = max(frame[0] - left, 0) + max(frame[1] - lower, 0) + max(right - frame[2], 0) + max(upper - frame[3], 0)
    over = sum(left < b[2] and right > b[0] and lower < b[3] and upper > b[1] for b in taken)
    inside = (
        (marks[:, 0] > left - 4) & (marks[:, 0] < right + 4) & (marks[:, 1] > lower - 4) & (marks[:, 1] < upper + 4)
    )
    return 10.0 * out + 8.0 * over + float(inside.sum())


def spread(wanted: Sequence[float], *, gap: float, low: float, high: float) -> list[float]:
    """Heights near those wanted, at least ``gap`` apart, within a range if there is room, in the same order.

    >>> spread([10, 11, 40], gap=14, low=0, high=100)
    [3.5, 17.5, 40.0]
    """
    order = np.argsort(np.asarray(wanted, dtype=np.float64), kind="stable")
    groups: list[list[float]] = []  # sum of what is wanted less its own place in the group, members
    for place in order:
        groups.append([float(wanted[place]), 1.0])
        while len(groups) > 1 and _start(groups[-2], gap, low, high) + gap * groups[-2][1] > _start(
            groups[-1], gap, low, high
        ):
            total, members = groups.pop()
            groups[-1] = [groups[-1][0] + total - members * groups[-1][1] * gap, groups[-1][1] + members]
    heights = [_start(group, gap, low, high) + gap * step for group in groups for step in range(int(group[1]))]
    found = np.empty(len(wanted))
    found[order] = heights
    return [float(height) for height in found]


def _start(group: list[float], gap: float, low: float, high: float) -> float:
    total, members = group
    return float(max(min(total / members, high - gap * (members - 1)), low))
