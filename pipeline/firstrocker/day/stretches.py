"""A long walk made ready: every log in brief, stretches that may hold walking, and their rows cut out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from firstrocker.day.clocks import Clocks, Sensor, rough_clocks
from firstrocker.day.spool import Spool
from firstrocker.errors import FirstrockerError, LogError
from firstrocker.model import Finding
from firstrocker.settings_day import DaySettings
from firstrocker.signals.cutting import cut
from firstrocker.signals.digest import TENTHS, Digest, digest
from firstrocker.signals.screen import Span, cut_at, merged, pieces, walking_spans
from firstrocker.signals.stream import LongLog, LongWalk, head_of, rows_of
from firstrocker.signals.units import METRES_PER_SECOND_SQUARED, RADIANS_PER_SECOND

SLACK_S = 1.5
"""By which a shank's stretch is cut longer than the foot's: its clock is known roughly only."""


@dataclass(frozen=True)
class Piece:
    """A stretch, or part of one, on the walk's clock.

    own: the part whose strides are its own. goes_on: it overlaps the one before, which was cut for its length.
    """

    span: Span
    own: Span
    goes_on: bool


@dataclass(frozen=True)
class Prepared:
    """logs, digests: of the sensors that can be read. pieces: in order; their rows lie in the spool."""

    logs: Mapping[Sensor, LongLog]
    digests: Mapping[Sensor, Digest]
    clocks: Clocks
    pieces: tuple[Piece, ...]
    findings: tuple[Finding, ...]


def in_brief(log: LongLog) -> Digest:
    """A log read once through.

    Raises:
        LogError, SignalError: it cannot be read, or its first minute cannot be in the units it is said to be in.
    """
    head_of(log)
    return digest(
        rows_of(log),
        acceleration_scale=METRES_PER_SECOND_SQUARED[log.profile.units.acceleration],
        angular_velocity_scale=RADIANS_PER_SECOND[log.profile.units.angular_velocity],
        where=log.source,
    )


def prepare(walk: LongWalk, spool: Spool, *, day: DaySettings) -> Prepared:
    """Read a walk's logs twice: once to find where there may be walking, once to cut that out.

    Args:
        walk: its logs.
        spool: for the rows.
        day: settings.

    Raises:
        LogError: no foot log can be read.
    """
    logs: dict[Sensor, LongLog] = {}
    digests: dict[Sensor, Digest] = {}
    findings: list[Finding] = []
    for log in walk.logs:
        try:
            digests[log.segment, log.side] = in_brief(log)
            logs[log.segment, log.side] = log
        except FirstrockerError as error:
            loss = "foot is not measured" if log.segment == "foot" else "ankle and shank are not measured"
            message = f"{error.where or log.source}: {error.what} This {loss} in this walk."
            findings.append(Finding(error.code, "warning", message, error.remedy, None, log.segment, log.side))
    if not any(segment == "foot" for segment, _ in digests):
        first = next((f for f in findings if f.segment == "foot"), None)
        if first is None:
            raise LogError("The walk has no foot log.", code="no-foot-log", where=walk.info.walk, remedy="Add one.")
        raise LogError(first.message, code=first.code, remedy=first.remedy)
    clocks = rough_clocks(digests)
    findings += [_restarted(digests[sensor], logs[sensor]) for sensor in digests if digests[sensor].restarts]
    findings += _other_foot(clocks, logs)
    found = tuple(_pieces(digests, clocks, day))
    for sensor in clocks.starts:
        if sensor[0] == "shank" and ("foot", sensor[1]) not in digests:
            continue
        _cut_out(sensor, logs[sensor], found, clocks, spool)
    return Prepared(logs, digests, clocks, found, tuple(findings))


def _pieces(digests: Mapping[Sensor, Digest], clocks: Clocks, day: DaySettings) -> list[Piece]:
    spans: list[Span] = []
    turning = float(np.radians(day.turning_deg_s))
    for sensor, log in digests.items():
        if sensor[0] != "foot":
            continue
        for first, stop in walking_spans(log, turning=turning, pad_s=day.pad_s):
            ends = first, stop
            if sensor != clocks.first:
                ends = _walk_time(clocks, sensor, first), _walk_time(clocks, sensor, stop)
            spans.append(ends)
    first_log = digests[clocks.first]
    last = len(first_log.samples) / TENTHS
    inside = [(max(first, 0.0), min(stop, last)) for first, stop in spans if stop > 0.0 and first < last]
    found: list[Piece] = []
    for span in cut_at(merged(inside), clocks.breaks()):
        parts = pieces(span, first_log, longest_s=day.longest_stretch_s)
        overlaps = [False, *(b[0][0] < a[0][1] for a, b in pairwise(parts))]
        found += [Piece(whole, own, goes_on) for (whole, own), goes_on in zip(parts, overlaps, strict=True)]
    return found


def _walk_time(clocks: Clocks, foot: Sensor, time: float) -> float:
    """A time of the other foot's clock, s from its first sample, on the walk's."""
    guess = time
    for _ in range(3):
        shown = clocks.since_start(foot, guess)
        guess += time - shown if np.isfinite(shown) else 0.0
    return guess


def _cut_out(sensor: Sensor, log: LongLog, found: tuple[Piece, ...], clocks: Clocks, spool: Spool) -> None:
    slack = 0.0 if sensor == clocks.first else SLACK_S if sensor[0] == "shank" else 0.0
    own = [clocks.own_span(sensor, piece.span) for piece in found]
    known = [number for number, span in enumerate(own) if np.isfinite(span).all()]
    spans = [(own[number][0] - slack, own[number][1] + slack) for number in known]
    for place, rows in cut(rows_of(log), spans):
        spool.put(known[place], sensor, rows)


def _other_foot(clocks: Clocks, logs: Mapping[Sensor, LongLog]) -> list[Finding]:
    """How well it is known how the other foot's clock lies."""
    found = []
    for sensor in clocks.starts:
        if sensor[0] != "foot" or sensor == clocks.first:
            continue
        how = (
            "their clocks were laid by when both moved, which is good to a second or so"
            if sensor in clocks.told
            else "they never moved alike, so their logs' own times were believed"
        )
        text = f"{logs[sensor].source}: the two feet share no joint that could tell how their clocks lie; {how}."
        text += " No measure depends on it, but the times of left and right must not be compared closely."
        found.append(Finding("sides-not-aligned", "info", text, "", None, *sensor))
    return found


_AFTER_RESTART = {
    "foot": "Times after that are too early by as much, unless another log tells.",
    "shank": "Where the foot's movement does not tell, ankle and shank are not measured after that.",
}


def _restarted(log: Digest, source: LongLog) -> Finding:
    first = log.restarts[0] - log.start
    times = "once" if len(log.restarts) == 1 else f"{len(log.restarts)} times"
    return Finding(
        "logger-restarted",
        "warning",
        f"{source.source}: the logger began anew {times}, first {first / 3600.0:.2f} h after its first sample, and its "
        f"clock with it; how long it had stopped is not known. {_AFTER_RESTART[source.segment]}",
        "Charge the logger; let it log times of the day.",
        None,
        source.segment,
        source.side,
        start_s=float(first),
    )
