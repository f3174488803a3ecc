"""A walker: foot and shank of one leg or both through a whole walk, as exact rigid-body movement."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from firstrocker.model import FloatArray, Side
from firstrocker.synth.chair import Sit, lengths, seated_course
from firstrocker.synth.foot import FootShape, swing_course
from firstrocker.synth.pattern import Gait, sound_side
from firstrocker.synth.plan import Place, Plan, Swing, Turn, plan_walk
from firstrocker.synth.rigid import Angles, SegmentMotion, segment_motion
from firstrocker.synth.shank import shank_course
from firstrocker.synth.smooth import slow_noise, smooth_step
from firstrocker.synth.terrain import Section, lifted

U_TURN = Turn(after_strides=5.0, degrees=180.0, over_strides=3.0)
"""Towards the affected leg, which is the inner one then."""
U_TURN_AWAY = replace(U_TURN, degrees=-180.0)
"""Away from the affected leg, which is the outer one then."""


@dataclass(frozen=True)
class Leg:
    """One leg's movement on the walker's grid.

    foot: reference point the heel's lower edge. shank: reference point the ankle joint. pitch, shank_angle and their
    rates: (n,) rad, rad/s; ankle = pitch + shank_angle. toe_bend: (n,) rad, by which the part of the sole beyond the
    ball is bent up. swings: what was meant, in order (the truth is measured, see ``truth``). over_ground: see ``sole``,
    None on level ground.
    """

    side: Side
    time: FloatArray
    foot: SegmentMotion
    shank: SegmentMotion
    pitch: FloatArray
    pitch_rate: FloatArray
    shank_angle: FloatArray
    shank_rate: FloatArray
    toe_bend: FloatArray
    shape: FootShape
    swings: tuple[Swing, ...]
    over_ground: tuple[FloatArray, FloatArray] | None = None

    @property
    def sole(self) -> tuple[FloatArray, FloatArray]:
        """Height of the heel's lower edge (m) and pitch (rad) against the ground, (n,) each."""
        return self.over_ground or (self.foot.position[:, 2], self.pitch)

    @property
    def ankle(self) -> FloatArray:
        """Ankle angle, rad, dorsiflexion positive."""
        return self.pitch + self.shank_angle

    @property
    def ankle_rate(self) -> FloatArray:
        """Ankle rate, rad/s."""
        return self.pitch_rate + self.shank_rate

    @property
    def heel_height(self) -> FloatArray:
        """Height of the heel's lower edge over the floor, m."""
        return self.sole[0]

    @property
    def heel_low(self) -> FloatArray:
        """Height of the lowest point of the rounded heel, m."""
        back = self.shape.heel_radius * (1.0 - np.cos(np.maximum(self.sole[1], 0.0)))
        return np.asarray(self.heel_height - back)

    @property
    def ball_height(self) -> FloatArray:
        """Height of the sole under the ball, m."""
        return np.asarray(self.heel_height + self.shape.ball * np.sin(self.sole[1]))

    @property
    def toe_height(self) -> FloatArray:
        """Height of the front lower edge of the outsole, the toes' bend counted in, m."""
        return np.asarray(self.ball_height + self.shape.toes * np.sin(self.sole[1] + self.toe_bend))


@dataclass(frozen=True)
class Walker:
    """Somebody who walked. time: (n,) s, uniform. standing_shank_angle: rad, in quiet standing, of both legs."""

    kind: str
    affected_side: Side
    time: FloatArray
    legs: Mapping[Side, Leg]
    standing: tuple[tuple[float, float], ...]
    standing_shank_angle: float

    def leg(self, side: Side | None = None) -> Leg:
        """The leg of that side, by default the affected one."""
        return self.legs[side or self.affected_side]


def walk(
    gait: Gait,
    *,
    seed: int,
    side: Side = "left",
    strides: int = 12,
    bouts: int = 2,
    turns: Sequence[Turn] = (U_TURN,),
    standing_s: float = 3.0,
    fine_rate_hz: float = 1000.0,
    both: bool = False,
    other: Gait | None = None,
    shape: FootShape | None = None,
    standing_shank_deg: float = 0.0,
    kind: str = "",
    terrain: Sequence[Section] = (),
    sits: Sequence[Sit] = (),
) -> Walker:
    """Let somebody walk.

    Args:
        gait: how the affected leg walks.
        seed: all variation comes from it; the same seed walks the same walk.
        side: the affected side. A right-sided walker is the exact mirror image of the left-sided one.
        strides: full strides of the affected leg in each bout.
        bouts: how often the person sets off and stops.
        turns: turns made within every bout.
        standing_s: least time of standing before, between and after the bouts, s.
        fine_rate_hz: of the grid on which the movement is given.
        both: also give the other leg.
        other: how the other leg walks; an ordinary leg at the same pace by default.
        shape: the feet.
        standing_shank_deg: shank-to-vertical angle in quiet standing, + forward.
        kind: a name to carry along.
        terrain: ramps and stairs of every bout in order, in place of ``strides``.
        sits: in which pauses the person sits; those last as long as that takes.

    Returns:
        The walker.
    """
    rng = np.random.default_rng(seed)
    shape = shape or FootShape()
    plan = plan_walk(
        gait,
        other or sound_side(gait),
        rng,
        strides=strides,
        bouts=bouts,
        turns=turns,
        standing_s=standing_s,
        terrain=terrain,
        pauses=lengths(sits, bouts),
    )
    time = np.arange(int(plan.duration * fine_rate_hz) + 1) / fine_rate_hz
    mirror = 1.0 if side == "left" else -1.0
    opposite: Side = "right" if side == "left" else "left"
    seeds = rng.integers(2**31, size=2)
    legs: dict[Side, Leg] = {side: _leg(time, plan, 0, shape, int(seeds[0]), standing_shank_deg, mirror, side, sits)}
    if both:
        legs[opposite] = _leg(time, plan, 1, shape, int(seeds[1]), standing_shank_deg, mirror, opposite, sits)
    return Walker(kind, side, time, legs, plan.standing, float(np.deg2rad(standing_shank_deg)))


