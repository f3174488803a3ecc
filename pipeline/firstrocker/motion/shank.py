"""The shank's motion over a walk, held by the ankle it shares with the foot.

The shank never rests, but above a foot that stands flat the ankle does. There the shank sensor's velocity is that of a
point turning about the ankle, so the shank can be held at the same anchors as the foot.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from firstrocker.model import STANDARD_GRAVITY, BoolArray, FilterName, Finding, FloatArray, Side, Signal
from firstrocker.motion.anchored import Course, Ties, hold, shock
from firstrocker.motion.axes import Mounting, declared_mounting, shank_mounting
from firstrocker.motion.foot import FootMotion
from firstrocker.motion.frames import elevation, elevation_rate
from firstrocker.motion.integrate import derivative_at
from firstrocker.motion.missing import Noise
from firstrocker.motion.orientation import level, steady_course, strapdown
from firstrocker.motion.quaternions import rotated, upward
from firstrocker.motion.rest import Rest, find_rest, gain
from firstrocker.motion.sensor import Sensor, pieces
from firstrocker.motion.standing import UNKNOWN_STANDING_SE, Standing, find_standing, standing_findings
from firstrocker.motion.turned import straightness
from firstrocker.motion.walked import bouts_of

ARM_PRIOR = 0.20  # m from the ankle up to the sensor: the middle of the shank; common practice, no source
ARM_DEVIATION = 0.10  # m
ARM_HZ = 33.0  # samples a second, about, that are asked for it


@dataclass(frozen=True)
class Stood:
    """How a shank's sensor lies in standing, known from more than the walk at hand.

    up: (3,) m/s^2 specific force, sensor axes; None: nobody knows, and quiet in the walk itself is not to be taken for
    standing, for people sit. se: rad, its standard error.
    """

    up: FloatArray | None
    se: float = UNKNOWN_STANDING_SE


@dataclass(frozen=True)
class ShankMotion:
    """One shank over one walk; (n,) per sample.

    angle, rate: rad, rad/s, shank-to-vertical, inclined positive. roll: rad, elevation of the shank's leftward axis.
    shock: m/s^2, magnitude of acceleration with gravity off. arm: (3,) m from the ankle to the sensor, shank axes.
    tilt_se: (k,) rad at the foot's anchors. trusted: (n,) False where a gap or a saturated stretch touched. bridged:
    (n,) True where a few lost samples were interpolated. stood: first and one past last samples of the standing that
    gave the zero. reference_se: rad, of that zero.
    """

    side: Side
    angle: FloatArray
    rate: FloatArray
    roll: FloatArray
    shock: FloatArray
    arm: FloatArray
    tilt_se: FloatArray
    trusted: BoolArray
    bridged: BoolArray
    mounting: Mounting
    rest: Rest
    reference_se: float
    stood: tuple[tuple[int, int], ...]
    findings: tuple[Finding, ...]


def ankle_arm(sensor: Sensor, quaternion: FloatArray, flat: BoolArray) -> FloatArray:
    """Where the sensor sits from the ankle, by the turning of the shank above a flat foot.

    Args:
        sensor: of the shank, in shank axes.
        quaternion: (4, n) sensor to world, the sensor in its own axes.
        flat: (n,) True where the foot stands still.

    Returns:
        (3,) m from the ankle to the sensor. Above a still ankle ``a = g up + w' x r + w x (w x r)``, which is linear
        in r; the solution is drawn to a sensor in the middle of the shank where the walk says little.
    """
    square, product = np.zeros((6, 6)), np.zeros(6)
    # Neighbouring samples share their errors: some of them tell as much as all.
    every = max(1, round(sensor.rate_hz / ARM_HZ))
    asked = np.flatnonzero(flat[2:-2])[::every] + 2
    for part in pieces(0, len(asked), each=6):
        here = asked[part]
        turning = sensor.turning(here)
        pace = sensor.seat @ derivative_at(sensor.signal.angular_velocity, here, 1.0 / sensor.rate_hz).T
        force = sensor.force(here) - STANDARD_GRAVITY * (sensor.seat @ upward(quaternion[:, here]))
        # Row by row what a metre along each axis adds to the force; a constant tilt error shows as a constant force,
        # so it is solved for beside the arm.
        matrix = np.empty((6, 3, len(here)))
        matrix[:3] = turning[:, None] * turning - np.eye(3)[..., None] * (turning * turning).sum(axis=0)
        for one, other, axis in ((0, 1, 2), (1, 2, 0), (2, 0, 1)):
            matrix[one, other] += pace[axis]
            matrix[other, one] -= pace[axis]
        matrix[3:] = np.eye(3)[..., None]
        flattened = matrix.reshape(6, -1)
        square += flattened @ flattened.T
        product += flattened @ force.ravel()
    noise = 0.7  # m/s^2, soft tissue and the ankle's own small movement
    weight = np.diag(np.concatenate([np.full(3, 1 / ARM_DEVIATION**2), np.full(3, 1 / 0.5**2)]))
    prior = np.array([0.0, 0.0, ARM_PRIOR, 0.0, 0.0, 0.0])
    # Some ten neighbours count as one.
    alike = max(10.0 / every, 1.0)
    normal = square / (alike * noise**2) + weight
    right = product / (alike * noise**2) + weight @ prior
    return np.asarray(np.linalg.solve(normal, right)[:3])


def _standing_up(
    rest: Rest, foot: FootMotion, sensor: Sensor, quaternion: FloatArray, stood: Stood | None
) -> tuple[Standing, tuple[Finding, ...]]:
    """How the sensor lay in standing, by the walk itself or by what is known from elsewhere, and what to say of it.

    Args:
        rest: of the shank.
        foot: of the same side.
        sensor: of the shank.
        quaternion: (4, n) sensor to world.
        stood: from elsewhere.
    """
    if stood is not None and stood.up is not None:
        return Standing(stood.up, stood.se, (), 0.0, 0.0), ()
    bouts = bouts_of(foot.anchors, foot.moved, foot.rate_hz)
    stance = np.median(upward(quaternion[:, bouts.stances(foot.anchors)]), axis=1)
    busy = bouts.within(len(sensor)) & ~foot.still
    mount = _mount(stance, sensor, foot, busy, 0.0).matrix
    if stood is not None:
        rest = replace(rest, spans=(), gravity=rest.gravity[:0])
    lean = np.empty(len(sensor))
    for part in pieces(0, len(sensor)):
        lean[part] = -np.arcsin(np.clip(mount[0] @ upward(quaternion[:, part]), -1.0, 1.0))
    found = find_standing(rest, foot.still, sensor, lean, mount, bouts)
    return found, standing_findings(found, foot.side)


def track_shank(
    signal: Signal,
    rate_hz: float,
    foot: FootMotion,
    *,
    filter_name: FilterName,
    rest_min_s: float,
    rest_gyro: float,
    standing_angle: float | None,
    stood: Stood | None = None,
) -> ShankMotion:
    """Find how the shank moved.

    Args:
        signal: the shank's sensor on the walk's clock.
        rate_hz: samples per second.
        foot: the motion of the foot of the same side.
        filter_name: orientation filter that gives the course.
        rest_min_s: least length of a quiet stretch, s.
        rest_gyro: greatest spread of angular velocity at rest, rad/s.
        standing_angle: rad, shank-to-vertical angle in standing as measured with a goniometer; None counts as 0.
        stood: how the sensor lies in standing; None looks for it in the walk.

    Returns:
        The shank's motion; findings tell what had to be guessed.
    """
    rest = find_rest(
        signal.acceleration, signal.angular_velocity, signal.valid, rate_hz, rest_min_s=rest_min_s, rest_gyro=rest_gyro
    )
    walk = slice(int(foot.anchors[0]), int(foot.anchors[-1]))
    walking = np.zeros(len(signal.valid), dtype=np.bool_)
    walking[walk] = True
    # Over whole strides the shank turns to and fro and ends as it began: its mean rate is the bias.
    bias = rest.bias if rest.bias is not None else signal.angular_velocity[walk].mean(axis=0)
    sensor = Sensor(signal, rate_hz, gain(rest.gravity) if len(rest.gravity) else 1.0, bias)
    inertial = strapdown(sensor)
    quaternion = steady_course(inertial, level(inertial, sensor, filter_name=filter_name), foot.anchors, sensor)
    stands, said = _standing_up(rest, foot, sensor, quaternion, stood)
    lean = standing_angle or 0.0
    busy = walking & ~foot.still
    mount = _mount(stands.up, sensor, foot, busy, lean)
    if signal.mounting is not None:
        mount = declared_mounting(signal.mounting[1], stands.up, lean)
    seat = replace(sensor, seat=mount.matrix)
    arm = ankle_arm(seat, quaternion, foot.still & walking & sensor.trusted)
    held = hold(quaternion, sensor, _ties(sensor, seat, foot, quaternion, arm))
    angle, rate, roll, felt = _angles(held, seat)
    return ShankMotion(
        side=signal.side,
        angle=angle,
        rate=rate,
        roll=roll,
        shock=felt,
        arm=arm,
        tilt_se=held.tilt_se.max(axis=1),
        trusted=sensor.trusted,
        bridged=signal.interpolated,
        mounting=mount,
        rest=rest,
        reference_se=stands.se,
        stood=stands.spans,
        findings=said,
    )


def _ties(sensor: Sensor, seat: Sensor, foot: FootMotion, quaternion: FloatArray, arm: FloatArray) -> Ties:
    """What is known of the shank's sensor where the foot stands still; ``seat`` is the sensor in shank axes."""
    index, reach = foot.anchors, seat.seat.T @ arm
    slow = np.empty(len(sensor), dtype=np.bool_)
    for part in pieces(0, len(sensor)):
        slow[part] = np.abs(seat.turning_about(1, part)) < np.radians(5.0)
    about = np.cross(sensor.turning(index).T, reach).T
    return Ties(
        index=index,
        still=foot.still & slow,
        clipped=~sensor.trusted,
        bridged=sensor.signal.lost,
        target=rotated(quaternion[:, index], about).T,
        height=rotated(quaternion[:, index], reach)[2],
        noise=Noise(
            tilt_rest=None,
            tilt_prior=np.radians(3.0),
            drift=np.radians(0.25),
            clipped=1.5,
            velocity=np.sqrt(0.03**2 + 0.05**2 * foot.energy),
            bias=0.05,
        ),
    )


