"""Whether foot and shank lie on one clock: how both saw the ankle move, before and after the clocks were laid."""

from __future__ import annotations

import numpy as np
from markupsafe import Markup

from firstrocker.report.evidence import ClockPicture
from firstrocker.report.figures.labels import spread
from firstrocker.report.figures.scale import reach, set_y, ticks
from firstrocker.report.figures.svg import INK, SMALL, SOFT, WALK, sheet

_WIDTH, _HEIGHT, _LEFT, _TOP, _RIGHT, _FOOT = 470, 150, 34, 8, 128, 24
_LINES = (
    ("foot", "foot", INK, "-", 2.2),
    ("shank", "shank, as laid", WALK[2], (0, (4, 1.6)), 2.0),
    ("before", "shank, as logged", SOFT, (0, (1, 1.8)), 1.2),
)


def clock(picture: ClockPicture, *, name: str) -> Markup | None:
    """The ankle's acceleration over a few seconds, as each sensor tells it.

    Args:
        picture: of one walk and side.
        name: of the picture's ids.

    Returns:
        None where there is nothing to draw.
    """
    time = np.array(picture.time, dtype=np.float64)
    drawn = [(getattr(picture, key), *how) for key, *how in _LINES]
    values = [(np.array(series, dtype=np.float64), *how) for series, *how in drawn]
    if len(time) < 2 or not any(np.isfinite(series).any() for series, *_ in values):
        return None
    with sheet(name, _WIDTH, _HEIGHT) as surface:
        axes = surface.axes(_LEFT, _TOP, _WIDTH - _LEFT - _RIGHT, _HEIGHT - _TOP - _FOOT)
        low, high = reach(np.concatenate([series for series, *_ in values]).tolist())
        set_y(axes, low, high, most=3, lines=True)
        axes.spines[["left", "bottom"]].set_visible(False)
        axes.set_xlim(time[0], time[-1])
        places, words = ticks(float(time[0]), float(time[-1]), most=4)
        axes.set_xticks(places, [f"{word} s" for word in words])
        shown = [one for one in values if np.isfinite(one[0]).any()]
        for series, _, colour, style, width in shown:
            axes.plot(time, series, color=colour, linestyle=style, linewidth=width)
        box = axes.get_window_extent()
        px = box.height / (high - low)
        ends = [float(series[np.isfinite(series)][-1]) for series, *_ in shown]
        heights = spread([(end - low) * px for end in ends], gap=16, low=4, high=box.height - 4)
        per_px = (time[-1] - time[0]) / box.width
        for (_, words_of, colour, style, width), end, height in zip(shown, ends, heights, strict=True):
            y = low + height / px
            right = [time[-1] + beyond * per_px for beyond in (3, 9, 24)]
            axes.plot(right[:2], [end, y], color=SOFT, linewidth=0.7, clip_on=False)
            axes.plot(right[1:], [y, y], color=colour, linestyle=style, linewidth=width, clip_on=False)
            axes.text(time[-1] + 28 * per_px, y, words_of, va="center_baseline", size=SMALL)
        return surface.svg(
            f"Clocks of walk {picture.walk}",
            "The ankle's acceleration in m/s\u00b2 over a few seconds of walking, as the foot's sensor tells it, and "
            f"as the shank's does before and after the clocks were laid together. {picture.text}",
        )
