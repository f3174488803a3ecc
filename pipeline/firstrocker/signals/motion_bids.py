"""Motion-BIDS files of a session: which recordings there are, and how each sensor in them reads.

A recording's sensors read by logger profiles made from ``channels.tsv`` and ``motion.json``; the rest of the way is
every other log's.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from firstrocker.errors import LogError
from firstrocker.model import Finding, Segment, Side
from firstrocker.signals.motion_names import (
    ACCELERATION_UNITS,
    FOLDER,
    RATE_UNITS,
    TIME_UNITS,
    applies,
    axes_of,
    entities,
    place_of,
)
from firstrocker.signals.profiles import LoggerProfile
from firstrocker.signals.strict import problems_of, quoted

MAX_BYTES = 1 << 20
"""Of a sidecar; a thousand channels take some 100 kB."""
REQUIRED = ("name", "component", "type", "tracked_point", "units")
_NOTHING = ("", "n/a")


@dataclass(frozen=True)
class Recording:
    """What was recorded at one time: the files of all tracking systems that share task, acq and run."""

    task: str
    acq: str | None
    run: str | None
    files: tuple[Path, ...]


@dataclass(frozen=True)
class MotionSensor:
    """One sensor's columns in a ``motion.tsv``: the file below the session's folder, and the profile it reads by."""

    segment: Segment
    side: Side
    file: str
    profile: LoggerProfile


@dataclass(frozen=True)
class _Channel:
    place: int
    kind: str
    component: str
    point: str
    units: str
    row: Mapping[str, str]


def find_recordings(folder: Path) -> tuple[Recording, ...]:
    """Every recording in a session's ``motion/``, sorted; empty where there is no such folder."""
    groups: dict[tuple[str, str, str], list[Path]] = {}
    for path in sorted((folder / FOLDER).glob("*_motion.tsv")):
        parts = entities(path.name)
        groups.setdefault((parts.get("task", ""), parts.get("acq", ""), parts.get("run", "")), []).append(path)
    return tuple(
        Recording(task, acq or None, run or None, tuple(files)) for (task, acq, run), files in sorted(groups.items())
    )


def sensors_of(
    recording: Recording, folder: Path, points: Mapping[str, tuple[Segment, Side] | None]
) -> tuple[tuple[MotionSensor, ...], tuple[Finding, ...]]:
    """The foot and shank sensors of a recording.

    Args:
        recording: of :func:`find_recordings`.
        folder: the session's.
        points: what tracked points mean, where their names do not say.

    Returns:
        the sensors, feet first; and a warning for each foot or shank that cannot be used.

    Raises:
        LogError: a file that goes with the recording is missing or wrong.
    """
    sensors: dict[tuple[Segment, Side], MotionSensor] = {}
    findings: list[Finding] = []
    for path in recording.files:
        where = path.relative_to(folder).as_posix()
        if not path.resolve().is_relative_to(folder.resolve()):
            what = "It is a link out of the session's folder."
            raise LogError(what, where=where, remedy="Put the file itself there.")
        sidecar, channels = _sidecar(path, folder, "motion", where), _channels(path, folder, where)
        frames = _sidecar(path, folder, "channels", where, needed=False).get("reference_frame")
        for place in dict.fromkeys(place_of(channel.point, points) for channel in channels):
            if place is None:
                continue
            own = [channel for channel in channels if place_of(channel.point, points) == place]
            fault = _fault(own, f"{where}: the {place[1]} {place[0]}")
            if fault is not None:
                findings.append(replace(fault, segment=place[0], side=place[1]))
            elif place in sensors:
                raise LogError(
                    f"There are two sensors of the {place[1]} {place[0]}: here and in {sensors[place].file}.",
                    where=where,
                    remedy="Keep one, or say under settings, bids, tracked_points, which is none.",
                )
            else:
                profile = _profile(own, channels, sidecar, frames, where=where)
                sensors[place] = MotionSensor(*place, where, profile)
    return tuple(sorted(sensors.values(), key=lambda s: (s.segment, s.side))), tuple(findings)


def _fault(channels: list[_Channel], sensor: str) -> Finding | None:
    """Why a sensor cannot be used."""
    for kind, name in (("ACCEL", "acceleration"), ("GYRO", "angular velocity")):
        mine = [c for c in channels if c.kind == kind]
        if sorted(c.component for c in mine) != ["x", "y", "z"]:
            what = f"{sensor} has not three channels of {name}. It was left out."
            remedy = f"channels.tsv must have one channel of type {kind} for each of the components x, y and z."
            return Finding("channels-missing", "warning", what, remedy)
        if any(c.row.get("status") == "bad" for c in mine):
            what = f"{sensor} has a channel of {name} that is marked as bad. It was left out."
            remedy = "Record again, or set 'status' in channels.tsv if the channel is good."
            return Finding("channel-bad", "warning", what, remedy)
    return None


