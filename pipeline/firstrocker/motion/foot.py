"""The foot's motion over a walk: orientation, path and the heights of toe and heel, held at every foot flat."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from firstrocker.errors import SignalError
from firstrocker.model import (
    BoolArray,
    FilterName,
    Finding,
    FloatArray,
    FootGeometry,
    IntArray,
    Side,
    Signal,
)
from firstrocker.motion.anchored import Course
from firstrocker.motion.axes import Mounting, declared_mounting, foot_mounting, unit
from firstrocker.motion.frames import elevation, elevation_rate, seated, upright
from firstrocker.motion.orientation import course, strapdown
from firstrocker.motion.rest import Rest, find_rest, gain
from firstrocker.motion.steps import Sensed, find_course, steps
from firstrocker.motion.stillness import Anchors, around, find_anchors, motion_energy
from firstrocker.motion.walked import bouts_of


@dataclass(frozen=True)
class FootMotion:
    """One foot over one walk; (n,) per sample.

    angular_velocity: (n, 3) rad/s, foot axes, bias off. pitch, pitch_rate: rad, rad/s, toes-up positive. roll: rad,
    elevation of the foot's leftward axis. heading: rad, unwrapped, of its forward axis. position, velocity: (n, 3) m,
    m/s of the sensor's centre. toe_height, heel_height: m, of the outsole's tip and the heel's lower rear edge over the
    ground.
    shock: m/s^2, magnitude of acceleration with gravity off. anchors, moved: (k,) and (k - 1,) where the foot stands
    still, and whether it stepped between two. tilt_se: (k,) rad. trusted: (n,) False where a gap or a saturated
    stretch touched. bridged: (n,) True where a few lost samples were interpolated. climb: (k - 1,) m, height gained
    before the ground was taken as level. rest: where the sensor rested, and how it read there.
    """

    side: Side
    rate_hz: float
    angular_velocity: FloatArray
    pitch: FloatArray
    pitch_rate: FloatArray
    roll: FloatArray
    heading: FloatArray
    position: FloatArray
    velocity: FloatArray
    toe_height: FloatArray
    heel_height: FloatArray
    shock: FloatArray
    anchors: IntArray
    energy: FloatArray
    still: BoolArray
    moved: BoolArray
    tilt_se: FloatArray
    misclosure: FloatArray
    climb: FloatArray
    trusted: BoolArray
    bridged: BoolArray
    geometry: FootGeometry
    mounting: Mounting
    rest: Rest
    standing: bool
    bias: FloatArray
    findings: tuple[Finding, ...]

    def rotation(self, where: IntArray | slice) -> FloatArray:
        """(k, 3, 3) foot to world at some samples; of a whole walk they would take the most room of all."""
        return upright(self.heading[where], self.pitch[where], self.roll[where])


def _standing_up(rest: Rest, anchor_up: FloatArray) -> tuple[FloatArray, float | None]:
    """Specific force of the flat foot and the angle (rad) between standing and stance, None without standing."""
    if not len(rest.gravity):
        return anchor_up, None
    away = np.array([np.arccos(np.clip(unit(g) @ unit(anchor_up), -1, 1)) for g in rest.gravity])
    lengths = np.array([b - a for a, b in rest.spans])
    near = away <= away.min() + np.radians(1.5)
    return np.average(rest.gravity[near], axis=0, weights=lengths[near]), float(away.min())


def track_foot(
    signal: Signal,
    rate_hz: float,
    geometry: FootGeometry,
    *,
    filter_name: FilterName,
    rest_min_s: float,
    rest_gyro: float,
    standing_tolerance: float,
) -> FootMotion:
    """Find how the foot moved.

    Args:
        signal: the foot's sensor on the walk's clock.
        rate_hz: samples per second.
        geometry: where the sensor sits on the shoe.
        filter_name: orientation filter that gives the course.
        rest_min_s: least length of a quiet stretch, s.
        rest_gyro: greatest spread of angular velocity at rest, rad/s.
        standing_tolerance: rad by which the foot in standing may be tilted against the foot in stance.

    Returns:
        The foot's motion; findings tell what had to be guessed.

    Raises:
        SignalError: the log holds no walking (code ``no-walking``).
    """
    findings: list[Finding] = []
    rest = find_rest(
        signal.acceleration, signal.angular_velocity, signal.valid, rate_hz, rest_min_s=rest_min_s, rest_gyro=rest_gyro
    )
    force = signal.acceleration * (gain(rest.gravity) if len(rest.gravity) else 1.0)
    rate = signal.angular_velocity - (rest.bias if rest.bias is not None else 0.0)
    anchors = find_anchors(motion_energy(force, rate, rate_hz), signal.valid, rate_hz)
    if len(anchors.index) < 2:
        raise _no_walking(signal)
    bias = rest.bias
    if bias is None:
        bias = np.median(signal.angular_velocity[anchors.index], axis=0)
        rate = signal.angular_velocity - bias
        findings.append(
            Finding(
                "no-rest",
                "warning",
                "The foot log holds no quiet standing; the level of the sole and the gyroscope's bias were taken from "
                "the foot-flat phases of walking instead.",
                "Let the person stand still for two seconds before the first step.",
                segment="foot",
                side=signal.side,
            )
        )
    filtered = course(force, rate, rate_hz, filter_name=filter_name)
    sensed = Sensed(
        filtered, strapdown(rate, rate_hz), force, rate, signal.saturated, signal.lost, rate_hz, geometry.above_ground
    )
    held, gone, anchors, moved = find_course(sensed, anchors)
    del filtered, sensed
    if not moved.any():
        raise _no_walking(signal)
    # Of the stances of walking alone: who sat for long, or a sensor on a table, would outvote them.
    flat = bouts_of(anchors.index, moved, rate_hz).stances(anchors.index)
    anchor_up = np.median(force[around(flat, rate_hz, len(force))].mean(axis=1), axis=0)
    up, apart = _standing_up(rest, anchor_up)
    if apart is not None and apart > standing_tolerance:
        up = anchor_up
        findings.append(
            Finding(
                "standing-not-flat",
                "warning",
                f"In quiet standing the foot was tilted by {np.degrees(apart):.0f} deg against the foot-flat phases of "
                "walking; foot flat in walking was taken as level.",
                "Let the person stand with the whole sole on the floor before walking.",
                segment="foot",
                side=signal.side,
            )
        )
    up = held.accelerometer.freed(up)
    mount = _mount(signal, up, rate, held, steps(gone, anchors), anchors, moved)
    rotation = seated(held.rotation, mount.matrix)
    omega = rate @ mount.matrix.T
    start = np.array([0.0, 0.0, geometry.above_ground])
    position = np.add(gone.position, start, out=gone.position)
    reach = [np.array([along, 0.0, -geometry.above_ground]) for along in (geometry.to_toe, -geometry.to_heel)]
    return FootMotion(
        side=signal.side,
        rate_hz=rate_hz,
        angular_velocity=omega,
        pitch=elevation(rotation),
        pitch_rate=elevation_rate(rotation, omega),
        roll=np.arcsin(np.clip(rotation[:, 2, 1], -1.0, 1.0)),
        heading=np.unwrap(np.arctan2(rotation[:, 1, 0], rotation[:, 0, 0])),
        position=position,
        velocity=gone.velocity,
        toe_height=position[:, 2] + rotation[:, 2] @ reach[0],
        heel_height=position[:, 2] + rotation[:, 2] @ reach[1],
        shock=held.shock(),
        anchors=anchors.index,
        energy=anchors.energy,
        still=anchors.still,
        moved=moved,
        tilt_se=held.tilt_se.max(axis=1),
        misclosure=gone.misclosure,
        climb=gone.climb,
        trusted=signal.valid & ~signal.saturated,
        bridged=signal.interpolated,
        geometry=geometry,
        mounting=mount,
        rest=rest,
        standing=apart is not None,
        bias=bias,
        findings=tuple(findings),
    )


def _mount(
    signal: Signal, up: FloatArray, rate: FloatArray, held: Course, way: FloatArray, anchors: Anchors, moved: BoolArray
) -> Mounting:
    """The declared mounting levelled to the standing foot, or the one found from walking."""
    if signal.mounting is not None:
        return declared_mounting(signal.mounting[1], up)
    before = held.rotation[anchors.index[:-1][moved]]
    in_sensor = np.einsum("kij,ki->kj", before, way[moved])
    return foot_mounting(up, rate[~anchors.still], in_sensor)


def _no_walking(signal: Signal) -> SignalError:
    return SignalError(
        "no step was found in the foot log: the foot never moved from one place of rest to another.",
        code="no-walking",
        where=signal.source,
        remedy="Check that the log is of the foot and that the walk was recorded.",
    )
