"""A simulated walk ready to be analysed, with its truth beside it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from firstrocker.model import SIDES, FootGeometry, Log, Person, Segment, Side, WalkInfo, WalkLogs
from firstrocker.synth.chair import Sit, Table
from firstrocker.synth.foot import FootShape
from firstrocker.synth.gaits import GAITS, slowed
from firstrocker.synth.plan import Turn
from firstrocker.synth.sensors import FOOT_SEAT, ORDINARY, SHANK_SEAT, Mounting, Quality, random_seat, record
from firstrocker.synth.terrain import Section
from firstrocker.synth.truth import WalkerTruth, truth_of
from firstrocker.synth.walker import U_TURN, Walker, walk


@dataclass(frozen=True)
class Trial:
    """One walk: what the sensors logged, who it was, and what really happened (of the affected leg)."""

    kind: str
    logs: WalkLogs
    person: Person
    truth: WalkerTruth
    walker: Walker


def ruler(shape: FootShape) -> FootGeometry:
    """What a ruler finds on the simulated shoe, read to the millimetre."""
    return FootGeometry(
        to_toe=shape.length - FOOT_SEAT[0],
        to_heel=FOOT_SEAT[0],
        above_ground=FOOT_SEAT[2],
        to_toe_se=0.001,
        to_heel_se=0.001,
        above_ground_se=0.001,
    )


def log_pair(
    walker: Walker,
    side: Side,
    quality: Quality,
    seed: int,
    *,
    shank_quality: Quality | None = None,
    rock_deg: float = 0.0,
    ring_hz: float = 0.0,
    table: Table | None = None,
) -> tuple[Log, Log]:
    """Foot and shank logs of one side, the sensors put on at any angle, firmly or loosely (see :class:`Mounting`)."""
    rng = np.random.default_rng([seed, SIDES.index(side)])
    seats: dict[Segment, Mounting] = {
        "foot": Mounting(FOOT_SEAT, random_seat(rng), rock_deg=rock_deg, ring_hz=ring_hz),
        "shank": Mounting(SHANK_SEAT, random_seat(rng), rock_deg=rock_deg, ring_hz=ring_hz),
    }
    faults = [int(s) for s in rng.integers(2**31, size=2)]
    foot = record(walker, "foot", side, seats["foot"], quality, seed=faults[0], table=table)
    shank = record(walker, "shank", side, seats["shank"], shank_quality or quality, seed=faults[1], table=table)
    return foot, shank


def trial(
    kind: str,
    *,
    seed: int,
    quality: Quality = ORDINARY,
    side: Side = "left",
    strides: int = 12,
    bouts: int = 2,
    standing_s: float = 3.0,
    shank_offset_s: float = 0.0,
    shank_drift_ppm: float = 0.0,
    rock_deg: float = 0.0,
    ring_hz: float = 0.0,
    terrain: Sequence[Section] = (),
    turns: Sequence[Turn] = (U_TURN,),
    standing_shank_deg: float = 0.0,
    sits: Sequence[Sit] = (),
    table: Table | None = None,
    times_slower: float = 1.0,
) -> Trial:
    """One walk of a kind of gait.

    Args:
        kind: a key of :data:`firstrocker.synth.gaits.GAITS`.
        seed: of the person, the strides, the mounting and the sensors' faults.
        quality: of both sensors.
        side: the affected side, which carries the sensors.
        strides: in each bout.
        bouts: with a U-turn in each.
        standing_s: least standing before, between and after the bouts, s.
        shank_offset_s: by which the shank's clock is ahead of the foot's.
        shank_drift_ppm: by which it runs fast.
        rock_deg: by which the sensors rock on the segments in walking (standard deviation per axis).
        ring_hz: at which their straps ring after a shock; 0: they do not.
        terrain: ramps and stairs of every bout, in place of ``strides``.
        turns: made within every bout.
        standing_shank_deg: shank-to-vertical angle in quiet standing.
        sits: in which pauses the person sits.
        table: where both sensors lie before they are strapped on, of the first seconds of the walk.
        times_slower: how many times longer strides last, and are shorter (:func:`firstrocker.synth.gaits.slowed`).
    """
    walker = walk(
        slowed(GAITS[kind], times_slower) if times_slower != 1.0 else GAITS[kind],
        seed=seed,
        side=side,
        strides=strides,
        bouts=bouts,
        turns=turns,
        standing_s=standing_s,
        kind=kind,
        terrain=terrain,
        standing_shank_deg=standing_shank_deg,
        sits=sits,
    )
    late = replace(quality, clock_offset_s=shank_offset_s, clock_drift_ppm=shank_drift_ppm)
    logs = log_pair(walker, side, quality, seed, shank_quality=late, rock_deg=rock_deg, ring_hz=ring_hz, table=table)
    person = Person(subject="S1", session="1", affected_side=side, foot=ruler(walker.leg().shape))
    return Trial(kind, WalkLogs(WalkInfo(kind.replace("_", ""), "unbraced"), logs), person, truth_of(walker), walker)
