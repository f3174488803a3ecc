"""The picture that carries the fitting decision: how fast the foot slaps against how fast the shank is driven on."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import chain

import numpy as np
from markupsafe import Markup
from matplotlib.axes import Axes

from firstrocker.measures import BY_COLUMN
from firstrocker.model import FloatArray
from firstrocker.report.figures import marks
from firstrocker.report.figures.labels import beside
from firstrocker.report.figures.scale import reach, set_x, set_y
from firstrocker.report.figures.svg import INK, SMALL, SOFT, sheet
from firstrocker.report.figures.walked import Walked
from firstrocker.report.numbers import number, unit_of, with_unit

SLAP, SHANK, LOWERING = "slap_rate_deg_s", "shank_forward_rate_deg_s", "foot_lowering_rate_deg_s"
_WIDTH, _HEIGHT = 620, 540
_LEFT, _TOP, _RIGHT, _FOOT = 50, 58, 14, 74


def balance(walks: Sequence[Walked], *, level: str) -> Markup | None:
    """Strides and centres of each walk, slap rate to the right and shank forward rate upwards.

    Args:
        walks: with both measures among their columns; walks that lack one are not drawn.
        level: of the intervals, as printed, with its space behind: "95 % ", or empty.

    Returns:
        None where no walk has both measures.
    """
    drawn = [walk for walk in walks if walk.has(SLAP, SHANK)]
    if not drawn:
        return None
    with sheet("balance", _WIDTH, _HEIGHT) as surface:
        axes = surface.axes(_LEFT, _TOP, _WIDTH - _LEFT - _RIGHT, _HEIGHT - _TOP - _FOOT)
        _scale(axes, drawn)
        for walk in drawn:
            _cloud(axes, walk)
        for walk in drawn:
            _centre(axes, walk)
        _name(axes, drawn)
        quiet = {"size": SMALL + 1, "color": SOFT}
        surface.text(0, 16, f"Shank forward rate, {unit_of(BY_COLUMN[SHANK])}", va="baseline")
        surface.text(0, 36, "\u2191 the shank is driven forward: too much resistance", va="baseline", **quiet)
        right = _WIDTH - _RIGHT
        surface.text(right, _HEIGHT - 28, f"Slap rate, {unit_of(BY_COLUMN[SLAP])}", ha="right", va="baseline")
        surface.text(
            right, _HEIGHT - 8, "the foot slaps: too little resistance \u2192", ha="right", va="baseline", **quiet
        )
        return surface.svg("Slap against shank driven forward", _described(drawn, level))


def _scale(axes: Axes, walks: Sequence[Walked]) -> None:
    for column, setter in ((SLAP, set_x), (SHANK, set_y)):
        ends = [end for walk in walks for end in (walk.means[column].low, walk.means[column].high)]
        values = list(chain(*(walk.strides[column].tolist() for walk in walks), ends))
        finite = [value for value in values if np.isfinite(value)]
        low, high = reach(finite, zero=min(finite) < 0.5 * max(finite))
        setter(axes, low, high, most=6, lines=True)
    axes.spines[["left", "bottom"]].set_visible(False)


def _cloud(axes: Axes, walk: Walked) -> None:
    """Every stride, joined to the centre by a thread: what belongs together is seen without colour too."""
    x, y = walk.strides[SLAP], walk.strides[SHANK]
    threads = np.full((len(x), 3, 2), np.nan)  # centre, stride, nothing: one broken line
    threads[:, 0] = walk.means[SLAP].value, walk.means[SHANK].value
    threads[:, 1] = np.column_stack([x, y])
    axes.plot(*threads.reshape(-1, 2).T, color=walk.look.colour, linewidth=0.8, alpha=0.3, zorder=1)
    marks.strides(axes, walk.look, x, y, size=5)


def _centre(axes: Axes, walk: Walked) -> None:
    x, y, look = walk.means[SLAP], walk.means[SHANK], walk.look
    marks.interval(axes, look, x, y.value)
    marks.interval(axes, look, y, x.value, upright=True)
    marks.means(axes, look, [x.value], [y.value], size=12)


def _name(axes: Axes, walks: Sequence[Walked]) -> None:
    def px(x: FloatArray, y: FloatArray) -> FloatArray:
        return np.asarray(axes.transData.transform(np.column_stack([x, y])), dtype=np.float64)

    strides = np.concatenate([px(walk.strides[SLAP], walk.strides[SHANK]) for walk in walks])
    centres = px(
        np.array([walk.means[SLAP].value for walk in walks]), np.array([walk.means[SHANK].value for walk in walks])
    )
    ends = px(np.array([walk.means[SLAP].high for walk in walks]), np.array([walk.means[SHANK].high for walk in walks]))
    box = axes.get_window_extent()
    places = beside(
        [(float(x), float(y)) for x, y in centres],
        [(max(float(x), 9), max(float(y), 9)) for x, y in ends - centres],
        [walk.look.name for walk in walks],
        strides,
        (box.x0 + 2, box.y0 + 2, box.x1 - 2, box.y1 - 2),
    )
    back = axes.transData.inverted()
    for walk, place in zip(walks, places, strict=True):
        x, y = back.transform(place)
        axes.text(
            x,
            y,
            walk.look.name,
            ha="center",
            va="center_baseline",
            color=INK,
            weight="bold",
            size=14,
            zorder=6,
            gid="class:halo",
        )


def _described(walks: Sequence[Walked], level: str) -> str:
    parts = [
        f"{walk.look.name}: slap rate {_with_interval(walk, SLAP, level)}, shank forward rate "
        f"{_with_interval(walk, SHANK, level)}, {walk.means[SLAP].n} strides"
        for walk in walks
    ]
    return (
        "Each stride that counts, slap rate to the right and shank forward rate upwards, and each walk's mean with its "
        f"{level}interval. Right: too little resistance; up: too much. " + ". ".join(parts) + "."
    )


def _with_interval(walk: Walked, column: str, level: str) -> str:
    mean, measure = walk.means[column], BY_COLUMN[column]
    text = with_unit(number(mean.value, measure.decimals), measure)
    if mean.reach is None:
        return f"{text} without interval"
    low, high = (number(end, measure.decimals) for end in (mean.low, mean.high))
    return f"{text} ({level}interval {low} to {high})"
