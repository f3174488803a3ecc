"""One foot's sensor beside an optical point on the same shoe, 11 walks: as a study, and as a judge of foot paths.

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

Use: ``python tests/real/foot_mocap.py make DATA STUDY`` and, after the workflow ran on STUDY,
``python tests/real/foot_mocap.py judge DATA RESULTS``.
"""

from __future__ import annotations

import argparse
from collections.abc import Hashable
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import yaml
from numpy.typing import NDArray
from scipy.io import loadmat
from scipy.optimize import least_squares

from real import optics

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

RATE_HZ = 200.0
SUBJECT = "M1"
SIDE = "right"
DEVELOPMENT_COUNT = 6
"""The first six walks, sorted by name, may be tuned on; the other five only judge."""
TURN_DEG = 20.0
"""A stride that turns more is a turn (MEASURES: which strides count)."""
LONGEST_S = 2.0
"""Mid-stances in a row that lie further apart have something other than a stride between them."""
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


def judge_course(ref: Reference, mid_stance: FloatArray, time: FloatArray, position: FloatArray) -> pd.DataFrame:
    """Compare a sensor's path with the optical one, stride by stride from mid-stance to mid-stance.

    Heights are taken over the straight line between a stride's two stances, in both paths; the least height is that of
    the reference's dip between its first and last rise, and the compared path's at that same instant, or where there
    is no dip at the instant of greatest forward speed.

    Args:
        ref: :func:`reference` of the walk.
        mid_stance: (k,) s. time: (n,) s. position: (n, 3) m, z up, any heading and place; NaN where unknown.

    Returns:
        One row per pair of instants in a row that can be judged: start_s, end_s, turn_deg, straight,
        length_m, length_reference_m, length_error_mm, peak_mm, peak_error_mm, least_mm, least_error_mm (reference,
        then compared minus reference), dip, course_rms_mm.
    """
    rows = []
    sound = believable(ref, mid_stance)
    for k, (start, end) in enumerate(pairwise(mid_stance)):
        inside = (ref.time >= start) & (ref.time <= end)
        if not (sound[k] and sound[k + 1] and ref.valid[inside].all() and 0.3 < end - start < LONGEST_S):
            continue
        clock = ref.time[inside]
        own = np.column_stack([np.interp(clock, time, column) for column in position.T])
        if not np.isfinite(own).all():
            continue
        seen = ref.position[inside]
        height, height_seen = over_line(own[:, 2]), over_line(seen[:, 2])
        least, dip = least_place(seen, height_seen)
        length, length_seen = (float(np.hypot(*(p[-1, :2] - p[0, :2]))) for p in (own, seen))
        turn = float(np.degrees(np.diff(np.interp([start, end], ref.time, ref.heading))[0]))
        rows.append(
            {
                "start_s": start,
                "end_s": end,
                "turn_deg": turn,
                "straight": abs(turn) <= TURN_DEG,
                "length_m": length,
                "length_reference_m": length_seen,
                "length_error_mm": 1e3 * (length - length_seen),
                "peak_mm": 1e3 * height_seen.max(),
                "peak_error_mm": 1e3 * (height.max() - height_seen.max()),
                "least_mm": 1e3 * height_seen[least],
                "least_error_mm": 1e3 * (height[least] - height_seen[least]),
                "dip": dip,
                "course_rms_mm": 1e3 * float(np.sqrt(np.mean((height - height_seen) ** 2))),
            }
        )
    return pd.DataFrame(rows)


def over_line(height: FloatArray) -> FloatArray:
    """(n,) height over the straight line between its ends.

    >>> over_line(np.array([1.0, 5.0, 3.0])).tolist()
    [0.0, 3.0, 0.0]
    """
    return np.asarray(height - np.linspace(height[0], height[-1], len(height)))


