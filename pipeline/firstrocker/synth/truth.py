"""What really happened in a simulated walk: events and measures read from the exact movement.

Nothing here shares code with the analysis. Events are those of the geometry: a point touches when it reaches the floor.
Heights are over the level at which the loaded sole rests, which is the level a ruler measures from; the simulated floor
yields by :attr:`firstrocker.synth.foot.FootShape.rest_depth` under the body. Heel off is the start of the heel's rise.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from firstrocker.model import FloatArray
from firstrocker.synth.plan import Swing
from firstrocker.synth.sensors import FOOT_SEAT, SHANK_SEAT, Mounting
from firstrocker.synth.terrain import ground_of
from firstrocker.synth.walker import Leg, Walker

Row = dict[str, float | str | bool]
DEG = 180.0 / np.pi
TURN_DEG = 20.0
SHORT_BOUT = 4


@dataclass(frozen=True)
class TrueSwing:
    """One swing's events in s of the walker's time. ``plan`` is what was meant."""

    plan: Swing
    heel_off: float
    toe_off: float
    heel_strike: float
    foot_flat: float
    contact: str


@dataclass(frozen=True)
class WalkerTruth:
    """One leg's swings, and its strides as rows with the columns of strides.parquet (times in walker's time)."""

    swings: tuple[TrueSwing, ...]
    strides: tuple[Row, ...]


@dataclass(frozen=True)
class _Courses:
    """What strides are read from, over the whole walk: (n,) each, but (n, 3) where the foot sensor's place was."""

    front: FloatArray
    heel_low: FloatArray
    lowest: FloatArray
    toe: FloatArray
    heel: FloatArray
    ankle: FloatArray
    ankle_rate: FloatArray
    yaw: FloatArray
    position: FloatArray
    velocity: FloatArray
    foot_shock: FloatArray
    shank_shock: FloatArray


def _courses(leg: Leg) -> _Courses:
    mirror = np.array([1.0, 1.0 if leg.side == "left" else -1.0, 1.0])
    position, velocity, acceleration = leg.foot.point(Mounting(FOOT_SEAT).offset * mirror)
    toe, heel_low = leg.toe_height, leg.heel_low
    front = np.minimum(leg.ball_height, toe)
    return _Courses(
        front=front,
        heel_low=heel_low,
        lowest=np.minimum(heel_low, front),
        toe=toe + leg.shape.rest_depth,
        heel=leg.heel_height + leg.shape.rest_depth,
        ankle=leg.ankle,
        ankle_rate=leg.ankle_rate,
        yaw=np.unwrap(np.arctan2(leg.foot.rotation[:, 1, 0], leg.foot.rotation[:, 0, 0])),
        position=position,
        velocity=velocity,
        foot_shock=np.linalg.norm(acceleration, axis=1),
        shank_shock=np.linalg.norm(leg.shank.point(SHANK_SEAT * mirror)[2], axis=1),
    )


def truth_of(walker: Walker, leg: Leg | None = None) -> WalkerTruth:
    """Events and measures of one leg.

    Args:
        walker: who walked.
        leg: which leg, by default the affected one.

    Returns:
        The truth; times are the walker's, to be shifted by the log's start and stretched by its clock.
    """
    leg = leg or walker.leg()
    courses = _courses(leg)
    swings = tuple(_swing(leg, courses, plan) for plan in leg.swings)
    strides: list[Row] = []
    for bout in sorted({s.plan.bout for s in swings}):
        members = [s for s in swings if s.plan.bout == bout]
        count = len(members) - 1
        for number in range(count):
            row = _stride(leg, courses, members[number], members[number + 1])
            reason = _uneven(str(row["ground"])) or _uneven(_ground(members[number]))
            if abs(float(row["heading_change_deg"])) > TURN_DEG:
                reason = "turn"
            elif not reason and count < SHORT_BOUT:
                reason = "short_bout"
            elif not reason and number in (0, count - 1):
                reason = "first" if number == 0 else "last"
            row |= {"bout": bout, "stride": number, "left_out": reason, "steady": not reason}
            strides.append(row)
    return WalkerTruth(swings, tuple(strides))


def _ground(swing: TrueSwing) -> str:
    return ground_of(swing.plan.origin.lift, swing.plan.goal.lift)


def _uneven(ground: str) -> str:
    """Why a stride over this ground, or off it, does not count."""
    return "" if ground == "level" else "stairs" if ground.startswith("stairs") else "slope"


def _cross(time: FloatArray, height: FloatArray, start: float, stop: float, *, falling: bool) -> float:
    """First instant in [start, stop] at which a height passes zero."""
    a, b = np.searchsorted(time, [start, stop])
    part = height[a : b + 1] if falling else -height[a : b + 1]
    hits = np.flatnonzero((part[:-1] > 0.0) & (part[1:] <= 0.0))
    if not len(hits):
        return float("nan")
    k = int(hits[0])
    return float(time[a + k] + part[k] / (part[k] - part[k + 1]) * (time[1] - time[0]))


