"""Rigid segments from optical markers, and the inertial sensor each would carry.

Markers are low-passed, one rotation and place per frame fitted to them (Kabsch 1976, by singular values), and both made
smooth curves in time, so that specific force and angular rate are those of one and the same motion, to rounding.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import BSpline, make_interp_spline
from scipy.signal import butter, sosfiltfilt
from scipy.spatial.transform import Rotation

from firstrocker.model import STANDARD_GRAVITY, Log, Segment, Side

FloatArray = NDArray[np.float64]
Pose = Callable[[FloatArray], tuple[FloatArray, FloatArray]]
"""From (n,) s to (n, 3) m place of the segment's origin and (n, 3, 3) segment-to-world rotations."""

STEP_S = 1e-3
"""Half the span over which a pose is differentiated; its curves are smooth over many times that."""


def low_pass(positions: FloatArray, rate_hz: float, cutoff_hz: float) -> FloatArray:
    """Fourth order Butterworth without delay."""
    return np.asarray(sosfiltfilt(butter(2, cutoff_hz, fs=rate_hz, output="sos"), positions, axis=0))


def fit_cluster(points: FloatArray, shape: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """The rotation and place that lay a rigid shape best on points.

    Args:
        points: (n, m, 3) m, world. shape: (m, 3) m, segment axes.

    Returns:
        (n, 3) places of the segment's origin, (n, 3, 3) rotations, (n,) m RMS of what is left.
    """
    middle, own = points.mean(axis=1), shape.mean(axis=0)
    spread = np.einsum("nmi,mj->nij", points - middle[:, None], shape - own)
    u, _, vt = np.linalg.svd(spread)
    u[:, :, 2] *= np.linalg.det(u @ vt)[:, None]
    rotation = u @ vt
    place = middle - rotation @ own
    left = points - place[:, None] - np.einsum("nij,mj->nmi", rotation, shape)
    return place, rotation, np.sqrt(np.mean(np.sum(left**2, axis=2), axis=1))


@dataclass(frozen=True)
class SmoothPose:
    """A pose through samples by quintic curves; a :data:`Pose`."""

    place: BSpline
    quaternion: BSpline

    def __call__(self, time: FloatArray) -> tuple[FloatArray, FloatArray]:
        return np.asarray(self.place(time)), np.asarray(Rotation.from_quat(self.quaternion(time)).as_matrix())


def smooth_pose(time: FloatArray, place: FloatArray, rotation: FloatArray) -> SmoothPose:
    """Curves through (n,) s, (n, 3) m and (n, 3, 3)."""
    quaternion = Rotation.from_matrix(rotation).as_quat()
    flips = np.cumprod(np.concatenate([[1.0], np.where(np.sum(quaternion[1:] * quaternion[:-1], axis=1) < 0, -1, 1)]))
    quaternion = quaternion * flips[:, None]
    return SmoothPose(make_interp_spline(time, place, k=5), make_interp_spline(time, quaternion, k=5))


@dataclass(frozen=True)
class RepeatedPose:
    """One stride of a pose, from a still instant to the next, said over and over; a :data:`Pose`.

    The last ``blend_s`` of the stride cross-fade to what came before its start, so that it closes smoothly.

    start_s, period_s: the stride. advance: (3,) m per stride; its height is 0, the ground being level.
    """

    pose: Pose
    start_s: float
    period_s: float
    blend_s: float
    advance: FloatArray

    def __call__(self, time: FloatArray) -> tuple[FloatArray, FloatArray]:
        number = np.floor((time - self.start_s) / self.period_s)
        within = time - number * self.period_s
        place, rotation = self.pose(within)
        past = np.clip((within - self.start_s - self.period_s + self.blend_s) / self.blend_s, 0.0, 1.0)
        late = past > 0.0
        if late.any():
            weight = (past**3 * (10.0 + past * (6.0 * past - 15.0)))[late, None]
            before, turned = self.pose(within[late] - self.period_s)
            place[late] += weight * (before + self.advance - place[late])
            turn = Rotation.from_matrix(turned @ np.swapaxes(rotation[late], 1, 2)).as_rotvec()
            rotation[late] = Rotation.from_rotvec(weight * turn).as_matrix() @ rotation[late]
        return place + number[:, None] * self.advance, rotation


@dataclass(frozen=True)
class FromRestToRest:
    """A pose that stands, sets out, goes on as it is, slows down and stands: time itself runs slower; a :data:`Pose`.

    begin_s, end_s: instants of the pose at which it stands. rest_s: how long, at both ends. ramp_s: how long setting
    out and slowing down take; the pose moves by half of that meanwhile.
    """

    pose: Pose
    begin_s: float
    end_s: float
    rest_s: float
    ramp_s: float

    @property
    def delay_s(self) -> float:
        """How much later than in the pose something happens that lies in the walk's unslowed part."""
        return self.rest_s + self.ramp_s / 2.0 - self.begin_s

    @property
    def duration_s(self) -> float:
        """From the first to the last instant of standing."""
        return 2.0 * self.rest_s + self.ramp_s + self.end_s - self.begin_s

    def __call__(self, time: FloatArray) -> tuple[FloatArray, FloatArray]:
        half = 0.5 * (self.end_s - self.begin_s)
        middle = 0.5 * self.duration_s
        return self.pose(self.begin_s + np.where(time < middle, 0.0, 2.0 * half) + self._run(time, middle))

    def _run(self, time: FloatArray, middle: float) -> FloatArray:
        early = time < middle
        since = np.where(early, time, self.duration_s - time) - self.rest_s
        part = np.clip(since / self.ramp_s, 0.0, 1.0)
        # the integral of the smooth step 10 u^3 - 15 u^4 + 6 u^5
        gone = self.ramp_s * part**4 * (2.5 + part * (part - 3.0)) + np.maximum(since - self.ramp_s, 0.0)
        return np.where(early, gone, -gone)


def point_path(pose: Pose, point: FloatArray, time: FloatArray) -> FloatArray:
    """(n, 3) m, path of a point (3,) m fixed in the segment."""
    place, rotation = pose(time)
    return np.asarray(place + rotation @ point)


def angular_rate(pose: Pose, time: FloatArray) -> FloatArray:
    """(n, 3) rad/s in segment axes."""
    _, before = pose(time - STEP_S)
    _, after = pose(time + STEP_S)
    turn = Rotation.from_matrix(np.swapaxes(before, 1, 2) @ after).as_rotvec()
    return np.asarray(turn / (2.0 * STEP_S))


def specific_force(pose: Pose, point: FloatArray, time: FloatArray) -> FloatArray:
    """(n, 3) m/s^2 at a point fixed in the segment, in segment axes."""
    before, here, after = (point_path(pose, point, time + shift) for shift in (-STEP_S, 0.0, STEP_S))
    acceleration = (before - 2.0 * here + after) / STEP_S**2 + np.array([0.0, 0.0, STANDARD_GRAVITY])
    return np.asarray(np.einsum("nji,nj->ni", pose(time)[1], acceleration))


def virtual_log(
    pose: Pose, point: FloatArray, time: FloatArray, *, segment: Segment, side: Side, mounting: FloatArray
) -> Log:
    """The log of a faultless sensor at a point of the segment.

    Args:
        pose: of the segment. point: (3,) m, segment axes. time: (n,) s, of the pose and of the log.
        segment, side: where it sits.
        mounting: (3, 3) rotation from sensor to segment axes; the log does not tell it.
    """
    return Log(
        segment=segment,
        side=side,
        time=time,
        acceleration=specific_force(pose, point, time) @ mounting,
        angular_velocity=angular_rate(pose, time) @ mounting,
        declared_rate_hz=float(1.0 / np.median(np.diff(time))),
    )
