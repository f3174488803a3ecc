"""A rigid segment's movement with its exact derivatives."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.interpolate import make_interp_spline

from firstrocker.model import FloatArray


@dataclass(frozen=True)
class SegmentMotion:
    """A segment on a uniform grid.

    rotation: (n, 3, 3) segment to world. angular_velocity, angular_acceleration: (n, 3) in segment axes, rad/s and
    rad/s^2. position, velocity, acceleration: (n, 3) of the segment's reference point in the world, SI.
    """

    time: FloatArray
    rotation: FloatArray
    angular_velocity: FloatArray
    angular_acceleration: FloatArray
    position: FloatArray
    velocity: FloatArray
    acceleration: FloatArray

    def point(self, offset: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Position, velocity and acceleration, each (n, 3) in the world, of a point fixed in the segment."""
        spin = np.cross(self.angular_velocity, offset)
        pull = np.cross(self.angular_acceleration, offset) + np.cross(self.angular_velocity, spin)
        return (
            self.position + self.to_world(np.broadcast_to(offset, self.position.shape)),
            self.velocity + self.to_world(spin),
            self.acceleration + self.to_world(pull),
        )

    def to_world(self, vectors: FloatArray) -> FloatArray:
        """(n, 3) segment coordinates to world coordinates."""
        return np.asarray(np.einsum("nij,nj->ni", self.rotation, vectors))

    def to_segment(self, vectors: FloatArray) -> FloatArray:
        """(n, 3) world coordinates to segment coordinates."""
        return np.asarray(np.einsum("nji,nj->ni", self.rotation, vectors))


@dataclass(frozen=True)
class Angles:
    """Heading (about z), pitch (toes or front up) and roll (about x, turned last) of a segment: (n,) each, rad."""

    yaw: FloatArray
    pitch: FloatArray
    roll: FloatArray


def segment_motion(time: FloatArray, angles: Angles, path: FloatArray) -> tuple[SegmentMotion, FloatArray, FloatArray]:
    """Rigid-body movement from angles and the reference point's path, by quintic splines through all of them.

    The splines are the movement: everything else is their exact derivative. The rotation is
    ``Rz(yaw) Ry(-pitch) Rx(roll)``, so that the elevation of the segment's x axis is the pitch, whatever the roll.

    Args:
        time: (n,) uniform grid, s.
        angles: the segment's angles.
        path: (n, 3) the reference point's path, m.

    Returns:
        The movement, the pitch rate and the pitch acceleration (n,).
    """
    values = np.column_stack([angles.yaw, angles.pitch, angles.roll, path])
    spline = make_interp_spline(time, values, k=5)
    first, second = spline.derivative(1)(time), spline.derivative(2)(time)
    turn, velocity = euler_rates(values[:, :3], first[:, :3]), first[:, 3:]
    spin = _euler_accelerations(values[:, :3], first[:, :3], second[:, :3])
    motion = SegmentMotion(time, euler_rotation(values[:, :3]), turn, spin, path, velocity, second[:, 3:])
    return motion, first[:, 1], second[:, 1]


def euler_rotation(angles: FloatArray) -> FloatArray:
    """(n, 3) heading, pitch, roll to (n, 3, 3) ``Rz(yaw) Ry(-pitch) Rx(roll)``."""
    cy, cp, cr = np.moveaxis(np.cos(angles), -1, 0)
    sy, sp, sr = np.moveaxis(np.sin(angles), -1, 0)
    rows = [
        [cy * cp, -sy * cr - cy * sp * sr, sy * sr - cy * sp * cr],
        [sy * cp, cy * cr - sy * sp * sr, -cy * sr - sy * sp * cr],
        [sp, cp * sr, cp * cr],
    ]
    return np.moveaxis(np.array(rows), -1, 0)


def euler_rates(angles: FloatArray, rates: FloatArray) -> FloatArray:
    """(n, 3) angular velocity in segment axes from the angles and their rates."""
    pitch, roll = angles[:, 1], angles[:, 2]
    yaw_rate, pitch_rate, roll_rate = rates.T
    return np.column_stack(
        [
            roll_rate + np.sin(pitch) * yaw_rate,
            -np.cos(roll) * pitch_rate + np.cos(pitch) * np.sin(roll) * yaw_rate,
            np.sin(roll) * pitch_rate + np.cos(pitch) * np.cos(roll) * yaw_rate,
        ]
    )


def _euler_accelerations(angles: FloatArray, rates: FloatArray, seconds: FloatArray) -> FloatArray:
    sp, cp = np.sin(angles[:, 1]), np.cos(angles[:, 1])
    sr, cr = np.sin(angles[:, 2]), np.cos(angles[:, 2])
    yaw_rate, pitch_rate, roll_rate = rates.T
    swirl = np.column_stack(
        [
            cp * pitch_rate * yaw_rate,
            sr * roll_rate * pitch_rate + (cp * cr * roll_rate - sp * sr * pitch_rate) * yaw_rate,
            cr * roll_rate * pitch_rate - (cp * sr * roll_rate + sp * cr * pitch_rate) * yaw_rate,
        ]
    )
    return np.asarray(euler_rates(angles, seconds) + swirl)
