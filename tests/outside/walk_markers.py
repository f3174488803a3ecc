"""Virtual foot and shank sensors on walks recorded by optical markers, with a true toe height and ankle angle.

Data: ``../shared/data/walk_markers``, Apache-2.0, NOTICE kept beside them (it asks to name Delp et al. 2007 and
Seth et al. 2011). Read, never copied into the repository. Laboratory x forward, y up, z right.

Two walks: ``markers_walk`` (100 Hz, over ground) and ``subject01_walk1`` (60 Hz, on a treadmill: the belt's speed, that
of the standing feet, is added, which changes no force). Both last some 2 s, too short for anything that looks for
standing and bouts of walking. A foot is still in mid-stance, so from there to the next mid-stance lies one stride that
can be repeated: the last tenth of a second fades to what came before the first, which closes it smoothly. Standing at
both ends is the same motion, run slower and slower to a stop while the foot is flat. Real are one stride's motion and
its contacts; invented are its repetition, the standing, and faultless sensors.

Segments: the foot's markers, and the shank's, each as one rigid cluster. Both frames' x points the way the foot goes
from stance to stance: the markers do not tell the anatomical axes (the line from the heel to the toe marker and that to
between toe and fifth metatarsal lie 10 to 15 deg apart), and no sensor can. The foot frame is level at the instant
in which it stands; the shank's z runs from the ankle to the knee marker, or where there are none (``subject01_walk1``)
stands upright at that instant. Contact: force plates over 20 N, with the period of the plates' own strides.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np

from firstrocker.model import Log, Side
from outside import rigid
from outside.marker_files import FloatArray, Markers, crossings, read_columns, read_trc

THRESHOLD_N = 20.0
BLEND_S = 0.1
BEFORE_S = 0.08
"""So long before the still instant lies the one at which the foot stands and which counts as foot flat."""
FOOT_POINT = np.array([0.16, 0.0, 0.07])
"""m, of the foot sensor from the heel marker's ground point: on the instep."""
SHANK_SHARE = 0.5
SHANK_OUT_M = 0.04


@dataclass(frozen=True)
class Recording:
    """What there is to know of one recording.

    foot, shank: marker names after the side's letter. axis: ankle and knee marker, None where there are none.
    plate: the vertical force's column by side. treadmill: whether the belt's speed must be added. still: by side, s,
    an instant in mid-stance with a whole stride after it. cutoff_hz: of the markers.
    """

    markers: str
    forces: str
    foot: tuple[str, ...]
    shank: tuple[str, ...]
    toe: str
    axis: tuple[str, str] | None
    plate: dict[Side, str]
    treadmill: bool
    still: dict[Side, float]
    cutoff_hz: float


RECORDINGS = {
    "markers_walk": Recording(
        markers="markers_walk.trc",
        forces="grf_walk.mot",
        foot=("Heel", "MT5", "Toe"),
        shank=("Ankle", "Knee", "SH1", "SH2", "SH3"),
        toe="Toe",
        axis=("Ankle", "Knee"),
        plate={"left": "ground_force_l_vy", "right": "ground_force_r_vy"},
        treadmill=False,
        still={"left": 0.13, "right": 0.60},
        cutoff_hz=25.0,  # the fastest plantarflexion after contact loses 5 % by it, truth and sensor alike
    ),
    "subject01_walk1": Recording(
        markers="subject01_walk1.trc",
        forces="subject01_walk1_grf.mot",
        foot=("Heel", "Midfoot.Sup", "Midfoot.Lat", "Toe.Tip"),
        shank=("Shank.Upper", "Shank.Front", "Shank.Rear"),
        toe="Toe.Tip",
        axis=None,
        plate={"left": "1_ground_force_vy", "right": "ground_force_vy"},
        treadmill=True,
        still={"left": 0.34, "right": 0.96},
        cutoff_hz=12.0,  # three markers close together tell the shank's rotation, noisily
    ),
}


@dataclass(frozen=True)
class Trial:
    """One side of a recording as two rigid segments.

    foot, shank: poses over time; the foot's origin is on the ground under the heel marker, the shank's is the ankle (or
    its cluster's middle); the floor is at height 0. fit_m: RMS distance of the markers from the rigid fits, both.
    toe: (3,) m, the ground point under the toe marker with the foot flat, foot axes. toe_marker: (n, 3) m, the
    marker's path. shank_point: (3,) m of the shank sensor, shank axes. contact, off: s, from the force plates.
    still_s: start of the stride that can be repeated. period_s: of the plates.
    """

    side: Side
    time: FloatArray
    foot: rigid.Pose
    shank: rigid.Pose
    fit_m: tuple[float, float]
    toe: FloatArray
    toe_marker: FloatArray
    shank_point: FloatArray
    contact: FloatArray
    off: FloatArray
    still_s: float
    period_s: float


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


