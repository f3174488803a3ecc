"""All legs in order for one session: the file to read first.

Logs are laid on one clock, the sensors' seats on foot and shank are found, the segments' motion is followed and held at
every foot flat, strides and their events are found in it, and each stride is measured.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import pyarrow as pa

from firstrocker import tables
from firstrocker.errors import FirstrockerError, SignalError
from firstrocker.gait.bouts import Strides, find_strides
from firstrocker.gait.events import find_swings
from firstrocker.gait.evidence import SideEvidence, WalkEvidence, seat_findings, side_evidence, walk_evidence
from firstrocker.gait.findings import clearance_findings, stride_findings
from firstrocker.gait.measures import Curves, curves
from firstrocker.gait.side import side_findings
from firstrocker.gait.table import curves_table, strides_table, traces, walk_keys
from firstrocker.model import Finding, Person, Side, Status, WalkInfo, WalkLogs, WalkSignals
from firstrocker.motion.foot import track_foot
from firstrocker.motion.ground import find_ground
from firstrocker.motion.relief import over_ground
from firstrocker.motion.remounted import check_remounted
from firstrocker.motion.seat import check_seat
from firstrocker.motion.shank import Stood, track_shank
from firstrocker.settings import Settings
from firstrocker.signals.clocks import align_walk


@dataclass(frozen=True)
class SideResult:
    """One foot of one walk, from motion to strides."""

    side: Side
    data: Curves
    strides: Strides
    findings: tuple[Finding, ...]
    evidence: SideEvidence


@dataclass(frozen=True)
class SideTables:
    """One foot of one walk in the tables' schemas; without evidence where it could not be analysed."""

    side: Side
    strides: pa.Table = field(default_factory=tables.STRIDES.empty_table)
    curves: pa.Table = field(default_factory=tables.CURVES.empty_table)
    findings: tuple[Finding, ...] = ()
    evidence: SideEvidence | None = None


@dataclass(frozen=True)
class Result:
    """A session's tables in the schemas of :mod:`firstrocker.tables`, what was noticed, and the session's status.

    evidence: what the numbers of each walk that could be analysed rest on.
    """

    strides: pa.Table
    curves: pa.Table
    findings: tuple[Finding, ...]
    status: Status
    evidence: tuple[WalkEvidence, ...] = ()


def analyse(person: Person, walks: Iterable[WalkLogs], *, settings: Settings) -> Result:
    """Measure every stride of a session.

    Args:
        person: who, and how the sensors sat.
        walks: the session's walks with their logs. A walk's logs are needed until they are laid on one clock and held
            no longer: an iterator that gives walks away keeps memory low.
        settings: the sections signals, motion and gait are used.

    Returns:
        The tables. A walk that cannot be analysed is a finding of severity ``error``; a session in which none can is
        ``rejected``.
    """
    stride_tables: list[pa.Table] = []
    curve_tables: list[pa.Table] = []
    findings: list[Finding] = []
    evidence: list[WalkEvidence] = []
    for walk in walks:
        info = walk.info
        try:
            signals = align(walk, settings=settings)
        except FirstrockerError as mistake:
            findings.append(as_finding(mistake, info.walk))
            continue
        finally:
            del walk
        findings += [replace(f, walk=info.walk) for f in signals.findings]
        told, sides = walk_evidence(signals), list[SideEvidence]()
        each_side = measure_sides(person, info, signals, settings=settings)
        del signals  # it is theirs now, and gone as soon as they are done with it
        for measured in each_side:
            findings += measured.findings
            if measured.evidence is not None:
                sides.append(measured.evidence)
                stride_tables.append(measured.strides)
                curve_tables.append(measured.curves)
        evidence.append(told.with_sides(sides))
    strides = pa.concat_tables([tables.STRIDES.empty_table(), *stride_tables])
    return Result(
        strides=strides,
        curves=pa.concat_tables([tables.CURVES.empty_table(), *curve_tables]),
        findings=tuple(findings),
        status=status_of(findings, usable=len(strides) > 0),
        evidence=tuple(evidence),
    )


