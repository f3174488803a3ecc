"""Everyone in a line: how each person walked over the last days, as the page of the morning shows it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

import pyarrow as pa
import pyarrow.compute as pc

from firstrocker.report.alert_words import amount, day_words, leg_words
from firstrocker.report.figures.spark import spark
from firstrocker.report.numbers import NONE

Row = Mapping[str, Any]

SHOWN_DAYS = 42
COLUMNS = {
    "slap_share": "Slaps",
    "toe_clearance_min_mm": "Toe clearance",
    "low_pass_share": "Near-scuffs",
    "worn_h": "Worn",
}
DRAWN = ("slap_share", "toe_clearance_min_mm", "worn_h")
_NEVER = "in no session of the affected side"
_SERIES = ("subject", "side", "condition", "setting", "resistance", "measure")


@dataclass(frozen=True)
class DigestSession:
    """A dated session: day, status of its quality.json (``failed`` where it has none), gravest finding in words.

    doubt: of what was measured all the same, what speaks against its labels, in words. invented: no such person.
    """

    subject: str
    session: str
    day: date
    status: str
    finding: str
    doubt: str = ""
    invented: bool = False


def people_rows(
    days: pa.Table, trends: pa.Table, alerts: Sequence[Row], sessions: Sequence[DigestSession], today: date | None
) -> list[dict[str, Any]]:
    """A line per person, those with a new alert first, then those with one.

    Args:
        days: rows in the schema DAYS.
        trends: rows in the schema TRENDS.
        alerts: rows of the schema ALERTS that stand.
        sessions: all that are dated.
        today: the last day of the data, None without any.
    """
    standing = _by_subject(alerts)
    watched = _by_subject(row for row in trends.to_pylist() if row["watched"])
    shown = _shown_days(days, today)
    visits: dict[str, list[DigestSession]] = {}
    for one in sessions:
        visits.setdefault(one.subject, []).append(one)
    people = []
    for subject, own in visits.items():
        last = max(one.day for one in own)
        mine = _current(watched.get(subject, []))
        leg = next((leg_words(row) for row in mine.values() if row["side"]), "")
        known = next((row for row in mine.values() if row["side"] and row["days"] and row["baseline"] is None), None)
        people.append(
            {
                "subject": subject,
                "link": link_of(subject, own),
                "last": day_words(last),
                "late": last != today,
                "leg": leg,
                "baseline": "" if known is None else f"baseline: day {known['baseline_days']}",
                "alerts": len(standing.get(subject, [])),
                "new": any(row["new"] for row in standing.get(subject, [])),
                "cells": [
                    _cell(measure, mine.get(measure), shown, standing.get(subject, []), today) for measure in COLUMNS
                ],
            }
        )
    return sorted(people, key=lambda one: (not one["new"], not one["alerts"], one["subject"]))


def _by_subject(rows: Iterable[Row]) -> dict[str, list[Row]]:
    found: dict[str, list[Row]] = {}
    for row in rows:
        found.setdefault(row["subject"], []).append(row)
    return found


def dashes(people: Sequence[Mapping[str, Any]]) -> list[str]:
    """Why a cell of the table is empty, people with one reason together."""
    found: dict[tuple[str, str], list[str]] = {}
    for one in people:
        for cell in one["cells"]:
            if cell["why"]:
                found.setdefault((cell["label"], cell["why"]), []).append(one["subject"])
    return [f"{label}: {why} ({', '.join(names)})." for (label, why), names in found.items()]


def _current(trends: Sequence[Row]) -> dict[str, Row]:
    """Measure -> its series of the leg that was walked last (of several, on most days), and of the person."""
    walked = [row for row in trends if row["side"] is not None]
    last = max(walked, key=lambda row: (row["last_day"] or date.min, row["days"]), default=None)
    return {
        row["measure"]: row
        for row in trends
        if row["side"] is None or (last is not None and _key(row)[1:-1] == _key(last)[1:-1])
    }


@dataclass(frozen=True)
class _Days:
    """Of the days shown, by series: the points of its line, and why its last day has no value, empty where it has."""

    points: Mapping[tuple[Any, ...], list[tuple[int, float]]]
    lacking: Mapping[tuple[Any, ...], str]


def _shown_days(days: pa.Table, today: date | None) -> _Days:
    points: dict[tuple[Any, ...], list[tuple[int, float]]] = {}
    lacking: dict[tuple[Any, ...], str] = {}
    first = (today or date.max) - timedelta(days=SHOWN_DAYS - 1)
    shown = days.filter(pc.greater_equal(days["day"], pa.scalar(first, pa.date32())))
    for row in shown.select([*_SERIES, "day", "value", "reason"]).to_pylist():
        lacking[_key(row)] = row["reason"]
        if row["value"] is not None:
            points.setdefault(_key(row), []).append((row["day"].toordinal(), row["value"]))
    return _Days(points, lacking)


def _key(row: Row) -> tuple[Any, ...]:
    return tuple(row[name] for name in _SERIES)


def _cell(
    measure: str,
    trend: Row | None,
    days: _Days,
    alerts: Sequence[Row],
    today: date | None,
) -> dict[str, Any]:
    if trend is None or not trend["days"] or today is None:
        why = _NEVER if trend is None else days.lacking.get(_key(trend), "")
        return {"text": NONE, "from": "", "alert": False, "picture": "", "why": why, "label": COLUMNS[measure]}
    own = [row["since_day"].toordinal() for row in alerts if row["measure"] == measure and _key(row) == _key(trend)]
    baseline = amount(measure, trend["baseline"]) if trend["baseline"] is not None else ""
    text = amount(measure, trend["last_week"])
    label = COLUMNS[measure]
    return {
        "text": text,
        "why": "",
        "label": label,
        "from": baseline,
        "alert": bool(own),
        "picture": spark(
            days.points.get(_key(trend), ()),
            first=today.toordinal() - SHOWN_DAYS + 1,
            last=today.toordinal(),
            level=trend["baseline"],
            since=min(own) if own else None,
            name=f"{trend['subject']}-{measure}",
            words=f"{label} of {trend['subject']}: median of the last seven days {text}"
            + (f", baseline {baseline}" if baseline else ""),
        )
        if measure in DRAWN
        else "",
    }


def link_of(subject: str, sessions: Sequence[DigestSession]) -> str:
    """The person's page over days, or their one session's; empty where that was not made."""
    mine = [one for one in sessions if one.subject == subject and one.status != "failed"]
    if len(mine) > 1:
        return f"../sub-{subject}/course.html"
    return f"../sub-{subject}/ses-{mine[0].session}/report.html" if mine else ""
