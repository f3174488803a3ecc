"""One foot's sensor beside an optical point on the same shoe, 11 walks: as a study, and as a reference path.

Data: ``../shared/data/foot_mocap`` (one person, many turns; 200 Hz; m/s^2, rad/s), MIT by the copy's licence text, the
original's not seen. Read, never copied into the repository.

What the files mean, as found by measuring the development walks:

* ``gt`` is left-handed: with its y turned round it fits the sensor's acceleration, as it is it fits nothing. z is up.
* The optics lag the sensor by 5 to 8.5 ms in the common ``ts``; the fit finds this for each walk (:mod:`real.optics`).
* The optical point lies some 32 mm ahead of and 32 mm above the sensor (48 mm above in the later walks: it was moved),
  which is up to 40 mm of height while the foot is steep. So the optical path is carried to the sensor's centre, with an
  orientation of its own (vqf), before anything is compared. What that adds: 1 deg of tilt is 0.8 mm.
* A lost point is held (frames that repeat exactly) and then jumps; swapped markers give jumps of centimetres. Strides
  whose reference is not there, or whose stance heights stand out from the floor, are not judged.
* ``*_strideIndex_*.csv`` gives the sample of each mid-stance and ``gt`` there, turned in the plane.

Neither the side of the foot nor the sensor's ruler values are told: the session file says right and gives no values.

Use: ``PYTHONPATH=tests python -m real.foot_mocap DATA STUDY`` makes the study; :mod:`real.foot_paths` judges the
results.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import yaml
from numpy.typing import NDArray
from scipy.io import loadmat
from scipy.optimize import least_squares

from firstrocker.model import Side
from real import optics

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

RATE_HZ = 200.0
SUBJECT = "M1"
SIDE: Side = "right"
DEVELOPMENT_COUNT = 6
"""The first six walks, sorted by name, may be tuned on; the other five only judge."""
FLOOR_M = 0.015
"""A stance whose height stands out more from its walk's floor has a faulty reference."""

PROFILE: dict[str, Any] = {
    "columns": {"time": "time_s", "acceleration": ["ax", "ay", "az"], "angular_velocity": ["gx", "gy", "gz"]},
    "units": {"time": "s", "acceleration": "m/s^2", "angular_velocity": "rad/s"},
    "axes": "unknown",
}


@dataclass(frozen=True)
class Walk:
    """One walk as published, times from its first sample.

    time: (n,) s. acceleration: (n, 3) m/s^2. angular_velocity: (n, 3) rad/s. optical: (n, 3) m, made right-handed.
    mid_stance: (k,) s, the published stride instants.
    """

    label: str
    time: FloatArray
    acceleration: FloatArray
    angular_velocity: FloatArray
    optical: FloatArray
    mid_stance: FloatArray


@dataclass(frozen=True)
class Reference:
    """The sensor's centre as the optics saw it, at ``RATE_HZ``.

    time: (n,) s. position: (n, 3) m, z up. heading: (n,) rad, unwrapped. valid: (n,). floor: (3,) plane of the
    published mid-stances, m per m along x and y, and m.
    """

    time: FloatArray
    position: FloatArray
    heading: FloatArray
    valid: BoolArray
    alignment: optics.Alignment
    floor: FloatArray

    def known(self, instants: FloatArray) -> BoolArray:
        """(k,) whether the optics saw the foot then."""
        return np.asarray(np.interp(instants, self.time, self.valid.astype(float)) > 0.99)

    def at(self, instants: FloatArray) -> FloatArray:
        """(k, 3) m, straight between samples."""
        return np.column_stack([np.interp(instants, self.time, column) for column in self.position.T])


def labels(data: Path) -> list[str]:
    """Every walk's label, sorted; letters and digits only (its hour, minute and second)."""
    return [path.stem[-8:].replace("-", "") for path in sorted(data.glob("*.mat"))]


def development(data: Path) -> list[str]:
    """The walks that may be tuned on."""
    return labels(data)[:DEVELOPMENT_COUNT]


def held_back(data: Path) -> list[str]:
    """The walks that only judge."""
    return labels(data)[DEVELOPMENT_COUNT:]


def read_walk(data: Path, label: str) -> Walk:
    """Read one published walk."""
    path = sorted(data.glob("*.mat"))[labels(data).index(label)]
    raw = loadmat(path)
    time = raw["ts"].ravel()
    places = np.loadtxt(path.with_name(f"{path.stem}_strideIndex_timestamp_gcpX_gcpY.csv"), delimiter=",", skiprows=1)
    return Walk(
        label=label,
        time=time - time[0],
        acceleration=raw["imu"][:, :3],
        angular_velocity=raw["imu"][:, 3:],
        optical=raw["gt"] * np.array([1.0, -1.0, 1.0]),
        mid_stance=time[places[:, 0].astype(int)] - time[0],
    )


