"""The page of one person over several sessions: what has become of each setting since it was first walked."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup

from firstrocker.measures import BY_COLUMN
from firstrocker.report.invented import invented_words
from firstrocker.report.numbers import NONE, number, unit_of, with_unit
from firstrocker.report.page import environment
from firstrocker.study.course import CoursePoint

CAVEAT = (
    "Between sessions the sensors were put on anew and the brace too, and people walk differently from day to day. The "
    "first is in the intervals, as far as the measurement knows its own error; the others are not. \u201cMore than the "
    "walks explain\u201d therefore does not yet say that the person has changed: nobody has published by how much this "
    "measure differs between two visits. \u201cClear change\u201d is said only where somebody has, and it is exceeded."
)


@dataclass(frozen=True)
class CourseRow:
    """One session of one condition and setting, as printed."""

    what: str
    session: str
    n: str
    mean: str
    interval: str
    difference: str
    difference_interval: str
    real_change: str
    verdict: str


@dataclass(frozen=True)
class CourseTable:
    """One measure: every condition and setting that was walked in two sessions or more, one below the other."""

    measure: str
    unit: str
    rows: Sequence[CourseRow]
    picture: Markup | None = None


@dataclass(frozen=True)
class SessionLink:
    """A session of the person: its label, affected side and status, and whether it is invented."""

    session: str
    affected_side: str | None
    status: str
    invented: bool = False


def course_tables(points: Sequence[CoursePoint], *, level: str = "") -> list[CourseTable]:
    """What was followed, as printed and as pictures; ``level`` of the intervals as printed, its space behind."""
    seen = Counter(_key(point) for point in points)
    followed: dict[str, list[CoursePoint]] = {}
    for point in points:
        if seen[_key(point)] > 1:
            followed.setdefault(point.measure, []).append(point)
    if not followed:
        return []
    from firstrocker.report.figures.follow import over_sessions  # matplotlib, only where there is something to draw

    return [
        CourseTable(
            BY_COLUMN[name].label,
            unit_of(BY_COLUMN[name]),
            [_row(point) for point in found],
            over_sessions(found, [_what(point) for point in found], level=level),
        )
        for name, found in followed.items()
    ]


def course_sentences(points: Sequence[CoursePoint]) -> list[str]:
    """The last session of each against its first, in words: what differs one by one, what does not in one sentence."""
    last = {_key(point): point for point in points if point.difference is not None}
    told = [
        _sentence(point) for point in last.values() if point.verdict in ("clear change", "more than the walks explain")
    ]
    for verdict, words in (("no clear change", "No clear change"), ("too few strides", "Too few strides to compare")):
        same: dict[str, list[str]] = {}
        for point in last.values():
            if point.verdict == verdict:
                same.setdefault(BY_COLUMN[point.measure].label.lower(), []).append(_what(point))
        listed = [f"{label} ({', '.join(names)})" for label, names in same.items()]
        told += [f"{words}: {'; '.join(listed)}."] if listed else []
    return told


def render_course(
    subject: str, sessions: Sequence[SessionLink], points: Sequence[CoursePoint], *, confidence: float
) -> str:
    """One person's course as an HTML page that needs nothing else.

    Args:
        subject: the person's label.
        sessions: all of them, in order.
        points: of :func:`firstrocker.study.course.course`.
        confidence: level of the intervals.
    """
    sides = {one.affected_side for one in sessions if one.affected_side is not None}
    return (
        environment()
        .get_template("course.html.j2")
        .render(
            invented=invented_words(one.invented for one in sessions),
            subject=subject,
            sessions=sessions,
            tables=course_tables(points, level=f"{100 * confidence:.3g}\u00a0% "),
            sentences=course_sentences(points),
            caveat=CAVEAT,
            two_sides=len(sides) > 1,
            percent=f"{100 * confidence:.3g}",
        )
    )


def _key(point: CoursePoint) -> tuple[str, str, str | None, float | None]:
    return point.measure, point.condition, point.setting, point.resistance


def _what(point: CoursePoint) -> str:
    named = f"{point.condition} {point.setting}" if point.setting else point.condition
    return named if point.resistance is None else f"{named} {point.resistance:g}"


def _sentence(point: CoursePoint) -> str:
    measure = BY_COLUMN[point.measure]
    ends = (point.difference, point.difference_low, point.difference_high)
    difference, low, high = (number(end, measure.decimals, signed=True) for end in ends)
    words = "clear change" if point.verdict == "clear change" else "differs by more than the walks explain"
    return (
        f"{measure.label}, {_what(point)}: {words}, session {point.session} against the first "
        f"({with_unit(difference, measure)}, interval {with_unit(f'{low} to {high}', measure)})."
    )


def _row(point: CoursePoint) -> CourseRow:
    decimals = BY_COLUMN[point.measure].decimals

    def span(low: float | None, high: float | None, *, signed: bool) -> str:
        if low is None or high is None:
            return NONE
        return f"{number(low, decimals, signed=signed)} to {number(high, decimals, signed=signed)}"

    return CourseRow(
        what=_what(point),
        session=point.session,
        n=str(point.n),
        mean=number(point.mean, decimals),
        interval=span(point.ci_low, point.ci_high, signed=False),
        difference=number(point.difference, decimals, signed=True),
        difference_interval=span(point.difference_low, point.difference_high, signed=True),
        real_change=number(point.real_change, decimals)
        + ("" if point.between_known or point.real_change is None else "+"),
        verdict=point.verdict,
    )
