"""Logger profiles: how the columns, units and axes of a logger's files read."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Annotated, Literal, Self

import numpy as np
from pydantic import (
    AfterValidator,
    BeforeValidator,
    Field,
    PlainValidator,
    StringConstraints,
    ValidationError,
    model_validator,
)

from firstrocker.errors import LogError
from firstrocker.model import FloatArray
from firstrocker.signals.strict import Strict, did_you_mean, mistake, problems_of, quoted
from firstrocker.signals.table import SPACES
from firstrocker.signals.units import AccelerationUnit, AngularVelocityUnit, TimeUnit
from firstrocker.signals.yamlfile import YamlError, load_yaml


def _place(value: object) -> object:
    """A column's place, for files without a line of names."""
    return str(value) if isinstance(value, int) and not isinstance(value, bool) else value


Column = Annotated[str, StringConstraints(min_length=1, max_length=200), BeforeValidator(_place)]
ProfileName = Annotated[str, StringConstraints(pattern=r"^[A-Za-z0-9][A-Za-z0-9_-]{0,39}$")]
PLACE = "[1-9][0-9]{0,4}"
SensorAxis = Literal["+x", "-x", "+y", "-y", "+z", "-z"]


def _three(value: list[str]) -> list[str]:
    if len(value) != 3 or len(set(value)) != 3:
        raise mistake("There must be three different columns here.", "Name those of the x, y and z axis: [ax, ay, az].")
    return value


def _tab(value: object) -> object:
    return "\t" if value in ("tab", "\\t") else value


def _parting(value: str) -> str:
    if len(value) != 1 and value != SPACES:
        raise mistake(
            f"{quoted(value)} cannot part two columns.",
            f"Write one sign, such as ',' or ';', or 'tab', or '{SPACES}' for any number of spaces.",
        )
    if value in '\r\n"':
        raise mistake("Line ends and quotes cannot part two columns.", "Write one sign, such as ',' or ';', or 'tab'.")
    return value


Three = Annotated[list[Column], AfterValidator(_three)]


class Columns(Strict):
    """Names of the columns; a quantity's three in the order x, y, z of the sensor."""

    time: Column | None = None
    acceleration: Three
    angular_velocity: Three


class Units(Strict):
    """What the numbers are in; ``time`` may be left out where a counter takes its place."""

    time: TimeUnit | None = None
    acceleration: AccelerationUnit
    angular_velocity: AngularVelocityUnit


def _wraps(value: object) -> object:
    whole = isinstance(value, int) and not isinstance(value, bool) and 2 <= value <= 2**63
    if not whole and value not in ("found", "never"):
        raise mistake(
            f"{quoted(value)} says nothing of where the counter begins anew.",
            "Write the number of its states, such as 256 or 65536; or 'found'; or 'never'.",
        )
    return value


def _plain(value: object) -> object:
    fine = isinstance(value, str | int | float) and not isinstance(value, bool)
    if not fine or not 0 < len(str(value)) <= 200:
        raise mistake(f"{quoted(value)} cannot be what stands in a cell.", "Write a number or a short text.")
    return value


class Scale(Strict):
    """By how much a column's number is to be multiplied to be in its unit: what one count is worth."""

    acceleration: Annotated[float, Field(gt=0, le=1e6)] = 1.0
    angular_velocity: Annotated[float, Field(gt=0, le=1e6)] = 1.0


class Counter(Strict):
    """A column that counts samples or ticks instead of telling the time."""

    column: Column
    per_second: Annotated[float, Field(gt=0, le=1e12)] | None = None
    wraps_at: Annotated[int | Literal["found", "never"], PlainValidator(_wraps)] = "found"


class Rows(Strict):
    """Which rows are this sensor's, where several sensors write into one file."""

    column: Column
    equals: Annotated[str | int | float, PlainValidator(_plain)]


class Axes(Strict):
    """Which sensor axis points forward, left and up along the segment it sits on."""

    forward: SensorAxis
    left: SensorAxis
    up: SensorAxis

    @model_validator(mode="after")
    def _right_handed(self) -> Self:
        if len({axis[1] for axis in (self.forward, self.left, self.up)}) != 3:
            raise mistake(
                "Forward, left and up must be three different axes of the sensor.",
                "Use x, y and z once each, or write 'axes: unknown'.",
            )
        if np.linalg.det(self.matrix()) < 0:
            raise mistake(
                "A sensor with its axes so would be left-handed, which the trade's sensors are not.",
                "Turn one sign round: look along 'forward' from behind, 'left' must be on the left with 'up' on top. "
                "If unsure, write 'axes: unknown' and the axes are found from the walk.",
            )
        return self

    def matrix(self) -> FloatArray:
        """(3, 3) rotation that takes sensor coordinates to segment coordinates."""
        rows = np.zeros((3, 3))
        for row, axis in zip(rows, (self.forward, self.left, self.up), strict=True):
            row["xyz".index(axis[1])] = 1.0 if axis[0] == "+" else -1.0
        return rows


def _known_axes(value: object) -> object:
    if isinstance(value, str) and value != "unknown":
        raise mistake(
            f"{quoted(value)} says nothing of the axes.",
            "Write 'axes: unknown', or for example {forward: +x, left: +y, up: +z}.",
        )
    return None if value == "unknown" else value


