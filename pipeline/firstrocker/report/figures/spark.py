"""A line as small as a word: one measure of one person over the last days.

Drawn without the drawing library, for a page has a hundred of them: three elements each.
"""

from __future__ import annotations

from collections.abc import Sequence

from markupsafe import Markup, escape

WIDTH, HEIGHT, EDGE = 96.0, 22.0, 2.5


def spark(
    points: Sequence[tuple[int, float]],
    *,
    first: int,
    last: int,
    level: float | None,
    since: int | None,
    name: str,
    words: str,
) -> Markup:
    """A line through days, gaps between days that are not next to each other left open.

    Args:
        points: (day, value), in order; those before ``first`` are passed over.
        first: day at the left end.
        last: day at the right end.
        level: the baseline's, drawn thin; None without one.
        since: day from which the line is drawn strong, because an alert stands since then; None without one.
        name: of the picture's ids.
        words: what the picture shows, for who cannot see it.

    Returns:
        empty without a point.
    """
    shown = [(day, value) for day, value in points if first <= day <= last]
    if not shown:
        return Markup("")
    values = [value for _, value in shown] + ([] if level is None else [level])
    low, high = min(values), max(values)
    room = (high - low) or 1.0

    def x(day: int) -> float:
        return EDGE + (WIDTH - 2 * EDGE) * (day - first) / max(last - first, 1)

    def y(value: float) -> float:
        return HEIGHT - EDGE - (HEIGHT - 2 * EDGE) * ((value - low) / room if high > low else 0.5)

    def path(some: Sequence[tuple[int, float]]) -> str:
        drawn, before = "", None
        for day, value in some:
            drawn += f"{'L' if before is not None and day - before <= 2 else 'M'}{x(day):.1f} {y(value):.1f}"
            before = day
        return drawn

    parts = []
    if level is not None:
        parts.append(f'<path class="level" d="M{EDGE:g} {y(level):.1f}H{WIDTH - EDGE:g}"/>')
    parts.append(f'<path class="days" d="{path(shown)}"/>')
    if since is not None and (strong := [one for one in shown if one[0] >= since]):
        parts.append(f'<path class="since" d="{path(strong)}"/>')
    day, value = shown[-1]
    parts.append(f'<circle cx="{x(day):.1f}" cy="{y(value):.1f}" r="1.8"/>')
    return Markup(  # noqa: S704  numbers and what is escaped here
        f'<svg class="spark" viewBox="0 0 {WIDTH:g} {HEIGHT:g}" width="{WIDTH:g}" height="{HEIGHT:g}" role="img" '
        f'aria-labelledby="{escape(name)}"><title id="{escape(name)}">{escape(words)}</title>{"".join(parts)}</svg>'
    )
