"""Every log of a walk on one uniform clock: that of the walk's first foot log."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from firstrocker.errors import SignalError
from firstrocker.model import ClockFit, Finding, FloatArray, Log, Side, Signal, WalkSignals
from firstrocker.signals.exchanged import same_segment
from firstrocker.signals.match import MATCH_RATE_HZ, Match, match_clocks
from firstrocker.signals.noticed import finding
from firstrocker.signals.uniform import EXACTLY, resample, sampling_rate, uniform_times
from firstrocker.signals.usable import usable_logs

MIN_SHARED = 0.5
"""Share of the shorter log from which two logs' times count as read off one clock."""
AGREE_SE = 2.0
"""Two clocks that differ by less than this many standard errors all along are taken as one."""


def align_walk(
    logs: Sequence[Log], *, walk: str, rate_hz: float | None, max_bridge_s: float, max_offset_s: float
) -> WalkSignals:
    """All logs of a walk, checked, on one uniform clock that begins with the first sample of its first foot log.

    A shank log is laid on the foot log of its side by the ankle that both share; where they do not match it is left
    out. Logs of the other side share nothing that could be matched: they keep their times where these overlap the first
    foot log's, else both starts are laid together, and no measure depends on it.

    Args:
        logs: one per segment and side, a foot log among them.
        walk: its label.
        rate_hz: of the clock; None takes the first foot log's own.
        max_bridge_s: gaps up to this long are interpolated and count as measured.
        max_offset_s: how far apart clocks are searched.

    Raises:
        SignalError: no foot log can be used, or which sensor is which cannot be told.
    """
    usable = usable_logs(logs, max_bridge_s=max_bridge_s)
    checked, notes = usable.logs, list(usable.findings)
    feet = [log for log, _ in checked if log.segment == "foot"]
    if not feet:
        raise SignalError("The walk has no foot log.", code="no-foot-log", where=walk, remedy="Add one.")
    rate = sampling_rate(feet[0].time) if rate_hz is None else rate_hz
    times = uniform_times(0.0, float(feet[0].time[-1] - feet[0].time[0]), rate_hz=rate)
    clocks: dict[tuple[str, Side], ClockFit] = {}
    for log in feet:
        clocks["foot", log.side] = _foot_clock(log, feet[0], notes)
    signals: list[Signal] = []
    for log, check in sorted(checked, key=lambda pair: pair[0].segment):  # feet first
        if log.segment == "shank":
            foot = next(((f, c) for f, c in checked if f.segment == "foot" and f.side == log.side), None)
            if foot is None:
                notes.append(_alone(log))
                continue
            clock = _shank_clock(
                foot[0], log, usable.pairs[log.side], clocks["foot", log.side], notes, max_offset_s=max_offset_s
            )
            clocks["shank", log.side] = clock
            if not clock.matched:
                continue
        clock = clocks[log.segment, log.side]
        notes += [_shifted(note, log, clock) for note in check.findings]
        made = next((one for one in usable.pairs.get(log.side, ()) if one.segment == log.segment), None)
        if log.segment == "shank":
            del usable.pairs[log.side]
        if made is not None and _lies_so(log, made, clock, times, rate):
            signals.append(made)
            continue
        del made
        on_walk = replace(log, time=clock.offset_s + (1.0 + clock.drift_ppm * 1e-6) * log.time)
        signals.append(resample(on_walk, times, max_bridge_s=max_bridge_s, saturated=check.saturated))
    return WalkSignals(
        walk, times, rate, tuple(signals), tuple(clocks.values()), tuple(replace(n, walk=walk) for n in notes)
    )


def _alone(log: Log) -> Finding:
    return finding(
        log,
        f"there is no usable foot log of the {log.side} side to lay this shank log on; it was left out.",
        code="shank-without-foot",
        severity="warning",
        remedy="Add the foot log of the same side.",
    )


def _lies_so(log: Log, made: Signal, clock: ClockFit, times: FloatArray, rate_hz: float) -> bool:
    """Whether the log lies on the walk's clock as it was laid out to be matched, sample for sample."""
    begins = abs(clock.offset_s + float(log.time[0])) <= EXACTLY / rate_hz and clock.drift_ppm == 0.0
    return begins and rate_hz == MATCH_RATE_HZ and len(made.valid) == len(times)


def _shifted(note: Finding, log: Log, clock: ClockFit) -> Finding:
    """A finding's times, given since the log's first sample, on the walk's clock."""
    slope = 1.0 + clock.drift_ppm * 1e-6
    start = clock.offset_s + slope * float(log.time[0])

    def moved(time: float | None) -> float | None:
        return None if time is None else start + slope * time

    return replace(note, start_s=moved(note.start_s), end_s=moved(note.end_s))