def _swing(leg: Leg, walk: _Courses, plan: Swing) -> TrueSwing:
    time = leg.time
    middle = 0.5 * (plan.toe_off + plan.heel_strike)
    off = _cross(time, walk.lowest, plan.heel_off, middle, falling=False)
    strike = _cross(time, walk.lowest, middle, plan.resting, falling=True)
    heel_first = bool(np.interp(strike, time, walk.heel_low) <= np.interp(strike, time, walk.front))
    flat = _cross(time, walk.front if heel_first else walk.heel_low, strike - 1e-3, plan.resting, falling=True)
    pitch = DEG * float(np.interp(strike, time, leg.sole[1]))
    contact = "heel" if pitch > 3.0 else "forefoot" if pitch < -3.0 else "flat"
    return TrueSwing(plan, plan.heel_off, off, strike, flat if flat >= strike else strike, contact)


def _stride(leg: Leg, walk: _Courses, before: TrueSwing, swing: TrueSwing) -> Row:
    time = leg.time
    strike, flat, rise, off, after = (
        before.heel_strike,
        before.foot_flat,
        swing.heel_off,
        swing.toe_off,
        swing.heel_strike,
    )

    def at(series: FloatArray, t: float) -> float:
        return float(np.interp(t, time, series))

    def part(series: FloatArray, start: float, stop: float) -> FloatArray:
        a, b = np.searchsorted(time, [start, stop])
        return series[a : max(b, a + 1)]

    position = walk.position
    first, last = np.searchsorted(time, [before.plan.resting, min(swing.plan.resting, time[-1])])
    way = (position[last] - position[first])[:2]
    length = float(np.hypot(*way))
    along, aside = way / length, np.array([-way[1], way[0]]) / length * (1.0 if leg.side == "left" else -1.0)
    middle, kind = _lowest(time, walk.toe, walk.velocity[:, :2] @ along, off, after)
    ground = _ground(swing)
    known = 1.0 if ground in ("level", "up", "down") else float("nan")  # edges are not modelled
    fall = at(leg.pitch, strike) - at(leg.pitch, flat)
    plantar = at(walk.ankle, strike) - at(walk.ankle, flat)
    share = plantar / fall if before.contact == "heel" and fall * DEG >= 5.0 else float("nan")
    return {
        "heel_strike_s": strike,
        "foot_flat_s": flat,
        "heel_off_s": rise,
        "toe_off_s": off,
        "next_heel_strike_s": after,
        "contact": before.contact,
        "stride_time_s": after - strike,
        "stance_time_s": off - strike,
        "swing_time_s": after - off,
        "loading_time_s": flat - strike,
        "stance_percent": 100.0 * (off - strike) / (after - strike),
        "cadence_steps_min": 120.0 / (after - strike),
        "stride_length_m": length,
        "walking_speed_m_s": length / (after - strike),
        "toe_clearance_min_mm": known * 1000.0 * at(walk.toe, middle),
        "toe_clearance_kind": kind,
        "heel_clearance_max_mm": known * 1000.0 * float(part(walk.heel, off, after).max()),
        "circumduction_mm": 1000.0
        * float((part(position[:, :2] @ aside, off, after) - position[first, :2] @ aside).max()),
        "foot_pitch_heel_strike_deg": DEG * at(leg.pitch, strike),
        "foot_pitch_mid_swing_deg": DEG * at(leg.pitch, middle),
        "foot_pitch_toe_off_deg": DEG * at(leg.pitch, off),
        "ankle_heel_strike_deg": DEG * at(walk.ankle, strike),
        "ankle_foot_flat_deg": DEG * at(walk.ankle, flat),
        "ankle_peak_dorsiflexion_deg": DEG * float(part(walk.ankle, strike, off).max()),
        "ankle_mid_swing_deg": DEG * at(walk.ankle, middle),
        "slap_rate_deg_s": DEG * float((-part(walk.ankle_rate, strike, flat)).max()),
        "foot_lowering_rate_deg_s": DEG * float((-part(leg.pitch_rate, strike, flat)).max()),
        "first_rocker_range_deg": DEG * (at(walk.ankle, strike) - float(part(walk.ankle, strike, flat).min())),
        "ankle_share": share,
        "push_off_rate_deg_s": DEG * float((-part(walk.ankle_rate, rise, off)).max()),
        "shank_heel_strike_deg": DEG * at(leg.shank_angle, strike),
        "shank_foot_flat_deg": DEG * at(leg.shank_angle, flat),
        "shank_mid_stance_deg": DEG * at(leg.shank_angle, 0.5 * (flat + rise)),
        "shank_forward_rate_deg_s": DEG * float(part(leg.shank_rate, strike, flat).max()),
        "heel_strike_shock_m_s2": float(part(walk.shank_shock, strike, strike + 0.05).max()),
        "slap_shock_m_s2": float(part(walk.foot_shock, flat, flat + 0.05).max()),
        "heading_change_deg": DEG * float(walk.yaw[last] - walk.yaw[first]),
        "ground": ground,
        "rise_m": float(position[last, 2] - position[first, 2]),
    }


def _lowest(time: FloatArray, toe: FloatArray, forward: FloatArray, off: float, after: float) -> tuple[float, str]:
    """Instant of minimum toe clearance: the lowest dip between a rise and a rise, else the greatest forward speed."""
    a, b = np.searchsorted(time, [off, after])
    height = toe[a:b]
    dips = np.flatnonzero((height[1:-1] <= height[:-2]) & (height[1:-1] < height[2:])) + 1
    kept = [k for k in dips if height[:k].max() > height[k] + 0.001 and height[k:].max() > height[k] + 0.002]
    if kept:
        return float(time[a + min(kept, key=lambda k: height[k])]), "local_minimum"
    return float(time[a + int(np.argmax(forward[a:b]))]), "at_peak_speed"