class LoggerProfile(Strict):
    """How the columns, units and axes of one logger's files read."""

    columns: Columns
    units: Units
    scale: Scale = Scale()
    counter: Counter | None = None
    rows: Rows | None = None
    header: bool = True
    delimiter: Annotated[str, BeforeValidator(_tab), AfterValidator(_parting)] = ","
    decimal: Literal[".", ","] = "."
    comment: Annotated[str, StringConstraints(min_length=1, max_length=8)] | None = None
    skip_rows: Annotated[int, Field(ge=0, le=10_000)] = 0
    skip_below: Annotated[int, Field(ge=0, le=100)] = 0
    sampling_rate_hz: Annotated[float, Field(gt=0, le=100_000)] | None = None
    axes: Annotated[Axes | None, BeforeValidator(_known_axes)] = None

    @model_validator(mode="after")
    def _consistent(self) -> Self:
        if self.delimiter == self.decimal:
            raise mistake(
                f"The sign {quoted(self.delimiter)} cannot both part the columns and mark the decimals.",
                "Set 'delimiter' to what stands between two columns, often ';' where the decimal is ','.",
            )
        self._check_clock()
        names = [*self.columns.acceleration, *self.columns.angular_velocity]
        others = (self.time_column, self.counter and self.counter.column, self.rows and self.rows.column)
        names += [column for column in others if column]
        if not self.header:
            wrong = next((name for name in names if not re.fullmatch(PLACE, name)), None)
            if wrong is not None:
                raise mistake(
                    f"With 'header: false' the columns have no names, so that {quoted(wrong)} cannot be found.",
                    "Give their places, counted from 1: [2, 3, 4].",
                )
        twice = sorted({name for name in names if names.count(name) > 1})
        if twice:
            raise mistake(f"The column {quoted(twice[0])} is named for two things.", "Name each column once.")
        return self

    def _check_clock(self) -> None:
        if self.counter is not None:
            if self.columns.time is not None or self.units.time not in (None, "none"):
                raise mistake(
                    "Both a time and a counter are given.",
                    "Keep one: take 'time' away under 'columns' and 'units', or take 'counter' away.",
                )
            if self.counter.per_second is None and self.sampling_rate_hz is None:
                raise mistake(
                    "Nothing tells how fast the counter counts.",
                    "Add 'sampling_rate_hz' if it counts samples, else 'per_second' under 'counter'.",
                )
            return
        if self.units.time is None:
            raise mistake(
                "The unit of time is missing.",
                "Add 'time' under 'units': s, ms, us, ns, iso8601, or none where the log has no times.",
            )
        if self.units.time == "none" and self.sampling_rate_hz is None:
            raise mistake(
                "The time unit is 'none' but no 'sampling_rate_hz' is given.",
                "Add 'sampling_rate_hz', the samples per second the logger was set to.",
            )
        if self.units.time != "none" and self.columns.time is None:
            raise mistake(
                "No column is named for the time.",
                "Add 'time' under 'columns', or write 'time: none' under 'units' and give 'sampling_rate_hz'.",
            )

    @property
    def time_column(self) -> str | None:
        """The column that tells the time; None where a counter or a fixed rate does."""
        return None if self.units.time in (None, "none") else self.columns.time

    @property
    def mounting(self) -> FloatArray | None:
        """(3, 3) rotation from sensor to segment coordinates, None where it is to be found from the walk."""
        return None if self.axes is None else self.axes.matrix()


def find_profile(name: str, *, own: Mapping[str, LoggerProfile], folder: Path) -> LoggerProfile:
    """The profile of that name: the session's own where it has one, else the folder's.

    Args:
        name: as the session file gives it.
        own: profiles written in the session file.
        folder: where ``<name>.yaml`` files lie.

    Raises:
        LogError: no such profile (with the nearest name known), or a file that is not a profile, every problem named.
    """
    if name in own:
        return own[name]
    known = profile_names(folder)
    if name not in known:
        hint = did_you_mean(name, [*own, *known], also="Profiles known are")
        raise LogError(
            f"There is no logger profile called {quoted(name)}.",
            remedy=f"{hint} A profile can be written under 'loggers' in session.yaml.".strip(),
        )
    return load_profile(folder / f"{name}.yaml")


def profile_names(folder: Path) -> list[str]:
    """Names of the profiles in a folder, sorted; empty where there is no such folder."""
    return sorted(path.stem for path in folder.glob("*.yaml")) if folder.is_dir() else []


def load_profile(path: Path) -> LoggerProfile:
    """The profile in a YAML file.

    Raises:
        LogError: unreadable, or not a profile; every problem named.
    """
    where = f"logger profile {path.name}"
    try:
        content = load_yaml(path, where=where)
        return LoggerProfile.model_validate(content)
    except YamlError as error:
        raise LogError(error.what, where=error.where, remedy=error.remedy) from None
    except ValidationError as error:
        problems: Iterable[str] = (str(problem) for problem in problems_of(error, LoggerProfile))
        raise LogError("; ".join(problems), where=where, remedy="The README describes every key.") from None
