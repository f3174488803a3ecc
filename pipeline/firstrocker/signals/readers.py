"""From a file and its logger profile to a log in SI units."""

from __future__ import annotations

from pathlib import Path

from firstrocker.errors import LogError
from firstrocker.model import Finding, FloatArray, Log, Segment, Side
from firstrocker.signals.columns import read_columns
from firstrocker.signals.counter import seconds_of
from firstrocker.signals.profiles import LoggerProfile
from firstrocker.signals.samples import make_log
from firstrocker.signals.table import Choice, Layout, Wanted


def read_log(
    path: Path, *, profile: LoggerProfile, segment: Segment, side: Side, where: str
) -> tuple[Log, tuple[Finding, ...]]:
    """One sensor's log, and what was noticed while reading it.

    Args:
        path: delimited text or Parquet, packed or not.
        profile: how its columns, units and axes read.
        segment: what the sensor sat on.
        side: of the body.
        where: how to name the file in errors and findings.

    Raises:
        LogError: the file cannot be read, or its rows cannot be a log.
        SignalError: the samples' times cannot be in the unit they are said to be in.
    """
    columns, counter, clock = profile.columns, profile.counter, profile.time_column
    table = read_columns(path, wanted=wanted_of(profile), layout=layout_of(profile), where=where)
    time, noticed = None, list(table.findings)
    if counter is not None:
        time = _counted(table.numbers[counter.column], profile, noticed, where=where)
    elif clock is not None:
        time = table.stamps[clock] if clock in table.stamps else table.numbers[clock]
    log, findings = make_log(
        time,
        [_scaled(table.numbers.pop(name), profile.scale.acceleration) for name in columns.acceleration],
        [_scaled(table.numbers.pop(name), profile.scale.angular_velocity) for name in columns.angular_velocity],
        time_unit="s" if counter is not None or profile.units.time is None else profile.units.time,
        acceleration_unit=profile.units.acceleration,
        angular_velocity_unit=profile.units.angular_velocity,
        sampling_rate_hz=profile.sampling_rate_hz,
        segment=segment,
        side=side,
        mounting=profile.mounting,
        where=where,
        counted=counter is not None,
    )
    return log, (*noticed, *findings)


def _scaled(numbers: FloatArray, factor: float) -> FloatArray:
    """The numbers, overwritten where a factor changes them."""
    if factor != 1.0:
        numbers *= factor
    return numbers


def wanted_of(profile: LoggerProfile) -> Wanted:
    """The columns that a profile names, and its rows."""
    columns, counter, clock = profile.columns, profile.counter, profile.time_column
    numbers = [*columns.acceleration, *columns.angular_velocity]
    stamps: list[str] = []
    if counter is not None:
        numbers.append(counter.column)
    elif clock is not None:
        (stamps if profile.units.time == "iso8601" else numbers).append(clock)
    rows = None if profile.rows is None else Choice(profile.rows.column, str(profile.rows.equals))
    return Wanted(numbers, stamps, rows)


def layout_of(profile: LoggerProfile) -> Layout:
    """How a profile's text is parted."""
    return Layout(
        profile.delimiter, profile.decimal, profile.comment, profile.skip_rows, profile.header, profile.skip_below
    )


def _counted(counts: FloatArray, profile: LoggerProfile, noticed: list[Finding], *, where: str) -> FloatArray:
    """Seconds of a counter's values."""
    counter = profile.counter
    per_second = None if counter is None else counter.per_second or profile.sampling_rate_hz
    if counter is None or per_second is None:  # the profile is checked for it
        raise LogError("Nothing tells how fast the counter counts.", where=where, remedy="Add 'sampling_rate_hz'.")
    seconds, findings = seconds_of(counts, per_second=per_second, wraps_at=counter.wraps_at, where=where)
    noticed += findings
    return seconds
