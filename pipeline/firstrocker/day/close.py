"""Shank clocks laid closely, stretch by stretch; and what all stretches together say of each shank's sensor."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace

import numpy as np

from firstrocker.day.clocks import Clocks, Sensor
from firstrocker.day.looked import Look, look_at
from firstrocker.day.spool import Spool
from firstrocker.day.stretches import Prepared
from firstrocker.day.swapped import swapped_looks
from firstrocker.errors import FirstrockerError, SignalError
from firstrocker.model import SIDES, Finding, Log, Side
from firstrocker.settings import Settings
from firstrocker.signals.day_clock import ClockCourse, close_course, lag_at
from firstrocker.signals.digest import TENTHS, Digest
from firstrocker.signals.stream import log_of
from firstrocker.signals.usable import refuse_twins

LEAST_MOVING_S = 4.0
"""s of the foot's turning that a stretch needs to tell of clocks; some five strides."""
SLOT_S, OF_A_SLOT, ASKED = 600.0, 5, 150
"""Of each so many s, at most so many stretches are asked, and fewer where in all more than ``ASKED`` would be:
neighbours vote together, and asking all took most of the time."""
ROUGHLY_S = 1.5
"""How far off a clock may lie that was laid by when sensors moved."""
JUMPED_S = 0.04
"""s by which a stretch's own lag may differ from its neighbours'; more, and nobody knows which is right."""
MOST, NEARLY_ALL = 0.5, 0.9
"""Shares of the stretches."""


@dataclass(frozen=True)
class Close:
    """clocks: as well as they can be known. looks: by side. left_out: pieces whose shank log is not to be used.

    swapped: pieces and sides in which foot and shank look exchanged; neither is to be used.
    """

    clocks: Clocks
    looks: Mapping[Side, tuple[Look, ...]]
    left_out: frozenset[tuple[int, Side]]
    swapped: frozenset[tuple[int, Side]]
    findings: tuple[Finding, ...]


def lay_closely(prepared: Prepared, spool: Spool, *, settings: Settings) -> Close:
    """Lay every shank's clock by the ankle it shares with its foot, wherever a stretch tells.

    Args:
        prepared: a long walk made ready.
        spool: its stretches' rows.
        settings: the sections signals and motion are used.

    Raises:
        SignalError: foot and shank look exchanged, or two logs are one recording.
    """
    _refuse_twins(prepared, spool, turning=float(np.radians(settings.day.turning_deg_s)))
    clocks = prepared.clocks
    courses = dict(clocks.courses)
    told, looks, findings = set(clocks.told), dict[Side, tuple[Look, ...]](), list[Finding]()
    left_out, swapped = set[tuple[int, Side]](), set[tuple[int, Side]]()
    for side in SIDES:
        shank: Sensor = ("shank", side)
        if shank not in clocks.courses:
            continue
        looks[side] = tuple(_looks(prepared, spool, side, settings=settings))
        able = [look for look in looks[side] if look.tells]
        pieces, exchange = swapped_looks(looks[side], prepared, side)
        if len(pieces) > NEARLY_ALL * len(looks[side]):
            _refuse_exchanged(prepared, side)
        swapped |= {(piece, side) for piece in pieces}
        findings += exchange
        why = _useless(able, prepared, side)
        if why is not None:
            findings.append(why)
            del courses[shank]
            continue
        course, odd = _course(looks[side], clocks.courses[shank])
        courses[shank] = course
        told.add(shank)
        left_out |= {(look.piece, side) for look in odd}
        findings.append(_told(able, course, odd, prepared, side))
    starts = {sensor: start for sensor, start in clocks.starts.items() if sensor in courses}
    return Close(
        replace(clocks, courses=courses, starts=starts, told=frozenset(told)),
        looks,
        frozenset(left_out),
        frozenset(swapped),
        tuple(findings),
    )


def _refuse_twins(prepared: Prepared, spool: Spool, *, turning: float) -> None:
    """Two logs that are one recording are so in the stretch with most walking too."""
    foot = prepared.digests[prepared.clocks.first]
    busiest = max(
        range(len(prepared.pieces)), key=lambda n: moving_s(foot, *prepared.pieces[n].span, turning), default=None
    )
    if busiest is None:
        return
    logs = []
    for sensor, source in prepared.logs.items():
        rows = spool.get(busiest, sensor)
        if rows is not None:
            with suppress(FirstrockerError):  # what is wrong with a log is told where it is measured
                logs.append(log_of(source, rows)[0])
    refuse_twins(logs)


def moving_s(log: Digest, first: float, stop: float, turning: float) -> float:
    """S in which a log turned faster than ``turning`` (rad/s) between two times from its first sample."""
    part = log.turning[max(round(first * TENTHS), 0) : max(round(stop * TENTHS), 0)]
    return float(np.count_nonzero(part > turning)) / TENTHS


