"""How one measure develops over sessions: each condition and setting as a line of means with their intervals."""

from __future__ import annotations

import math
from collections.abc import Sequence

from markupsafe import Markup
from matplotlib.axes import Axes

from firstrocker.measures import BY_COLUMN
from firstrocker.report.figures import marks
from firstrocker.report.figures.labels import spread
from firstrocker.report.figures.looks import Look, looks
from firstrocker.report.figures.scale import reach, set_y
from firstrocker.report.figures.svg import INK, sheet
from firstrocker.report.figures.walked import Mean
from firstrocker.report.numbers import number, with_unit
from firstrocker.study.course import CoursePoint

_WIDTH, _HEIGHT, _LEFT, _TOP, _FOOT, _LEAD = 460, 190, 44, 10, 28, 20
_LABEL = 75  # px of a session's label
_APART = 0.05  # of the way from one session to the next, between settings, so that their bars do not hide each other


def over_sessions(points: Sequence[CoursePoint], names: Sequence[str], *, level: str) -> Markup | None:
    """One measure over the sessions, in their order; the sessions stand evenly, whatever the days between them.

    Args:
        points: of one measure.
        names: what each point's condition and setting is called, one per point.
        level: of the intervals, as printed, with its space behind.

    Returns:
        None without points.
    """
    if not points:
        return None
    measure = BY_COLUMN[points[0].measure]
    sessions = list(dict.fromkeys(sorted(point.session for point in points)))
    lines: dict[str, list[CoursePoint]] = {}
    for point, name in zip(points, names, strict=True):
        lines.setdefault(name, []).append(point)
    seen = looks(
        [
            {"walk": name, "condition": line[0].condition, "setting": f"{line[0].setting} {line[0].resistance}"}
            for name, line in lines.items()
        ],
        {name: name for name in lines},
    )
    right = _LEAD + 8.2 * max(len(look.name) for look in seen.values())
    with sheet(f"course-{points[0].measure.replace('_', '-')}", _WIDTH, _HEIGHT) as surface:
        axes = surface.axes(_LEFT, _TOP, _WIDTH - _LEFT - right, _HEIGHT - _TOP - _FOOT)
        ends = [end for one in points for end in (one.mean, one.ci_low, one.ci_high) if end is not None]
        set_y(axes, *reach(ends, zero=measure.kind == "clearance" and min(ends) >= 0), most=4, lines=True)
        axes.spines[["left", "bottom"]].set_visible(False)
        axes.set_xlim(-0.25, len(sessions) - 0.75)
        every = math.ceil(len(sessions) * _LABEL / (_WIDTH - _LEFT - right))
        axes.set_xticks(range(0, len(sessions), every), sessions[::every])
        for place, (name, line) in enumerate(lines.items()):
            _line(axes, seen[name], line, sessions, (place - (len(lines) - 1) / 2) * _APART)
        _names(axes, [seen[name] for name in lines], [line[-1].mean for line in lines.values()])
        return surface.svg(f"{measure.label} over the sessions", _described(lines, level))


def _line(axes: Axes, look: Look, line: Sequence[CoursePoint], sessions: Sequence[str], aside: float) -> None:
    x = [sessions.index(point.session) + aside for point in line]
    y = [point.mean for point in line]
    axes.plot(x, y, color=look.colour, linestyle=look.line, linewidth=1.4, zorder=2)
    for at, point in zip(x, line, strict=True):
        if point.ci_low is not None and point.ci_high is not None:
            half = (point.ci_high - point.ci_low) / 2
            marks.interval(axes, look, Mean(point.mean, half, point.n), at, upright=True, width=2)
    marks.means(axes, look, x, y, size=8)


def _names(axes: Axes, seen: Sequence[Look], ends: Sequence[float]) -> None:
    """Each setting's name at the right, moved apart where lines end together."""
    low, high = axes.get_ylim()
    left, right = axes.get_xlim()
    box = axes.get_window_extent()
    px = box.height / (high - low)
    heights = spread([(end - low) * px for end in ends], gap=16, low=4, high=box.height - 4)
    across = (right - left) / box.width
    for look, height in zip(seen, heights, strict=True):
        marks.means(axes, look, [right + 6 * across], [low + height / px], size=6.5)
        axes.text(right + (_LEAD - 4) * across, low + height / px, look.name, va="center_baseline", color=INK)


def _described(lines: dict[str, list[CoursePoint]], level: str) -> str:
    measure = BY_COLUMN[next(iter(lines.values()))[0].measure]
    parts = []
    for name, line in lines.items():
        values = [f"session {one.session} {with_unit(number(one.mean, measure.decimals), measure)}" for one in line]
        parts.append(f"{name}: {', '.join(values)}")
    return f"Means with their {level}intervals, session by session. {'; '.join(parts)}."
