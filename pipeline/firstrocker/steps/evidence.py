"""evidence.json: what a session's numbers rest on. Seats, clocks and standing of every walk, in the tables' units."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import numpy as np

from firstrocker.gait.evidence import Rested, Seat, SideEvidence, WalkEvidence
from firstrocker.layout import SessionName
from firstrocker.model import ClockFit, FloatArray, FootGeometry
from firstrocker.signals.clock_check import ClockCheck
from firstrocker.tables import SCHEMA_VERSION

PIECE_HZ = 50.0
"""At which the piece of walking that shows the clocks is kept; what is in it lies below 10 Hz."""


def evidence_record(name: SessionName, walks: Iterable[WalkEvidence]) -> dict[str, Any]:
    """The content of evidence.json.

    Args:
        name: the session's labels.
        walks: of the chain; a walk that could not be analysed is not among them.
    """
    return {
        "schema_version": SCHEMA_VERSION,
        "subject": name.subject,
        "session": name.session,
        "walks": [_walk(walk) for walk in walks],
    }


def _walk(walk: WalkEvidence) -> dict[str, Any]:
    checks = {check.side: check for check in walk.checks}
    return {
        "walk": walk.walk,
        "rate_hz": _rounded(walk.rate_hz, 3),
        "duration_s": _rounded(walk.duration_s, 3),
        "logs": [{"segment": segment, "side": side, "file": source} for segment, side, source in walk.sources],
        "clocks": [_clock(clock) for clock in walk.clocks],
        "sides": [_side(side) | {"ankle": _ankle(checks.get(side.side), walk.rate_hz)} for side in walk.sides],
    }


def _clock(clock: ClockFit) -> dict[str, Any]:
    return {
        "segment": clock.segment,
        "side": clock.side,
        "matched": clock.matched,
        "offset_s": _rounded(clock.offset_s, 4),
        "offset_se_s": _rounded(clock.offset_se_s, 4),
        "drift_ppm": _rounded(clock.drift_ppm, 2),
    }


def _side(side: SideEvidence) -> dict[str, Any]:
    return {
        "side": side.side,
        "steps": side.flat,
        "foot_aside_deg": _rounded(np.degrees(side.aside), 2),
        "foot_sensor": _geometry(side.geometry),
        "seats": [_seat(seat) for seat in side.seats],
        "rests": [_rest(rest) for rest in side.rests],
    }


def _geometry(foot: FootGeometry) -> dict[str, Any]:
    names = ("to_toe", "to_heel", "above_ground", "to_toe_se", "to_heel_se", "above_ground_se")
    return {f"{name}_mm": _rounded(1000.0 * getattr(foot, name), 1) for name in names} | {"measured": foot.measured}


def _seat(seat: Seat) -> dict[str, Any]:
    """matrix: rows are the segment's forward, left and up axes in sensor axes."""
    return {
        "segment": seat.segment,
        "axes": "declared" if seat.mounting.declared else "found",
        "matrix": [[_rounded(value, 4) for value in row] for row in seat.mounting.matrix.tolist()],
        "planar": None if seat.mounting.declared else _rounded(seat.mounting.planar, 4),
        "heading_off_deg": _rounded(np.degrees(seat.mounting.heading_off), 2),
        "above_ankle_mm": None if seat.arm is None else [_rounded(1000.0 * value, 0) for value in seat.arm.tolist()],
    }


def _rest(rest: Rested) -> dict[str, Any]:
    spans, stood = ([[_rounded(a, 2), _rounded(b, 2)] for a, b in part] for part in (rest.spans, rest.stood))
    return {"segment": rest.segment, "used": rest.used, "spans_s": spans, "stood_s": stood}


def _ankle(check: ClockCheck | None, rate_hz: float) -> dict[str, Any] | None:
    if check is None:
        return None
    step = max(round(rate_hz / PIECE_HZ), 1)
    return {
        "likeness": _rounded(check.likeness, 5),
        "left_over_ms": _rounded(1000.0 * check.left_over, 2),
        "scatter_ms": _rounded(1000.0 * check.scatter, 2),
        "residual_m_s2": _rounded(check.residual, 3),
        "time_s": _series(check.time, step, 3),
        "foot_m_s2": _series(check.foot, step, 2),
        "shank_m_s2": _series(check.shank, step, 2),
        "shank_before_m_s2": _series(check.before, step, 2),
    }


def _series(values: FloatArray, step: int, decimals: int) -> list[float | None]:
    return [_rounded(value, decimals) for value in values[::step].tolist()]


def _rounded(value: float, decimals: int) -> float | None:
    """Rounded, null where there is none: what is not finite cannot stand in JSON."""
    return round(float(value), decimals) + 0.0 if np.isfinite(value) else None