def _foot_clock(log: Log, first: Log, notes: list[Finding]) -> ClockFit:
    if log is first:
        return ClockFit("foot", log.side, -float(log.time[0]), 0.0, 0.0, matched=True)
    together = _overlap(log, first) >= MIN_SHARED
    how = (
        "their times overlap, so one clock was assumed"
        if together
        else "their times do not overlap, so their first samples were laid together"
    )
    notes.append(
        finding(
            log,
            f"the two feet share no joint that could tell how their clocks lie; {how}. No measure depends on it, "
            "but the times of left and right must not be compared closely.",
            code="sides-not-aligned",
            severity="info",
        )
    )
    start = float(first.time[0]) if together else float(log.time[0])
    return ClockFit("foot", log.side, -start, 0.0, float("inf") if not together else 0.0, matched=together)


def _overlap(one: Log, other: Log) -> float:
    """The time that both logs span, as a share of the shorter's."""
    both = min(one.time[-1], other.time[-1]) - max(one.time[0], other.time[0])
    return float(both / min(np.ptp(one.time), np.ptp(other.time)))


def _shank_clock(
    foot: Log,
    log: Log,
    pair: tuple[Signal, Signal],
    foot_clock: ClockFit,
    notes: list[Finding],
    *,
    max_offset_s: float,
) -> ClockFit:
    """The shank log's clock, found from the ankle; unmatched with a finding where the logs do not fit together."""
    foot_start, start = float(foot.time[0]), float(log.time[0])
    same_clock = foot_start - start if _overlap(foot, log) >= MIN_SHARED else None
    match = match_clocks(*pair, same_clock_lag_s=same_clock, max_offset_s=max_offset_s)
    if match.why:
        notes.append(
            finding(
                log,
                f"this shank log cannot be laid on the clock of the foot log: {match.why}. It was left out, so the "
                "ankle and shank are not measured in this walk.",
                code="clocks-never-match",
                severity="warning",
                remedy="Check that both files are of the same walk and leg; a few firm steps on the spot help.",
            )
        )
        return ClockFit("shank", log.side, -start, 0.0, float("inf"), matched=False)
    if same_segment(*pair, lag=match.at, rate_hz=MATCH_RATE_HZ):
        notes.append(
            finding(
                log,
                "this log turned exactly as the foot's did, as if both sensors had sat on the foot or the ankle could "
                "not move. It was left out, so the ankle and shank are not measured in this walk.",
                code="shank-turns-as-foot",
                severity="warning",
                remedy="Check that the file is the shank's and that its sensor sat on the shank.",
            )
        )
        return ClockFit("shank", log.side, -start, 0.0, float("inf"), matched=False)
    match = _settled(match, same_clock)
    # Shank time since its start = foot time since its start + lag + drift * (foot time - middle).
    slope = 1.0 / (1.0 + match.drift)
    since = foot_start + foot_clock.offset_s - slope * (start + match.lag - match.drift * match.middle)
    notes.append(_told(log, match, same_clock))
    return ClockFit("shank", log.side, since, (slope - 1.0) * 1e6, match.lag_se, matched=True)


def _settled(match: Match, same_clock_lag_s: float | None) -> Match:
    """One clock, where the logs' times say so and the movement does not contradict: then nothing is estimated."""
    if same_clock_lag_s is None:
        return match
    differences = [abs(match.at(time) - same_clock_lag_s) for time in match.span]
    if max(differences) > AGREE_SE * match.end_se:
        return match
    return replace(match, lag=same_clock_lag_s, drift=0.0)


def _told(log: Log, match: Match, same_clock_lag_s: float | None) -> Finding:
    """How the shank's clock was laid on the foot's, for the reader of the findings."""
    lag = match.at(match.span[0])
    drifted = f"drifted by {1000 * abs(match.drift) * (match.span[1] - match.span[0]):.0f} ms over the walk"
    told = f"the movement of the ankle told so, give or take {1000 * match.lag_se:.0f} ms"
    if same_clock_lag_s is None:
        text = f"it began {abs(lag):.3f} s {'before' if lag > 0 else 'after'} the foot log and {drifted}; {told}."
    elif match.lag == same_clock_lag_s and match.drift == 0.0:
        text = "its clock agrees with the foot log's; the movement of the ankle confirms it."
    else:
        off = lag - same_clock_lag_s
        way = "ahead of" if off > 0 else "behind"
        text = f"its clock was {abs(off):.3f} s {way} the foot log's and {drifted}; both were taken off; {told}."
    return finding(log, text, code="clocks-aligned", severity="info")