def least_place(path: FloatArray, height: FloatArray) -> tuple[int, bool]:
    """Index of the mid-swing least height, and whether it is a dip between two rises of at least 2 mm."""
    speed = np.hypot(*np.gradient(path[:, :2], 1.0 / RATE_HZ, axis=0).T)
    fastest = int(np.argmax(speed))
    peak = int(np.argmax(height))
    if peak < len(height) - 3:
        after = height[peak:]
        drop = int(np.argmax(np.maximum.accumulate(after[::-1])[::-1] - after)) + peak
        if np.max(height[drop:]) - height[drop] > 0.002:
            return drop, True
    return fastest, False


def stance_instant(stride: dict[Hashable, Any]) -> float:
    """s, half-way from foot flat to heel off, but no later than 0.2 s after foot flat: a person may stand there."""
    flat, off = float(stride["foot_flat_s"]), float(stride["heel_off_s"])
    return min((flat + off) / 2, flat + 0.2)


def judge(results: Path, data: Path) -> pd.DataFrame:
    """Stride length of results against the optical path between the same two mid-stances.

    A stride is judged where the next one follows it directly, so that both its stances are told
    (:func:`stance_instant`); the place is the mean over 0.1 s around the instant.

    Returns:
        One row per stride: walk, set (development, held back), start_s, end_s, steady, turn_deg, straight,
        length_m, length_reference_m, length_error_mm.
    """
    rows = []
    for session, set_name in (("development", "development"), ("heldback", "held back")):
        path = results / f"sub-{SUBJECT}" / f"ses-{session}" / "strides.parquet"
        if not path.is_file():
            continue
        for label, strides in pd.read_parquet(path).groupby("walk"):
            ref = reference(data, str(label))
            ordered = strides.sort_values(["bout", "stride"]).to_dict("records")
            for this, following in pairwise(ordered):
                if not abs(this["next_heel_strike_s"] - following["heel_strike_s"]) <= 1e-3:  # NaN fails too
                    continue
                ends = np.array([stance_instant(stride) for stride in (this, following)])
                if not (np.isfinite(ends).all() and np.isfinite(this["stride_length_m"])):
                    continue
                if not believable(ref, ends).all():
                    continue
                around = np.linspace(-0.05, 0.05, 11)
                place = [ref.at(instant + around).mean(axis=0) for instant in ends]
                length = float(np.hypot(*(place[1] - place[0])[:2]))
                turn = float(np.degrees(np.diff(np.interp(ends, ref.time, ref.heading))[0]))
                rows.append(
                    {
                        "walk": str(label),
                        "set": set_name,
                        "start_s": ends[0],
                        "end_s": ends[1],
                        "steady": bool(this["steady"]),
                        "turn_deg": turn,
                        "straight": abs(turn) <= TURN_DEG,
                        "length_m": this["stride_length_m"],
                        "length_reference_m": length,
                        "length_error_mm": 1e3 * (this["stride_length_m"] - length),
                    }
                )
    return pd.DataFrame(rows)


def summary(table: pd.DataFrame, *, by: str, columns: tuple[str, ...]) -> pd.DataFrame:
    """Bias, SD and count of error columns for each value of ``by``."""
    rows = []
    for value, part in table.groupby(by):
        row: dict[str, Any] = {by: value, "strides": len(part)}
        for column in columns:
            error = part[column].dropna()
            row |= {f"{column}_bias": error.mean(), f"{column}_sd": error.std(), f"{column}_worst": error.abs().max()}
        rows.append(row)
    return pd.DataFrame(rows)


def main() -> None:
    """Make the study or judge results."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("task", choices=("make", "judge"))
    parser.add_argument("data", type=Path)
    parser.add_argument("folder", type=Path, help="the study to make, or the results to judge")
    given = parser.parse_args()
    if given.task == "make":
        make_study(given.data, given.folder)
        return
    table = judge(given.folder, given.data)
    for name, part in (("all", table), ("steady", table[table["steady"]]), ("straight", table[table["straight"]])):
        print(f"\n{name} strides")
        print(
            summary(part, by="set", columns=("length_error_mm",)).to_string(index=False, float_format="{:.1f}".format)
        )


if __name__ == "__main__":
    main()
