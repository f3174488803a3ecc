"""Simulated walks carried through motion and gait, past the readers: for tests of those two legs."""

from dataclasses import dataclass
from typing import Any

import numpy as np

from firstrocker.gait.bouts import Strides, find_strides
from firstrocker.gait.events import find_swings
from firstrocker.gait.measures import Curves, curves
from firstrocker.gait.table import Keys, strides_table
from firstrocker.model import FilterName, FloatArray, Log, Segment, Side, Signal
from firstrocker.motion.foot import FootMotion, track_foot
from firstrocker.motion.shank import ShankMotion, track_shank
from firstrocker.synth.gaits import GAITS
from firstrocker.synth.sensors import FOOT_SEAT, PERFECT, SHANK_SEAT, Mounting, Quality, record
from firstrocker.synth.trial import ruler
from firstrocker.synth.walker import Walker, walk

NOBODY: Keys = dict.fromkeys(("subject", "session", "walk", "condition", "setting", "resistance", "side"))
"""Keys of rows that are of no walk of a study."""
SEATED: tuple[tuple[Segment, FloatArray], ...] = (("foot", FOOT_SEAT), ("shank", SHANK_SEAT))


@dataclass(frozen=True)
class Walked:
    """A walk and what was made of it."""

    walker: Walker
    foot: FootMotion
    shank: ShankMotion
    strides: Strides
    data: Curves
    rows: list[dict[str, Any]]


def signal_of(log: Log) -> Signal:
    n = len(log.time)
    return Signal(
        log.segment,
        log.side,
        log.acceleration,
        log.angular_velocity,
        np.ones(n, dtype=np.bool_),
        np.zeros(n, dtype=np.bool_),
        log.mounting,
        log.source,
    )


def analysed(
    kind: str = "normal",
    *,
    seed: int = 1,
    side: Side = "left",
    quality: Quality = PERFECT,
    seats: dict[Segment, FloatArray] | None = None,
    filter_name: FilterName = "vqf",
    strides: int = 6,
    bouts: int = 1,
) -> Walked:
    """Simulate, record and analyse a walk."""
    walker = walk(GAITS[kind], seed=seed, side=side, strides=strides, bouts=bouts, kind=kind)
    seats = seats or {"foot": np.eye(3), "shank": np.eye(3)}
    logs = [
        record(walker, segment, side, Mounting(offset, seats[segment]), quality, seed=seed + number)
        for number, (segment, offset) in enumerate(SEATED)
    ]
    return follow(walker, signal_of(logs[0]), signal_of(logs[1]), quality.rate_hz, filter_name=filter_name)


def follow(
    walker: Walker,
    foot_signal: Signal,
    shank_signal: Signal,
    rate_hz: float,
    *,
    filter_name: FilterName = "vqf",
    standing_angle: float | None = None,
) -> Walked:
    """Analyse two signals of a walker."""
    rest_gyro = float(np.radians(3.0))
    foot = track_foot(
        foot_signal,
        rate_hz,
        ruler(walker.leg().shape),
        filter_name=filter_name,
        standing_tolerance=float(np.radians(5.0)),
        rest_min_s=0.5,
        rest_gyro=rest_gyro,
    )
    shank = track_shank(
        shank_signal,
        rate_hz,
        foot,
        filter_name=filter_name,
        standing_angle=standing_angle,
        rest_min_s=0.5,
        rest_gyro=rest_gyro,
    )
    strides = find_strides(
        foot, find_swings(foot), pause_s=2.5, turn=float(np.radians(20.0)), stairs_m=0.1, min_bout_strides=4
    )
    data = curves(foot, shank, smooth_s=0.03)
    return Walked(walker, foot, shank, strides, data, strides_table(NOBODY, strides, data).to_pylist())
