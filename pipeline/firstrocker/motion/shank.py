"""The shank's motion over a walk, held by the ankle it shares with the foot.

The shank never rests, but above a foot that stands flat the ankle does. There the shank sensor's velocity is that of a
point turning about the ankle, so the shank can be held at the same anchors as the foot.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from firstrocker.model import STANDARD_GRAVITY, BoolArray, FilterName, Finding, FloatArray, Side, Signal
from firstrocker.motion.anchored import Noise, Ties, hold
from firstrocker.motion.axes import Mounting, declared_mounting, shank_mounting
from firstrocker.motion.foot import FootMotion
from firstrocker.motion.frames import elevation, elevation_rate, seated
from firstrocker.motion.integrate import derivative
from firstrocker.motion.orientation import PIECE, course, steady_course, strapdown
from firstrocker.motion.rest import Rest, find_rest, gain
from firstrocker.motion.standing import UNKNOWN_STANDING_SE, Standing, find_standing, standing_findings
from firstrocker.motion.walked import bouts_of

ARM_PRIOR = 0.20  # m from the ankle up to the sensor: the middle of the shank; common practice, no source
ARM_DEVIATION = 0.10  # m


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


def ankle_arm(
    acceleration: FloatArray, angular_velocity: FloatArray, up: FloatArray, rate_hz: float, flat: BoolArray
) -> FloatArray:
    """Where the sensor sits from the ankle, by the turning of the shank above a flat foot.

    Args:
        acceleration: (n, 3) m/s^2 specific force, shank axes.
        angular_velocity: (n, 3) rad/s, shank axes.
        up: (n, 3) the world's upward axis in shank axes.
        rate_hz: samples per second.
        flat: (n,) True where the foot stands still.

    Returns:
        (3,) m from the ankle to the sensor. Above a still ankle ``a = g up + w' x r + w x (w x r)``, which is linear
        in r; the solution is drawn to a sensor in the middle of the shank where the walk says little.
    """
    turn = derivative(angular_velocity, 1.0 / rate_hz)
    square, product = np.zeros((6, 6)), np.zeros(6)
    places = np.flatnonzero(flat)
    for first in range(0, len(places), PIECE):
        here = places[first : first + PIECE]
        w, rest = angular_velocity[here], acceleration[here] - STANDARD_GRAVITY * up[here]
        matrix = np.empty((len(here), 3, 6))
        for axis in range(3):
            one = np.eye(3)[axis]
            matrix[:, :, axis] = np.cross(turn[here], one) + np.cross(w, np.cross(w, one))
        # A constant tilt error shows as a constant force, so it is solved for beside the arm.
        matrix[:, :, 3:] = np.eye(3)
        flattened = matrix.reshape(-1, 6)
        square += flattened.T @ flattened
        product += flattened.T @ rest.reshape(-1)
    noise = 0.7  # m/s^2, soft tissue and the ankle's own small movement
    weight = np.diag(np.concatenate([np.full(3, 1 / ARM_DEVIATION**2), np.full(3, 1 / 0.5**2)]))
    prior = np.array([0.0, 0.0, ARM_PRIOR, 0.0, 0.0, 0.0])
    # Neighbouring samples share their errors: some ten of them count as one.
    normal = square / (10.0 * noise**2) + weight
    right = product / (10.0 * noise**2) + weight @ prior
    return np.asarray(np.linalg.solve(normal, right)[:3])


def _standing_up(
    rest: Rest, foot: FootMotion, force: FloatArray, rate: FloatArray, rotation: FloatArray, stood: Stood | None
) -> tuple[Standing, tuple[Finding, ...]]:
    """How the sensor lay in standing, by the walk itself or by what is known from elsewhere, and what to say of it.

    Args:
        rest: of the shank.
        foot: of the same side.
        force: (n, 3) m/s^2, gain corrected.
        rate: (n, 3) rad/s, bias off.
        rotation: (n, 3, 3) sensor to world.
        stood: from elsewhere.
    """
    if stood is not None and stood.up is not None:
        return Standing(stood.up, stood.se, (), 0.0, 0.0), ()
    bouts = bouts_of(foot.anchors, foot.moved, foot.rate_hz)
    stance = np.median(rotation[bouts.stances(foot.anchors), 2], axis=0)
    busy = bouts.within(len(rate)) & ~foot.still
    mount = shank_mounting(stance, rate[busy], foot.angular_velocity[busy, 1], 0.0).matrix
    if stood is not None:
        rest = replace(rest, spans=(), gravity=rest.gravity[:0])
    found = find_standing(rest, foot.still, force, rotation[:, 2], mount, bouts, foot.rate_hz)
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
    force = signal.acceleration * (gain(rest.gravity) if len(rest.gravity) else 1.0)
    walking = np.zeros(len(force), dtype=np.bool_)
    walking[foot.anchors[0] : foot.anchors[-1]] = True
    # Over whole strides the shank turns to and fro and ends as it began: its mean rate is the bias.
    bias = rest.bias if rest.bias is not None else signal.angular_velocity[walking].mean(axis=0)
    rate = signal.angular_velocity - bias
    rotation = steady_course(
        course(force, rate, rate_hz, filter_name=filter_name), strapdown(rate, rate_hz), foot.anchors, rate_hz
    )
    stands, said = _standing_up(rest, foot, force, rate, rotation, stood)
    lean = standing_angle or 0.0
    busy = walking & ~foot.still
    mount = shank_mounting(stands.up, rate[busy], foot.angular_velocity[busy, 1], lean)
    if signal.mounting is not None:
        mount = declared_mounting(signal.mounting[1], stands.up, lean)
    segment, omega, body = seated(rotation, mount.matrix), rate @ mount.matrix.T, force @ mount.matrix.T
    del force, rate
    flat = foot.still & walking & signal.valid & ~signal.saturated
    arm = ankle_arm(body, omega, segment[:, 2, :], rate_hz, flat)
    index = foot.anchors
    about = np.einsum("kij,kj->ki", segment[index], np.cross(omega[index], arm))
    ties = Ties(
        index=index,
        still=foot.still & (np.abs(omega[:, 1]) < np.radians(5.0)),
        clipped=signal.saturated,
        bridged=signal.lost,
        target=about,
        height=(segment[index] @ arm)[:, 2],
        noise=Noise(
            tilt_rest=None,
            tilt_prior=np.radians(3.0),
            drift=np.radians(0.25),
            clipped=1.5,
            velocity=np.sqrt(0.03**2 + 0.05**2 * foot.energy),
            bias=0.05,
        ),
    )
    held = hold(segment, body, rate_hz, ties)
    return ShankMotion(
        side=signal.side,
        angle=-elevation(held.rotation),
        rate=-elevation_rate(held.rotation, omega),
        roll=np.arcsin(np.clip(held.rotation[:, 2, 1], -1.0, 1.0)),
        shock=held.shock(),
        arm=arm,
        tilt_se=held.tilt_se.max(axis=1),
        trusted=signal.valid & ~signal.saturated,
        bridged=signal.interpolated,
        mounting=mount,
        rest=rest,
        reference_se=stands.se,
        stood=stands.spans,
        findings=said,
    )
