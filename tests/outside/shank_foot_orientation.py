"""Both shanks and feet of one walk as logs, and the ankle angle of the maker's orientation as a loose reference.

Data: ``../shared/data/shank_foot_orientation``, Apache-2.0, NOTICE kept beside them (it asks to name Delp et al. 2007
and Seth et al. 2011). Read, never copied into the repository. 100 Hz; some 5 s of standing, then 20 s of walking.

The files hold specific force (m/s^2) and a rotation matrix from sensor to world (z up), but no gyroscope, and the
maker's low-pass stands before both. The rate is that of a smooth curve through the rotations, so it has the errors of
the maker's filter and none of a gyroscope's: what is judged with it is plausibility, never accuracy. All sensors share
a packet counter that loses nothing.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
from scipy.spatial.transform import Rotation

from firstrocker.model import SIDES, Log, Segment, Side
from outside import rigid
from outside.marker_files import FloatArray

RATE_HZ = 100.0
STANDING_S = 4.0
NAMES: dict[tuple[Segment, Side], str] = {
    ("foot", "left"): "calcn_l_imu",
    ("foot", "right"): "calcn_r_imu",
    ("shank", "left"): "tibia_l_imu",
    ("shank", "right"): "tibia_r_imu",
}


@dataclass(frozen=True)
class Sensor:
    """One sensor as published. time: (n,) s. acceleration: (n, 3) m/s^2. rotation: (n, 3, 3) sensor to world."""

    time: FloatArray
    acceleration: FloatArray
    rotation: FloatArray


def files(data: Path) -> dict[str, Path]:
    """Each sensor's file by the segment's name in the mapping."""
    root = ET.parse(data / "sensor_mapping.xml").getroot()  # noqa: S314
    prefix = root.findtext(".//trial_prefix", default="").strip()
    return {
        sensor.findtext("name_in_model", default="").strip(): data / f"{prefix}{sensor.get('name', '')}.txt"
        for sensor in root.iter("ExperimentalSensor")
    }


@cache
def read_sensor(data: Path, segment: Segment, side: Side) -> Sensor:
    """Read one sensor's file."""
    lines = [line for line in files(data)[NAMES[segment, side]].read_text().splitlines() if not line.startswith("//")]
    names = lines[0].split("\t")
    wanted = ["PacketCounter", "Acc_X", "Acc_Y", "Acc_Z"]
    wanted += [f"Mat[{row}][{column}]" for row in (1, 2, 3) for column in (1, 2, 3)]
    place = [names.index(name) for name in wanted]
    rows = [line.split("\t") for line in lines[1:]]
    table = np.array([[float(row[k]) for k in place] for row in rows])
    return Sensor(
        time=(table[:, 0] - table[0, 0]) / RATE_HZ,
        acceleration=table[:, 1:4],
        rotation=table[:, 4:].reshape(-1, 3, 3),
    )


def log(data: Path, segment: Segment, side: Side) -> Log:
    """One sensor as a log, the rate from its rotations."""
    sensor = read_sensor(data, segment, side)
    pose = rigid.smooth_pose(sensor.time, np.zeros((len(sensor.time), 3)), sensor.rotation)
    return Log(
        segment=segment,
        side=side,
        time=sensor.time,
        acceleration=sensor.acceleration,
        angular_velocity=rigid.angular_rate(pose, sensor.time),
        declared_rate_hz=RATE_HZ,
        source=NAMES[segment, side],
    )


def logs(data: Path) -> tuple[Log, ...]:
    """Feet and shanks of both sides."""
    return tuple(log(data, segment, side) for side in SIDES for segment in ("foot", "shank"))


def maker_ankle(data: Path, side: Side) -> tuple[FloatArray, FloatArray]:
    """The ankle's angle by the maker's orientations: (n,) s and (n,) rad, dorsiflexion positive, 0 in standing.

    The turning of the shank seen from the foot, along the axis it mostly turns about; plantarflexed is the side on
    which the ankle is when the foot turns toes-down fastest.
    """
    foot, shank = read_sensor(data, "foot", side), read_sensor(data, "shank", side)
    count = min(len(foot.time), len(shank.time))
    standing = slice(0, round(STANDING_S * RATE_HZ))
    relative = Rotation.from_matrix(np.swapaxes(foot.rotation[:count], 1, 2) @ shank.rotation[:count])
    turn = (relative * relative[standing].mean().inv()).as_rotvec()
    axis = np.linalg.svd(turn - turn.mean(axis=0), full_matrices=False)[2][0]
    angle = turn @ axis
    rate = np.linalg.norm(log(data, "foot", side).angular_velocity[:count], axis=1)
    fast = rate > np.percentile(rate, 97)
    pushing = np.median(np.gradient(angle)[np.roll(fast, -10)])
    return foot.time[:count], np.asarray(angle if pushing < 0 else -angle)
