"""The page of the morning: what needs a person's eye today, then everyone in a line."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import pyarrow as pa

from firstrocker.report.alert_words import (
    alert_sentence,
    day_words,
    harmless_words,
    now_sentence,
    rates_sentence,
    silence_words,
)
from firstrocker.report.digest_people import COLUMNS, SHOWN_DAYS, DigestSession, dashes, link_of, people_rows
from firstrocker.report.invented import invented_words
from firstrocker.report.page import environment

Row = Mapping[str, Any]

MOST_PEOPLE, MOST_ALERTS, MOST_LINES, MOST_LETTERS = 30, 7, 3, 200
"""People in the table, alerts and other lines that are shown open, the rest in lists that open, off paper; letters of a
line, whose whole stands behind its link."""
PAPER = 53.0
"""Rows of the table that a sheet has room for beside the words that are always there; alerts and lines take of it."""
_RECENT = 3  # days before the last one whose rejected and doubtful sessions are still shown


@dataclass(frozen=True)
class Given:
    """All that the page shows.

    days, trends, alerts: the three tables. sessions: all that are dated. undated: folders whose label has no date.
    intake: rows of the inbox's table, None without one.
    """

    days: pa.Table
    trends: pa.Table
    alerts: pa.Table
    sessions: Sequence[DigestSession]
    undated: Sequence[str]
    intake: Sequence[Row] | None
    months: float
    confidence: float


def render_digest(given: Given) -> str:
    """One page for one morning, as HTML that needs nothing else. "Today" is the last day of the data."""
    today = max((one.day for one in given.sessions), default=None)
    arrived = arrivals(given.intake, given.sessions)
    alerts = [
        row if arrived is None else row | {"new": (row["subject"], row["first_day"]) in arrived}
        for row in given.alerts.to_pylist()
        if row["standing"]
    ]
    silent = [row for row in alerts if row["kind"] == "silent"]
    raised = sorted(
        (row for row in alerts if row["kind"] != "silent"),
        key=lambda row: (not row["new"], -row["first_day"].toordinal(), row["subject"]),
    )
    told = [_alert(row, given.sessions) for row in raised]
    people = people_rows(given.days, given.trends, alerts, given.sessions, today)
    bad = _bad_sessions(given.sessions, today)
    doubtful = _doubtful_sessions(given.sessions, today)
    waiting = intake_lines(given.intake)
    lists = (bad, doubtful, waiting)
    crowded = all(lists)  # a third list's title takes the others' room
    most = 1 if crowded else MOST_LINES
    lines = [min(len(some), most) + 0.5 * (len(some) > most) for some in lists]
    room = PAPER - 3.5 * min(len(told), MOST_ALERTS) - 2.4 * sum(lines) - 2.0 * bool(silent) - 2.0 * bool(given.undated)
    room -= 4.0 * crowded
    return (
        environment()
        .get_template("digest.html.j2")
        .render(
            invented=invented_words(one.invented for one in given.sessions),
            today=None if today is None else f"{today:%A} {today.day} {today:%B} {today.year}",
            sessions=sum(one.day == today for one in given.sessions),
            statuses=_statuses([one for one in given.sessions if one.day == today]),
            people=people[:MOST_PEOPLE],
            more_people=people[MOST_PEOPLE:],
            on_paper=min(max(int(room), 4), MOST_PEOPLE),
            alerts=told[:MOST_ALERTS],
            more_alerts=told[MOST_ALERTS:],
            new=sum(row["new"] for row in raised),
            standing=len(raised),
            silence=silence_words(silent),
            bad=bad[:most],
            more_bad=bad[most:],
            doubtful=doubtful[:most],
            more_doubtful=doubtful[most:],
            intake=waiting[:most],
            more_intake=waiting[most:],
            counts=_counts(given.intake),
            by_arrival=arrived is not None,
            undated=given.undated,
            dashes=dashes(people[:MOST_PEOPLE]),
            columns=list(COLUMNS.values()),
            shown_days=SHOWN_DAYS,
            rates=rates_sentence(given.months),
            percent=f"{100 * given.confidence:.3g}",
        )
    )


def arrivals(intake: Sequence[Row] | None, sessions: Sequence[DigestSession]) -> frozenset[tuple[str, date]] | None:
    """(person, day) of what came in by the last look at the inbox; None where the table does not say.

    An alert raised by such a day is new, however late the day arrived; without an inbox, one raised by the person's
    last day is.
    """
    if not intake or not any("new" in row for row in intake):
        return None
    came = {
        (row.get("subject"), row.get("session")) for row in intake if row.get("new") and row.get("state") == "taken"
    }
    return frozenset((one.subject, one.day) for one in sessions if (one.subject, one.session) in came)


def intake_lines(intake: Sequence[Row] | None) -> list[str]:
    """What of the inbox needs someone, or waits: by whose session it is, with its reason and remedy.

    Read leniently: a table without a column says nothing of it.
    """
    lines: dict[str, None] = {}
    asked = {_whose(row) for row in intake or () if row.get("needs_person")} - {""}
    for row in intake or ():
        state, whose = row.get("state"), _whose(row)
        if not row.get("needs_person") and (state not in ("quarantined", "waiting") or whose in asked):
            continue
        where = whose or str(row.get("path") or "?")
        if whose and row.get("needs_person") and row.get("kind") == "log":
            where += f", {str(row.get('path')).rsplit('/', 1)[-1]}"
        said = " ".join(part for part in (row.get("reason"), row.get("remedy")) if part)
        lines.setdefault(_short(f"{where}: {state}. {said}".strip()))
    return sorted(lines, key=lambda line: ": waiting." in line)


def _whose(row: Row) -> str:
    """Person and session of a file of the inbox; empty where one is not known."""
    whose = (row.get("subject"), row.get("session"))
    return "/".join(map(str, whose)) if all(whose) else ""


def _short(words: str) -> str:
    return words if len(words) <= MOST_LETTERS else words[: MOST_LETTERS - 1].rstrip() + "\u2026"


def _statuses(sessions: Sequence[DigestSession]) -> str:
    """How many are not ok, in words; empty where all are."""
    found = [(word, sum(one.status == word for one in sessions)) for word in ("flagged", "rejected", "failed")]
    return ", ".join(f"{count} {word}" for word, count in found if count)


def _counts(intake: Sequence[Row] | None) -> str:
    """How many files of the inbox are in each state; empty without an inbox."""
    states: dict[str, int] = {}
    for row in intake or ():
        states[str(row.get("state"))] = states.get(str(row.get("state")), 0) + 1
    return ", ".join(f"{count} {state}" for state, count in sorted(states.items()))


def _alert(row: Row, sessions: Sequence[DigestSession]) -> dict[str, Any]:
    flagged = {
        one.day
        for one in sessions
        if one.subject == row["subject"] and one.status == "flagged" and row["since_day"] <= one.day <= row["first_day"]
    }
    return {
        "subject": row["subject"],
        "link": link_of(row["subject"], sessions),
        "new": row["new"],
        "sentence": alert_sentence(row),
        "raised": day_words(row["first_day"]),
        "now": now_sentence(row),
        "harmless": harmless_words(row, flagged=len(flagged)),
    }


def _bad_sessions(sessions: Sequence[DigestSession], today: date | None) -> list[dict[str, str]]:
    """Sessions of the last days that were rejected or failed, the last first."""
    bad = (one for one in sessions if one.status in ("rejected", "failed"))
    return _recent([(one, f"{one.status}. {one.finding}") for one in bad], today)


def _doubtful_sessions(sessions: Sequence[DigestSession], today: date | None) -> list[dict[str, str]]:
    """Sessions of the last days that were measured although something speaks against their labels, the last first."""
    measured = (one for one in sessions if one.status not in ("rejected", "failed"))
    return _recent([(one, one.doubt) for one in measured if one.doubt], today)


def _recent(told: Sequence[tuple[DigestSession, str]], today: date | None) -> list[dict[str, str]]:
    """A line for each session of the last days, with its words, the last first."""
    return [
        {
            "who": f"{one.subject}, {day_words(one.day)}",
            "link": f"../sub-{one.subject}/ses-{one.session}/report.html" if one.status != "failed" else "",
            "words": _short(words.strip()),
        }
        for one, words in sorted(told, key=lambda each: (-each[0].day.toordinal(), each[0].subject))
        if today is not None and (today - one.day).days <= _RECENT
    ]
