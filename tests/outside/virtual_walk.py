"""A recorded stride said over and over between standing, seen by two virtual sensors, and its truth."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from firstrocker.model import Log, Side
from outside import rigid
from outside.marker_files import FloatArray
from outside.walk_markers import BEFORE_S, FOOT_POINT, Trial, drop_height

BLEND_S = 0.1
"""The stride's end fades over this time to what came before its start."""


@dataclass(frozen=True)
class VirtualWalk:
    """A walk of repeated strides between standing, seen by two sensors, and its truth.

    logs, poses: foot and shank. time: (n,) s of both. contact, off: s, true instants. toe_height: (n,) m of the ground
    point under the toe marker. foot_pitch, shank_angle, ankle: (n,) rad, and their rates (n,) rad/s. advance_m: stride
    length. standing_shank_angle: rad, at the start. to_toe_m, above_ground_m: the foot sensor's ruler values.
    """

    side: Side
    logs: tuple[Log, Log]
    poses: tuple[rigid.Pose, rigid.Pose]
    time: FloatArray
    contact: FloatArray
    off: FloatArray
    toe_height: FloatArray
    foot_pitch: FloatArray
    shank_angle: FloatArray
    foot_pitch_rate: FloatArray
    shank_rate: FloatArray
    advance_m: float
    period_s: float
    standing_shank_angle: float
    to_toe_m: float
    above_ground_m: float

    @property
    def ankle(self) -> FloatArray:
        """(n,) rad, dorsiflexion positive."""
        return self.foot_pitch + self.shank_angle

    @property
    def ankle_rate(self) -> FloatArray:
        """(n,) rad/s."""
        return self.foot_pitch_rate + self.shank_rate


def walk(
    trial: Trial, *, strides: int, rate_hz: float, rest_s: float = 3.0, mounting: FloatArray | None = None
) -> VirtualWalk:
    """Repeat a trial's stride between standing and record it with two sensors.

    Args:
        trial: which.
        strides: how many swings the foot makes.
        rate_hz: of both sensors.
        rest_s: standing at both ends.
        mounting: (3, 3) of the sensors, sensor to segment axes; aligned where None.
    """
    first, _ = trial.foot(np.array([trial.still_s, trial.still_s + trial.period_s]))
    advance = drop_height(first[1] - first[0])
    foot, shank = (
        rigid.FromRestToRest(
            rigid.RepeatedPose(pose, trial.still_s, trial.period_s, BLEND_S, advance),
            begin_s=trial.still_s - BEFORE_S,
            end_s=trial.still_s - 0.02 + strides * trial.period_s,
            rest_s=rest_s,
            ramp_s=0.4,
        )
        for pose in (trial.foot, trial.shank)
    )
    time = np.arange(0.0, foot.duration_s, 1.0 / rate_hz)
    seat = np.eye(3) if mounting is None else mounting
    logs = (
        rigid.virtual_log(foot, FOOT_POINT, time, segment="foot", side=trial.side, mounting=seat),
        rigid.virtual_log(shank, trial.shank_point, time, segment="shank", side=trial.side, mounting=seat),
    )
    cycle = (trial.still_s, trial.still_s + trial.period_s)
    number = np.arange(strides) * trial.period_s + foot.delay_s
    elevations = [_elevation(pose, time) for pose in (foot, shank)]
    rates = [_elevation_rate(pose, time) for pose in (foot, shank)]
    return VirtualWalk(
        side=trial.side,
        logs=logs,
        poses=(foot, shank),
        time=time,
        contact=np.asarray(_within(trial.contact, cycle, trial.period_s) + number, dtype=np.float64),
        off=np.asarray(_within(trial.off, cycle, trial.period_s) + number, dtype=np.float64),
        toe_height=rigid.point_path(foot, trial.toe, time)[:, 2],
        foot_pitch=elevations[0],
        shank_angle=-elevations[1],
        foot_pitch_rate=rates[0],
        shank_rate=-rates[1],
        advance_m=float(np.linalg.norm(advance)),
        period_s=trial.period_s,
        standing_shank_angle=float(-elevations[1][0]),
        to_toe_m=float(trial.toe[0] - FOOT_POINT[0]),
        above_ground_m=float(FOOT_POINT[2]),
    )


def _within(instants: FloatArray, cycle: tuple[float, float], period: float) -> float:
    """The instant of the stride that is repeated: measured in it, or a period before or after."""
    shifted = cycle[0] + np.mod(instants - cycle[0], period)
    measured = instants[(instants >= cycle[0]) & (instants < cycle[1])]
    return float(measured[0] if len(measured) else shifted[0])


def _elevation(pose: rigid.Pose, time: FloatArray) -> FloatArray:
    return np.asarray(np.arcsin(np.clip(pose(time)[1][:, 2, 0], -1.0, 1.0)))


def _elevation_rate(pose: rigid.Pose, time: FloatArray) -> FloatArray:
    """By differences of the angle, so that it does not lean on the package's own formula."""
    change = _elevation(pose, time + rigid.STEP_S) - _elevation(pose, time - rigid.STEP_S)
    return np.asarray(change / (2.0 * rigid.STEP_S))
