"""One person's days, trends and alerts as tables."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
import pyarrow as pa

from firstrocker.study.alerts import WATCHED, Alert, Watching, alerts_of
from firstrocker.study.day_series import WORN, Leg, LegBriefs, Marking, Series, StrideDay, series_of, worn_series
from firstrocker.study.slopes import shifts_of, slope_of
from firstrocker.study.watch import level_of
from firstrocker.tables_days import ALERTS, DAYS, TRENDS

Row = dict[str, Any]
_WEEK = 7


@dataclass(frozen=True)
class Person:
    """What is known of one person, days as numbers since 1970-01-01.

    sessions: days with any session. legs: strides of each leg by day, in order, or what
    was kept of them. worn_h: hours worn by day. side: the
    affected one, which is watched; None watches both.
    """

    subject: str
    sessions: Sequence[int]
    legs: Mapping[Leg, Sequence[StrideDay] | LegBriefs]
    worn_h: Mapping[int, float | None]
    side: str | None


@dataclass(frozen=True)
class Following:
    """Settings of the whole: marking, watching, days of a slope, days of silence that are told."""

    marking: Marking
    watching: Watching
    slope_days: int
    silent_days: int


def follow(person: Person, *, today: int, how: Following) -> tuple[list[Row], list[Row], list[Row]]:
    """Rows of days, trends and alerts of one person; days are numbers, see :func:`table`.

    Args:
        person: all that is known up to today.
        today: the last day of the study's data.
        how: settings.
    """
    series = [one for leg, days in person.legs.items() for one in series_of(leg, days, how=how.marking)]
    series.append(worn_series(person.worn_h))
    watched = [one for one in series if one.measure == WORN or person.side in (None, one.leg.side)]
    days = [row for one in series for row in _day_rows(person.subject, one, how)]
    trends = [_trend_row(person.subject, one, one in watched and _is_watched(one), how) for one in series]
    alerts = [_alert_row(person, alert, how) for alert in alerts_of(watched, how=how.watching)]
    alerts += _silent_rows(person, today, how)
    return days, trends, sorted(alerts, key=lambda row: (row["first_day"], row["kind"]))


def table(rows: Sequence[Row], schema: pa.Schema) -> pa.Table:
    """Rows as a table; what a row does not hold is null, days become dates, NaN null."""
    columns = []
    for field in schema:
        given = [row.get(field.name) for row in rows]
        if field.type == pa.date32():
            columns.append(pa.array(given, pa.int32()).cast(pa.date32()))
        else:
            columns.append(pa.array(given, field.type, from_pandas=True))
    return pa.Table.from_arrays(columns, schema=schema)


def tables_of(days: Sequence[Row], trends: Sequence[Row], alerts: Sequence[Row]) -> dict[str, pa.Table]:
    """The three tables, by the names of their files."""
    return {"days": table(days, DAYS), "trends": table(trends, TRENDS), "alerts": table(alerts, ALERTS)}


def _keys(subject: str, series: Series) -> Row:
    return {"subject": subject, **asdict(series.leg), "measure": series.measure, "unit": series.unit}


def _is_watched(series: Series) -> bool:
    return any(one.measure == series.measure for one in WATCHED)


def _day_rows(subject: str, series: Series, how: Following) -> list[Row]:
    baseline = how.marking.baseline
    first = set(series.known[:baseline].tolist())
    between = _between(series, baseline)
    rows = []
    for place, one in enumerate(series.values):
        strides = series.measure != WORN
        rows.append(
            _keys(subject, series)
            | {
                "day": int(series.days[place]),
                "n": one.n if strides else None,
                "bouts": one.bouts if strides else None,
                "value": one.value,
                "spread": one.spread,
                "se": one.se if strides else None,
                "se_total": None if between is None else float(np.hypot(one.se, np.sqrt(between))),
                "in_baseline": place in first,
                "reason": one.reason,
            }
        )
    return rows


def _between(series: Series, baseline: int) -> float | None:
    """Variance between the days of the baseline, None while there is none."""
    if len(series.known) < baseline:
        return None
    first = [series.values[place] for place in series.known[:baseline]]
    return level_of(np.array([one.value for one in first]), np.array([one.se**2 for one in first])).between


def _trend_row(subject: str, series: Series, watched: bool, how: Following) -> Row:
    baseline = how.marking.baseline
    known = series.known
    points = [series.values[place] for place in known]
    values = np.array([one.value for one in points])
    row = _keys(subject, series) | {
        "watched": watched,
        "days": len(known),
        "strides": None if series.measure == WORN else sum(one.n for one in points),
        "limit": series.limit,
        "baseline_days": min(len(known), baseline),
        "shifts": 0,
    }
    if not len(known):
        return row
    days = series.days[known]
    row |= {"first_day": int(days[0]), "last_day": int(days[-1]), "last_week": float(np.median(values[-_WEEK:]))}
    if len(known) >= baseline:
        level = level_of(values[:baseline], np.array([one.se**2 for one in points[:baseline]]))
        row |= {"baseline": level.mean, "day_sd": float(np.sqrt(level.between))}
    last = days > days[-1] - how.slope_days
    when = (days[last] - days[0]).astype(np.float64)
    slope = slope_of(when, values[last], confidence=how.watching.confidence)
    if slope is not None:
        row |= {"slope_week": _WEEK * slope.value, "slope_ci_low": _WEEK * slope.low}
        row |= {"slope_ci_high": _WEEK * slope.high, "slope_days": slope.days}
    shifts = shifts_of(values)
    if shifts:
        one = shifts[-1]
        row |= {"shifts": len(shifts), "shift_day": int(days[one.place]), "shift_p": one.p_value}
        row |= {"shift_before": one.before, "shift_after": one.after}
    return row


def _alert_row(person: Person, alert: Alert, how: Following) -> Row:
    series = Series(alert.leg, alert.measure, np.array([], dtype=np.int64), ())
    return _keys(person.subject, series) | {
        "kind": alert.kind,
        "first_day": alert.day,
        "since_day": alert.since,
        "ended_day": alert.ended,
        "standing": alert.ended is None,
        "new": alert.ended is None and alert.day == max(person.sessions),
        "baseline": alert.baseline,
        "baseline_days": alert.baseline_days,
        "change": alert.change,
        "ci_low": alert.low,
        "ci_high": alert.high,
        "change_now": alert.change_now,
        "days": alert.days,
        "strides": None if alert.measure == WORN else alert.strides,
        "speed_change_m_s": alert.speed_change,
    }


def _silent_rows(person: Person, today: int, how: Following) -> list[Row]:
    """Runs of days without a session, each told on the day on which it is as long as the setting says."""
    days = sorted(set(person.sessions))
    rows = []
    for last, following in zip(days, [*days[1:], None], strict=True):
        told = last + how.silent_days
        if told > (today if following is None else following - 1):
            continue
        standing = following is None
        rows.append(
            {"subject": person.subject, "kind": "silent", "first_day": told, "since_day": last + 1}
            | {"ended_day": following, "standing": standing, "new": standing and told == today}
            | {"days": (today + 1 if following is None else following) - last - 1}
        )
    return rows
