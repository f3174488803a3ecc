"""All dated sessions of a study in; nightly/days.parquet, trends.parquet and alerts.parquet out."""

from __future__ import annotations

from dataclasses import asdict
from datetime import date
from pathlib import Path
from typing import Any

from firstrocker.errors import SettingsError
from firstrocker.files import write_table
from firstrocker.layout import NIGHTLY, SessionName, find_sessions, session_day
from firstrocker.settings import Settings
from firstrocker.stamps import fingerprint
from firstrocker.steps.people_days import forget_others, read_person
from firstrocker.study.alerts import Watching
from firstrocker.study.day_series import Marking
from firstrocker.study.trend import Following, follow, tables_of

SECTIONS = ("study", "trend")
"""The sections of the settings that this step's results depend on."""

_ORIGIN = date(1970, 1, 1)


def make_trend(study: Path, results: Path, *, settings: Settings) -> None:
    """Write the three tables over days; strides are read of what is new, see :mod:`firstrocker.steps.people_days`.

    Args:
        study: the study folder; its sessions are the ones that are followed. Those whose label begins with no date are
            in no series.
        results: the results folder; every session's strides.parquet and quality.json are read, and wear.parquet where
            there is one.
        settings: of the section study the confidence, and the section trend.
    """
    people: dict[str, list[tuple[int, SessionName]]] = {}
    for name in find_sessions(study)[0]:
        day = session_day(name.session)
        begin = session_day(settings.trend.begin_anew.get(name.subject, ""))
        if day is not None and (begin is None or day >= begin):
            people.setdefault(name.subject, []).append(((day - _ORIGIN).days, name))
    _check_begins(settings)
    today = max((day for sessions in people.values() for day, _ in sessions), default=0)
    recipe = fingerprint(asdict(marking_of(settings)), "firstrocker.steps.trend")
    rows: tuple[list[dict[str, Any]], ...] = ([], [], [])
    for subject, sessions in people.items():
        person = read_person(subject, sessions, results, how=marking_of(settings), recipe=recipe)
        for gathered, found in zip(rows, follow(person, today=today, how=following_of(settings)), strict=True):
            gathered += found
    forget_others(results, people)
    for table, content in tables_of(*rows).items():
        write_table(results / NIGHTLY / f"{table}.parquet", content)


def marking_of(settings: Settings) -> Marking:
    """How strides are marked, from the settings."""
    trend = settings.trend
    return Marking(
        trend.baseline_days, trend.day_strides, trend.slap_quantile, trend.slap_rate_deg_s, trend.near_scuff_mm
    )


def watching_of(settings: Settings) -> Watching:
    """How days are watched, from the settings."""
    trend = settings.trend
    least = {
        "slaps": trend.slap_share_change,
        "clearance": trend.clearance_change_mm,
        "scuffs": trend.near_scuff_change,
        "wear": trend.wear_change_h,
    }
    return Watching(trend.baseline_days, trend.false_alarm_months, settings.study.confidence, least)


def following_of(settings: Settings) -> Following:
    """All of it, from the settings."""
    trend = settings.trend
    return Following(marking_of(settings), watching_of(settings), trend.trend_days, trend.silent_days)


def _check_begins(settings: Settings) -> None:
    for subject, label in settings.trend.begin_anew.items():
        if session_day(label) is None:
            raise SettingsError(
                f"{label} is no date.", where=f"trend.begin_anew.{subject}", remedy="Write it as 20260302."
            )