def measure_sides(
    person: Person,
    info: WalkInfo,
    signals: WalkSignals,
    *,
    settings: Settings,
    stood: Mapping[Side, Stood] | None = None,
) -> Iterator[SideTables]:
    """Each side of a walk that has a foot log, measured.

    Args:
        person: who, and how the sensors sat.
        info: of the walk.
        signals: its logs on one clock.
        settings: the sections motion and gait are used.
        stood: how each side's shank lies in standing, where that is known from elsewhere.
    """
    of_each = signals.by_side()
    del signals
    for side in tuple(of_each):
        try:
            known = (stood or {}).get(side)
            # Nothing but the callee holds what it is given: it is gone as soon as that is done with it.
            yield _tables(person, info, analyse_side(person, of_each.pop(side), side, settings=settings, stood=known))
        except FirstrockerError as mistake:
            yield SideTables(side, findings=(replace(as_finding(mistake, info.walk), side=side),))


def _tables(person: Person, info: WalkInfo, result: SideResult) -> SideTables:
    """One side's strides and curves as tables."""
    keys, side = walk_keys(person, info, result.side), result.side
    strides = strides_table(keys, result.strides, result.data)
    found = [replace(f, walk=info.walk, side=side) for f in (*result.findings, *clearance_findings(strides))]
    evidence, events, drawn = result.evidence, result.strides, traces(result.strides, result.data)
    del result  # the motion takes much room, and most of it is not in the curves
    return SideTables(side, strides, curves_table(keys, events, drawn), tuple(found), evidence)


def align(walk: WalkLogs, *, settings: Settings) -> WalkSignals:
    """A walk's logs on one uniform clock."""
    return align_walk(
        walk.logs,
        walk=walk.info.walk,
        rate_hz=settings.signals.rate_hz,
        max_bridge_s=settings.signals.max_bridge_s,
        max_offset_s=settings.signals.max_clock_offset_s,
    )


def analyse_side(
    person: Person, signals: WalkSignals, side: Side, *, settings: Settings, stood: Stood | None = None
) -> SideResult:
    """Follow one foot, and its shank where there is a log of it, and find the strides.

    Args:
        person: who, and how the sensors sat.
        signals: the walk's logs on one clock; let go once they are followed.
        side: which foot.
        settings: the sections motion and gait are used.
        stood: how the shank's sensor lies in standing, where that is known from elsewhere.

    Raises:
        SignalError: there is no walking in the foot log.
    """
    motion, gait = settings.motion, settings.gait
    rate_hz, start_s = signals.rate_hz, float(signals.time[0])
    foot_signal, shank_signal = signals.find("foot", side), signals.find("shank", side)
    if foot_signal is None:
        raise SignalError("there is no foot log of this side.", code="no-foot-log", where=signals.walk)
    del signals
    foot = track_foot(
        foot_signal,
        rate_hz,
        person.foot,
        filter_name=motion.filter,
        rest_min_s=motion.rest_min_s,
        rest_gyro=np.radians(motion.rest_gyro_deg_s),
        standing_tolerance=np.radians(motion.standing_tolerance_deg),
    )
    ground = find_ground(foot)
    foot = over_ground(check_seat(foot, foot_signal, ground), ground)
    shank = None
    if shank_signal is not None:
        shank = track_shank(
            shank_signal,
            rate_hz,
            foot,
            filter_name=motion.filter,
            rest_min_s=motion.rest_min_s,
            rest_gyro=np.radians(motion.rest_gyro_deg_s),
            standing_angle=person.standing_shank_angle,
            stood=stood,
        )
    foot, shank = check_remounted(foot, shank, shank_signal)
    del foot_signal, shank_signal
    strides = find_strides(
        foot,
        find_swings(foot),
        ground=ground,
        pause_s=gait.bout_pause_s,
        turn=np.radians(gait.turn_deg),
        stairs_m=gait.stairs_m,
        min_bout_strides=gait.min_bout_strides,
    )
    data = curves(foot, shank, smooth_s=1.2 / gait.rate_cutoff_hz)
    evidence = side_evidence(foot, shank, strides, start_s=start_s)
    found = foot.findings + (() if shank is None else shank.findings) + seat_findings(evidence)
    found += stride_findings(strides) + side_findings(strides, foot)
    return SideResult(side, data, strides, found, evidence)


def as_finding(mistake: FirstrockerError, walk: str | None = None) -> Finding:
    """A user's mistake as a finding that stops the walk, or without ``walk`` the session."""
    where = f"{mistake.where}: " if mistake.where else ""
    return Finding(mistake.code, "error", f"{where}{mistake.what}", mistake.remedy, walk=walk)


def status_of(findings: Sequence[Finding], *, usable: bool) -> Status:
    """``rejected`` without a stride, ``flagged`` with any warning or error, else ``ok``."""
    if not usable:
        return "rejected"
    return "flagged" if any(f.severity != "info" for f in findings) else "ok"
