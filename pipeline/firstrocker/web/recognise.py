"""What a log is, as far as can be told: the logger profile it reads by, what that makes of it, and a small trace.

Known profiles come first; where none fits, a profile is proposed and each doubt in it becomes a question.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING, Any

from firstrocker.files import compact_json

if TYPE_CHECKING:
    from firstrocker.model import Log
    from firstrocker.signals.profiles import LoggerProfile

BINS = 160
"""Points of a trace."""
MOST_ROWS = 3_000_000
"""Four hours at 200 Hz. A Parquet file of a few kB may claim far more rows than memory holds."""
GRAVITY = (9.3, 10.3)
"""m/s^2 that a resting sensor reads, with room for a gain error of 5 %; from memory, no source."""
TURNING = (60.0, 3000.0)
"""deg/s: a leg that walks turns faster, no sensor of movement reads farther; from memory, no source."""


@dataclass(frozen=True)
class Point:
    """One thing understood about a log, in words; ``choices`` are what it could be instead, itself first."""

    key: str
    words: str
    sure: bool = True
    choices: tuple[Any, ...] = ()


@dataclass(frozen=True)
class Trace:
    """A log drawn small: the greatest reading of each stretch."""

    duration_s: float
    acceleration: tuple[float, ...]
    turning: tuple[float, ...]


@dataclass(frozen=True)
class Understood:
    """What was understood of a log.

    fits: names of the known profiles it reads by, the likeliest first. own: a profile proposed for it where none does.
    sure: nothing is to be asked. answered: somebody has answered what was asked. problem: why it cannot be read.
    """

    fits: tuple[str, ...] = ()
    own: Mapping[str, Any] | None = None
    sure: bool = False
    answered: bool = False
    points: tuple[Point, ...] = ()
    trace: Trace | None = None
    problem: str = ""

    def to_json(self) -> dict[str, Any]:
        """Plain data."""
        return asdict(self)

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> Understood:
        """What :meth:`to_json` gave."""
        points = tuple(Point(**{**point, "choices": tuple(point["choices"])}) for point in data["points"])
        drawn = data["trace"]
        trace = (
            None if drawn is None else Trace(drawn["duration_s"], tuple(drawn["acceleration"]), tuple(drawn["turning"]))
        )
        return cls(**{**data, "fits": tuple(data["fits"]), "points": points, "trace": trace})

    @property
    def logger(self) -> str:
        """The profile to read it by: a known one, or the name of its own; empty where neither is settled."""
        if self.own is not None:
            return own_name(self.own)
        return self.fits[0] if len(self.fits) == 1 else ""

    @property
    def questions(self) -> list[Point]:
        """What has to be asked before it is run."""
        return [] if self.sure or self.answered else [point for point in self.points if not point.sure]


def own_name(profile: Mapping[str, Any]) -> str:
    """A name for a proposed profile that is the same for the same profile."""
    return f"proposed_{sha256(compact_json(dict(profile)).encode()).hexdigest()[:8]}"


def recognise(path: Path, *, loggers: Path) -> Understood:
    """Look at a log with every known profile, then with none.

    Args:
        path: delimited text or Parquet.
        loggers: folder of the known profiles.
    """
    from firstrocker.errors import FirstrockerError
    from firstrocker.signals.profiles import load_profile, profile_names

    refused = _refusal(path)
    if refused:
        return Understood(problem=refused)
    readings: list[tuple[str, Understood]] = []
    for name in profile_names(loggers):
        try:
            readings.append((name, read_with(path, load_profile(loggers / f"{name}.yaml"))))
        except FirstrockerError:
            continue
    good = [(name, seen) for name, seen in readings if seen.sure] or readings
    if not good:
        return _proposed(path)
    _, best = good[0]
    return replace(best, fits=tuple(name for name, _ in good), sure=best.sure and len(good) == 1)


def answer(path: Path, asked: Understood, answers: Mapping[str, int]) -> Understood:
    """The log read again by its proposed profile with the answers put in.

    Args:
        path: the log.
        asked: what was understood so far; it has an own profile.
        answers: key of a question -> number of the choice.
    """
    from pydantic import ValidationError

    from firstrocker.errors import FirstrockerError
    from firstrocker.signals.profiles import LoggerProfile

    profile: dict[str, Any] = {k: dict(v) if isinstance(v, Mapping) else v for k, v in (asked.own or {}).items()}
    for point in asked.points:
        if point.key in answers and 0 <= answers[point.key] < len(point.choices):
            _put(profile, point.key.split("."), point.choices[answers[point.key]])
    try:
        seen = read_with(path, LoggerProfile.model_validate(profile))
    except (FirstrockerError, ValidationError) as error:
        what = str(error) if isinstance(error, FirstrockerError) else "These answers do not go together."
        return replace(asked, problem=what, answered=False)
    points = tuple(replace(point, sure=True) for point in asked.points if not point.sure) + seen.points
    return Understood(own=profile, sure=False, answered=True, points=points, trace=seen.trace)


def read_with(path: Path, profile: LoggerProfile) -> Understood:
    """What a profile makes of a log.

    Raises:
        FirstrockerError: it does not read by this profile.
    """
    from firstrocker.signals.readers import read_log

    log, findings = read_log(path, profile=profile, segment="foot", side="left", where="the log")
    points, trace = look_at(log)
    units = profile.units
    columns = [*profile.columns.acceleration, *profile.columns.angular_velocity]
    read = f"acceleration in {units.acceleration} and turning in {units.angular_velocity}, from {', '.join(columns)}"
    how = "found from the walk" if profile.axes is None else "as the logger's profile gives them"
    points = [Point("columns", read), *points, Point("axes", f"how the sensor sits: {how}")]
    points += [Point("note", finding.message) for finding in findings if finding.severity != "info"]
    return Understood(sure=all(point.sure for point in points), points=tuple(points), trace=trace)


def look_at(log: Log) -> tuple[list[Point], Trace]:
    """What the readings of a log say of it, and its trace."""
    import numpy as np

    duration = float(log.time[-1] - log.time[0])
    rate = (len(log.time) - 1) / duration
    turning = np.degrees(np.linalg.norm(log.angular_velocity, axis=1))
    force = np.linalg.norm(log.acceleration, axis=1)
    width = max(2, int(rate))
    starts = range(0, max(1, len(turning) - width), width)
    quietest = min(starts, key=lambda start: float(np.std(turning[start : start + width])))
    gravity = float(np.median(force[quietest : quietest + width]))
    peak = float(np.quantile(turning, 0.999))
    rests, walks = GRAVITY[0] <= gravity <= GRAVITY[1], TURNING[0] <= peak <= TURNING[1]
    points = [
        Point("rate", f"{duration:.1f} s at {rate:.4g} samples a second"),
        Point(
            "gravity",
            f"{gravity:.2f} m/s\u00b2 while quiet"
            + ("" if rests else ": gravity is 9.81, so that the unit or the scale may be wrong"),
            rests,
        ),
        Point(
            "turning",
            f"turns up to {peak:.0f} deg/s" + ("" if walks else ": no leg that walks does, so check file and unit"),
            walks,
        ),
    ]
    return points, Trace(round(duration, 2), _thinned(force), _thinned(turning))


def _thinned(values: Any) -> tuple[float, ...]:
    import numpy as np

    return tuple(round(float(part.max()), 2) for part in np.array_split(values, min(BINS, len(values))))


def _refusal(path: Path) -> str:
    with path.open("rb") as file:
        if file.read(4) != b"PAR1":
            return ""
    from pyarrow import ArrowException
    from pyarrow import parquet as pq

    try:
        rows = pq.read_metadata(path).num_rows
    except (ArrowException, OSError):
        return "The Parquet file is damaged or was cut off. Copy or export the log again."
    return f"The file says that it has {rows} rows: that is no walk." if rows > MOST_ROWS else ""


def _proposed(path: Path) -> Understood:
    from pydantic import ValidationError

    from firstrocker.errors import FirstrockerError
    from firstrocker.signals.describe import describe
    from firstrocker.signals.profiles import LoggerProfile

    try:
        found = describe(path)
    except FirstrockerError as error:
        return Understood(problem=f"{error.what} {error.remedy}".strip())
    problem = " ".join(f"{one.what} {one.remedy}".strip() for one in found.problems)
    if problem or not found.usable:
        return Understood(problem=problem or _UNKNOWN)
    doubts = tuple(
        Point(item.key, item.why, False, (item.value, *item.alternatives))
        for item in found.items
        if item.sure == "low" or (item.sure == "fair" and item.alternatives)
    )
    try:
        seen = read_with(path, LoggerProfile.model_validate(found.profile))
    except (FirstrockerError, ValidationError) as error:
        return Understood(problem=str(error) if isinstance(error, FirstrockerError) else _UNKNOWN)
    # A doubt without another choice is a thing to look into, and to say that one has.
    doubts = tuple(p if len(p.choices) > 1 else replace(p, choices=()) for p in doubts)
    return replace(seen, own=dict(found.profile), sure=seen.sure and not doubts, points=(*doubts, *seen.points))


_UNKNOWN = "No known logger writes such a file."


def _put(profile: dict[str, Any], keys: Sequence[str], value: Any) -> None:
    for key in keys[:-1]:
        profile = profile.setdefault(key, {})
    if value is None:
        profile.pop(keys[-1], None)
    else:
        profile[keys[-1]] = value
