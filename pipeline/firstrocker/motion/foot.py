"""The foot's motion over a walk: orientation, path and the heights of toe and heel, held at every foot flat."""

from __future__ import annotations

from dataclasses import dataclass, replace

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
from firstrocker.motion.frames import elevation, elevation_rate, upright
from firstrocker.motion.orientation import level, strapdown
from firstrocker.motion.path import Path
from firstrocker.motion.quaternions import conjugate, rotated, upward
from firstrocker.motion.rest import Rest, find_rest, gain
from firstrocker.motion.sensor import Sensor, pieces
from firstrocker.motion.steps import find_course, steps
from firstrocker.motion.stillness import Anchors, around, find_anchors, motion_energy
from firstrocker.motion.turned import straightness, turned
from firstrocker.motion.walked import bouts_of

ALOFT, LANDS_S = 0.4, 0.1
"""Share of its greatest speed in a step from which a foot is in the air; the last s of that, in which it may land."""


@dataclass(frozen=True)
class FootMotion:
    """One foot over one walk; (n,) per sample.

    sensor: its sensor, in foot axes. pitch, pitch_rate: rad, rad/s, toes-up positive. roll: rad, elevation of the
    foot's leftward axis. heading: rad, unwrapped, of its forward axis. position, velocity: (n, 3) m, m/s of the
    sensor's centre. toe_height, heel_height: m, of the outsole's tip and the heel's lower rear edge over the ground.
    shock: m/s^2, magnitude of acceleration with gravity off. anchors, moved: (k,) and (k - 1,) where the foot stands
    still, and whether it stepped between two. tilt_se: (k,) rad. trusted: (n,) False where a gap or a saturated
    stretch touched. bridged: (n,) True where a few lost samples were interpolated. climb: (k - 1,) m, height gained
    before the ground was taken as level. rest: where the sensor rested, and how it read there.
    """

    side: Side
    rate_hz: float
    sensor: Sensor
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

    def turning(self, where: IntArray | BoolArray | slice) -> FloatArray:
        """(..., 3) rad/s angular velocity at some samples (...), foot axes, bias off."""
        return np.moveaxis(self.sensor.turning(where), 0, -1)

    def aside(self, first: IntArray, last: IntArray) -> FloatArray:
        """(k,) rad, up to whole turns, from where the foot pointed at some samples to where it had gone at others."""
        way = self.position[last] - self.position[first]
        return np.asarray(np.arctan2(way[:, 1], way[:, 0]) - self.heading[first])

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
    known = np.zeros(3) if rest.bias is None else rest.bias
    sensor = Sensor(signal, rate_hz, gain(rest.gravity) if len(rest.gravity) else 1.0, known)
    anchors = find_anchors(motion_energy(sensor), signal.valid, rate_hz)
    if len(anchors.index) < 2:
        raise _no_walking(signal)
    if rest.bias is None:
        sensor = replace(sensor, bias=np.median(signal.angular_velocity[anchors.index], axis=0))
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
    inertial = strapdown(sensor)
    seen = level(inertial, sensor, filter_name=filter_name)
    held, gone, anchors, moved = find_course(inertial, seen, sensor, anchors, geometry.above_ground)
    if not moved.any():
        raise _no_walking(signal)
    # Of the stances of walking alone: who sat for long, or a sensor on a table, would outvote them.
    flat = bouts_of(anchors.index, moved, rate_hz).stances(anchors.index)
    anchor_up = np.median(sensor.force(around(flat, rate_hz, len(sensor))).mean(axis=2), axis=1)
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
    mount = _mount(sensor, up, held, gone, anchors, moved)
    sensor = replace(sensor, seat=mount.matrix)
    gone.position[2] += geometry.above_ground
    toe, heel = (gone.position[2].copy() for _ in range(2))
    pitch, pitch_rate, roll, heading = _angles(held.quaternion, sensor, geometry, toe, heel)
    return FootMotion(
        side=signal.side,
        rate_hz=rate_hz,
        sensor=sensor,
        pitch=pitch,
        pitch_rate=pitch_rate,
        roll=roll,
        heading=heading,
        position=gone.position.T,
        velocity=gone.velocity.T,
        toe_height=toe,
        heel_height=heel,
        shock=gone.shock,
        anchors=anchors.index,
        energy=anchors.energy,
        still=anchors.still,
        moved=moved,
        tilt_se=held.tilt_se.max(axis=1),
        misclosure=gone.misclosure,
        climb=gone.climb,
        trusted=sensor.trusted,
        bridged=signal.interpolated,
        geometry=geometry,
        mounting=mount,
        rest=rest,
        standing=apart is not None,
        bias=sensor.bias,
        findings=tuple(findings),
    )


