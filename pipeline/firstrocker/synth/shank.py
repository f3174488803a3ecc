"""The shank's own angles through a walk; its lower end is the foot's ankle joint."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from firstrocker.model import FloatArray
from firstrocker.synth.plan import Swing
from firstrocker.synth.smooth import Key, keyed, rounded


@dataclass(frozen=True)
class ShankCourse:
    """Inclination (shank-to-vertical), heading and roll of a shank on the walker's grid, all (n,) rad."""

    inclination: FloatArray
    yaw: FloatArray
    roll: FloatArray


_ROUND = 0.045  # s


def shank_course(
    time: FloatArray, swings: Sequence[Swing], *, standing: float, heading: float, sign: float
) -> ShankCourse:
    """The shank through a whole walk.

    Args:
        time: (n,) uniform grid, s.
        swings: the leg's swings in order.
        standing: shank-to-vertical angle in quiet standing, deg.
        heading: the foot's first heading, rad.
        sign: +1 for a left leg, -1 for a right one.

    Returns:
        The course. In loading the shank turns forward by the part of the foot's fall that the ankle leaves over.
    """
    incline: list[Key] = [(float(time[0]) - 1.0, standing, 0.0)]
    yaw: list[Key] = [(float(time[0]) - 1.0, heading, 0.0)]
    roll: list[Key] = [(float(time[0]) - 1.0, 0.0, 0.0)]
    for swing in swings:
        g = swing.gait
        flight = swing.heel_strike - swing.toe_off
        loading = swing.foot_flat - swing.heel_strike
        forward = (1.0 - g.ankle_share) * g.pitch_contact if g.pitch_contact >= 4.0 else g.shank_advance
        loaded = g.shank_contact + forward
        stance = max(0.15, (g.heel_off_share * g.stride_time) - loading)
        onward = 0.5 * forward / loading + 0.5 * max(0.0, g.shank_heel_off - loaded) / stance
        push = swing.toe_off - swing.heel_off
        further = max(1.0, 0.5 * 1.3 * (g.shank_toe_off - g.shank_heel_off) / push * 0.12 * flight)
        if swing.from_standing:
            incline.append((swing.heel_off - 0.35, standing, 0.0))
        incline += [
            (
                swing.heel_off,
                max(standing + 1.0, 0.6 * g.shank_heel_off) if swing.from_standing else g.shank_heel_off,
                None,
            ),
            (swing.toe_off, g.shank_toe_off, None),
            (swing.toe_off + 0.12 * flight, g.shank_toe_off + further, 0.0),
            (swing.toe_off + 0.53 * flight, g.shank_mid_swing, None),
            (swing.toe_off + 0.92 * flight, g.shank_contact - 1.5, 0.0),
            (swing.heel_strike, g.shank_contact, 0.35 * forward / loading),
            (swing.foot_flat, loaded, onward),
        ]
        if swing.to_standing:
            incline.append((swing.foot_flat + 0.55, standing, 0.0))
        off = np.rad2deg(swing.origin.yaw), np.rad2deg(swing.goal.yaw)
        yaw += [
            (swing.heel_off + 0.01, float(np.deg2rad(off[0] + sign * 1.0)), None),
            (swing.toe_off + 0.3 * flight, float(np.deg2rad(0.6 * off[0] + 0.4 * off[1] + sign * 3.0)), None),
            (swing.heel_strike, float(np.deg2rad(off[1] + sign * 3.0)), None),
            (swing.foot_flat + 0.05, float(np.deg2rad(off[1] - sign * 2.0)), 0.0),
        ]
        roll += [
            (swing.heel_off + 0.01, sign * 1.5, None),
            (swing.toe_off + 0.5 * flight, sign * (-2.0 - 60.0 * g.circumduction), None),
            (swing.heel_strike, sign * 2.0, None),
            (swing.foot_flat + 0.05, sign * 3.0, None),
        ]
        if swing.to_standing:
            yaw.append((swing.foot_flat + 0.6, swing.goal.yaw, 0.0))
            roll.append((swing.foot_flat + 0.6, 0.0, 0.0))
    end = float(time[-1]) + 1.0
    incline.append((end, standing, 0.0))
    yaw.append((end, swings[-1].goal.yaw if swings else heading, 0.0))
    roll.append((end, 0.0, 0.0))
    return ShankCourse(
        np.deg2rad(rounded(keyed(incline, fair=True), time, _ROUND)),
        rounded(keyed(yaw), time, _ROUND),
        np.deg2rad(rounded(keyed(roll), time, _ROUND)),
    )