def make_study(data: Path, study: Path, *, walks: list[str] | None = None) -> list[Path]:
    """Write a study folder: a session ``development`` and a session ``heldback``, one foot log per walk.

    Returns:
        The session folders.
    """
    chosen = labels(data) if walks is None else walks
    sessions = []
    for session, members in (("development", development(data)), ("heldback", held_back(data))):
        mine = [label for label in members if label in chosen]
        if not mine:
            continue
        folder = study / f"sub-{SUBJECT}" / f"ses-{session}"
        folder.mkdir(parents=True)
        entries = []
        for label in mine:
            walk = read_walk(data, label)
            table = pd.DataFrame(walk.acceleration, columns=PROFILE["columns"]["acceleration"])
            table[PROFILE["columns"]["angular_velocity"]] = walk.angular_velocity
            table.insert(0, "time_s", walk.time)
            table.to_parquet(folder / f"{label}_foot.parquet", index=False)
            log = {"segment": "foot", "side": SIDE, "file": f"{label}_foot.parquet", "logger": "published"}
            entries.append({"walk": label, "condition": "unbraced", "logs": [log]})
        told = {
            "subject": SUBJECT,
            "session": session,
            "affected_side": SIDE,
            "loggers": {"published": PROFILE},
            "walks": entries,
        }
        (folder / "session.yaml").write_text(yaml.safe_dump(told, sort_keys=False))
        sessions.append(folder)
    return sessions


@cache
def reference(data: Path, label: str) -> Reference:
    """Carry a walk's optical path to its sensor's centre."""
    walk = read_walk(data, label)
    time = np.arange(0.0, walk.time[-1], 1.0 / RATE_HZ)

    def uniform(values: FloatArray) -> FloatArray:
        return np.column_stack([np.interp(time, walk.time, column) for column in values.T])

    path, valid = optics.clean(walk.optical, RATE_HZ)
    path = uniform(path)
    valid = np.interp(time, walk.time, valid.astype(float)) > 0.99
    acceleration = uniform(walk.acceleration)
    rotation, bias = optics.orientation(acceleration, uniform(walk.angular_velocity), 1.0 / RATE_HZ)
    turning = uniform(walk.angular_velocity) - bias
    alignment = optics.align(rotation, acceleration, turning, path, valid, RATE_HZ)
    valid &= alignment.explained
    seen = np.column_stack([np.interp(time + alignment.lag_s, time, column) for column in path.T])
    valid &= np.interp(time + alignment.lag_s, time, valid.astype(float)) > 0.99
    in_optics = optics.turned(alignment.yaw) @ rotation
    forward = in_optics[:, :, 0]  # the sensor's x points forward and a little down
    position = seen - in_optics @ alignment.lever
    stance = walk.mid_stance[np.interp(walk.mid_stance, time, valid.astype(float)) > 0.99]
    return Reference(
        time=time,
        position=position,
        heading=np.unwrap(np.arctan2(forward[:, 1], forward[:, 0])),
        valid=valid,
        alignment=alignment,
        floor=floor_plane(np.column_stack([np.interp(stance, time, column) for column in position.T])),
    )


def floor_plane(place: FloatArray) -> FloatArray:
    """(3,) m per m along x and y, and m: the plane through most of (k, 3) stance places.

    A plane, because the optical frame leans by some 5 mm in a metre.
    """
    design = np.column_stack([place[:, :2], np.ones(len(place))])

    def residual(plane: FloatArray) -> FloatArray:
        return np.asarray(design @ plane - place[:, 2])

    start = np.array([0.0, 0.0, np.median(place[:, 2])])
    return np.asarray(least_squares(residual, start, loss="soft_l1", f_scale=0.005).x)


def believable(ref: Reference, instants: FloatArray) -> BoolArray:
    """(k,) True for stances that the optics saw, at the floor's height within ``FLOOR_M``."""
    place = ref.at(instants)
    height = place[:, 2] - np.column_stack([place[:, :2], np.ones(len(place))]) @ ref.floor
    return np.asarray(ref.known(instants) & (np.abs(height) < FLOOR_M))


if __name__ == "__main__":
    make_study(Path(sys.argv[1]), Path(sys.argv[2]))
