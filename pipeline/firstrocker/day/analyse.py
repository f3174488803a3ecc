"""A walk that lasts a day, from logs to strides: each stretch of walking by the legs that analyse any walk.

What a stretch cannot know by itself it gets from the day: how the clocks lie, and how the shank's sensor lies in
standing, for a rest at home may as well be sitting.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np
import pyarrow as pa

from firstrocker import tables
from firstrocker.chain import SideTables, measure_sides
from firstrocker.day.clocks import Sensor
from firstrocker.day.close import Close, lay_closely
from firstrocker.day.findings import Noticed, of_the_day, said_once
from firstrocker.day.joined import Joint, joined
from firstrocker.day.looked import stood_at
from firstrocker.day.seats import Seats, told
from firstrocker.day.sides import refuse_crossed
from firstrocker.day.spool import Spool
from firstrocker.day.stretches import Piece, Prepared, prepare
from firstrocker.errors import FirstrockerError
from firstrocker.gait.evidence import SideEvidence, WalkEvidence, walk_evidence
from firstrocker.model import SIDES, Finding, Person, Side, Signal, WalkInfo, WalkSignals
from firstrocker.motion.shank import Stood
from firstrocker.settings import Settings
from firstrocker.signals.checks import check_log
from firstrocker.signals.digest import TENTHS
from firstrocker.signals.stream import LongWalk, log_of
from firstrocker.signals.uniform import resample, sampling_rate
from firstrocker.signals.wear import recorded_s, worn_s

Worn = Mapping[Sensor, tuple[float, float | None]]
"""Seconds recorded, and of them worn, by sensor."""


@dataclass(frozen=True)
class DayResult:
    """A long walk's strides in the schema STRIDES, its findings, what it rests on, and how long sensors were worn."""

    strides: pa.Table
    findings: tuple[Finding, ...]
    evidence: WalkEvidence | None
    worn: Worn


def analyse_day(
    person: Person, walk: LongWalk, *, settings: Settings, keep_curves: Callable[[pa.Table], None]
) -> DayResult:
    """Measure every stride of a long walk.

    Args:
        person: who, and how the sensors sat.
        walk: its logs, read in parts.
        settings: the sections signals, day, motion and gait are used.
        keep_curves: is given the curves of each stretch in the schema CURVES, in order.

    Returns:
        The strides; bouts are numbered through the day.

    Raises:
        FirstrockerError: the walk cannot be analysed.
    """
    info = walk.info
    with Spool() as spool:
        prepared = prepare(walk, spool, day=settings.day)
        close = lay_closely(prepared, spool, settings=settings)
        joints = {side: Joint() for side in SIDES}
        found: list[pa.Table] = []
        noticed: list[Noticed] = []
        seats = Seats()
        best: _Best | None = None
        walked = flat = 0
        for signals, piece, sides in _measured(person, info, prepared, close, spool, noticed, settings=settings):
            own: list[pa.Table] = []
            for side in sides:
                begins = float(signals.time[0])
                strides, curves, joints[side.side] = joined(side.strides, side.curves, piece, begins, joints[side.side])
                own.append(strides)
                keep_curves(curves)
            count = sum(map(len, own))
            walked += count > 0
            evidence = tuple(one.evidence for one in sides if one.evidence is not None)
            flat += sum(one.flat for one in evidence)
            seats.add(piece, evidence)
            if count and (best is None or count > best.strides):
                best = _Best(count, signals, evidence)
            found += own
    strides = pa.concat_tables([tables.STRIDES.empty_table(), *found])
    notes = [*walk.findings, *prepared.findings, *close.findings, *said_once(noticed, stretches=walked)]
    changes = seats.changes(prepared.pieces, close.looks)
    sources = {sensor: log.source for sensor, log in prepared.logs.items()}
    refuse_crossed(strides)
    notes += [told(change, sources) for change in changes] + of_the_day(strides, info.walk)
    return DayResult(
        strides,
        tuple(replace(note, walk=info.walk) for note in notes),
        None if best is None else _evidence(best, prepared, close),
        worn_of(prepared, settings),
    )


def worn_of(prepared: Prepared, settings: Settings) -> Worn:
    """How long each sensor recorded and was worn."""
    return {
        sensor: (recorded_s(log), worn_s(log, unworn_min_s=settings.day.unworn_min_s))
        for sensor, log in prepared.digests.items()
    }


@dataclass(frozen=True)
class _Best:
    """The stretch with most strides: it stands for the day where one must be shown."""

    strides: int
    signals: WalkSignals
    sides: tuple[SideEvidence, ...]


def _evidence(best: _Best, prepared: Prepared, close: Close) -> WalkEvidence:
    shown = walk_evidence(best.signals).with_sides(best.sides)
    span = prepared.digests[close.clocks.first]
    return replace(shown, duration_s=len(span.samples) / TENTHS)


def _measured(
    person: Person,
    info: WalkInfo,
    prepared: Prepared,
    close: Close,
    spool: Spool,
    noticed: list[Noticed],
    *,
    settings: Settings,
) -> Iterator[tuple[WalkSignals, Piece, list[SideTables]]]:
    """Each stretch with what was measured in it."""
    rate = settings.signals.rate_hz
    for number, piece in enumerate(prepared.pieces):
        signals = _signals(number, piece, info, prepared, close, spool, noticed, rate, settings=settings)
        if signals is None:
            continue
        rate = signals.rate_hz
        stood: dict[Side, Stood] = {side: stood_at(looks, number) for side, looks in close.looks.items()}
        sides = []
        for side in measure_sides(person, info, signals, settings=settings, stood=stood):
            noticed += [Noticed(finding, piece.span[0]) for finding in side.findings]
            if side.evidence is not None:
                sides.append(side)
        yield signals, piece, sides


def _signals(
    number: int,
    piece: Piece,
    info: WalkInfo,
    prepared: Prepared,
    close: Close,
    spool: Spool,
    noticed: list[Noticed],
    rate_hz: float | None,
    *,
    settings: Settings,
) -> WalkSignals | None:
    """All logs of a stretch on the walk's clock; None without a foot."""
    found: list[Signal] = []
    times = np.empty(0)
    bridge = settings.signals.max_bridge_s
    for sensor in sorted(close.clocks.starts, key=lambda one: (one[0], one != close.clocks.first, one[1])):
        rows = spool.get(number, sensor)
        if rows is None or (sensor[0] == "shank" and (number, sensor[1]) in close.left_out):
            continue
        if (number, sensor[1]) in close.swapped:
            continue
        try:
            log, notes = log_of(prepared.logs[sensor], rows)
            check = check_log(log, max_bridge_s=bridge)
        except FirstrockerError as error:
            what = Finding(error.code, "warning", f"{error.where}: {error.what}", error.remedy, None, *sensor)
            noticed.append(Noticed(what, piece.span[0]))
            continue
        noticed += [
            Noticed(replace(note, segment=sensor[0], side=sensor[1]), piece.span[0])
            for note in (*notes, *check.findings)
        ]
        rate_hz = rate_hz or sampling_rate(log.time)
        if not len(times):
            first, last = (int(np.ceil(piece.span[0] * rate_hz)), int(np.floor(piece.span[1] * rate_hz)))
            times = np.arange(first, last + 1) / rate_hz
        log = replace(log, time=close.clocks.on_walk(sensor, log.time, piece.span))
        found.append(resample(log, times, max_bridge_s=bridge, saturated=check.saturated))
    if rate_hz is None or not any(signal.segment == "foot" for signal in found):
        return None
    return WalkSignals(info.walk, times, rate_hz, tuple(found), close.clocks.fits(piece.span))
