"""Strides from a foot's and a shank's log as a textbook has it: pandas, a filter of ``ahrs`` and a loop over samples.

    python tests/bench/plain_strides.py foot.csv shank.csv

What somebody would write first, who wants to see the job done and cares neither for speed nor for accuracy: the
yardstick of ``hour.py``, made neither slow nor fast. Columns t, ax to az, gx to gz in s, m/s^2 and rad/s on one clock;
the filter (Madgwick 2010) as it comes. In the loop the force is turned to the world and gravity taken off, the velocity
summed up and set to zero while the foot stands (zero-velocity updates; Foxlin 2005), and at each stand the stride
before it is measured: the velocity's drift taken off in a straight line, its length, heel strike and toe off by how the
foot turns, how low the toe passed, how fast the foot slapped down against the shank.

It lacks what the analysis has besides: clocks laid together, faults looked for, seats found, curves, standard errors,
ground that is not level.
"""

from __future__ import annotations

import sys
import time
from dataclasses import dataclass

import numpy as np
import pandas as pd
from ahrs.filters import Madgwick
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

GRAVITY = np.array([0.0, 0.0, 9.81])
TO_TOE, ABOVE_GROUND = 0.145, 0.075
"""m, where the sensor sits, as the session of ``hour.py`` has it."""
STILL_RATE, STILL_FORCE, STILL_SAMPLES = 0.8, 1.0, 5
"""rad/s, m/s^2 off gravity, and samples in a row: then the foot stands. From memory, no source."""
SLAP_S = 0.2
LEAST_LENGTH = 0.3


@dataclass(frozen=True)
class Stride:
    """s and m, slap in rad/s."""

    toe_off: float
    heel_strike: float
    length: float
    toe_height: float
    slap: float


def matrix(quaternion: FloatArray) -> FloatArray:
    """(3, 3) the rotation of (w, x, y, z)."""
    w, x, y, z = quaternion
    return np.array(
        [
            [1 - 2 * (y * y + z * z), 2 * (x * y - w * z), 2 * (x * z + w * y)],
            [2 * (x * y + w * z), 1 - 2 * (x * x + z * z), 2 * (y * z - w * x)],
            [2 * (x * z - w * y), 2 * (y * z + w * x), 1 - 2 * (x * x + y * y)],
        ]
    )


def columns(log: pd.DataFrame) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Force and turn (n, 3), and the orientation (n, 4) that the filter makes of them."""
    force, turn = log[["ax", "ay", "az"]].to_numpy(), log[["gx", "gy", "gz"]].to_numpy()
    rate = 1.0 / log["t"].diff().median()
    return force, turn, Madgwick(gyr=turn, acc=force, frequency=rate).Q


def strides_of(foot: pd.DataFrame, shank: pd.DataFrame) -> list[Stride]:
    """Every stride."""
    seconds = foot["t"].to_numpy()
    step = float(np.median(np.diff(seconds)))
    shank = pd.DataFrame({name: np.interp(seconds, shank["t"], shank[name]) for name in shank.columns})
    force, turn, lies = columns(foot)
    _, shank_turn, shank_lies = columns(shank)
    rotation, velocity, turning, shank_turning = (np.zeros((len(foot), *of)) for of in ((3, 3), (3,), (3,), (3,)))
    speed = np.zeros(3)
    still = begin = 0
    strides = []
    for k in range(len(foot)):
        rotation[k] = matrix(lies[k])
        turning[k] = rotation[k] @ turn[k]
        shank_turning[k] = matrix(shank_lies[k]) @ shank_turn[k]
        speed = speed + (rotation[k] @ force[k] - GRAVITY) * step
        velocity[k] = speed
        quiet = np.linalg.norm(turn[k]) < STILL_RATE and abs(np.linalg.norm(force[k]) - 9.81) < STILL_FORCE
        still = still + 1 if quiet else 0
        if still >= STILL_SAMPLES:
            part = slice(begin, k + 1)
            stride = measured(seconds[part], rotation[part], velocity[part], turning[part], shank_turning[part])
            if stride is not None:
                strides.append(stride)
            speed = np.zeros(3)
            begin = k
    return strides


def measured(
    seconds: FloatArray, rotation: FloatArray, velocity: FloatArray, turning: FloatArray, shank_turning: FloatArray
) -> Stride | None:
    """From one stand to the next; None where the foot did not go on."""
    step = seconds[1] - seconds[0]
    velocity = velocity - velocity[0] - np.linspace(0.0, 1.0, len(velocity))[:, None] * (velocity[-1] - velocity[0])
    path = np.cumsum(velocity, axis=0) * step
    length = float(np.hypot(path[-1, 0], path[-1, 1]))
    if length < LEAST_LENGTH:
        return None
    forward = np.array([path[-1, 0], path[-1, 1], 0.0]) / length
    left = np.cross([0.0, 0.0, 1.0], forward)
    toes_down = turning @ left
    # The foot turns toes up through swing: before that it left the floor, after it it comes down.
    swing = int(np.argmin(toes_down))
    if swing == 0:
        return None
    toe_off = int(np.argmax(toes_down[:swing]))
    after = np.flatnonzero(toes_down[swing:] > 0.0)
    if not len(after):
        return None
    heel_strike = swing + int(after[0])
    toe = rotation[0].T @ (TO_TOE * forward - ABOVE_GROUND * np.array([0.0, 0.0, 1.0]))
    height = path[:, 2] + (rotation @ toe)[:, 2] + ABOVE_GROUND
    quarter = (heel_strike - toe_off) // 4
    middle = height[toe_off + quarter : heel_strike - quarter + 1]
    # The shank's filter knows another north than the foot's: its own axis is the one it turns about most.
    axis = np.linalg.eigh(shank_turning[:, :2].T @ shank_turning[:, :2])[1][:, -1]
    shank_down = shank_turning[:, :2] @ axis
    if shank_down[np.argmax(np.abs(shank_down))] > 0.0:
        shank_down = -shank_down
    slap = slice(heel_strike, heel_strike + round(SLAP_S / step))
    return Stride(
        float(seconds[toe_off]),
        float(seconds[heel_strike]),
        length,
        float(middle.min()),
        float((toes_down - shank_down)[slap].max()),
    )


def main() -> None:
    """Print the processor's seconds, the number of strides, and the means of their length, toe height and slap."""
    before = time.process_time()
    found = strides_of(*(pd.read_csv(path) for path in sys.argv[1:]))
    used = time.process_time() - before
    means = [float(np.mean([getattr(one, name) for one in found])) for name in ("length", "toe_height", "slap")]
    print(used, len(found), *means)


if __name__ == "__main__":
    main()
