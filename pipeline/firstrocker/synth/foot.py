"""One swing of a foot: push-off, flight, landing and loading, as the movement of a rigid foot with bending toes.

The sole is a line from the heel's lower edge over the ball to the tip. In push-off the foot rolls over the ball while
the toes stay on the floor, then over the tip; in loading it rolls over the rounded heel (or, where the forefoot lands
first, about the tip). Landings and lift-offs go through :func:`firstrocker.synth.smooth.soft_floor`: the point that
touches arrives with its speed and is stopped within a few milliseconds and millimetres.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from firstrocker.model import FloatArray
from firstrocker.synth.pattern import Gait
from firstrocker.synth.plan import Swing
from firstrocker.synth.smooth import Key, keyed, rounded, smooth_step, soft_floor


@dataclass(frozen=True)
class FootShape:
    """A foot in its shoe, metres, in foot axes from the heel's lower edge.

    length: to the tip of the outsole. ball: where the toes bend. heel_radius: of the rounding behind the heel's edge.
    ankle: the joint's place forward and up. rest_depth: how far shoe and pad are pressed in under the body.
    """

    length: float = 0.285
    ball: float = 0.205
    heel_radius: float = 0.012
    ankle_forward: float = 0.060
    ankle_up: float = 0.090
    rest_depth: float = 0.002

    @property
    def toes(self) -> float:
        """Length of the part beyond the ball."""
        return self.length - self.ball


@dataclass(frozen=True)
class FootCourse:
    """A foot's course on the walker's grid, all (n,): heel's lower edge in metres, angles in rad, toes' bend in rad."""

    x: FloatArray
    y: FloatArray
    z: FloatArray
    yaw: FloatArray
    pitch: FloatArray
    roll: FloatArray
    toe_bend: FloatArray


_KINK = 0.024  # s over which the pitch rate changes after contact
_ROUND = 0.050  # s over which the corners of the flight are rounded
_HAND_OVER = 0.5  # of the toe's greatest depth under the heel: over which the lowest point passes from toe to heel
_DEEPEST = 0.009  # m by which the end that lands second goes in at most, beyond the first


def swing_course(time: FloatArray, swing: Swing, shape: FootShape, sign: float) -> FootCourse:
    """The foot from its rest before ``swing`` to its rest after.

    Args:
        time: (n,) uniform grid from a rest to a rest, s.
        swing: what is meant.
        shape: the foot.
        sign: +1 for a left foot, -1 for a right one.

    Returns:
        The course; at rest its pitch and roll are exactly 0 and its sole lies ``rest_depth`` deep.
    """
    gait = swing.gait
    heel_first = gait.pitch_contact >= 0.0  # the plan sees to it that one end is clearly first
    flight = swing.heel_strike - swing.toe_off
    fall = gait.impact_down * gait.stop_time / 2.0  # how deep the point that touches is pressed in
    pitch = _pitch(time, swing, fall / shape.length, _DEEPEST / shape.length)

    bend_full = np.deg2rad(gait.toe_flex)
    unbending = 1.0 - smooth_step(time, swing.toe_off, swing.toe_off + min(0.12, 0.42 * flight))
    bend = bend_full * np.tanh(-np.minimum(pitch, 0.0) / bend_full) * unbending
    give = soft_floor(-pitch - 0.005, 0.005)  # the toes give when the foot slaps down
    landed = give * smooth_step(time, swing.heel_strike, swing.heel_strike + 0.01) if heel_first else 0.0 * time

    height = _height(time, swing, shape.rest_depth, fall)
    over_heel = smooth_step(time, swing.toe_off + 0.56 * flight, swing.heel_strike - 0.06 * flight)
    if not heel_first:
        over_heel = np.zeros_like(time)
    sole = shape.ball * np.sin(pitch) + shape.toes * np.sin(pitch + bend)
    # In flight the lower of heel and toe follows the planned height; at the contacts the point that touches does.
    above = -sole
    if heel_first:
        done = smooth_step(time, swing.toe_off + 0.55 * flight, swing.heel_strike - 0.012)
        give_over = _HAND_OVER * shape.length * abs(np.sin(np.deg2rad(gait.pitch_toe_off)))
        lower = soft_floor(-sole, give_over) * (1.0 - done)
        above = np.where(time < swing.toe_off + 0.2 * flight, -sole, lower)
    z = height + above + over_heel * shape.heel_radius * (1.0 - np.cos(pitch))

    yaw, roll = _yaw(time, swing, sign), _roll(time, swing, sign)
    turned = smooth_step(time, swing.toe_off + 0.1 * flight, swing.heel_strike - 0.1 * flight)
    reach = shape.ball * np.cos(pitch) + shape.toes * np.cos(pitch + bend)
    heel_roll = -shape.heel_radius * (pitch - np.sin(pitch))
    along, away = _travel(time, swing)
    origin, goal = swing.origin, swing.goal
    distance = float(np.hypot(goal.x - origin.x, goal.y - origin.y))
    direction = np.arctan2(goal.y - origin.y, goal.x - origin.x) if distance > 1e-6 else origin.yaw

    def place(axis: str, facing: FloatArray, unit: float, normal: float) -> FloatArray:
        turn = {"x": np.cos, "y": np.sin}[axis]
        tip = shape.length * ((1.0 - turned) * turn(origin.yaw) + turned * turn(goal.yaw))
        pivot = (1.0 - over_heel) * (tip - facing * reach) + over_heel * facing * heel_roll
        return np.asarray(getattr(origin, axis) + along * unit + sign * away * normal + pivot)

    x = place("x", np.cos(yaw), float(np.cos(direction)), float(-np.sin(direction)))
    y = place("y", np.sin(yaw), float(np.sin(direction)), float(np.cos(direction)))
    return FootCourse(x, y, z, yaw, pitch, roll, bend + landed)


def _pitch(time: FloatArray, swing: Swing, touch: float, most: float) -> FloatArray:
    g: Gait = swing.gait
    push, flight = swing.toe_off - swing.heel_off, swing.heel_strike - swing.toe_off
    rise = g.heel_off_rate
    onset = min(0.040, 0.5 * push)
    give = rise * onset / 2.0
    # The foot turns fastest shortly before its last point leaves the floor and is slowing down when it does.
    fastest = 1.45 * (-give - g.pitch_toe_off) / (push - onset)
    leaving = g.leaving_rate_share * fastest
    ahead = min(g.fastest_before_toe_off, 0.4 * (push - onset))
    after = g.pitch_toe_off - 0.5 * leaving * g.lowest_after_toe_off
    before = keyed(
        [
            (swing.heel_off - 0.2, give + 0.2 * rise, -rise),
            (swing.heel_off + onset, -give, -rise),
            (swing.toe_off - ahead, g.pitch_toe_off + 0.5 * (fastest + leaving) * ahead, -fastest),
            (swing.toe_off, g.pitch_toe_off, -leaving),
            (swing.toe_off + g.lowest_after_toe_off, after, 0.0),
            (swing.toe_off + 0.54 * flight, g.pitch_mid_swing, None),
            (swing.toe_off + 0.86 * flight, g.pitch_contact + g.pitch_late_extra, 0.0),
            (swing.heel_strike - 0.012, g.pitch_contact - 0.012 * g.pitch_rate_contact, g.pitch_rate_contact),
            (swing.heel_strike + 0.3, g.pitch_contact + 0.3 * g.pitch_rate_contact, g.pitch_rate_contact),
        ],
        fair=True,
    )
    side = 1.0 if g.pitch_contact >= 0.0 else -1.0
    down = np.rad2deg(touch)
    start = swing.heel_strike + min(0.5 * _KINK, 0.4 * g.loading_time)
    at_kink = float(before(np.array([start]))[0])
    mean = (side * down - at_kink) / (swing.foot_flat - start)
    arriving = g.landing_rate_share * mean
    if -side * arriving < 40.0:
        arriving = side * -40.0
    loading = keyed(
        [
            (start, at_kink, 0.9 * mean),
            (swing.foot_flat, side * down, arriving),
            (swing.foot_flat + 0.3, side * down + 0.3 * arriving, arriving),
        ]
    )

    def fallen(t: FloatArray) -> FloatArray:
        return np.where(t < start, 0.0, loading(t) - before(t))

    pitch = rounded(before, time, _ROUND) + rounded(fallen, time, _KINK)
    stop = min(abs(arriving) * g.flat_stop_time / 2.0, np.rad2deg(most))
    pushed = -soft_floor(-pitch, give)
    flat = soft_floor(side * pitch - down + stop, stop) + down - stop
    stopped = swing.foot_flat + g.flat_stop_time
    back = smooth_step(time, stopped - 0.004, stopped + 0.045)
    landed = side * (flat + (stop - down) * back)
    whole = np.where(time < swing.toe_off, pushed, np.where(time < swing.heel_strike, pitch, landed))
    return np.deg2rad(whole)


def _height(time: FloatArray, swing: Swing, rest: float, fall: float) -> FloatArray:
    g = swing.gait
    flight = swing.heel_strike - swing.toe_off
    lift, down = g.lift_rate, g.impact_down
    early = max(g.clearance_early, lift * 0.03 + 0.001)
    keys: list[Key] = [
        (swing.toe_off - 0.3, -0.3 * lift, lift),
        (swing.toe_off + 0.028, 0.028 * lift, lift),
        (swing.toe_off + 0.24 * flight, early, 0.0 if early > g.clearance else None),
        (swing.toe_off + 0.57 * flight, g.clearance, 0.0 if early > g.clearance else None),
        (swing.toe_off + 0.80 * flight, g.height_late, 0.0),
        (swing.heel_strike - 0.03, 0.03 * down, -down),
        (swing.heel_strike + 0.3, -0.3 * down, -down),
    ]
    free = rounded(keyed(keys), time, _ROUND)
    middle = swing.toe_off + 0.5 * flight
    off = soft_floor(free + rest, rest) - rest
    back = smooth_step(time, swing.heel_strike + g.stop_time, swing.foot_flat + g.flat_stop_time + 0.045)
    on = soft_floor(free + fall, fall) - fall + (fall - rest) * back
    return np.where(time < middle, off, on)


def _travel(time: FloatArray, swing: Swing) -> tuple[FloatArray, FloatArray]:
    """Way along the straight line between the places, and away from the body, metres."""
    g = swing.gait
    flight = swing.heel_strike - swing.toe_off
    distance = float(np.hypot(swing.goal.x - swing.origin.x, swing.goal.y - swing.origin.y))
    arriving = min(g.impact_forward, 0.5 * distance / flight)
    give = arriving * g.stop_time / 2.0
    shape = np.array([0.0, 0.16, 0.52, 0.80, 0.96, 1.0, 0.93, 0.70, 0.30, 0.0, 0.0])
    when = np.array([0.0, 0.04, 0.14, 0.26, 0.38, 0.52, 0.66, 0.80, 0.92, 1.0, 1.6])
    landing = np.array([0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.05, 0.30, 0.75, 1.0, 1.0])
    begin = swing.toe_off - 0.012
    times = begin + when * (swing.heel_strike - begin)

    def way(weights: FloatArray) -> FloatArray:
        still = (0.0, *[None] * (len(times) - 2), 0.0)
        keys = [(float(t), float(v), slope) for t, v, slope in zip(times, weights, still, strict=True)]
        speed = rounded(keyed(keys), time, 0.03)
        step = float(time[1] - time[0])
        return np.concatenate([[0.0], np.cumsum(0.5 * (speed[1:] + speed[:-1])) * step])

    base, tail = way(shape), arriving * way(landing)
    index = float(np.interp(swing.heel_strike, time, np.arange(time.size)))

    def at(values: FloatArray) -> float:
        return float(np.interp(index, np.arange(time.size), values))

    scale = (distance - give - at(tail)) / at(base)
    free = scale * base + tail
    along = distance - soft_floor(distance - free, give) if give > 1e-6 else free
    f = np.clip((time - swing.toe_off) / flight, 0.0, 1.0)
    return np.asarray(along), np.asarray(g.circumduction * (4.0 * f * (1.0 - f)) ** 4)


def _yaw(time: FloatArray, swing: Swing, sign: float) -> FloatArray:
    flight = swing.heel_strike - swing.toe_off
    first, last = swing.origin.yaw, swing.goal.yaw
    pushed = first + sign * np.deg2rad(2.0) + 0.12 * swing.turned
    keys: list[Key] = [
        (swing.heel_off + 0.3 * (swing.toe_off - swing.heel_off), first, 0.0),
        (swing.toe_off, pushed, None),
        (swing.toe_off + 0.5 * flight, 0.5 * (pushed + last) + sign * np.deg2rad(2.0), None),
        (swing.heel_strike - 0.02, last - sign * np.deg2rad(1.0), None),
        (swing.foot_flat, last, 0.0),
    ]
    return rounded(keyed(keys), time, 0.04)


def _roll(time: FloatArray, swing: Swing, sign: float) -> FloatArray:
    """Inversion (the sole turned inward) is a negative roll of a left foot."""
    g = swing.gait
    flight = swing.heel_strike - swing.toe_off
    push = swing.toe_off - swing.heel_off
    keys: list[Key] = [
        (swing.heel_off + 0.25 * push, 0.0, 0.0),
        (swing.toe_off, 0.7 * g.inversion, None),
        (swing.toe_off + 0.4 * flight, 1.3 * g.inversion, None),
        (swing.heel_strike + 0.004, g.inversion, None),
        (swing.foot_flat + 0.03, 0.0, 0.0),
    ]
    return -sign * np.deg2rad(rounded(keyed(keys), time, 0.03))
