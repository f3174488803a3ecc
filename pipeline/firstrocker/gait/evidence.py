"""What the numbers of a walk rest on: clocks, seats of the sensors, standing still; told, and found fault with."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from firstrocker.gait.bouts import Strides
from firstrocker.model import ClockFit, Finding, FloatArray, FootGeometry, Segment, Side, WalkSignals
from firstrocker.motion.axes import Mounting
from firstrocker.motion.foot import FootMotion
from firstrocker.motion.shank import ShankMotion
from firstrocker.signals.clock_check import ClockCheck, check_clock

LEAST_PLANAR: dict[Segment, float] = {"foot": 0.6, "shank": 0.8}
"""Share of the horizontal turning about the sideways axis below which that axis is not to be trusted. Simulated walks
of all 11 kinds, on any seat, gave from 0.70 (foot) and 0.91 (shank) up, with straps that ring and sensors that rock by
0.35 deg included; rocking by 1 deg 0.70 and 0.87. Open recordings of 59 healthy feet gave 0.66 and more, of two shanks
0.88 and 0.90. 0.5 would be no axis at all."""
MOST_HEADING_OFF = np.radians(30.0)
"""Feet point outwards by some 5 to 15 deg, from memory; simulated walks gave 11 at the most, open recordings of healthy
feet 13. Strides straight ahead alone are looked at: within a turn a foot goes 50 deg aside of where it pointed."""
LEAST_STRAIGHT = 5
"""Steady strides below which nothing is said of where the foot points: those of a walk full of turns are hardly so."""
NOT_STOOD = ("no-rest", "standing-not-flat", "no-standing-shank", "standing-doubtful")
"""Findings that say that a level was taken from walking."""


@dataclass(frozen=True)
class Seat:
    """How one sensor sat. arm: (3,) m from the ankle to the sensor, shank axes; None for the foot."""

    segment: Segment
    mounting: Mounting
    arm: FloatArray | None


@dataclass(frozen=True)
class Rested:
    """Where one sensor rested, in s on the walk's clock.

    used: whether standing gave the segment's level. stood: the rests that count as standing, of a shank; none where
    that is known from elsewhere.
    """

    segment: Segment
    spans: tuple[tuple[float, float], ...]
    used: bool
    stood: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True)
class SideEvidence:
    """One side of one walk.

    flat: how often the foot stood flat, where it was held. aside: rad from where the foot points to where it went in
    steady strides, as ``Mounting.heading_off``; NaN with too few.
    """

    side: Side
    seats: tuple[Seat, ...]
    rests: tuple[Rested, ...]
    flat: int
    aside: float
    geometry: FootGeometry


@dataclass(frozen=True)
class WalkEvidence:
    """One walk: its clock, how every log lies on it, and each side."""

    walk: str
    rate_hz: float
    duration_s: float
    sources: tuple[tuple[Segment, Side, str], ...]
    clocks: tuple[ClockFit, ...]
    checks: tuple[ClockCheck, ...]
    sides: tuple[SideEvidence, ...] = ()

    def with_sides(self, sides: Sequence[SideEvidence]) -> WalkEvidence:
        """The same with the sides that could be analysed, and no other's clock.

        Args:
            sides: of :func:`side_evidence`.
        """
        analysed = {one.side for one in sides}
        return replace(self, sides=tuple(sides), checks=tuple(one for one in self.checks if one.side in analysed))


def walk_evidence(signals: WalkSignals) -> WalkEvidence:
    """What a walk rests on, but for its sides.

    Args:
        signals: all logs on one clock.
    """
    checks = [check_clock(signals, side) for side in signals.by_side()]
    return WalkEvidence(
        walk=signals.walk,
        rate_hz=signals.rate_hz,
        duration_s=float(signals.time[-1] - signals.time[0]),
        sources=tuple((one.segment, one.side, one.source) for one in signals.signals),
        clocks=signals.clocks,
        checks=tuple(check for check in checks if check is not None),
    )


def side_evidence(foot: FootMotion, shank: ShankMotion | None, strides: Strides, *, start_s: float) -> SideEvidence:
    """What the motion of one side rests on.

    Args:
        foot: the foot's motion.
        shank: the shank's of the same side, if any.
        strides: all of the side.
        start_s: first instant of the walk's clock.
    """

    def seconds(spans: Sequence[tuple[int, int]]) -> tuple[tuple[float, float], ...]:
        return tuple((start_s + a / foot.rate_hz, start_s + (b - 1) / foot.rate_hz) for a, b in spans)

    seats = [Seat("foot", foot.mounting, None)]
    rests = [Rested("foot", seconds(foot.rest.spans), _stood(foot))]
    if shank is not None:
        seats.append(Seat("shank", shank.mounting, shank.arm))
        rests.append(Rested("shank", seconds(shank.rest.spans), _stood(shank), seconds(shank.stood)))
    aside = straight_aside(foot, strides)
    return SideEvidence(foot.side, tuple(seats), tuple(rests), int(foot.moved.sum()), aside, foot.geometry)


def straight_aside(foot: FootMotion, strides: Strides) -> float:
    """Angle (rad) from where the foot points to where it went, the median over steady strides; NaN with too few."""
    straight = strides.swing.those(strides.steady)
    if len(straight) < LEAST_STRAIGHT:
        return float("nan")
    off = foot.aside(straight.start, straight.stop)
    return float(np.median(np.arctan2(np.sin(off), np.cos(off))))


def _stood(motion: FootMotion | ShankMotion) -> bool:
    """Whether standing, and not walking itself, gave the segment's level: where it did not, a finding says so."""
    return not any(one.code in NOT_STOOD for one in motion.findings)


def seat_findings(side: SideEvidence) -> tuple[Finding, ...]:
    """What the seats say against themselves; the caller fills in walk and side.

    A sideways axis that hardly stands out comes of a sensor that hardly turned with its segment, or of columns that are
    not the axes they are said to be. Mixed-up columns of a shank's gyroscope lowered its share to 0.76 to 0.92 only, so
    that not all of them are caught; those of a foot's left the foot pointing up to 55 deg away from where it went.
    """
    found: list[Finding] = []
    for seat in side.seats:
        mounting, least = seat.mounting, LEAST_PLANAR[seat.segment]
        if mounting.declared:
            continue
        if mounting.planar < least:
            found.append(
                Finding(
                    "axes-unclear",
                    "warning",
                    f"No sideways axis stands out in how the {seat.segment}'s sensor turned: "
                    f"{100 * mounting.planar:.0f} % of its turning lies about one, at least {100 * least:.0f} % were "
                    "expected. Angles, rates and clearance that rest on it may be wrong.",
                    "Check that the sensor sat firmly, and the order and signs of the columns in the logger profile.",
                    segment=seat.segment,
                    side=side.side,
                )
            )
        if seat.segment == "foot" and np.isfinite(side.aside) and abs(side.aside) > MOST_HEADING_OFF:
            found.append(
                Finding(
                    "foot-points-aside",
                    "warning",
                    f"The foot went {np.degrees(abs(side.aside)):.0f} deg to the "
                    f"{'left' if side.aside > 0 else 'right'} of where its axes, as found, point. If the "
                    "person does not walk with the foot turned so far, the axes are wrong, and so are pitch, rates and "
                    "clearance.",
                    "Look at how the foot points; check the order and signs of the columns in the logger profile.",
                    segment=seat.segment,
                    side=side.side,
                )
            )
    return tuple(found)