def _mount(up: FloatArray, sensor: Sensor, foot: FootMotion, busy: BoolArray, lean: float) -> Mounting:
    """How the shank's sensor sits, by ``up`` (3,) of a standing inclined by ``lean`` and its turning where ``busy``."""
    scatter = sensor.scatter(busy, foot.anchors, straightness(np.diff(foot.heading[foot.anchors])))
    return shank_mounting(up, scatter, _with_foot(sensor, foot, busy), lean)


def _with_foot(sensor: Sensor, foot: FootMotion, busy: BoolArray) -> FloatArray:
    """(3,) sum of a sensor's angular velocity times the foot's about its sideways axis, over the samples where True."""
    total = np.zeros(3)
    for part in pieces(0, len(sensor)):
        total += sensor.turning(part) @ (foot.sensor.turning_about(1, part) * busy[part])
    return total


def _angles(held: Course, seat: Sensor) -> FloatArray:
    """(4, n) shank-to-vertical angle, its rate, roll and shock, laid over the held course; ``seat``: in shank axes."""
    rows = held.quaternion
    for part, force in held.forces():
        up = seat.seat @ upward(rows[:, part])
        rows[0, part] = -elevation(up)
        rows[1, part] = -elevation_rate(up, seat.turning(part))
        rows[2, part] = np.arcsin(np.clip(up[1], -1.0, 1.0))
        rows[3, part] = shock(force)
    return rows
