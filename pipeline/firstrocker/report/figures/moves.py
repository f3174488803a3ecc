"""How foot, ankle, shank and toe move: over the whole stride, and the loading, a tenth of it, enlarged."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from markupsafe import Markup
from matplotlib.axes import Axes

from firstrocker.model import FloatArray
from firstrocker.report.figures import marks
from firstrocker.report.figures.courses import EVENTS, Courses
from firstrocker.report.figures.labels import spread
from firstrocker.report.figures.looks import Look
from firstrocker.report.figures.scale import reach, set_y, ticks
from firstrocker.report.figures.svg import INK, RULE, SMALL, SOFT, sheet
from firstrocker.report.numbers import number


@dataclass(frozen=True)
class Quantity:
    """One curve of the strides: its column, its name, its unit, what up means, and whether nothing goes below 0."""

    column: str
    label: str
    unit: str
    up: str
    ground: bool = False


QUANTITIES = (
    Quantity("foot_pitch_deg", "Foot pitch", "\u00b0", "up: toes up, 0 on a flat foot"),
    Quantity("ankle_deg", "Ankle", "\u00b0", "up: dorsiflexion"),
    Quantity("shank_deg", "Shank to vertical", "\u00b0", "up: knee ahead of the ankle"),
    Quantity("toe_height_mm", "Toe height", "mm", "over the ground; not drawn while the shoe bends", ground=True),
)
LOADED = QUANTITIES[:3]
"""What is drawn of the loading."""

_HEIGHT, _LEFT, _TOP, _FOOT = 168, 40, 24, 26
_BAND = 0.13  # opacity
_LETTER = 6.6
_LEAD = 36  # px from the end of a curve to its name


def over_the_stride(walks: Sequence[Courses], quantity: Quantity, *, width: float = 600) -> Markup | None:
    """Mean and band of each walk from heel strike to the next, its events marked.

    Returns:
        None where no walk has the quantity.
    """
    drawn = [walk for walk in walks if walk.has(quantity.column)]
    if not drawn:
        return None
    right = _names_width(drawn)
    with sheet(f"stride-{_tail(quantity)}", width, _HEIGHT) as surface:
        axes = surface.axes(_LEFT, _TOP, width - _LEFT - right, _HEIGHT - _TOP - _FOOT)
        bands = [walk.by_percent(quantity.column) for walk in drawn]
        _prepare(axes, quantity, bands)
        axes.set_xlim(0, 100)
        axes.set_xticks([0, 20, 40, 60, 80, 100], ["heel strike", "20 %", "40 %", "60 %", "80 %", "heel strike"])
        places = {event: [walk.event_percent(event) for walk in drawn] for event in EVENTS}
        _events(axes, places, width - _LEFT - right, 100)
        for walk, (mean, band) in zip(drawn, bands, strict=True):
            found = [walk.event_percent(event) for event in EVENTS]
            _course(axes, walk.look, walk.percent, mean, band, [0.0, *(place for place in found if place is not None)])
        _names(axes, [walk.look for walk in drawn], [_last(mean) for mean, _ in bands])
        return surface.svg(f"{quantity.label} over the stride", _described(drawn, bands, quantity))


def in_loading(walks: Sequence[Courses], quantity: Quantity, *, width: float = 340) -> Markup | None:
    """Mean and band of each walk from heel strike until a little after foot flat, by time.

    Returns:
        None where no walk has the quantity or a foot flat.
    """
    drawn = [walk for walk in walks if walk.has(quantity.column) and walk.event_s("foot flat") is not None]
    if not drawn:
        return None
    last = max(walk.event_s("foot flat") or 0.0 for walk in drawn)
    times = np.linspace(0, 1.5 * last, 61)
    with sheet(f"loading-{_tail(quantity)}", width, _HEIGHT) as surface:
        right = _names_width(drawn)
        axes = surface.axes(_LEFT, _TOP, width - _LEFT - right, _HEIGHT - _TOP - _FOOT)
        bands = [walk.by_time(quantity.column, times) for walk in drawn]
        _prepare(axes, quantity, bands)
        axes.set_xlim(0, times[-1])
        found, words = ticks(0, float(times[-1]), most=3)
        axes.set_xticks(found, ["heel strike", *(f"{word} s" for word in words[1:])])
        _events(
            axes, {"foot flat": [walk.event_s("foot flat") for walk in drawn]}, width - _LEFT - right, float(times[-1])
        )
        for walk, (mean, band) in zip(drawn, bands, strict=True):
            _course(axes, walk.look, times, mean, band, [0.0, walk.event_s("foot flat") or 0.0])
        _names(axes, [walk.look for walk in drawn], [_last(mean) for mean, _ in bands])
        words_of = ", ".join(f"{walk.look.name} after {number(walk.event_s('foot flat'), 3)} s" for walk in drawn)
        return surface.svg(
            f"{quantity.label} in loading",
            f"{quantity.label} from heel strike until a little after foot flat, each walk's mean and one standard "
            f"deviation of its strides to each side. Foot flat: {words_of}.",
        )


def _tail(quantity: Quantity) -> str:
    return quantity.column.rpartition("_")[0].replace("_", "-")


def _prepare(axes: Axes, quantity: Quantity, bands: Sequence[tuple[FloatArray, FloatArray]]) -> None:
    ends = np.concatenate([end for mean, band in bands for end in (mean - band, mean + band)])
    low, high = reach(ends.tolist())
    if quantity.ground:
        low = 0.0  # a sole that bends takes its rigid tip under the ground: nothing to be seen there
    set_y(axes, low, high, most=4, lines=True)
    axes.spines[["left", "bottom"]].set_visible(False)
    if low <= 0 < high:
        axes.axhline(0, color=SOFT, linewidth=0.8, zorder=0.6)


def _events(axes: Axes, places: dict[str, list[float | None]], width: float, full: float) -> None:
    """A faint upright where the walks have an event, from the first to the last, with its name above."""
    known = {event: [p for p in found if p is not None] for event, found in places.items()}
    known = {event: found for event, found in known.items() if found}
    px = [width * float(np.mean(found)) / full for found in known.values()]
    gap = _LETTER * max((len(event) for event in known), default=1) + 8
    for (event, found), at in zip(known.items(), spread(px, gap=gap, low=0, high=width), strict=True):
        least = full * 1.5 / width
        start, end = min(found), max(found)
        axes.axvspan(start - least / 2, end + least / 2, color=RULE, alpha=0.55, linewidth=0, zorder=0.4)
        axes.text(at / width, 1.06, event, transform=axes.transAxes, ha="center", va="baseline", size=SMALL, color=SOFT)


def _course(axes: Axes, look: Look, x: FloatArray, mean: FloatArray, band: FloatArray, events: Sequence[float]) -> None:
    axes.fill_between(x, mean - band, mean + band, color=look.colour, alpha=_BAND, linewidth=0, zorder=1)
    axes.plot(x, mean, color=look.colour, linewidth=1.8, linestyle=look.line, zorder=2, solid_joinstyle="round")
    low, high = axes.get_ylim()
    seen = [(place, value) for place in events if low <= (value := float(np.interp(place, x, mean))) <= high]
    marks.means(axes, look, [place for place, _ in seen], [value for _, value in seen], size=6.5)


def _last(mean: FloatArray) -> float:
    finite = mean[np.isfinite(mean)]
    return float(finite[-1])


def _names_width(walks: Sequence[Courses]) -> float:
    return _LEAD + 8.2 * max(len(walk.look.name) for walk in walks)


def _names(axes: Axes, looks: Sequence[Look], ends: Sequence[float]) -> None:
    """Each walk's name at the end of its curve, moved apart where curves end together."""
    low, high = axes.get_ylim()
    full = axes.get_xlim()[1]
    box = axes.get_window_extent()
    px = box.height / (high - low)
    heights = spread([(end - low) * px for end in ends], gap=16, low=4, high=box.height - 4)
    for look, end, height in zip(looks, ends, heights, strict=True):
        value = low + height / px

        def at(beyond: float) -> float:
            return float(full + full * beyond / box.width)

        axes.plot([at(5), at(13), at(20)], [end, value, value], color=look.colour, linewidth=1.0, clip_on=False)
        marks.means(axes, look, [at(23)], [value], size=6.5)
        axes.text(at(_LEAD - 4), value, look.name, va="center_baseline", color=INK)


def _described(walks: Sequence[Courses], bands: Sequence[tuple[FloatArray, FloatArray]], quantity: Quantity) -> str:
    parts = []
    for walk, (mean, _) in zip(walks, bands, strict=True):
        at = [("heel strike", 0.0), *((event, walk.event_percent(event)) for event in EVENTS)]
        values = ", ".join(
            f"{number(float(np.interp(place, walk.percent, mean)), 0)} {quantity.unit} at {event}"
            for event, place in at
            if place is not None
        )
        parts.append(f"{walk.look.name}: {values}")
    return (
        f"{quantity.label} ({quantity.up}) from heel strike to the next, each walk's mean and one standard deviation "
        "of its strides to each side. " + ". ".join(parts) + "."
    )
