"""From a file and its logger profile to a log in SI units."""

from __future__ import annotations

from pathlib import Path

from firstrocker.model import Finding, Log, Segment, Side
from firstrocker.signals.columns import read_columns
from firstrocker.signals.profiles import LoggerProfile
from firstrocker.signals.samples import make_log
from firstrocker.signals.table import Layout


def read_log(
    path: Path, *, profile: LoggerProfile, segment: Segment, side: Side, where: str
) -> tuple[Log, tuple[Finding, ...]]:
    """One sensor's log, and what was noticed while reading it.

    Args:
        path: delimited text or Parquet.
        profile: how its columns, units and axes read.
        segment: what the sensor sat on.
        side: of the body.
        where: how to name the file in errors and findings.

    Raises:
        LogError: the file cannot be read, or its rows cannot be a log.
        SignalError: the samples' times cannot be in the unit they are said to be in.
    """
    columns, units = profile.columns, profile.units
    numbers = [*columns.acceleration, *columns.angular_velocity]
    stamps: list[str] = []
    if columns.time is not None and units.time == "iso8601":
        stamps.append(columns.time)
    elif columns.time is not None and units.time != "none":
        numbers.append(columns.time)
    layout = Layout(profile.delimiter, profile.decimal, profile.comment, profile.skip_rows)
    table = read_columns(path, numbers=numbers, stamps=stamps, layout=layout, where=where)
    time = None
    if columns.time is not None and units.time != "none":
        time = table.stamps[columns.time] if stamps else table.numbers[columns.time]
    log, findings = make_log(
        time,
        [table.numbers[name] for name in columns.acceleration],
        [table.numbers[name] for name in columns.angular_velocity],
        time_unit=units.time,
        acceleration_unit=units.acceleration,
        angular_velocity_unit=units.angular_velocity,
        sampling_rate_hz=profile.sampling_rate_hz,
        segment=segment,
        side=side,
        mounting=profile.mounting,
        where=where,
    )
    return log, table.findings + findings
