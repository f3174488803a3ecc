"""Ground that is not level: ramps and stairs under a walker, as sections of every bout.

A walk is planned on the level, as if the ground had been unrolled, and then carried to where the ground really lies:
every place by a turn and a shift of its own, every swing from the one of the place it leaves to that of the place it
goes to. On a ramp of one slope that is a rigid turn of the whole walk, so what the sole does to the ground is exact.
Between two treads the foot is lifted early and lowered late; the edges of the treads are not modelled, so nothing is
said of the clearance over them.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

import numpy as np
from scipy.spatial.transform import Rotation

from firstrocker.model import FloatArray
from firstrocker.synth.pattern import Gait
from firstrocker.synth.rigid import Angles, euler_rotation
from firstrocker.synth.smooth import smooth_step

if TYPE_CHECKING:
    from firstrocker.synth.plan import Swing

Kind = Literal["level", "ramp", "stairs"]
EDGE_M = 0.05
"""m by which a foot must have been put up or down from one tread to another."""


@dataclass(frozen=True)
class Section:
    """So many strides of every bout on one kind of ground.

    slope_deg: of a ramp, uphill positive, in the direction walked at its beginning. riser_m: height of a step, negative
    where they lead down, tread_m its depth. together: both feet are put on every tread, the one that comes first
    leading; else foot over foot.
    """

    kind: Kind
    strides: int
    slope_deg: float = 0.0
    riser_m: float = 0.17
    tread_m: float = 0.29
    together: bool = False


@dataclass(frozen=True)
class Lift:
    """Where a piece of ground really lies: ``flat`` (2,) of the unrolled ground is ``real`` (3,), in metres.

    tilt: (3,) rad, rotation vector of the ground's turn out of the level. section: which one it belongs to.
    """

    flat: tuple[float, float] = (0.0, 0.0)
    real: tuple[float, float, float] = (0.0, 0.0, 0.0)
    tilt: tuple[float, float, float] = (0.0, 0.0, 0.0)
    section: int = -1

    def carried(self, path: FloatArray) -> FloatArray:
        """(n, 3) m of the unrolled ground, where they really are."""
        return np.asarray(
            Rotation.from_rotvec(self.tilt).apply(path - np.array([*self.flat, 0.0])) + np.array(self.real)
        )


@dataclass
class Ground:
    """The ground under a plan in the making: where its centre line has come to."""

    sections: tuple[Section, ...]
    lift: Lift = Lift()
    begun: int = -1
    lead: int = 0

    def section(self, step: int) -> tuple[int, Section | None]:
        """Number and section of the ``step``-th step of a bout; the two that set off and stop belong to its ends."""
        if not self.sections:
            return -1, None
        stops = np.cumsum([2 * one.strides for one in self.sections])
        place = min(int(np.searchsorted(stops, step - 0.5)), len(self.sections) - 1)
        return place, self.sections[place]

    def advance(self, number: int, leg: int, usual: float) -> float:
        """M by which the ``leg`` goes ahead of the other: of a tread where there are any."""
        section = self.sections[number]
        if number != self.begun:
            self.begun, self.lead = number, leg
        if section.kind != "stairs":
            return usual
        return 0.0 if section.together and leg != self.lead else section.tread_m

    def go(self, number: int, heading: float, advance: float) -> Lift:
        """Put the centre line forward by ``advance`` m and give the ground there."""
        section, before = self.sections[number], self.lift
        flat = (before.flat[0] + advance * np.cos(heading), before.flat[1] + advance * np.sin(heading))
        tilt = (0.0, 0.0, 0.0)
        if section.kind == "ramp":
            tilt = before.tilt
            if before.section != number:
                up = np.deg2rad(section.slope_deg)
                tilt = (float(up * np.sin(heading)), float(-up * np.cos(heading)), 0.0)
        way = Rotation.from_rotvec(tilt).apply([flat[0] - before.flat[0], flat[1] - before.flat[1], 0.0])
        rise = section.riser_m if section.kind == "stairs" and advance else 0.0
        real = np.array(before.real) + way + [0.0, 0.0, rise]
        self.lift = Lift(
            (float(flat[0]), float(flat[1])), (float(real[0]), float(real[1]), float(real[2])), tilt, number
        )
        return self.lift


def on_ground(gait: Gait, section: Section | None) -> Gait:
    """How a leg goes about a ramp or stairs; from memory, no source.

    On a ramp it walks as on the level but for a flatter contact uphill; the shank keeps its course in space, so the
    ankle takes up the slope. On stairs contact is flat or by the forefoot, the foot lifts off flatter and the pace is
    slower.
    """
    if section is None or section.kind == "level":
        return gait
    if section.kind == "ramp":
        flatter = max(1.0 - 0.03 * max(section.slope_deg, 0.0), 0.6)
        return replace(gait, pitch_contact=gait.pitch_contact * flatter)
    up = section.riser_m > 0.0
    return replace(
        gait,
        stride_time=max(1.30, 1.1 * gait.stride_time) * (1.15 if section.together else 1.0),
        stride_length=(1.0 if section.together else 2.0) * section.tread_m,
        stance_share=0.63,
        other_stance_share=0.63,
        step_share=0.5,
        loading_time=0.07,
        heel_off_share=0.42,
        pitch_contact=-4.0 if up else -14.0,
        pitch_rate_contact=10.0,
        pitch_late_extra=2.0,
        pitch_mid_swing=-10.0 if up else -16.0,
        pitch_toe_off=-26.0 if up else -34.0,
        landing_rate_share=0.7,
        flat_stop_time=0.018,
        impact_forward=0.12,
        clearance=0.030,
        clearance_early=0.030,
        height_late=0.034,
        toe_flex=18.0,
        shank_contact=14.0 if up else -3.0,
        shank_advance=3.0 if up else 8.0,
        shank_heel_off=16.0 if up else 26.0,
        shank_toe_off=30.0 if up else 42.0,
        shank_mid_swing=18.0 if up else 12.0,
        pitch_limits=(-8.0, -1.0) if up else (-20.0, -6.0),
    )


def lifted(time: FloatArray, swings: tuple[Swing, ...], path: FloatArray, angles: Angles) -> tuple[FloatArray, Angles]:
    """A foot's course on the unrolled level, carried to the real ground.

    Args:
        time: (n,) s.
        swings: the foot's, in order; their places know the ground.
        path: (n, 3) m of the heel's lower edge.
        angles: of the foot.

    Returns:
        The same on the real ground.
    """
    turning = euler_rotation(np.column_stack([angles.yaw, angles.pitch, angles.roll]))
    place, rotation = np.array(path), np.array(turning)
    step = float(time[1] - time[0])
    for k, swing in enumerate(swings):
        begin = int(np.ceil(swing.settled / step))
        end = int(np.ceil(swings[k + 1].settled / step)) if k + 1 < len(swings) else len(time)
        part = slice(begin, end)
        old, new = swing.origin.lift, swing.goal.lift
        flight = swing.heel_strike - swing.toe_off
        climb = new.real[2] - old.real[2]
        early, late = (0.10, 0.90)
        if old.tilt == new.tilt and abs(climb) > EDGE_M:
            early, late = (0.02, 0.70) if climb > 0.0 else (0.30, 0.97)
        share = smooth_step(time[part], swing.toe_off + early * flight, swing.toe_off + late * flight)[:, None]
        place[part] = (1.0 - share) * old.carried(path[part]) + share * new.carried(path[part])
        tilt = (1.0 - share) * np.array(old.tilt) + share * np.array(new.tilt)
        rotation[part] = Rotation.from_rotvec(tilt).as_matrix() @ turning[part]
    pitch = np.arcsin(np.clip(rotation[:, 2, 0], -1.0, 1.0))
    yaw = np.unwrap(np.arctan2(rotation[:, 1, 0], rotation[:, 0, 0]))
    return place, Angles(yaw, pitch, np.arctan2(rotation[:, 2, 1], rotation[:, 2, 2]))


def ground_of(before: Lift, after: Lift) -> str:
    """Which ground a foot went over from one place to the next; ``mixed`` where the slope changed on the way."""
    if before.tilt != after.tilt:
        return "mixed"
    rise = after.real[2] - before.real[2]
    if any(before.tilt):
        way = np.hypot(after.real[0] - before.real[0], after.real[1] - before.real[1])
        if abs(rise) < 0.3 * np.linalg.norm(before.tilt) * max(way, 1e-9):
            return "mixed"  # along the ramp, or turning on it
        return "up" if rise > 0.0 else "down"
    if abs(rise) < EDGE_M:
        return "level"
    return "stairs_up" if rise > 0.0 else "stairs_down"