def _angles(
    quaternion: FloatArray, sensor: Sensor, geometry: FootGeometry, toe: FloatArray, heel: FloatArray
) -> FloatArray:
    """(4, n) pitch, its rate, roll and heading of the foot, laid over the course (4, n) of its sensor.

    toe, heel: (n,) m, heights of the sensor, which become those of the two ends.
    """
    for part in pieces(0, len(sensor)):
        course = quaternion[:, part]
        upwards = sensor.seat @ upward(course)
        along, aside, up = upwards
        east, north, _ = rotated(course, sensor.seat[0])
        toe[part] += along * geometry.to_toe - up * geometry.above_ground
        heel[part] -= along * geometry.to_heel + up * geometry.above_ground
        quaternion[0, part] = elevation(upwards)
        quaternion[1, part] = elevation_rate(upwards, sensor.turning(part))
        quaternion[2, part] = np.arcsin(np.clip(aside, -1.0, 1.0))
        about = np.arctan2(north, east)
        # On from the sample before, which has been laid over already.
        before = quaternion[3, part.start - 1 : part.start] if part.start else about[:1]
        turns = np.rint(np.diff(about, prepend=before) / (2.0 * np.pi))
        quaternion[3, part] = about - 2.0 * np.pi * np.cumsum(turns)
    return quaternion


def _mount(sensor: Sensor, up: FloatArray, held: Course, gone: Path, anchors: Anchors, moved: BoolArray) -> Mounting:
    """The declared mounting levelled to the standing foot, or the one found from walking."""
    if sensor.signal.mounting is not None:
        return declared_mounting(sensor.signal.mounting[1], up)
    before = conjugate(held.quaternion[:, anchors.index[:-1][moved]])
    way = rotated(before, steps(gone, anchors)[moved].T).T
    straight = straightness(turned(held.quaternion[:, anchors.index]))
    every = sensor.scatter(~anchors.still, anchors.index, straight)
    # The heading of a foot changes in the air: what a turn does to an axis, it does there most.
    aloft = sensor.scatter(_aloft(gone, anchors.index, moved, sensor.rate_hz), anchors.index, straight**2)
    return foot_mounting(up, every, aloft, way)


def _aloft(gone: Path, index: IntArray, moved: BoolArray, rate_hz: float) -> BoolArray:
    """(n,) True where the foot is in the air in its steps between anchors (k,); moved: (k - 1,) between which."""
    pace = np.empty(gone.velocity.shape[1], dtype=np.float32)
    for part in pieces(0, len(pace)):
        pace[part] = np.sqrt((gone.velocity[:, part] ** 2).sum(axis=0))
    least = np.where(moved, ALOFT * np.maximum.reduceat(pace, index)[:-1], np.inf).astype(np.float32)
    walk, aloft = slice(int(index[0]), int(index[-1])), np.zeros(len(pace), dtype=np.bool_)
    aloft[walk] = pace[walk] > np.repeat(least, np.diff(index))
    late = max(round(LANDS_S * rate_hz), 1)
    aloft[:-late] &= aloft[late:]
    return aloft


def _no_walking(signal: Signal) -> SignalError:
    return SignalError(
        "no step was found in the foot log: the foot never moved from one place of rest to another.",
        code="no-walking",
        where=signal.source,
        remedy="Check that the log is of the foot and that the walk was recorded.",
    )
