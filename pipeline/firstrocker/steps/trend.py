"""All dated sessions of a study in; nightly/days.parquet, trends.parquet and alerts.parquet out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa

from firstrocker.errors import SettingsError
from firstrocker.files import read_json, read_table, write_table
from firstrocker.layout import NIGHTLY, SessionName, find_sessions, session_day
from firstrocker.settings import Settings
from firstrocker.study.alerts import Watching
from firstrocker.study.day_series import CLEARANCE, SLAP, SPEED, Leg, Marking, StrideDay
from firstrocker.study.trend import Following, Person, follow, tables_of
from firstrocker.tables import STRIDES

SECTIONS = ("study", "trend")
"""The sections of the settings that this step's results depend on."""

_ORIGIN = date(1970, 1, 1)
_KEYS = ("side", "condition", "setting", "resistance")
_COLUMNS = [*_KEYS, "walk", "bout", SLAP, CLEARANCE, f"{CLEARANCE}_se", SPEED, "toe_clearance_kind"]


def make_trend(study: Path, results: Path, *, settings: Settings) -> None:
    """Write the three tables over days; one person's strides are held at a time.

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
    rows: tuple[list[dict[str, Any]], ...] = ([], [], [])
    for subject, sessions in people.items():
        person = read_person(subject, sessions, results)
        for gathered, found in zip(rows, follow(person, today=today, how=following_of(settings)), strict=True):
            gathered += found
    for table, content in tables_of(*rows).items():
        write_table(results / NIGHTLY / f"{table}.parquet", content)


def read_person(subject: str, sessions: Sequence[tuple[int, SessionName]], results: Path) -> Person:
    """One person's sessions, each with its day, from their results; of one that failed only the day counts."""
    made = {name for _, name in sessions if (results / name.folder / "quality.json").is_file()}
    sides = [read_json(results / name.folder / "quality.json")["affected_side"] for name in sorted(made)]
    side = next((one for one in sides if one is not None), None)
    by_day: dict[int, list[SessionName]] = {}
    for day, name in sorted(sessions):
        by_day.setdefault(day, []).append(name)
    legs: dict[Leg, list[StrideDay]] = {}
    worn: dict[int, float | None] = {}
    for day, arrived in by_day.items():
        names = [name for name in arrived if name in made]
        for leg, strides in stride_days(day, [results / name.folder for name in names]).items():
            legs.setdefault(leg, []).append(strides)
        hours = [worn_hours(results / name.folder, side) for name in arrived]
        worn[day] = None if None in hours else sum(one for one in hours if one is not None)
    return Person(subject, sorted(by_day), dict(sorted(legs.items(), key=_order)), worn, side)


def stride_days(day: int, folders: Sequence[Path]) -> Mapping[Leg, StrideDay]:
    """The strides that count of one day, by leg.

    Args:
        day: its number.
        folders: the day's sessions in the results.
    """
    import pyarrow.parquet as pq

    parts = [STRIDES.empty_table().select(_COLUMNS).append_column("session", pa.array([], pa.int64()))]
    for session, folder in enumerate(folders):
        steady = [("steady", "=", True)]
        part = pq.read_table(
            folder / "strides.parquet", columns=_COLUMNS, filters=steady, memory_map=False, partitioning=None
        )
        parts.append(part.append_column("session", pa.array([session] * part.num_rows, pa.int64())))
    strides = pa.concat_tables(parts).combine_chunks()
    keys = list(zip(*(strides[name].to_pylist() for name in _KEYS), strict=True))
    bouts = _numbered(zip(*(strides[name].to_pylist() for name in ("session", "walk", "bout")), strict=True))
    numbers = {
        name: strides[name].to_numpy(zero_copy_only=False).astype(np.float64)
        for name in (SLAP, CLEARANCE, f"{CLEARANCE}_se", SPEED)
    }
    under = strides["toe_clearance_kind"].is_valid().to_numpy() & np.isnan(numbers[CLEARANCE])
    which = _numbered(keys)
    found = {}
    for key in dict.fromkeys(keys):
        mine = np.flatnonzero(which == which[keys.index(key)])
        values = {name: column[mine] for name, column in numbers.items()}
        found[Leg(*key)] = StrideDay(day, bouts[mine], values, under[mine])
    return found


def worn_hours(folder: Path, side: str | None) -> float | None:
    """Hours for which the foot's sensor of a side was worn in a session; None where that cannot be told.

    Args:
        folder: the session's in the results.
        side: left or right; None takes the side that was worn longer.
    """
    path = folder / "wear.parquet"
    if not path.is_file():
        return None
    rows = [row for row in read_table(path).to_pylist() if row["segment"] == "foot" and side in (None, row["side"])]
    if not rows or any(row["worn_s"] is None for row in rows):
        return None
    sums: dict[str, float] = {}
    for row in rows:
        sums[row["side"]] = sums.get(row["side"], 0.0) + row["worn_s"] / 3600.0
    return max(sums.values())


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


def _numbered(keys: Any) -> Any:
    """(n,) a number for each, the same for the same key."""
    numbers: dict[Any, int] = {}
    return np.array([numbers.setdefault(key, len(numbers)) for key in keys], dtype=np.int64)


def _order(item: tuple[Leg, Any]) -> tuple[str, str, str, float]:
    leg = item[0]
    return leg.side or "", leg.condition or "", leg.setting or "", leg.resistance or 0.0