@cache
def read_trial(data: Path, name: str, side: Side) -> Trial:
    """Make one side of a recording two rigid segments."""
    recording = RECORDINGS[name]
    markers = read_trc(data / recording.markers)
    letter = side[0].upper()
    rate = 1.0 / float(np.mean(np.diff(markers.time)))
    smooth = {
        marker: rigid.low_pass(markers.position[f"{letter}.{marker}"], rate, recording.cutoff_hz)
        for marker in dict.fromkeys((*recording.foot, *recording.shank, recording.toe))
    }
    reference = recording.still[side] - BEFORE_S
    if recording.treadmill:
        belt = belt_velocity(markers, recording, rate)
        smooth = {marker: path + markers.time[:, None] * belt for marker, path in smooth.items()}
    now = {marker: _at(markers.time, path, reference) for marker, path in smooth.items()}
    period = stride_period(data, name)
    ahead = _level(_at(markers.time, smooth["Heel"], recording.still[side] + period) - now["Heel"])
    foot_frame = _frame(ahead, np.array([0.0, 0.0, 1.0]))
    foot_origin = _drop_height(now["Heel"])
    if recording.axis:
        ankle, knee = (now[marker] for marker in recording.axis)
    else:
        ankle = np.mean([now[marker] for marker in recording.shank], axis=0)
        knee = ankle + np.array([0.0, 0.0, 1.0])
    shank_frame = _frame(ahead, knee - ankle)
    out = np.array([0.0, SHANK_OUT_M if side == "left" else -SHANK_OUT_M, 0.0])
    reach = np.array([0.0, 0.0, SHANK_SHARE * np.linalg.norm(knee - ankle) if recording.axis else 0.0])
    foot, foot_fit = _segment(markers.time, smooth, recording.foot, now, foot_origin, foot_frame)
    shank, shank_fit = _segment(markers.time, smooth, recording.shank, now, ankle, shank_frame)
    toe = foot_frame.T @ (now[recording.toe] - foot_origin)
    forces = read_columns(data / recording.forces)
    contact, off = crossings(forces.time, forces.column[recording.plate[side]], THRESHOLD_N)
    return Trial(
        side=side,
        time=markers.time,
        foot=foot,
        shank=shank,
        fit_m=(foot_fit, shank_fit),
        toe=np.array([toe[0], toe[1], 0.0]),
        toe_marker=smooth[recording.toe],
        shank_point=out + reach,
        contact=contact,
        off=off,
        still_s=recording.still[side],
        period_s=period,
    )


def stride_period(data: Path, name: str) -> float:
    """s, from one contact of a foot to its next, the mean over whichever feet have both on the plates."""
    recording = RECORDINGS[name]
    forces = read_columns(data / recording.forces)
    found = [crossings(forces.time, forces.column[column], THRESHOLD_N)[0] for column in recording.plate.values()]
    return float(np.mean(np.concatenate([np.diff(contact) for contact in found])))


def belt_velocity(markers: Markers, recording: Recording, rate_hz: float) -> FloatArray:
    """(3,) m/s, of the laboratory against the belt: the standing feet's markers are carried back the other way.

    The median over both feet's markers, 0.1 s to either side of their still instants: one belt carries both.
    """
    slopes = []
    for side, instant in recording.still.items():
        near = np.abs(markers.time - instant) < 0.1
        for marker in recording.foot:
            path = rigid.low_pass(markers.position[f"{side[0].upper()}.{marker}"], rate_hz, recording.cutoff_hz)
            slopes.append(np.polyfit(markers.time[near], path[near], 1)[0])
    return _drop_height(-np.median(slopes, axis=0))


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
    advance = _drop_height(first[1] - first[0])
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


def _segment(
    time: FloatArray,
    smooth: dict[str, FloatArray],
    names: tuple[str, ...],
    now: dict[str, FloatArray],
    origin: FloatArray,
    frame: FloatArray,
) -> tuple[rigid.SmoothPose, float]:
    shape = np.array([frame.T @ (now[name] - origin) for name in names])
    points = np.stack([smooth[name] for name in names], axis=1)
    place, rotation, left = rigid.fit_cluster(points, shape)
    return rigid.smooth_pose(time, place, rotation), float(np.sqrt(np.mean(left**2)))


def _frame(ahead: FloatArray, up: FloatArray) -> FloatArray:
    """(3, 3) with columns x, y, z: z along ``up``, x towards ``ahead``."""
    z = up / np.linalg.norm(up)
    y = np.cross(z, ahead)
    y /= np.linalg.norm(y)
    return np.column_stack([np.cross(y, z), y, z])


def _level(vector: FloatArray) -> FloatArray:
    flat = _drop_height(vector)
    return np.asarray(flat / np.linalg.norm(flat))


def _drop_height(vector: FloatArray) -> FloatArray:
    return np.asarray(vector * np.array([1.0, 1.0, 0.0]))


def _at(time: FloatArray, path: FloatArray, instant: float) -> FloatArray:
    return np.array([np.interp(instant, time, column) for column in path.T])


def _elevation(pose: rigid.Pose, time: FloatArray) -> FloatArray:
    return np.asarray(np.arcsin(np.clip(pose(time)[1][:, 2, 0], -1.0, 1.0)))


def _elevation_rate(pose: rigid.Pose, time: FloatArray) -> FloatArray:
    """By differences of the angle, so that it does not lean on the package's own formula."""
    change = _elevation(pose, time + rigid.STEP_S) - _elevation(pose, time - rigid.STEP_S)
    return np.asarray(change / (2.0 * rigid.STEP_S))