def _looks(prepared: Prepared, spool: Spool, side: Side, *, settings: Settings) -> list[Look]:
    foot: Sensor = ("foot", side)
    shank: Sensor = ("shank", side)
    clocks, turning = prepared.clocks, float(np.radians(settings.day.turning_deg_s))
    within = ROUGHLY_S if shank in clocks.told else settings.signals.max_clock_offset_s
    telling = _telling(prepared, foot, turning)
    looks = []
    for number, piece in enumerate(prepared.pieces):
        rows = [spool.get(number, sensor) for sensor in (("foot", side), ("shank", side))]
        span = clocks.own_span(("foot", side), piece.span)
        start = clocks.starts[foot]
        if rows[0] is None or rows[1] is None:
            continue
        try:
            first, _ = log_of(prepared.logs[foot], rows[0])
            second, _ = log_of(prepared.logs[shank], rows[1])
        except FirstrockerError:
            continue
        on_foot = _on_foot(second, clocks.courses[shank], clocks.starts[shank], span[0] - start, span[1] - start)
        look = look_at(
            number,
            replace(first, time=first.time - start),
            on_foot,
            turning=turning,
            tells=number in telling,
            max_bridge_s=settings.signals.max_bridge_s,
            max_offset_s=within,
            rest_min_s=settings.motion.rest_min_s,
            rest_gyro=float(np.radians(settings.motion.rest_gyro_deg_s)),
        )
        if look is not None:
            looks.append(look)
    return looks


def _telling(prepared: Prepared, foot: Sensor, turning: float) -> set[int]:
    """The stretches that are asked how the clocks lie: of every ten minutes those with most walking."""
    slots: dict[tuple[int, int], list[tuple[float, int]]] = {}
    breaks = prepared.clocks.breaks()
    for number, piece in enumerate(prepared.pieces):
        first, stop = (prepared.clocks.since_start(foot, time) for time in piece.span)
        if np.isfinite(first + stop):
            moved = moving_s(prepared.digests[foot], first, stop, turning)
            if moved >= LEAST_MOVING_S:
                slot = int(piece.span[0] // SLOT_S), sum(time < piece.span[0] for time in breaks)
                slots.setdefault(slot, []).append((-moved, number))
    most = int(np.clip(ASKED // max(len(slots), 1), 1, OF_A_SLOT))
    return {number for slot in slots.values() for _, number in sorted(slot)[:most]}


def _on_foot(shank: Log, course: ClockCourse, start: float, first: float, stop: float) -> Log:
    """A shank's log with its times on its foot's clock, s from that foot's first sample, as far as they are known."""
    lags = [lag_at(course, time)[0] for time in (first, stop)]
    own = [first + lags[0], stop + lags[1]]
    slope = (stop - first) / (own[1] - own[0])
    return replace(shank, time=first + (shank.time - start - own[0]) * slope)


def _course(looks: Sequence[Look], rough: ClockCourse) -> tuple[ClockCourse, list[Look]]:
    """The course by the stretches that tell, and those that contradict their neighbours."""
    telling = [look for look in looks if np.isfinite(look.lag)]
    odd: list[Look] = []
    for _ in range(2):
        kept = [look for look in telling if look not in odd]
        lags = [look.lag + lag_at(rough, look.time)[0] for look in kept]
        course = close_course(rough, [look.time for look in kept], lags, [look.lag_se for look in kept])
        odd = []
        for look in telling:
            level, se = lag_at(course, look.time)
            here = look.lag + lag_at(rough, look.time)[0]
            if abs(here - level) > JUMPED_S + 2.0 * float(np.hypot(se, look.lag_se)):
                odd.append(look)
    return course, odd


def _refuse_exchanged(prepared: Prepared, side: Side) -> None:
    raise SignalError(
        f"Foot and shank look exchanged on the {side} side: in all or nearly all stretches of walking the sensor "
        "called shank stands still in every step and the one called foot does not.",
        code="foot-shank-exchanged",
        where=prepared.logs["shank", side].source,
        remedy="If the files were mixed up, exchange 'segment' of the two logs in session.yaml.",
    )


def _useless(looks: Sequence[Look], prepared: Prepared, side: Side) -> Finding | None:
    """Why a shank's log cannot be used at all, None where it can."""
    source = prepared.logs["shank", side].source
    telling = [look for look in looks if np.isfinite(look.lag)]
    if len(telling) < max(1, 0.2 * len(looks)):
        return Finding(
            "clocks-never-match",
            "warning",
            f"{source}: this shank log cannot be laid on the clock of the foot log: in {len(telling)} of {len(looks)} "
            "stretches of walking both sensors see one ankle move. It was left out, so the ankle and shank are not "
            "measured in this walk.",
            "Check that both files are of the same walk and leg.",
            None,
            "shank",
            side,
        )
    if sum(look.one_segment for look in telling) > MOST * len(telling):
        return Finding(
            "shank-turns-as-foot",
            "warning",
            f"{source}: this log turned exactly as the foot's did, as if both sensors had sat on the foot or the ankle "
            "could not move. It was left out, so the ankle and shank are not measured in this walk.",
            "Check that the file is the shank's and that its sensor sat on the shank.",
            None,
            "shank",
            side,
        )
    return None


def _told(looks: Sequence[Look], course: ClockCourse, odd: Sequence[Look], prepared: Prepared, side: Side) -> Finding:
    source = prepared.logs["shank", side].source
    first, last = (float(lag_at(course, time)[0]) for time in (course.time[0], course.time[-1]))
    worst = max(lag_at(course, float(time))[1] for time in course.time)
    text = (
        f"{source}: its clock was laid on the foot log's by the ankle in {len(course.time)} of {len(looks)} stretches "
        f"of walking, give or take {1000 * worst:.0f} ms; from the first of them to the last it moved by "
        f"{abs(last - first):.3f} s against the foot's ({course.drift_ppm():+.0f} ppm). The other stretches take their "
        "neighbours'."
    )
    if not odd:
        return Finding("clocks-aligned", "info", text, "", None, "shank", side)
    text += f" In {len(odd)} stretches the ankle contradicts that; ankle and shank are not measured there."
    return Finding("clock-jumped", "warning", text, "Look at the logger's battery and radio.", None, "shank", side)