def _leg(
    time: FloatArray,
    plan: Plan,
    which: int,
    shape: FootShape,
    seed: int,
    standing: float,
    mirror: float,
    side: Side,
    sits: Sequence[Sit],
) -> Leg:
    rng = np.random.default_rng(seed)
    sign = 1.0 if which == 0 else -1.0
    swings = plan.affected if which == 0 else plan.other
    start = plan.affected_start if which == 0 else plan.other_start
    course = _course(time, swings, start, shape, sign)
    x, y, z, yaw, pitch, roll, bend = course
    resting = standing_weight(time, plan.standing)

    # Feet creep: fractions of a degree and of a millimetre, about the middle of the sole.
    tilt = np.deg2rad(slow_noise(rng, time, every_s=0.35, sd=0.06))
    half = 0.5 * shape.length
    z = z + half * (np.sin(pitch) - np.sin(pitch + tilt))
    pitch = pitch + tilt
    roll = roll + np.deg2rad(slow_noise(rng, time, every_s=0.35, sd=0.08))
    yaw = yaw + np.deg2rad(slow_noise(rng, time, every_s=0.6, sd=0.05))
    x = x + slow_noise(rng, time, every_s=0.6, sd=0.0001)
    y = y + slow_noise(rng, time, every_s=0.6, sd=0.0001)

    lower = shank_course(time, swings, standing=standing, heading=start.yaw, sign=sign)
    sway = np.deg2rad(slow_noise(rng, time, every_s=0.8, sd=0.35))
    shift = np.deg2rad(slow_noise(rng, time, every_s=1.2, sd=0.8)) * resting
    if sits:
        chair = seated_course(time, plan.standing, sits)
        lower = replace(lower, inclination=lower.inclination + chair.inclination, roll=lower.roll + sign * chair.roll)
        sway, shift = sway * (1.0 - 0.6 * chair.seated), shift * (1.0 - 0.8 * chair.seated)
        x, y = x + chair.ahead * np.cos(yaw), y + chair.ahead * np.sin(yaw)
        z = z + chair.lift + shape.ball * np.sin(np.maximum(-chair.foot_pitch, 0.0))
        pitch = pitch + chair.foot_pitch
    over_ground = None
    if any(swing.goal.lift.section >= 0 for swing in swings):
        over_ground = (z, pitch)
        path, angles = lifted(time, swings, np.column_stack([x, y, z]), Angles(yaw, pitch, roll))
        (x, y, z), yaw, pitch, roll = path.T, angles.yaw, angles.pitch, angles.roll
    foot_angles = Angles(mirror * yaw, pitch, mirror * roll)
    shank_angles = Angles(
        mirror * (lower.yaw + np.deg2rad(slow_noise(rng, time, every_s=0.7, sd=0.3))),
        -(lower.inclination + sway),
        mirror * (lower.roll + shift + np.deg2rad(slow_noise(rng, time, every_s=0.7, sd=0.3))),
    )
    foot, pitch_rate, _ = segment_motion(time, foot_angles, np.column_stack([x, mirror * y, z]))
    joint = foot.point(np.array([shape.ankle_forward, 0.0, shape.ankle_up]))
    turning, incline_rate, _ = segment_motion(time, shank_angles, joint[0])
    shank = SegmentMotion(
        time, turning.rotation, turning.angular_velocity, turning.angular_acceleration, joint[0], joint[1], joint[2]
    )
    return Leg(
        side, time, foot, shank, pitch, pitch_rate, -shank_angles.pitch, -incline_rate, bend, shape, swings, over_ground
    )


def _course(time: FloatArray, swings: Sequence[Swing], start: Place, shape: FootShape, sign: float) -> list[FloatArray]:
    n = time.size
    zero = np.zeros(n)
    out = [zero + start.x, zero + start.y, zero - shape.rest_depth, zero + start.yaw, zero, zero.copy(), zero.copy()]
    step = float(time[1] - time[0])
    for swing in swings:
        begin, end = int(np.ceil(swing.settled / step)), min(n, int(np.ceil(swing.resting / step)))
        piece = swing_course(time[begin:end], swing, shape, sign)
        values = (piece.x, piece.y, piece.z, piece.yaw, piece.pitch, piece.roll, piece.toe_bend)
        for whole, part in zip(out, values, strict=True):
            whole[begin:end] = part
        goal = swing.goal
        rest = (goal.x, goal.y, -shape.rest_depth, goal.yaw, 0.0, 0.0, 0.0)
        for whole, value in zip(out, rest, strict=True):
            whole[end:] = value
    return out


def standing_weight(time: FloatArray, standing: Sequence[tuple[float, float]]) -> FloatArray:
    """(n,) 1 in quiet standing, 0 in walking, smooth in between."""
    weight = np.zeros_like(time)
    for begin, end in standing:
        rise = smooth_step(time, begin, begin + 0.5) if begin > 0.0 else np.ones_like(time)
        weight = np.maximum(weight, rise * (1.0 - smooth_step(time, end - 0.5, end)))
    return weight
