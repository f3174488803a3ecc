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

from firstrocker.model import Side
from outside import rigid
from outside.marker_files import FloatArray, Markers, crossings, read_columns, read_trc

THRESHOLD_N = 20.0
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
    foot_origin = drop_height(now["Heel"])
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
    return drop_height(-np.median(slopes, axis=0))


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
    flat = drop_height(vector)
    return np.asarray(flat / np.linalg.norm(flat))


def drop_height(vector: FloatArray) -> FloatArray:
    return np.asarray(vector * np.array([1.0, 1.0, 0.0]))


def _at(time: FloatArray, path: FloatArray, instant: float) -> FloatArray:
    return np.array([np.interp(instant, time, column) for column in path.T])
