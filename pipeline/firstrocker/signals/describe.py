"""A look at a log of an unknown logger: the profile it seems to read by, and how sure each entry is."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from pydantic import ValidationError

from firstrocker.errors import FirstrockerError, LogError
from firstrocker.model import FloatArray, Log
from firstrocker.signals.columns import read_content
from firstrocker.signals.description import Description, Preview
from firstrocker.signals.guess_clock import Clock, guess_clock
from firstrocker.signals.guess_items import clock_problems, sensor_entries, sensor_items, sensor_problems
from firstrocker.signals.guess_motion import QUIET_S, quiet_rows
from firstrocker.signals.guess_sensors import Sensor, find_sensors
from firstrocker.signals.guess_table import Seen, seen_in, sensors_in_rows
from firstrocker.signals.profiles import LoggerProfile
from firstrocker.signals.readers import read_log
from firstrocker.signals.strict import Problem, problems_of

POINTS = 600
"""Of the preview."""
BEYOND_ALL = 1e20
"""Numbers that are no measurement: nanoseconds since 1970 are some 1e18."""
_LEAST_ROWS = 50


def describe(path: Path) -> Description:
    """What a log seems to hold, and a profile to read it by.

    The log should show what a log of a walk shows: some standing still, some walking.

    Args:
        path: delimited text or Parquet, packed or not; ``logs.zip/left.csv`` for one of several in a zip.

    Returns:
        the proposal, its ``others`` for the file's further sensors. Where ``usable``, the file was read with it.

    Raises:
        LogError: the file cannot be read, or is no table of numbers.
    """
    where = path.name
    seen = seen_in(read_content(path, where=where), where=where)
    found: list[Description] = []
    for part in sensors_in_rows(seen):
        found += _described(part)
    found = [_tried(one, path, where) for one in found]
    found.sort(key=lambda one: not one.usable)
    if not found:
        raise LogError(
            f"The table has fewer than {_LEAST_ROWS} rows of numbers.",
            where=where,
            remedy="Describe a log of some seconds of standing and a walk.",
        )
    return replace(found[0], others=tuple(found[1:]))


def _described(seen: Seen) -> Iterator[Description]:
    """One description for each sensor in a table, or one that says what is missing."""
    columns, stamps = _whole_rows(seen)
    if not columns or len(next(iter(columns.values()))) < _LEAST_ROWS:
        return
    clock = guess_clock(columns, stamps, seen.above)
    signals = {name: values for name, values in columns.items() if _is_signal(name, values, clock)}
    sensors: list[Sensor] = []
    if len(signals) >= 6:
        width = 25 if clock.rate_hz is None else max(int(QUIET_S * clock.rate_hz), 8)
        quiet = quiet_rows(np.column_stack(list(signals.values())), width)
        sensors = find_sensors(signals, quiet, clock.rate_hz)
    entries, items = _table_entries(seen), [*seen.items, *clock.items]
    if not sensors:
        what = "No three columns show gravity at rest while three others show turning in movement."
        remedy = "The log must hold acceleration with gravity in it, angular velocity, some standing and some walking."
        yield Description(entries, tuple(items), None, (Problem("columns", what, remedy),), clock.notes, seen.sensor)
    for sensor in sensors:
        profile = sensor_entries(sensor, clock, header=seen.header) | entries
        problems = (*clock_problems(clock), *sensor_problems(sensor))
        name = " ".join(one for one in (seen.sensor, sensor.stem if len(sensors) > 1 else "") if one)
        every = (*items, *sensor_items(sensor, header=seen.header))
        yield Description(profile, every, None, problems, clock.notes, name)


def _table_entries(seen: Seen) -> dict[str, Any]:
    """The profile's entries about the table itself, defaults left out."""
    fields = LoggerProfile.model_fields
    told = {item.key: item.value for item in seen.items if "." not in item.key and item.value is not None}
    entries = {key: value for key, value in told.items() if key not in fields or fields[key].default != value}
    if seen.rows is not None:
        value = seen.rows.equals
        entries["rows"] = {
            "column": _place(seen.rows.column, seen.header),
            "equals": int(value) if value.isdigit() else value,
        }
    return entries


def _place(name: str, header: bool) -> str | int:
    return name if header else int(name)


def _whole_rows(seen: Seen) -> tuple[dict[str, FloatArray], dict[str, FloatArray]]:
    """The columns that are mostly filled, in the rows in which all of them are."""
    columns = {name: values for name, values in seen.numbers.items() if np.isfinite(values).mean() > 0.8}
    stamps = {name: values for name, values in seen.stamps.items() if np.isfinite(values).mean() > 0.8}
    if not columns:
        return {}, {}
    fine = np.all([np.abs(values) < BEYOND_ALL for values in (*columns.values(), *stamps.values())], axis=0)
    return {n: v[fine] for n, v in columns.items()}, {n: v[fine] for n, v in stamps.items()}


def _is_signal(name: str, values: FloatArray, clock: Clock) -> bool:
    if name == clock.column or np.ptp(values) == 0:
        return False
    steps = np.diff(values)
    return not ((steps >= 0).mean() > 0.98 or (steps <= 0).mean() > 0.98)


def _tried(described: Description, path: Path, where: str) -> Description:
    """A description with the file read by it, or with why it could not be."""
    if described.problems:
        return described
    try:
        profile = LoggerProfile.model_validate(described.profile)
        log, findings = read_log(path, profile=profile, segment="foot", side="left", where=where)
    except ValidationError as error:
        return replace(described, problems=tuple(problems_of(error, LoggerProfile)))
    except FirstrockerError as error:
        return replace(described, problems=(Problem("", error.what, error.remedy),))
    told = tuple(one.message.removeprefix(f"{where}: ") for one in findings)
    return replace(described, preview=preview_of(log), notes=(*described.notes, *told))


def preview_of(log: Log, *, points: int = POINTS) -> Preview:
    """A log's lengths of acceleration and angular velocity in at most ``points`` points."""
    width = -(-len(log.time) // points)
    whole = len(log.time) // width * width
    felt = np.linalg.norm(log.acceleration, axis=1)[:whole].reshape(-1, width).max(axis=1)
    turning = np.linalg.norm(log.angular_velocity, axis=1)[:whole].reshape(-1, width).max(axis=1)
    return Preview(log.time[:whole:width] - log.time[0], felt, turning)
