"""Short sessions of simulated walks, small enough to run the whole workflow on in seconds."""

from __future__ import annotations

import csv
from functools import cache
from pathlib import Path

import numpy as np

from firstrocker.model import FloatArray
from firstrocker.synth.gaits import GAITS
from firstrocker.synth.sensors import ORDINARY
from firstrocker.synth.trial import log_pair
from firstrocker.synth.walker import walk

WALKS = {"a": ("slap", "condition: unbraced"), "b": ("balanced", "condition: braced")}
HEADER = ["t", "ax", "ay", "az", "gx", "gy", "gz"]
STANDING_S = 2.0

SESSION = """\
subject: {subject}
session: "1"
affected_side: left
foot_sensor: {{to_toe_mm: 145, above_ground_mm: 75}}
loggers:
  simulated:
    columns: {{time: t, acceleration: [ax, ay, az], angular_velocity: [gx, gy, gz]}}
    units: {{time: s, acceleration: m/s^2, angular_velocity: rad/s}}
    axes: unknown
walks:
"""
WALK = """\
  - walk: {walk}
    {condition}
    logs:
      - {{segment: foot, side: left, file: {walk}_foot.csv, logger: simulated}}
      - {{segment: shank, side: left, file: {walk}_shank.csv, logger: simulated}}
"""


def write_session(study: Path, subject: str, *, seed: int, walks: str = "ab") -> Path:
    """Write ``sub-<subject>/ses-1`` with the walks named by their letters; returns its folder."""
    folder = study / f"sub-{subject}" / "ses-1"
    folder.mkdir(parents=True)
    text = SESSION.format(subject=subject)
    for letter in walks:
        gait, condition = WALKS[letter]
        text += WALK.format(walk=letter, condition=condition)
        for segment, rows in sensors(gait, seed).items():
            write_log(folder / f"{letter}_{segment}.csv", rows)
    (folder / "session.yaml").write_text(text, encoding="utf-8")
    return folder


def write_log(path: Path, rows: FloatArray) -> None:
    """Write rows of time, specific force and angular velocity as a delimited text log."""
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        writer.writerow(HEADER)
        writer.writerows([[f"{value:.5f}" for value in row] for row in rows])


def stand_less(folder: Path) -> None:
    """Cut every log of a session down to the inside of its first bout, so that no standing is left in it."""
    for path in folder.glob("*.csv"):
        rows = np.loadtxt(path, delimiter=",", skiprows=1)
        write_log(path, rows[(rows[:, 0] > STANDING_S + 1.0) & (rows[:, 0] < STANDING_S + 6.0)])


@cache
def sensors(gait: str, seed: int) -> dict[str, FloatArray]:
    """Segment -> (n, 7) time, specific force and angular velocity of a short walk, the sensors at any angle."""
    walker = walk(GAITS[gait], seed=seed, strides=5, bouts=2, turns=(), standing_s=STANDING_S)
    return {
        log.segment: np.column_stack([log.time, log.acceleration, log.angular_velocity])
        for log in log_pair(walker, "left", ORDINARY, seed)
    }