def _profile(
    own: list[_Channel], channels: list[_Channel], sidecar: dict[str, Any], frames: object, *, where: str
) -> LoggerProfile:
    columns: dict[str, Any] = {}
    units: dict[str, Any] = {}
    for key, kind, known in (
        ("acceleration", "ACCEL", ACCELERATION_UNITS),
        ("angular_velocity", "GYRO", RATE_UNITS),
    ):
        mine = sorted((c for c in own if c.kind == kind), key=lambda c: c.component)
        columns[key], units[key] = [str(c.place) for c in mine], _unit({c.units for c in mine}, known, where)
    latency = [c for c in channels if c.kind == "LATENCY"]
    latency = [c for c in latency if c.point == own[0].point] or latency
    nominal, effective = sidecar.get("SamplingFrequency"), sidecar.get("SamplingFrequencyEffective")
    rate = next((c.row["sampling_frequency"] for c in own if _number(c.row.get("sampling_frequency"))), nominal)
    if latency:
        columns["time"], units["time"] = str(latency[0].place), _unit({latency[0].units}, TIME_UNITS, where)
    else:
        units["time"] = "none"
        rate = effective if _number(effective) else rate
    frame = own[0].row.get("reference_frame", "")
    levels = frames.get("Levels") if isinstance(frames, dict) else None
    level = levels.get(frame) if isinstance(levels, dict) else None
    axes = axes_of(level.get("SpatialAxes")) if isinstance(level, dict) else None
    content = {
        "columns": columns,
        "units": units,
        "header": False,
        "delimiter": "\t",
        "sampling_rate_hz": float(str(rate)) if _number(rate) else None,
        "axes": axes or "unknown",
    }
    try:
        return LoggerProfile.model_validate(content)
    except ValidationError as error:
        problems = "; ".join(str(problem) for problem in problems_of(error, LoggerProfile))
        raise LogError(problems, where=where, remedy="Check channels.tsv and motion.json.") from None


def _unit(given: set[str], known: Mapping[str, str], where: str) -> str:
    if len(given) == 1 and (unit := known.get(next(iter(given)))) is not None:
        return unit
    raise LogError(
        f"The unit {', '.join(quoted(unit) for unit in sorted(given))} in channels.tsv is not known here.",
        where=where,
        remedy=f"Known are {', '.join(dict.fromkeys(known.values()))}; the three components must have one unit.",
    )


def _number(value: object) -> bool:
    try:
        return float(str(value)) > 0
    except ValueError:
        return False


def _channels(path: Path, folder: Path, where: str) -> list[_Channel]:
    found = list(_above(path, folder, "channels.tsv"))
    if not found:
        raise LogError("There is no channels.tsv for it.", where=where, remedy="Add it: it says what each column is.")
    lines = [line.rstrip("\r\n").split("\t") for line in _text(found[-1]).splitlines() if line.strip()]
    name = found[-1].name
    missing = [column for column in REQUIRED if not lines or column not in lines[0]]
    if missing:
        raise LogError(f"The column {quoted(missing[0])} is missing.", where=name, remedy="The standard requires it.")
    rows = [dict(zip(lines[0], line, strict=False)) for line in lines[1:]]
    return [
        _Channel(
            place,
            row.get("type", "").strip().upper(),
            row.get("component", "").strip().lower(),
            row.get("tracked_point", "").strip(),
            row.get("units", "").strip(),
            {key: value.strip() for key, value in row.items() if value.strip() not in _NOTHING},
        )
        for place, row in enumerate(rows, 1)
    ]


def _sidecar(path: Path, folder: Path, suffix: str, where: str, *, needed: bool = True) -> dict[str, Any]:
    """The fields of all ``<suffix>.json`` that hold for a file, nearer ones over farther ones."""
    fields: dict[str, Any] = {}
    for file in _above(path, folder, f"{suffix}.json"):
        try:
            content = json.loads(_text(file))
        except (ValueError, RecursionError):
            content = None
        if not isinstance(content, dict):
            raise LogError("This is not JSON with named fields.", where=file.name, remedy="Mend or write it anew.")
        fields |= content
    if needed and not fields:
        raise LogError(f"There is no {suffix}.json for it.", where=where, remedy="The standard requires it: add it.")
    return fields


def _above(path: Path, folder: Path, ending: str) -> Iterator[Path]:
    """Files of that ending that hold for a ``motion.tsv``, from the dataset's folder down to its own."""
    mine = entities(path.name)
    for place in (folder.parent.parent, folder.parent, folder, path.parent):
        for file in sorted(place.glob(f"*{ending}")):
            whole = file.name == ending or file.name.endswith(f"_{ending}")
            if whole and file.is_file() and applies(file.name, mine):
                yield file


def _text(path: Path) -> str:
    try:
        with path.open("rb") as stream:
            content = stream.read(MAX_BYTES + 1)
        if len(content) > MAX_BYTES:
            raise LogError("The file is too large.", where=path.name, remedy="It is the wrong file, or damaged.")
        return content.decode("utf-8-sig")
    except OSError as error:
        reason = (error.strerror or "unknown reason").lower()
        raise LogError(f"The file cannot be read: {reason}.", where=path.name, remedy="Allow reading it.") from None
    except UnicodeDecodeError:
        raise LogError("The file is not text.", where=path.name, remedy="Save it as UTF-8 text.") from None
